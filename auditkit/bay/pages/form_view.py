"""A form for each kind of event: drawn from its fields, answered, recorded."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from types import MappingProxyType

from starlette.responses import Response

from auditkit.bay.before_form import told_before
from auditkit.bay.bench_rows import READINGS
from auditkit.bay.drafts import Draft
from auditkit.bay.field import HOW, Field, Problem
from auditkit.bay.fields import fields_of, kinds_asked
from auditkit.bay.filled import event_of, problems_of
from auditkit.bay.left_empty import Stands, begun_with, stands_for
from auditkit.bay.one_step import CautionsDueError
from auditkit.bay.order_choices import narrowed
from auditkit.bay.pages.bench_extras import BUTTONS, extras, tapped
from auditkit.bay.pages.given import given
from auditkit.bay.pages.lacking_cautions import SENT, names, no_help
from auditkit.bay.pages.order_view import kind_in_words, path_of, values
from auditkit.bay.pages.visit import InTheLog, Visit, see_other
from auditkit.errors import InputError
from auditkit.text.display_text import quoted
from auditkit.text.values import Json

_NOTHING: Mapping[str, Json] = MappingProxyType({})
_OURS = frozenset(
    {"once", "opened", "more", "unacknowledged", "way", "is_so", "beside", SENT}
)
_DRAFT_OF = "draft_of"
_LIMITS = ("minimum", "maximum")
_STEERING = ("part", "method")
"""Answers that were given before the form was drawn, and decide what it asks."""
_DRAFTED = {
    "amendment": ("entry",),
    "caution": ("caution", "work.kind", "work.part"),
    "close": (),
}
"""By what else the forms of a kind differ, of which a person may have begun several."""


def show(visit: Visit) -> Response:
    """Ask what an event of a kind needs; a draft of it comes back."""
    kind = _asked_kind(visit)
    if kind == "bench_test" and "method" not in visit.asked:
        return choose_test(visit)
    draft = kept_draft(visit)
    return drawn(visit, {**visit.asked, **draft}, is_fresh=not draft)


def _asked_kind(visit: Visit) -> str:
    """Return the kind of event that is asked for; InputError for none of a person's."""
    kind, known = visit.place["kind"], kinds_asked(visit.desk.catalogue)
    if kind not in known:
        raise InputError(
            f"nobody records an event of kind {quoted(kind)} here",
            what_to_do=f"record one of {', '.join(known)}",
        )
    return kind


def choose_test(visit: Visit) -> Response:
    """Ask which part is tested, and by which method."""
    standing = visit.desk.standing(visit.order)
    fields = narrowed(
        fields_of("bench_test", visit.desk.catalogue),
        standing.so_far,
        visit.desk.register,
        at=visit.desk.at(),
        answers=visit.asked,
    )
    asked = [f for f in fields if f.path[0] in _STEERING]
    return visit.page(
        "choose.html",
        **values(visit, standing),
        heading="Which part is tested, and how?",
        action=path_of(visit.order, "add", "bench_test"),
        fields=asked,
        form_values={**begun_with(asked, {}), **visit.asked},
        problems={},
    )


def drawn(
    visit: Visit,
    answers: Mapping[str, str],
    problems: Iterable[Problem] = (),
    *,
    is_fresh: bool = False,
    lacks_cautions: bool = False,
) -> Response:
    """Return the form with its answers so far, and what is wrong with them.

    One that ``is_fresh`` begins with what there is but one of; one that
    ``lacks_cautions`` can be recorded as done without them.
    """
    kind, desk = visit.place["kind"], visit.desk
    standing = desk.standing(visit.order)
    every = fields_of(kind, desk.catalogue, answers)
    kept = {n: answers[n] for n in _STEERING if kind == "bench_test" and n in answers}
    fields = [
        f
        for f in narrowed(
            every,
            standing.so_far,
            desk.register,
            at=desk.at(),
            answers=answers,
            people=_others(visit) if kind == "handover" else (),
        )
        if f.key not in kept
    ]
    if is_fresh:
        answers = {**begun_with(fields, desk.register), **answers}
    answers = {**followed(fields, answers), **answers}
    told = {".".join(p.path): f"{p.message}: {p.what_to_do}" for p in problems}
    opened = answers.get("opened") or desk.at()
    stands = _stands(visit, kind, answers, opened)
    part = standing.so_far.judgement.part_names.get(answers.get("part", ""), "")
    method = desk.catalogue.bench_tests.get(answers.get("method", ""))
    lead = ", ".join(filter(None, (part, method.title if method else "")))
    is_test = kind == "bench_test"
    return visit.page(
        "bench.html" if is_test else "step.html",
        422 if told else 200,
        **values(visit, standing),
        notes=told_before(kind, standing.so_far, answers),
        **(extras(visit, answers, fields) if is_test else {}),
        heading=kind_in_words(kind),
        lead=lead,
        action=path_of(visit.order, "add", kind),
        fields=fields,
        left_empty={key: one.words for key, one in stands.items()},
        form_values=answers,
        problems=told,
        once=answers.get("once") or secrets.token_urlsafe(16),
        kept=kept
        | {"opened": opened}
        | {n: answers[n] for n in (SENT,) if n in answers},
        lacks_cautions=lacks_cautions,
        look_path=path_of(visit.order, "look", kind) if kind in _LOOKED_AT else "",
        draft_path=path_of(visit.order, "draft", kind),
        button="Record and sign",
    )


