"""Shop rules: was the work done with its cautions acknowledged?"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from datetime import datetime
from importlib.resources import files

from auditkit.plugin import (
    Caution,
    Event,
    Parameters,
    Problem,
    RepairOrder,
    Rule,
    caution_of,
    cautions_for,
    displayed,
    hookimpl,
    rule,
)


def _steps(
    order: RepairOrder, parameters: Parameters
) -> Iterator[tuple[Event, Caution]]:
    """Yield each step with each caution that it calls for, whoever brings that."""
    known = parameters.catalogue.cautions.values()
    for event in order.events:
        for caution in cautions_for(known, order, event):
            yield event, caution


def _acknowledged(order: RepairOrder, step: Event, caution: Caution) -> Event | None:
    """Return the last acknowledgement before a step, by whoever did the step."""
    found = [
        event
        for event in order.before(step.index, "caution")
        if event.text("caution") == caution.id
        and event.by == step.by
        and event.at <= step.at
        and event.object("step").get("kind") == step.kind
        and event.object("step").get("part", "") == step.text("part")
    ]
    return found[-1] if found else None


@rule("caution-not-acknowledged")
def not_acknowledged(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds a hazardous step without its caution acknowledged before it.

    What it checks
    For every step that calls for a caution (see the table of cautions), the person who
    did the step acknowledged that caution for that step before it.

    Why it matters
    Hot, pressurised, flammable and live parts injure people. An acknowledgement after
    the fact protects nobody.

    Example
    A canister is taken off; nobody acknowledged the caution about fuel vapour.

    What to do
    Read the caution and acknowledge it with its preconditions before the step. This
    reminds; the maker's procedure, local codes and licensed practice decide.
    """
    for step, caution in _steps(order, parameters):
        if _acknowledged(order, step, caution) is None:
            what = " ".join(filter(None, (step.kind, step.text("part"))))
            yield Problem(
                f"{caution.signal_word} {caution.id} ({caution.hazard}) was not "
                f"acknowledged by {step.by} before the step: {what}",
                f"acknowledge caution {caution.id} before the step, with "
                f"{', '.join(caution.preconditions)}",
                step.index,
            )


@rule("caution-text-differs")
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
                f"acknowledge version {caution.version}, SHA-256 {caution.sha256}",
                event.index,
            )


@rule("caution-preconditions-missing")
def preconditions_missing(
    order: RepairOrder, parameters: Parameters
) -> Iterator[Problem]:
    """Finds an acknowledgement without the preconditions of its caution.

    What it checks
    Each precondition is recorded; one that is measured has a value in its unit.

    Why it matters
    "Cool enough" is a tick; 38 degC is a fact.

    Example
    Hot exhaust parts acknowledged without a surface temperature.

    What to do
    Measure and record the values that the caution asks for.
    """
    known = parameters.catalogue.cautions
    for event in order.of("caution"):
        caution = known.get(event.text("caution"))
        given = event.object("preconditions")
        for name, unit in caution.preconditions.items() if caution else ():
            value = displayed(given.get(name))
            if name not in given or (unit and (value is None or value.unit != unit)):
                asked = f" in {unit}" if unit else ""
                yield Problem(
                    f"the acknowledgement of {event.text('caution')} lacks the "
                    f"precondition {name!r}{asked}",
                    f"record {name}{asked}",
                    event.index,
                )


@rule("caution-lapsed")
def lapsed(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds a caution whose acknowledgement was too old when the step began.

    What it checks
    The last acknowledgement before a step is no older than its caution allows (see the
    table of cautions) and of the same day.

    Why it matters
    A part that was cold in the morning is hot after a drive; a value that was measured
    then says nothing now, and another shift did not read the caution.

    Example
    The surface temperature was measured at 08:00, the part taken off at 14:00.

    What to do
    Measure again and acknowledge again right before the step.
    """
    for step, caution in _steps(order, parameters):
        seen = _acknowledged(order, step, caution)
        if seen is None:
            continue
        minutes = (step.at - seen.at).total_seconds() / 60
        if minutes > caution.lapses_after or seen.at.date() != step.at.date():
            yield Problem(
                f"{caution.id} was acknowledged {minutes:.0f} min before the step; it "
                f"lapses after {caution.lapses_after} min and at the end of the day",
                "measure again and acknowledge again right before the step",
                step.index,
            )


@rule("danger-not-confirmed-again")
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
    for step, caution in _steps(order, parameters):
        seen = _acknowledged(order, step, caution)
        if seen is None or caution.signal_word != "DANGER":
            continue
        again = str(seen.object("second_confirmation").get("at", ""))
        when = datetime.fromisoformat(again) if again else None
        if when is None or not seen.at < when <= step.at:
            yield Problem(
                f"DANGER {caution.id} was not confirmed a second time before the step",
                "confirm it again at the part, before the step",
                seen.index,
            )


@rule("cautions-acknowledged-at-once", parameters={"seconds": 5})
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
                    "read each caution where its step is done, and acknowledge it then",
                    event.index,
                )
        last[event.by] = event


@hookimpl
def cautions() -> Iterable[Caution]:
    """Return the table of ``cautions.toml``."""
    text = (files("auditkit_plugins") / "cautions.toml").read_text("utf-8")
    return tuple(caution_of(row) for row in tomllib.loads(text)["caution"])


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        not_acknowledged,
        text_differs,
        preconditions_missing,
        lapsed,
        not_confirmed_again,
        at_once,
    )
