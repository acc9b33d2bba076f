"""Units as people read them, and those that are offered first. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

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
    QuantityKind.TORQUE: "N m",
    QuantityKind.ANGLE: "deg",
    QuantityKind.ROTATION: "rpm",
    QuantityKind.FREQUENCY: "Hz",
}
"""What shops read most; common practice, no published source."""
VACUUM = ("inHg (vacuum)", "kPa (vacuum)", "mbar (vacuum)")
"""What a hand pump shows, and what other pumps do: down from the air around."""
_FEW_UNITS, _FEW_KINDS = 5, 3


def sign_of(unit: str) -> str:
    """Return a unit as people write it: ``degC`` is °C, without its brackets."""
    symbol, _, reference = unit.removesuffix(")").partition(" (")
    sign = _SIGNS.get(symbol, symbol)
    return f"{sign} {reference}" if reference else sign


def typed_as(units: Iterable[tuple[str, str]]) -> str:
    """Return units as they can be typed, each with its sign where that is another."""
    return " or ".join(
        f"{unit} ({sign})" if sign not in {"", unit} else unit for unit, sign in units
    )


def offered(units: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Return units in their order, each with its sign."""
    return tuple((unit, sign_of(unit)) for unit in dict.fromkeys(units))


def units_of_kinds(
    kinds: Iterable[QuantityKind],
    first: Iterable[str] = (),
    also: Iterable[str] = (),
) -> tuple[tuple[str, str], ...]:
    """Return all units of some kinds: those named first, then what shops read most.

    Those named ``also`` stand behind these.
    """
    many = tuple(kinds)
    found = [*first, *(unit for kind in many for unit in _usual(kind)), *also]
    found += [unit.symbol for unit in UNITS.values() if unit.kind in many]
    return offered(found)


def in_sight(
    units: Sequence[tuple[str, str]], kinds: Sequence[QuantityKind]
) -> tuple[tuple[str, str], ...]:
    """Return the units that stand in sight; the others are folded.

    All where there are few. Else those ahead of what shops read most of a kind, as an
    instrument's own, and these; where there are many kinds, the first of each.
    """
    if len(units) <= _FEW_UNITS:
        return tuple(units)
    most = 1 if len(kinds) > _FEW_KINDS else None
    usual = {unit for kind in kinds for unit in _usual(kind)[:most]}
    ahead = next((n for n, (unit, _) in enumerate(units) if unit in usual), 4)
    seen = usual.union(VACUUM)
    return tuple(one for n, one in enumerate(units) if n < ahead or one[0] in seen)


def _usual(kind: QuantityKind) -> list[str]:
    return _FIRST.get(kind, "").split()
