"""Does a module still say that the quantity of a code is wrong? Pure."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from auditkit.obd.code_table import row_of, watch_of
from auditkit.obd.parameters import ENGINE_SPEED

if TYPE_CHECKING:
    from auditkit.obd.readout import Readout

_ENDS_OF_SCALE = (-40, 215)
_TRIMS = (("06", "07"), ("08", "09"))
_MOST_TRIM = 20  # %
_VOLTAGE, _LEAST_VOLTS, _TOO_HIGH = "42", 12, (16, 20)  # V; above lies a 24 V system
_AIR_FLOW, _LOAD, _SPEED, _COOLANT, _SINCE_START = "10", "04", "0D", "05", "1F"
_ROLLING = 30  # km/h
_SCALES = {
    "0B": (0, 255),
    "11": (0, 100),
    "23": (0, 655350),
    "5B": (0, 101),
}
"""kPa of manifold and fuel rail, % of the throttle, % that a battery may be above."""
_MOST_AIR = Decimal("655.35")
_LOADED, _UNLOADED = 25, 50  # %
_WARMED_UP, _COOLER, _WARM = 900, 11, 70.0  # s, K, degC


def still_wrong(readout: Readout, code: str, least_coolant: float | None = None) -> str:
    """Return what a readout still says of the quantity of a code; empty if nothing.

    ``least_coolant`` is the least temperature, in degC, that its part is held against.
    Where the bounds come from stands on the page of ``not-watched-and-measured``.
    """
    return (
        _at_end_of_scale(readout, code)
        or (_running if readout.value(ENGINE_SPEED) else _standing)(readout, code)
        or _still_cold(readout, code, least_coolant)
    )


def _at_end_of_scale(readout: Readout, code: str) -> str:
    """Return the temperature that the code is about, where it reads open or short.

    Of a sensor of one byte these are -40 and 215 degC (ISO 15031-5:2006 Annex B).
    """
    own = row_of(code).shown_in[:1]
    for value in readout.values:
        is_own = value.service == "01" and value.id in own and value.unit == "degC"
        if is_own and value.value in _ENDS_OF_SCALE:
            return f"its module says {value}, the end of the scale"
    return ""


def _running(readout: Readout, code: str) -> str:
    """Return what a running engine's module still says of mixture, voltage or air."""
    own = row_of(code).shown_in
    if watch_of(code) == "F" and (mixture := _mixture(readout, own)):
        return mixture
    volts = readout.value(_VOLTAGE) if own[:1] == (_VOLTAGE,) else None
    low, high = _TOO_HIGH
    if volts is not None and (volts < _LEAST_VOLTS or low < volts < high):
        return f"its module still reads {volts:f} V"
    air = readout.value(_AIR_FLOW) if _AIR_FLOW in own else None
    if air in {0, _MOST_AIR}:
        return f"its module reads an air flow of {air:f} g/s"
    return _against_load(readout, own)


def _against_load(readout: Readout, own: tuple[str, ...]) -> str:
    """Return the end of a scale at which the own quantity lies against the load."""
    lowest, highest = _SCALES.get(own[0] if own else "", (None, None))
    load = readout.value(_LOAD)
    if lowest is None or highest is None or load is None:
        return ""
    for value in readout.values:
        is_low = value.value == lowest and load >= _LOADED
        is_high = value.value == highest and load < _UNLOADED
        if (value.service, value.id) == ("01", own[0]) and (is_low or is_high):
            return (
                f"its module says {value}, the end of the scale, at {load:.0f} % load"
            )
    return ""


def _mixture(readout: Readout, own: tuple[str, ...]) -> str:
    for value in readout.values:
        is_loop = (value.service, value.id) == ("01", "03")
        if is_loop and "fault" in str(value.meaning):
            return f"its module says of the loop: {value.meaning}"
    for pids in _TRIMS:
        told = (readout.value(pid) for pid in pids)
        trim = sum((found for found in told if found is not None), Decimal(0))
        if pids[1] in own and abs(trim) > _MOST_TRIM:
            return f"its module still trims the mixture by {trim:.0f} %"
    return ""


def _standing(readout: Readout, code: str) -> str:
    """Return how the engine stands, by its module, in a vehicle that is driven."""
    speed, load, driven = (readout.value(i) for i in (ENGINE_SPEED, _LOAD, _SPEED))
    is_own = row_of(code).shown_in[:1] == (ENGINE_SPEED,) and speed is not None
    if not is_own or not load or driven is None or driven < _ROLLING:
        return ""
    return f"its module says 0 rpm, with load, at {driven:f} km/h"


def _still_cold(readout: Readout, code: str, least: float | None) -> str:
    """Return how cold the coolant stays after a quarter of an hour, if it does."""
    found, ran = readout.value(_COOLANT), readout.value(_SINCE_START)
    is_own = row_of(code).shown_in[:1] == (_COOLANT,)
    if not is_own or least is None or found is None or not readout.value(ENGINE_SPEED):
        return ""
    if not ran or ran < _WARMED_UP or found >= min(least - _COOLER, _WARM):
        return ""
    return f"its coolant is at {found:f} degC, {ran:f} s after the start"
