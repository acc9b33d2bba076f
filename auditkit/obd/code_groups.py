"""Which fault codes belong together, and which self-tests raise them.

The table, with its sources, is ``code_groups.toml``.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files


@dataclass(frozen=True, slots=True)
class Group:
    """Fault codes that belong together, and the self-tests that raise them."""

    system: str
    ranges: tuple[tuple[str, str], ...]
    mids: frozenset[str]

    def holds(self, code: str) -> bool:
        """Return whether the code belongs to this group."""
        return any(low <= code <= high for low, high in self.ranges)


@lru_cache(maxsize=1)
def groups() -> tuple[Group, ...]:
    """Return the table of ``code_groups.toml``."""
    text = (files("auditkit.obd") / "code_groups.toml").read_text("utf-8")
    made: list[Group] = []
    for row in tomllib.loads(text)["group"]:
        ends = (codes.partition("-") for codes in row["codes"])
        ranges = tuple((low, high or low) for low, _, high in ends)
        made.append(Group(row["system"], ranges, frozenset(row["mids"])))
    return tuple(made)


def group_of(code: str) -> Group | None:
    """Return the group that a code belongs to."""
    return next((g for g in groups() if g.holds(code)), None)


def related(code: str, other: str) -> bool:
    """Return whether a fault code speaks of the same system as another."""
    group = group_of(code)
    return other == code or (group is not None and group.holds(other))
