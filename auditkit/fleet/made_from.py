"""From what an audit was made: digests, versions, settings. Pure but for ``ask``."""

from __future__ import annotations

from auditkit.fleet.audited import Cell
from auditkit.fleet.part import Ask
from auditkit.fleet.settings import Settings

_COLLECTION = """SELECT program, lower(hex(rules_sha256)), lower(hex(policy_sha256)),
        lower(hex(keys_sha256)), is_pseudonymous,
        (SELECT count(*) FROM packet WHERE is_verified),
        (SELECT sha256(string_agg(hex(sha256), '' ORDER BY sha256))
            FROM packet WHERE is_verified),
        (SELECT moment FROM cut_off)
    FROM collection ORDER BY 1 LIMIT 1"""


def made_from(ask: Ask, settings: Settings) -> dict[str, Cell]:
    """Return what names the collection, by what it was judged, and the settings."""
    (row,) = ask(_COLLECTION)
    program, rules, policy, keys, hidden, packets, digest, cut_off = row
    return {
        "packets": packets,
        "packets, SHA-256 of their sorted digests": digest or "",
        "last record": f"{cut_off} UTC" if cut_off else "none",
        "collected by": program,
        "rules, SHA-256": rules,
        "policy, SHA-256": policy,
        "list of keys, SHA-256": keys or "none was given",
        "vehicles and persons": "under pseudonyms" if hidden else "as they are named",
        "settings, SHA-256": settings.sha256,
    }
