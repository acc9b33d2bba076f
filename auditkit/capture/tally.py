"""What is found wrong, and counted, while a log is read."""

from __future__ import annotations

import struct
from collections import Counter
from dataclasses import dataclass, field

BAD = (
    *(ValueError, LookupError, ArithmeticError, TypeError, EOFError),
    *(NotImplementedError, struct.error),
)
"""What python-can's readers raise on bytes that are not their format."""

_TOLD = 20


@dataclass(slots=True)
class Tally:
    """Notes, counts and problems; after twenty problems they are only counted."""

    notes: list[str] = field(default_factory=list)
    counts: Counter[str] = field(default_factory=Counter)
    problems: list[str] = field(default_factory=list)
    more: int = 0

    def problem(self, what: str) -> None:
        """Keep a problem; only count it where many are kept already."""
        if len(self.problems) < _TOLD:
            self.problems.append(what)
        else:
            self.more += 1

    def all_notes(self) -> tuple[str, ...]:
        """Return the notes, then the counts as notes."""
        return (*self.notes, *(f"{n} {what}" for what, n in self.counts.items() if n))

    def all_problems(self) -> tuple[str, ...]:
        """Return the problems, with how many more there were."""
        rest = [f"and {self.more} more problems"] if self.more else []
        return (*self.problems, *rest)
