"""Readings that gather just beyond a limit, more than with the same test elsewhere.

The far side of a limit is mostly empty (few test a part that is good), so a shop is
held against others with the same test and the same limit, not against a smooth curve.
"""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.fleet.audited import (
    AskedOfShop,
    Chart,
    Column,
    Dot,
    Line,
    Scale,
    Section,
    Shape,
    Style,
    Table,
)
from auditkit.fleet.evidence.held_against import (
    SHARES,
    Counted,
    Held,
    answer,
    held_against_peers,
)
from auditkit.fleet.evidence.packets import to_open
from auditkit.fleet.evidence.unit_scale import SCALED
from auditkit.fleet.evidence.wording import LIMITS_OF_SCREENS, SHOP
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import in_100
from auditkit.fleet.settings import Settings

_BEYOND = f"""
    WITH {SCALED},
    asked AS (
        SELECT CAST(? AS DOUBLE) AS steps, CAST(? AS DOUBLE) AS share),
    sided AS (
        SELECT r.*, 'at least' AS side, low_si AS edge, low_si - value_si AS beyond
        FROM bench_reading r WHERE low_si IS NOT NULL
        UNION ALL
        SELECT r.*, 'at most', high_si, value_si - high_si
        FROM bench_reading r WHERE high_si IS NOT NULL),
    placed AS (
        SELECT o.shop, s.order_id, s.value_text, s.unit, s.beyond, s.bound,
            coalesce(s.method, s.test_kind) AS test, s.quantity, s.side,
            printf('%.4e', s.edge) AS edge_text, s.edge,
            coalesce(
                printf('%.5g', s.value + (s.edge - s.value_si) / scaled.si) || ' ',
                printf('%.5g SI for ', s.edge)) || s.unit AS told,
            s.resolution * abs(scaled.si) AS step
        FROM sided s JOIN counted_order o USING (order_id)
            LEFT JOIN scaled USING (unit)
        WHERE s.of_part IN ('old', 'other') AND s.beyond IS NOT NULL
        QUALIFY row_number() OVER (
            PARTITION BY s.log_id, s.seq, s.quantity, s.side ORDER BY s.place) = 1),
    measured AS (
        SELECT *, greatest(
                asked.steps * coalesce(max(step) OVER same_limit, 0),
                asked.share * abs(edge)) AS width,
            first(told) OVER (same_limit ORDER BY told) AS limit_text
        FROM placed, asked
        WINDOW same_limit AS (PARTITION BY test, quantity, side, edge_text)),
    counted AS (
        SELECT *, bound IS NULL AND beyond > width * 1e-9
            AND beyond <= width * (1 + 1e-9) AS is_just
        FROM measured)"""
_COUNTS = f"""{_BEYOND}
    SELECT test, quantity, side, edge_text, limit_text, shop,
        count(*) FILTER (is_just), count(*)
    FROM counted GROUP BY ALL ORDER BY ALL"""
_READINGS = f"""{_BEYOND}
    SELECT order_id, value_text || ' ' || unit FROM counted
    WHERE is_just AND shop = ? AND test = ? AND quantity = ? AND side = ?
        AND edge_text = ? AND limit_text = ?
    ORDER BY order_id, value_text"""
_REASONS = (
    "the part mostly fails there: it wears slowly and is tested early",
    "the test is stopped as soon as the limit is passed",
    "one kind of vehicle, or one kind of part, makes most of this shop's tests",
    "few other shops make this test, and their work differs",
)


def near_limits(ask: Ask, settings: Settings) -> Part:
    """Say in which shops readings lie just beyond a limit more often than in others."""
    window = (settings.window_steps, settings.window_share)
    counts = [
        Counted(tuple(group), shop, hits, total)
        for *group, shop, hits, total in ask(_COUNTS, window)
    ]
    held = held_against_peers(counts, settings, settings.least_window_readings)
    found = [one for one in held if one.stands_out]
    groups = dict.fromkeys(one.counted.group for one in found)
    section = Section(
        "near-limits",
        "Readings just beyond a limit",
        (answer(held), LIMITS_OF_SCREENS),
        (_table(held, settings),),
        tuple(_chart(held, group) for group in groups),
    )
    return Part(section, tuple(_question(ask, settings, one) for one in found))


