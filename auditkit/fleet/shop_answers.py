"""What shops answered to an earlier audit's questions, from a file. Pure.

A TOML file:

    format = "auditkit/audit-answers@1"

    [[answer]]
    shop = "Shop 7"
    screen = "comebacks"
    date = 2026-03-02
    text = "Most of these are one customer's vans, all of one model."
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from auditkit.errors import InputError
from auditkit.fleet.audited import AskedOfShop
from auditkit.text.display_text import not_text
from auditkit.text.toml_text import toml_table

FORMAT = "auditkit/audit-answers@1"
_MEMBERS = {"shop", "screen", "date", "text"}
_LONGEST = 4000


@dataclass(frozen=True, slots=True)
class ShopAnswer:
    """What a shop answered to one screen's question, and on which day."""

    shop: str
    screen: str
    on: date
    text: str


def parse_answers(text: str, *, where: str = "") -> tuple[ShopAnswer, ...]:
    """Return the answers of a TOML text; InputError where they are none."""
    data = toml_table(text, where=where)
    if data.get("format") != FORMAT:
        raise InputError(
            f'it does not say format = "{FORMAT}"',
            where=where,
            what_to_do="add that line at the top",
        )
    listed = data.get("answer", [])
    if set(data) - {"format", "answer"} or not isinstance(listed, list):
        raise InputError(
            "it holds something else than [[answer]] tables",
            where=where,
            what_to_do="leave it out",
        )
    return tuple(
        _answer(one, f"{where}#answer {number}") for number, one in enumerate(listed, 1)
    )


def _answer(one: object, place: str) -> ShopAnswer:
    if not isinstance(one, Mapping) or set(one) != _MEMBERS:
        raise InputError(
            "an answer has shop, screen, date and text, and nothing else",
            where=place,
            what_to_do="write these four",
        )
    for name in ("shop", "screen", "text"):
        value = one[name]
        if not isinstance(value, str) or not value or len(value) > _LONGEST:
            raise InputError(
                f"{name} is not a text of 1 to {_LONGEST} characters",
                where=place,
                what_to_do=f'write {name} = "..."',
            )
        if told := not_text(value):
            raise InputError(told, where=place, what_to_do="write plain text")
    on = one["date"]
    if not isinstance(on, date) or isinstance(on, datetime):
        raise InputError(
            "date is not a day", where=place, what_to_do="write date = 2026-03-02"
        )
    return ShopAnswer(one["shop"], one["screen"], on, one["text"])


def answered(
    asked: Iterable[AskedOfShop], answers: Sequence[ShopAnswer]
) -> tuple[AskedOfShop, ...]:
    """Return the questions with what the shops answered to them, oldest first."""
    by_question: dict[tuple[str, str], list[ShopAnswer]] = {}
    for answer in sorted(answers, key=lambda a: (a.on, a.text)):
        by_question.setdefault((answer.shop, answer.screen), []).append(answer)
    return tuple(
        replace(
            one,
            answer="\n".join(
                f"{answer.on}: {answer.text}"
                for answer in by_question.get((one.shop, one.screen), ())
            ),
        )
        for one in asked
    )


def not_asked_here(
    asked: Iterable[AskedOfShop], answers: Iterable[ShopAnswer]
) -> list[ShopAnswer]:
    """Return the answers to what this audit does not ask."""
    here = {(one.shop, one.screen) for one in asked}
    return [a for a in answers if (a.shop, a.screen) not in here]
