"""How a vehicle stands to a repair that was handed over, and one line that says why."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Standing(StrEnum):
    """How a vehicle stands to the repair that a packet tells; the gravest first."""

    OTHER_VEHICLE = "other-vehicle"
    COPIED = "copied"
    BACK = "fault-back"
    CLEARED = "cleared-since"
    ASK = "ask"
    UNDECIDED = "undecided"
    HOLDS = "holds"


@dataclass(frozen=True, slots=True)
class SaidBeside:
    """One thing in plain words; what it makes of the answer, and what to do."""

    standing: Standing
    text: str
    what_to_do: str = ""
