"""Rows that were found sound, and what they say: remembered while a log stays open.

A program that stays reads the same entries at each step. One that was held against its
signature and its place, and lies there letter by letter as it did, is not held against
them again, as long as the log only grew: see ``OpenLog.frontier``.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditkit.proof import disclosure

if TYPE_CHECKING:
    from collections.abc import Mapping

    from auditkit.proof.entry import Payload
    from auditkit.proof.row import Row
    from auditkit.text.values import Json

Revealed = tuple["Mapping[str, Json]", tuple[str, ...]]
"""An event with what is disclosed put back, and the paths that nothing discloses."""
_MOST = 2_000_000  # characters of the entries that are remembered


@dataclass(slots=True)
class ProvenRow:
    """A sound row with its payload, and its event as it was disclosed last."""

    row: Row
    payload: Payload
    _texts: tuple[str, ...] | None = None
    _revealed: Revealed = ({}, ())
    _places: Mapping[str, str] | None = None

    def reveal(self, texts: tuple[str, ...]) -> Revealed:
        """Return the event with these disclosures; nobody may change it.

        Raises VerificationError for one that the event did not sign for.
        """
        if texts != self._texts:
            said = self.payload
            self._revealed = disclosure.reveal(said.event, said.withheld, texts)
            self._texts = texts
        return self._revealed

    def places(self) -> Mapping[str, str]:
        """Return each digest in the event -> the path that it stands for.

        Raises InputError where they are not one to one.
        """
        if self._places is None:
            said = self.payload
            self._places = disclosure.digests(said.event, said.withheld)
        return self._places


class ProvenRows:
    """Sound rows by their numbers, those read last, in a bounded memory."""

    def __init__(self) -> None:
        self._rows: OrderedDict[int, ProvenRow] = OrderedDict()
        self._characters = 0

    def find(self, row: Row) -> ProvenRow | None:
        """Return what is remembered of this very row."""
        known = self._rows.get(row.entry.seq)
        if known is None or known.row != row:
            return None
        self._rows.move_to_end(row.entry.seq)
        return known

    def keep(self, row: Row, payload: Payload) -> ProvenRow:
        """Remember a row that is sound."""
        made = self._rows.get(row.entry.seq)
        if made is not None:
            self._characters -= len(made.row.entry.payload)
        made = self._rows[row.entry.seq] = ProvenRow(row, payload)
        self._characters += len(row.entry.payload)
        while self._characters > _MOST:
            _, oldest = self._rows.popitem(last=False)
            self._characters -= len(oldest.row.entry.payload)
        return made

    def clear(self) -> None:
        """Forget all of them."""
        self._rows.clear()
        self._characters = 0
