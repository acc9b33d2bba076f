"""Stored energy: how well pressure or voltage is held, or how much current drains it.

Fuel pressure after stop, battery voltage under load or at rest, parasitic draw. The
limits are the maker's; the usual figures are common practice, no published source.
"""

from __future__ import annotations

from fractions import Fraction

from auditkit.bench.computed import Computation, Computed, Held, Judged
from auditkit.bench.inputs import PRESSURE_REFERENCE, AskedAs, HowKnown, Need
from auditkit.bench.kind import TestKind
from auditkit.bench.physics.gas import STANDARD_PRESSURE
from auditkit.bench.readings import Readings
from auditkit.bench.uncertainty import Uncertain, uncertainty_of, value_of
from auditkit.bench.units import QuantityKind, Reference
from auditkit.errors import InputError

PRESSURE = Judged("pressure at end", QuantityKind.PRESSURE, "kPa")
PRESSURE_LOSS = Judged("loss of pressure", QuantityKind.PRESSURE, "kPa (differential)")
VOLTAGE = Judged("voltage at end", QuantityKind.VOLTAGE, "V")
VOLTAGE_LOSS = Judged("loss of voltage", QuantityKind.VOLTAGE, "V")
CURRENT = Judged("mean current", QuantityKind.CURRENT, "mA")

_LOAD, _TEMPERATURE = "load current", "temperature"
_ASLEEP = ("time since shutdown", "time until asleep")


def _compute(readings: Readings) -> Computation:
    given = [n for n in ("pressure", "voltage", "current") if readings.has(n)]
    if len(given) != 1:
        raise InputError(
            f"give one of pressure, voltage and current, not {len(given)}",
            what_to_do="record each as a test of its own",
        )
    if given == ["current"]:
        return _drain(readings)
    if not readings.has(_TEMPERATURE):
        raise InputError(
            f"{_TEMPERATURE} is missing",
            what_to_do="give that of the fuel or of the battery",
        )
    return _hold(readings, given[0])


def _hold(readings: Readings, name: str) -> Computation:
    held = readings.series(name)
    is_pressure = name == "pressure"
    notes = [f"temperature {readings.written(_TEMPERATURE)[0]}, not corrected"]
    if is_pressure:
        notes.append("warming fuel raises the pressure and can hide a leak")
    else:
        if not readings.has(_LOAD):
            raise InputError(
                f"{_LOAD} is missing", what_to_do="give it; 0 A for a battery at rest"
            )
        notes.append(f"load current {value_of(readings.one(_LOAD)):g} A")
    unit = readings.unit(name)
    end, loss = (PRESSURE, PRESSURE_LOSS) if is_pressure else (VOLTAGE, VOLTAGE_LOSS)
    short, long = _duration(readings)
    # What is left where all is lost: nothing, or about the pressure of the air.
    absolute = unit.reference is Reference.ABSOLUTE
    empty = STANDARD_PRESSURE if absolute else 0.0
    fell = 1 if value_of(held[0]) > empty else -1
    lost: Uncertain = fell * (held[0] - held[-1])
    apart = f"{unit.symbol} ({Reference.DIFFERENTIAL})" if is_pressure else unit.symbol
    return Computation(
        (
            Computed(
                end,
                (held[-1],),
                unit=str(unit),
                blocked=short,
                no_fault=long,
                held=Held(held[0], empty, lost),
            ),
            Computed(
                loss,
                (lost,),
                unit=apart,
                blocked=short,
                no_fault=long,
                held=Held(0.0, fell * (held[0] - empty), lost),
            ),
        ),
        tuple(notes),
        ("hold longer", "keep the temperature steady"),
    )


def _duration(readings: Readings) -> tuple[str, str]:
    """Return why the hold was too short for the limit, and why too long."""
    if not readings.has("hold time"):
        return "hold time is missing", ""
    name = "required hold time"
    if not readings.has(name):
        return "", ""
    required, held = value_of(readings.one(name)), value_of(readings.one("hold time"))
    said = f"held for {held:g} s, the limit speaks of {required:g} s"
    margin = 2 * uncertainty_of(readings.one("hold time"))
    return (
        said if held < required else "",
        f"{said}: a loss in a longer time is no fault"
        if held > required + margin
        else "",
    )


def _drain(readings: Readings) -> Computation:
    mean = readings.mean("current")
    missing = [name for name in _ASLEEP if not readings.has(name)]
    blocked = f"{' and '.join(missing)} missing: it may not have been asleep"
    if not missing:
        since, until = (value_of(readings.one(name)) for name in _ASLEEP)
        blocked = (
            f"read {since:g} s after shutdown, asleep only after {until:g} s"
            if since < until
            else ""
        )
    charge = 24 * 1000 * value_of(mean)
    return Computation(
        (Computed(CURRENT, (mean,), blocked=blocked),),
        (f"{charge:.4g} mA h a day", "the error of the instrument is common to all"),
        ("read longer, after everything is asleep", "use a lower range"),
    )


_WHAT = "What is read"
_ONE = AskedAs(one_of=_WHAT)
_HELD = AskedAs(only=(_WHAT, ("pressure", "voltage")))
_TIMES = (QuantityKind.TIME,)
_EXACT = HowKnown.EXACT


STORED_ENERGY = TestKind(
    name="stored-energy",
    title="Hold or drain of stored energy",
    readings=(
        Need(
            "pressure",
            (QuantityKind.PRESSURE,),
            required=False,
            at_least=2,
            asked=_ONE,
        ),
        Need(
            "voltage", (QuantityKind.VOLTAGE,), required=False, at_least=2, asked=_ONE
        ),
        Need("current", (QuantityKind.CURRENT,), required=False, asked=_ONE),
        Need(
            "hold time",
            _TIMES,
            required=False,
            given=HowKnown.STATED,
            slack=Fraction(1),
            asked=_HELD,
        ),
    ),
    conditions=(
        Need(_TEMPERATURE, (QuantityKind.TEMPERATURE,), required=False, asked=_HELD),
        Need(
            _LOAD,
            (QuantityKind.CURRENT,),
            required=False,
            given=_EXACT,
            asked=AskedAs(only=(_WHAT, ("voltage",))),
        ),
        Need("required hold time", _TIMES, required=False, given=_EXACT),
        *(
            Need(
                name,
                _TIMES,
                required=False,
                given=_EXACT,
                asked=AskedAs(only=(_WHAT, ("current",))),
            )
            for name in _ASLEEP
        ),
        Need(PRESSURE_REFERENCE, required=False, words=tuple(Reference)),
    ),
    judges=(PRESSURE, PRESSURE_LOSS, VOLTAGE, VOLTAGE_LOSS, CURRENT),
    refuses=(
        "a drain that was read before everything was asleep",
        "a voltage without the load current, a hold without its time",
    ),
    source="readings against the maker's limit",
    compute=_compute,
)
