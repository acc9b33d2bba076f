"""Shared by the tests of bench kinds: short ways to write inputs. All invented."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

from auditkit.bench import Accuracy, BenchInput, Instrument, Limit
from auditkit.text.values import Quantity

DAY = date(2026, 3, 2)


def q(text: str) -> Quantity:
    """Return ``14.0 inH2O (gauge)`` or ``above 40 Mohm`` as a quantity."""
    first, _, rest = text.partition(" ")
    if first in {"above", "below"}:
        number, _, unit = rest.partition(" ")
        return Quantity(number, unit, first)
    return Quantity(first, rest)


def each(texts: str) -> list[Quantity]:
    """Return ``1 2 3 kPa (gauge)`` as quantities of one unit."""
    words = texts.split(" ")
    numbers = [word for word in words if word[0] in "-0123456789"]
    unit = " ".join(words[len(numbers) :])
    return [Quantity(number, unit) for number in numbers]


def instrument(unit: str, high: str, step: str, limit: str, **more) -> Instrument:
    """Return an instrument from 0 to ``high`` with limits of error +/- ``limit``."""
    settings = {
        "unit": unit,
        "low": Fraction(0),
        "high": Fraction(high),
        "resolution": Fraction(step),
        "accuracy": Accuracy(absolute=Fraction(limit)),
        "calibrated_on": date(2025, 9, 1),
        "due": date(2026, 9, 1),
    }
    return Instrument(**{**settings, **more})


GAUGE = instrument("inH2O (gauge)", "50", "0.1", "0.3")
THERMOMETER = instrument("degC", "110", "0.1", "0.2")


def given(readings, conditions, instruments, **more) -> BenchInput:
    """Return inputs from texts; a list stays one, a text with a unit is a quantity."""

    def made(value):
        first = value.split(" ")[0] if isinstance(value, str) else ""
        is_number = first in {"above", "below"} or first[:1] in set("-0123456789")
        return q(value) if first and is_number else value

    return BenchInput(
        readings={name: made(value) for name, value in readings.items()},
        conditions={name: made(value) for name, value in conditions.items()},
        instruments=instruments,
        tested_on=DAY,
        **more,
    )


def limit(unit: str, low: str | None = None, high: str | None = None, of: str = ""):
    """Return a limit with an invented source."""
    return Limit(unit, "invented service information, page 1", low, high, of)