def followed(fields: Iterable[Field], answers: Mapping[str, str]) -> dict[str, str]:
    """Return by key the units that follow a reading's, where none was chosen.

    A reading's unit is the one answered, else the first that is offered.
    """
    offered = {f"{f.key}.unit": f.units[0][0] for f in fields if f.units}
    made: dict[str, str] = {}
    for field in fields:
        what = answers.get("limit.of") or answers.get(f"{READINGS}.{HOW}", "")
        read = dict(field.follows).get(what, "")
        unit = answers.get(read) or offered.get(read, "")
        plain, _, _ = unit.partition(" (")  # against what it was read
        for one in (plain, unit):
            if one in dict(field.units):
                made[field.key] = one
    return made


def _others(visit: Visit) -> list[str]:
    """Return who else can record here."""
    with visit.desk.writer.reading() as log:
        known = [p.id for p in log.people() if p.revoked_seq is None and p.role.signs]
    return [one for one in dict.fromkeys(known) if one != visit.person.person]


_LOOKED_AT = frozenset({"bench_test", "readout"})
"""Kinds whose result is shown while the form is filled."""


def add(visit: Visit) -> Response:
    """Record the event that the answers make, or say what is wrong with them."""
    is_test = _asked_kind(visit) == "bench_test"
    if is_test and BUTTONS & {*visit.answers}:
        answers = tapped(visit)
        keep(replace(visit, answers=answers))
        return drawn(visit, answers)
    if "more" in visit.answers:
        return drawn(visit, visit.answers)
    made = filled(visit, visit.place["kind"])
    if made.problems:
        return drawn(visit, visit.answers, made.problems)
    try:
        done = visit.desk.take(visit, visit.order, [made.event], made.pictures)
    except CautionsDueError as error:
        return _to_cautions(visit, made.event, error)
    except InputError as error:
        return drawn(visit, visit.answers, (refused(error),))
    drop(visit)
    return see_other(path_of(visit.order, since=str(done.seqs[0])))


def _to_cautions(
    visit: Visit, event: Mapping[str, Json], error: CautionsDueError
) -> Response:
    """Lead to the cautions that a form lacks, or say why that would be no help."""
    if problem := no_help(visit, event, error):
        again = {k: v for k, v in visit.answers.items() if k != SENT}
        return drawn(visit, again, (problem,), lacks_cautions=True)
    lacking = ",".join(names(error))
    sent = {**visit.answers, SENT: f"{visit.desk.at()} {lacking}"}
    keep(replace(visit, answers=sent))
    work = {n: visit.answers[n] for n in (*_STEERING, "setup") if n in visit.answers}
    work |= {"kind": visit.place["kind"], "caution": lacking}
    return see_other(path_of(visit.order, "add", "caution", **work))


def refused(error: InputError) -> Problem:
    """Return what an order does not take as a problem of the whole form."""
    return Problem((), error.message, error.what_to_do)


@dataclass(frozen=True, slots=True)
class Filled:
    """The event that answers make, what is wrong with it, and pictures to keep."""

    event: dict[str, Json]
    problems: tuple[Problem, ...]
    pictures: Mapping[str, bytes]


