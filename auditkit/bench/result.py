"""What a bench test says: the result, how sure, by which rule, and why not."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from auditkit.bench.decision import BenchOutcome
from auditkit.bench.inputs import Limit
from auditkit.bench.one_sided import Known
from auditkit.bench.uncertainty import COVERAGE, ENDLESS, Component
from auditkit.text.values import Quantity

SIGNIFICANT = 2
"""Digits that a stated uncertainty keeps (GUM 7.2.6)."""

FLOAT_DIGITS = 12
UNCLAIMED = "no uncertainty claimed: instrument not in check"


@dataclass(frozen=True, slots=True)
class StatedQuantity:
    """A computed quantity with its standard and expanded (k = 2) uncertainty.

    Where only one side of it is known, the value is the end of that side (its
    ``bound``); where neither is, ``is_open`` and the value says nothing. Where it
    ``is_typed``, its uncertainty is not told: the instrument was not in check.
    """

    name: str
    value: Quantity
    standard_uncertainty: Quantity
    expanded_uncertainty: Quantity
    is_open: bool = False
    is_typed: bool = False

    def __str__(self) -> str:
        if self.is_open:
            return f"{self.name} not known: a reading beyond its range moves it"
        name = f"{self.name} {self.value.bound}".rstrip()
        if self.is_typed:
            return f"{name} {self.value.text} {self.value.unit} ({UNCLAIMED})"
        expanded = self.expanded_uncertainty.text
        return f"{name} {self.value.text} +/- {expanded} {self.value.unit} (k = 2)"


def stated(
    name: str, value: float, uncertainty: float, unit: str, known: Known = ""
) -> StatedQuantity:
    """Return a quantity written with the digits that its uncertainty leaves."""
    digits = _last_digit(value, uncertainty)
    return StatedQuantity(
        name,
        Quantity(_written(value, digits), unit, "" if known == "neither" else known),
        Quantity(_written(uncertainty, digits), unit),
        Quantity(_written(COVERAGE * uncertainty, digits), unit),
        is_open=known == "neither",
    )


def _last_digit(value: float, uncertainty: float) -> int:
    """Return the exponent of the last digit to keep; all that mean something."""
    if not uncertainty:
        return int(Decimal(repr(value)).as_tuple().exponent)
    meaningful = Decimal(value).adjusted() - FLOAT_DIGITS
    return max(meaningful, Decimal(uncertainty).adjusted() - SIGNIFICANT + 1)


def _written(value: float, last_digit: int) -> str:
    """Return a number as plain decimal text, rounded to a digit; never ``-0``."""
    number = Decimal(repr(value)).quantize(Decimal(1).scaleb(last_digit))
    return format(number or abs(number), "f")


@dataclass(frozen=True, slots=True)
class KnownGoodComparison:
    """How a part and a known-good part differ. It says nothing of a specification."""

    part: str
    difference: StatedQuantity
    normalised_error: float
    differs: bool
    text: str


@dataclass(frozen=True, slots=True)
class BenchResult:
    """The answer of one bench test.

    ``result`` is what was held against the limit, ``others`` what was computed beside
    it; ``probability`` that the true value lies within the limit, None where only one
    side of it is known and that is not enough. ``reasons`` say why
    a test is not valid or gives no verdict, ``settles`` what would settle it,
    ``notes`` what was assumed, ``doubts`` what an instrument claims that has to be
    asked about, ``unchecked`` why an instrument was not in check: both weaken the
    proof, not the outcome; of what is unchecked no uncertainty is told.
    ``effective_dof`` is
    Welch-Satterthwaite's, for the reader: the few-readings factor is already within the
    uncertainty. ``comparisons`` counts what could have shown a fault by chance.
    """

    kind: str
    outcome: BenchOutcome
    alpha: float
    decision_rule: str
    limit: Limit | None = None
    result: StatedQuantity | None = None
    probability: float | None = None
    effective_dof: float = ENDLESS
    components: tuple[Component, ...] = ()
    others: tuple[StatedQuantity, ...] = ()
    comparison: KnownGoodComparison | None = None
    reasons: tuple[str, ...] = ()
    settles: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    unchecked: tuple[str, ...] = ()
    comparisons: int = 1
