"""A policy: which rules run, how severe they are, and with which parameters.

A policy is a TOML file:

    format = "auditkit/policy@1"
    withhold = ["opening.customer.name", "opening.customer.contact"]
    stamp_url = "https://stamps.example/tsr"

    [rules.self-test-only-typed]
    severity = "blocking"  # or "advisory"

    [rules.readout-has-problems]
    run = false

    [rules.self-test-not-rerun.parameters]
    least = "counter-rose"

What a policy does not mention keeps the rule's own setting.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.findings import Severity
from auditkit.text.strict_json import canonical

if TYPE_CHECKING:
    from auditkit.text.values import Json

POLICY_FORMAT = "auditkit/policy@1"
WITHHELD_BY_DEFAULT = (
    "opening.customer.contact",
    "opening.customer.name",
    "opening.vehicle.plate",
)
_PLACE = re.compile(r"line (\d+), column (\d+)")
_MAX_BYTES = 256 * 1024


@dataclass(frozen=True, slots=True)
class RuleSetting:
    """What a policy says about one rule; None keeps the rule's own severity."""

    run: bool = True
    severity: Severity | None = None
    parameters: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Policy:
    """Settings by rule name, the paths withheld, and the digest of both.

    ``sha256`` is taken over the canonical JSON (RFC 8785) of the policy's
    content, so that comments and spacing do not change it. ``stamp_url`` is where the
    time stamp authority answers; it judges nothing and is not in the digest.
    """

    rules: Mapping[str, RuleSetting]
    withhold: tuple[str, ...]
    sha256: str
    stamp_url: str = ""

    def setting(self, name: str) -> RuleSetting:
        """Return what the policy says about the rule ``name``."""
        return self.rules.get(name, RuleSetting())

    def paths(self, kind: str) -> tuple[str, ...]:
        """Return the withheld paths within an event of this kind."""
        start = f"{kind}."
        return tuple(
            p.removeprefix(start) for p in self.withhold if p.startswith(start)
        )


def parse_policy(text: str, *, where: str = "") -> Policy:
    """Return the policy that a TOML text states; raise InputError where it cannot."""
    if len(text.encode()) > _MAX_BYTES:
        message = f"the policy is longer than {_MAX_BYTES} bytes"
        raise InputError(
            message, where=where, what_to_do="keep it to settings of rules"
        )
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        # The library's words differ between versions of Python; the place does not.
        found = _PLACE.search(str(error))
        place = f" at line {found[1]} column {found[2]}" if found else " at its end"
        message = f"this is not TOML: it cannot be read{place}"
        raise InputError(
            message, where=where, what_to_do="correct that place"
        ) from error
    if data.get("format") != POLICY_FORMAT:
        message = f"the first line does not say format = {POLICY_FORMAT!r}"
        raise InputError(message, where=where, what_to_do="add that line at the top")
    _known(data, {"format", "withhold", "rules", "stamp_url"}, where)
    stamp_url = data.get("stamp_url", "")
    if not isinstance(stamp_url, str):
        message = "stamp_url is not text"
        what_to_do = 'write it as "https://stamps.example/tsr"'
        raise InputError(message, where=f"{where}#stamp_url", what_to_do=what_to_do)
    tables = data.get("rules", {})
    if not isinstance(tables, dict):
        message = "rules is not a table"
        raise InputError(message, where=where, what_to_do="write [rules.NAME] tables")
    rules = {name: _setting(name, tables[name], where) for name in sorted(tables)}
    made = _policy(rules, _withheld(data.get("withhold"), where))
    return replace(made, stamp_url=stamp_url)


def _policy(rules: Mapping[str, RuleSetting], withhold: tuple[str, ...]) -> Policy:
    content: Json = {
        "format": POLICY_FORMAT,
        "rules": {name: _plain(setting) for name, setting in rules.items()},
        "withhold": list(withhold),
    }
    digest = hashlib.sha256(canonical(content).encode()).hexdigest()
    return Policy(MappingProxyType(dict(rules)), withhold, digest)


def _plain(setting: RuleSetting) -> dict[str, Json]:
    plain: dict[str, Json] = {"run": setting.run}
    if setting.severity is not None:
        plain["severity"] = str(setting.severity)
    if setting.parameters:
        plain["parameters"] = {k: _value(v) for k, v in setting.parameters.items()}
    return plain


def _value(value: object) -> Json:
    if isinstance(value, bool | int | str):
        return value
    if isinstance(value, list):
        return [_value(item) for item in value]
    return str(value)


def _setting(name: str, table: object, where: str) -> RuleSetting:
    place = f"{where}#rules.{name}"
    if not isinstance(table, dict):
        message = "this is not a table"
        raise InputError(message, where=place, what_to_do=f"write [rules.{name}]")
    _known(table, {"run", "severity", "parameters"}, place)
    run = table.get("run", True)
    if not isinstance(run, bool):
        message = "run is not true or false"
        raise InputError(
            message, where=place, what_to_do="write run = false or leave it out"
        )
    severity = table.get("severity")
    if severity is not None and severity not in set(Severity):
        message = f"severity {severity!r} is not known"
        raise InputError(message, where=place, what_to_do="write blocking or advisory")
    parameters = table.get("parameters", {})
    if not isinstance(parameters, dict):
        message = "parameters is not a table"
        raise InputError(message, where=place, what_to_do="write name = value lines")
    return RuleSetting(run, Severity(severity) if severity else None, parameters)


def _withheld(value: object, where: str) -> tuple[str, ...]:
    if value is None:
        return WITHHELD_BY_DEFAULT
    if not isinstance(value, list) or not all(
        isinstance(path, str) and path.count(".") >= 1 for path in value
    ):
        message = "withhold is not a list of paths"
        what_to_do = 'write paths such as "opening.customer.name"'
        raise InputError(message, where=f"{where}#withhold", what_to_do=what_to_do)
    for path in value:
        if path.startswith("attachment.") and path != "attachment.shows":
            message = f"{path} cannot be withheld: by it the log knows its pictures"
            what_to_do = "withhold attachment.shows, or erase the picture itself"
            raise InputError(message, where=f"{where}#withhold", what_to_do=what_to_do)
    return tuple(sorted({str(path) for path in value}))


def _known(table: Mapping[str, object], names: set[str], where: str) -> None:
    unknown = sorted(set(table) - names)
    if unknown:
        message = f"{unknown[0]!r} is not a setting"
        what_to_do = f"the settings here are: {', '.join(sorted(names))}"
        raise InputError(message, where=where, what_to_do=what_to_do)


DEFAULT = _policy({}, WITHHELD_BY_DEFAULT)
