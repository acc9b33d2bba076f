"""Shop rules: was the work done with its cautions acknowledged?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from auditkit.plugin import (
    Called,
    Caution,
    Event,
    Parameters,
    Problem,
    Question,
    RepairOrder,
    Rule,
    Shown,
    beyond,
    caution_of,
    engine_ran,
    event_name,
    every_caution_called,
    hookimpl,
    how_acknowledged,
    lacking,
    ran_while_off,
    rule,
    table_rows,
)

_REASON = "give that as the reason when the order is closed"


def _over(if_done: str, write: str, next_time: str) -> str:
    """Return what can still be done where a step is over.

    What was done in time can be written into a record that no log holds yet; nothing
    can be acknowledged afterwards. ``if_done`` is empty where nothing could be done.
    """
    unlogged = f"if {if_done} and no log holds the record yet, {write}; else "
    late = f"{unlogged if if_done else ''}{_REASON}"
    return f"the step is over: {late}; before the next such step, {next_time}"


def _acknowledged(
    order: RepairOrder, parameters: Parameters
) -> Iterator[tuple[Called, Event]]:
    """Yield those of them that were acknowledged, with the acknowledgement."""
    for called in every_caution_called(order, parameters.catalogue):
        if called.seen is not None:
            yield called, called.seen


@rule("caution-not-acknowledged", question=Question.HAZARDS_MET, version=3)
def not_acknowledged(
    order: RepairOrder, parameters: Parameters
) -> Iterator[Problem | Shown]:
    """Finds a hazardous step without its caution acknowledged before it.

    What it checks
    Which cautions a step calls for follows from the hazards of the fault codes that its
    part is suspected for, the part's system and place, the kind of bench test, what was
    read, and whether the part was tested removed, on the vehicle, or with the engine
    running; never from what anything is called. A part that was tested removed was
    taken out before: the test calls for what a repair of that part calls for. What is
    not said counts as hazardous, and another diagnosis adds cautions and takes none
    away. Each was acknowledged before the step began, by the person who did it: for
    that part or, where the hazard is the vehicle's, for any. One acknowledgement stands
    for several steps until it lapses. In a log or packet none was recorded after its
    step (ten minutes allowed, our choice); one recorded when it had begun is told. A
    record in no log has but the order that it claims. Where another signed than the
    person that caution or step names, it is that one's word: second-hand, told with
    both names, the order vouched at best. It is not refused: an assistant may type, a
    record be handed over whole. What the vehicle sent is as strong by any hand.

    Why it matters
    Hot, pressurised, flammable and live parts injure people, whoever signs later.

    Example
    A canister is taken off; nobody acknowledged the caution about fuel vapour.

    What to do
    Read the caution and acknowledge it with its preconditions before the step. Say of a
    bench test how the part was tested ("setup"), and of a part where it sits ("where"),
    so that only what is there is asked. Let each person sign what they did. This
    reminds; the maker's procedure, local codes and licensed practice decide.
    """
    every = every_caution_called(order, parameters.catalogue)
    for called in every:
        if called.seen is None:
            step, caution = called.step, called.caution
            asked = [p.name for p in caution.preconditions if not p.optional]
            later = ", and was recorded after it" * called.is_recorded_later
            yield Problem(
                f"{caution.signal_word} {caution.id} ({caution.hazard}) was not "
                f"acknowledged by {step.by} before the {event_name(step)}{later}",
                _over(
                    "it was acknowledged in time",
                    f"write that in at its time, with {', '.join(asked)}",
                    f"acknowledge {caution.id}{_unsaid(called)}",
                ),
                step.index,
            )
    if all(called.seen is not None for called in every):
        said, most = how_acknowledged(order, every)
        yield Shown(said, tuple(e.index for e in order.of("caution")), "", most)


def _unsaid(called: Called) -> str:
    """Return what might be said of a step so that it calls for less."""
    work, told = called.work, []
    if called.step.kind == "bench_test" and len(work.kinds) > 1:
        told.append('say with "setup" how the part was tested')
    if called.caution.calls.place_decides and not work.is_placed:
        told.append('say with "where" in the diagnosis where the part sits')
    return f", and {' and '.join(told)}" if told else ""


@rule("caution-text-differs", question=Question.HAZARDS_MET)
def text_differs(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds an acknowledgement of another text than the one in force.

    What it checks
    The version and the SHA-256 of the acknowledged text are those of the table.

    Why it matters
    What was not read was not acknowledged.

    Example
    Version 1 was acknowledged after version 2 came into force.

    What to do
    Show the text in force and acknowledge that.
    """
    known = parameters.catalogue.cautions
    for event in order.of("caution"):
        caution = known.get(event.text("caution"))
        if caution is None:
            yield Problem(
                f"no caution is called {event.text('caution')!r}",
                f"acknowledge one of {', '.join(sorted(known))}",
                event.index,
            )
        elif (event.data.get("version"), event.text("text_sha256")) != (
            caution.version,
            caution.sha256,
        ):
            yield Problem(
                f"caution {caution.id}: the text acknowledged is not that of version "
                f"{caution.version}",
                f"look for a slip in the digest; else {_REASON}; before the next such "
                f"step, acknowledge version {caution.version}, SHA-256 "
                f"{caution.sha256}",
                event.index,
            )


