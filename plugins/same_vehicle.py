"""Was the same vehicle read before and after the repair?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    DISTANCE,
    MINUTES,
    ODOMETER,
    WARM_UPS,
    Event,
    Lacking,
    Parameters,
    Question,
    Readout,
    RepairOrder,
    Rule,
    Shown,
    hookimpl,
    identity,
    in_use,
    photographed,
    readout_of,
    rule,
)

Pair = tuple[Event, Readout]
_MARKS = 2
_SEVERAL = 2
_IDS = "calibration ids"
_OF, _UNNAMED = " of ", " of -"
_EVIDENCE = frozenset({"03", "06", "07", "0A", "19"})


@rule("vehicle-not-identified", question=Question.SAME_VEHICLE)
def not_identified(order: RepairOrder, _: Parameters) -> Iterator[Shown | Lacking]:
    """Finds an order in which nothing ties the later readout to this vehicle.

    What it checks
    An opening is recorded, and each writes the same VIN.
    The vehicle's own VIN is read before the first repair and after the last, both equal
    to the written one; and time went on in the vehicle: a count that only rises has
    risen, or the counts since codes were cleared began anew and fit the drive. Where
    modules list what service 09 tells of them (InfoType 00), one of them lists the VIN.
    Each readout after the first repair that holds codes, lamp, monitors or results
    holds the VIN itself. What was read before of the calibrations is read again after;
    of a display that is their ids, for it need not show verification numbers. A module
    that gave another mark before (support map, monitors, OBD standard and the like)
    gives it again where another module does.
    Where no readout gives a VIN, a photograph of plate and VIN that is attached to the
    opening, and two equal marks (calibrations, support maps, responders and the like),
    stand for it; what was read before of the calibrations is read again then, too.

    Why it matters
    A pass of another vehicle, or of an older day, proves nothing about this one.

    Example
    Only services 03 and 06 were captured after the repair.

    What to do
    Capture service 09 (VIN, calibrations, counters) and PIDs 30, 31 and 4E in each
    readout.
    """
    repairs = order.of("repair")
    if order.opening is None:
        yield Lacking(
            "no opening is recorded: nothing says which vehicle came in",
            "record the opening, with the VIN from the vehicle's plate",
        )
    elif not repairs:
        return
    elif several := _several(order):
        yield several
    else:
        yield from _tied(order, repairs)


def _several(order: RepairOrder) -> Lacking | None:
    """Return what is wrong where openings name more than one VIN."""
    vins = [str(e.object("vehicle").get("vin", "")) for e in order.of("opening")]
    several = dict.fromkeys(vin for vin in vins if vin)
    if len(several) < _SEVERAL:
        return None
    return Lacking(
        f"the openings name several vehicles: {', '.join(several)}",
        "open a repair order for each vehicle; amend a mistyped VIN",
        order.of("opening")[-1].index,
    )


def _tied(order: RepairOrder, repairs: tuple[Event, ...]) -> Iterator[Shown | Lacking]:
    """Yield what ties the readouts before and after to the vehicle of the opening."""
    read = order.after(repairs[-1].index, "readout")
    before = _with_vin(order.before(repairs[0].index, "readout"))
    after = _with_vin(read)
    if not before or not after:
        if not before and not after and (pictured := _by_picture(order, repairs)):
            yield pictured
            return
        when = "before" if not before else "after"
        yield Lacking(
            f"no readout {when} the repair gives the vehicle's VIN",
            "read the VIN that the vehicle itself gives (service 09 InfoType 02); "
            "where it has none, attach a photograph of plate and VIN to the opening",
            None,
            can_come_later=bool(before) or not read,
        )
        return
    if unnamed := _unnamed(order, repairs, (*before, *after)):
        yield unnamed
        return
    written = order.vehicle("vin")
    first, last = before[0], after[-1]
    if not written or {first[1].vin, last[1].vin} != {written}:
        yield Lacking(
            "the VIN read is not the one written in the opening",
            "compare both with the vehicle's plate; amend a mistyped one",
            last[0].index,
        )
        return
    lost = _not_read_again(order.before(repairs[0].index, "readout"), read)
    if lost:
        yield Lacking(
            f"{lost}: read before the repair, and not again after it",
            "ask all modules again, with the calibrations (service 09 InfoTypes 04 "
            "and 06)",
            last[0].index,
            can_come_later=True,
        )
        return
    told = _went_on(before[-1][1], last[1])
    if not told:
        yield Lacking(
            "no count of the vehicle shows that the later readout is later",
            "after a drive read odometer, and warm-ups, distance and minutes since "
            "codes were cleared (PIDs A6, 30, 31 and 4E), or the in-use counters "
            "(service 09)",
            last[0].index,
            can_come_later=True,
        )
        return
    yield Shown(
        f"VIN {written} was read before and after the repair, and {told}",
        (first[0].index, last[0].index),
    )


def _unnamed(
    order: RepairOrder, repairs: tuple[Event, ...], named: tuple[Pair, ...]
) -> Lacking | None:
    """Return which readout's VIN is not the vehicle's, or lacks after the repair."""
    for event, readout in named:
        if readout.denies_vin:
            return Lacking(
                "a readout holds a VIN that the vehicle's own list says it does not "
                "give",
                "read the VIN and the list of service 09 again (InfoTypes 02 and 00)",
                event.index,
                can_come_later=event.index > repairs[-1].index,
            )
    for event in order.after(repairs[0].index, "readout"):
        readout = readout_of(event)
        if not readout.vin and _is_evidence(readout):
            return Lacking(
                "a readout after the repair does not say of which vehicle it is",
                "read the VIN that the vehicle itself gives in each readout "
                "(service 09 InfoType 02)",
                event.index,
                can_come_later=True,
            )
    return None


def _is_evidence(readout: Readout) -> bool:
    """Return whether a readout speaks of codes, lamp, monitors or their results."""
    said = {service for _, service in readout.answered}
    return bool(said & _EVIDENCE or readout.mil or readout.monitors)


def _not_read_again(before: Iterable[Event], after: Iterable[Event]) -> str:
    """Return the first mark that was read before, and is owed after, and is not there.

    A calibration is owed always; where a display alone was read after, its id is, for
    it need not show the rest. Any other mark is owed where a vehicle's own words give
    that of another module: a person names modules as a display does.
    """
    old, new = tuple(before), tuple(after)
    marks = _marks(new)
    owed = "calibration" if _raw(new) else f"{_IDS} of"
    given = _given(_marks(_raw(new)))
    lost = (
        *(mark for mark in _marks(old) if mark.startswith(owed)),
        *(
            m
            for m in _marks(_raw(old))
            if m.startswith(given) and not m.endswith(_UNNAMED)
        ),
    )
    return next((mark for mark in lost if mark not in marks), "")


def _raw(events: tuple[Event, ...]) -> tuple[Event, ...]:
    return tuple(event for event in events if event.text("raw"))


def _marks(events: tuple[Event, ...]) -> dict[str, None]:
    return dict.fromkeys(n for event in events for n in identity(readout_of(event)))


def _given(marks: Iterable[str]) -> tuple[str, ...]:
    """Return how marks begin that modules gave, all by name: no other may be meant."""
    kinds = {mark.rpartition(_OF)[0] for mark in marks if _OF in mark}
    return tuple(kind + _OF for kind in kinds if kind + _UNNAMED not in marks)


def _by_picture(order: RepairOrder, repairs: tuple[Event, ...]) -> Shown | None:
    """Return what ties readouts without any VIN to the vehicle in the photograph."""
    opening = order.opening
    before = order.before(repairs[0].index, "readout")
    after = order.after(repairs[-1].index, "readout")
    if opening is None or not order.vehicle("vin") or not before or not after:
        return None
    if opening.index not in photographed(order):
        return None
    old, new = readout_of(before[-1]), readout_of(after[-1])
    marks = identity(old).items() & identity(new).items()
    if _not_read_again(before, after):
        return None
    told = _went_on(old, new)
    if len(marks) < _MARKS or not told:
        return None
    return Shown(
        f"the vehicle gives no VIN; plate and VIN were photographed, {len(marks)} of "
        f"its marks are equal before and after, and {told}",
        (opening.index, before[-1].index, after[-1].index),
    )


def _with_vin(events: Iterable[Event]) -> list[Pair]:
    pairs = ((event, readout_of(event)) for event in events)
    return [(event, readout) for event, readout in pairs if readout.vin]


def _went_on(before: Readout, after: Readout) -> str:
    """Return what shows that time passed in the vehicle; empty where nothing does."""
    old = {(c.responder, c.name): c.count for c in before.counters}
    for counter in after.counters:
        count = old.get((counter.responder, counter.name))
        if count is not None and in_use.rise(count, counter.count):
            return f"its counter {counter.name} rose from {count} to {counter.count}"
    was_km, now_km = before.value(ODOMETER), after.value(ODOMETER)
    if was_km is not None and now_km is not None and now_km > was_km:
        return f"its odometer rose from {was_km:f} to {now_km:f} km"
    for identifier, name, unit in (
        (MINUTES, "minutes of engine run", " min"),
        (DISTANCE, "kilometres", " km"),
        (WARM_UPS, "warm-ups", ""),
    ):
        was, now = before.value(identifier), after.value(identifier)
        if was is None or now is None or was == now:
            continue
        began = "went on" if now > was else "began anew"
        return (
            f"its count of {name} since codes were cleared {began}: {was:f}{unit} "
            f"before, {now:f}{unit} after"
        )
    return ""


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (not_identified,)
