"""A repair order as a page: the argument first, the one next step, what happened."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote, urlencode

from starlette.responses import Response

from auditkit.bay.closed import as_closed
from auditkit.bay.fields import kinds_asked
from auditkit.bay.pages.visit import Visit, see_other
from auditkit.bay.told import asked_text, changed_lines, handed_over, state_text
from auditkit.errors import InputError
from auditkit.obd.code_table import row_of
from auditkit.obd.responders import module_in_words
from auditkit.order.event_kinds import schema_of
from auditkit.order.statement import DEFERS, fault_line
from auditkit.output.listings import happened_lines

if TYPE_CHECKING:
    from auditkit.bay.due_step import Step
    from auditkit.bay.pages.desk import Standing
    from auditkit.bay.so_far import Asked, FaultSoFar, SoFar
    from auditkit.order.catalogue import Catalogue
    from auditkit.text.values import Json

_BUTTONS = {
    "readout": "Read the vehicle",
    "diagnosis": "Name the suspects",
    "caution": "Read the caution",
    "bench_test": "Test it",
    "repair": "Record the repair",
    "code_clear": "Record the clear",
    "road_test": "Record the drive",
    "attachment": "Add a picture",
    "handover": "Hand over",
    "close": "Close the order",
    "amendment": "Look for the step to correct",
}

_LISTED = 60  # orders that are listed unasked; each is judged for its next step
_DIGITS = 18  # of an entry's number, and more than any log has
_NOT_RECORDED = "This was not recorded. Send it again."
PICTURES = "pictures"
"""What a link asks for that takes the pictures along."""


@dataclass(frozen=True, slots=True)
class AskedLine:
    """A question as a page shows it."""

    label: str
    stands: str
    state: str
    why: str
    what_to_do: str


def path_of(order: str, *rest: str, **asked: str) -> str:
    """Return the path of an order's page."""
    path = "/".join(("/orders", quote(order, safe=""), *rest))
    return f"{path}?{urlencode(asked)}" if asked else path


def step_path(order: str, step: Step) -> str:
    """Return the page on which a step is taken."""
    if step.kind == "close":
        return path_of(order, "close")
    if step.kind == "amendment":  # which step it is, a person sees in the list
        return f"{path_of(order)}#happened"
    if step.then is not None:
        work = dict(arguments(step.then))
        work = {n: work[n] for n in ("part", "method") if n in work}
        return path_of(order, "add", "caution", kind=step.then.kind, **work)
    return path_of(order, "add", step.kind, **dict(arguments(step)))


def arguments(step: Step) -> Iterator[tuple[str, str]]:
    """Yield what a step's command is given, by the key of the field that it fills."""
    words = iter(step.arguments[1:])
    for word in words:
        if word == "--set":
            key, _, value = next(words).partition("=")
            yield key, value
        elif word == "--raw":
            next(words)
        elif word.startswith("--"):
            yield word[2:].replace("-", "_"), next(words)
        else:
            yield step.kind, word


def show(visit: Visit) -> Response:
    """Show an order; with ``since`` what the entries from there on changed.

    With ``once`` whether the form of that id is in the log: its answer may not have
    come, where the bay was stopped.
    """
    once = visit.asked.get("once", "")
    entries = visit.desk.writer.recorded_as(visit.order, once) if once else ()
    if once and not entries and visit.desk.newest_entry(visit.order) < 0:
        return visit.page(
            "refused.html",
            heading=visit.order,
            message=_NOT_RECORDED,
            what_to_do="open the order, with the same form if it is still there",
        )
    standing = visit.desk.standing(visit.order)
    since = visit.asked.get("since", "")
    said: tuple[str, ...] = ()
    if since.isdecimal() and len(since) <= _DIGITS:
        said = _changed(visit, standing, int(since))
    elif once:
        which = ", ".join(map(str, entries))
        said = (f"This is in the log as entry {which}." if which else _NOT_RECORDED,)
    return visit.page("order.html", **{**values(visit, standing), "said": said})


def _changed(visit: Visit, standing: Standing, since: int) -> tuple[str, ...]:
    """Return what the entries from one on changed, and which they are."""
    entries = standing.entries_from(since)
    first = standing.logged.lines[0].seq
    if not entries:
        return ()
    changed: list[str] = []
    if entries[0] > first:
        before = visit.desk.standing(visit.order, before=entries[0])
        lines = changed_lines(before.so_far, standing.so_far)
        changed = [line for line in lines if ": later" not in line]
    told = f"Recorded as entry {', '.join(map(str, entries))}."
    return (*changed, told)


def argument(visit: Visit) -> Response:
    """Answer 204 while nothing was added, else the argument anew: asked each second."""
    newest = visit.desk.newest_entry(visit.order)
    if visit.asked.get("entry") == str(newest):
        return Response(status_code=204)
    standing = visit.desk.standing(visit.order)
    return visit.page("argument_alone.html", **values(visit, standing))


