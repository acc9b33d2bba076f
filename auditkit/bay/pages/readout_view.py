"""The vehicle is read: live over a cable, from a file, as pasted text, or typed."""

from __future__ import annotations

import json
import secrets
from dataclasses import replace
from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING

from auditkit.bay.display_answers import (
    NOT_SHOWN,
    NOTHING,
    THESE,
    at_odds,
    holds_values,
    layout_of,
    left_out,
)
from auditkit.bay.field import HOW, Problem
from auditkit.bay.fields import fields_of
from auditkit.bay.left_empty import OWN
from auditkit.bay.odd_typed import odd_typed
from auditkit.bay.pages import form_view
from auditkit.bay.pages.given import (
    KEPT_RAW,
    last_readout,
    last_tool,
    picture_members,
    raw,
)
from auditkit.bay.pages.look_view import Told, readout_told
from auditkit.bay.pages.order_view import path_of, values
from auditkit.bay.pages.visit import Visit, see_other
from auditkit.capture.interface import CAUTION
from auditkit.errors import InputError
from auditkit.obd.monitors import mid_names, monitor_in_words, monitor_names
from auditkit.order.events import Event, RepairOrder
from auditkit.order.self_test_evidence import readout_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from starlette.responses import Response

    from auditkit.bay.field import Field
    from auditkit.text.values import Json

_WAYS = {
    "live": "Live",
    "file": "From a file",
    "paste": "Paste",
    "typed": "Typed from a display",
}
PICTURES = (
    ("codes", "display: codes and lamp"),
    ("readiness", "display: readiness"),
    ("self-tests", "display: self-tests"),
    ("counts", "display: VIN and counts"),
)
"""The groups of which a photograph is asked: name, and what it shows."""
_CHOICES = (
    (NOTHING, "none"),
    (THESE, "these"),
    (NOT_SHOWN, "not shown"),
    ("", "not asked"),
)


def show(visit: Visit) -> Response:
    """Ask how the vehicle is read; a draft comes back."""
    visit = _placed(visit)
    draft = form_view.kept_draft(visit)
    way = visit.asked.get("way") or draft.get("way") or _first(visit)
    answers = {**visit.asked, **draft, "way": way}
    if way == "typed" and not any(k.startswith("typed.") for k in draft):
        answers |= _layout(visit)
    return _asked(visit, answers)


def add(visit: Visit) -> Response:
    """Record what was read; first show what a file holds, and ask what seems odd."""
    visit = _placed(visit)
    said = visit.answers
    if "more" in said:
        return _asked(visit, said)
    if said.get("show"):
        return _shown(visit)
    empty = [_does_not_agree(key) for key in at_odds(said)]
    made = form_view.filled(visit, "readout")
    if empty or made.problems:
        return _asked(visit, said, (*empty, *made.problems))
    event = Event(0, made.event)
    order = visit.desk.standing(visit.order).so_far.order
    odd: tuple[str, ...] = ()
    if not event.text("raw"):
        left = (
            f"{name}: nothing is written, and it is left out"
            for name in left_out(said, _layout(visit))
        )
        odd = (*odd_typed(event, order), *left)
    if odd and said.get("is_so") != "yes":
        return _asked(visit, said, odd=odd)
    pictures = dict(made.pictures)
    attached: list[dict[str, Json]] = []
    try:
        for name, shows in PICTURES:
            if found := visit.files.get(f"picture.{name}"):
                members, kept = picture_members(*found)
                pictures |= kept
                who = {n: made.event[n] for n in ("at", "by")}
                attached.append(
                    {"kind": "attachment", **who, **members, "shows": shows}
                )
        done = visit.desk.take(visit, visit.order, [made.event], pictures, attached)
    except InputError as error:
        return _asked(visit, said, (form_view.refused(error),))
    visit.desk.drafts.recorded(visit.person.person, visit.order, visit.once)
    return see_other(path_of(visit.order, since=str(done.seqs[0])))


