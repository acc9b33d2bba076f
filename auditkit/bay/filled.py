"""A person's answers -> the event, or what is wrong with them, field by field. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditkit.bay.field import NEVER_ASKED, ComesFrom, Field, FieldKind, Path
from auditkit.bay.fields import every_field
from auditkit.bay.schema_fields import HOW
from auditkit.bay.typed_values import amount_or_text, split_list, value_of
from auditkit.errors import InputError
from auditkit.order.schema import SchemaProblem, validate_event
from auditkit.text.display_text import nearest

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue
    from auditkit.text.values import Json

NONE = "none"
"""Answer to a list that was looked for and is empty."""


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong with an answer, and what to do; ``path`` is its field's."""

    path: Path
    message: str
    what_to_do: str


def event_of(  # noqa: PLR0913  who and when are named by their words
    kind: str,
    answers: Mapping[str, str],
    catalogue: Catalogue,
    *,
    at: str,
    by: str,
    known: Mapping[str, Json] | None = None,
) -> dict[str, Json]:
    """Return the event that answers make; ``problems_of`` says whether it is sound.

    ``answers`` are texts by the key of their field (``vehicle.vin``; in a list
    ``codes.0``); an empty one is none. ``known`` are values by key that no person
    types: the shop, a file's digest. ``at`` is RFC 3339, ``by`` a person's id.
    Raises InputError for a kind of event that is not known.
    """
    return _filled(kind, answers, catalogue, (at, by), known or {}).event


def problems_of(  # noqa: PLR0913  as ``event_of``
    kind: str,
    answers: Mapping[str, str],
    catalogue: Catalogue,
    *,
    at: str,
    by: str,
    known: Mapping[str, Json] | None = None,
) -> tuple[Problem, ...]:
    """Return what keeps the event of these answers from being sound, or nothing."""
    made = _filled(kind, answers, catalogue, (at, by), known or {})
    told = [*made.problems]
    for found in map(made.problem, validate_event(made.event, catalogue.events)):
        if not any(p.path[: len(found.path)] == found.path for p in told):
            told.append(found)
    return tuple(told)


def _filled(
    kind: str,
    answers: Mapping[str, str],
    catalogue: Catalogue,
    who: tuple[str, str],
    known: Mapping[str, Json],
) -> _Filling:
    at, by = who
    made = _Filling(answers, at)
    made.event |= {"kind": kind, "at": at, "by": by}
    fields = every_field(kind, catalogue)
    for asked in fields:
        if asked.path[-1] != HOW:
            made.put(made.event, asked)
        elif answers.get(asked.key, "").strip():
            made.given.add(asked.key)
    made.given.update(known)
    for key, value in known.items():
        _place(made.event, tuple(key.split(".")), value)
    for asked in fields:  # what the clock says of no other moment than this
        is_now = asked.comes_from is ComesFrom.CLOCK and len(asked.path) == 1
        if is_now and asked.required:
            made.event.setdefault(asked.path[0], at)
    made.tell_missing(fields)
    made.tell_unknown(fields)
    return made


