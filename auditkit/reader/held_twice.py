"""Among many packets: which hold a readout, or typed values, of another order. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from auditkit.reader.outcomes import FileOutcome


@dataclass(slots=True)
class HeldTwice:
    """The first packet with each readout or typed values, and who came with it again.

    ``found`` are pairs of outcomes of two repair orders: the second, and the first.
    """

    found: list[tuple[FileOutcome, FileOutcome]] = field(default_factory=list)
    _first: dict[str, FileOutcome] = field(default_factory=dict)

    def add(self, outcome: FileOutcome) -> None:
        """Hold a packet against those before it."""
        held = outcome.held
        for digest in sorted(held.readouts | held.alike):
            first = self._first.setdefault(digest, outcome)
            if first.order == outcome.order:
                continue
            if digest in held.alike and held.vins & first.held.vins:
                continue
            self.found.append((outcome, first))
            return

    def lines(self, shown: int) -> list[str]:
        """Return a line for each pair, and how many are left out."""
        said = [
            f"{second.path}: {second.repair_order} holds a readout or readings of "
            f"{first.repair_order} ({first.path})"
            for second, first in self.found[:shown]
        ]
        more = len(self.found) - shown
        return [*said, *([f"    and {more} more with another's"] if more > 0 else [])]
