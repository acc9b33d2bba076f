"""What a verdict is judged by, in versions and digests: signed with it. Pure.

A reader of another release, or of another shop's hands, sees by them what differs. The
digest of a rule is that of the module in which it stands, comments and all; the tables
are the package's own. Line ends are written alike first, so every host finds the same.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from auditkit.bench import builtin_kinds
from auditkit.order import event_kinds
from auditkit.text.strict_json import canonical
from auditkit.text.tables import table_text

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.judgement import RuleRun
    from auditkit.order.rule import Rule
    from auditkit.text.values import Json

WORDS = {
    "codes": "table of codes",
    "events": "schemas of events",
    "kinds": "kinds of bench test",
    "cautions": "cautions",
}
"""What has a digest, beside the rules."""


def rule_text(catalogue: Catalogue, run: RuleRun) -> dict[str, Json]:
    """Return a rule that ran: version and severity; of the canon, also its digest.

    Only those of the canon name their ``questions``: without such a rule a reader
    cannot judge them.
    """
    text: dict[str, Json] = {
        "name": run.name,
        "version": run.version,
        "severity": str(run.severity),
    }
    if run.name in catalogue.canon:
        rule = catalogue.rule(run.name)
        text["questions"] = list(map(str, rule.questions))
        text["sha256"] = rule_sha256(rule)
    return text


def rule_sha256(rule: Rule) -> str:
    """Return the SHA-256 (hex) of the source of the module in which a rule stands."""
    return _of_module(rule.check.__module__)


@lru_cache(maxsize=8)
def digests(catalogue: Catalogue) -> Mapping[str, str]:
    """Return the SHA-256 (hex) of each table that rules judge by; see ``WORDS``."""
    cautions: list[Json] = [
        [c.id, c.version, c.signal_word, c.sha256] for c in catalogue.cautions.values()
    ]
    found = {
        "codes": _of_text("auditkit.obd", "code_table.toml"),
        "events": _of_each(
            _of_text("auditkit_schemas", f"{name}.schema.json")
            for name in sorted(event_kinds.names())
        ),
        "kinds": _of_each(
            _of_module(kind.compute.__module__) for kind in builtin_kinds()
        ),
        "cautions": _sha256(canonical(cautions)),
    }
    return MappingProxyType(found)


def _of_each(found: Iterable[str]) -> str:
    return _sha256("\n".join(found))


def _of_module(name: str) -> str:
    package, _, stem = name.rpartition(".")
    return _of_text(package, f"{stem}.py")


@lru_cache(maxsize=256)
def _of_text(package: str, name: str) -> str:
    return _sha256(table_text(package, name).replace("\r\n", "\n"))


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
