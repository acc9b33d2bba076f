"""Is every other fault that the record holds told, and repaired or set aside?"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping

from auditkit.plugin import (
    Event,
    Fault,
    Lacking,
    Parameters,
    Problem,
    Question,
    Readout,
    RepairOrder,
    Rule,
    Severity,
    Shown,
    addressed,
    faults_of,
    hookimpl,
    other_failures,
    place_of,
    readout_of,
    readouts_after,
    readouts_of,
    related,
    row_of,
    rule,
)

Said = Shown | Lacking | Problem
_CODES = frozenset({"03", "07", "0A", "19"})
_BY_CUSTOMER = "declined"
NOWHERE = place_of("P0000")
_LISTS = frozenset({"03", "07"})
_EVERY_LIST = _LISTS | {"0A"}
_UNNAMED = frozenset({"", "-"})


@rule("other-fault-not-told", question=Question.NOTHING_ELSE, version=2)
def not_told(order: RepairOrder, _: Parameters) -> Iterator[Said]:
    """Finds a fault or a lamp that the record holds and nobody speaks of.

    What it checks
    Every code that any module reports in any readout, before or after, also by its
    status (failed, pending or confirmed) or by a freeze frame that is kept, and every
    code that a diagnosis names, is named by a diagnosis for which a part was worked on,
    or set aside with a reason. Every lamp that is on where its module was last asked is
    explained by a code of its module's own list, and was asked after the repair where
    it was before; so is each module that answered for its fault codes. What a module
    lists (03, 07, 0A) after the repair was read, of each that lists. No module counts
    more codes (PID 01) than it lists, in any readout. No monitor of the standard that
    belongs to none of those codes fails after the repair, by its last result (one of
    zero is left out, and so is, without a clear, one that was there before). Nor does a
    result fail that was typed after the last readout with results, and says of no fault
    that it is its own: the newest of each name counts.

    Why it matters
    A code that is left out is a fault that the customer drives away with.

    Example
    The engine module stores P0420 beside the P0401 that was repaired.

    What to do
    Set the other fault aside in a diagnosis, with the reason and who agreed, or repair
    it.
    """
    found = readouts_of(order)
    if not found:
        yield Lacking("no readout is recorded", "capture a readout of all modules")
        return
    told = {f.code for f in faults_of(order) if f.is_addressed or f.set_aside}
    last = {who: (on, *pair) for pair in found for who, on in pair[1].mil}
    strange: dict[str, int] = {}
    for what, place in _strange(order, told, last):
        strange.setdefault(what, place)
    unread = [*_lamps_not_read(order, last), *_silent(order), *_unread(order)]
    for what in unread:
        yield Lacking(
            what,
            "read fault codes and engine lamp of every module (services 03, 07 and 0A; "
            "PID 01)",
            found[-1][0].index,
            can_come_later=True,
        )
    for what, place in strange.items():
        yield Lacking(
            f"{what} is neither repaired nor set aside",
            "repair it, or set it aside in a diagnosis with the reason; for a failed "
            "self-test, name the fault code that it belongs to there",
            place,
        )
    if not strange and not unread:
        yield Shown(
            "no fault but those that this order names",
            tuple(e.index for e, _ in found),
        )


@rule(
    "code-counted-and-blank",
    question=Question.NOTHING_ELSE,
    severity=Severity.ADVISORY,
)
def counted_and_blank(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Tells of a list of fault codes that counts one more than it shows.

    What it checks
    In no readout after the repair does a module count more codes in its list (services
    03 and 07) than it names: a place that is counted holds no 0000. It is advice and
    lowers nothing: modules are known that count each place of their list, filled or not
    (a published example of service 0A does so), and where PID 01 counts a code that is
    not listed, that decides.

    Why it matters
    Whoever wipes a code out of a text may forget the count before it.

    Example
    43 01 00 00: one code, and its bytes are wiped.

    What to do
    Capture it again; a module that counts so does it each time.
    """
    for event in readouts_after(order):
        for who, service in sorted(readout_of(event).blanks):
            if service in _LISTS:
                yield Problem(
                    f"{who} counts more codes in its list (service {service}) than it "
                    "names: a place holds 0000",
                    "capture it again; a module that counts so does it each time",
                    event.index,
                )