def filled(visit: Visit, kind: str, more: Mapping[str, Json] = _NOTHING) -> Filled:
    """Return the event of a kind that a visit's answers make; ``more`` is known too."""
    desk = visit.desk
    who = {"at": desk.at(), "by": visit.person.person}
    said = without_lone_units(
        {k: v for k, v in visit.answers.items() if k not in _OURS}
    )
    found = given(visit, kind, said, who["at"])
    known = {**found.known, **more}
    if "order" in visit.place:
        opened = visit.answers.get("opened", "")
        for key, stands in _stands(visit, kind, said, opened).items():
            if not said.get(key):
                known.setdefault(key, stands.value)
    problems = problems_of(kind, found.answers, desk.catalogue, **who, known=known)
    event = event_of(kind, found.answers, desk.catalogue, **who, known=known)
    return Filled(desk.specified(event), problems, found.pictures)


def _stands(
    visit: Visit, kind: str, answers: Mapping[str, str], opened: str
) -> dict[str, Stands]:
    """Return by key what an empty answer of this form stands for."""
    order = visit.desk.standing(visit.order).so_far.order
    part = answers.get("part", "")
    return stands_for(kind, order, opened, part=part, by=visit.person.person)


def without_lone_units(answers: Mapping[str, str]) -> dict[str, str]:
    """Return answers without the unit and bound of a value that was not typed."""
    has_limit = any(answers.get(f"limit.{n}", "").strip() for n in _LIMITS)
    lone = {
        f"{key.removesuffix('.value')}.{part}"
        for key, text in answers.items()
        if key.endswith(".value") and not text.strip()
        for part in ("unit", "bound")
    }
    if not has_limit:
        lone.add("limit.unit")
    return {key: text for key, text in answers.items() if key not in lone}


def keep_draft(visit: Visit) -> Response:
    """Keep what was typed so far, and say when."""
    return draft_answer(lambda: keep(visit))


def draft_answer(keep: Callable[[], str]) -> Response:
    """Keep a draft by what returns the time, and say when; or why it was not kept."""
    try:
        told = f"Draft kept {keep()[11:16]}."
    except InputError as error:
        told = f"Draft not kept: {error.message}. What to do: {error.what_to_do}."
    return Response(told, media_type="text/plain")


def keep(visit: Visit) -> str:
    """Keep what was typed so far; return when."""
    kept = {k: v for k, v in visit.answers.items() if v and k != "more"}
    kept[_DRAFT_OF] = _draft_of(visit)
    at = visit.desk.at()
    who = visit.person.person
    order = visit.place.get("order", "")
    visit.desk.drafts.keep(Draft(who, order, visit.once, at, kept))
    return at


def kept_draft(visit: Visit, within: timedelta | None = None) -> Mapping[str, str]:
    """Return what this person typed into this form of this order, and did not send.

    Only what was typed ``within`` a time, where one is given. Raises InTheLog where it
    was sent, and recorded.
    """
    now = datetime.fromisoformat(visit.desk.at())
    for draft in visit.desk.drafts.of(visit.person.person):
        fields = draft.fields
        if draft.repair_order == visit.order and fields[_DRAFT_OF] == _draft_of(visit):
            drop_recorded(visit, draft, visit.order)
            if within and now - datetime.fromisoformat(draft.kept_at) > within:
                return {}
            return {k: v for k, v in fields.items() if k != _DRAFT_OF}
    return {}


def drop_recorded(visit: Visit, draft: Draft, order: str) -> None:
    """Raise InTheLog, and drop the draft, where the form of a draft is recorded."""
    if visit.desk.writer.recorded_as(order, draft.form):
        visit.desk.drafts.recorded(draft.person, draft.repair_order, draft.form)
        raise InTheLog(path_of(order, once=draft.form))


def drop(visit: Visit) -> None:
    """Forget the draft of a form: it is recorded."""
    visit.desk.drafts.recorded(visit.person.person, visit.order, visit.once)


def _draft_of(visit: Visit) -> str:
    """Return which form of an order this is: its kind, and what else steers it."""
    kind, said = visit.place["kind"], {**visit.asked, **visit.answers}
    return ":".join((kind, *(said.get(n, "") for n in _DRAFTED.get(kind, _STEERING))))
