"""Under which conditions monitors run, as far as published rules name them. Pure.

Guidance only: the maker's procedure decides when a monitor runs, and traffic law when
it may be driven. Temperatures are in degC, altitudes in m, times in s, soak in h.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from auditkit.obd.readout import Readout

DEFERS = (
    "Guidance only: the vehicle maker's procedure decides when a monitor runs, and "
    "traffic law how it may be driven."
)

AMBIENT, COOLANT, ABOVE, INTAKE = "ambient", "coolant_at_start", "above", "intake"
FUEL, SOAK, ALTITUDE, VOLTAGE = "fuel_level", "soak", "altitude", "voltage"
RUN, AT_SPEED, IDLE = "run_time", "time_at_speed", "longest_idle"

_UNITS = {
    AMBIENT: "degC",
    COOLANT: "degC",
    ABOVE: "K",
    INTAKE: "degC",
    FUEL: "%",
    SOAK: "h",
    ALTITUDE: "m",
    VOLTAGE: "V",
    RUN: "s",
    AT_SPEED: "s",
    IDLE: "s",
}
_SAID = {
    AMBIENT: "ambient temperature",
    COOLANT: "coolant temperature at start",
    ABOVE: "coolant above ambient at start",
    INTAKE: "intake air temperature at start",
    FUEL: "fuel level",
    SOAK: "time parked with the key off",
    ALTITUDE: "altitude",
    VOLTAGE: "battery voltage",
    RUN: "engine run in one driving cycle",
    AT_SPEED: "time at 40 km/h (25 mph) or more",
    IDLE: "longest unbroken idle",
}

_CALIFORNIA = "13 CCR 1968.2(d)(4.3.2)"
_MEMORY = "from memory"


@dataclass(frozen=True, slots=True)
class Condition:
    """One condition: a quantity within limits, both inclusive; None is no limit."""

    name: str
    minimum: Decimal | None
    maximum: Decimal | None

    @property
    def text(self) -> str:
        """What is asked, in words."""
        unit, low, high = _UNITS[self.name], self.minimum, self.maximum
        if low is not None and high is not None:
            asked = f"{low} to {high} {unit}"
        else:
            asked = (
                f"at least {low} {unit}" if high is None else f"at most {high} {unit}"
            )
        return f"{_SAID[self.name]}: {asked}"

    def met(self, values: Mapping[str, Decimal]) -> bool | None:
        """Return whether ``values`` meet it; None where the quantity is not known."""
        value = values.get(self.name)
        if value is None:
            return None
        low, high = self.minimum, self.maximum
        return (low is None or low <= value) and (high is None or value <= high)


@dataclass(frozen=True, slots=True)
class Requirement:
    """Conditions that one published text asks for together, and for which monitors.

    ``monitors`` empty means all. ``known`` says how the numbers are known.
    """

    name: str
    monitors: frozenset[str]
    conditions: tuple[Condition, ...]
    source: str
    known: str
    drive: str


def _condition(name: str, low: str | None, high: str | None) -> Condition:
    return Condition(
        name,
        None if low is None else Decimal(low),
        None if high is None else Decimal(high),
    )


_EVAP = frozenset({"evaporative-system"})
REQUIREMENTS = (
    Requirement(
        "a driving cycle that counts",
        frozenset(),
        (
            _condition(AMBIENT, "-6.7", None),
            _condition(ALTITUDE, None, "2438.4"),
            _condition(RUN, "600", None),
            _condition(AT_SPEED, "300", None),
            _condition(IDLE, "30", None),
        ),
        _CALIFORNIA,
        f"{_MEMORY}; 600, 300, 30 and 25 mph stand in a 2017 service manual too",
        (
            "one drive of at least 10 minutes with at least 5 minutes in all at "
            "40 km/h or more and one idle of 30 s with the pedal released"
        ),
    ),
    Requirement(
        "a driving cycle that counts for the evaporative system",
        _EVAP,
        (
            _condition(AMBIENT, "4.4", "35"),
            _condition(COOLANT, "4.4", "35"),
            _condition(ABOVE, None, "6.7"),
        ),
        f"{_CALIFORNIA}(D)",
        _MEMORY,
        "a cold start after a long stop in mild weather, then the drive above",
    ),
    Requirement(
        "a leak test with the key off, of one maker",
        _EVAP,
        (
            _condition(FUEL, None, "90"),
            _condition(ALTITUDE, None, "2450"),
            _condition(COOLANT, "4.4", "35"),
            _condition(INTAKE, "4.4", "35"),
            _condition(SOAK, "6", None),
        ),
        "a service manual of a 2012 sedan",
        "excerpt read; another maker's differs",
        "park it for six hours or more with the key off, then read again",
    ),
    Requirement(
        "a leak test after a cold start, of one maker",
        _EVAP,
        (
            _condition(AMBIENT, "4.4", "29.4"),
            _condition(FUEL, "15", "85"),
            _condition(VOLTAGE, "10", "15"),
        ),
        "a service manual of a 2004 utility vehicle",
        "excerpt read; 29.4 degC is for 0.020 in, 32.2 for 0.040 in",
        "start cold in mild weather with the tank about half full",
    ),
)


def values_of(readout: Readout) -> dict[str, Decimal]:
    """Return the quantities of conditions that a readout holds.

    Coolant and intake temperatures are those of now: they stand for the start only
    while the engine has run no longer than a minute.
    """
    found: dict[str, Decimal] = {}
    pids = {AMBIENT: "46", FUEL: "2F", VOLTAGE: "42", RUN: "1F"}
    for name, pid in pids.items():
        if (value := readout.value(pid)) is not None:
            found[name] = value
    if found.get(RUN, Decimal(1000)) <= 60:
        for name, pid in {COOLANT: "05", INTAKE: "0F"}.items():
            if (value := readout.value(pid)) is not None:
                found[name] = value
    return with_difference(found)


def with_difference(values: Mapping[str, Decimal]) -> dict[str, Decimal]:
    """Return the values, with coolant above ambient where both are known."""
    found = dict(values)
    if COOLANT in found and AMBIENT in found:
        found[ABOVE] = found[COOLANT] - found[AMBIENT]
    return found


def requirements(monitor: str) -> tuple[Requirement, ...]:
    """Return what published texts ask for before this PID 01 monitor runs."""
    return tuple(r for r in REQUIREMENTS if not r.monitors or monitor in r.monitors)