def _shown(visit: Visit) -> Response:
    """Show what a file holds, with its text in the form that records it."""
    try:
        read = raw(visit, visit.answers)
    except InputError as error:
        return _asked(
            visit, visit.answers, (replace(form_view.refused(error), path=("raw",)),)
        )
    if read is None:
        lacks = Problem(("raw",), "Its file: none was chosen", "choose it")
        return _asked(visit, visit.answers, (lacks,))
    said = {k: v for k, v in visit.answers.items() if k not in {"show", "raw"}}
    return _asked(visit, {**said, KEPT_RAW: json.dumps(read[0])})


def _asked(
    visit: Visit,
    said: Mapping[str, str],
    problems: Iterable[Problem] = (),
    odd: tuple[str, ...] = (),
) -> Response:
    way = said.get("way") or _way_of(said)
    standing = visit.desk.standing(visit.order)
    order = standing.so_far.order
    by_key = {f.key: f for f in fields_of("readout", visit.desk.catalogue)}
    told = {".".join(p.path): f"{p.message}: {p.what_to_do}" for p in problems}
    said = {"tool": last_tool(visit), **said}
    return visit.page(
        "readout.html",
        422 if told else 200,
        **values(visit, standing),
        way=way,
        ways=[
            (name, words, path_of(visit.order, "add", "readout", way=name))
            for name, words in _WAYS.items()
        ],
        by_key=by_key,
        inner=_inner(by_key["typed.modules"]),
        counts=[f for f in by_key.values() if f.key.startswith("typed.counts.")],
        pictures=PICTURES,
        choices=_CHOICES,
        form_values=said,
        problems=told,
        odd=odd,
        holds=readout_told(visit, said) if said.get(KEPT_RAW) else None,
        once=said.get("once") or secrets.token_urlsafe(16),
        action=path_of(visit.order, "add", "readout"),
        look_path=path_of(visit.order, "look", "readout"),
        draft_path=path_of(visit.order, "draft", "readout"),
        before_reading=CAUTION,
        has_before=bool(_layout(visit)),
        opened=partial(_is_open, order, said, told),
        has_begun=way != "typed" or holds_values(said, "typed"),
        monitor_names=_monitor_names(order),
        mid_names=mid_names(),
        **live_values(visit),
    )


_ASKED_AFTER = (".self_tests", "typed.counts")
"""Groups that the questions rest on which come after the repair."""


def _is_open(
    order: RepairOrder, said: Mapping[str, str], told: Mapping[str, str], key: str
) -> bool:
    """Return whether a group of a typed form stands open: it is filled, or due.

    What was typed, or is amiss, or of what a row more was asked for; what the display
    showed the last time; and after the repair what its questions rest on.
    """
    if said.get(f"{key}.{HOW}") == NOT_SHOWN:
        return key in told
    asked = (*told, said.get("more", ""))
    if holds_values(said, key) or any(f"{one}.".startswith(f"{key}.") for one in asked):
        return True
    if key.endswith(_ASKED_AFTER) and order.of("repair"):
        return True
    last = next(iter(reversed(order.of("readout"))), None)
    typed = last.object("typed") if last else {}
    if key == "typed.counts":
        return bool(typed.get("counts"))
    return bool(typed) and any(k.startswith(f"{key}.") and t for k, t in said.items())


def _monitor_names(order: RepairOrder) -> tuple[tuple[str, str], ...]:
    """Return what may be typed, each with its words, by what the opening ignites by."""
    ignition = order.vehicle("ignition")
    is_compression = ignition == "compression" if ignition else None
    names = monitor_names(compression=is_compression)
    return tuple((name, monitor_in_words(name)) for name in names)


def _inner(modules: Field) -> dict[str, Field]:
    return {field.key: field for field in modules.fields}


