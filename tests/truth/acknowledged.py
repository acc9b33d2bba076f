"""Adds the acknowledgements of all cautions that the steps of a record call for.

What is recorded with them is what a careful person would write. All invented.
"""

from datetime import timedelta

from auditkit.order.events import RepairOrder
from auditkit.order.hazards import cautions_called

SEEN = "seen at the vehicle by whoever did the work"
VALUES = {
    "battery voltage": ("12.6", "V"),
    "residual pressure": ("0", "kPa"),
    "rail pressure": ("0", "MPa"),
    "time since stop": ("30", "min"),
    "time since key off": ("30", "min"),
    "time waited": ("15", "min"),
    "wait named by the maker": ("10", "min"),
    "mass": ("12", "kg"),
    "device rating": ("500", "kg"),
    "voltage at the parts": ("0", "V"),
    "time since gloves were tested": ("30", "d"),
    "coolant temperature": ("31", "degC"),
    "surface temperature": ("31", "degC"),
    "oil temperature": ("31", "degC"),
    "soot load": ("20", "g"),
    "highest soot load": ("45", "g"),
    "vehicle mass": ("1900", "kg"),
    "lift rating": ("3500", "kg"),
    "supply limit": ("10", "kPa (gauge)"),
    "highest pressure": ("120", "kPa (gauge)"),
    "circuit pressure": ("0", "kPa (gauge)"),
    "supply voltage": ("13.4", "V"),
    "lowest voltage": ("12.5", "V"),
    "highest voltage": ("14.5", "V"),
}

ASKED_TOO = ("highest pressure", "device rating", "wait named by the maker")
"""Optional ones, without which another value is held against nothing."""


def _preconditions(caution) -> dict:
    found = {}
    for asked in caution.preconditions:
        if asked.optional and asked.name not in ASKED_TOO:
            continue
        if asked.name in VALUES:
            number, unit = VALUES[asked.name]
            found[asked.name] = {"value": number, "unit": unit}
        else:
            found[asked.name] = f"{asked.name}: {SEEN}"
    return found


def acknowledged(events: list[dict], catalogue) -> list[dict]:
    """Return the events with each step's acknowledgements before it."""
    order = RepairOrder.fold("RO-1", events)
    cautions = catalogue.cautions.values()
    called: dict[int, list] = {}
    for one in cautions_called(order, cautions, catalogue.bench_tests):
        called.setdefault(one.step.index, []).append(one)
    made: list[dict] = []
    for place, event in enumerate(events):
        every = called.get(place, [])
        for back, one in enumerate(every):
            at = one.begins - timedelta(minutes=len(every) - back + 1)
            made.append(_caution(one, at, event["by"]))
        made.append(event)
    return made


def _caution(one, at, who: str) -> dict:
    caution, part = one.caution, one.step.text("part")
    step = {"kind": one.step.kind, **({"part": part} if part else {})}
    made = {
        "kind": "caution",
        "at": at.isoformat(),
        "by": who,
        "caution": caution.id,
        "version": caution.version,
        "text_sha256": caution.sha256,
        "step": step,
        "preconditions": _preconditions(caution),
    }
    if caution.signal_word == "DANGER":
        again = (at + timedelta(seconds=40)).isoformat()
        made["second_confirmation"] = {"at": again, "by": who}
    return made
