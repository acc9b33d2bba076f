"""Shop rules: do all readouts come from the vehicle that was written down?

Each finding is a question for a person, with the two values side by side, and no
accusation: a module may have been replaced, or a digit mistyped. That an inspection
compares such marks is public (California BAR newsletter of spring 2018, Certificate
Blocking; 16 CCR 3340.42.2(c)(7) and (8)); which marks are compared here is our own
reasoning from what a vehicle keeps. The file is long because each rule carries its
page.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from itertools import pairwise

from auditkit.plugin import (
    DISTANCE,
    MINUTES,
    ODOMETER,
    WARM_UPS,
    Event,
    Parameters,
    Problem,
    Readout,
    RepairOrder,
    Rule,
    Severity,
    decode,
    hookimpl,
    identity,
    in_use,
    quantity,
    rule,
    vin,
)

_MILE = Decimal("1.609344")
"""Kilometres in an international mile, exact (NIST Special Publication 811)."""

_CALIBRATION = "calibration ids"
_NUMBERS = "calibration verification numbers"


def _readouts(order: RepairOrder) -> list[tuple[Event, Readout]]:
    return [(event, decode(event.text("raw"))) for event in order.of("readout")]


def _differing(
    order: RepairOrder, starts: tuple[str, ...]
) -> Iterator[tuple[str, str, str, Event]]:
    """Yield the marks that differ from when they were last read: name, then, now."""
    last: dict[str, str] = {}
    for event, readout in _readouts(order):
        for name, text in identity(readout).items():
            if not name.startswith(starts):
                continue
            if last.get(name, text) != text:
                yield name, last[name], text, event
            last[name] = text


def _reprogrammed(order: RepairOrder) -> bool:
    return any(e.text("action") == "reprogrammed" for e in order.of("repair"))


def _written(order: RepairOrder, name: str) -> str:
    if order.opening is None:
        return ""
    value = order.opening.object("vehicle").get(name)
    return "" if value is None else str(value)


@rule("opening-not-recorded")
def not_opened(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a repair order that says not which vehicle came in.

    What it checks
    The record has an opening.

    Why it matters
    Without it nothing says whose vehicle was repaired and what was wrong with it, and a
    VIN that was read is compared with nothing.

    Example
    The record begins with a readout.

    What to do
    Record the opening, with the VIN from the vehicle's plate.
    """
    if order.opening is None:
        yield Problem(
            "no opening is recorded: nothing says which vehicle came in",
            "record the opening, with the VIN from the vehicle's plate",
        )


