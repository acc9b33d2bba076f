"""A statement's lines, each under the heading that it belongs under. Pure."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from auditkit.order.answer_text import TO_DO, is_open_line
from auditkit.order.questions import Question
from auditkit.order.statement import (
    DEFERS,
    JUDGED_BY,
    NO_RECORD_SHOWS,
    SHOWN_BY,
    WEIGHTS,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

FAULTS = ""  # they stand below the verdict, under no heading of their own
OPEN, RESTS, BENCH, AFTER, DONE, ELSE, NEVER = (
    "What was not shown, or is to be minded",
    "How strong it is: what the verdict rests on",
    "Values measured on the bench",
    "Values after the repair, by the vehicle's own tests",
    "What else was done",
    "Also stated",
    "What no record shows",
)
HEADINGS = (OPEN, RESTS, BENCH, AFTER, DONE, ELSE, NEVER)
"""In the order in which they are read."""
_FAULT = re.compile(r"[PCBU][0-9A-F]{4}[^ ]* \(")
_BY_START = (
    ("Fault codes:", FAULTS),
    ("Repair of ", FAULTS),
    ("Bench test of ", BENCH),
    (SHOWN_BY[Question.TEST_PASSED], RESTS),
    (SHOWN_BY[Question.SAME_VEHICLE], RESTS),
    ("After the repair ", AFTER),
    ("Rests on ", RESTS),
    ("Recorded late: ", RESTS),
    *((start, OPEN) for start in WEIGHTS.values()),
    (TO_DO, OPEN),
    ("Tried before ", DONE),
    ("Tested good and left in place: ", DONE),
    ("Other work, not judged: ", DONE),
)
"""How a statement's line begins -> the heading that it belongs under."""


def heading_of(line: str) -> str:
    """Return the heading that a statement's line belongs under."""
    if line == NO_RECORD_SHOWS:
        return NEVER
    if is_open_line(line):
        return OPEN
    for start, name in _BY_START:
        if line.startswith(start):
            return name
    if _FAULT.match(line):
        return FAULTS
    return DONE if " was " in line else ELSE


def parted(lines: Iterable[str]) -> dict[str, list[str]]:
    """Return lines of a statement by heading, in the order in which these are read.

    A line that begins with a space stays below the one before it; headings without
    lines are left out. What asks less than the rules stands with the faults, what
    defers to maker, codes and practice at the end.
    """
    by: dict[str, list[str]] = {name: [] for name in (FAULTS, *HEADINGS)}
    name = FAULTS
    for line in lines:
        if line.startswith(JUDGED_BY):
            name = FAULTS
        elif line == DEFERS:
            name = NEVER
        elif not line.startswith(" "):
            name = heading_of(line)
        by[name].append(line)
    return {name: said for name, said in by.items() if said}
