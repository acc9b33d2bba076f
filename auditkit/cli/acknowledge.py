"""A caution is read on the terminal and acknowledged, each with what it asks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

import click

from auditkit.bay.cautions_due import due_before_work
from auditkit.bay.fields import kinds_asked
from auditkit.bay.filled import event_of
from auditkit.bay.next_step import next_step
from auditkit.bay.so_far import so_far
from auditkit.cli import common, in_bay
from auditkit.cli.ask import Asking, ask, at_terminal, say_to_person, yes_or_no
from auditkit.errors import InputError
from auditkit.output.caution_lines import reading_lines
from auditkit.text.display_text import nearest

if TYPE_CHECKING:
    from auditkit.bay.due_step import Step
    from auditkit.cli.in_bay import Bay
    from auditkit.order.cautions import Caution
    from auditkit.text.values import Json

_ASKED = "preconditions."
_PACE, _LONGEST = 20, 15  # characters a second, and seconds: our choice


def acknowledge(bay: Bay, names: Sequence[str], work: Mapping[str, str]) -> None:
    """Show cautions, ask what each asks, and record each once it is agreed to.

    ``work`` says of the step its kind, part, method and setup, as far as it was told.
    Raises InputError where none is due, or one is not agreed to: then it is not
    recorded, and those before it are.
    """
    step, due = _due(bay, names, work)
    wanted = {path.removeprefix(_ASKED): v for path, v in bay.given.sets.items()}
    every = {p.name for caution in due for p in caution.preconditions}
    for path in wanted:
        if path not in every:
            near = nearest(path, every)
            raise InputError(
                f"nothing called {path!r} is asked",
                where="--set",
                what_to_do=f"did you mean {near[0]!r}?"
                if near
                else f"asked are {', '.join(sorted(every))}",
            )
    for number, caution in enumerate(due, 1):
        if len(due) > 1:
            say_to_person(f"{number} of {len(due)}")
        shown = in_bay.now()
        for line in reading_lines(caution, asks_each=at_terminal()):
            say_to_person(line)
        asked = {p.name for p in caution.preconditions}
        given = {f"{_ASKED}{n}": v for n, v in wanted.items() if n in asked}
        known: dict[str, Json] = {
            "caution": caution.id,
            "step": {n: v for n, v in step.items() if n in {"kind", "part"}},
        }
        by, kinds = bay.hands.person, bay.catalogue
        answers = ask(Asking("caution", kinds, bay.time(), by, known), given)
        _read_and_agreed(caution, shown)
        at = bay.time()
        if caution.signal_word == "DANGER":
            _agreed("DANGER, once more, standing at the part: it is so")
            known["second_confirmation"] = {"at": _later(bay), "by": by}
        event = event_of("caution", answers, kinds, at=at, by=by, known=known)
        done = bay.take([event], suffix=f"-{number}")
        if number == len(due):
            bay.tell(done)
        elif bay.given.output == "text":
            common.say(f"Recorded as entry {', '.join(map(str, done.seqs))}.")


def _read_and_agreed(caution: Caution, shown: datetime) -> None:
    """Have a caution agreed to that stood on the terminal long enough to be read."""
    needed = min(_LONGEST, len(caution.text) / _PACE)
    while True:
        _agreed(f"I have read of {caution.hazard}, and it is so")
        waited = (in_bay.now() - shown).total_seconds()
        if not at_terminal() or waited >= needed:
            return
        say_to_person(f"It stood here for {waited:.0f} s. Read it whole, then answer.")


def _later(bay: Bay) -> str:
    """Return when it was confirmed again: by the clock, whatever time was claimed."""
    return replace(bay, given=replace(bay.given, at=None)).time()


def _due(
    bay: Bay, names: Sequence[str], work: Mapping[str, str]
) -> tuple[dict[str, Json], tuple[Caution, ...]]:
    """Return the step, and the cautions that are to be acknowledged before it."""
    order = bay.held().order
    found = so_far(order, bay.catalogue.judge(order, bay.hands.policy))
    who = {"at": bay.time(), "by": bay.hands.person}
    if "kind" not in work:
        work = {**_next_work(next_step(found, **who)), **work}
    step: dict[str, Json] = {**work, "kind": work["kind"].replace("-", "_")}
    kinds = kinds_asked(bay.catalogue)
    if step["kind"] not in kinds:
        near = nearest(str(step["kind"]), kinds)
        raise InputError(
            f"no step is of the kind {step['kind']!r}",
            where="--before",
            what_to_do=f"did you mean {near[0]}?"
            if near
            else f"name one of {', '.join(kinds)}",
        )
    known = bay.catalogue.cautions
    for name in names:
        if name not in known:
            near = nearest(name, known, 3)
            raise InputError(
                f"no caution is called {name!r}",
                what_to_do=f"did you mean {', '.join(near)}?"
                if near
                else "see 'auditkit cautions'",
            )
    if names:
        return step, tuple(known[name] for name in dict.fromkeys(names))
    due = due_before_work(order, {**step, **who}, found.judgement)
    if not due:
        what = f"{step['kind']} of {work['part']}" if "part" in work else step["kind"]
        raise InputError(
            f"no caution is due before this: {what}",
            what_to_do=f"go on, or name one: 'auditkit add {order.id} caution NAME'",
        )
    return step, tuple(one.caution for one in due)


def _next_work(step: Step) -> dict[str, str]:
    """Return what is known of the work that is next: its kind, part and method."""
    todo = step.then or step
    work = {"kind": todo.kind}
    if todo.kind in {"bench_test", "repair"}:
        work["part"] = todo.subject
    if "--method" in todo.arguments:
        work["method"] = todo.arguments[todo.arguments.index("--method") + 1]
    return work


def _agreed(sentence: str) -> None:
    try:
        said = yes_or_no(sentence)
    except click.Abort:
        said = False
        click.echo("", err=True)
    if not said:
        raise InputError(
            "it was not acknowledged, and is not recorded",
            what_to_do="answer y once it is so; the step waits until then",
        )
