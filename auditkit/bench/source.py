"""What one input of an uncertainty budget rests on: its value, and how that is known.

GUM (JCGM 100:2008) 4.2 (Type A: by the scatter of readings), 4.3 (Type B: by anything
else). Pure data, for who reads the budget: nothing is computed from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Distribution(StrEnum):
    """How the true value is taken to lie about the estimate."""

    RECTANGULAR = "rectangular"
    SUM = "sum of rectangular ones"
    NORMAL = "normal"
    STUDENT = "Student's t"
    UNSTATED = "not stated"


@dataclass(frozen=True, slots=True)
class Source:
    """One quantity behind a line of a budget, in ``unit``.

    ``value`` is its best estimate, 0 for an error that is not corrected;
    ``standard_uncertainty`` is never below zero; ``basis`` says in words how it is
    known. ``instrument`` is the id of the one that it belongs to, else empty.
    """

    quantity: str
    value: float
    standard_uncertainty: float
    unit: str
    distribution: Distribution
    basis: str
    instrument: str = ""
