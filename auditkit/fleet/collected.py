"""What a run of the collector took in, and what it left out and why. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from auditkit.fleet.judging import Refused
from auditkit.text.display_text import plural, printable
from auditkit.text.values import Json

_SHOWN = 10


@dataclass(frozen=True, slots=True)
class FoundConflict:
    """Two packets that cannot both be true, or neither of which tells all."""

    kind: str
    sentence: str
    first: str
    second: str

    def to_json(self) -> dict[str, Json]:
        """Return it as ``--format json`` prints it."""
        return {
            "kind": self.kind,
            "sentence": self.sentence,
            "packets": [self.first, self.second],
        }


@dataclass(slots=True)
class Collected:
    """What a run took in, and what it left out and why.

    ``holds`` counts what the collection holds now: packets, repair_orders, logs,
    entries. ``not_merged`` are paths of packets whose order lacks texts of a packet
    that is gone.
    """

    seen: int = 0
    added: int = 0
    held_before: int = 0
    left_out: list[Refused] = field(default_factory=list)
    conflicts: list[FoundConflict] = field(default_factory=list)
    not_merged: list[str] = field(default_factory=list)
    holds: Mapping[str, int] = field(default_factory=dict)

    @property
    def is_forked(self) -> bool:
        """Whether the collection proves two histories of a log."""
        return any(found.kind == "fork" for found in self.conflicts)

    def by_reason(self) -> dict[str, list[Refused]]:
        """Return what was left out by its reason, the most frequent first."""
        found: dict[str, list[Refused]] = {}
        for one in self.left_out:
            found.setdefault(one.because, []).append(one)
        return dict(sorted(found.items(), key=lambda pair: (-len(pair[1]), pair[0])))

    def lines(self) -> list[str]:
        """Return what came of it: the answer, what speaks against logs, what is out."""
        taken = f"{plural(self.added, 'packet', 'packets')} taken in"
        said = [
            f"{taken}, {self.held_before} held already, {len(self.left_out)} left out",
            "    the collection holds "
            + ", ".join(f"{n} {k.replace('_', ' ')}" for k, n in self.holds.items()),
        ]
        for found in self.conflicts[:_SHOWN]:
            said += [f"{found.kind}: {found.sentence}"]
            said += [f"    {path}" for path in (found.first, found.second)]
        said += _more(self.conflicts[_SHOWN:], "conflicts")
        for reason, files in self.by_reason().items():
            said.append(f"left out, {len(files)}: {reason}")
            said += [
                f"    {one.path}" + (f": {one.more}" if one.more else "")
                for one in files[:_SHOWN]
            ]
            said += _more(files[_SHOWN:], "files")
        return [printable(line) for line in said]

    def to_json(self) -> dict[str, Json]:
        """Return all of it as ``--format json`` prints it."""
        return {
            "taken_in": self.added,
            "held_already": self.held_before,
            "holds": dict(self.holds),
            "conflicts": [found.to_json() for found in self.conflicts],
            "left_out": [
                {"path": one.path, "because": one.because, "more": one.more}
                for one in self.left_out
            ],
            "not_merged": list(self.not_merged),
        }


def _more(rest: Sequence[object], what: str) -> list[str]:
    return [f"    and {len(rest)} more {what}"] if rest else []
