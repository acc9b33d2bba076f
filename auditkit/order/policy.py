"""A policy: which rules run, how severe they are, and with which parameters.

A policy is a TOML file:

    format = "auditkit/policy@1"
    withhold = ["opening.customer.name", "opening.customer.contact"]
    stamp_url = "https://stamps.example/tsr"
    checker_url = "https://checker.example/check.html"  # printed on receipts
    packet_from = "the desk, 555-0100"  # whom a receipt says to ask for the packet
    not_asked = ["hazards-met"]  # then never better than vouched
    least = "proven"  # what each fault has to reach; "vouched" unless said

    [rules.vin-check-digit-differs]
    severity = "blocking"  # or "advisory"

    [rules.readout-has-problems]
    run = false

    [rules.no-monitor-result.parameters]
    least = "counter-rose"

    [rules.hose-shows-it]  # a plugin's rule that is named here is heard where it shows

What a policy does not mention keeps the rule's own setting. ``not_asked`` names
questions: the verdict is then never better than vouched, and without test-passed,
fault-gone or same-vehicle it is unproven. The statement tells where a policy asks less.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.findings import Severity, Verdict
from auditkit.order.questions import Question
from auditkit.text.display_text import is_shown
from auditkit.text.strict_json import MAX_INTEGER, canonical
from auditkit.text.toml_text import toml_table, too_much
from auditkit.text.values import MAX_DEPTH

if TYPE_CHECKING:
    from auditkit.text.values import Json

POLICY_FORMAT = "auditkit/policy@1"
WITHHELD_BY_DEFAULT = (
    "opening.customer.contact",
    "opening.customer.name",
    "opening.vehicle.plate",
)
_MAX_BYTES = 256 * 1024
_MOST_TOLD = 120  # characters of what a receipt prints for the shop
# RFC 3986, without a fragment and without a name before the host.
_ADDRESS = re.compile(
    r"https?://[\w.:\[\]~-]+(?:[/?][\w.:/?@!$&'()*+,;=%~\[\]-]*)?", re.ASCII
)


@dataclass(frozen=True, slots=True)
class RuleSetting:
    """What a policy says about one rule; None keeps the rule's own severity."""

    run: bool = True
    severity: Severity | None = None
    parameters: Mapping[str, object] = field(default_factory=dict)


AS_IT_IS = RuleSetting()
"""What a policy says of a rule that it does not mention."""


@dataclass(frozen=True, slots=True)
class Policy:
    """Settings by rule name, the paths withheld, and the digest of both.

    ``sha256`` is taken over the canonical JSON (RFC 8785) of the policy's
    content, so that comments and spacing do not change it. ``stamp_url`` is where the
    time stamp authority answers, ``checker_url`` where a checker page lies and
    ``packet_from`` who gives out packets; they judge nothing and are not in the digest.
    ``not_asked`` are questions that this reader does not ask, ``least`` the verdict
    that each fault has to reach.
    """

    rules: Mapping[str, RuleSetting]
    withhold: tuple[str, ...]
    sha256: str
    stamp_url: str = ""
    not_asked: tuple[Question, ...] = ()
    least: Verdict = Verdict.VOUCHED
    checker_url: str = ""
    packet_from: str = ""

    def setting(self, name: str) -> RuleSetting:
        """Return what the policy says about the rule ``name``."""
        return self.rules.get(name, AS_IT_IS)

    def paths(self, kind: str) -> tuple[str, ...]:
        """Return the withheld paths within an event of this kind."""
        start = f"{kind}."
        return tuple(
            p.removeprefix(start) for p in self.withhold if p.startswith(start)
        )


def parse_policy(text: str, *, where: str = "") -> Policy:
    """Return the policy that a TOML text states; raise InputError where it cannot."""
    if len(text.encode()) > _MAX_BYTES:
        raise InputError(
            f"the policy is longer than {_MAX_BYTES} bytes",
            where=where,
            what_to_do="keep it to settings of rules",
        )
    data = toml_table(text, where=where)
    if not _is_bounded(data):
        raise too_much(where)
    if data.get("format") != POLICY_FORMAT:
        raise InputError(
            f"the first line does not say format = {POLICY_FORMAT!r}",
            where=where,
            what_to_do="add that line at the top",
        )
    _known(
        data,
        {"format", "withhold", "rules", "stamp_url", "not_asked", "least"}
        | {"checker_url", "packet_from"},
        where,
    )
    stamp_url = data.get("stamp_url", "")
    if not isinstance(stamp_url, str):
        raise InputError(
            "stamp_url is not text",
            where=f"{where}#stamp_url",
            what_to_do='write it as "https://stamps.example/tsr"',
        )
    tables = data.get("rules", {})
    if not isinstance(tables, dict):
        raise InputError(
            "rules is not a table", where=where, what_to_do="write [rules.NAME] tables"
        )
    rules = {name: _setting(name, tables[name], where) for name in sorted(tables)}
    made = _policy(
        rules,
        _withheld(data.get("withhold"), where),
        _not_asked(data.get("not_asked", []), where),
        _least(data.get("least", Verdict.VOUCHED.value), where),
    )
    return replace(
        made,
        stamp_url=stamp_url,
        checker_url=_checker_url(data.get("checker_url", ""), where),
        packet_from=_packet_from(data.get("packet_from", ""), where),
    )


