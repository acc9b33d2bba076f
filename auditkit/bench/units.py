"""Units by kind of quantity, and exact conversion between those of one kind.

The list is closed. Factors are exact rationals from the units' definitions (NIST
SP 811, Appendix B.8; the inches of water and of mercury are the conventional ones).
Columns at 4 degC, 32 and 60 degF are those of SP 811 B.8, as it rounds them; at 68 degF
they follow from densities of 998.21 kg/m3 (water) and 13 545.8 kg/m3 (mercury), from
memory.
What a pressure is measured against is part of its type: ``kPa (gauge)``,
``kPa (absolute)``, ``inHg (vacuum)``, ``Pa (differential)``; ``inHg vacuum`` and
``inHg vac`` say the same without brackets. Where the text of a unit is silent, the
reference is ``None`` and someone else has to say it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from fractions import Fraction
from typing import TYPE_CHECKING, TypeVar

from auditkit.errors import InputError

if TYPE_CHECKING:
    from auditkit.text.values import Quantity


Number = TypeVar("Number", Fraction, float)
"""An exact number, or one with its uncertainty (which acts as a float)."""


LARGEST_EXPONENT = 30
"""Power of ten beyond which no quantity of a bench test lies."""


class QuantityKind(StrEnum):
    """What a quantity is a quantity of; two kinds are never converted."""

    PRESSURE = "pressure"
    TEMPERATURE = "temperature"
    TEMPERATURE_DIFFERENCE = "temperature difference"
    TIME = "time"
    VOLUME = "volume"
    FLOW = "volume flow"
    LEAK_RATE = "leak rate"
    MOLE_FLOW = "mole flow"
    MASS_FLOW = "mass flow"
    VOLTAGE = "voltage"
    CURRENT = "current"
    RESISTANCE = "resistance"
    CHARGE = "charge"
    LENGTH = "length"
    MASS = "mass"
    TORQUE = "torque"
    ANGLE = "angle"
    ROTATION = "rotational speed"
    FREQUENCY = "frequency"
    RATIO = "ratio"
    SPEED = "speed"


class Reference(StrEnum):
    """What a pressure is measured against.

    Gauge and vacuum count from the surrounding air, up and down; absolute from
    nothing; differential from another point.
    """

    GAUGE = "gauge"
    ABSOLUTE = "absolute"
    VACUUM = "vacuum"
    DIFFERENTIAL = "differential"


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: SI value = (value + zero) x factor. ``reference``: pressures only."""

    symbol: str
    kind: QuantityKind
    factor: Fraction
    zero: Fraction = Fraction(0)
    reference: Reference | None = None

    def __str__(self) -> str:
        return f"{self.symbol} ({self.reference})" if self.reference else self.symbol


_INCH = Fraction("0.0254")
_POUND = Fraction("0.45359237")
_GRAVITY = Fraction("9.80665")
_MMHG = Fraction("133.322387415")
_GALLON = 231 * _INCH**3

