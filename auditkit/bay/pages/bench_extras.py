"""What a bench test's form has beside its fields: earlier limits, and a hold timer."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING

from starlette.responses import PlainTextResponse

from auditkit.bay.bench_rows import GOOD
from auditkit.bay.hold_timer import TAP, HoldTimer
from auditkit.bay.pages.order_view import path_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from starlette.responses import Response

    from auditkit.bay.field import Field
    from auditkit.bay.pages.visit import Visit

BUTTONS = frozenset({"timer", "take", "good"})
"""Buttons of a bench test's form that draw it anew, and record nothing."""
_OFFERED = 3
_LIMIT = ("minimum", "maximum", "unit", "of", "source")


def extras(
    visit: Visit, said: Mapping[str, str], fields: Sequence[Field]
) -> dict[str, object]:
    """Return what the template of a bench test shows beside its fields."""
    timers = []
    for field in fields:
        if field.timed:
            timer = _timer(visit, said, field.key)
            timers.append(
                {
                    "key": field.key,
                    "label": field.label,
                    "since": timer.since()[11:19],
                    "seconds": timer.seconds(visit.desk.at()),
                    "path": path_of(
                        visit.order,
                        "timer",
                        of=timer.of,
                    ),
                }
            )
    twins = {f.key.removeprefix(f"{GOOD}."): f for f in fields if f.path[0] == GOOD}
    is_beside = bool(said.get("beside")) or any(
        text and key.startswith(f"{GOOD}.") and not key.endswith((".unit", ".bound"))
        for key, text in said.items()
    )
    return {
        "timers": timers,
        "limits": _limits(visit, said),
        "twins": twins,
        "is_beside": is_beside and bool(twins),
    }


def _limits(visit: Visit, said: Mapping[str, str]) -> list[dict[str, str]]:
    """Return limits that earlier orders used for this part and method."""
    part, method = said.get("part", ""), said.get("method", "")
    found: list[dict[str, str]] = []
    with visit.desk.writer.reading() as log:
        used = visit.desk.limits.found(log, part, method, but=visit.order)
        for one in islice(used, _OFFERED):
            limit = dict(one.limit)
            least, most = limit.get("minimum"), limit.get("maximum")
            words = [
                f"at least {least}" if least else "",
                f"at most {most}" if most else "",
            ]
            found.append(
                {
                    "value": f"{one.order}:{one.place}",
                    "words": " and ".join(filter(None, words)),
                    "unit": limit.get("unit", ""),
                    "of": limit.get("of", ""),
                    "source": limit.get("source", ""),
                    "order": one.order,
                    "vehicle": one.vehicle,
                    "day": one.day,
                    **{f"limit.{n}": limit.get(n, "") for n in _LIMIT},
                }
            )
    return found


def tapped(visit: Visit) -> dict[str, str]:
    """Return the answers after a tap on a timer, or on an earlier limit."""
    said = {k: text for k, text in visit.answers.items() if text.strip()}
    if chosen := said.pop("take", ""):
        for limit in _limits(visit, said):
            if limit["value"] == chosen:
                said |= {n: t for n, t in limit.items() if n.startswith("limit.")}
    if said.pop("good", ""):
        said["beside"] = "yes"
    what, _, key = said.pop("timer", "").partition(":")
    if not key:
        return said
    timer, at = _timer(visit, said, key), visit.desk.at()
    if what == "start":
        timer.start(at)
    elif what == "stop" and timer.since():
        said |= {f"{key}.value": str(timer.seconds(at)), f"{key}.unit": "s"}
        error = f"conditions.uncertainty of {key.rpartition('.')[2]}"
        if not said.get(f"{error}.value"):
            value, unit = TAP.split()
            said |= {f"{error}.value": value, f"{error}.unit": unit}
        timer.stop()
    return said


def runs(visit: Visit) -> Response:
    """Return how long a timer ran, in minutes and seconds."""
    of = visit.asked.get("of", "")
    timer = HoldTimer(visit.desk.drafts, visit.person.person, visit.order, of)
    if not timer.since():
        return PlainTextResponse("")
    minutes, seconds = divmod(timer.seconds(visit.desk.at()), 60)
    return PlainTextResponse(f"{minutes:02}:{seconds:02}")


def _timer(visit: Visit, said: Mapping[str, str], key: str) -> HoldTimer:
    of = ":".join((said.get("part", ""), said.get("method", ""), key))
    return HoldTimer(visit.desk.drafts, visit.person.person, visit.order, of)
