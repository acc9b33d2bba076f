"""Among many packets: which hold a readout, or typed values, of another order. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from auditkit.reader.outcomes import FileOutcome


@dataclass(slots=True)
class HeldTwice:
    """The first packet with each readout or typed values, and who came with it again.

    ``found`` are pairs of outcomes of two repair orders: the second, and the first;
    ``nearly`` those of them by all but one value alone.
    """

    found: list[tuple[FileOutcome, FileOutcome]] = field(default_factory=list)
    nearly: set[int] = field(default_factory=set)
    _first: dict[str, FileOutcome] = field(default_factory=dict)

    def add(self, outcome: FileOutcome) -> None:
        """Hold a packet against those before it."""
        held = outcome.held
        whole = held.readouts | held.alike
        for digest in [*sorted(whole), *sorted(held.near)]:
            first = self._first.setdefault(digest, outcome)
            if first.order == outcome.order:
                continue
            is_typed = digest in held.alike | held.near
            if is_typed and held.vins & first.held.vins:
                continue
            if digest in held.near or digest in first.held.near:
                self.nearly.add(len(self.found))
            self.found.append((outcome, first))
            return

    def lines(self, shown: int) -> list[str]:
        """Return a line for each pair, and how many are left out."""
        what = {True: "all values but one", False: "a readout or readings"}
        said = [
            f"{second.path}: {second.repair_order} holds {what[n in self.nearly]} of "
            f"{first.repair_order} ({first.path})"
            for n, (second, first) in enumerate(self.found[:shown])
        ]
        more = len(self.found) - shown
        return [*said, *([f"    and {more} more with another's"] if more > 0 else [])]
