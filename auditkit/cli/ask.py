"""Asks at the terminal for what an event still lacks; elsewhere tells all at once.

Everything that is asked goes to standard error: a result may be piped on.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import click

from auditkit.bay.field import Field, FieldKind, Path, Problem
from auditkit.bay.fields import fields_of, with_forms
from auditkit.bay.filled import problems_of
from auditkit.bay.left_empty import begun_with, unit_of_limit
from auditkit.bay.typed_values import NO, SAID, YES
from auditkit.cli import common
from auditkit.cli.layout import wrapped
from auditkit.errors import InputError
from auditkit.obd.vin import is_well_formed, model_year
from auditkit.text.display_text import quoted

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.instruments import RegisteredInstrument
    from auditkit.text.values import Json

Narrow = Callable[[Iterable[Field], Mapping[str, str]], tuple[Field, ...]]
"""Fields, and what was answered so far -> the fields with what is left to choose."""
ReadFile = Callable[[Field, str], str]
"""A field that is made of a file, and the file's name -> its answer; may raise
InputError."""
_MOST_UNITS, _MOST_LINES = 4, 16
_AGAIN = ";"
_FEW = 4  # choices that an error lists beside the field


def at_terminal() -> bool:
    """Return whether a person sits there who can be asked."""
    return sys.stdin is not None and sys.stdin.isatty()


@dataclass(frozen=True, slots=True)
class Asking:
    """What is recorded, when and by whom, and what is known of it without asking.

    ``offered`` are answers by key that Enter takes over, beside what there is but one
    of, as an instrument of the ``register``. Without ``read`` what is made of a file is
    not asked for: an option of the command takes it.
    """

    kind: str
    catalogue: Catalogue
    at: str
    by: str
    known: Mapping[str, Json] = field(default_factory=dict)
    offered: Mapping[str, str] = field(default_factory=dict)
    read: ReadFile | None = None
    narrow: Narrow | None = None
    register: Mapping[str, RegisteredInstrument] = field(default_factory=dict)

    def fields(self, answers: Mapping[str, str]) -> tuple[Field, ...]:
        """Return what is asked, by what was answered so far."""
        told = {k: v for k, v in self.known.items() if isinstance(v, str)}
        said = {**told, **answers}
        found = fields_of(self.kind, self.catalogue, said)
        return found if self.narrow is None else self.narrow(found, said)

    def offering(self, key: str, answers: Mapping[str, str]) -> str:
        """Return what Enter takes over for a field, by what was answered so far."""
        if key == "vehicle.model_year":
            vin = answers.get("vehicle.vin", "").strip().upper()
            year = model_year(vin) if is_well_formed(vin) else None
            return "" if year is None else str(year)
        if key in self.offered:
            return self.offered[key]
        fields = self.fields(answers)
        for one in fields:
            if one.follows and one.key == key:
                return unit_of_limit(one, answers)
        return begun_with(fields, self.register, answers).get(key, "")

    def forms_without_file(self) -> Iterator[tuple[str, str]]:
        """Yield the key of a choice of forms, and the only one that needs no file."""
        fields = self.fields({})
        of_files = {
            (f.when.path, value)
            for f in fields
            if f.when and f.kind is FieldKind.FILE and self.read is None
            for value in f.when.values
        }
        for one in fields:
            left = [v for v, _ in one.choices if (one.path, v) not in of_files]
            if len(left) == 1 < len(one.choices):
                yield one.key, left[0]

    def problems(self, answers: Mapping[str, str]) -> tuple[Problem, ...]:
        """Return what is wrong with answers, or missing."""
        return problems_of(
            self.kind, answers, self.catalogue, at=self.at, by=self.by, known=self.known
        )


def ask(asking: Asking, answers: Mapping[str, str]) -> dict[str, str]:
    """Return answers that make a sound event: those given, and what was asked for.

    Those that lack nothing are taken as they are, and nothing is asked. Raises
    InputError for an answer that was given and is wrong, and at no terminal, where
    nobody can be asked, one that names all that is missing.
    """
    made = dict(answers)
    if not asking.problems(made):
        return made
    wrong = [p for p in asking.problems(made) if not p.is_missing]
    if wrong and (not at_terminal() or _is_given(wrong[0], made)):
        _refuse(wrong[0], asking.kind)
    if at_terminal():
        made = _Asker(asking, made).all()
    missing = asking.problems(made)
    if not missing:
        return made
    if not all(p.is_missing for p in missing):
        _refuse(next(p for p in missing if not p.is_missing), asking.kind)
    fields = {one.path: one for one in asking.fields(made)}
    named = ", ".join(_named(p, fields.get(p.path)) for p in missing)
    raise InputError(
        f"not answered: {named}",
        where=asking.kind,
        what_to_do="give each as --set PATH=VALUE; at a terminal they are asked for",
    )


def _named(lacks: Problem, asked: Field | None) -> str:
    """Return what is missing, with its choices where they are few.

    Of a list with what its first row holds, as it is given.
    """
    key, choices = _key(lacks.path), () if asked is None else asked.choices
    few = [value for value, _ in choices] if len(choices) <= _FEW else []
    told = f": {' or '.join(few)}" if few else ""
    if asked is not None and asked.kind is FieldKind.LIST and asked.fields[0].path:
        needed = [one.key for one in asked.fields if one.required]
        others = [one.key for one in asked.fields if not one.required]
        key = ", ".join(f"{key}.0.{name}" for name in needed or others[:1])
        told = f": the first of them; of it also {', '.join(others)}" if others else ""
    return f"{key} ({lacks.label}{told})"


def _key(path: Path) -> str:
    return ".".join(path)


def _is_given(problem: Problem, answers: Mapping[str, str]) -> bool:
    key = _key(problem.path)
    return any(k == key or k.startswith(f"{key}.") for k in answers)


def _refuse(problem: Problem, kind: str) -> None:
    raise InputError(
        problem.message,
        where=f"--set {_key(problem.path)}" if problem.path else kind,
        what_to_do=problem.what_to_do,
    )


def say_to_person(text: str, indent: str = "") -> None:
    """Print text on standard error, where the person sits who is asked."""
    for piece in wrapped(f"{indent}{text}", common.width() or 80):
        click.echo(piece, err=True)


def yes_or_no(question: str, *, offered: bool = False) -> bool:
    """Ask until it is answered with yes or no; Enter takes what is offered."""
    while True:
        text = click.prompt(
            f"{question} ({YES} or {NO}) >",
            default=YES if offered else NO,
            prompt_suffix=" ",
            err=True,
        )
        said = str(text).strip()
        if said.lower() in SAID:
            return SAID[said.lower()]
        told = f"write {YES} or {NO}, or y or n"
        say_to_person(f"{quoted(said)} is neither yes nor no; {told}", "  ")


@dataclass(slots=True)
class _Asker:
    """One person being asked; ``passed`` are the keys that were left empty."""

    asking: Asking
    answers: dict[str, str]
    passed: set[str] = field(default_factory=set)
    opened: set[str] = field(default_factory=set)

    def all(self) -> dict[str, str]:
        """Ask for all that is due, then for the groups that are wanted."""
        implied = with_forms(self.asking.fields({}), self.answers, self.asking.known)
        for key, form in self.asking.forms_without_file():
            self.answers.setdefault(key, implied.get(key, form))
        while True:
            due = [f for f in self._due() if f.group is None or f.group in self.opened]
            if due:
                self._field(due[0])
            elif not self._open(self._due()) and not self._again():
                return self.answers

    def _again(self) -> bool:
        """Have what does not fit together asked anew; return whether there is any."""
        found = self.asking.problems(self.answers)
        if not found:
            return False
        problem, size = found[0], len(found[0].path)
        meant = [
            f
            for f in self.asking.fields(self.answers)
            if f.path[:size] == problem.path or problem.path[: len(f.path)] == f.path
        ]
        if not meant:
            return False
        say_to_person(f"{problem.message}; {problem.what_to_do}", "  ")
        for asked in meant:
            self.passed.discard(asked.key)
            self.opened.add(asked.group or "")
            for key in [k for k in self.answers if f"{k}.".startswith(f"{asked.key}.")]:
                del self.answers[key]
        return True

    def _due(self) -> list[Field]:
        """Return the fields that are still to be asked, those in groups too."""
        fields = self.asking.fields(self.answers)
        answers = with_forms(fields, self.answers, self.asking.known)
        return [
            f for f in fields if f.is_due(answers) and not self._is_done(f, answers)
        ]

    def _is_done(self, asked: Field, answers: Mapping[str, str]) -> bool:
        parts = [_key(asked.path[:n]) for n in range(1, len(asked.path) + 1)]
        if asked.key in self.passed or any(part in self.asking.known for part in parts):
            return True
        start = f"{asked.key}."
        return any(
            k == asked.key or k.startswith(start) for k, t in answers.items() if t
        )

    def _open(self, fields: Iterable[Field]) -> bool:
        """Offer the groups of fields; return whether one was wanted."""
        titles = list(dict.fromkeys(f.group for f in fields if f.group))
        if not titles:
            return False
        say_to_person("What else there may be to say:")
        for number, title in enumerate(titles, 1):
            say_to_person(f"{number} {title}", "    ")
        while text := self._prompt("number, or Enter to go on"):
            if text.isdecimal() and 1 <= int(text) <= len(titles):
                self.opened.add(titles[int(text) - 1])
                return True
            last = len(titles)
            told = f"a number from 1 to {last}" if last > 1 else "1"
            say_to_person(f"write {told}, or nothing", "  ")
        self.passed.update(f.key for f in self._due())
        return False

    def _field(self, asked: Field) -> None:
        if asked.kind is FieldKind.LIST and asked.fields[0].path:
            self._rows(asked)
            return
        if asked.kind is FieldKind.FILE and self.asking.read is None:
            self.passed.add(asked.key)
            return
        self._head(asked)
        offered = self.asking.offering(asked.key, self.answers)
        while True:
            text = self._prompt("", offered)
            if not text and not asked.required:
                self.passed.add(asked.key)
                return
            if not text:
                say_to_person("this is needed", "  ")
                continue
            try:
                made = dict(self._answers(asked, text))
            except InputError as error:
                say_to_person(f"{error.message}; {error.what_to_do}", "  ")
                continue
            self.answers |= made
            wrong = self._wrong(asked)
            if not wrong:
                return
            say_to_person(f"{wrong[0].message}; {wrong[0].what_to_do}", "  ")
            for key in made:
                del self.answers[key]

    def _answers(self, asked: Field, text: str) -> Iterator[tuple[str, str]]:
        """Yield an answer under its key; then those of what was read again."""
        first, *again = text.split(_AGAIN) if asked.repeats else [text]
        yield asked.key, self._answer(asked, first)
        for number, one in enumerate(filter(None, map(str.strip, again)), 1):
            yield f"{asked.key}.{number}", self._answer(asked, one)

    def _wrong(self, asked: Field) -> list[Problem]:
        """Return what is wrong with the answer to a field."""
        size = len(asked.path)
        found = self.asking.problems(self.answers)
        return [p for p in found if p.path[:size] == asked.path and not p.is_missing]

    def _rows(self, asked: Field) -> None:
        """Ask for one row after the other."""
        self.passed.add(asked.key)
        number, most = 0, 500
        while number < most:
            said = "; ".join(filter(None, (asked.help, asked.lacks)))
            about = f" ({said})" if said else ""
            say_to_person(f"{asked.label}: {number} so far{about}")
            row = [one.within((*asked.path, str(number))) for one in asked.fields]
            offered = self.asking.offering(row[0].key, self.answers)
            wanted = asked.required and number < max(asked.least, 1)
            if not yes_or_no("one more?", offered=bool(wanted or offered)):
                return
            for one in row:
                if one.group is None:
                    self._field(one)
            number += 1
            if offered and self.answers.get(row[0].key) == offered:
                continue  # what was offered is known whole
            groups = dict.fromkeys(one.group for one in row if one.group)
            for title in groups:
                if yes_or_no(f"{title}?"):
                    for one in row:
                        if one.group == title:
                            self._field(one)

    def _head(self, asked: Field) -> None:
        units = ", ".join(sign for _, sign in asked.units[:_MOST_UNITS] if sign)
        head = asked.label + (f" [{units}]" if units else "")
        lacks = f"; {asked.lacks}" if asked.lacks else ""
        say_to_person(head if asked.required else f"{head} (or nothing{lacks})")
        choices = asked.choices or (asked.fields and asked.fields[0].choices) or ()
        told = [f"{number} {words}" for number, (_, words) in enumerate(choices, 1)]
        for line in told if len(told) < _MOST_LINES else _packed(told):
            say_to_person(line, "    ")
        how = {FieldKind.LIST: "several with commas", FieldKind.YES: f"{YES} or {NO}"}
        again = f"read several times, write all with {_AGAIN} between"
        many = again if asked.repeats else how.get(asked.kind)
        if said := "; ".join(filter(None, (asked.help, many))):
            say_to_person(said, "    ")

    def _answer(self, asked: Field, text: str) -> str:
        """Return an answer as it is kept: a choice by its number as its value."""
        if asked.kind is FieldKind.FILE and self.asking.read is not None:
            return self.asking.read(asked, text)
        if asked.kind is FieldKind.LIST and asked.fields[0].choices:
            pieces = (piece.strip() for piece in text.split(","))
            return ", ".join(_numbered(asked.fields[0], piece) for piece in pieces)
        return _numbered(asked, text)

    def _prompt(self, words: str, offered: str = "") -> str:
        made = click.prompt(
            f"{words} >" if words else ">",
            default=offered,
            show_default=bool(offered),
            prompt_suffix=" ",
            err=True,
        )
        return str(made).strip()


def _numbered(asked: Field, text: str) -> str:
    if text.isdecimal() and 1 <= int(text) <= len(asked.choices):
        return asked.choices[int(text) - 1][0]
    return text


def _packed(items: Iterable[str]) -> list[str]:
    """Return items on as few lines as they fill, none broken."""
    lines: list[str] = []
    for item in items:
        last = f"{lines[-1]};  {item}" if lines else ""
        if last and len(last) <= (common.width() or 80) - 4:
            lines[-1] = last
        else:
            lines.append(item)
    return lines
