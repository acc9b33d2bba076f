"""Shop rules: do the marks of the vehicle stay the same from readout to readout?

Marks are its calibrations, what it supports and which modules answer. That an
inspection compares such marks is public (California BAR newsletter of spring 2018,
Certificate Blocking; 16 CCR 3340.42.2(c)(7) and (8)); which marks are compared here is
our own reasoning from what a vehicle keeps. A finding asks a person and accuses nobody.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import pairwise

from auditkit.plugin import (
    Event,
    Parameters,
    Problem,
    Question,
    RepairOrder,
    Rule,
    Severity,
    hookimpl,
    identity,
    readouts_of,
    rule,
)

_CALIBRATION = "calibration ids"
_NUMBERS = "calibration verification numbers"


def _differing(
    order: RepairOrder, starts: tuple[str, ...]
) -> Iterator[tuple[str, str, str, Event]]:
    """Yield the marks that differ from when they were last read: name, then, now."""
    last: dict[str, str] = {}
    for event, readout in readouts_of(order):
        for name, text in identity(readout).items():
            if not name.startswith(starts):
                continue
            if last.get(name, text) != text:
                yield name, last[name], text, event
            last[name] = text


@rule("calibration-changed-without-reprogramming", question=Question.SAME_VEHICLE)
def calibration(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a calibration that changed and that no recorded reprogramming explains.

    What it checks
    Calibration ids and verification numbers (service 09 InfoTypes 04 and 06) stay the
    same from readout to readout, unless a control module was reprogrammed in between:
    the repair names, as part number or in its note, each calibration id that the module
    says now and did not say before, and in the note the source. A verification number
    changes with such an id, never alone. No diagnosis has to suspect the module, but
    what one suspects as a part of another system is no control module.

    Why it matters
    Another calibration means another program, or another vehicle.

    Example
    The verification number was 1791BC82 before the repair and 16E062BE after it.

    What to do
    Record the reprogramming with the calibration that was written and its source; or
    find out why the numbers differ.
    """
    last: dict[str, tuple[str, int, set[str]]] = {}
    for event, readout in readouts_of(order):
        for name, text in identity(readout).items():
            if not name.startswith((_CALIBRATION, _NUMBERS)):
                continue
            who = name.rpartition(" of ")[2]
            ids = {told for module, told in readout.calibration_ids if module == who}
            was, since, old = last.get(name, (text, event.index, ids))
            last[name] = text, event.index, ids
            done = order.between(since, event.index, "repair")
            written = [repair for repair in done if _is_program(order, repair)]
            if was == text or _are_named(ids - old, written):
                continue
            yield Problem(
                f"{name}: {was} before, {text} now, and no reprogramming of a control "
                "module is recorded that names that calibration and its source",
                "record the reprogramming with the calibration that was written (part "
                "number) and its source (note); or find out why they differ",
                event.index,
            )


def _is_program(order: RepairOrder, repair: Event) -> bool:
    """Return whether a control module was reprogrammed, or what no diagnosis suspects.

    Other work needs no suspicion; what is a part of another system is no such module.
    """
    suspect = order.suspect(repair.text("part"))
    is_one = suspect is None or suspect.system == "control-module"
    return is_one and repair.text("action") == "reprogrammed"


def _are_named(ids: set[str], programs: Iterable[Event]) -> bool:
    """Return whether reprogrammings name these new calibrations, and a source of each.

    A longer number that holds one is another; a note that says nothing but the
    calibration names no source.
    """
    told = [(p.text("part_number"), p.text("note")) for p in programs]
    whole = [
        re.compile(rf"(?<![0-9a-z]){re.escape(one)}(?![0-9a-z])", re.IGNORECASE)
        for one in ids
    ]
    return bool(ids) and all(
        any(
            one.search(f"{number} {note}") and re.search(r"\w", one.sub("", note))
            for number, note in told
        )
        for one in whole
    )


@rule("calibration-changed-by-halves", question=Question.SAME_VEHICLE, version=2)
def halves(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a calibration id that changed without its verification number.

    What it checks
    From one readout to the next, ids and verification numbers of a module change
    together or not at all.

    Why it matters
    The number is computed over the program that the id names. One alone changing can be
    a program altered under its old name.

    Example
    The id stays, the verification number is another.

    What to do
    Read both again with the maker's own procedure and record what it says.
    """
    for (__, before), (event, after) in pairwise(readouts_of(order)):
        old, new = identity(before), identity(after)
        for who in after.responders:
            ids, numbers = f"{_CALIBRATION} of {who}", f"{_NUMBERS} of {who}"
            if not all(n in side for n in (ids, numbers) for side in (old, new)):
                continue
            moved = {n: old[n] != new[n] for n in (ids, numbers)}
            if moved[ids] != moved[numbers]:
                which = ids if moved[ids] else numbers
                other = numbers if moved[ids] else ids
                yield Problem(
                    f"{which}: {old[which]} before, {new[which]} now, while {other} "
                    f"stayed {new[other]}",
                    "read both again and record what the maker's procedure says",
                    event.index,
                )


@rule("vehicle-marks-differ", question=Question.SAME_VEHICLE)
def marks(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds readouts whose vehicles are built differently.

    What it checks
    Support maps, OBD standard, the emission requirement (PID 5F), fuel type, oxygen
    sensors, supported monitors and the modules' names (service 09 InfoType 0A) stay the
    same from readout to readout, and spark or compression ignition is the one of the
    opening. A reprogramming names a calibration, and explains nothing else.

    Why it matters
    What a vehicle supports does not change with a repair.

    Example
    Before the repair monitors of the evaporative system are supported, after it not.

    What to do
    Look at both readouts with the vehicle at hand, and capture again.
    """
    kept = (
        "support map",
        "OBD standard",
        "emission requirement",
        "fuel type",
        "oxygen sensors",
        "monitors",
        "module name",
    )
    for name, then, now, event in _differing(order, kept):
        yield Problem(
            f"{name}: {then} before, {now} now: is this the same vehicle?",
            "look at both readouts with the vehicle at hand, and capture again",
            event.index,
        )
    written = order.vehicle("ignition")
    for source, readout in readouts_of(order):
        names = {m.monitor for m in readout.monitors if m.supported}
        diesel = {"nmhc-catalyst", "nox-aftertreatment", "particulate-filter"} & names
        spark = {"catalyst", "oxygen-sensor", "evaporative-system"} & names
        told = "compression" if diesel else "spark" if spark else ""
        if written and told and told != written:
            yield Problem(
                f"ignition is written as {written}; the monitors are those of {told} "
                f"ignition ({', '.join(sorted(diesel or spark))})",
                "amend the opening, or capture a readout of this vehicle",
                source.index,
            )


@rule("responders-differ", question=Question.SAME_VEHICLE, severity=Severity.ADVISORY)
def responders(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds readouts in which other modules answered.

    What it checks
    The same responders answer in every readout.

    Why it matters
    A module that is silent now may hold the code; one that is new may be of another
    vehicle. It may also be that it was not asked.

    Example
    7E8 and 7E9 before the repair, 7E8 alone after it.

    What to do
    Ask all modules (a functional request) in every readout.
    """
    for name, then, now, event in _differing(order, ("responders",)):
        yield Problem(
            f"{name}: {then} before, {now} now",
            "ask all modules in every readout, or record why one is silent",
            event.index,
        )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        calibration,
        halves,
        marks,
        responders,
    )