def _checker_url(value: object, where: str) -> str:
    """Return the address of a checker page as a receipt's code can carry it."""
    if value == "" or (
        isinstance(value, str)
        and len(value) <= _MOST_TOLD
        and _ADDRESS.fullmatch(value)
    ):
        return str(value)
    raise InputError(
        "checker_url is no address of a page that fits a receipt's code",
        where=f"{where}#checker_url",
        what_to_do='write it as "https://checker.example/check.html", without a # '
        f"and in at most {_MOST_TOLD} characters",
    )


def _packet_from(value: object, where: str) -> str:
    if isinstance(value, str) and len(value) <= _MOST_TOLD and is_shown(value):
        return value
    raise InputError(
        "packet_from is not text for one line",
        where=f"{where}#packet_from",
        what_to_do='write whom to ask, such as "the desk, 555-0100", in at most '
        f"{_MOST_TOLD} characters",
    )


def _is_bounded(value: object) -> bool:
    """Return whether integers and levels are such as canonical JSON has."""
    waiting = [(value, 0)]
    while waiting:
        one, depth = waiting.pop()
        if isinstance(one, int) and abs(one) > MAX_INTEGER:
            return False
        if isinstance(one, dict | list):
            if depth == MAX_DEPTH:
                return False
            inner = one.values() if isinstance(one, dict) else one
            waiting += [(item, depth + 1) for item in inner]
    return True


def _not_asked(value: object, where: str) -> tuple[Question, ...]:
    known = [question.value for question in Question]
    if not isinstance(value, list) or not all(name in known for name in value):
        raise InputError(
            "not_asked is not a list of questions",
            where=f"{where}#not_asked",
            what_to_do=f"write some of {', '.join(known)}",
        )
    return tuple(question for question in Question if question in value)


def _least(value: object, where: str) -> Verdict:
    if value not in (Verdict.PROVEN, Verdict.VOUCHED):
        raise InputError(
            f"least {value!r} is not known",
            where=f"{where}#least",
            what_to_do="write proven or vouched",
        )
    return Verdict(str(value))


def _policy(
    rules: Mapping[str, RuleSetting],
    withhold: tuple[str, ...],
    not_asked: tuple[Question, ...] = (),
    least: Verdict = Verdict.VOUCHED,
) -> Policy:
    content: Json = {
        "format": POLICY_FORMAT,
        "rules": {name: _plain(setting) for name, setting in rules.items()},
        "withhold": list(withhold),
        "not_asked": [question.value for question in not_asked],
        "least": least.value,
    }
    digest = hashlib.sha256(canonical(content).encode()).hexdigest()
    return Policy(
        dict(rules),  # plain: policies go to other processes
        withhold,
        digest,
        not_asked=not_asked,
        least=least,
    )


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
        raise InputError(
            "this is not a table", where=place, what_to_do=f"write [rules.{name}]"
        )
    _known(table, {"run", "severity", "parameters"}, place)
    run = table.get("run", True)
    if not isinstance(run, bool):
        raise InputError(
            "run is not true or false",
            where=place,
            what_to_do="write run = false or leave it out",
        )
    severity = table.get("severity")
    if severity is not None and severity not in list(Severity):
        raise InputError(
            f"severity {severity!r} is not known",
            where=place,
            what_to_do="write blocking or advisory",
        )
    parameters = table.get("parameters", {})
    if not isinstance(parameters, dict):
        raise InputError(
            "parameters is not a table",
            where=place,
            what_to_do="write name = value lines",
        )
    return RuleSetting(run, Severity(severity) if severity else None, parameters)


def _withheld(value: object, where: str) -> tuple[str, ...]:
    if value is None:
        return WITHHELD_BY_DEFAULT
    if not isinstance(value, list) or not all(
        isinstance(path, str) and path.count(".") >= 1 for path in value
    ):
        raise InputError(
            "withhold is not a list of paths",
            where=f"{where}#withhold",
            what_to_do='write paths such as "opening.customer.name"',
        )
    for path in value:
        if path.startswith("attachment.") and path != "attachment.shows":
            raise InputError(
                f"{path} cannot be withheld: by it the log knows its pictures",
                where=f"{where}#withhold",
                what_to_do="withhold attachment.shows, or erase the picture itself",
            )
    return tuple(sorted({str(path) for path in value}))


def _known(table: Mapping[str, object], names: set[str], where: str) -> None:
    unknown = sorted(set(table) - names)
    if unknown:
        raise InputError(
            f"{unknown[0]!r} is not a setting",
            where=where,
            what_to_do=f"the settings here are: {', '.join(sorted(names))}",
        )


DEFAULT = _policy({}, WITHHELD_BY_DEFAULT)
