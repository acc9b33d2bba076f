"""A repair order is opened: which vehicle, what the customer says, what it says."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING

from auditkit.bay.drafts import Draft
from auditkit.bay.earlier_visit import EarlierVisit, earlier_visit
from auditkit.bay.fields import fields_of
from auditkit.bay.filled import event_of, problems_of
from auditkit.bay.pages.draw import page
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
from auditkit.order.events import RepairOrder

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from starlette.responses import Response

    from auditkit.bay.field import Problem
    from auditkit.bay.pages.visit import Visit
    from auditkit.text.values import Json

_OURS = frozenset({"once", "order", "raw", "tool", "is_so"})
_READ = ("vehicle.vin", "vehicle.odometer", "vehicle.ignition")
_FROM_READOUT = "taken from a readout, if it says it; else needed"
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
    if "take" in visit.answers:
        return _asked(visit, _taken_over(visit))
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
    if odd := _went_back(visit, vin, opening):
        return _asked(visit, said, odd=odd)
    try:
        visit.desk.take(visit, order, [opening, readout] if readout else [opening])
    except InputError as error:
        return _asked(visit, said, (refused(error),))
    visit.desk.drafts.recorded(visit.person.person, "", visit.once)
    return see_other(path_of(order, since="0"))


def vin_told(visit: Visit) -> Response:
    """Say of a VIN while it is typed what is known of it."""
    vin = _vin_of(visit.answers)
    if not vin:
        return page("vin.html", told="", earlier=None)
    return page("vin.html", told=_vin(vin), earlier=_earlier(visit, vin))


def _vin(vin: str) -> str:
    odd = sorted({c for c in vin if c in "IOQ"})
    if odd:
        return f"A VIN has no {', '.join(odd)}: I and O are 1 and 0 there."
    if len(vin) != _LENGTH:
        return f"{len(vin)} of {_LENGTH} characters."
    if has_check_digit(vin):
        return "Check digit: fits."
    return "Check digit: does not fit: a slip, or a vehicle from where none is used."


def _vin_of(said: Mapping[str, str]) -> str:
    return said.get("vehicle.vin", "").upper().replace(" ", "")


def _earlier(visit: Visit, vin: str) -> EarlierVisit | None:
    """Return the last visit of the vehicle with a whole VIN; None where it had none."""
    if len(vin) != _LENGTH:
        return None
    with visit.desk.writer.reading() as log:
        for line in log.orders(vin=vin, most=1):
            events = [one.event for one in log.show(line.id).lines]
            return earlier_visit(RepairOrder.fold(line.id, events))
    return None


def _taken_over(visit: Visit) -> dict[str, str]:
    """Return the answers with what the last visit says where nothing is typed."""
    said = {k: text for k, text in visit.answers.items() if text.strip()}
    del said["take"]
    earlier = _earlier(visit, _vin_of(said))
    return {**(earlier.answers if earlier else {}), **said}


def _went_back(visit: Visit, vin: str, opening: Mapping[str, Json]) -> str:
    """Return what to look at again where the vehicle had gone further before."""
    vehicle = opening.get("vehicle")
    value = vehicle.get("odometer") if isinstance(vehicle, dict) else None
    earlier = _earlier(visit, vin)
    if earlier is None or visit.answers.get("is_so") or not earlier.is_above(value):
        return ""
    return (
        f"The odometer reads less than on {earlier.order} of {earlier.day}: "
        f"{earlier.odometer} then. Look again: a slip, another unit, another cluster?"
    )


def _is_said(said: Mapping[str, str], key: str) -> bool:
    return bool(said.get(key) or said.get(f"{key}.value"))


def _asked(
    visit: Visit,
    said: Mapping[str, str],
    problems: Iterable[Problem] = (),
    more: Mapping[str, str] | None = None,
    odd: str = "",
) -> Response:
    told = {".".join(p.path): f"{p.message}: {p.what_to_do}" for p in problems}
    told |= more or {}
    fields = fields_of("opening", visit.desk.catalogue)
    return visit.page(
        "opening.html",
        422 if told else 200,
        fields=fields,
        left_empty=dict.fromkeys(_READ, _FROM_READOUT)
        | {"vehicle.model_year": "the VIN says it"},
        form_values=said,
        problems=told,
        odd=odd,
        once=said.get("once") or secrets.token_urlsafe(16),
    )
