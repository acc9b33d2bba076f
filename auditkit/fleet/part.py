"""The form of a measure: what it may ask, and what it gives back. Pure.

A measure is ``def NAME(ask: Ask, settings: Settings) -> Part``. It reads a collection
through ``ask`` alone, counts in SQL, and does its arithmetic on doubles in Python over
ordered rows: a sum of doubles in SQL differs from run to run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from auditkit.fleet.audited import AskedOfShop, Section


class Ask(Protocol):
    """Runs one SQL that only reads; its ORDER BY is total, so rows keep their order.

    Besides the collection's tables it knows those of ``auditkit.fleet.counted``.
    """

    def __call__(
        self, sql: str, values: Sequence[object] = (), /
    ) -> list[tuple[Any, ...]]:
        """Return the rows; ``values`` stand for the SQL's question marks."""


@dataclass(frozen=True, slots=True)
class Part:
    """What one measure says, and what it asks of shops."""

    section: Section
    asked: tuple[AskedOfShop, ...] = ()