def _limit(group: Sequence[str]) -> str:
    return f"{group[2]} {group[4]}"


def _question(ask: Ask, settings: Settings, one: Held) -> AskedOfShop:
    counted, against = one.counted, one.against
    if against is None:
        raise ValueError("a shop without peers is asked nothing")
    test, quantity, *_ = counted.group
    window = (settings.window_steps, settings.window_share)
    readings = ask(_READINGS, (*window, counted.shop, *counted.group))
    return AskedOfShop(
        screen="readings just beyond a limit",
        shop=counted.shop,
        question=(
            f"In {counted.hits} of {counted.total} readings of {counted.shop} "
            f"({test}, {quantity}) the value lies just beyond the limit; in other "
            f"shops with the same test and limit it is "
            f"{in_100(against.peers_share)}. This can have an honest reason: how "
            "is the test done?"
        ),
        measured={"just beyond": counted.hits, "readings": counted.total},
        peers={
            "share": round(against.peers_share, 4),
            "shops": one.peers,
            "likeness of one shop's readings": round(against.spread, 4),
        },
        at_least=_least(settings),
        honest_reasons=_REASONS,
        to_open=to_open(ask, {order: f"it reads {text}" for order, text in readings}),
    )


def _least(settings: Settings) -> str:
    return (
        f"{settings.least_window_readings} readings against one limit, and "
        f"{settings.least_peers} other shops with as many"
    )


def _table(held: Sequence[Held], settings: Settings) -> Table:
    columns = (
        SHOP,
        Column("test", "Test"),
        Column("quantity", "Quantity"),
        Column("limit", "Limit"),
        Column("just_beyond", "Just beyond it"),
        Column("readings", "Readings"),
        *SHARES,
    )
    rows = tuple(
        (
            one.counted.shop,
            one.counted.group[0],
            one.counted.group[1],
            _limit(one.counted.group),
            one.counted.hits,
            one.counted.total,
            *one.shares,
        )
        for one in held
    )
    return Table(
        "near-limits",
        "Readings just beyond a limit, by shop and test",
        columns,
        rows,
        f"Just beyond is within {settings.window_steps} steps of the coarsest gauge, "
        f"or {100 * settings.window_share:g} % of the limit where that is more. Too "
        f"few: less than {_least(settings)}.",
    )


def _chart(held: Sequence[Held], group: tuple[str, ...]) -> Chart:
    shown = [one for one in held if one.counted.group == group and one.against]
    dots = tuple(
        Dot(
            one.counted.total,
            100 * one.counted.hits / one.counted.total,
            Shape.SQUARE if one.stands_out else Shape.CIRCLE,
            one.counted.shop if one.stands_out else "",
        )
        for one in shown
    )
    quiet = [one.counted for one in shown if not one.stands_out]
    hits, total = sum(q.hits for q in quiet), sum(q.total for q in quiet)
    names = ", ".join(one.counted.shop for one in shown if one.stands_out)
    most = max(one.counted.total for one in shown)
    line = Line(
        "the other shops",
        ((0.0, 100 * hits / max(1, total)), (float(most), 100 * hits / max(1, total))),
        Style.DASHED,
    )
    return Chart(
        f"near-limits-{'-'.join(group)}",
        f"{group[0]}, {group[1]}: {_limit(group)}",
        f"{names} {'have' if ',' in names else 'has'} more readings just beyond the "
        f"limit than the {len(quiet)} other shops, of which "
        f"{in_100(hits / max(1, total))} readings lie there.",
        Scale("readings of this test", 0),
        Scale("just beyond the limit (%)", 0),
        (line,),
        dots,
    )
