"""What each kind of event asks of the person who records it. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from auditkit.bay.bench_fields import bench_fields
from auditkit.bay.caution_fields import PRECONDITIONS, caution_fields
from auditkit.bay.field import (
    HOW,
    NEVER_ASKED,
    ComesFrom,
    Field,
    FieldKind,
    Path,
    When,
)
from auditkit.bay.schema_fields import fields_in
from auditkit.order.event_kinds import schema_of
from auditkit.order.schema import WRITTEN_BY_SOFTWARE

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue

__all__ = [
    "ComesFrom",
    "Field",
    "FieldKind",
    "Path",
    "When",
    "bench_fields",
    "caution_fields",
    "every_field",
    "fields_of",
    "kinds_asked",
    "kinds_in_words",
    "with_forms",
]
HEAD = frozenset({"kind", "at", "by"})
"""What every event has; nobody is asked for it."""
_NOTHING: Mapping[str, str] = MappingProxyType({})
_ANSWERED = frozenset({"caution", "amendment"})
"""Kinds whose fields follow from answers that may be anything."""
_KEPT = 128  # lists of fields; about twice as many as there are
_IN_ORDER = (
    *("opening", "readout", "diagnosis", "caution", "bench_test", "repair"),
    *("code_clear", "road_test", "self_test", "handover", "attachment", "amendment"),
)
"""Kinds of event as those of a repair follow each other, then what happens any time."""
_WORK = frozenset({"bench_test", "repair", "road_test"})
_WITHOUT_METHOD = frozenset(
    {"test", "result", "finding", "readings", "conditions", "limit", "instruments"}
    | {"known_good"}
)
"""What a bench test by a method asks otherwise, or not at all."""


def kinds_asked(catalogue: Catalogue) -> tuple[str, ...]:
    """Return the kinds of event that a person can record: as work goes."""
    known = [k for k in catalogue.events.names if k not in WRITTEN_BY_SOFTWARE]
    own = [kind for kind in _IN_ORDER if kind in known]
    return (*own, *(kind for kind in known if kind not in own))


def kinds_in_words(catalogue: Catalogue) -> tuple[tuple[str, str], ...]:
    """Return the kinds of event that a person can record, each in words; work first."""
    kinds = sorted(kinds_asked(catalogue), key=lambda kind: kind not in _WORK)
    named = ((kind, schema_of(kind, catalogue.events)) for kind in kinds)
    return tuple((k, str(s.get("title", k.replace("_", " ")))) for k, s in named)


def fields_of(
    kind: str, catalogue: Catalogue, answers: Mapping[str, str] = _NOTHING
) -> tuple[Field, ...]:
    """Return what an event of a kind asks, in order: nothing that a machine fills.

    What was answered so far may bring others: a bench test's method its readings, a
    caution its preconditions. Raises InputError for a kind that is not known.
    """
    if kind in _ANSWERED:
        return _asked(every_field(kind, catalogue, answers))
    return _asked_of(kind, catalogue, _method(catalogue, answers))


@lru_cache(maxsize=_KEPT)
def _asked_of(kind: str, catalogue: Catalogue, method: str) -> tuple[Field, ...]:
    return _asked(_every(kind, catalogue, method))


def _asked(fields: Iterable[Field]) -> tuple[Field, ...]:
    return tuple(
        replace(f, fields=_asked(f.fields))
        for f in fields
        if f.comes_from not in NEVER_ASKED
    )


def every_field(
    kind: str, catalogue: Catalogue, answers: Mapping[str, str] = _NOTHING
) -> tuple[Field, ...]:
    """Return all that an event of a kind holds beside its kind, time and person."""
    fields = _every(kind, catalogue, _method(catalogue, answers))
    if kind == "caution":
        return _caution(fields, catalogue, answers)
    if kind == "amendment":
        return _amendment(fields, catalogue, answers)
    return fields


@lru_cache(maxsize=_KEPT)
def _every(kind: str, catalogue: Catalogue, method: str) -> tuple[Field, ...]:
    """Return what a kind's schema has, with what a bench test's method asks."""
    schema = schema_of(kind, catalogue.events)
    fields = tuple(f for f in fields_in(schema) if f.path[0] not in HEAD)
    return _bench_test(fields, catalogue, method) if kind == "bench_test" else fields


def _method(catalogue: Catalogue, answers: Mapping[str, str]) -> str:
    """Return the method of a bench test that was chosen, empty for none that is."""
    name = answers.get("method", "").strip()
    return name if name in catalogue.bench_tests else ""


def with_forms(
    fields: Iterable[Field], answers: Mapping[str, str], known: Iterable[str] = ()
) -> Mapping[str, str]:
    """Return answers with the form, or the one of several, that others imply.

    ``known`` are the keys of what was not asked.
    """
    made = dict(answers)
    given = [*known, *(key for key, text in answers.items() if text.strip())]
    for asked in fields:
        when = asked.when
        if when is None or when.path[-1] != HOW or made.get(key := ".".join(when.path)):
            continue
        if any(_is_under(k, asked.key) or _is_under(asked.key, k) for k in given):
            made[key] = when.values[0]
    return made


def _is_under(key: str, other: str) -> bool:
    return key == other or key.startswith(f"{other}.")


def _bench_test(
    fields: tuple[Field, ...], catalogue: Catalogue, chosen: str
) -> tuple[Field, ...]:
    names = tuple((name, kind.title) for name, kind in catalogue.bench_tests.items())
    frame = tuple(_chosen(f, {"method": names}) for f in fields)
    method = catalogue.bench_tests.get(chosen)
    if method is None:
        return frame
    test = next(f for f in frame if f.path == ("test",))
    return (
        *(f for f in frame if f.path[0] not in _WITHOUT_METHOD and f.path[0] != "note"),
        replace(test, comes_from=ComesFrom.COMPUTED),
        *bench_fields(method, frame),
        *(f for f in frame if f.path[0] == "note"),
    )


def _caution(
    fields: tuple[Field, ...], catalogue: Catalogue, answers: Mapping[str, str]
) -> tuple[Field, ...]:
    hazards = tuple((c.id, c.hazard) for c in catalogue.cautions.values())
    choices = {"caution": hazards, "step.kind": kinds_in_words(catalogue)}
    chosen = [_chosen(f, choices) for f in fields]
    caution = catalogue.cautions.get(answers.get("caution", "").strip())
    if caution is None:
        return tuple(chosen)
    others = (f for f in chosen if f.path[0] != PRECONDITIONS)
    return (*others, *caution_fields(caution))


def _amendment(
    fields: tuple[Field, ...], catalogue: Catalogue, answers: Mapping[str, str]
) -> tuple[Field, ...]:
    """Return the fields with those of the corrected event, once its kind is known."""
    frame = tuple(f for f in fields if f.path != ("event",))
    head = tuple(
        Field(("event", name), name, required=True, comes_from=ComesFrom.COMPUTED)
        for name in sorted(HEAD)
    )
    parted = (key.partition("event.") for key in answers)
    names = [rest for before, _, rest in parted if rest and not before]
    inner = {name: answers[f"event.{name}"] for name in names}
    if (kind := inner.get("kind", "")) not in kinds_asked(catalogue):
        return (*frame, *head)
    within = every_field(kind, catalogue, inner)
    return (*frame, *head, *(field.within(("event",)) for field in within))


def _chosen(field: Field, choices: Mapping[str, tuple[tuple[str, str], ...]]) -> Field:
    """Return a field as a choice, where its values are those of a catalogue."""
    if field.key not in choices:
        return field
    return replace(field, kind=FieldKind.CHOICE, choices=choices[field.key])