def _strange(
    order: RepairOrder, told: set[str], lamps: Mapping[str, tuple[bool, Event, Readout]]
) -> Iterator[tuple[str, int]]:
    """Yield what the record holds and nobody tells, with the event that holds it."""
    for event, readout in readouts_of(order):
        for what in _untold(readout, told):
            yield what, event.index
    for diagnosis in order.of("diagnosis"):
        for code in diagnosis.texts("codes"):
            if code not in told:
                yield f"{code}, which a diagnosis names,", diagnosis.index
    for who, (on, event, readout) in lamps.items():
        if on and not any(c.responder == who for c in readout.confirmed):
            yield f"the lamp of {who}, with no code stored", event.index
    yield from other_failures(order, frozenset(told))


def _lamps_not_read(order: RepairOrder, lamps: Iterable[str]) -> Iterator[str]:
    after = readouts_after(order)
    asked = {who for event in after for who, _ in readout_of(event).mil}
    for who in lamps if after else ():
        if who not in asked:
            yield f"the lamp of {who} was read before the repair and not after it"


def _silent(order: RepairOrder) -> Iterator[str]:
    """Yield modules that answered for their codes before the repair, and not after.

    Where nothing is read after it, or by a service that names no module, nobody is.
    """
    repair = order.last_repair
    after = [readout_of(event) for event in readouts_after(order)]
    asked = {who for r in after for who, service in r.answered if service in _CODES}
    if repair is None or not asked or asked & _UNNAMED:
        return
    before = (readout_of(event) for event in order.before(repair.index, "readout"))
    was = {who for r in before for who, service in r.answered if service in _CODES}
    for who in sorted(was - asked - _UNNAMED):
        refused = any(
            name == who and s in _CODES for r in after for name, s in r.refused
        )
        how = "refused to after it (7F)" if refused else "not after it"
        yield f"{who} answered for its fault codes before the repair and {how}"


def _unread(order: RepairOrder) -> Iterator[str]:
    """Yield the lists of codes of after the repair that have not their form, ever."""
    after = [readout_of(event) for event in readouts_after(order)]
    read = {pair for readout in after for pair in readout.answered}
    for who, service in sorted({pair for r in after for pair in r.unread} - read):
        if service in _EVERY_LIST:
            yield f"what {who} lists (service {service}) after the repair is unreadable"


def _untold(readout: Readout, told: Container[str]) -> Iterator[str]:
    """Yield what a readout holds of faults that nobody tells: codes, frames, counts."""
    for code in readout.codes:
        if code.text not in told:
            yield f"{code.text} of {code.responder}"
    for status in readout.statuses:
        if status.is_present and status.code not in told:
            yield f"{status.code} of {status.responder}"
    for value in readout.values:
        kept = str(value.meaning or "none")
        is_kept = value.id == "02" and value.service in {"01", "02"} and kept != "none"
        if is_kept and kept not in told:
            yield f"{kept}, of which a freeze frame is kept,"
    for who, count in readout.counts:
        listed = {c.text for c in readout.confirmed if c.responder == who}
        if readout.has_answered(who, "03", "19") and count > len(listed):
            yield f"what {who} counts, {count} codes, and lists, {len(listed)},"