@rule("vin-differs")
def vin_differs(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a VIN read from the vehicle that is not the one written down.

    What it checks
    Each VIN that a readout gives (service 09 InfoType 02) equals the VIN of the opening
    and that of the readout before it.

    Why it matters
    A pass of another vehicle proves nothing about this one.

    Example
    Written 0ZZTB1A18CA000123, read 0ZZTB1A1XCA000124.

    What to do
    Compare both with the plate on the vehicle. Amend a mistyped VIN; record why where a
    module came from another vehicle; capture a new readout otherwise.
    """
    expected = _written(order, "vin")
    for event, readout in _readouts(order):
        if readout.vin is None:
            continue
        if expected and readout.vin != expected:
            yield Problem(
                f"the VIN read is {readout.vin}; before it stood {expected}: is this "
                "the same vehicle?",
                "compare both with the vehicle's plate, then amend or capture again",
                event.index,
            )
        expected = expected or readout.vin


@rule("vin-not-read", severity=Severity.ADVISORY)
def vin_not_read(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a repair whose readouts after it give no VIN.

    What it checks
    At least one readout after the repair gives the VIN.

    Why it matters
    Without it, that the readout is of this vehicle is the shop's word.

    Example
    Only services 03 and 06 were captured after the repair.

    What to do
    Capture service 09 InfoType 02 too. A vehicle built before it was asked for gives
    none: then compare calibration ids and counters.
    """
    repair = order.last_repair
    if repair is None:
        return
    after = order.after(repair.index, "readout")
    if after and all(decode(e.text("raw")).vin is None for e in after):
        yield Problem(
            "no readout after the repair gives the VIN",
            "capture service 09 InfoType 02 where the vehicle has it",
            after[-1].index,
        )


@rule("vin-check-digit-differs", severity=Severity.ADVISORY)
def check_digit(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a written VIN whose position 9 is not its check digit.

    What it checks
    Position 9 of the VIN written in the opening against 49 CFR 565.15(c).

    Why it matters
    It finds a mistyped character. The check digit is obligatory in the U.S. and Canada
    only, so for a vehicle of another market this is no more than a note.

    Example
    W0L000051T2123456: position 9 is 1, the check digit would be 5.

    What to do
    Compare with the vehicle's plate; amend the opening where it was mistyped.
    """
    text = _written(order, "vin")
    if order.opening and vin.is_well_formed(text) and not vin.has_check_digit(text):
        yield Problem(
            f"position 9 of VIN {text} is {text[8]}; the check digit would be "
            f"{vin.check_digit(text)} (obligatory in the U.S. and Canada only)",
            "compare the VIN with the vehicle's plate",
            order.opening.index,
        )


@rule("model-year-differs", severity=Severity.ADVISORY)
def model_year(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a model year that is not the one of the VIN.

    What it checks
    The model year of the opening against positions 7 and 10 of its VIN (49 CFR
    565.15(b)), where the VIN has its check digit.

    Why it matters
    What an inspection asks depends on the model year.

    Example
    Written 2010, the VIN says 2012.

    What to do
    Amend the one that was mistyped.
    """
    text, year = _written(order, "vin"), _written(order, "model_year")
    told = vin.model_year(text) if vin.has_check_digit(text) else None
    if order.opening and told is not None and year and str(told) != year:
        yield Problem(
            f"the model year written is {year}; the VIN says {told}",
            "amend the one that was mistyped",
            order.opening.index,
        )


@rule("calibration-changed-without-reprogramming")
def calibration(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a calibration that changed without a recorded reprogramming.

    What it checks
    Calibration ids and verification numbers (service 09 InfoTypes 04 and 06) stay the
    same from readout to readout, unless a repair of action "reprogrammed" is recorded.

    Why it matters
    Another calibration means another program, or another vehicle.

    Example
    The verification number was 1791BC82 before the repair and 16E062BE after it.

    What to do
    Record the reprogramming with its source, or find out why the numbers differ.
    """
    if _reprogrammed(order):
        return
    for name, then, now, event in _differing(order, (_CALIBRATION, _NUMBERS)):
        yield Problem(
            f"{name}: {then} before, {now} now, and no reprogramming is recorded",
            "record the reprogramming, or find out why they differ",
            event.index,
        )


@rule("calibration-changed-by-halves", severity=Severity.ADVISORY)
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
    for (__, before), (event, after) in pairwise(_readouts(order)):
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


@rule("vehicle-marks-differ")
def marks(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds readouts whose vehicles are built differently.

    What it checks
    Support maps, OBD standard, fuel type, oxygen sensors and supported monitors stay
    the same from readout to readout (unless a reprogramming is recorded), and spark or
    compression ignition is the one of the opening.

    Why it matters
    What a vehicle supports does not change with a repair.

    Example
    Before the repair monitors of the evaporative system are supported, after it not.

    What to do
    Look at both readouts with the vehicle at hand, and capture again.
    """
    if not _reprogrammed(order):
        kept = (
            "support map",
            "OBD standard",
            "fuel type",
            "oxygen sensors",
            "monitors",
        )
        for name, then, now, event in _differing(order, kept):
            yield Problem(
                f"{name}: {then} before, {now} now: is this the same vehicle?",
                "look at both readouts with the vehicle at hand, and capture again",
                event.index,
            )
    written = _written(order, "ignition")
    for source, readout in _readouts(order):
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


@rule("responders-differ", severity=Severity.ADVISORY)
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


@rule("count-went-back")
def went_back(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a count that a vehicle only ever raises and that is lower than before.

    What it checks
    Odometer (PID A6, and the written one) and in-use counters (service 09) do not fall
    from readout to readout. A counter may begin anew past 65,535, and a recorded
    reprogramming may set counters back.

    Why it matters
    A vehicle does not count backwards; a later readout with a lower count is an older
    one, or of another vehicle.

    Example
    120,345 km before the repair, 98,000 km after it.

    What to do
    Look at both readouts with the vehicle at hand; record a replaced instrument
    cluster or control module.
    """
    mended = "look at both readouts with the vehicle at hand, and capture again"
    odometer = _opening_km(order)
    counts: dict[tuple[str, str], int] = {}
    for event, readout in _readouts(order):
        now = readout.value(ODOMETER)
        if now is not None:
            if odometer is not None and now < odometer - 1:
                yield Problem(
                    f"odometer: {odometer:.0f} km before, {now:f} km now",
                    mended,
                    event.index,
                )
            odometer = now
        for one in readout.counters:
            then = counts.get((one.responder, one.name), one.count)
            back = in_use.rise(then, one.count) is None
            if back and not _reprogrammed(order):
                yield Problem(
                    f"in-use counter {one.name} of {one.responder}: {then} before, "
                    f"{one.count} now",
                    mended,
                    event.index,
                )
            counts[one.responder, one.name] = one.count


def _opening_km(order: RepairOrder) -> Decimal | None:
    if order.opening is None:
        return None
    reading = order.opening.object("vehicle").get("odometer")
    found = quantity(reading) if isinstance(reading, dict) else None
    if found is None:
        return None
    return found.value * (_MILE if found.unit == "mi" else 1)


@rule("counts-since-clear-contradict", severity=Severity.ADVISORY)
def contradict(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds counts since codes were cleared that cannot be true together.

    What it checks
    Within one readout: no distance since the clear (PID 31) without minutes of engine
    run (PID 4E), none above the odometer, and no 500 km and more without one warm-up
    (PID 30; the 500 km are common practice, no published source).

    Why it matters
    Counts that contradict each other did not come from one vehicle's driving. A vehicle
    that drives without its engine can have distance without minutes.

    Example
    4,000 km since the clear and not one warm-up.

    What to do
    Capture again; ask where the readout came from.
    """
    for event, readout in _readouts(order):
        far, minutes = readout.value(DISTANCE), readout.value(MINUTES)
        warm, odometer = readout.value(WARM_UPS), readout.value(ODOMETER)
        if far is None:
            continue
        told = [
            f"{far:f} km, {what}"
            for wrong, what in (
                (minutes == 0 and far > 0, "and 0 min of engine run"),
                (warm == 0 and far >= 500, "and no warm-up"),  # noqa: PLR2004
                (
                    odometer is not None and far > odometer + 1,
                    f"and an odometer of {odometer} km",
                ),
            )
            if wrong
        ]
        for text in told:
            yield Problem(
                f"since the last clear: {text}",
                "capture again, and ask where the readout came from",
                event.index,
            )


@rule("readout-of-another-order")
def copied(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a readout that repeats another repair order's, byte for byte.

    What it checks
    The raw text of each readout is not that of a readout of another repair order, among
    the records judged together and in the shop's log.

    Why it matters
    Two vehicles, or two days, do not give the same bytes with the same time stamps.

    Example
    The passing readout of last week's order is put into this one.

    What to do
    Capture a readout of this vehicle. Where two orders share one visit, capture once
    for each.
    """
    for event in order.of("readout"):
        other = order.elsewhere.get(event.sha256("raw"))
        if other is not None:
            yield Problem(
                f"the readout is byte for byte one of repair order {other}",
                "capture a readout of this vehicle for this repair order",
                event.index,
            )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        not_opened,
        vin_differs,
        vin_not_read,
        check_digit,
        model_year,
        calibration,
        halves,
        marks,
        responders,
        went_back,
        contradict,
        copied,
    )
