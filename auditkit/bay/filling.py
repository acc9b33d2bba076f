"""One event while answers fill it: what lies where, and what does not fit. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from auditkit.bay.bench_rows import listed
from auditkit.bay.field import HOW, NEVER_ASKED, Field, FieldKind, Path, Problem
from auditkit.bay.machine_filled import place
from auditkit.bay.typed_values import amount_or_text, split_list, value_of
from auditkit.bay.unit_words import typed_as
from auditkit.errors import InputError
from auditkit.order.schema import SchemaProblem
from auditkit.text.display_text import nearest
from auditkit.text.values import Json

NONE = "none"
"""Answer to a list that was looked for and is empty."""


@dataclass(slots=True)
class Filling:
    """An event that is being filled by answers; ``at`` is now.

    ``places`` maps the JSON pointer of a value to its path, ``asked`` to its field.
    """

    answers: Mapping[str, str]
    at: str
    event: dict[str, Json] = field(default_factory=dict)
    places: dict[str, Path] = field(default_factory=dict)
    asked: dict[str, Field] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    used: set[str] = field(default_factory=set)
    given: set[str] = field(default_factory=set)
    rows: dict[str, int] = field(default_factory=dict)

    def put(
        self, event: dict[str, Json], asked: Field, base: Path = (), pointer: str = ""
    ) -> None:
        """Put the answer to a field into the event, or into the row at a place."""
        path = (*base, *asked.path)
        pointer += "".join(f"/{name}" for name in asked.path)
        value = self._value(asked, path, pointer)
        if not asked.inline:
            place(event, asked.path, value)
            return
        above = pointer.rpartition("/")[0]
        for name in ("above", "below", "unit"):
            self.places[f"{above}/{name}"] = path
            self.asked[f"{above}/{name}"] = asked
        amount = value if isinstance(value, dict) else {"value": value}
        for name, part in amount.items():
            place(event, (*asked.path[:-1], name), part)

    def take(self, key: str, value: Json) -> None:
        """Put a value that is known, and was not asked."""
        self.given.add(key)
        place(self.event, tuple(key.split(".")), value)

    def _value(self, asked: Field, path: Path, pointer: str) -> Json:
        self.places[pointer] = path
        self.asked[pointer] = asked
        key = ".".join(path)
        if asked.kind is FieldKind.LIST:
            return self._rows(asked, path, pointer)
        text = self._text(asked, key)
        if not text:
            return None
        self.given.add(key)
        first = self._read(asked, text, path)
        if not asked.repeats:
            return first
        again = [
            self._read(asked, self._text(asked, f"{key}.{name}"), (*path, name))
            for name in self._row_names(key)
        ]
        return [first, *again] if again else first

    def _read(self, asked: Field, text: str, path: Path) -> Json:
        try:
            value = value_of(asked, text, self.at)
        except InputError as error:
            self.problems.append(Problem(path, error.message, error.what_to_do))
            return text
        key = (
            f"{'.'.join(path)}.at"  # when it was read: a face says it, nobody types it
        )
        if isinstance(value, dict) and (when := self.answers.get(key, "").strip()):
            self.used.add(key)
            value["at"] = when
        return value

    def _text(self, asked: Field, key: str) -> str:
        names = [key]
        if asked.kind is FieldKind.QUANTITY:
            names += [f"{key}.{part}" for part in ("bound", "value", "unit")]
        self.used.update(names)
        if asked.kind is FieldKind.FILE:  # kept as it is, to the last line end
            return self.answers.get(key, "")
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
            self.rows[key] = len(pieces)
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
        self.rows[key] = len(rows)
        if asked.by_name:
            self._tell_unnamed(asked, path, rows)
            return {**dict(map(_named, rows)), **self._others(key)} or None
        is_wanted = asked.required and asked.is_due(self.answers)
        return rows or ([] if is_wanted else None)

    def _tell_unnamed(self, asked: Field, path: Path, rows: list[Json]) -> None:
        """Note the rows of which name or value is missing, where any name will do."""
        numbers = self._row_names(".".join(path))
        for number, row in zip(numbers, rows, strict=True):
            for one in asked.fields:
                if not (isinstance(row, dict) and one.path[0] in row):
                    self.problems.append(_missing(one, (*path, number, *one.path)))

    def _row_names(self, key: str) -> list[str]:
        """Return the numbers of the rows in which something was answered, in order."""
        names = {rest.partition(".")[0] for rest, _ in self._below(key)}
        return sorted((name for name in names if name.isdecimal()), key=int)

    def _others(self, key: str) -> dict[str, Json]:
        """Return what was answered by its own name where any name will do."""
        found: dict[str, Json] = {}
        for name, text in self._below(key):
            if f"{key}.{name}" not in self.used and "." not in name:
                self.used.add(f"{key}.{name}")
                found[name] = amount_or_text(text)
        return found

    def _below(self, key: str) -> list[tuple[str, str]]:
        """Return the rest of each key below one under which something was answered."""
        start = f"{key}."
        return [
            (k.removeprefix(start), text.strip())
            for k, text in self.answers.items()
            if k.startswith(start) and text.strip()
        ]

    def list_readings(self, event: dict[str, Json], base: Path = ()) -> None:
        """Write readings that were given by name as the list that an event has."""
        for names in (("readings",), ("known_good", "readings")):
            holder: Json = event
            for name in names[:-1]:
                holder = holder.get(name) if isinstance(holder, dict) else None
            by_name = holder.get(names[-1]) if isinstance(holder, dict) else None
            if not isinstance(holder, dict) or not isinstance(by_name, dict):
                continue
            rows = listed(by_name)
            holder[names[-1]] = [row for _, row in rows]
            path = (*base, *names)
            for number, (source, _) in enumerate(rows):
                self.places[f"/{'/'.join(path)}/{number}"] = (*path, *source)

    def tell_missing(self, fields: Iterable[Field]) -> None:
        """Note what is required and has no answer; an empty list may be one."""
        for asked in fields:
            is_asked = asked.required and asked.comes_from not in NEVER_ASKED
            if not (is_asked and asked.is_due(self.answers)):
                continue
            if asked.kind is not FieldKind.LIST:
                if not self._is_given(asked.path):
                    self.problems.append(_missing(asked, asked.path))
            elif self._is_given(asked.path):
                continue
            elif (found := self.rows.get(asked.key, 0)) < asked.least:
                said = f"{asked.label}: {found} of at least {asked.least}"
                lacks = Problem(
                    asked.path, said, asked.help, asked.label, is_missing=not found
                )
                self.problems.append(lacks)

    def _is_given(self, path: Path) -> bool:
        """Return whether a field, or what it is a part of, was answered or is known."""
        return any(".".join(path[:n]) in self.given for n in range(1, len(path) + 1))

    def tell_unknown(self, fields: Iterable[Field]) -> None:
        """Note the answers to nothing that is asked."""
        keys = [asked.key for asked in fields]
        for key, text in self.answers.items():
            if key in self.used or not text.strip() or key.split(".")[-1] == HOW:
                continue
            near = nearest(key, keys)
            known = f"known are {', '.join(keys)}"
            told = f"did you mean {near[0]!r}?" if near else known
            said = f"nothing called {key!r} is asked here"
            self.problems.append(Problem(tuple(key.split(".")), said, told))

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
            lacks = bool(missing)
            return Problem(
                (*path, *rest), found.message, found.what_to_do, is_missing=lacks
            )
        if missing:
            return _missing(asked, path)
        is_unit = asked.units and found.pointer.endswith("/unit")
        units = f"write it in {typed_as(asked.units)}"
        what_to_do = units if is_unit else asked.help or found.what_to_do
        return Problem(path, found.message, what_to_do)


def _missing(asked: Field, path: Path) -> Problem:
    choices = ", ".join(value for value, _ in asked.choices)
    what_to_do = asked.help or (f"write one of {choices}" if choices else "write it")
    message = f"{asked.label}: no answer"
    return Problem(path, message, what_to_do, asked.label, is_missing=True)


def _named(row: Json) -> tuple[str, Json]:
    """Return a row as a member's name and value."""
    members = row if isinstance(row, dict) else {}
    return str(members.get("name")), amount_or_text(str(members.get("value", "")))
