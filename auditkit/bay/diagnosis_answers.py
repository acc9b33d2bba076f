"""A diagnosis as it is chosen on a page -> the answers that its event has. Pure.

Of each code that is reported one is chosen: it is looked into, or set aside for a
reason that somebody agreed to. Suspects are rows in the order of who looks for it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

LOOK, ASIDE = "look", "aside"
_CODE = "code."
_ASIDE = "aside."
_PARTS = "suspect_parts"
_ASIDE_MEMBERS = ("reason", "agreed_by", "note")
_ROW = re.compile(rf"{_PARTS}\.([0-9]+)\.(.+)")


def answers_of_choice(said: Mapping[str, str]) -> dict[str, str]:
    """Return a diagnosis's answers; those of a form without choices as they are."""
    made = {k: v for k, v in said.items() if not k.startswith((_CODE, _ASIDE))}
    chosen = {
        k.removeprefix(_CODE): v for k, v in said.items() if k.startswith(_CODE) and v
    }
    if not chosen:
        return made
    written = made.pop("codes", "").replace(",", " ").split()
    looked = [code for code, choice in chosen.items() if choice == LOOK]
    if looked or written:
        made["codes"] = " ".join(dict.fromkeys([*looked, *written]))
    for number, (members, codes) in enumerate(aside_rows(said)):
        made[f"set_aside.{number}.codes"] = " ".join(codes)
        for name, text in zip(_ASIDE_MEMBERS, members, strict=True):
            made[f"set_aside.{number}.{name}"] = text
    if not looked and not written:
        made.setdefault("codes", "none")
    if not any(_ROW.fullmatch(k) and v.strip() for k, v in made.items()):
        made.setdefault(_PARTS, "none")
    return made


def aside_rows(said: Mapping[str, str]) -> list[tuple[tuple[str, ...], list[str]]]:
    """Return reason, who agreed and note of each row of codes that are set aside."""
    rows: dict[tuple[str, ...], list[str]] = {}
    for key, choice in said.items():
        if key.startswith(_CODE) and choice == ASIDE:
            code = key.removeprefix(_CODE)
            members = (said.get(f"{_ASIDE}{code}.{n}", "") for n in _ASIDE_MEMBERS)
            rows.setdefault(tuple(members), []).append(code)
    return list(rows.items())


def place_of(said: Mapping[str, str], key: str) -> str:
    """Return under which key of the page an answer of a diagnosis was given."""
    head, _, rest = key.partition(".")
    number, _, name = rest.partition(".")
    rows = aside_rows(said)
    if head != "set_aside" or not number.isdecimal() or int(number) >= len(rows):
        return key
    return f"{_ASIDE}{rows[int(number)][1][0]}.{name}"


def moved(said: Mapping[str, str], what: str) -> dict[str, str]:
    """Return answers after ``up``, ``down`` or ``drop`` of a row: ``up:1``."""
    how, _, text = what.partition(":")
    order = row_numbers(said)
    if text not in order or how not in _MOVES:
        return dict(said)
    return _renumbered(said, _MOVES[how](order, order.index(text)))


def _swapped(order: Sequence[str], place: int) -> list[str]:
    made = list(order)
    if 0 < place < len(made):
        made[place - 1], made[place] = made[place], made[place - 1]
    return made


_MOVES: Mapping[str, Callable[[Sequence[str], int], list[str]]] = {
    "up": _swapped,
    "down": lambda order, place: _swapped(order, place + 1),
    "drop": lambda order, place: [n for n in order if n != order[place]],
}


def with_part(
    said: Mapping[str, str], system: str, name: str, more: Mapping[str, str]
) -> dict[str, str]:
    """Return answers with one suspect more at the end; an empty last row is filled."""
    kept = [n for n in row_numbers(said) if said.get(f"{_PARTS}.{n}.name", "").strip()]
    made = _renumbered(said, kept)
    start = f"{_PARTS}.{len(kept)}"
    made |= {f"{start}.name": name, f"{start}.system": system}
    return made | {f"{start}.{key}": text for key, text in more.items()}


def row_numbers(said: Mapping[str, str]) -> list[str]:
    """Return the numbers of the suspects' rows, in order."""
    found = {row[1] for key in said if (row := _ROW.fullmatch(key))}
    return sorted(found, key=int)


def _renumbered(said: Mapping[str, str], order: Sequence[str]) -> dict[str, str]:
    made = {k: v for k, v in said.items() if not _ROW.fullmatch(k)}
    for number, old in enumerate(order):
        for key, text in said.items():
            row = _ROW.fullmatch(key)
            if row is not None and row[1] == old:
                made[f"{_PARTS}.{number}.{row[2]}"] = text
    return made
