"""The quantities that an instrument shows directly, by the name of their reading."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from auditkit.bench.computed import Judged
from auditkit.bench.inputs import AskedAs, Need
from auditkit.bench.readings import Readings
from auditkit.bench.units import QuantityKind
from auditkit.errors import InputError

_SHOWN = (
    Judged("resistance", QuantityKind.RESISTANCE, "ohm"),
    Judged("voltage", QuantityKind.VOLTAGE, "V"),
    Judged("current", QuantityKind.CURRENT, "A"),
    Judged("pressure", QuantityKind.PRESSURE, "kPa"),
    Judged("temperature", QuantityKind.TEMPERATURE, "degC"),
    Judged("length", QuantityKind.LENGTH, "mm"),
    Judged("torque", QuantityKind.TORQUE, "N m"),
    Judged("time", QuantityKind.TIME, "s"),
    Judged("frequency", QuantityKind.FREQUENCY, "Hz"),
    Judged("flow", QuantityKind.FLOW, "L/min"),
    Judged("mass flow", QuantityKind.MASS_FLOW, "g/s"),
    Judged("volume", QuantityKind.VOLUME, "mL"),
    Judged("mass", QuantityKind.MASS, "g"),
    Judged("angle", QuantityKind.ANGLE, "deg"),
    Judged("rotational speed", QuantityKind.ROTATION, "rpm"),
    Judged("speed", QuantityKind.SPEED, "km/h"),
    Judged("ratio", QuantityKind.RATIO, "%"),
)

QUANTITIES: Mapping[str, Judged] = MappingProxyType({q.name: q for q in _SHOWN})
"""Name -> quantity. A gap is a length, a duty cycle a ratio, a vacuum a pressure."""


def needs_of_quantities(at_least: int = 1) -> tuple[Need, ...]:
    """Return a need of each quantity; a test is given one of them."""
    return tuple(
        Need(
            q.name,
            (q.kind,),
            required=False,
            at_least=at_least,
            asked=AskedAs(one_of="What is read"),
        )
        for q in _SHOWN
    )


def quantity_given(readings: Readings) -> Judged:
    """Return the one quantity that was read; InputError for none or several."""
    given = [q for q in _SHOWN if readings.has(q.name)]
    if len(given) == 1:
        return given[0]
    if not given:
        names = ", ".join(QUANTITIES)
        raise InputError("nothing was read", what_to_do=f"give one reading of: {names}")
    names = " and ".join(q.name for q in given)
    raise InputError(
        f"{names} were read in one test", what_to_do="record each as a test of its own"
    )
