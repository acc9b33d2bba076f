"""A form whose cautions are not in force: which are read next, or why that is no help.

A form leads to its cautions and they lead back to it. Where that would change nothing,
the form says so instead.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING

from auditkit.bay.field import Problem
from auditkit.bay.left_empty import stands_for
from auditkit.bay.supposed import with_event
from auditkit.order.hazards import begins
from auditkit.text.moment import is_time

if TYPE_CHECKING:
    from auditkit.bay.one_step import CautionsDueError
    from auditkit.bay.pages.visit import Visit
    from auditkit.text.values import Json

SENT = "sent_to_cautions"
"""Answer of a form that led to cautions: when, and the names of those."""
_DONE = "if it was done without them, tick that below: it is recorded, and that its "
_NOT_SHOWN = "hazards were met stays not shown"


def names(error: CautionsDueError) -> list[str]:
    """Return the cautions that a step lacks, by name, each once."""
    return [*dict.fromkeys(due.caution.id for due in error.due)]


def no_help(
    visit: Visit, event: Mapping[str, Json], error: CautionsDueError
) -> Problem | None:
    """Return what a form says where reading its cautions now would change nothing.

    The work was begun before, or they were acknowledged since the form led to them.
    """
    order = visit.desk.standing(visit.order).so_far.order
    said = visit.answers
    empty = stands_for(str(event["kind"]), order, said.get("opened", ""))
    told = {k: v for k, v in event.items() if k not in empty or said.get(k)}
    step = with_event(order, told).events[-1]
    if (began := begins(step)) < step.at:
        return Problem(
            (),
            error.message,
            f"the work began {began:%H:%M}, and what is acknowledged now comes after "
            "that: acknowledge them (on the order's page, Something else happened: "
            f"Caution) and do it again, or correct when it began; {_DONE}{_NOT_SHOWN}",
        )
    at, _, sent = said.get(SENT, "").partition(" ")
    if not is_time(at):
        return None
    since = datetime.fromisoformat(at)
    seen = {
        one.text("caution")
        for one in order.of("caution")
        if one.by == step.by
        and one.at >= since
        and one.object("step").get("part", "") in ("", step.text("part"))
    }
    if not set(names(error)) <= seen & set(sent.split(",")):
        return None
    return Problem(
        (),
        f"they were acknowledged, and yet {error.message}",
        f"mend what is said of each and send this again to read them again; {_DONE}"
        f"{_NOT_SHOWN}",
    )