_FACTORS: dict[QuantityKind, dict[str, Fraction | str | int]] = {
    QuantityKind.PRESSURE: {
        "Pa": 1,
        "hPa": 100,
        "kPa": 1000,
        "MPa": 1000000,
        "mbar": 100,
        "bar": 100000,
        "atm": 101325,
        "Torr": Fraction(101325, 760),
        "mmHg": _MMHG,
        "inHg": _MMHG * Fraction("25.4"),
        "mmH2O": "9.80665",
        "cmH2O": "98.0665",
        "inH2O": "249.08891",
        "inH2O at 4 degC": "249.082",
        "inH2O at 60 degF": "248.84",
        "inH2O at 68 degF": "248.64",
        "inHg at 32 degF": "3386.38",
        "inHg at 60 degF": "3376.85",
        "inHg at 68 degF": "3374.11",
        "psi": _POUND * _GRAVITY / _INCH**2,
    },
    QuantityKind.TEMPERATURE: {"K": 1, "degC": 1, "degF": Fraction(5, 9)},
    QuantityKind.TEMPERATURE_DIFFERENCE: {"K": 1, "degC": 1, "degF": Fraction(5, 9)},
    QuantityKind.TIME: {"s": 1, "ms": "0.001", "min": 60, "h": 3600, "d": 86400},
    QuantityKind.VOLUME: {
        "m3": 1,
        "L": "0.001",
        "mL": "0.000001",
        "cm3": "0.000001",
        "in3": _INCH**3,
        "ft3": (12 * _INCH) ** 3,
        "US gal": _GALLON,
    },
    QuantityKind.FLOW: {
        "m3/s": 1,
        "m3/h": Fraction(1, 3600),
        "L/s": "0.001",
        "L/min": Fraction(1, 60000),
        "L/h": Fraction(1, 3600000),
        "mL/min": Fraction(1, 60000000),
        "cm3/min": Fraction(1, 60000000),
        "cm3/s": "0.000001",
        "cfm": (12 * _INCH) ** 3 / 60,
        "US gal/min": _GALLON / 60,
        "US gal/h": _GALLON / 3600,
    },
    QuantityKind.LEAK_RATE: {"Pa m3/s": 1, "mbar L/s": "0.1", "atm cm3/s": "0.101325"},
    QuantityKind.MOLE_FLOW: {"mol/s": 1, "mmol/s": "0.001", "umol/s": "0.000001"},
    QuantityKind.MASS_FLOW: {
        "kg/s": 1,
        "g/s": "0.001",
        "kg/h": Fraction(1, 3600),
        "g/min": Fraction(1, 60000),
        "lb/min": _POUND / 60,
    },
    QuantityKind.VOLTAGE: {"V": 1, "mV": "0.001", "uV": "0.000001", "kV": 1000},
    QuantityKind.CURRENT: {"A": 1, "mA": "0.001", "uA": "0.000001"},
    QuantityKind.RESISTANCE: {"ohm": 1, "mohm": "0.001", "kohm": 1000, "Mohm": 1000000},
    QuantityKind.CHARGE: {"C": 1, "A h": 3600, "mA h": "3.6"},
    QuantityKind.LENGTH: {
        "m": 1,
        "km": 1000,
        "cm": "0.01",
        "mm": "0.001",
        "um": "0.000001",
        "in": _INCH,
        "mil": _INCH / 1000,
        "ft": 12 * _INCH,
        "mi": 63360 * _INCH,
    },
    QuantityKind.MASS: {"kg": 1, "g": "0.001", "mg": "0.000001", "lb": _POUND},
    QuantityKind.TORQUE: {
        "N m": 1,
        "kgf m": _GRAVITY,
        "lbf ft": _POUND * _GRAVITY * 12 * _INCH,
        "lbf in": _POUND * _GRAVITY * _INCH,
    },
    QuantityKind.ANGLE: {"deg": 1},
    QuantityKind.ROTATION: {"rpm": 1, "1/min": 1},
    QuantityKind.FREQUENCY: {"Hz": 1, "kHz": 1000, "MHz": 1000000},
    QuantityKind.RATIO: {"1": 1, "%": "0.01", "ppm": "0.000001"},
    QuantityKind.SPEED: {
        "m/s": 1,
        "km/h": Fraction(1000, 3600),
        "mph": 63360 * _INCH / 3600,
    },
}

_ZEROS = {"degC": Fraction("273.15"), "degF": Fraction("459.67")}

_ALIASES = {
    "°C": "degC",
    "°F": "degF",
    "Ω": "ohm",
    "mΩ": "mohm",
    "kΩ": "kohm",
    "MΩ": "Mohm",
    "µm": "um",
    "µA": "uA",
    "µV": "uV",
    "Ah": "A h",
    "mAh": "mA h",
    "Nm": "N m",
    "ft-lb": "lbf ft",
    "in-lb": "lbf in",
    "r/min": "rpm",
    "°": "deg",
    "times": "1",
    "psig": "psi (gauge)",
    "psia": "psi (absolute)",
}

_NOT_UNITS = {
    "sccm": "cm3/min",
    "slpm": "L/min",
    "scfm": "cfm",
}
"""Flows that hide their reference temperature (7 % apart) -> what to write."""

_WITH_REFERENCE = re.compile(r" ?\(?(gauge|absolute|vacuum|vac|differential)\)?$")


def _table() -> dict[tuple[QuantityKind, str], Unit]:
    return {
        (kind, symbol): Unit(
            symbol,
            kind,
            Fraction(factor),
            _ZEROS.get(symbol, Fraction(0))
            if kind is QuantityKind.TEMPERATURE
            else Fraction(0),
        )
        for kind, factors in _FACTORS.items()
        for symbol, factor in factors.items()
    }


UNITS = _table()
"""Kind and symbol -> unit. No other unit is known."""
_REFERRED = {
    (unit.symbol, reference): replace(unit, reference=reference)
    for unit in UNITS.values()
    if unit.kind is QuantityKind.PRESSURE
    for reference in Reference
}


def _written() -> dict[str, tuple[Unit, ...]]:
    texts: dict[str, tuple[Unit, ...]] = {}
    for (_, symbol), unit in UNITS.items():
        texts[symbol] = (*texts.get(symbol, ()), unit)
    for (symbol, reference), unit in _REFERRED.items():
        for text in (f" ({reference})", f"({reference})", f" {reference}"):
            texts[f"{symbol}{text}"] = (unit,)
        if reference is Reference.VACUUM:
            texts[f"{symbol} vac"] = (unit,)
    return texts | {alias: texts[text] for alias, text in _ALIASES.items()}


_WRITTEN = _written()
"""Text -> the units that it may mean, one for each kind."""


def against(pressure: Unit, reference: Reference) -> Unit:
    """Return a unit of pressure that is measured against ``reference``."""
    return _REFERRED[pressure.symbol, reference]