@dataclass(slots=True)
class _Filling:
    """An event that is being filled.

    ``places`` maps the pointer of a value to its path, ``asked`` to its field.
    """

    answers: Mapping[str, str]
    at: str
    event: dict[str, Json] = field(default_factory=dict)
    places: dict[str, Path] = field(default_factory=dict)
    asked: dict[str, Field] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    used: set[str] = field(default_factory=set)
    given: set[str] = field(default_factory=set)

    def put(
        self, event: dict[str, Json], asked: Field, base: Path = (), pointer: str = ""
    ) -> None:
        """Put the answer to a field into the event, or into the row at a place."""
        path = (*base, *asked.path)
        place = pointer + "".join(f"/{name}" for name in asked.path)
        value = self._value(asked, path, place)
        if not asked.inline:
            _place(event, asked.path, value)
            return
        above = place.rpartition("/")[0]
        self.places |= {f"{above}/{n}": path for n in ("above", "below", "unit")}
        for name, part in (
            value if isinstance(value, dict) else {"value": value}
        ).items():
            _place(event, (*asked.path[:-1], name), part)

    def _value(self, asked: Field, path: Path, pointer: str) -> Json:
        self.places[pointer] = path
        self.asked[pointer] = asked
        if asked.kind is FieldKind.LIST:
            return self._rows(asked, path, pointer)
        key = ".".join(path)
        text = self._text(asked, key)
        if not text:
            return None
        self.given.add(key)
        return self._read(asked, text, path)

    def _read(self, asked: Field, text: str, path: Path) -> Json:
        try:
            return value_of(asked, text, self.at)
        except InputError as error:
            self.problems.append(Problem(path, error.message, error.what_to_do))
            return text

    def _text(self, asked: Field, key: str) -> str:
        names = [key]
        if asked.kind is FieldKind.QUANTITY:
            names += [f"{key}.{part}" for part in ("bound", "value", "unit")]
        self.used.update(names)
        given = (self.answers.get(name, "").strip() for name in names)
        return " ".join(filter(None, given))

    def _rows(self, asked: Field, path: Path, pointer: str) -> Json:
        key = ".".join(path)
        self.used.add(key)
        whole = self.answers.get(key, "").strip()
        plain = asked.fields[0] if not asked.fields[0].path else None
        if whole == NONE:
            return []
        if whole and plain:
            pieces = split_list(plain, whole)
            return [self._read(plain, piece, path) for piece in pieces]
        rows: list[Json] = []
        for name in self._row_names(key):
            under = f"{pointer}/{len(rows)}"
            if plain:
                rows.append(self._value(plain, (*path, name), under))
                continue
            self.places[under] = (*path, name)
            members: dict[str, Json] = {}
            for one in asked.fields:
                self.put(members, one, (*path, name), under)
            rows.append(members)
        if asked.by_name:
            return dict(map(_named, rows)) or None
        is_wanted = asked.required and asked.is_due(self.answers)
        return rows or ([] if is_wanted else None)

    def _row_names(self, key: str) -> list[str]:
        """Return the numbers of the rows in which something was answered, in order."""
        given = (
            k.removeprefix(f"{key}.")
            for k, t in self.answers.items()
            if k.startswith(f"{key}.") and t.strip()
        )
        names = {rest.partition(".")[0] for rest in given}
        return sorted((n for n in names if n.isdecimal()), key=int)

    def tell_missing(self, fields: Iterable[Field]) -> None:
        """Note what is required and has no answer; an empty list may be one."""
        for asked in fields:
            if asked.required and asked.kind is not FieldKind.LIST:
                is_given = asked.key in self.given or asked.comes_from in NEVER_ASKED
                if not is_given and asked.is_due(self.answers):
                    self.problems.append(_missing(asked, asked.path))

    def tell_unknown(self, fields: Iterable[Field]) -> None:
        """Note the answers to nothing that is asked."""
        keys = [asked.key for asked in fields]
        for key, text in self.answers.items():
            if key in self.used or not text.strip() or key.endswith(HOW):
                continue
            near = nearest(key, keys)
            self.problems.append(
                Problem(
                    tuple(key.split(".")),
                    f"nothing called {key!r} is asked here",
                    f"did you mean {near[0]!r}?"
                    if near
                    else f"known are {', '.join(keys)}",
                )
            )

    def problem(self, found: SchemaProblem) -> Problem:
        """Return a problem of the event as one of the answer that it came from."""
        missing = f"/{found.missing}" if found.missing else ""
        pointer, rest = f"{found.pointer}{missing}", list[str]()
        while pointer and pointer not in self.places:
            pointer, _, name = pointer.rpartition("/")
            rest.insert(0, name)
        asked = self.asked.get(pointer)
        path = self.places.get(pointer, ())
        if asked is None or asked.kind is FieldKind.LIST:
            return Problem((*path, *rest), found.message, found.what_to_do)
        if missing:
            return _missing(asked, path)
        return Problem(path, found.message, asked.help or found.what_to_do)


def _missing(asked: Field, path: Path) -> Problem:
    choices = ", ".join(value for value, _ in asked.choices)
    what_to_do = asked.help or (f"write one of {choices}" if choices else "write it")
    return Problem(path, f"{asked.label}: no answer", what_to_do)


def _named(row: Json) -> tuple[str, Json]:
    """Return a row as a member's name and value."""
    members = row if isinstance(row, dict) else {}
    return str(members.get("name")), amount_or_text(str(members.get("value", "")))


def _place(event: dict[str, Json], path: Path, value: Json) -> None:
    if value is None:
        return
    node = event
    for name in path[:-1]:
        inner = node.setdefault(name, {})
        if not isinstance(inner, dict):
            return
        node = inner
    node[path[-1]] = value
