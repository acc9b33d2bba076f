"""What a signed verdict says: fault by fault, question by question. Pure.

It is what the shop signed: whoever reads judges again. A list with an item of another
form than auditkit writes is not told here, but with the members that nobody knows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from auditkit.order.answer_text import (
    question_in_words,
    state_in_words,
    strength_in_words,
    subject_in_words,
)
from auditkit.order.event_text import value_text
from auditkit.reader.blocks import Block, Items, Paragraph, Table

if TYPE_CHECKING:
    from auditkit.text.values import Json

_FAULT = frozenset({"fault", "verdict"})
_ANSWER = frozenset(
    {"question", "subject", "answer", "strength", "because", "what_to_do", "events"}
)
_FAULTS_HEAD = ("Fault", "Verdict")
_HEAD = ("Asked", "Of", "Answer", "Because", "Rests on")


def answers_said(
    verdict: Mapping[str, Json],
    entry_at: Callable[[int], str],
    part_names: Mapping[str, str],
) -> tuple[list[Block], frozenset[str]]:
    """Return the tables of faults and answers, and the members that they tell.

    ``entry_at`` takes the place of an event to the entry that it is, in words;
    ``part_names`` are the names of parts by id.
    """
    blocks: list[Block] = []
    used: set[str] = set()
    if faults := _items(verdict.get("faults"), _FAULT):
        rows = tuple(
            (subject_in_words(_text(f, "fault"), {}), _verdict(f)) for f in faults
        )
        blocks.append(Table(_FAULTS_HEAD, rows))
        used.add("faults")
    if answers := _items(verdict.get("answers"), _ANSWER):
        blocks.append(Paragraph("What was asked, and the answers:", "strong"))
        blocks.append(
            Table(_HEAD, tuple(_row(one, entry_at, part_names) for one in answers))
        )
        used.add("answers")
    return blocks, frozenset(used)


def statement_said(statement: tuple[str, ...], stated: tuple[str, ...]) -> list[Block]:
    """Return a verdict's statement, unless it is the one ``stated`` above already."""
    if statement == stated:
        return [Paragraph("Its signed statement stands at the top.")]
    said = "Its signed statement, before a later verdict was signed:"
    return [Paragraph(said, "strong"), Items(statement)]


def _items(value: Json, members: frozenset[str]) -> list[Mapping[str, Json]]:
    """Return the objects of a list where all have exactly these members, else none."""
    items = value if isinstance(value, list) else []
    if all(isinstance(item, dict) and set(item) == members for item in items):
        return [item for item in items if isinstance(item, dict)]
    return []


def _verdict(fault: Mapping[str, Json]) -> str:
    return (
        "none: not addressed" if fault["verdict"] is None else _text(fault, "verdict")
    )


def _row(
    found: Mapping[str, Json],
    entry_at: Callable[[int], str],
    part_names: Mapping[str, str],
) -> tuple[str, ...]:
    said = state_in_words(_text(found, "answer"))
    if strength := found.get("strength"):
        said += f", {strength_in_words(value_text(strength), _text(found, 'question'))}"
    because = "; ".join(map(value_text, _list(found.get("because"))))
    if todo := _list(found.get("what_to_do")):
        because += f"; what to do: {'; '.join(map(value_text, todo))}"
    events = ", ".join(
        entry_at(place)
        if isinstance(place, int) and not isinstance(place, bool)
        else value_text(place)
        for place in _list(found.get("events"))
    )
    subject = subject_in_words(_text(found, "subject"), part_names) or "the whole order"
    return question_in_words(_text(found, "question")), subject, said, because, events


def _list(value: Json) -> list[Json]:
    return value if isinstance(value, list) else [] if value is None else [value]


def _text(found: Mapping[str, Json], name: str) -> str:
    return value_text(found.get(name))
