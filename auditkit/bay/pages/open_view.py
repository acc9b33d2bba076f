"""A repair order is opened: which vehicle, what the customer says, what it says."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING

from auditkit.bay.drafts import Draft
from auditkit.bay.fields import fields_of
from auditkit.bay.filled import event_of, problems_of
from auditkit.bay.pages.form_view import (
    draft_answer,
    drop_recorded,
    refused,
    without_lone_units,
)
from auditkit.bay.pages.given import raw
from auditkit.bay.pages.order_view import path_of
from auditkit.bay.pages.visit import see_other
from auditkit.bay.read_vehicle import of_vehicle, readout_members
from auditkit.errors import InputError
from auditkit.obd.vin import has_check_digit, is_well_formed, model_year

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from starlette.responses import Response

    from auditkit.bay.field import Problem
    from auditkit.bay.pages.visit import Visit
    from auditkit.text.values import Json

_OURS = frozenset({"once", "order", "raw", "tool"})
_READ = ("vehicle.vin", "vehicle.odometer", "vehicle.ignition")
_LENGTH = 17  # characters of a VIN (ISO 3779)


def show(visit: Visit) -> Response:
    """Ask for the vehicle and the complaint; what was typed comes back."""
    for draft in visit.desk.drafts.of(visit.person.person):
        if not draft.repair_order:
            drop_recorded(visit, draft, draft.fields.get("order", "").strip())
            return _asked(visit, draft.fields)
    return _asked(visit, {})


def keep_draft(visit: Visit) -> Response:
    """Keep what was typed so far, and say when."""

    def keep() -> str:
        at, who = visit.desk.at(), visit.person.person
        kept = {k: v for k, v in visit.answers.items() if v}
        visit.desk.drafts.keep(Draft(who, "", visit.once, at, kept))
        return at

    return draft_answer(keep)


def open_order(visit: Visit) -> Response:
    """Open the order, with its first readout where one was given."""
    said = without_lone_units(visit.answers)
    order = said.get("order", "").strip()
    who = {"at": visit.desk.at(), "by": visit.person.person}
    answers = {k: v for k, v in said.items() if k not in _OURS}
    known: dict[str, Json] = {"shop": visit.desk.shop}
    readout: dict[str, Json] = {}
    told: dict[str, str] = {}
    try:
        if read := raw(visit, said):
            known |= {k: v for k, v, _ in of_vehicle(read[1]) if not _is_said(said, k)}
            members, _ = readout_members(
                *read, who["at"], {"tool": said.get("tool", "")}, None
            )
            readout = {"kind": "readout", **who, **members}
    except InputError as error:
        place = "tool" if error.where == "--tool" else "raw"
        told[place] = f"{error.message}: {error.what_to_do}"
    vin = str(known.get("vehicle.vin") or said.get("vehicle.vin", "")).upper()
    year = model_year(vin) if is_well_formed(vin) else None
    if year is not None and not said.get("vehicle.model_year"):
        known["vehicle.model_year"] = year
    kinds = visit.desk.catalogue
    if not order:
        told["order"] = "Order number: no answer: write the shop's job number"
    problems = problems_of("opening", answers, kinds, **who, known=known)
    if problems or told:
        return _asked(visit, said, problems, told)
    opening = event_of("opening", answers, kinds, **who, known=known)
    try:
        visit.desk.take(visit, order, [opening, readout] if readout else [opening])
    except InputError as error:
        return _asked(visit, said, (refused(error),))
    visit.desk.drafts.drop(visit.person.person, "", visit.once)
    return see_other(path_of(order, since="0"))


def vin_told(visit: Visit) -> Response:
    """Say of a VIN while it is typed what is known of it."""
    from starlette.responses import PlainTextResponse

    vin = visit.answers.get("vehicle.vin", "").upper().replace(" ", "")
    return PlainTextResponse(_vin(visit, vin) if vin else "")


def _vin(visit: Visit, vin: str) -> str:
    odd = sorted({c for c in vin if c in "IOQ"})
    if odd:
        return f"A VIN has no {', '.join(odd)}: I and O are 1 and 0 there."
    if len(vin) != _LENGTH:
        return f"{len(vin)} of {_LENGTH} characters."
    fits = "fits" if has_check_digit(vin) else "does not fit: a slip, or a vehicle "
    if not has_check_digit(vin):
        fits += "from where none is used"
    with visit.desk.writer.reading() as log:
        before = [line.id for line in log.orders(vin=vin)]
    here = f" Here before: {', '.join(before)}." if before else ""
    return f"Check digit: {fits}.{here}"


def _is_said(said: Mapping[str, str], key: str) -> bool:
    return bool(said.get(key) or said.get(f"{key}.value"))


def _asked(
    visit: Visit,
    said: Mapping[str, str],
    problems: Iterable[Problem] = (),
    more: Mapping[str, str] | None = None,
) -> Response:
    told = {".".join(p.path): f"{p.message}: {p.what_to_do}" for p in problems}
    told |= more or {}
    fields = fields_of("opening", visit.desk.catalogue)
    return visit.page(
        "opening.html",
        422 if told else 200,
        fields=fields,
        left_empty=dict.fromkeys(_READ, "the readout says it")
        | {"vehicle.model_year": "the VIN says it"},
        form_values=said,
        problems=told,
        once=said.get("once") or secrets.token_urlsafe(16),
    )