def unit_of(text: str, *kinds: QuantityKind) -> Unit:
    """Return the unit that a text names, of one of ``kinds`` (none given: any).

    Raises InputError for an unknown unit and for one of another kind.
    """
    units = _WRITTEN.get(text.strip(), ())
    if not kinds and units:
        return units[0]
    for kind in kinds:
        for unit in units:
            if unit.kind is kind:
                return unit
    raise _unknown(text, kinds)


def _unknown(text: str, kinds: tuple[QuantityKind, ...]) -> InputError:
    plain = _NOT_UNITS.get(text.strip().lower())
    if plain:
        return InputError(
            f"{text!r} does not say at which temperature the gas is counted",
            what_to_do=f"write {plain!r} and give the standard temperature as a "
            "condition",
        )
    wanted = kinds or tuple(QuantityKind)
    known = ", ".join(str(u) for u in UNITS.values() if u.kind in wanted)
    return InputError(
        f"{text!r} is not a unit of {' or '.join(kinds)}"
        if kinds
        else f"{text!r} is not a known unit",
        what_to_do=f"use one of: {known}",
    )


def columns_said(symbols: Iterable[str]) -> tuple[str, ...]:
    """Return which inch of water and of mercury is meant, where one is among units."""
    bare = {_WITH_REFERENCE.sub("", symbol) for symbol in set(symbols)}
    return tuple(
        f"{column} is the conventional one, {float(pascals):.6g} Pa; gauges that "
        f"mean another column write {column} at 60 degF or at 68 degF"
        for column in ("inH2O", "inHg")
        if column in bare
        for pascals in (UNITS[QuantityKind.PRESSURE, column].factor,)
    )


def exact(text: str) -> Fraction:
    """Return the exact number that a decimal text stands for, else InputError."""
    try:
        number = Decimal(text)
    except InvalidOperation:
        number = Decimal("nan")
    if not number.is_finite() or abs(number.adjusted()) > LARGEST_EXPONENT:
        raise InputError(
            f"{text!r} is not a number that can be used here",
            what_to_do="write digits such as 14.0",
        )
    return Fraction(*number.as_integer_ratio())


def to_si(value: Fraction, unit: Unit) -> Fraction:
    """Return a value of ``unit`` in the SI unit of its kind (degrees for angles)."""
    return (value + unit.zero if unit.zero else value) * unit.factor


def from_si(value: Fraction, unit: Unit) -> Fraction:
    """Return an SI value in ``unit``."""
    shown = value / unit.factor
    return shown - unit.zero if unit.zero else shown


def convert(value: Fraction, unit: Unit, target: Unit) -> Fraction:
    """Return ``value`` in another unit of the same kind and the same reference.

    Raises InputError where the kinds differ, and where a pressure would change what
    it is measured against: that needs a barometer (``absolute``).
    """
    if unit.kind is not target.kind:
        raise InputError(
            f"{unit} is a unit of {unit.kind}, {target} one of {target.kind}",
            what_to_do="give the value in a unit of the same kind",
        )
    if unit.reference is not target.reference:
        raise InputError(
            f"{unit} and {target} are not measured against the same thing",
            what_to_do="say gauge, absolute, vacuum or differential for both, and give "
            "the barometer where they differ",
        )
    return from_si(to_si(value, unit), target)


def absolute(
    pascals: Number, reference: Reference | None, barometer: Number | None
) -> Number:
    """Return the absolute pressure in Pa of a pressure measured against something.

    ``barometer`` is the absolute pressure of the surrounding air in Pa. Raises
    InputError where it is needed and absent, and for a differential pressure.
    """
    if reference is Reference.ABSOLUTE:
        return pascals
    if reference is None or reference is Reference.DIFFERENTIAL:
        raise InputError(
            f"a pressure that is {reference or 'not said to be gauge or absolute'} "
            "cannot be made absolute",
            what_to_do="write the unit with (gauge), (vacuum) or (absolute)",
        )
    if barometer is None:
        raise InputError(
            f"a {reference} pressure and an absolute one cannot be brought together "
            "without the barometer",
            what_to_do="give the barometer as a condition",
        )
    return barometer + pascals if reference is Reference.GAUGE else barometer - pascals


def relative(pascals: Number, reference: Reference, barometer: Number | None) -> Number:
    """Return an absolute pressure in Pa against ``reference``; undoes ``absolute``."""
    if reference is Reference.ABSOLUTE:
        return pascals
    if reference is Reference.DIFFERENTIAL or barometer is None:
        return absolute(pascals, reference, barometer)
    return pascals - barometer if reference is Reference.GAUGE else barometer - pascals


def si_value(quantity: Quantity, *kinds: QuantityKind) -> Fraction:
    """Return a quantity's exact SI value; InputError where it is of another kind."""
    return to_si(exact(quantity.text), unit_of(quantity.unit, *kinds))
