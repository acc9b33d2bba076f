"""A step is corrected: what was written stays, what is right stands beside it.

A form begins with the step as it stands, corrections of it counted. It names the last
one that it knows: where another came since, it is asked again with both.
"""

from __future__ import annotations

import secrets
from dataclasses import replace
from typing import TYPE_CHECKING

from auditkit.bay.answered import answers_of, kept_of
from auditkit.bay.correctable import Correction
from auditkit.bay.corrected import correction_lines
from auditkit.bay.field import HOW, Problem
from auditkit.bay.fields import fields_of, with_forms
from auditkit.bay.filled import event_of, problems_of
from auditkit.bay.pages.form_view import (
    drop,
    kept_draft,
    refused,
    without_lone_units,
)
from auditkit.bay.pages.order_view import path_of, values
from auditkit.bay.pages.visit import see_other
from auditkit.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from starlette.responses import Response

    from auditkit.bay.pages.visit import Visit
    from auditkit.log.logged_order import LoggedEvent
    from auditkit.order.events import Event
    from auditkit.text.values import Json

_HEAD = ("event.kind", "event.at", "event.by", "corrects")
_KIND = "amendment"
_STOOD = "stood"
_OURS = frozenset({"once", "more", "entry", _STOOD})


def show(visit: Visit) -> Response:
    """Ask what was wrong, with what was written, and why."""
    place, stands = _corrected(visit)
    said = _answers(visit, place, stands.data)
    said[_STOOD] = _last(stands)
    draft = kept_draft(_placed(visit))
    if draft:  # as it stood there: what was emptied stays so
        said = {k: v for k, v in said.items() if k in _HEAD} | dict(draft)
    return _asked(visit, said)


def _placed(visit: Visit) -> Visit:
    """Return a visit as one of the forms by kind."""
    entry = {"entry": visit.place["entry"]}
    return replace(visit, place={**visit.place, "kind": _KIND}, asked=entry)


def correct(visit: Visit) -> Response:
    """Record the correction."""
    place, stands = _corrected(visit)
    event = _as_known(visit, place)
    is_sent = bool(visit.desk.writer.recorded_as(visit.order, visit.once))
    if not is_sent and visit.answers.get(_STOOD, "") != _last(stands):
        return _asked_again(visit, place, event, stands)
    at, by = visit.desk.at(), visit.person.person
    said = without_lone_units(
        {k: v for k, v in visit.answers.items() if k not in _OURS}
    )
    said |= {f"event.{name}": str(event[name]) for name in ("kind", "at", "by")}
    said["corrects"] = str(place)
    kinds = visit.desk.catalogue
    known = {f"event.{key}": value for key, value in kept_of(event, kinds).items()}
    problems = problems_of(_KIND, said, kinds, at=at, by=by, known=known)
    if problems or "more" in visit.answers:
        return _asked(visit, {**said, **visit.answers}, problems)
    made = event_of(_KIND, said, kinds, at=at, by=by, known=known)
    own = Correction(event, place, kinds, at, by)
    made["event"] = own.changed(made["event"])
    if made["event"] == event:
        raise InputError(
            "nothing is corrected", what_to_do="go back, and change what was wrong"
        )
    try:
        done = visit.desk.take(visit, visit.order, [made])
    except InputError as error:
        return _asked(visit, {**said, **visit.answers}, (refused(error),))
    drop(visit)
    return see_other(path_of(visit.order, since=str(done.seqs[0])))


def _steps(visit: Visit) -> tuple[LoggedEvent, ...]:
    return visit.desk.standing(visit.order).logged.events


def _as_known(visit: Visit, place: int) -> dict[str, Json]:
    """Return a step as the page knew it that a form comes from."""
    known = visit.answers.get(_STOOD, "")
    steps = _steps(visit)
    for number, event in enumerate(step.event for step in steps):
        made = event.get("event")
        of_it = event.get("kind") == _KIND and event.get("corrects") == place
        if of_it and str(number) == known and isinstance(made, dict):
            return dict(made)
    return dict(steps[place].event)


def _asked_again(
    visit: Visit, place: int, was: Mapping[str, Json], stands: Event
) -> Response:
    """Show the step as it stands now, with what this form changed in the older one."""
    before = _answers(visit, place, was)
    typed = {k: v for k, v in visit.answers.items() if before.get(k, "") != v}
    now = {**_answers(visit, place, stands.data), **typed, _STOOD: _last(stands)}
    last = stands.amended_by
    by = "" if last is None else _steps(visit)[last].event["by"]
    lines = "; ".join(correction_lines(was, stands.data))
    told = Problem(
        (),
        f"this step was corrected meanwhile, by {by}: {lines}",
        "look at it as it stands now with what you changed, and send it again",
    )
    return _asked(visit, now, (told,))


def _answers(visit: Visit, place: int, event: Mapping[str, Json]) -> dict[str, str]:
    """Return the answers of a form in which nothing was put right yet."""
    amendment: dict[str, Json] = {
        "kind": _KIND,
        "corrects": place,
        "event": dict(event),
    }
    return answers_of(amendment, visit.desk.catalogue)


def _last(stands: Event) -> str:
    """Return the place of the amendment that a step stands by; empty without one."""
    return "" if stands.amended_by is None else str(stands.amended_by)


def _corrected(visit: Visit) -> tuple[int, Event]:
    """Return the place of an entry's event in the order, and it as it stands."""
    for place, step in enumerate(_steps(visit)):
        if str(step.seq) == visit.place["entry"]:
            return place, visit.desk.standing(visit.order).so_far.order.events[place]
    raise InputError(
        f"entry {visit.place['entry']} is no step of {visit.order}",
        what_to_do="open the order's page",
    )


def _asked(
    visit: Visit, said: Mapping[str, str], problems: Iterable[Problem] = ()
) -> Response:
    every = fields_of(_KIND, visit.desk.catalogue, said)
    # Which of several forms it has is no answer: another would be another event.
    forms = {f.key for f in every if f.path[-1] == HOW}
    said = with_forms(every, said)
    fields = [f for f in every if f.key not in {*_HEAD, *forms}]
    fields.sort(key=lambda f: f.path[0] == "event")
    told = {".".join(p.path): f"{p.message}: {p.what_to_do}" for p in problems}
    return visit.page(
        "step.html",
        422 if told else 200,
        **values(visit, visit.desk.standing(visit.order)),
        heading=f"Correct entry {visit.place['entry']}",
        lead="What was written stays readable; what is right stands beside it. "
        "A correction can take away from what is shown, and gives nothing after a "
        "step that rests on it.",
        notes=(),
        action=path_of(visit.order, "correct", visit.place["entry"]),
        fields=fields,
        left_empty={},
        form_values=said,
        problems=told,
        once=said.get("once") or secrets.token_urlsafe(16),
        kept={key: said[key] for key in (*forms, _STOOD) if key in said}
        | {"entry": visit.place["entry"]},
        look_path="",
        draft_path=path_of(visit.order, "draft", _KIND),
        button="Record the correction",
    )
