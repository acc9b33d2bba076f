"""A caution takes its step's place until it is acknowledged: DANGER twice."""

from __future__ import annotations

import math
import secrets
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING
from urllib.parse import quote

from auditkit.bay.caution_fields import caution_fields
from auditkit.bay.cautions_due import due_before_work
from auditkit.bay.field import Field, FieldKind
from auditkit.bay.filled import event_of, problems_of
from auditkit.bay.pages.form_view import (
    drop,
    kept_draft,
    refused,
    without_lone_units,
)
from auditkit.bay.pages.order_view import kind_in_words, path_of, values
from auditkit.bay.pages.visit import see_other
from auditkit.errors import InputError
from auditkit.text.display_text import quoted

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from starlette.responses import Response

    from auditkit.bay.field import Problem
    from auditkit.bay.pages.visit import Visit
    from auditkit.order.cautions import Caution
    from auditkit.text.values import Json

_A_SECOND = 20  # characters that are read in it: our choice
_LONGEST = 15  # seconds that a button waits at most: our choice
_FRESH = timedelta(minutes=10)
"""How long what was typed and not sent comes back: our choice."""
_WORK = ("part", "method", "setup")
_THEN = "then"
"""Answer that names the cautions that are asked after this one, and no others."""
_PRECEDED = ("bench_test", "repair", "code_clear", "road_test", "readout")
"""Kinds of step that a caution may precede."""
_STEP = ("kind", "part")
"""What an acknowledgement says of the step that it precedes."""


def reading_seconds(caution: Caution) -> int:
    """Return how long its text stands before it can be agreed to, in seconds."""
    return min(_LONGEST, math.ceil(len(caution.text) / _A_SECOND))


def show(visit: Visit) -> Response:
    """Show the caution that is due before a step; go on to the step where none is.

    Those that are named are asked, and no others; where no step is, which is chosen.
    """
    if not visit.asked.get("kind"):
        return _choose(visit)
    work = _of_step(visit.asked)
    if visit.asked.get("caution"):
        due = _named(visit, visit.asked)
        return _asked(visit, due, work, {_THEN: _ids(due[1:])})
    due = _due(visit, work)
    if not due:
        return see_other(_step_path(visit.order, work))
    return _asked(visit, due, work)


def add(visit: Visit) -> Response:
    """Record the acknowledgement; of a DANGER once it was confirmed at the part."""
    said = without_lone_units(visit.answers)
    due, work = _named(visit, said), _work(said)
    caution = due[0]
    at, by = visit.desk.at(), visit.person.person
    answers = {k: v for k, v in said.items() if k.startswith("preconditions.")}
    answers |= {"caution": caution.id}
    answers |= {f"step.{n}": said[f"work.{n}"] for n in _STEP if f"work.{n}" in said}
    kinds = visit.desk.catalogue
    problems = problems_of("caution", answers, kinds, at=at, by=by)
    if problems or not said.get("read"):
        return _asked(visit, due, work, said, problems)
    known: dict[str, Json] = {}
    if caution.signal_word == "DANGER":
        if said.get("confirmed") != "yes" or not said.get("first_at"):
            return _asked(visit, due, work, said, confirms=True)
        known = {"second_confirmation": {"at": at, "by": by}}
        at = said["first_at"]
    event = event_of("caution", answers, kinds, at=at, by=by, known=known)
    try:
        visit.desk.take(visit, visit.order, [event])
    except InputError as error:
        return _asked(visit, due, work, said, (refused(error),))
    drop(visit)
    if _THEN not in said:
        return see_other(path_of(visit.order, "add", "caution", **work))
    if then := said[_THEN]:
        return see_other(path_of(visit.order, "add", "caution", caution=then, **work))
    return see_other(_step_path(visit.order, work))


def _choose(visit: Visit) -> Response:
    """Ask which caution is acknowledged, and before which step."""
    desk = visit.desk
    standing = desk.standing(visit.order)
    known = tuple(
        (name, f"{name}: {one.hazard}") for name, one in desk.catalogue.cautions.items()
    )
    steps = tuple((kind, kind_in_words(kind)) for kind in _PRECEDED)
    parts = tuple(standing.so_far.judgement.part_names.items())
    choice = FieldKind.CHOICE
    fields = [
        Field(("caution",), "Caution", kind=choice, choices=known, required=True),
        Field(
            ("kind",), "Before which step", kind=choice, choices=steps, required=True
        ),
        *(
            [Field(("part",), "Of which part", kind=choice, choices=parts)]
            if parts
            else []
        ),
    ]
    return visit.page(
        "choose.html",
        **values(visit, standing),
        heading="Which caution, and before which step?",
        action=path_of(visit.order, "add", "caution"),
        fields=fields,
        form_values=visit.asked,
        problems={},
    )


