"""What a rule asks of the vehicle, and how each of it is known. Pure.

What a person gives overrides what was read, and is said where the two differ.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from auditkit.inspection.heard import engine_modules, ignitions
from auditkit.obd import Readout
from auditkit.obd.parameters import FUEL_TYPE, FUELS
from auditkit.obd.vin import has_check_digit, model_year
from auditkit.text.values import Json, quantity

SPARK, COMPRESSION, ELECTRIC = "spark", "compression", "electric"
_ELECTRIC_FUEL = FUELS[0x08]


@dataclass(frozen=True, slots=True)
class Given:
    """What a person gives of the vehicle; None is not given."""

    model_year: int | None = None
    ignition: str | None = None
    vin: str | None = None
    gvwr_lb: int | None = None
    first_used: date | None = None
    odometer: str = ""


@dataclass(frozen=True, slots=True)
class Vehicle:
    """Model year, ignition, VIN, weight and first use, None where nobody knows.

    ``odometer`` is what a person read, with its unit.
    ``said`` are sentences on how each is known. ``conflict`` says where two sources of
    the ignition differ, so that its monitors cannot be named; else it is empty.
    """

    model_year: int | None
    ignition: str | None
    vin: str | None = None
    gvwr_lb: int | None = None
    first_used: date | None = None
    odometer: str = ""
    said: tuple[str, ...] = ()
    conflict: str = ""


def vehicle_of(
    readout: Readout, given: Given, written: Mapping[str, Json] | None = None
) -> Vehicle:
    """Return the vehicle; ``written`` is what a repair order's opening says of it."""
    written = written or {}
    recorded_vin = _text(written, "vin")
    vin = given.vin or recorded_vin
    vins: tuple[str, ...] = ()
    if given.vin is not None and recorded_vin not in {None, given.vin}:
        told_vin = f"VIN {vin}, given with --vin; but {recorded_vin}"
        vins = (f"{told_vin}, as the repair order says",)
    year, years = _year(readout, given, written, vin)
    ignition, conflict, told = _ignition(readout, given, written)
    recorded = quantity(written.get("odometer"))
    return Vehicle(
        year,
        ignition,
        vin,
        given.gvwr_lb,
        given.first_used,
        given.odometer or (f"{recorded}" if recorded else ""),
        (*years, *told, *vins),
        conflict,
    )


def _text(written: Mapping[str, Json], name: str) -> str | None:
    found = written.get(name)
    return found if isinstance(found, str) else None


def _year(
    readout: Readout,
    given: Given,
    written: Mapping[str, Json],
    vin: str | None,
) -> tuple[int | None, tuple[str, ...]]:
    recorded = written.get("model_year")
    known = {
        "given with --model-year": given.model_year,
        "as the repair order says": recorded if isinstance(recorded, int) else None,
        "as the VIN that was read says": _year_of(readout.vin),
        "as the VIN of the vehicle says": _year_of(vin),
    }
    return _first(known, "model year")


def _first(
    known: Mapping[str, int | None], name: str
) -> tuple[int | None, tuple[str, ...]]:
    found = [(how, value) for how, value in known.items() if value is not None]
    if not found:
        return None, (f"{name} not known",)
    how, value = found[0]
    others = [f"{other}, {then}" for then, other in found[1:] if other != value]
    but = f"; but {' and '.join(others)}" if others else ""
    return value, (f"{name} {value}, {how}{but}",)


def _year_of(vin: str | None) -> int | None:
    return model_year(vin) if vin is not None and has_check_digit(vin) else None


def _ignition(
    readout: Readout, given: Given, written: Mapping[str, Json]
) -> tuple[str | None, str, tuple[str, ...]]:
    read = ignitions(readout)
    if len(read) > 1:
        told = "one engine module says spark ignition and another compression (PID 01)"
        return None, told, (f"ignition: {told}",)
    told_by = {
        "given with --ignition": given.ignition,
        "as PID 01 says": next(iter(read), None) or _electric(readout),
        "as the repair order says": _text(written, "ignition"),
    }
    known = {how: value for how, value in told_by.items() if value is not None}
    if not known:
        return None, "", ("ignition not known",)
    words = [f"{value}, {how}" for how, value in known.items()]
    if len(set(known.values())) == 1:
        return next(iter(known.values())), "", (f"ignition {words[0]}",)
    conflict = " and ".join(words)
    return next(iter(known.values())), conflict, (f"ignition {conflict}",)


def _electric(readout: Readout) -> str | None:
    """Return electric where a module says so and none has an engine's monitors."""
    fuels = {
        v.meaning for v in readout.values if (v.service, v.id) == ("01", FUEL_TYPE)
    }
    return (
        ELECTRIC if fuels == {_ELECTRIC_FUEL} and not engine_modules(readout) else None
    )


def vin_marks(readout: Readout, vin: str | None) -> Iterator[str]:
    """Yield how the VIN that was read compares with that of the vehicle."""
    if readout.vin is None:
        yield "the vehicle gave no VIN, or it was not asked"
    elif vin is None:
        yield f"the vehicle gave VIN {readout.vin}; nobody gave one to compare it with"
    elif vin_differs(readout, vin):
        yield f"the vehicle gave VIN {readout.vin}, and {vin} is written: another one"
    else:
        yield f"the vehicle gave VIN {readout.vin}, as it is written"


def vin_differs(readout: Readout, vin: str | None) -> bool:
    """Return whether the VIN that was read is another than the vehicle's."""
    return None not in {readout.vin, vin} and readout.vin != vin
