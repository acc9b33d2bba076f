"""What a logged event says, answer by answer, to pick out what is wrong. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from auditkit.bay.answered import answers_of, kept_of
from auditkit.bay.field import HOW, Field, FieldKind, Problem
from auditkit.bay.fields import HEAD, fields_of, with_forms
from auditkit.bay.filled import event_of, problems_of

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue
    from auditkit.text.values import Json

_WHEN = Field(("at",), "When it happened", "such as 09:55", FieldKind.TIME)


@dataclass(frozen=True, slots=True)
class Written:
    """One answer as it was written; empty where it was left out."""

    field: Field
    text: str


def written_in(answers: Mapping[str, str], catalogue: Catalogue) -> list[Written]:
    """Return what the answers of an event say, its time first.

    ``answers`` have the event's kind, time and person too. What was read from a file is
    left out: another readout says it anew.
    """
    fields = fields_of(answers["kind"], catalogue, answers)
    due = with_forms(fields, answers)
    asked = [f for f in fields if f.path[-1] != HOW and f.is_due(due)]
    return [
        Written(_WHEN, answers["at"]),
        *(one for f in asked for one in _written(f, answers)),
    ]


def _written(asked: Field, answers: Mapping[str, str]) -> Iterator[Written]:
    start = f"{asked.key}."
    below = [key.removeprefix(start) for key in answers if key.startswith(start)]
    names = list(dict.fromkeys(key.partition(".")[0] for key in below))
    if asked.kind is FieldKind.FILE:
        return
    if asked.kind is not FieldKind.LIST:
        yield Written(asked, answers.get(asked.key, ""))
        if asked.repeats:
            for name in filter(str.isdecimal, names):
                again = replace(asked, path=(*asked.path, name))
                yield Written(again, answers[again.key])
    elif asked.by_name:
        for name in names:
            path = (*asked.path, name)
            one = Field(path, f"{asked.label}: {name}")
            yield Written(one, answers.get(one.key, ""))
    elif not asked.fields[0].path:
        texts = [answers[asked.key]] if asked.key in answers else []
        texts += [answers[f"{start}{name}"] for name in names]
        yield Written(asked, ", ".join(texts))
    else:
        for number, name in enumerate(names, 1):
            for one in asked.fields:
                row = one.within((*asked.path, name))
                row = replace(row, label=f"{asked.label} {number}: {one.label}")
                yield from _written(row, answers)


def with_answer(answers: Mapping[str, str], field: Field, text: str) -> dict[str, str]:
    """Return answers with another to one field; when a value was read stays."""
    start, at = f"{field.key}.", f"{field.key}.at"
    kept = {k: t for k, t in answers.items() if k == at or not k.startswith(start)}
    return {**kept, field.key: text}


@dataclass(frozen=True, slots=True)
class Correction:
    """An event that is being corrected, as the answers of an amendment.

    ``place`` is the event's among those of its order, ``at`` and ``by`` say when and by
    whom it is corrected.
    """

    was: Mapping[str, Json]
    place: int
    catalogue: Catalogue
    at: str
    by: str

    def problems(self, answers: Mapping[str, str], field: Field) -> list[Problem]:
        """Return what is wrong with the answer to one field of the event."""
        path = ("event", *field.path)
        found = problems_of(
            "amendment",
            self._said(answers),
            self.catalogue,
            at=self.at,
            by=self.by,
            known=self._kept(),
        )
        return [p for p in found if p.path[: len(path)] == path]

    def event(self, answers: Mapping[str, str]) -> dict[str, Json]:
        """Return the event with what other answers than its own change in it."""
        return self.changed(self._made(answers))

    def changed(self, new: Json) -> dict[str, Json]:
        """Return the event with what differs in one that other answers made."""
        own = self._made(answers_of(self.was, self.catalogue))
        return with_changes(self.was, own, new)

    def _made(self, answers: Mapping[str, str]) -> Json:
        made = event_of(
            "amendment",
            self._said(answers),
            self.catalogue,
            at=self.at,
            by=self.by,
            known=self._kept(),
        )
        return made["event"]

    def _said(self, answers: Mapping[str, str]) -> dict[str, str]:
        said = {f"event.{key}": text for key, text in answers.items()}
        head = {f"event.{n}": str(self.was[n]) for n in HEAD if n not in answers}
        return {**said, **head, "corrects": str(self.place), "why": "a slip"}

    def _kept(self) -> dict[str, Json]:
        kept = kept_of(self.was, self.catalogue)
        return {f"event.{key}": value for key, value in kept.items()}


_READ = ("readings", "conditions")


def with_changes(was: Mapping[str, Json], own: Json, new: Json) -> dict[str, Json]:
    """Return an event with what differs between what two sets of answers make.

    ``own`` is what its own answers make of it: what a machine would fill otherwise, or
    put elsewhere, than whoever wrote it stays as it was written.
    """
    made = _merged(dict(was), own, new)
    assert isinstance(made, dict)  # noqa: S101  all three are events
    if not isinstance(own, dict) or not isinstance(new, dict):
        return made
    is_moved = _names(was.get("readings")) != _names(own.get("readings"))
    if is_moved and any(own.get(name) != new.get(name) for name in _READ):
        made |= {name: new[name] for name in _READ if name in new}
    return made


def _merged(was: Json, own: Json, new: Json) -> Json:
    if own == new:
        return was
    if isinstance(was, dict) and isinstance(own, dict) and isinstance(new, dict):
        every = dict.fromkeys([*was, *new])
        found = {n: _merged(was.get(n), own.get(n), new.get(n)) for n in every}
        return {name: value for name, value in found.items() if value is not None}
    if _names(was) and _names(was) == _names(own) == _names(new):
        lists = (one if isinstance(one, list) else [] for one in (was, own, new))
        return [_merged(*rows) for rows in zip(*lists, strict=True)]
    return new


def _names(rows: Json) -> list[Json]:
    """Return the names of a list's rows, in order; none where not all have one."""
    named = rows if isinstance(rows, list) else []
    found = [row.get("name") for row in named if isinstance(row, dict)]
    return found if len(found) == len(named) and all(found) else []
