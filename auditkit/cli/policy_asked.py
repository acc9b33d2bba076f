"""A shop's policy is asked for at the terminal, in words; Enter takes what is usual."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import click

from auditkit.cli.ask import say_to_person
from auditkit.order.policy_choices import (
    LEAST,
    MAY_BE_LEFT,
    MOST,
    NUMBERS,
    policy_text,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from auditkit.order.catalogue import Catalogue
    from auditkit.order.questions import Question

T = TypeVar("T")


def asked_policy(catalogue: Catalogue) -> str:
    """Return the text of the policy that the answers of a person make."""
    say_to_person("How strict the shop is with itself; Enter takes what is usual.")
    say_to_person("What must an order reach before it is closed?")
    _numbered([words for _, words in LEAST])
    least = LEAST[_until("number >", "1", lambda text: _place(text, len(LEAST)))][0]
    say_to_person("Is one of these questions left out? Then an order is vouched at")
    say_to_person("best, and its statement says so.")
    _numbered([question.asks for question in MAY_BE_LEFT])
    left = _until("numbers with commas, or Enter for none >", "", _questions)
    numbers = {}
    usual = {rule.name: rule.parameters for rule in catalogue.rules}
    for asked in NUMBERS:
        own = int(str(usual[asked.rule][asked.parameter]))
        say_to_person(asked.asks)
        say_to_person(asked.means, "    ")
        number = _until("number >", str(own), lambda text: _place(text, MOST) + 1)
        if number != own:
            numbers[asked] = number
    return policy_text(least, left, numbers)


def _numbered(words: Sequence[str]) -> None:
    for number, text in enumerate(words, 1):
        say_to_person(f"{number} {text}", "    ")


def _until(words: str, usual: str, read: Callable[[str], T]) -> T:
    """Return what a text that is typed says, asked for until it says something."""
    while True:
        text = click.prompt(
            words,
            default=usual,
            show_default=bool(usual),
            prompt_suffix=" ",
            err=True,
        )
        try:
            return read(str(text).strip())
        except ValueError as error:
            say_to_person(str(error), "  ")


def _place(text: str, most: int) -> int:
    """Return a number from 1 to ``most``, counted from 0."""
    if not text.isascii() or not text.isdecimal() or not 1 <= int(text) <= most:
        raise ValueError(f"write a whole number from 1 to {most}")
    return int(text) - 1


def _questions(text: str) -> tuple[Question, ...]:
    pieces = [piece.strip() for piece in text.split(",") if piece.strip()]
    places = {_place(piece, len(MAY_BE_LEFT)) for piece in pieces}
    return tuple(MAY_BE_LEFT[place] for place in sorted(places))