@rule("caution-preconditions-missing", question=Question.HAZARDS_MET, version=2)
def preconditions_missing(
    order: RepairOrder, parameters: Parameters
) -> Iterator[Problem]:
    """Finds an acknowledgement without the preconditions of its caution.

    What it checks
    Of each acknowledgement that a step rests on: each precondition is recorded. One
    that is measured has a value in a unit of its kind (degC or degF, kPa or psi) that
    is possible at all: -300 degC or 0 kg counts as not recorded. One that is seen is
    told in a sentence, not ticked off; where something has to be there (eye protection,
    stands, an extinguisher), it does not begin by saying that it is not.

    Why it matters
    "Cool enough" is a tick; 38 degC is a fact.

    Example
    Hot exhaust parts acknowledged without a surface temperature.

    What to do
    Measure and record the values that the caution asks for.
    """
    told: set[tuple[int, str]] = set()
    for called, seen in _acknowledged(order, parameters):
        caution = called.caution
        for lack in lacking(caution, seen.object("preconditions"), called.work):
            if (seen.index, lack) not in told:
                told.add((seen.index, lack))
                yield Problem(
                    f"the acknowledgement of {caution.id}: {lack}",
                    _over(
                        "it was measured or seen before",
                        "write it in as it was",
                        f"record what 'auditkit cautions {caution.id}' asks for",
                    ),
                    seen.index,
                )


@rule("precondition-beyond-limit", question=Question.HAZARDS_MET)
def precondition_beyond_limit(
    order: RepairOrder, parameters: Parameters
) -> Iterator[Problem]:
    """Finds a step that was begun with a value beyond what its caution calls safe.

    What it checks
    Each value of an acknowledgement that a step rests on is within the stop value of
    the table of cautions, or of the maker's value that was recorded with it, unless the
    protection that the caution names is recorded. The finding says whose limit it is;
    most are common practice, and none is a legal limit unless its source stands there.
    Where it says for how long the engine or the key was off, nothing recorded shows
    the engine running since; ten minutes are allowed for.

    Why it matters
    A value that is written down and not heeded protects nobody.

    Example
    The coolant is at 96 degC, and the thermostat housing is opened.

    What to do
    Wait, relieve or protect until the value is within the limit, measure and
    acknowledge again. The vehicle maker's procedure, local codes and licensed practice
    decide.
    """
    told: set[tuple[int, str]] = set()
    for called, seen in _acknowledged(order, parameters):
        caution = called.caution
        if (ran := ran_while_off(order, seen)) and (seen.index, "off") not in told:
            told.add((seen.index, "off"))
            yield Problem(
                f"{caution.id}: {ran[0]}, and the engine ran since: "
                f"{event_name(ran[1])}",
                _over("the time is mistyped", "correct it", "wait as the maker says"),
                seen.index,
            )
        for one in beyond(caution, seen.object("preconditions"), called.work):
            if (seen.index, one.name) not in told:
                told.add((seen.index, one.name))
                stop = one.stop
                yield Problem(
                    f"{caution.signal_word} {caution.id}: the step is not called safe "
                    f"with {one.name} {one.value}, {stop} ({stop.limit_of})",
                    _over(
                        f"'{stop.unless}' is true of it" if stop.unless else "",
                        "write it in",
                        f"bring {one.name} within that"
                        + f", or record '{stop.unless}'," * bool(stop.unless)
                        + " and acknowledge again; the vehicle maker's procedure, "
                        "local codes and licensed practice come first",
                    ),
                    seen.index,
                )