def values(visit: Visit, standing: Standing) -> dict[str, object]:
    """Return what the templates of an order show."""
    found, order = standing.so_far, visit.order
    step = standing.next_step(visit.desk.at(), visit.person.person)
    is_closed = standing.verdict is not None
    is_done = is_closed and not found.judgement.is_waiting
    if is_done:
        found = as_closed(found)
    return {
        "order": order,
        "entry": standing.last_entry,
        "vehicle": found.order.vehicle("description") or found.order.vehicle("vin"),
        "state": state_text(found, standing.verdict),
        "faults": [_fault(found, one) for one in found.faults],
        "whole": [_asked(found, one) for one in found.asked],
        "handed": handed_over(found),
        "step": step,
        "is_done": is_done,
        "step_path": step_path(order, step),
        "step_button": _BUTTONS.get(step.kind, "Go on"),
        "kinds": list(_kinds(order, visit.desk.catalogue, is_done=is_done)),
        "happened": list(_happened(standing, visit)),
        "packet_path": path_of(order, "packet") if is_closed else "",
        "receipt_path": path_of(order, "receipt") if is_closed else "",
        "with_pictures": f"?{PICTURES}=yes" if found.order.of("attachment") else "",
        "defers": DEFERS,
        "said": (),
    }


def _fault(found: SoFar, one: FaultSoFar) -> dict[str, object]:
    fault = one.fault
    code, _, module = fault.subject.partition("@")
    where = f" ({module_in_words(module)})" if module else ""
    note = ""
    if fault.set_aside is not None:
        note = fault_line(fault, None)
    elif not one.is_named:
        note = "Reported, and no diagnosis speaks of it."
    return {
        "heading": f"{code}{where}: {row_of(code).meaning}",
        "note": note,
        "asked": [_asked(found, asked) for asked in one.asked],
        "suspects": [(s.part.name or s.part.id, str(s.state)) for s in one.suspects],
    }


def _asked(found: SoFar, asked: Asked) -> AskedLine:
    label, _, said = asked_text(found, asked).partition(": ")
    state, _, why = said.partition(": ")
    missing = asked.stands == "not-shown" and bool(asked.answer.what_to_do)
    return AskedLine(
        label,
        asked.stands,
        state,
        why,
        asked.answer.what_to_do[0] if missing else "",
    )


def _kinds(
    order: str, catalogue: Catalogue, *, is_done: bool
) -> Iterator[tuple[str, str]]:
    for kind in kinds_asked(catalogue):
        if kind in {"opening", "amendment", "self_test"}:
            continue  # begun once; from an entry; a readout's typed form has it
        title = str(schema_of(kind, catalogue.events).get("title", ""))
        name = kind_in_words(kind)
        yield f"{name}: {title[:1].lower()}{title[1:]}", path_of(order, "add", kind)
    if not is_done:
        yield "Close: the order, as it stands", path_of(order, "close")


def kind_in_words(kind: str) -> str:
    """Return what a kind of event is called: ``bench_test`` is Bench test."""
    return kind.replace("_", " ").capitalize()


def _happened(standing: Standing, visit: Visit) -> Iterator[dict[str, str]]:
    events = standing.so_far.order.events
    lines = happened_lines(standing.logged, visit.desk.catalogue, events)
    for told, logged in zip(lines, reversed(standing.logged.lines), strict=True):
        yield {
            "told": " · ".join(map(str.strip, told.split("\n"))),
            "correct_path": path_of(visit.order, "correct", str(logged.seq))
            if _is_corrected_here(logged.event)
            else "",
        }


def _is_corrected_here(event: Mapping[str, Json]) -> bool:
    """Return whether a person wrote it: what a vehicle sent is read again."""
    kind = event.get("kind")
    return kind not in {"verdict", "amendment"} and (
        kind != "readout" or "typed" in event
    )


def home(_: Visit) -> Response:
    """Lead to the orders."""
    return see_other("/orders")


def find(visit: Visit) -> Response:
    """List the repair orders that are open or wait; or those that are looked for.

    Of many that are open those begun last, unless ``all`` are asked for.
    """
    sought = visit.asked.get("find", "").strip()
    if sought:
        groups, is_cut = [("Found", visit.desk.found(sought))], False
    else:
        most = None if "all" in visit.asked else _LISTED
        open_, waiting, is_cut = visit.desk.open_orders(most)
        groups = [("Open", open_), ("Waiting for a later readout", waiting)]
    return visit.page(
        "orders.html",
        find=sought,
        groups=[
            (t, [_row(visit, o) for o in orders]) for t, orders in groups if orders
        ],
        most=_LISTED if is_cut else 0,
    )


def _row(visit: Visit, order: str) -> dict[str, str]:
    try:
        standing = visit.desk.standing(order)
    except InputError as error:
        return {"id": order, "vehicle": "", "sentence": str(error)}
    found = standing.so_far
    step = standing.next_step(visit.desk.at(), visit.person.person)
    is_done = standing.verdict is not None and not found.judgement.is_waiting
    sentence = " ".join(filter(None, (handed_over(found), step.sentence)))
    return {
        "id": order,
        "vehicle": found.order.vehicle("description") or found.order.vehicle("vin"),
        "sentence": state_text(found, standing.verdict) if is_done else sentence,
    }