def _layout(visit: Visit) -> dict[str, str]:
    """Return what of the readout before a typed form begins with: no value."""
    last = last_readout(visit)
    if last is None:
        return {}
    return layout_of(last.object("typed"), readout_of(last))


def _does_not_agree(key: str) -> Problem:
    group = key.rpartition(".")[2].replace("_", "-")
    return Problem(
        tuple(key.split(".")),
        f"{group}: what is chosen and what is written do not agree",
        "choose these and write them; or empty it, and choose that there was none or "
        "that this display does not show it",
    )


def _first(visit: Visit) -> str:
    return "live" if visit.desk.live.cables else "file"


def _way_of(said: Mapping[str, str]) -> str:
    is_typed = said.get(HOW) == "typed" or any(k.startswith("typed.") for k in said)
    if is_typed:
        return "typed"
    return "file" if said.get(KEPT_RAW) else "paste"


def _placed(visit: Visit) -> Visit:
    """Return a visit as one of the forms by kind."""
    return replace(visit, place={**visit.place, "kind": "readout"})


# Live


def begin(visit: Visit) -> Response:
    """Begin to read over a cable; what comes is recorded when it ends."""
    from auditkit.bay.live_readout import finish

    desk, order = visit.desk, visit.order
    desk.standing(order)  # which says what orders there are
    hands = desk.hands(visit.person)
    cable = visit.answers.get("cable", "")
    desk.live.begin(
        cable,
        (order, hands.person, desk.at()),
        finish(desk.writer, order, hands, f"{OWN}{cable}"),
    )
    return see_other(path_of(order, "add", "readout", way="live"))


def stop(visit: Visit) -> Response:
    """Ask nothing more; what came is kept and recorded."""
    if found := visit.desk.live.of(visit.order):
        found.stop()
        found.wait()
    return see_other(path_of(visit.order, "add", "readout", way="live"))


def watch(visit: Visit) -> Response:
    """Return how far the reading is."""
    return visit.page(
        "live.html",
        order=visit.order,
        once=secrets.token_urlsafe(16),
        **live_values(visit),
    )


def _cables(visit: Visit) -> dict[str, str]:
    """Return each cable's name, and when what an invented vehicle says can be so."""
    clears = visit.desk.standing(visit.order).so_far.order.of("code_clear")
    notes: dict[str, str] = {}
    for name, cable in visit.desk.live.cables.items():
        said = f"It says that it ran for {cable.minutes} minutes since a clear: "
        if not cable.minutes:
            notes[name] = ""
        elif clears:
            since = clears[-1].at + timedelta(minutes=cable.minutes + 1)
            notes[name] = f"{said}read it from {since:%H:%M} on, it is believed then."
        else:
            notes[name] = f"{said}it is believed that long after one was recorded."
    return notes


def live_values(visit: Visit) -> dict[str, object]:
    """Return what the template of a reading shows; no reading where there is none."""
    from auditkit.bay.live_readout import asked_lines, request_in_words

    found = visit.desk.live.of(visit.order)
    if found is None:
        return {
            "cables": _cables(visit),
            "live_path": path_of(visit.order, "live"),
            "reading": None,
            "asked_lines": (),
            "told": Told(),
            "done_path": "",
        }
    got = found.captured
    done = ""
    told = Told()
    if got is not None:
        told = readout_told(visit, {"raw": got.text}, found.entries)
        told = replace(told, brief=(*got.notes, *told.brief))
    if found.entries:
        done = path_of(visit.order, since=str(found.entries[0]))
    return {
        "cables": _cables(visit),
        "live_path": path_of(visit.order, "live"),
        "reading": found,
        "kept_raw": json.dumps(got.text) if got and not found.entries else "",
        "own_tool": f"{OWN}{found.cable.name}",
        "add_path": path_of(visit.order, "add", "readout"),
        "request_in_words": request_in_words,
        "asked_lines": asked_lines(found.asked),
        "told": told,
        "done_path": done,
    }
