"""The suspects are named: codes as they were read, parts in the order to look at."""

from __future__ import annotations

import secrets
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from auditkit.bay.diagnosis_answers import (
    ASIDE,
    LOOK,
    answers_of_choice,
    moved,
    place_of,
    row_numbers,
    with_part,
)
from auditkit.bay.fields import fields_of
from auditkit.bay.pages import form_view
from auditkit.bay.pages.order_view import path_of, values
from auditkit.bay.pages.visit import Visit, see_other
from auditkit.bay.plausible_parts import expects, plausible_parts
from auditkit.bay.so_far import SuspectState
from auditkit.errors import InputError
from auditkit.obd.code_table import row_of
from auditkit.order.events import Event

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from starlette.responses import Response

    from auditkit.bay.field import Problem
    from auditkit.bay.so_far import SoFar

_STILL = {SuspectState.UNTESTED, SuspectState.UNDECIDED, SuspectState.FAULTY}
_STARTERS = ("because the self-test says ", "because I measured ", "because I saw ")


def show(visit: Visit) -> Response:
    """Ask which codes are looked into and which parts may be the cause."""
    visit = _placed(visit)
    found = visit.desk.standing(visit.order).so_far
    return _asked(visit, {**_begun(found), **form_view.kept_draft(visit)})


def add(visit: Visit) -> Response:
    """Record the diagnosis; a button for its rows draws them anew."""
    visit = _placed(visit)
    said = visit.answers
    if {"move", "part", "more"} & {*said}:
        return _asked(visit, _drawn_anew(visit))
    chosen = replace(visit, answers=_ours_out(answers_of_choice(said)))
    made = form_view.filled(chosen, "diagnosis")
    if made.problems:
        return _asked(visit, said, made.problems)
    found = visit.desk.standing(visit.order).so_far
    odd = tuple(_odd(Event(0, made.event), found))
    if odd and said.get("is_so") != "yes":
        return _asked(visit, said, odd=odd)
    try:
        done = visit.desk.take(visit, visit.order, [made.event])
    except InputError as error:
        return _asked(visit, said, (form_view.refused(error),))
    visit.desk.drafts.recorded(visit.person.person, visit.order, visit.once)
    return see_other(path_of(visit.order, since=str(done.seqs[0])))


def _drawn_anew(visit: Visit) -> dict[str, str]:
    """Return the answers after a button for the suspects' rows."""
    said = dict(visit.answers)
    if what := said.pop("move", ""):
        return moved(said, what)
    if part := said.pop("part", ""):
        system, _, name = part.partition(":")
        found = visit.desk.standing(visit.order).so_far
        return with_part(said, system, name, _where(found, name))
    return said


def _ours_out(said: Mapping[str, str]) -> dict[str, str]:
    return {k: v for k, v in said.items() if k not in {"move", "part", "is_so"}}


def _odd(event: Event, found: SoFar) -> Iterator[str]:
    """Yield what to look at once more: a code from nowhere, a part from elsewhere."""
    reported = {fault.fault.code for fault in found.faults}
    others = ", ".join(sorted(reported)) or "none"
    for code in event.texts("codes"):
        if code not in reported and found.order.of("readout"):
            yield f"No readout reports {code}; reported: {others}. Which do you mean?"
    for part in event.items("suspect_parts"):
        one = Event(0, part)
        codes = one.texts("codes") or event.texts("codes")
        is_said = one.text("why") and one.text("why_source")
        if codes and not is_said and not expects(one.text("system"), codes):
            yield (
                f"{one.text('name')}: the table does not expect its system for "
                f"{', '.join(codes)}. Why may it be the cause, and which source says "
                "so? Without both it stays not shown that it can be"
            )


def _begun(found: SoFar) -> dict[str, str]:
    """Return what a diagnosis begins with: what is still open of those before."""
    made: dict[str, str] = {}
    for fault in found.faults:
        if fault.fault.set_aside is None and (fault.is_open or not fault.is_named):
            made[f"code.{fault.fault.code}"] = LOOK
        for suspect in fault.suspects if fault.is_open else ():
            part = suspect.part
            names = {made[f"suspect_parts.{n}.id"] for n in row_numbers(made)}
            if suspect.state in _STILL and part.id not in names:
                where = _where(found, part.name or part.id)
                more = {"id": part.id, **where}
                made = with_part(made, part.system, part.name or part.id, more)
    return made


def _where(found: SoFar, name: str) -> dict[str, str]:
    """Return where a part sits, once that was said of it."""
    for event in found.order.of("diagnosis"):
        for part in map(partial(Event, 0), event.items("suspect_parts")):
            places = part.texts("where")
            if name in {part.text("name"), part.text("id")} and places:
                return {f"where.{n}": place for n, place in enumerate(places)}
    return {}


def _asked(
    visit: Visit,
    said: Mapping[str, str],
    problems: Iterable[Problem] = (),
    odd: tuple[str, ...] = (),
) -> Response:
    standing = visit.desk.standing(visit.order)
    found = standing.so_far
    by_key = {f.key: f for f in fields_of("diagnosis", visit.desk.catalogue)}
    told = {
        place_of(said, ".".join(p.path)): f"{p.message}: {p.what_to_do}"
        for p in problems
    }
    looked = [
        k[len("code.") :]
        for k, v in said.items()
        if k.startswith("code.") and v == LOOK
    ]
    aside = {f.key: f for f in by_key["set_aside"].fields}
    systems = dict(
        next(f for f in by_key["suspect_parts"].fields if f.key == "system").choices
    )
    return visit.page(
        "diagnosis.html",
        422 if told else 200,
        **values(visit, standing),
        codes=[
            (f.fault.code, row_of(f.fault.code).meaning)
            for f in found.faults
            if f.fault.set_aside is None
        ],
        choices=((LOOK, "look into it"), (ASIDE, "set it aside")),
        aside=aside,
        by_key=by_key,
        inner={f.key: f for f in by_key["suspect_parts"].fields},
        rows=row_numbers(said) or ["0"],
        plausible=[
            (code, [(s, systems.get(s, s), name) for s, name in plausible_parts(code)])
            for code in looked
        ],
        starters=_STARTERS,
        form_values=said,
        problems=told,
        odd=odd,
        once=said.get("once") or secrets.token_urlsafe(16),
        action=path_of(visit.order, "add", "diagnosis"),
        draft_path=path_of(visit.order, "draft", "diagnosis"),
    )


def _placed(visit: Visit) -> Visit:
    return replace(visit, place={**visit.place, "kind": "diagnosis"})
