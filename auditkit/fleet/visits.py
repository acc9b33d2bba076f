"""One vehicle's visits: what was found, repaired and tested where, and what came back.

Pure but for ``ask``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise

from auditkit.fleet.audited import (
    Audit,
    Cell,
    Chart,
    Column,
    Line,
    Scale,
    Section,
    Span,
    Style,
    Table,
)
from auditkit.fleet.made_from import made_from
from auditkit.fleet.outcomes.came_back import at_module
from auditkit.fleet.part import Ask
from auditkit.fleet.phrases import counted
from auditkit.fleet.settings import Settings

_VISITS = """SELECT o.order_id, o.shop, o.order_no, o.opened_at,
        coalesce(o.closed_at, o.last_repair_at, o.opened_at), o.odometer_m,
        CAST(o.verdict AS VARCHAR), lower(hex(p.sha256)), coalesce(o.offset_min, 0),
        o.is_incomplete
    FROM counted_order o JOIN packet p USING (packet_id) WHERE o.vin = ?
    ORDER BY o.opened_at NULLS LAST, o.order_id"""
_FAULTS = """SELECT o.order_id, f.module, f.code, f.fault_group, f.is_addressed,
        f.set_aside_because, CAST(f.verdict AS VARCHAR), r.came_back, r.days,
        b.order_no, b.shop
    FROM counted_order o JOIN fault f USING (order_id)
    LEFT JOIN followed_fault r USING (order_id, module, code)
    LEFT JOIN counted_order b ON b.order_id = r.back_order_id AND r.came_back
    WHERE o.vin = ? ORDER BY o.opened_at NULLS LAST, o.order_id, f.module, f.code"""
_EVENTS = """SELECT CASE WHEN e.kind = 'readout' AND t.seq IS NOT NULL
            THEN 'self_test' ELSE e.kind END AS kind,
        coalesce(e.happened_at, e.recorded_at) AS claimed,
        coalesce(e.not_before, e.recorded_at), coalesce(e.not_after, e.recorded_at)
    FROM event e JOIN counted_order o USING (order_id)
    LEFT JOIN (SELECT DISTINCT log_id, seq FROM self_test) t
        ON t.log_id = e.log_id AND t.seq = e.seq
    WHERE o.vin = ? AND coalesce(e.happened_at, e.recorded_at) IS NOT NULL
        AND e.kind IN ('readout', 'bench_test', 'repair', 'road_test')
    ORDER BY 2, 1, e.log_id, e.seq, e.packet_id"""
_PARTS = """SELECT DISTINCT p.order_id, p.name, coalesce(p.action, '')
    FROM part p JOIN counted_order o USING (order_id)
    WHERE o.vin = ? AND p.was_worked_on ORDER BY 1, 2, 3"""
_LANES = {
    "readout": "readouts",
    "self_test": "self-tests read",
    "bench_test": "bench tests",
    "repair": "repairs",
    "road_test": "road tests",
}


@dataclass(frozen=True, slots=True)
class _Visit:
    """One repair order of the vehicle."""

    order_id: int
    shop: str
    order_no: str
    came: datetime | None
    left: datetime | None
    odometer_m: int | None
    verdict: str
    sha256: str
    offset_min: int
    is_incomplete: bool


def vehicle_audit(ask: Ask, settings: Settings, vin: str, named: str) -> Audit | None:
    """Return the timeline of a vehicle, called ``named``; None where it is not here.

    ``vin`` is as the collection has it: a VIN, or its pseudonym.
    """
    visits = [_Visit(*row) for row in ask(_VISITS, (vin,))]
    if not visits:
        return None
    faults = ask(_FAULTS, (vin,))
    return Audit(
        title=f"Vehicle {named}",
        sections=(
            Section(
                "vehicle",
                f"What was done to vehicle {named}",
                tuple(_sentences(visits, faults, settings)),
                (
                    _visit_table(visits, ask(_PARTS, (vin,))),
                    _fault_table(faults, visits),
                ),
                _chart(visits, faults, ask(_EVENTS, (vin,)), named),
            ),
        ),
        asked=(),
        made_from=made_from(ask, settings),
    )


def _sentences(
    visits: Sequence[_Visit], faults: Sequence[tuple[object, ...]], settings: Settings
) -> list[str]:
    shops = len({visit.shop for visit in visits})
    repaired = sum(bool(row[4]) for row in faults)
    back = [row for row in faults if row[7]]
    said = [
        (
            f"{counted(len(visits), 'visit')} to {counted(shops, 'shop')}; "
            f"{counted(repaired, 'fault')} repaired, {len(back)} of them came back "
            f"within {settings.horizon_days} days."
        )
    ]
    orders = {visit.order_id: visit for visit in visits}
    for order_id, module, code, *_, days, seen_in, seen_by in back:
        visit = orders[order_id]  # type: ignore[index]
        said.append(
            f"{at_module(str(code), str(module))}, repaired in {visit.order_no} by "
            f"{visit.shop}, came back after {days} days: {seen_in}, {seen_by}."
        )
    said += _odometer_falls(visits)
    said.append(
        "Only visits of which a packet is here are shown. A visit elsewhere, or one "
        "that was not recorded, is not."
    )
    return said


def _odometer_falls(visits: Sequence[_Visit]) -> Iterator[str]:
    """Yield where the odometer tells less than at the visit before that tells it."""
    told = [visit for visit in visits if visit.odometer_m is not None and visit.came]
    for one, next_ in pairwise(told):
        was, is_ = (visit.odometer_m or 0 for visit in (one, next_))
        if is_ // 1000 < was // 1000:
            yield (
                f"The odometer goes back: {was // 1000:,} km in {one.order_no} at "
                f"{one.shop}, then {is_ // 1000:,} km in {next_.order_no} at "
                f"{next_.shop}. Ask which is right, and whether the cluster was "
                "changed."
            )


def _local(at: datetime | None, visit: _Visit) -> str:
    """Return a time at the visit's own offset, as it was written there."""
    if at is None:
        return ""
    from datetime import timedelta, timezone

    zone = timezone(timedelta(minutes=visit.offset_min))
    return at.replace(tzinfo=UTC).astimezone(zone).isoformat(" ", "minutes")


