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
from auditkit.fleet.outcomes.came_back import MOST_LISTED
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name, listed
from auditkit.fleet.settings import Settings

# Each span is held against the one of another place, of all that began before it, that
# lasts the longest: as many rows as spans, however many of them overlap. What ends last
# of all is ``top``; of what did not end last, or was outlasted, what ends last is of
# another place than ``top``.
_OVERLAPS = """,
    earlier AS (
        SELECT *, max(span) OVER before AS top
        FROM (SELECT *, {'b': b, 'place': place, 'order_id': order_id, 'shop': shop,
            'order_no': order_no} AS span FROM spans WHERE a <= b)
        WINDOW before AS (PARTITION BY who ORDER BY a, span
            ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING)),
    outlasted AS (
        SELECT *, CASE WHEN top IS NULL OR top.place = place THEN NULL
            ELSE least(top, span) END AS less FROM earlier),
    beside AS (
        SELECT *, CASE WHEN top.place <> place THEN top ELSE max(less) OVER before END
            AS other
        FROM outlasted WINDOW before AS (PARTITION BY who ORDER BY a, span
            ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING))
    SELECT other.shop, shop, other.order_id, order_id, other.order_no, order_no,
        what || strftime(a, '%Y-%m-%d %H:%M'),
        date_diff('second', a, least(b, other.b)) / 60
    FROM beside WHERE other IS NOT NULL
        AND date_diff('second', a, least(b, other.b)) > 60 * ?
    ORDER BY ALL"""
_TESTS = """
    WITH tests AS (
        SELECT o.shop, coalesce(o.vin, '') AS vin, r.log_id, r.seq, r.order_id,
            o.order_no, max(r.by_person) AS by_person,
            min(coalesce(r.starts_at,
                r.ends_at - to_milliseconds(CAST(1000 * r.hold_s AS BIGINT)))) AS a,
            max(r.ends_at) AS b
        FROM bench_reading r JOIN counted_order o USING (order_id)
        GROUP BY ALL)"""
_PERSONS = f"""{_TESTS},
    spans AS (
        SELECT {{'log': log_id, 'who': by_person, 'day': CAST(b AS DATE)}} AS who,
            vin AS place, '' AS what, *
        FROM tests WHERE by_person IS NOT NULL){_OVERLAPS}"""
_INSTRUMENTS = f"""{_TESTS},
    spans AS (
        SELECT DISTINCT {{'log': log_id, 'which': r.instrument, 'day': CAST(b AS DATE)}}
            AS who, t.order_id AS place, r.instrument || ' at ' AS what, t.*
        FROM tests t JOIN bench_reading r USING (log_id, seq)
        WHERE r.instrument IS NOT NULL){_OVERLAPS}"""
_VEHICLES = f"""
    WITH spans AS (
        SELECT o.vin AS who, o.shop AS place, 'VIN ' || o.vin || ' at ' AS what, o.shop,
            o.order_id, o.order_no, min(e.happened_at) AS a, max(e.happened_at) AS b
        FROM event e JOIN counted_order o USING (order_id)
        WHERE o.vin IS NOT NULL AND e.happened_at IS NOT NULL
            AND e.kind IN ('readout', 'bench_test', 'repair', 'road_test')
        GROUP BY ALL){_OVERLAPS}"""


@dataclass(frozen=True, slots=True)
class _Kind:
    screen: str
    sql: str
    asks: str
    honest_reasons: tuple[str, ...]
    sign: int
    """Whether spans overlap by a time (1), or lie apart by less (-1)."""


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
        -1,
    ),
)
_NONE = "No person, instrument or vehicle is at two places at once."
_Row = tuple[str, str, int, int, str, str, str, float]


def at_once(ask: Ask, settings: Settings) -> Part:
    """List what stands in the records at two places at once."""
    minutes = settings.least_overlap_minutes
    found: list[tuple[_Kind, list[_Row]]] = [
        (kind, list(ask(kind.sql, [kind.sign * minutes]))) for kind in _KINDS
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
    return Table(
        "at-once", title, columns, tuple(rows), is_for_files=len(rows) > MOST_LISTED
    )
