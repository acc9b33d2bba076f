"""Templates and values -> pages. The one module that makes markup of text.

Every text is escaped by the templates; a picture comes from ``auditkit.output`` as SVG
that its own module has escaped.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import lru_cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.responses import HTMLResponse

from auditkit.bay.field import Field
from auditkit.bay.typed_numbers import BOUNDS
from auditkit.bay.unit_words import in_sight

_NEW = 100  # number of the first new row: none that is there has it
_REMEMBERED = 1000  # fields, as they look before they are answered


@lru_cache(maxsize=1)
def _templates() -> Environment:
    made = Environment(
        loader=PackageLoader("auditkit.bay.pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["lower_first"] = lambda text: f"{text[:1].lower()}{text[1:]}"
    made.filters["slug"] = lambda name: re.sub(r"[^A-Za-z0-9]+", "-", name)
    made.globals |= {
        "row_numbers": row_numbers,
        "amount_part": amount_part,
        "readings": readings,
        "chosen": chosen,
        "together": together,
        "row_with": row_with,
        "short": short,
        "any_chosen": any_chosen,
        "is_beyond": is_beyond,
        "in_sight": in_sight,
        "as_drawn": _Drawn(),
        "groups_of": groups_of,
        "is_begun": is_begun,
    }
    return made


class _Drawn:
    """Draws a field, and remembers those that nobody answered yet.

    They look the same each time, and most of what a new form shows are such. What
    somebody typed is not kept here: a choice and a unit are of those that are offered.
    """

    def __init__(self) -> None:
        self._known: dict[tuple[object, ...], Markup] = {}

    def __call__(  # noqa: PLR0913, PLR0917  what the template of a field reads
        self,
        draw: Callable[..., Markup],
        field: Field,
        values: Mapping[str, str],
        problems: Mapping[str, str],
        prefix: str,
        left_empty: Mapping[str, str],
    ) -> Markup:
        """Return a field as the template ``draw`` makes it."""
        name = f"{prefix}{field.key}" if field.key else prefix[:-1]
        below = f"{name}."
        said = [*problems, *left_empty, values.get("more", "")]
        own = [one for one in values.items() if f"{one[0]}.".startswith(below)]
        offered = {"", *dict(field.choices), *dict(field.units)}
        if any(f"{key}.".startswith(below) for key in said) or not all(
            key in {name, f"{name}.unit"} and text in offered for key, text in own
        ):
            return draw(field, values, problems, prefix)
        asked = (field, prefix, *own)
        found = self._known.get(asked)
        if found is None:
            found = draw(field, values, problems, prefix)
            if len(self._known) >= _REMEMBERED:
                self._known.clear()
            self._known[asked] = found
        return found


def page(name: str, status: int = 200, **values: object) -> HTMLResponse:
    """Return the page that a template makes of values."""
    return HTMLResponse(_templates().get_template(name).render(values), status)


def picture(svg: str) -> Markup:
    """Return a picture of ``auditkit.output`` as it stands in a page."""
    return Markup(svg)  # noqa: S704  its texts were escaped where it was drawn


def row_numbers(field: Field, values: Mapping[str, str], key: str) -> tuple[str, ...]:
    """Return the numbers of a list's rows that are drawn: those begun, or the first.

    ``key`` is the list's in ``values``; one that a person asked for as ``more`` adds a
    row.
    """
    begun = {
        rest.partition(".")[0]
        for name in values
        if name.startswith(f"{key}.")
        for rest in (name.removeprefix(f"{key}."),)
    }
    numbers = sorted({int(n) for n in begun if n.isdecimal()})
    if values.get("more") == key or (not numbers and field.required):
        numbers.append(numbers[-1] + 1 if numbers else 0)
    return tuple(map(str, numbers))


def readings(field: Field, values: Mapping[str, str], key: str) -> tuple[str, ...]:
    """Return the keys under which a quantity is answered: once, or again and again."""
    if not field.repeats:
        return (key,)
    begun = {
        rest.partition(".")[0]
        for name, text in values.items()
        if name.startswith(f"{key}.") and text
        for rest in (name.removeprefix(f"{key}."),)
    }
    again = sorted(int(n) for n in begun if n.isdecimal())
    if values.get("more") == key:
        again.append(again[-1] + 1 if again else 1)
    return (key, *(f"{key}.{n}" for n in again))


def row_with(
    values: Mapping[str, str], key: str, name: str, value: str, number: int
) -> tuple[str, bool]:
    """Return the key of a list's row that has a value, and whether there is one.

    Else the key of a new row, ``number`` of those that there may be.
    """
    for of_it, text in values.items():
        start, _, end = of_it.rpartition(".")
        if text == value and end == name and start.rpartition(".")[0] == key:
            return start, True
    return f"{key}.{_NEW + number}", False


def short(field: Field, label: str) -> Field:
    """Return a field by a short label, where what stands beside it says the rest."""
    return replace(field, label=label, help="")


def any_chosen(
    choices: Iterable[tuple[str, str]], values: Mapping[str, str], key: str
) -> bool:
    """Return whether a list's rows hold one of some choices, each by its ``id``."""
    return any(row_with(values, key, "id", value, 0)[1] for value, _ in choices)


def is_beyond(field: Field, values: Mapping[str, str], key: str) -> bool:
    """Return whether a reading of a quantity lay beyond what its display shows."""
    return any(amount_part(values, k, "bound") for k in readings(field, values, key))


def amount_part(values: Mapping[str, str], key: str, part: str) -> str:
    """Return a quantity's bound, value or unit: as they were typed apart, or in one."""
    if f"{key}.value" in values or f"{key}.unit" in values:
        return values.get(f"{key}.{part}", "")
    words = values.get(key, "").split(" ", 2)
    bound = words.pop(0) if words[0] in BOUNDS else ""
    value, unit = (*" ".join(words).split(" ", 1), "", "")[:2]
    said = {"above": "over", "below": "under"}.get(BOUNDS.get(bound, ""), "")
    return {"bound": said, "value": value, "unit": unit}[part]


def chosen(values: Mapping[str, str], key: str) -> frozenset[str]:
    """Return what was chosen of a list of plain values."""
    return frozenset(_plain(values, key))


def together(values: Mapping[str, str], key: str) -> str:
    """Return a list of plain values in one text."""
    return ", ".join(_plain(values, key))


def _plain(values: Mapping[str, str], key: str) -> tuple[str, ...]:
    if whole := values.get(key, ""):
        return tuple(piece.strip() for piece in whole.split(","))
    start = f"{key}."
    return tuple(
        text
        for name, text in values.items()
        if name.startswith(start) and name.removeprefix(start).isdecimal() and text
    )


def groups_of(fields: Iterable[Field]) -> tuple[tuple[str, tuple[Field, ...]], ...]:
    """Return the fields that are folded away, by the title under which they are."""
    found: dict[str, list[Field]] = {}
    for one in fields:
        if one.group:
            found.setdefault(one.group, []).append(one)
    return tuple((title, tuple(group)) for title, group in found.items())


def is_begun(
    fields: Iterable[Field],
    values: Mapping[str, str],
    problems: Mapping[str, str],
    prefix: str,
) -> bool:
    """Return whether any of some fields was answered, or is amiss."""
    keys = [f"{prefix}{one.key}" for one in fields]
    answered = [*problems, values.get("more", "")]
    answered += [
        k for k, v in values.items() if v and not k.endswith((".unit", ".bound"))
    ]
    return any(a == key or a.startswith(f"{key}.") for key in keys for a in answered)