def _asked(  # noqa: PLR0913  what is asked, and what was answered
    visit: Visit,
    due: tuple[Caution, ...],
    work: Mapping[str, str],
    said: Mapping[str, str] | None = None,
    problems: Iterable[Problem] = (),
    *,
    confirms: bool = False,
) -> Response:
    caution, said = due[0], said or {}
    kept = {f"work.{n}": text for n, text in work.items()}
    kept["caution"] = caution.id
    if "once" not in said:
        said = {**_draft(visit, kept), **said}
    if _THEN in said:
        kept[_THEN] = said[_THEN]
    if confirms:
        answered = (k for k in said if k.startswith("preconditions."))
        kept |= {k: said[k] for k in ("read", *answered)}
        kept["first_at"] = visit.desk.at()
    standing = visit.desk.standing(visit.order)
    part = standing.so_far.judgement.part_names.get(work.get("part", ""), "")
    what = kind_in_words(work["kind"]).lower()
    told = {".".join(p.path): f"{p.message}: {p.what_to_do}" for p in problems}
    return visit.page(
        "caution.html",
        422 if told else 200,
        **values(visit, standing),
        before=f"the {what}" + (f" of {part}" if part else ""),
        count=len(due),
        any_way=_any_way(visit.order, work) if _THEN in kept else "",
        caution=caution,
        fields=caution_fields(caution),
        form_values=said,
        problems=told,
        confirms=confirms,
        seconds=0 if told else reading_seconds(caution),
        kept=kept,
        once=said.get("once") or secrets.token_urlsafe(16),
        action=path_of(visit.order, "add", "caution"),
        draft_path=path_of(visit.order, "draft", "caution"),
    )


def _any_way(order: str, work: Mapping[str, str]) -> str:
    """Return the form to go back to where it does not say how a part was tested."""
    is_unsaid = work["kind"] == "bench_test" and "setup" not in work
    return _step_path(order, work) if is_unsaid else ""


def _draft(visit: Visit, kept: Mapping[str, str]) -> dict[str, str]:
    """Return what was typed of the preconditions just now, and not sent.

    What was measured longer ago is measured again.
    """
    placed = replace(visit, place={**visit.place, "kind": "caution"}, asked=kept)
    typed = ("preconditions.", "once")
    return {k: v for k, v in kept_draft(placed, _FRESH).items() if k.startswith(typed)}


def _due(visit: Visit, work: Mapping[str, str]) -> tuple[Caution, ...]:
    """Return the cautions due before the work that is named."""
    found = visit.desk.standing(visit.order).so_far
    event = {**work, "at": visit.desk.at(), "by": visit.person.person}
    return tuple(
        due.caution for due in due_before_work(found.order, event, found.judgement)
    )


def _named(visit: Visit, said: Mapping[str, str]) -> tuple[Caution, ...]:
    """Return the cautions that are named, the one in question first."""
    names = f"{said.get('caution', '')},{said.get(_THEN, '')}".rstrip(",").split(",")
    known = visit.desk.catalogue.cautions
    for name in names:
        if name not in known:
            raise InputError(
                f"no caution is called {quoted(name)}",
                what_to_do="open the order's page",
            )
    return tuple(known[name] for name in dict.fromkeys(names))


def _ids(cautions: Iterable[Caution]) -> str:
    return ",".join(one.id for one in cautions)


def _work(said: Mapping[str, str]) -> dict[str, str]:
    return _of_step(
        {n.removeprefix("work."): t for n, t in said.items() if n.startswith("work.")}
    )


def _of_step(said: Mapping[str, str]) -> dict[str, str]:
    """Return what is said of the step that comes next; InputError where not which."""
    if not said.get("kind"):
        raise InputError(
            "nothing says before which step this caution is",
            what_to_do="open the order's page, and take the step from there",
        )
    return {n: said[n] for n in ("kind", *_WORK) if said.get(n)}


def _step_path(order: str, work: Mapping[str, str]) -> str:
    asked = {n: work[n] for n in _WORK if n in work}
    return path_of(order, "add", quote(work["kind"], safe=""), **asked)
