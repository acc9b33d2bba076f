"""Bench tests that are written down late, and events that cannot be as dated."""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.fleet.audited import AskedOfShop, Column, Section, Table
from auditkit.fleet.evidence.held_against import (
    SHARES,
    Counted,
    Held,
    answer,
    held_against_peers,
)
from auditkit.fleet.evidence.lags import LAGS
from auditkit.fleet.evidence.packets import to_open
from auditkit.fleet.evidence.wording import SHOP
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name, in_100
from auditkit.fleet.settings import Settings

_TESTS = f"""{LAGS}
    SELECT shop, count(*) FILTER (lag > ?), count(*)
    FROM lags WHERE NOT is_handed_over AND kind = 'bench_test'
    GROUP BY shop ORDER BY shop"""
_LATE = f"""{LAGS}
    SELECT order_id, max(lag) FROM lags
    WHERE NOT is_handed_over AND kind = 'bench_test' AND lag > ? AND shop = ?
    GROUP BY order_id ORDER BY order_id"""
_AFTER = f"""{LAGS}
    SELECT order_id, kind FROM lags WHERE at_most < 0 AND shop = ?
    ORDER BY order_id, seq"""
_IMPOSSIBLE = f"""{LAGS}
    SELECT shop, count(*) FILTER (at_most < 0),
        count(*) FILTER (at_least IS NOT NULL OR at_most IS NOT NULL)
    FROM lags GROUP BY shop HAVING count(*) FILTER (at_most < 0) > 0 ORDER BY shop"""
_REASONS = (
    "tests are noted on paper and written down when there is time",
    "whole days are handed over from another program, a few entries at a time",
    "the clock of the tablet, or its zone, was wrong",
    "the bay's terminal was out of order for some days",
)


def late_tests(ask: Ask, settings: Settings) -> Part:
    """Say who writes bench tests down a day later more often than peers do."""
    batch, hours = settings.batch_entries, 3600 * settings.late_hours
    counts = [Counted(("bench tests",), *row) for row in ask(_TESTS, (batch, hours))]
    held = held_against_peers(counts, settings, settings.least_late_events)
    found = [one for one in held if one.stands_out]
    section = Section(
        "late-bench-tests",
        "Bench tests that were written down late",
        (answer(held),),
        (_table(held, settings),),
    )
    asked = [_question(ask, settings, one) for one in found]
    asked += [_about_outside(ask, settings, *row) for row in ask(_IMPOSSIBLE, [batch])]
    return Part(section, tuple(asked))


def _table(held: Sequence[Held], settings: Settings) -> Table:
    columns = (
        SHOP,
        Column("late", f"Over {settings.late_hours} h"),
        Column("tests", "Bench tests"),
        *SHARES,
    )
    rows = tuple(
        (
            one.counted.shop,
            one.counted.hits,
            one.counted.total,
            *one.shares,
        )
        for one in sorted(held, key=lambda h: by_name(h.counted.shop))
    )
    return Table(
        "late-bench-tests", "Bench tests that were written down late", columns, rows
    )


def _question(ask: Ask, settings: Settings, one: Held) -> AskedOfShop:
    if one.against is None:
        raise ValueError("a shop without peers is asked nothing")
    hours = 3600 * settings.late_hours
    late = ask(_LATE, (settings.batch_entries, hours, one.counted.shop))
    return AskedOfShop(
        screen="bench tests written down late",
        shop=one.counted.shop,
        question=(
            f"{one.counted.hits} of {one.counted.total} bench tests of "
            f"{one.counted.shop} were written down more than {settings.late_hours} "
            f"hours after they were made; in other shops it is "
            f"{in_100(one.against.peers_share)}. How are they noted until then?"
        ),
        measured={"late": one.counted.hits, "bench tests": one.counted.total},
        peers={"share": round(one.against.peers_share, 4), "shops": one.peers},
        at_least=(
            f"{settings.least_late_events} bench tests, and {settings.least_peers} "
            "other shops with as many"
        ),
        honest_reasons=_REASONS,
        to_open=to_open(
            ask, {order: f"{lag / 3600:.0f} hours later" for order, lag in late}
        ),
    )


def _about_outside(
    ask: Ask, settings: Settings, shop: str, number: int, bounded: int
) -> AskedOfShop:
    found = ask(_AFTER, (settings.batch_entries, shop))
    return AskedOfShop(
        screen="events said to be later than they were written down",
        shop=shop,
        question=(
            f"{number} events of {shop} are said to have happened after an outsider "
            "had already seen them written down. Which clock was wrong?"
        ),
        measured={"events": number, "with a time from outside": bounded},
        peers={},
        at_least="one event: this needs no comparison",
        honest_reasons=(
            "the date or the zone was mistyped",
            "the clock of the tablet, or the outsider's, was wrong",
        ),
        to_open=to_open(ask, {order: f"its {kind}" for order, kind in found}),
    )
