"""A person's answers -> the event, or what is wrong with them, field by field. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from auditkit.bay.caution_fields import PRECONDITIONS, problems_of_values
from auditkit.bay.field import HOW, Problem
from auditkit.bay.fields import every_field, with_forms
from auditkit.bay.filling import NONE, Filling
from auditkit.bay.machine_filled import by_machine
from auditkit.order.schema import validate_event
from auditkit.text.display_text import quoted

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue
    from auditkit.text.values import Json

__all__ = ["NONE", "Problem", "event_of", "problems_of"]


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
    types, or that came from a file: the shop, a picture's digest, ``vehicle`` whole.
    ``at`` is RFC 3339, ``by`` a person's id.
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
    others = [*map(made.problem, validate_event(made.event, catalogue.events))]
    caution = catalogue.cautions.get(str(made.event.get("caution")))
    if kind == "caution" and caution is not None:
        others += problems_of_values(caution, made.event.get(PRECONDITIONS))
    for found in others:
        if not any(p.path[: len(found.path)] == found.path for p in told):
            told.append(found)
    return tuple(told)


def _filled(
    kind: str,
    answers: Mapping[str, str],
    catalogue: Catalogue,
    who: tuple[str, str],
    known: Mapping[str, Json],
) -> Filling:
    at, by = who
    told = {k: v for k, v in known.items() if isinstance(v, str)}
    fields = every_field(kind, catalogue, {**told, **answers})
    made = Filling(with_forms(fields, answers, known), at)
    made.event |= {"kind": kind, "at": at, "by": by}
    for asked in fields:
        if asked.path[-1] != HOW:
            made.put(made.event, asked)
        elif text := made.answers.get(asked.key, "").strip():
            made.given.add(asked.key)
            if text not in dict(asked.choices):
                said = f"{quoted(text)} is not one of the choices"
                what_to_do = f"write one of {', '.join(v for v, _ in asked.choices)}"
                made.problems.append(Problem(asked.path, said, what_to_do, asked.label))
    for key, value in known.items():
        made.take(key, value)
    by_machine(fields, made.event, catalogue)
    corrected = made.event.get("event")
    if isinstance(corrected, dict):
        by_machine(fields, corrected, catalogue, ("event",))
        made.list_readings(corrected, ("event",))
    made.list_readings(made.event)
    made.tell_missing(fields)
    made.tell_unknown(fields)
    return made