@rule("caution-lapsed", question=Question.HAZARDS_MET, version=2)
def lapsed(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds a caution whose acknowledgement was too old when the step began.

    What it checks
    The last acknowledgement before a step is no older than its caution allows (see the
    table of cautions) and of the same day; and where its values change with a running
    engine, the engine did not run in between. A repair that took long says when it
    started.

    Why it matters
    A part that was cold in the morning is hot after a drive; a value that was measured
    then says nothing now, and another shift did not read the caution.

    Example
    The surface temperature was measured at 08:00, the part taken off at 14:00.

    What to do
    Measure again and acknowledge again right before the step.
    """
    for called, seen in _acknowledged(order, parameters):
        caution, step, start = called.caution, called.step, called.begins
        minutes = (start - seen.at).total_seconds() / 60
        ran = engine_ran(order, seen, step) if caution.ends_when_engine_runs else None
        if minutes > caution.lapses_after or seen.at.date() != start.date():
            why = (
                f"was acknowledged {minutes:.0f} min before the step; it lapses after "
                f"{caution.lapses_after} min and at the end of the day"
            )
        elif ran is not None:
            why = f"was acknowledged before the engine ran: {event_name(ran)}"
        else:
            continue
        what_to_do = _over(
            "it was measured and acknowledged again in time",
            "write that in at its time",
            "measure again and acknowledge again right before it",
        )
        if step.kind == "repair" and not step.text("started"):
            what_to_do += '; write with "started" when a long repair began'
        yield Problem(f"{caution.id} {why}", what_to_do, step.index)


@rule("danger-not-confirmed-again", question=Question.HAZARDS_MET)
def not_confirmed_again(
    order: RepairOrder, parameters: Parameters
) -> Iterator[Problem]:
    """Finds a DANGER that was acknowledged only once.

    What it checks
    The acknowledgement of a caution with signal word DANGER carries a second
    confirmation, later than the first and before the step.

    Why it matters
    DANGER means that death or serious injury will follow if the hazard is not avoided
    (ANSI Z535, from memory). A second look at the part costs a minute.

    Example
    Fuel vapour is acknowledged at the desk, and nobody looked again at the tank.

    What to do
    Confirm it again at the part, before the step.
    """
    for called, seen in _acknowledged(order, parameters):
        if called.caution.signal_word != "DANGER":
            continue
        again = str(seen.object("second_confirmation").get("at", ""))
        when = datetime.fromisoformat(again) if again else None
        if when is None or not seen.at < when <= called.begins:
            yield Problem(
                f"DANGER {called.caution.id} was not confirmed a second time before "
                f"the step: {event_name(called.step)}",
                _over(
                    "it was confirmed again in time",
                    "write that in at its time",
                    "confirm it again at the part",
                ),
                seen.index,
            )


@rule(
    "cautions-acknowledged-at-once",
    question=Question.HAZARDS_MET,
    parameters={"seconds": 5},
)
def at_once(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds cautions that one person acknowledged faster than they can be read.

    What it checks
    Between two acknowledgements of one person lie at least as many seconds as the
    parameter says (5 unless the policy says more; common practice, no published
    source).

    Why it matters
    A list that is ticked in one go was not read.

    Example
    Three cautions, all at 09:00:00.

    What to do
    Read each caution where its step is done, and acknowledge it then.
    """
    least = float(str(parameters["seconds"]))
    last: dict[str, Event] = {}
    for event in order.of("caution"):
        before = last.get(event.by)
        if before is not None:
            passed = abs((event.at - before.at).total_seconds())
            if passed < least:
                yield Problem(
                    f"{before.text('caution')} and {event.text('caution')} were "
                    f"acknowledged by {event.by} within {passed:.0f} s",
                    f"{_REASON}; from now on, read each caution where its step is "
                    "done, and acknowledge it then",
                    event.index,
                )
        last[event.by] = event


@hookimpl
def cautions() -> Iterable[Caution]:
    """Return the table of ``cautions.toml``."""
    return map(caution_of, table_rows("auditkit_plugins", "cautions.toml", "caution"))


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        not_acknowledged,
        text_differs,
        preconditions_missing,
        precondition_beyond_limit,
        lapsed,
        not_confirmed_again,
        at_once,
    )
