"""What a signed verdict says: fault by fault, question by question. Pure.

It is what the shop signed: whoever reads judges again. A list with an item of another
form than auditkit writes is not told here, but with the members that nobody knows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from auditkit.order.event_text import value_text
from auditkit.order.statement import subject_text
from auditkit.reader.blocks import Block, Paragraph, Table

if TYPE_CHECKING:
    from auditkit.text.values import Json

_FAULT = frozenset({"fault", "verdict"})
_ANSWER = frozenset(
    {"question", "subject", "answer", "strength", "because", "what_to_do", "events"}
)
_FAULTS_HEAD = ("Fault", "Verdict")
_HEAD = ("Question", "Of", "Answer", "Because", "Rests on")


def answers_said(
    verdict: Mapping[str, Json], entry_at: Callable[[int], str]
) -> tuple[list[Block], frozenset[str]]:
    """Return the tables of faults and answers, and the members that they tell.

    ``entry_at`` takes the place of an event to the entry that it is, in words.
    """
    blocks: list[Block] = []
    used: set[str] = set()
    if faults := _items(verdict.get("faults"), _FAULT):
        rows = tuple((_text(f, "fault"), _text(f, "verdict")) for f in faults)
        blocks.append(Table(_FAULTS_HEAD, rows))
        used.add("faults")
    if answers := _items(verdict.get("answers"), _ANSWER):
        blocks.append(Paragraph("What was asked, and the answers:", "strong"))
        blocks.append(Table(_HEAD, tuple(_row(one, entry_at) for one in answers)))
        used.add("answers")
    return blocks, frozenset(used)


def _items(value: Json, members: frozenset[str]) -> list[Mapping[str, Json]]:
    """Return the objects of a list where all have exactly these members, else none."""
    items = value if isinstance(value, list) else []
    if all(isinstance(item, dict) and set(item) == members for item in items):
        return [item for item in items if isinstance(item, dict)]
    return []


def _row(found: Mapping[str, Json], entry_at: Callable[[int], str]) -> tuple[str, ...]:
    strength = found.get("strength")
    said = _text(found, "answer") + (f" ({value_text(strength)})" if strength else "")
    because = "; ".join(map(value_text, _list(found.get("because"))))
    if todo := _list(found.get("what_to_do")):
        because += f"; what to do: {'; '.join(map(value_text, todo))}"
    events = ", ".join(
        entry_at(place)
        if isinstance(place, int) and not isinstance(place, bool)
        else value_text(place)
        for place in _list(found.get("events"))
    )
    subject = subject_text(_text(found, "subject"))
    return _text(found, "question"), subject, said, because, events


def _list(value: Json) -> list[Json]:
    return value if isinstance(value, list) else [] if value is None else [value]


def _text(found: Mapping[str, Json], name: str) -> str:
    return value_text(found.get(name))
