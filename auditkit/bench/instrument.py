"""What an instrument's data sheet and certificate say -> standard uncertainty.

Source: GUM (JCGM 100:2008) 4.3.7 for limits of error without further knowledge
(rectangular, a/sqrt 3), 4.3.9 (triangular, a/sqrt 6), 4.3.3 (certificate, U/k).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import NamedTuple

from auditkit.errors import InputError

NOTHING = Fraction(0)


def rectangular(half_width: float) -> float:
    """Return the standard uncertainty of limits +/- ``half_width``."""
    return half_width / math.sqrt(3)


def triangular(half_width: float) -> float:
    """Return the same where values near the middle are likelier than the ends."""
    return half_width / math.sqrt(6)


def of_resolution(step: float) -> float:
    """Return the standard uncertainty of rounding to ``step``: step / sqrt 12."""
    return step / math.sqrt(12)


def of_certificate(expanded: float, coverage: float) -> float:
    """Return the standard uncertainty behind an expanded one: U/k."""
    return expanded / coverage


def _without_sign(**magnitudes: Fraction) -> None:
    """Raise InputError for a magnitude below zero: it would cancel others."""
    for name, value in magnitudes.items():
        if value < 0:
            raise InputError(
                f"{name} is below zero", what_to_do="write it without a sign"
            )


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Limits of error, as a data sheet adds them up; what is absent is 0.

    ``percent_of_span`` is a percentage of the whole range, ``digits`` counts steps of
    the resolution, ``absolute`` is in the instrument's unit. Raises InputError where
    one of them is below zero.
    """

    percent_of_reading: Fraction = NOTHING
    percent_of_span: Fraction = NOTHING
    digits: Fraction = NOTHING
    absolute: Fraction = NOTHING

    def __post_init__(self) -> None:
        _without_sign(
            percent_of_reading=self.percent_of_reading,
            percent_of_span=self.percent_of_span,
            digits=self.digits,
            absolute=self.absolute,
        )

    def half_width(
        self, reading: Fraction, span: Fraction, resolution: Fraction
    ) -> Fraction:
        """Return the limit of error at a reading, in the instrument's unit."""
        percents = (self.percent_of_reading, reading), (self.percent_of_span, span)
        shares = (abs(of) * percent / 100 for percent, of in percents if percent)
        limits = sum(shares, self.absolute)
        return limits + self.digits * resolution if self.digits else limits


class ErrorsAt(NamedTuple):
    """Standard uncertainties at a reading, in the instrument's unit.

    ``own`` is of that reading alone; ``shared`` moves all readings together.
    """

    reading: Fraction
    own: float
    shared: float


@dataclass(frozen=True, slots=True)
class Instrument:
    """One instrument: what it can show, how well, and from when until when.

    Range, resolution and ``certificate_u`` (expanded uncertainty of its calibration,
    coverage factor ``certificate_k``) are in ``unit``, a unit text. Raises InputError
    for impossible values: a range upside down, a magnitude below zero, a coverage
    factor of zero.
    """

    unit: str
    low: Fraction
    high: Fraction
    resolution: Fraction
    accuracy: Accuracy
    calibrated_on: date | None = None
    due: date | None = None
    certificate_u: Fraction = NOTHING
    certificate_k: Fraction = Fraction(2)

    def __post_init__(self) -> None:
        if self.high < self.low:
            raise InputError(
                "high lies below low",
                what_to_do="write the lowest value of its range as low",
            )
        _without_sign(resolution=self.resolution, certificate_u=self.certificate_u)
        if self.certificate_k <= 0:
            raise InputError(
                "certificate_k is not above zero",
                what_to_do="write the coverage factor as the "
                "certificate says, such as 2",
            )

    @property
    def certificate(self) -> float:
        """The standard uncertainty of its calibration, which all readings share."""
        return of_certificate(float(self.certificate_u), float(self.certificate_k))

    @property
    def states_nothing(self) -> bool:
        """Whether it states no error and no resolution."""
        ends = self.low, self.high
        return not (self.resolution or any(map(self.uncertainty_at, ends)))

    def errors_at(self, reading: Fraction) -> ErrorsAt:
        """Return what a reading has for itself, and what all readings share.

        What they share is the systematic part of the specification (GUM 5.2.2,
        F.1.2.3): per cent and absolute, not digits; for one standard deviation of it. A
        share of the reading has the sign of the reading, so that a difference across
        zero does not cancel it. For itself it has the resolution, and what the digits
        of the specification add to its limits.
        """
        accuracy = self.accuracy
        whole = accuracy.half_width(reading, self.high - self.low, self.resolution)
        limits = float(whole - accuracy.digits * self.resolution)
        turned = reading < 0 and accuracy.percent_of_reading > 0
        shared = rectangular(-limits if turned else limits)
        digits = math.sqrt(max(0.0, rectangular(float(whole)) ** 2 - shared**2))
        own = math.hypot(digits, of_resolution(float(self.resolution)))
        return ErrorsAt(reading, own, shared)

    def uncertainty_at(self, reading: Fraction) -> float:
        """Return the standard uncertainty of one reading, all parts together."""
        found = self.errors_at(reading)
        return math.hypot(math.hypot(found.shared, self.certificate), found.own)
