"""Units as people read them, and those that are offered first. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from auditkit.bench.units import UNITS, QuantityKind

_SIGNS = {
    "degC": "°C",
    "degF": "°F",
    "ohm": "Ω",
    "mohm": "mΩ",
    "kohm": "kΩ",
    "Mohm": "MΩ",
    "um": "µm",
    "uA": "µA",
    "uV": "µV",
    "deg": "°",
    "count": "",
}
_FIRST = {
    QuantityKind.PRESSURE: "kPa bar psi inHg mbar inH2O",
    QuantityKind.TEMPERATURE: "degC degF",
    QuantityKind.TEMPERATURE_DIFFERENCE: "K",
    QuantityKind.TIME: "s min h",
    QuantityKind.VOLUME: "mL L",
    QuantityKind.FLOW: "L/min L/h mL/min",
    QuantityKind.MASS_FLOW: "g/s kg/h",
    QuantityKind.VOLTAGE: "V mV",
    QuantityKind.CURRENT: "A mA",
    QuantityKind.RESISTANCE: "ohm kohm Mohm",
    QuantityKind.LENGTH: "mm in",
    QuantityKind.MASS: "g kg",
    QuantityKind.RATIO: "%",
    QuantityKind.SPEED: "km/h mph",
}
"""What shops read most; common practice, no published source."""


def sign_of(unit: str) -> str:
    """Return a unit as it is written for people: ``degC`` is °C."""
    symbol, bracket, reference = unit.partition(" (")
    return f"{_SIGNS.get(symbol, symbol)}{bracket}{reference}"


def typed_as(units: Iterable[tuple[str, str]]) -> str:
    """Return units as they can be typed, each with its sign where that is another."""
    return " or ".join(
        f"{unit} ({sign})" if sign not in {"", unit} else unit for unit, sign in units
    )


def offered(units: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Return units in their order, each with its sign."""
    return tuple((unit, sign_of(unit)) for unit in dict.fromkeys(units))


def units_of_kinds(
    kinds: Iterable[QuantityKind], first: Iterable[str] = ()
) -> tuple[tuple[str, str], ...]:
    """Return all units of some kinds: those named first, then what shops read most."""
    many = tuple(kinds)
    found = [*first, *(unit for kind in many for unit in _FIRST.get(kind, "").split())]
    found += [unit.symbol for unit in UNITS.values() if unit.kind in many]
    return offered(found)
