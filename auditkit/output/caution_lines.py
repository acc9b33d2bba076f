"""A caution as lines of text, as it is read before its step."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from auditkit.order.choice_words import PLACES, SETUPS, WORK

if TYPE_CHECKING:
    from collections.abc import Iterable

    from auditkit.order.cautions import Calls, Caution, Precondition

DEFERS = (
    "A stop value reminds and is no legal limit unless its source says so: the vehicle "
    "maker's procedure, local codes and licensed practice come first."
)


def caution_lines(caution: Caution) -> list[str]:
    """Return a caution as it is listed: its text, what calls for it, what it asks."""
    text, *asked = reading_lines(caution)
    return [
        text,
        f"Basis: {caution.basis}",
        *_called(caution.calls),
        *asked,
        f"{caution.id} version {caution.version}, SHA-256 {caution.sha256}",
    ]


def reading_lines(caution: Caution, *, asks_each: bool = False) -> list[str]:
    """Return a caution as it is read before its step, and what is recorded then.

    What is recorded is left out where each thing is asked for itself.
    """
    twice = (
        ["Confirm it a second time at the part."]
        if caution.signal_word == "DANGER"
        else []
    )
    stops = any(p.stops for p in caution.preconditions)
    kept = "vehicle" if caution.covers_vehicle else "part"
    runs = ", when the engine has run" if caution.ends_when_engine_runs else ""
    lapses = f"after {caution.lapses_after} minutes{runs} and at the end of the day"
    return [
        caution.text,
        *(() if asks_each else _recorded(caution)),
        *([DEFERS] if stops else []),
        *twice,
        f"It stands for all steps of one person on the {kept}. It lapses {lapses}.",
    ]


def _recorded(caution: Caution) -> Iterator[str]:
    yield "Record before the step:"
    for asked in caution.preconditions:
        yield from _asked(asked)


def _called(calls: Calls) -> Iterator[str]:
    """Yield which steps call for it, a line a way."""
    steps = _work(calls.in_steps)
    if calls.unknown_system:
        yield f"Called for by {steps}, on a part of which no system is known"
    elif steps:
        named = [
            "for a fault code whose row names it",
            *(
                [f"on a part of the system {_listed(calls.systems)}"]
                if calls.systems
                else []
            ),
            *(f"on a part that sits {PLACES.get(p, p)}" for p in sorted(calls.places)),
        ]
        yield f"Called for by {steps}: {'; or '.join(named)}"
    if calls.always_in:
        yield f"Called for, whatever the part is, by {_work(calls.always_in)}"
    if calls.events:
        kinds = _listed(kind.replace("_", " ") for kind in calls.events)
        yield f"Called for by each {kinds}"
    for one in calls.measured:
        above = f" above {one.above_text}" if one.above_text else ""
        method = " and no method named" if one.without_method else ""
        yield (
            f"Called for by {_work(one.in_steps)} in which a {one.unit.kind}{above} "
            f"was read{method}"
        )


def _work(kinds: Iterable[str]) -> str:
    left = set(kinds)
    every = ["any test"] if left >= SETUPS.keys() else []
    left -= SETUPS.keys() if every else set()
    return " or ".join([*sorted(WORK.get(kind, kind) for kind in left), *every])


def _listed(words: Iterable[str]) -> str:
    return ", ".join(sorted(words))


def _asked(asked: Precondition) -> Iterator[str]:
    """Yield a precondition and its stops, each on a line."""
    told = f" in {asked.units}" if asked.possible else " in a sentence"
    only = f" (work on {', '.join(sorted(asked.systems))})" if asked.systems else ""
    may = " (where it is known or needed)" if asked.optional else ""
    instead = f"; or record {asked.instead}" if asked.instead else ""
    yield f"  {asked.name}{told}{only}{may}: {asked.ask}{instead}"
    for stop in asked.stops:
        for_ = ", ".join([*sorted(stop.systems), *filter(None, [_work(stop.in_steps)])])
        limited = f" ({for_})" if for_ else ""
        unless = f", unless {stop.unless} is recorded" if stop.unless else ""
        yield f"    not called safe {stop}{limited}{unless}: {stop.limit_of}"
