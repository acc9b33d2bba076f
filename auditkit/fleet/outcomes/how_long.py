"""How long repairs hold: by days, by distance, and where vehicles leave for good.

Pure but for ``ask``.
"""

from __future__ import annotations

from auditkit.fleet.audited import Chart, Column, Section, Table
from auditkit.fleet.outcomes.curves import (
    Clock,
    Named,
    chart,
    marks_of,
    share_at,
    table,
    told_at,
)
from auditkit.fleet.outcomes.strata import read_work
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import between, counted, in_100, percent
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.followed import Ending, comebacks, total
from auditkit.fleet.statistics.incidence import Ended, incidence

_STATES = """SELECT CAST(state AS VARCHAR), count(*) FROM followed_fault
    GROUP BY state ORDER BY state"""
_KM = """SELECT km, count(*) FILTER (came_back_km), count(*) FILTER (NOT came_back_km),
        count(*) FILTER (NOT km_is_read)
    FROM followed_fault WHERE state = 'followed' AND km IS NOT NULL
    GROUP BY km ORDER BY km"""
_LEFT = """SELECT days, CASE WHEN came_back THEN 1 WHEN left_view THEN 2 ELSE 0 END,
        count(*)
    FROM followed_fault WHERE state = 'followed' GROUP BY ALL ORDER BY ALL"""
_ALL = "all shops"


def how_long(ask: Ask, settings: Settings) -> Part:
    """Tell what share of repairs holds for how long, and how far."""
    work = read_work(ask)
    days = work.all_of(work.of_shop)
    clock = Clock("days", settings.horizon_days)
    said = [*_answer(days, settings), *_left_out(ask)]
    named = Named("holds_by_days", "How long repairs hold, by days")
    drawn: list[Chart | None] = [chart(named, {_ALL: days}, settings, clock)]
    tables = [table(named, {_ALL: days}, settings, clock, "shops")]
    found = ask(_KM)
    if found:
        km = tuple(Ending(along, back, others) for along, back, others, _ in found)
        far = Clock("km", settings.horizon_km)
        estimated = sum(row[3] for row in found)
        said.append(
            f"By distance: {told_at(km, far.horizon, settings) or 'too few'} for "
            f"{far.horizon:,} km, of {counted(total(km), 'repair')} with an odometer. "
            f"For {estimated:,} of them the distance is not read but estimated by how "
            "far the vehicle usually drives."
        )
        named = Named("holds_by_km", "How far repairs hold, by distance")
        drawn.append(chart(named, {_ALL: km}, settings, far))
        tables.append(table(named, {_ALL: km}, settings, far, "shops"))
    said += _of_all(ask, tables, clock.horizon)
    return Part(
        Section(
            "how_long",
            "How long repairs hold",
            tuple(said),
            tuple(tables),
            tuple(one for one in drawn if one is not None),
        )
    )


def _answer(days: tuple[Ending, ...], settings: Settings) -> list[str]:
    found = share_at(days, settings.horizon_days, settings)
    head = f"{counted(total(days), 'repair')} that could be followed"
    if found is None or comebacks(days) < settings.least_events:
        return [
            (
                f"{head}, with {counted(comebacks(days), 'comeback')} at a later visit "
                f"within {settings.horizon_days} days: too few to tell how long "
                "repairs hold."
            )
        ]
    share, low, high = found
    return [
        (
            f"Of {head}, {in_100(share)} held for {settings.horizon_days} days "
            f"(95 % interval: {between(low, high)})."
        )
    ]


def _left_out(ask: Ask) -> list[str]:
    states = {state: int(count) for state, count in ask(_STATES)}
    said = []
    if lost := states.get("no VIN", 0):
        said.append(
            f"{counted(lost, 'repair')} could not be followed: no VIN is given there."
        )
    if lost := states.get("no time", 0):
        said.append(
            f"{counted(lost, 'repair')} could not be followed: no time, or one after "
            "the last record here."
        )
    if other := states.get("not in the register", 0):
        said.append(
            f"{counted(other, 'repair')} of vehicles that the register does not name "
            "at that time are left out."
        )
    if ask("SELECT count(*) FROM vehicle_in_view") == [(0,)]:
        said.append(
            "No register of vehicles was given, so each is taken to be in view until "
            "the last record here: vehicles that left unseen make this look better "
            "than it is."
        )
    return said


def _of_all(ask: Ask, tables: list[Table], horizon: int) -> list[str]:
    """Tell how many of all come back where vehicles leave for good; add its table."""
    found = [(time, Ended(ended), count) for time, ended, count in ask(_LEFT)]
    left = sum(count for _, ended, count in found if ended is Ended.LEFT)
    steps = incidence(found)
    if not left or not steps:
        return []
    tables.append(
        Table(
            name="share_of_all",
            title="Of all repairs, come back by then",
            columns=(
                Column("until", "until", "days"),
                Column("share", "of all repairs came back", "%", 2),
            ),
            rows=tuple(
                (until, percent(max((s for t, s in steps if t <= until), default=0.0)))
                for until in marks_of(horizon)
            ),
            note="Vehicles that left for good cannot come back (Aalen and Johansen).",
        )
    )
    return [
        (
            f"Counting also the {counted(left, 'repair')} whose vehicle left for good, "
            f"{in_100(steps[-1][1])} of all repairs came back within {horizon} days."
        )
    ]
