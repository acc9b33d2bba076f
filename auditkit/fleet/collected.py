"""What a run of the collector took in, and what it left out and why. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from auditkit.fleet.judging import NOT_VERIFIED, Refused
from auditkit.text.display_text import plural, printable
from auditkit.text.values import Json

_SHOWN = 10
_WORDS = {
    "packets": ("packet", "packets"),
    "repair_orders": ("repair order", "repair orders"),
    "logs": ("log", "logs"),
    "entries": ("entry", "entries"),
}


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


@dataclass(frozen=True, slots=True)
class UnknownKey:
    """A log whose key the reader's list does not name, or not for its packets' days.

    ``state`` is "not listed" or "outside its dates", of so many ``packets``.
    """

    state: str
    origin: str
    key_id: str
    shop: str | None
    packets: int

    def __str__(self) -> str:
        of = f"log {self.origin}, key {self.key_id}"
        many = plural(self.packets, "packet", "packets")
        if self.state == "not listed":
            return f"{of}: not in your list of keys, {many} kept apart"
        return f"{of}, of {self.shop}: {many} from outside the dates in your list"

    def to_json(self) -> dict[str, Json]:
        """Return it as ``--format json`` prints it."""
        return {
            "state": self.state,
            "origin": self.origin,
            "log_key": self.key_id,
            "shop": self.shop,
            "packets": self.packets,
        }


@dataclass(slots=True)
class Collected:
    """What a run took in, and what it left out and why.

    ``holds`` counts what the collection holds now: packets, repair_orders, logs,
    entries; ``overstated`` the orders whose shop signed more than is judged here,
    ``incomplete`` those of which another packet has more entries. ``has_keys`` is
    whether it was made with the reader's own list of log keys. ``not_merged`` are
    paths of packets whose order lacks texts of a packet that is gone.
    """

    seen: int = 0
    added: int = 0
    held_before: int = 0
    left_out: list[Refused] = field(default_factory=list)
    conflicts: list[FoundConflict] = field(default_factory=list)
    not_merged: list[str] = field(default_factory=list)
    holds: Mapping[str, int] = field(default_factory=dict)
    unknown_keys: list[UnknownKey] = field(default_factory=list)
    has_keys: bool = True
    overstated: int = 0
    incomplete: int = 0

    @property
    def is_forked(self) -> bool:
        """Whether the collection proves two histories of a log."""
        return any(found.kind == "fork" for found in self.conflicts)

    @property
    def is_altered(self) -> bool:
        """Whether a packet was given that does not verify."""
        return any(one.because == NOT_VERIFIED for one in self.left_out)

    @property
    def found_none(self) -> bool:
        """Whether the run met no packet at all, not even one that does not verify."""
        held = (one.file_sha256 for one in self.left_out)
        return not self.added and not self.held_before and not any(held)

    def by_reason(self) -> dict[str, list[Refused]]:
        """Return what was left out by its reason, what does not verify first."""
        found: dict[str, list[Refused]] = {}
        for one in self.left_out:
            found.setdefault(one.because, []).append(one)
        return dict(
            sorted(
                found.items(),
                key=lambda pair: (pair[0] != NOT_VERIFIED, -len(pair[1]), pair[0]),
            )
        )

    def lines(self) -> list[str]:
        """Return what came of it: the answer, what speaks against logs, what is out."""
        taken = f"{plural(self.added, 'packet', 'packets')} taken in"
        holds = (plural(n, *_WORDS[name]) for name, n in self.holds.items())
        said = [
            f"{taken}, {self.held_before} held already, {len(self.left_out)} left out",
            f"    the collection holds {', '.join(holds)}",
            *self._of_orders(),
            *self._of_logs(),
        ]
        for reason, files in self.by_reason().items():
            said.append(f"left out, {len(files)}: {reason}")
            said += [
                f"    {one.path}" + (f": {one.more}" if one.more else "")
                for one in files[:_SHOWN]
            ]
            said += _more(files[_SHOWN:], "files")
        return [printable(line) for line in said]

    def _of_orders(self) -> Iterator[str]:
        if self.overstated:
            many = plural(self.overstated, "order", "orders")
            yield f"    of {many} the shop signed more than the evidence says"
        if self.incomplete:
            many = plural(self.incomplete, "order lacks", "orders lack")
            yield f"    {many} entries that another packet has"
        if self.not_merged:
            many = plural(len(self.not_merged), "order lacks", "orders lack")
            yield f"    {many} texts of a packet that is gone:"
            yield from (f"        {path}" for path in self.not_merged[:_SHOWN])
            yield from _more(self.not_merged[_SHOWN:], "orders")

    def _of_logs(self) -> Iterator[str]:
        forks = [found for found in self.conflicts if found.kind == "fork"]
        if forks:
            many = plural(
                len(forks), "pair of packets proves", "pairs of packets prove"
            )
            yield f"FORKED: {many} two histories of one log"
        for found in self.conflicts[:_SHOWN]:
            yield f"{found.kind}: {found.sentence}"
            yield from (f"    {path}" for path in (found.first, found.second))
        yield from _more(self.conflicts[_SHOWN:], "conflicts (--format json has all)")
        if forks:
            yield (
                "    what to do: keep both packets, and rely on nothing of this log "
                "until its shop explains two histories under one key"
            )
        yield from (f"key: {found}" for found in self.unknown_keys[:_SHOWN])
        yield from _more(self.unknown_keys[_SHOWN:], "such logs")
        if not self.has_keys:
            said = "no list of keys was given: whose logs these are is not known"
            yield f"    note: {said}"
        if self.unknown_keys:
            yield (
                "    what to do: get each fingerprint from its shop by a way that you "
                "chose, then give it with --keys"
            )

    def to_json(self) -> dict[str, Json]:
        """Return all of it as ``--format json`` prints it."""
        return {
            "taken_in": self.added,
            "held_already": self.held_before,
            "holds": dict(self.holds),
            "overstated": self.overstated,
            "incomplete": self.incomplete,
            "unknown_keys": [found.to_json() for found in self.unknown_keys],
            "conflicts": [found.to_json() for found in self.conflicts],
            "left_out": [
                {"path": one.path, "because": one.because, "more": one.more}
                for one in self.left_out
            ],
            "not_merged": list(self.not_merged),
        }


def _more(rest: Sequence[object], what: str) -> list[str]:
    return [f"    and {len(rest)} more {what}"] if rest else []
