"""Shop rules: is each readout readable, in order, and of this repair order alone?

So too each bench test: its readings are of this order alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    MINUTES,
    Parameters,
    Problem,
    Question,
    RepairOrder,
    Rule,
    Severity,
    addressed,
    captured_at,
    copied_values,
    hookimpl,
    readout_of,
    results_after,
    rule,
    soonest_of,
)


@rule("readout-has-problems", question=Question.FAULT_GONE, severity=Severity.ADVISORY)
def has_problems(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a readout in which something could not be decoded.

    What it checks
    Every line of every readout decodes without a problem.

    Why it matters
    What is lost or out of order is left out, never guessed.

    Example
    The second frame of an answer is missing.

    What to do
    Capture the readout again.
    """
    for event in order.of("readout"):
        problems = readout_of(event).problems
        if problems:
            first, count = problems[0], len(problems)
            places = "1 place" if count == 1 else f"{count} places"
            line = f"line {first.line}" if first.line else "the whole text"
            yield Problem(
                f"{places} of the readout cannot be decoded; the first: {line}: "
                f"{first.problem}",
                "capture the readout again",
                event.index,
            )


@rule("old-readout-after-repair", question=Question.ORDER_OF_TIME, version=2)
def old_readout(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a readout after the repair that was captured before it, or is a copy.

    What it checks
    A readout that stands after the last repair is dated after it, and what it says is
    not exactly what a readout before that repair says. A vehicle that stood between two
    readings after it says the same twice.

    Why it matters
    An old readout says nothing of the repaired vehicle.

    Example
    The readout of before the repair is attached once more after it.

    What to do
    Capture a new readout.
    """
    repair = order.last_repair
    if repair is None:
        return
    first: dict[str, int] = {}
    for event in order.before(repair.index, "readout"):
        if event.text("raw"):
            first.setdefault(event.said, event.index)
    for event in order.after(repair.index, "readout"):
        place = first.get(event.said) if event.text("raw") else None
        if place is not None:
            yield Problem(
                f"the readout is a copy of an earlier one (event {place + 1} of "
                "the record, counted from 1)",
                "capture a new readout after the repair",
                event.index,
            )
        elif captured_at(event) < repair.at.timestamp():
            yield Problem(
                "the readout was captured before the repair that it stands after",
                "capture a new readout after the repair",
                event.index,
            )


@rule("clear-out-of-order", question=Question.ORDER_OF_TIME)
def clear_out_of_order(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a clearing of codes whose time does not fit the place it stands at.

    What it checks
    A clear that stands after the last repair is dated no earlier than that repair, and
    no later than the capture of any readout that stands after the clear.

    Why it matters
    Results count as new because a clear emptied the old ones. A clear of before the
    repair empties nothing that the repair changed, and one of after the readout says
    nothing of what the readout shows.

    Example
    The clear stands after the repair of 10:30 and is dated 09:45.

    What to do
    Clear the codes after the repair, let the self-test run, and capture a new readout.
    """
    repair = order.last_repair
    if repair is None:
        return
    for event in order.after(repair.index, "code_clear"):
        early = [
            e.text("captured")
            for e in order.after(event.index, "readout")
            if captured_at(e) < event.at.timestamp()
        ]
        told = ""
        if event.at < repair.at:
            told = f"before the repair that it stands after ({repair.text('at')})"
        elif early:
            told = f"after a readout that stands after it ({early[0]})"
        if told:
            yield Problem(
                f"the clear is dated {event.text('at')}, {told}",
                "clear the codes after the repair, then capture a new readout",
                event.index,
            )


@rule(
    "answers-differ", question=(Question.FAULT_GONE, Question.SAME_VEHICLE), version=2
)
def answers_differ(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a readout that gives two answers to one question.

    What it checks
    Within a readout no module gives its fault codes (services 03, 07 and 0A), one
    result of a self-test (service 06), its VIN, its calibrations or its in-use counters
    (service 09) twice, and differently: of those of service 09 the vehicle is not known
    either. Nor does a comment, or a line that cannot be read, stand beside such an
    answer with bytes of another one; nor a list of codes (service 19 too) whose length
    is not what it says.

    Why it matters
    Which of the two is true cannot be told from the text, and two readouts may have
    been put into one.

    Example
    The text holds a failed leak test, and the same test passed further down.

    What to do
    Capture a new readout, each service once.
    """
    for event in order.of("readout"):
        second = [p for p in readout_of(event).problems if p.is_second_word]
        for question, told in (
            (Question.FAULT_GONE, second),
            (Question.SAME_VEHICLE, [p for p in second if p.is_mark]),
        ):
            if told:
                yield Problem(
                    f"line {told[0].line} of the readout: {told[0].problem}",
                    "capture a new readout, each service once",
                    event.index,
                    question=question,
                )


_NEW_ORDER = (
    "this order keeps the copy: close it with a reason, and capture this vehicle's "
    "readouts in a new repair order"
)


@rule("readout-of-another-order", question=Question.SAME_VEHICLE)
def copied(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a readout that repeats another repair order's, answer for answer.

    What it checks
    What each readout says, comments and spacing left out, is not what a readout of
    another repair order says, among the records judged together and in the shop's log;
    nor are all of its live and counting values another's, where it holds three or more.
    In a log the order that had them first is free.

    Why it matters
    Two vehicles, or two days, do not give the same bytes with the same time stamps.

    Example
    The passing readout of last week's order is put into this one.

    What to do
    Capture this vehicle's readouts in a new order: this one keeps the copy. Where two
    orders share one visit, capture once for each.
    """
    for event in order.of("readout"):
        other = order.elsewhere.get(event.said)
        copied_from = order.elsewhere.get(event.live)
        if other is None and copied_from is not None:
            yield Problem(
                "all live and counting values of the readout are those of one of "
                f"repair order {copied_from}",
                _NEW_ORDER,
                event.index,
            )
        if other is not None:
            yield Problem(
                f"the readout is answer for answer one of repair order {other}",
                _NEW_ORDER,
                event.index,
            )


@rule(
    "values-of-another-order",
    question=(Question.SAME_VEHICLE, Question.PART_AT_FAULT),
    version=2,
)
def values_copied(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a typed readout or a bench test whose values are another order's.

    What it checks
    The values that a display showed (counts, self-tests), or the readings of a bench
    test, are not all those of another repair order, among the records judged together
    and in the shop's log. Only what can hardly coincide counts: three different values
    at least, with seven digits at least behind the first of each (noughts that end a
    reading left out; our choice). Of a typed readout of up to twelve values nor are all
    but one of them, where the rest says as much: a copy with a value changed, left out
    or added. In a log the order that had them first is free; in
    another order of the same vehicle the counts may be the same within a day: that is
    one visit.

    Why it matters
    Two vehicles, or two days, do not show so many equal digits.

    Example
    The readout typed for last week's car is put into the order of this one.

    What to do
    Read the display, or measure the part, of this vehicle, and type every digit that is
    shown; for a readout the odometer and the counts too.
    """
    for found in copied_values(order):
        if found.is_sure:
            yield Problem(
                f"{found.what} are{' all' * (not found.is_part)} those of one of "
                f"repair order {found.other}: so many digits do not coincide",
                "only one of the two orders can have them: measure the part of the "
                "other one's vehicle, and type every digit that is shown"
                if found.is_bench
                else "only one of the two orders can have them: read the display of "
                "the other one's vehicle, with odometer and counts, after a drive",
                found.event.index,
                subject=found.subject,
                question=found.question,
            )


@rule(
    "values-also-in-another-order",
    question=(Question.SAME_VEHICLE, Question.PART_AT_FAULT),
    severity=Severity.ADVISORY,
)
def values_alike(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Tells of a typed readout or bench test that has the values of another order's.

    What it checks
    All its values stand in another repair order too, and they may honestly be the same:
    they have few digits (four to six behind the first of each), or that order is of the
    same vehicle and the same day. Or some of a typed readout's do: runs of three
    different values or more, by name, with seven digits or more; how many values are
    equal is told.

    Why it matters
    Whoever reads should know; it decides nothing.

    Example
    A warranty job and a paid one share a visit, and the display was read once.

    What to do
    Nothing, where it is so. More digits, and the odometer, would tell them apart.
    """
    for found in copied_values(order):
        if not found.is_sure:
            yield Problem(
                f"{found.what} are also those of one of repair order {found.other}",
                "nothing, where both were read; the odometer and every digit that is "
                "shown would tell them apart",
                found.event.index,
                subject=found.subject,
                question=found.question,
            )


@rule("result-too-soon", question=(Question.TEST_PASSED, Question.TEST_RERAN))
def too_soon(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a result that was read sooner after a clear than its test can have run.

    What it checks
    Where the table of fault codes knows how many minutes the engine has to run since a
    clear before the test of a code can have run, the readout that holds its last result
    after the repair (else the last readout) counts so many (PID 4E). What the table
    does not know, and what is not read, is claimed of nobody.

    Why it matters
    A result that stands there before its test can have run is an older one.

    Example
    P0420: the engine ran 1 min since the clear, and the catalyst test reads as passed.

    What to do
    Drive until the test has run, then capture again.
    """
    for fault in addressed(order):
        least = soonest_of(fault.code, order.day())
        results = results_after(order, fault.code)
        last = order.after(fault.last_repair or 0, "readout")[-1:]
        places = [r.event for r in results[-1:]] or [event.index for event in last]
        for place in places if least else ():
            minutes = readout_of(order.events[place]).value(MINUTES)
            if least is None or minutes is None or minutes >= least.minutes:
                continue
            for question in (Question.TEST_PASSED, Question.TEST_RERAN):
                yield Problem(
                    f"{fault.code}: the engine ran {minutes:f} min since the clear, "
                    f"and its test needs {least.minutes} at least ({least.why}; "
                    f"{least.source})",
                    "drive until the test has run, then capture again",
                    place,
                    subject=fault.subject,
                    can_come_later=True,
                    question=question,
                )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        has_problems,
        old_readout,
        clear_out_of_order,
        answers_differ,
        copied,
        values_copied,
        values_alike,
        too_soon,
    )
