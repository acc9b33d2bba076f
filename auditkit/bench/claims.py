"""What an instrument claims beyond what its range and its digits allow.

A claim that cannot be is asked about: it makes the proof weaker, never the outcome
another. Half a digit is what rounding alone takes. Mechanical pressure gauges end at
0.1 % of their span (EN 837-1 class 0.1, ASME B40.100 grade 4A, from memory); that no
instrument of a shop is better than 0.01 % of its range is our own judgement.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from auditkit.bench.inputs import BenchInput
from auditkit.bench.instrument import Instrument
from auditkit.bench.units import QuantityKind, unit_of
from auditkit.errors import InputError

FINEST = Fraction(1, 10_000)
FINEST_PRESSURE = Fraction(1, 1000)


def doubtful_claims(inputs: BenchInput) -> Iterator[str]:
    """Yield what has to be asked about the instruments of a test."""
    for name, instrument in inputs.instruments.items():
        if instrument.states_nothing:
            continue  # it claims nothing: what it reads is unchecked
        limits = _limits(instrument)
        span = instrument.high - instrument.low
        if limits < instrument.resolution / 2:
            yield (
                f"{name} claims +/- {float(limits):g} {instrument.unit}, less than "
                f"half a digit ({float(instrument.resolution):g}): look at its data "
                "sheet"
            )
            continue
        try:
            pressure = unit_of(instrument.unit).kind is QuantityKind.PRESSURE
        except InputError as error:
            yield f"{name}: {error.message}"
            continue
        finest = FINEST_PRESSURE if pressure else FINEST
        if span and limits < finest * span:
            share = 100 * float(limits / span)
            yield (
                f"{name} claims {share:.2g} % of its range, better than "
                f"{100 * float(finest):g} %: look at its data sheet or certificate"
            )


def _limits(instrument: Instrument) -> Fraction:
    """Return the limits of error at the far end of the range."""
    far = max(abs(instrument.low), abs(instrument.high))
    span = instrument.high - instrument.low
    return instrument.accuracy.half_width(far, span, instrument.resolution)
