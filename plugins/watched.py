"""A way for faults without a result: watched by the vehicle, and measured again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    MINUTES,
    WARM_UPS,
    Event,
    Fault,
    Lacking,
    Parameters,
    Question,
    Readout,
    RepairOrder,
    Rule,
    Shown,
    Strength,
    addressed,
    as_it_was,
    hookimpl,
    in_use,
    is_same_test,
    is_unchecked,
    limit_key,
    outcome_of,
    outcomes_of,
    owes_result,
    own_counts,
    read_elsewhere,
    readout_of,
    row_of,
    rule,
    still_wrong,
    watch_of,
)

_CYCLES = 3
_STARTS = 2
_COOLANT, _WARM = "05", 70.0  # degC
_SINCE_START, _MOVING, _SPEED = "1F", ("0C", "0D"), "0D"
_OFF_IDLE = 1000  # rpm; our choice: no engine idles there
_KEPT = ("0C", "04", _COOLANT)  # in any frame (13 CCR 1968.2(g)(4.3), from memory)
_CONDITIONS = ("0C", "04", "0D", _COOLANT)
Pair = tuple[Event, Readout]
_Key = tuple[str, ...]
_Limits = tuple[float | None, float | None]
_NO_LIMITS: _Limits = (None, None)


@rule(
    "not-watched-and-measured",
    question=(Question.TEST_PASSED, Question.TEST_RERAN),
    version=2,
)
def not_watched(
    order: RepairOrder, parameters: Parameters
) -> Iterator[Shown | Lacking]:
    """Finds a fault that nothing watched, or whose quantity was not measured again.

    What it checks
    For faults that owe no result of service 06 (circuit, rationality, fuel trim,
    misfire; and those of a monitor that is complete, where its module's own lists of
    service 06 hold no result of it). Watched: since the clear, or since the repair by
    counts that went on, the vehicle's own counts show driving: for a circuit two
    starts, else three warm-ups or ignition cycles (PID 30, or the ignition counter of
    service 09; by the fault's module where it counts), and one readout after it near
    the conditions of the code's freeze frame, where one was kept: engine speed within
    375 rpm, load within a fifth of its value, vehicle speed within 10 km/h (13 CCR
    1968.2(e)(3.4), from memory), the engine as warm or cold (70 degC, from memory: what
    ends a warm-up); where service 02 was never asked, that nothing was kept is
    somebody's word. Where engine speed itself was at fault, it lies within the limit of
    its bench test instead; coolant and vehicle speed that the code is about are not
    asked; a frame at 0 rpm, but of fuel trim and misfire, asks for those starts and for
    a warm engine where it was warm; a temperature that the code is about does not lie
    at an end of its scale. Nor, with the engine running, does the module still trim the
    mixture of a code of fuel trim by more than 20 % (PIDs 06 to 09), read less than 12
    V, or 16 to 20 V, for a code of system voltage (42), or no air flow at all, or the
    most of its scale, for a code of it (10): 20 %, 12 V and 16 V are common practice,
    no published source; nor a throttle, a manifold or rail pressure or a hybrid battery
    (11, 0B, 23, 5B) at the least of its scale with a quarter of the load or more, or of
    the first three at the most below half (from memory). Nor does it say that the loop
    of a code of fuel trim has a fault (03); that the engine of a code of its speed
    stands, with load and at 30 km/h or more (0C); that the vehicle of a code of its
    speed stands (0D), where its freeze frame says so, too, at 1,000 rpm or more (our
    choice), and its conditions are met; or, 15 min after the start, that the coolant of
    a code of it is below 70 degC and more than 11 K below the least value of the part's
    bench test (13 CCR 1968.2(e)(10.2.1)(A), from memory).
    Measured: the quantity that was faulty is good by the same method, limit and
    specified conditions on the part that is fitted now (one that was not replaced is
    measured once the work on it began); other conditions that both tests state lie near
    (30 K, else half as much again: our choice).

    Why it matters
    The vehicle watches such circuits all the time; that it did not complain while it
    was driven as it was when it complained, and that the value is right, is what can be
    had.

    Example
    P0113: the sensor read open, the new one reads 2.4 kohm at 20 degC; three starts.

    What to do
    Read service 02 before codes are cleared. Measure the same quantity on the new part;
    drive until the counts have gone on and the conditions of the freeze frame were met;
    capture a readout while they are.
    """
    for fault in addressed(order):
        if fault.last_repair is None or owes_result(order, fault):
            continue
        measured = _measured(order, fault, parameters)
        test = order.events[measured[0]] if measured else None
        watched, why, events = _watched(order, fault, test)
        most = None if _frame_was_read(order, fault) else Strength.WORD
        if watched and most is not None:
            watched += "; its freeze frame was not read before the clear"
        if watched:
            yield Shown(
                f"{fault.code}: {watched}",
                events,
                fault.subject,
                most,
                Question.TEST_RERAN,
            )
            if measured is None:
                yield Lacking(
                    f"{fault.code}: the quantity that was faulty was not measured "
                    "again on the part that is fitted now",
                    "measure it by the same method and limit, of the new part",
                    fault.last_repair,
                    fault.subject,
                    question=Question.TEST_PASSED,
                )
            else:
                yield Shown(
                    f"{fault.code}: {watched}; the quantity that was faulty is good "
                    "now",
                    (*events, *measured),
                    fault.subject,
                    most,
                    Question.TEST_PASSED,
                )
            continue
        for question in (Question.TEST_RERAN, Question.TEST_PASSED):
            yield Lacking(
                f"{fault.code}: {why}",
                "drive until the vehicle's counts have gone on, then capture a readout "
                "in the conditions of the freeze frame",
                fault.last_repair,
                fault.subject,
                can_come_later=True,
                question=question,
            )


def _watched(
    order: RepairOrder, fault: Fault, test: Event | None
) -> tuple[str, str, tuple[int, ...]]:
    """Return what shows the watching, why it does not, and the readouts."""
    start, last = fault.proof_starts(order), fault.last_repair
    if start is None or last is None:
        return "", "nothing was repaired for it", ()
    after = [(e, readout_of(e)) for e in order.after(start, "readout")]
    if not after:
        return "", "no readout after the repair shows that it was watched", ()
    before = [(e, readout_of(e)) for e in order.before(last + 1, "readout")]
    needed = _STARTS if watch_of(fault.code) == "C" else _CYCLES
    frame, is_cleared = _frame(fault, before), fault.was_cleared(order)
    event, last_said = after[-1]
    cycles, told = min(
        _cycles(*_own(order, who, before, after), since_clear=is_cleared)
        for who in fault.witnesses or ("",)
    )
    coolest, _ = _limits(test, "degC")
    why = still_wrong(last_said, fault.code, coolest)
    why = why or _stands_as_then(fault, frame, last_said)
    if cycles < needed:
        cycles_asked = "driving cycles (start, drive, switch off) are asked"
        kind = "starts are asked" if needed == _STARTS else cycles_asked
        why = f"{told or 'no count shows driving'}; {needed} {kind}"
    if why:
        return "", why, ()
    if needed == _CYCLES and (asked := _asked(fault, frame)):
        ran = [(e, r) for e, r in after if not _moves_unstarted(r)]
        met = [e for e, r in ran if _meets(asked, r, _limits(test, "rpm"))]
        if not met:
            return "", "no readout after it is near its freeze frame's conditions", ()
        return told, "", (met[-1].index, event.index)
    return told, "", (event.index,)


def _own(order: RepairOrder, who: str, *every: list[Pair]) -> list[list[Pair]]:
    """Return readouts with what this module alone counts."""
    return [[(e, own_counts(order, who, r)) for e, r in some] for some in every]


def _cycles(
    before: list[Pair], after: list[Pair], *, since_clear: bool
) -> tuple[int, str]:
    """Return how many driving cycles the vehicle's counts show, and in words."""
    best, told = 0, ""
    new = after[-1][1]
    warm = new.value(WARM_UPS)
    since = "the clear" if since_clear else "the readout before the repair"
    if warm is not None:
        was = before[-1][1].value(WARM_UPS) if before and not since_clear else None
        ran = new.value(MINUTES)
        gained = int(warm) if since_clear else int(warm - was) if was is not None else 0
        if gained and (ran is None or ran > 0):
            best, told = gained, f"warm-ups since {since}: {gained}"
    start = after if since_clear and len(after) > 1 else [*before[-1:], *after]
    if start is after:
        since = "the first readout after the clear"
    else:
        since = "the readout before the repair"
    old = {(c.responder, c.name): c.count for c in start[0][1].counters}
    for counter in new.counters:
        if counter.name != in_use.IGNITION:
            continue
        was_count = old.get((counter.responder, counter.name))
        risen = None if was_count is None else in_use.rise(was_count, counter.count)
        if risen and risen > best:
            best, told = risen, f"ignition cycles since {since}: {risen}"
    return best, told


def _frame(fault: Fault, before: list[Pair]) -> dict[str, float]:
    """Return speed, load, engine speed and coolant of the code's freeze frame."""
    for _, readout in reversed(before):
        frame = {
            v.id: float(v.value)
            for v in readout.values
            if v.service == "02" and v.value is not None
        }
        whose = [
            str(v.meaning) for v in readout.values if (v.service, v.id) == ("02", "02")
        ]
        if frame and (not whose or fault.code in whose):
            return {k: x for k, x in frame.items() if k in _CONDITIONS}
    return {}


def _asked(fault: Fault, frame: dict[str, float]) -> dict[str, float]:
    """Return what of a frame is to be met: not the coolant or speed it is about.

    A frame at 0 rpm asks for starts, and for a warm engine where it was warm: a start
    when cold comes before each drive.
    """
    own = {*row_of(fault.code).shown_in[:1]} & {_COOLANT, _SPEED}
    if frame.get("0C") == 0 and watch_of(fault.code) not in {"F", "X"}:
        own |= {*_CONDITIONS} - {_COOLANT}
        own |= {_COOLANT} if frame.get(_COOLANT, 0) < _WARM else set()
    return {k: x for k, x in frame.items() if k not in own}


def _stands_as_then(fault: Fault, frame: dict[str, float], readout: Readout) -> str:
    """Return that a module says 0 km/h again, in its frame's conditions, off idle."""
    is_own = row_of(fault.code).shown_in[:1] == (_SPEED,)
    if not is_own or frame.get(_SPEED) != 0 or frame.get("0C", 0) < _OFF_IDLE:
        return ""
    if readout.value(_SPEED) != 0 or not _meets(frame, readout, _NO_LIMITS):
        return ""
    return "its module says 0 km/h again, as in its freeze frame"


def _frame_was_read(order: RepairOrder, fault: Fault) -> bool:
    """Return whether its modules were asked for its freeze frame, where one is watched.

    One that names the code is read where its engine speed, load and coolant are. Only
    bytes can show that one was left out: a display tells what it has.
    """
    if watch_of(fault.code) == "C" or fault.first_repair is None:
        return True
    read = [
        readout_of(event)
        for event in order.before(fault.first_repair, "readout")
        if event.text("raw")
    ]
    return not read or any(
        _holds_frame(readout, who, fault.code)
        for readout in read
        for who in fault.witnesses
    )


def _holds_frame(readout: Readout, who: str, code: str) -> bool:
    if (who, "02") in readout.refused:
        return True
    kept = [v for v in readout.values if (v.responder, v.service) == (who, "02")]
    names_it = any(v.id == "02" and str(v.meaning) == code for v in kept)
    has_conditions = set(_KEPT) <= {v.id for v in kept}
    return (who, "02") in readout.answered and (has_conditions or not names_it)


def _limits(test: Event | None, unit: str) -> _Limits:
    """Return the least and the greatest of a test in a unit; None for what is none."""
    limit = test.object("limit") if test else {}
    if limit.get("unit") != unit:
        return _NO_LIMITS
    low, high = (limit.get(name) for name in ("minimum", "maximum"))
    return (
        None if low is None else float(str(low)),
        None if high is None else float(str(high)),
    )


def _within(found: float, limits: _Limits) -> bool:
    low, high = limits
    return (low is None or found >= low) and (high is None or found <= high)


def _moves_unstarted(readout: Readout) -> bool:
    """Return whether a vehicle moves by an engine that was not started."""
    return readout.value(_SINCE_START) == 0 and all(map(readout.value, _MOVING))


def _meets(frame: dict[str, float], readout: Readout, speed: _Limits) -> bool:
    """Return whether a readout is near a frame; ``speed`` holds instead of its own."""
    for identifier, wanted in frame.items():
        found = readout.value(identifier)
        if found is None:
            return False
        if identifier == _COOLANT:
            if (float(found) >= _WARM) != (wanted >= _WARM):
                return False
            continue
        width = {"0C": 375.0, "04": abs(wanted) / 5, "0D": 10.0}[identifier]
        if identifier == "0C" and speed != _NO_LIMITS:
            if not _within(float(found), speed):
                return False
            continue
        if abs(float(found) - wanted) > width:
            return False
    return True


def _measured(
    order: RepairOrder, fault: Fault, parameters: Parameters
) -> tuple[int, ...] | None:
    """Return the tests that show the quantity faulty and then good, by one method.

    Limit, method and what the test specifies (such as the required hold time) are the
    same in both, and what is held is held as long; a value that is typed without a
    method, or read by an instrument not in check, counts as what was typed. The last
    test of the new part decides; by no method and limit is it faulty. A test that says
    both good and faulty, or was read at another place, shows neither.
    """
    kinds = parameters.catalogue.bench_tests
    old: dict[_Key, int] = {}
    new: dict[_Key, tuple[int, str]] = {}
    checked: set[_Key] = set()
    for test in order.of("bench_test"):
        if test.text("part") not in fault.causes or test.text("of") == "known-good":
            continue
        says_both = {"good", "faulty"} <= outcomes_of(test, kinds)
        shows_none = says_both or read_elsewhere(order, test)
        outcome = "" if shows_none else outcome_of(test, kinds)
        key = (test.text("part"), test.text("method"), *limit_key(test))
        is_new = (test.text("of") == "new" and not as_it_was(order, test)) or (
            test.text("of") != "old" and test.index > (fault.last_repair or 0)
        )
        if is_new:
            # A reading by an instrument not in check takes none in check away.
            is_weak = is_unchecked(order, test, kinds)
            if is_weak and key in checked:
                continue
            if not is_weak:
                checked.add(key)
            new[key] = (test.index, outcome)
        elif outcome == "faulty":
            old[key] = test.index
    if any(outcome == "faulty" for _, outcome in new.values()):
        return None
    for key, place in old.items():
        fitted, outcome = new.get(key, (0, ""))
        if outcome == "good" and is_same_test(
            order.events[place], order.events[fitted], kinds
        ):
            return (place, fitted)
    return None


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (not_watched,)
