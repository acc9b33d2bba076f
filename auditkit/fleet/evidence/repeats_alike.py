"""Repeated readings that agree more often than with the same gauge elsewhere.

A coarse display shows equal values when nothing moves, so equal repeats are normal; a
shop is held against others with the same test and the same steps. How much smaller its
spread is stands beside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from auditkit.fleet.audited import AskedOfShop, Column, Section, Table
from auditkit.fleet.evidence.held_against import (
    SHARES,
    Counted,
    Held,
    answer,
    held_against_peers,
)
from auditkit.fleet.evidence.packets import to_open
from auditkit.fleet.evidence.wording import SHOP
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import in_100
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.too_regular import all_equal_chance, pooled_lower_tail

_SETS = """
    WITH sets AS (
        SELECT o.shop, r.order_id, r.log_id, r.seq, r.quantity, r.unit, r.resolution,
            coalesce(r.method, r.test_kind) AS test, count(*) AS repeats,
            max(r.value) = min(r.value) AS is_equal,
            list(r.value ORDER BY r.place) AS readings
        FROM bench_reading r JOIN counted_order o USING (order_id)
        WHERE NOT coalesce(r.is_computed, false) AND r.bound IS NULL
            AND r.value IS NOT NULL AND r.resolution > 0
        GROUP BY ALL HAVING count(*) >= 2 AND max(r.value) <> 0)"""
_COUNTS = f"""{_SETS}
    SELECT test, quantity, CAST(repeats AS VARCHAR),
        CAST(resolution AS VARCHAR) || ' ' || unit, shop,
        count(*) FILTER (is_equal), count(*)
    FROM sets GROUP BY ALL ORDER BY ALL"""
_READINGS = f"""{_SETS}
    SELECT shop, readings FROM sets
    WHERE test = ? AND quantity = ? AND CAST(repeats AS VARCHAR) = ?
        AND CAST(resolution AS VARCHAR) || ' ' || unit = ?
    ORDER BY shop, order_id, seq"""
_EQUAL = f"""{_SETS}
    SELECT order_id, CAST(repeats AS VARCHAR) || ' readings, all '
        || CAST(readings[1] AS VARCHAR) || ' ' || unit
    FROM sets WHERE is_equal AND shop = ? AND test = ? AND quantity = ?
        AND CAST(repeats AS VARCHAR) = ?
        AND CAST(resolution AS VARCHAR) || ' ' || unit = ?
    ORDER BY order_id, seq"""
_REASONS = (
    "the instrument averages, or holds its reading",
    "the first reading was written down for all of them",
    "the parts of this shop are more steady than others'",
)


def repeats_alike(ask: Ask, settings: Settings) -> Part:
    """Say whose repeated readings are equal more often than those of peers."""
    counts = [
        Counted(tuple(group), shop, hits, total)
        for *group, shop, hits, total in ask(_COUNTS)
    ]
    held = held_against_peers(counts, settings, settings.least_window_readings)
    found = [one for one in held if one.stands_out]
    section = Section(
        "repeats-alike",
        "Repeated readings that agree",
        (answer(held),),
        (_table(held, settings),),
    )
    return Part(section, tuple(_question(ask, settings, one) for one in found))


def _question(ask: Ask, settings: Settings, one: Held) -> AskedOfShop:
    if one.against is None:
        raise ValueError("a shop without peers is asked nothing")
    counted = one.counted
    test, quantity, repeats, step = counted.group
    own, others = _deviations(ask, one)
    equal = ask(_EQUAL, (counted.shop, *counted.group))
    per_step = others / float(step.split(" ", maxsplit=1)[0])
    return AskedOfShop(
        screen="repeated readings that agree",
        shop=counted.shop,
        question=(
            f"In {counted.hits} of {counted.total} bench tests of {counted.shop} "
            f"({test}, {quantity}) all {repeats} readings are equal; in other shops "
            f"with steps of {step} it is {in_100(one.against.peers_share)}. How "
            "are they taken?"
        ),
        measured={
            "all equal": counted.hits,
            "tests": counted.total,
            "standard deviation": _rounded(own),
        },
        peers={
            "share": round(one.against.peers_share, 4),
            "shops": one.peers,
            "standard deviation": _rounded(others),
            "share that such a deviation makes equal": round(
                all_equal_chance(int(repeats), per_step), 4
            ),
            "chance of one so small": _chance(one, own, others),
        },
        at_least=(
            f"{settings.least_window_readings} tests with repeated readings, and "
            f"{settings.least_peers} other shops with as many, of the same steps"
        ),
        honest_reasons=_REASONS,
        to_open=to_open(ask, dict(equal)),
    )


def _deviations(ask: Ask, one: Held) -> tuple[float, float]:
    """Return the pooled standard deviation of a shop's sets, and of its peers'."""
    squares: dict[bool, list[float]] = {True: [], False: []}
    freedom = {True: 0, False: 0}
    for shop, readings in ask(_READINGS, one.counted.group):
        is_own = shop == one.counted.shop
        mean = math.fsum(readings) / len(readings)
        squares[is_own].append(math.fsum((x - mean) ** 2 for x in readings))
        freedom[is_own] += len(readings) - 1
    return (
        math.sqrt(math.fsum(squares[True]) / freedom[True]),
        math.sqrt(math.fsum(squares[False]) / freedom[False]),
    )


def _chance(one: Held, own: float, others: float) -> str:
    """Return in words how likely normal repeats have so small a deviation."""
    if others <= 0:
        return "nobody's differ"
    freedom = one.counted.total * (int(one.counted.group[2]) - 1)
    tail = pooled_lower_tail([(freedom + 1, own)], others)
    return f"about {tail:.1g}" if tail >= 1e-6 else "below 1 in a million"


def _rounded(deviation: float) -> float:
    return float(f"{deviation:.3g}") if deviation > 1e-9 else 0.0


def _table(held: Sequence[Held], settings: Settings) -> Table:
    columns = (
        SHOP,
        Column("test", "Test"),
        Column("quantity", "Quantity"),
        Column("repeats", "Readings each"),
        Column("resolution", "Steps of"),
        Column("equal", "All equal"),
        Column("sets", "Tests"),
        *SHARES,
    )
    rows = tuple(
        (
            one.counted.shop,
            *one.counted.group,
            one.counted.hits,
            one.counted.total,
            *one.shares,
        )
        for one in held
    )
    return Table(
        "repeats-alike",
        "Repeated readings that are all equal, by shop and test",
        columns,
        rows,
        f"Too few: less than {settings.least_window_readings} tests, or fewer than "
        f"{settings.least_peers} others with as many and the same steps.",
    )
