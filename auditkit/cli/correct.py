"""What was wrong in an entry is picked out and typed anew at the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from auditkit.bay.answered import answers_of
from auditkit.bay.correctable import Correction, Written, with_answer, written_in
from auditkit.bay.field import FieldKind
from auditkit.bay.fields import HEAD
from auditkit.bay.typed_values import value_of
from auditkit.cli.ask import at_terminal, say_to_person
from auditkit.errors import InputError
from auditkit.log.logged_order import LoggedOrder
from auditkit.output.listings import happened_lines
from auditkit.text.display_text import printable

if TYPE_CHECKING:
    from auditkit.cli.in_bay import Bay
    from auditkit.log.held_order import HeldOrder
    from auditkit.text.values import Json

_NOTHING = "-"
_SHOWN = 60  # characters of what was written


def asked_entry(held: HeldOrder, bay: Bay) -> int:
    """Return the entry that a person names as wrong; InputError at no terminal."""
    if not at_terminal():
        raise InputError(
            "it is not said which entry is wrong",
            where="--of",
            what_to_do=f"name it; 'auditkit status {held.order.id}' lists them",
        )
    say_to_person("What happened, the newest first:")
    for line in happened_lines(LoggedOrder(held.order.id, held.events), bay.catalogue):
        say_to_person(line)
    return int(
        click.prompt("Which entry is wrong >", type=int, prompt_suffix=" ", err=True)
    )


def asked_why() -> str:
    """Return why an entry was wrong, as a person says; InputError at no terminal."""
    if not at_terminal():
        raise InputError(
            "it is not said why it was wrong",
            where="--why",
            what_to_do="write it, such as --why 'two digits were swapped'",
        )
    return str(click.prompt("Why was it wrong >", prompt_suffix=" ", err=True)).strip()


def asked_correction(bay: Bay, was: dict[str, Json], place: int) -> dict[str, Json]:
    """Return an event with what a person at the terminal put right.

    Raises InputError where nothing was.
    """
    kinds, by = bay.catalogue, bay.hands.person
    correction = Correction(was, place, kinds, bay.time(), by)
    answers = answers_of(was, kinds) | {name: str(was[name]) for name in HEAD}
    say_to_person("What was written:")
    while True:
        written = written_in(answers, kinds)
        for number, one in enumerate(written, 1):
            text = printable(one.text.replace("\n", " ")) or "(nothing)"
            told = text if len(text) <= _SHOWN else f"{text[:_SHOWN]} …"
            say_to_person(f"{number:>3} {one.field.label}: {told}", "  ")
        chosen = _chosen(len(written))
        if chosen is None:
            break
        answers = _typed(written[chosen], answers, correction)
    return correction.event(answers)


def _chosen(most: int) -> int | None:
    """Return the place of the line that is wrong; None where all is right now."""
    while text := str(
        click.prompt(
            "number of what is wrong, or Enter when all is right >",
            default="",
            show_default=False,
            prompt_suffix=" ",
            err=True,
        )
    ).strip():
        if text.isascii() and text.isdecimal() and 1 <= int(text) <= most:
            return int(text) - 1
        say_to_person(f"write a number from 1 to {most}, or nothing", "  ")
    return None


def _typed(
    one: Written, answers: dict[str, str], correction: Correction
) -> dict[str, str]:
    """Return the answers with one of them typed anew, until it fits."""
    asked = one.field
    choices = ", ".join(value for value, _ in asked.choices)
    about = "; ".join(filter(None, (asked.help, choices)))
    say_to_person(f"{asked.label}{f' ({about})' if about else ''}")
    say_to_person(f"{_NOTHING} leaves it out, Enter lets it stand", "    ")
    while True:
        text = click.prompt(
            ">",
            default=one.text,
            show_default=bool(one.text),
            prompt_suffix=" ",
            err=True,
        )
        text = str(text).strip()
        if text == one.text:
            return answers
        text = "" if text == _NOTHING else text
        try:
            if asked.kind is FieldKind.TIME and text:
                text = str(value_of(asked, text, correction.at))
        except InputError as error:
            say_to_person(f"{error.message}; {error.what_to_do}", "  ")
            continue
        made = with_answer(answers, asked, text)
        wrong = correction.problems(made, asked)
        if not wrong:
            return made
        say_to_person(f"{wrong[0].message}; {wrong[0].what_to_do}", "  ")
