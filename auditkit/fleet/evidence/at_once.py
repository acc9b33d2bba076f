"""What cannot be at two places at once: a person, an instrument, a vehicle.

No statistics: each is one line in a list. Persons stand in the packets alone, and are
never counted or compared. Times are those that were claimed: whoever types a day in the
evening may show overlaps that never were.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.fleet.audited import AskedOfShop, Cell, Column, Section, Table
from auditkit.fleet.evidence.packets import to_open
from auditkit.fleet.evidence.wording import SHOP
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name, listed
from auditkit.fleet.settings import Settings

_TESTS = """
    WITH tests AS (
        SELECT o.shop, o.vin, r.log_id, r.seq, r.order_id, o.order_no,
            max(r.by_person) AS by_person,
            min(coalesce(r.starts_at,
                r.ends_at - to_milliseconds(CAST(1000 * r.hold_s AS BIGINT)))) AS a,
            max(r.ends_at) AS b
        FROM bench_reading r JOIN counted_order o USING (order_id)
        GROUP BY ALL),
    used AS (
        SELECT DISTINCT t.*, r.instrument
        FROM tests t JOIN bench_reading r USING (log_id, seq)
        WHERE r.instrument IS NOT NULL)"""
_PERSONS = f"""{_TESTS}
    SELECT x.shop, y.shop, x.order_id, y.order_id, x.order_no, y.order_no,
        strftime(greatest(x.a, y.a), '%Y-%m-%d %H:%M'),
        date_diff('second', greatest(x.a, y.a), least(x.b, y.b)) / 60
    FROM tests x JOIN tests y ON x.log_id = y.log_id AND x.by_person = y.by_person
        AND CAST(x.b AS DATE) = CAST(y.b AS DATE) AND x.order_id < y.order_id
        AND x.vin IS DISTINCT FROM y.vin AND x.a < y.b AND y.a < x.b
    WHERE date_diff('second', greatest(x.a, y.a), least(x.b, y.b)) > 60 * ?
    ORDER BY ALL"""
_INSTRUMENTS = f"""{_TESTS}
    SELECT x.shop, y.shop, x.order_id, y.order_id, x.order_no, y.order_no,
        x.instrument || ' at ' || strftime(greatest(x.a, y.a), '%Y-%m-%d %H:%M'),
        date_diff('second', greatest(x.a, y.a), least(x.b, y.b)) / 60
    FROM used x JOIN used y ON x.log_id = y.log_id AND x.instrument = y.instrument
        AND CAST(x.b AS DATE) = CAST(y.b AS DATE) AND x.order_id < y.order_id
        AND x.a < y.b AND y.a < x.b
    WHERE date_diff('second', greatest(x.a, y.a), least(x.b, y.b)) > 60 * ?
    ORDER BY ALL"""
_VEHICLES = """
    WITH spans AS (
        SELECT o.shop, o.vin, o.order_id, o.order_no,
            min(e.happened_at) AS a, max(e.happened_at) AS b
        FROM event e JOIN counted_order o USING (order_id)
        WHERE o.vin IS NOT NULL AND e.happened_at IS NOT NULL
            AND e.kind IN ('readout', 'bench_test', 'repair', 'road_test')
        GROUP BY ALL)
    SELECT x.shop, y.shop, x.order_id, y.order_id, x.order_no, y.order_no,
        'VIN ' || x.vin || ' at ' || strftime(greatest(x.a, y.a), '%Y-%m-%d %H:%M'),
        date_diff('second', greatest(x.a, y.a), least(x.b, y.b)) / 60
    FROM spans x JOIN spans y ON x.vin = y.vin AND x.shop < y.shop
        AND x.a < y.b + to_minutes(CAST(? AS BIGINT))
        AND y.a < x.b + to_minutes(CAST(? AS BIGINT))
    ORDER BY ALL"""
_CERTIFICATES = """
    WITH named AS (
        SELECT o.shop, i.certificate, min(o.order_id) AS order_id,
            arg_min(o.order_no, o.order_id) AS order_no
        FROM instrument i JOIN counted_order o USING (order_id)
        WHERE length(trim(i.certificate)) > 3 GROUP BY ALL)
    SELECT x.shop, y.shop, x.order_id, y.order_id, x.order_no, y.order_no,
        'certificate ' || x.certificate, NULL
    FROM named x JOIN named y ON x.certificate = y.certificate AND x.shop < y.shop
    ORDER BY ALL"""


@dataclass(frozen=True, slots=True)
class _Kind:
    screen: str
    sql: str
    asks: str
    honest_reasons: tuple[str, ...]
    values: int


_KINDS = (
    _Kind(
        "one person at two vehicles at once",
        _PERSONS,
        "bench tests by one person, at two vehicles, overlap. Who made which?",
        (
            "a test that holds by itself was started at one vehicle, and left alone",
            "another person made it, and did not sign",
            "the times were typed in afterwards, from memory",
        ),
        1,
    ),
    _Kind(
        "one instrument at two vehicles at once",
        _INSTRUMENTS,
        "bench tests with one instrument, in two orders, overlap. Which was used?",
        (
            "there are two instruments under one name",
            "the times were typed in afterwards, from memory",
        ),
        1,
    ),
    _Kind(
        "one vehicle at two shops at once",
        _VEHICLES,
        "visits of one vehicle at two shops overlap. Where was it?",
        (
            "one shop had the other do a part of the work",
            "the date was mistyped, at either shop",
            "the VIN was mistyped, at either shop",
        ),
        2,
    ),
    _Kind(
        "one certificate at two shops",
        _CERTIFICATES,
        "calibration certificates are named by another shop too. Whose is it?",
        (
            "the shops share the instrument, or one bought it from the other",
            "one certificate covers several instruments",
        ),
        0,
    ),
)
_NONE = "No person, instrument, vehicle or certificate is at two places at once."
_Row = tuple[str, str, int, int, str, str, str, float | None]


def at_once(ask: Ask, settings: Settings) -> Part:
    """List what stands in the records at two places at once."""
    minutes = settings.least_overlap_minutes
    found: list[tuple[_Kind, list[_Row]]] = [
        (kind, list(ask(kind.sql, [minutes] * kind.values))) for kind in _KINDS
    ]
    counts = [f"{kind.screen}: {len(rows)}" for kind, rows in found if rows]
    section = Section(
        "at-once",
        "At two places at once",
        (f"{listed(counts)}. Times are those that were claimed." if counts else _NONE,),
        (_table(found),) if counts else (),
    )
    asked = [
        _question(ask, kind, shop, rows)
        for kind, rows in found
        for shop in sorted({s for row in rows for s in row[:2]}, key=by_name)
    ]
    return Part(section, tuple(asked))


def _question(ask: Ask, kind: _Kind, shop: str, rows: Sequence[_Row]) -> AskedOfShop:
    own = [row for row in rows if shop in row[:2]]
    because = {}
    for one, other, first, second, first_no, second_no, what, _ in own:
        if one == other:
            because[first], because[second] = (
                f"{what}, with {number}" for number in (second_no, first_no)
            )
        else:
            because[first] = f"{what}, at {one}; also at {other}"
            because[second] = f"{what}, at {other}; also at {one}"
    return AskedOfShop(
        screen=kind.screen,
        shop=shop,
        question=f"At {shop} {len(own)} times: {kind.asks}",
        measured={"times": len(own)},
        peers={},
        at_least="one: this needs no comparison",
        honest_reasons=kind.honest_reasons,
        to_open=to_open(ask, because),
    )


def _table(found: Sequence[tuple[_Kind, Sequence[_Row]]]) -> Table:
    columns = (
        Column("what", "What"),
        SHOP,
        Column("order", "Order"),
        Column("seen_by", "And by"),
        Column("seen_in", "In order"),
        Column("which", "Which, and when"),
        Column("minutes", "For", "min", 1),
    )
    rows: list[tuple[Cell, ...]] = []
    for kind, members in found:
        for one, other, _, _, number, other_no, what, minutes in members:
            rows.append((kind.screen, one, number, other, other_no, what, minutes))
            if one != other:  # a row for each shop, so that each sees its own
                rows.append((kind.screen, other, other_no, one, number, what, minutes))
    title = "At two places at once"
    return Table("at-once", title, columns, tuple(rows), without="")