@rule("set-aside-after-work", question=Question.NOTHING_ELSE, version=2)
def set_aside_after_work(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a fault that was set aside although work was done for it.

    What it checks
    No fault for which a part was worked on is set aside; nor is a code of the same row
    and place as an addressed fault that is new after its repair, or that is watched and
    is back after a clear; nor one of the same cylinder, or bank and sensor, and of the
    system of the part that was worked on. The reason is not one that the readouts
    contradict: known history stands in one before the last repair, where its module was
    asked for codes by then, and what a test made in none before the first test, drive
    or repair. Who agreed is named by more than blanks, dashes and dots, and who
    declined is none of those who recorded the order, however it is written.

    Why it matters
    A repair that did not heal a fault cannot be made good by setting the fault aside.

    Example
    P0401 comes back after the valve was replaced, and is "declined by the customer".

    What to do
    Find the remaining cause, or leave the order unproven.
    """
    for fault in faults_of(order):
        if fault.set_aside is None:
            continue
        if fault.is_addressed:
            yield Problem(
                f"{fault.code} is set aside, and a part was worked on for it",
                "leave it addressed: what it comes to is told",
                fault.set_aside.event,
            )
            continue
        if not fault.set_aside.is_agreed:
            yield Problem(
                f"{fault.code} is set aside, and nobody is named who agreed",
                "write who agreed, such as the customer",
                fault.set_aside.event,
            )
        elif fault.set_aside.reason == _BY_CUSTOMER and _works_here(
            order, fault.set_aside.agreed_by
        ):
            yield Problem(
                f"{fault.code} is set aside as declined, by {fault.set_aside.agreed_by}"
                " of the shop",
                "ask the customer, and write who agreed; or set it aside as not "
                "repaired here",
                fault.set_aside.event,
            )
        if told := _contradicted(order, fault.code, fault.set_aside.reason):
            yield Problem(
                f"{fault.code} is set aside as {fault.set_aside.reason}; {told}",
                "set it aside for its true reason, with who agreed, or repair it",
                fault.set_aside.event,
            )
        for other in addressed(order):
            last = other.last_repair or 0
            before = order.before(last, "readout")
            old = {c.text for e in before for c in readout_of(e).codes}
            if fault.code in old:
                if _is_back_while_watched(fault, other, order):
                    yield Problem(
                        f"{fault.code} is set aside as watched; it speaks of the same "
                        f"as {other.code}, and is back after the clear",
                        "find the remaining cause; what the customer declined is set "
                        "aside as declined",
                        fault.set_aside.event,
                    )
                continue
            if part := _of_fitted_part(order, other, fault.code):
                yield Problem(
                    f"{fault.code} is set aside; it speaks of the place of {part}, "
                    "and is new after that was worked on",
                    "look at what was fitted and at its connector",
                    fault.set_aside.event,
                )
            elif related(other.code, fault.code):
                yield Problem(
                    f"{fault.code} is set aside; it speaks of the same as "
                    f"{other.code}, and is new after the repair",
                    "find the remaining cause",
                    fault.set_aside.event,
                )


def _is_back_while_watched(fault: Fault, other: Fault, order: RepairOrder) -> bool:
    """Return whether a code of an addressed fault's row and place, watched, is back.

    By the last answer to each service after a clear: what went away by itself was
    watched well.
    """
    if fault.set_aside is None or fault.set_aside.reason != "watched":
        return False
    if not (related(other.code, fault.code) and other.was_cleared(order)):
        return False
    start = other.proof_starts(order) or 0
    after = [readout_of(event) for event in order.after(start, "readout")]
    stored, pending, status = (
        [readout for readout in after if service in readout.reported][-1:]
        for service in ("03", "07", "19")
    )
    return (
        any(code.text == fault.code for r in stored for code in r.confirmed)
        or any(code.text == fault.code for r in pending for code in r.pending)
        or any(
            s.code == fault.code and s.is_present for r in status for s in r.statuses
        )
    )


def _of_fitted_part(order: RepairOrder, other: Fault, code: str) -> str:
    """Return which part worked on for another fault a code may be of; or nothing.

    The code is of the part's own system and, by its number, of the very cylinder, or
    bank and sensor, of that fault.
    """
    place, own = place_of(code), row_of(code).system
    if place == NOWHERE or place != place_of(other.code):
        return ""
    for part in other.causes:
        suspect = order.suspect(part)
        if suspect is not None and suspect.system == own:
            return suspect.name
    return ""


def _works_here(order: RepairOrder, who: str) -> bool:
    return any(_plain(event.by) == _plain(who) for event in order.events)


def _plain(name: str) -> str:
    return "".join(letter for letter in name.casefold() if letter.isalnum())


def _contradicted(order: RepairOrder, code: str, reason: str) -> str:
    """Return what the readouts say against the reason of a set-aside."""
    held = ((e.index, _holders(r, code)) for e, r in readouts_of(order))
    first, holders = next(((i, who) for i, who in held if who), (0, set[str]()))
    repair = order.last_repair
    if not holders or repair is None:
        return ""
    before = [readout_of(e) for e in order.before(repair.index, "readout")]
    was_asked = any(r.has_answered(who, *_CODES) for r in before for who in holders)
    if reason == "known-history" and was_asked and first > repair.index:
        return "no readout before the repair holds it, and one after does"
    steps = order.of("bench_test", "road_test", "repair")
    if reason == "made-by-a-test" and first < steps[0].index:
        return "a readout before the first test holds it"
    return ""


def _holders(readout: Readout, code: str) -> set[str]:
    """Return the modules that report a code in a readout."""
    listed = {found.responder for found in readout.codes if found.text == code}
    told = (s for s in readout.statuses if s.code == code and s.is_present)
    return listed | {status.responder for status in told}


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (not_told, counted_and_blank, set_aside_after_work)