def _visit_table(
    visits: Sequence[_Visit], parts: Sequence[tuple[int, str, str]]
) -> Table:
    worked: dict[int, list[str]] = {}
    for order_id, name, action in parts:
        worked.setdefault(order_id, []).append(f"{name} {action}".strip())
    return Table(
        name="visits",
        title="Visits",
        columns=(
            Column("came", "came"),
            Column("shop", "shop"),
            Column("order", "repair order"),
            Column("odometer", "odometer", "km"),
            Column("parts", "worked on"),
            Column("verdict", "verdict, judged here"),
            Column("packet", "packet"),
        ),
        rows=tuple(
            (
                *(_local(visit.came, visit), visit.shop, visit.order_no),
                None if visit.odometer_m is None else visit.odometer_m // 1000,
                ", ".join(worked.get(visit.order_id, ())),
                *(visit.verdict, visit.sha256),
            )
            for visit in visits
        ),
        without="",
    )


def _fault_table(
    faults: Sequence[tuple[object, ...]], visits: Sequence[_Visit]
) -> Table:
    orders = {visit.order_id: visit for visit in visits}
    rows: list[tuple[Cell, ...]] = []
    for row in faults:
        order_id, module, code, group, is_repaired, aside, verdict, back, *seen = row
        days, seen_in, seen_by = seen
        visit = orders[order_id]  # type: ignore[index]
        done = (
            "repaired" if is_repaired else f"set aside: {aside}" if aside else "named"
        )
        again = f"after {days} days: {seen_in}, {seen_by}" if back else ""
        fault = at_module(str(code), str(module))
        rows.append(
            (
                visit.order_no,
                visit.shop,
                fault,
                str(group),
                done,
                str(verdict or ""),
                again,
            )
        )
    return Table(
        name="faults",
        title="Faults, and what came back",
        columns=(
            Column("order", "repair order"),
            Column("shop", "shop"),
            Column("fault", "fault"),
            Column("group", "group of faults"),
            Column("done", "what was done"),
            Column("verdict", "verdict, judged here"),
            Column("came_back", "came back"),
        ),
        rows=tuple(rows),
    )


def _chart(
    visits: Sequence[_Visit],
    faults: Sequence[tuple[object, ...]],
    events: Sequence[tuple[str, datetime, datetime | None, datetime | None]],
    named: str,
) -> tuple[Chart, ...]:
    timed = [visit for visit in visits if visit.came is not None]
    if not timed:
        return ()
    spans = [
        Span(
            "visits",
            _seconds(visit.came),
            max(_seconds(visit.came), _seconds(visit.left or visit.came)),
            visit.order_no,
        )
        for visit in timed
    ]
    at = {visit.order_id: visit for visit in timed}
    for order_id, _, code, *_ in faults:
        if order_id in at:
            came = _seconds(at[order_id].came)
            spans.append(Span("faults", came, came, str(code)))
    spans += [
        Span(
            "entries not here",
            _seconds(visit.came),
            max(_seconds(visit.came), _seconds(visit.left or visit.came)),
            is_hatched=True,
        )
        for visit in timed
        if visit.is_incomplete
    ]
    for kind, lane in _LANES.items():
        spans += [
            _written(lane, claimed, since, until)
            for what, claimed, since, until in events
            if what == kind
        ]
    driven = tuple(
        (_seconds(visit.came), visit.odometer_m / 1000)
        for visit in timed
        if visit.odometer_m is not None
    )
    return (
        Chart(
            name="timeline",
            title=f"Vehicle {named}, visit by visit",
            sentence=f"{counted(len(timed), 'visit')}, each with its faults, readouts, "
            "bench tests and repairs; the odometer below. A bar behind a mark ends "
            "when it was written down.",
            along=Scale("time, UTC", is_time=True),
            up=Scale("odometer, km"),
            lines=(Line("odometer", driven, Style.STEPS),) if len(driven) > 1 else (),
            spans=tuple(spans),
        ),
    )


def _written(
    lane: str, claimed: datetime, since: datetime | None, until: datetime | None
) -> Span:
    """Return an event as a mark where it is claimed, on a bar of when it was written.

    The bar is what outside times bound; without them the shop's own clock says it.
    """
    at, last = _seconds(claimed), _seconds(until or claimed)
    first = _seconds(since or claimed)
    begins, ends = min(at, first), max(at, last)
    return Span(lane, begins, ends, claimed=None if begins == ends else at)


def _seconds(at: datetime | None) -> float:
    if at is None:
        raise ValueError("a visit without a time has no place on a line of time")
    return at.replace(tzinfo=UTC).timestamp()
