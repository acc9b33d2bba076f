"""How long after it happened an event was written down.

A late record is weaker, not false. What was handed over in one go from another program
is late by design, and told apart: many entries within one second.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.fleet.audited import (
    Chart,
    Column,
    Line,
    Scale,
    Section,
    Style,
    Table,
    interval,
)
from auditkit.fleet.evidence.lags import LAGS
from auditkit.fleet.evidence.wording import SHOP
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name, counted, in_100
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.rank_intervals import interval_ranks

_COUNTS = f"""{LAGS}
    SELECT shop, count(*), count(*) FILTER (is_handed_over),
        count(*) FILTER (NOT is_handed_over AND lag > ?),
        count(*) FILTER (NOT is_handed_over AND lag > ?),
        count(*) FILTER (lag < -60),
        count(*) FILTER (at_least IS NOT NULL OR at_most IS NOT NULL),
        count(*) FILTER (at_least > ?), count(*) FILTER (at_most < 0)
    FROM lags GROUP BY shop ORDER BY shop"""
_RANKS = f"""{LAGS},
    ranked AS (
        SELECT shop, lag, row_number() OVER (PARTITION BY shop ORDER BY lag) AS place
        FROM lags WHERE NOT is_handed_over),
    wanted AS (
        SELECT unnest(CAST(? AS VARCHAR[])) AS shop,
            unnest(CAST(? AS BIGINT[])) AS place)
    SELECT shop, place, lag FROM ranked JOIN wanted USING (shop, place)
    GROUP BY ALL ORDER BY ALL"""
_SHOWN = (0.5, 0.9, 0.99)


@dataclass(frozen=True, slots=True)
class _Lateness:
    shop: str
    events: int
    handed_over: int
    over_minutes: int
    over_hours: int
    ahead: int
    bounded: int
    surely_late: int
    impossible: int

    @property
    def single(self) -> int:
        """Events that were written down one by one."""
        return self.events - self.handed_over


def lateness(ask: Ask, settings: Settings) -> Part:
    """Say how long after it happened each shop writes an event down."""
    minutes, hours = 60 * settings.late_minutes, 3600 * settings.late_hours
    batch = settings.batch_entries
    told = [_Lateness(*row) for row in ask(_COUNTS, (batch, minutes, hours, hours))]
    lags = _lags_at(ask, batch, _wanted(told, settings))
    enough = [one for one in told if one.single >= settings.least_late_events]
    section = Section(
        "lateness",
        "How soon things are written down",
        (_sentence(told, settings), _outside(told)),
        (_table(told, lags, settings),),
        (_chart(enough, lags),) if len(enough) > 1 else (),
    )
    return Part(section)


def _rank(n: int, quantile: float) -> int:
    return max(1, -int(-quantile * n // 1))


def _wanted(told: Sequence[_Lateness], settings: Settings) -> list[tuple[str, int]]:
    wanted = set()
    for one in told:
        if one.single < settings.least_late_events:
            continue
        for quantile in _SHOWN:
            ends = interval_ranks(one.single, quantile)
            ranks = (_rank(one.single, quantile), *ends)
            wanted |= {(one.shop, rank) for rank in ranks if rank}
    return sorted(wanted)


def _lags_at(
    ask: Ask, batch: int, wanted: Sequence[tuple[str, int]]
) -> dict[tuple[str, int], int]:
    values = (batch, [shop for shop, _ in wanted], [rank for _, rank in wanted])
    return {(shop, place): lag for shop, place, lag in ask(_RANKS, values)}


def _sentence(told: Sequence[_Lateness], settings: Settings) -> str:
    single = sum(one.single for one in told)
    if not single:
        return "No event with its own time was written down by itself."
    late = sum(one.over_minutes for one in told)
    later = sum(one.over_hours for one in told)
    handed = sum(one.handed_over for one in told)
    return (
        f"Of {counted(single, 'event')} that were written down one by one, "
        f"{in_100(late / single)} were written down more than "
        f"{settings.late_minutes} minutes after they happened, and "
        f"{in_100(later / single)} more than {settings.late_hours} hours. "
        f"{handed:,} more were handed over together."
    )


def _outside(told: Sequence[_Lateness]) -> str:
    bounded = sum(one.bounded for one in told)
    if not bounded:
        return "No event has a time from outside: all of this rests on shops' clocks."
    late = sum(one.surely_late for one in told)
    after = sum(one.impossible for one in told)
    return (
        f"{counted(bounded, 'event')} with a time from outside: {late} of them were "
        f"surely written down late, and {after} are said to have happened after they "
        "were written down."
    )


def _table(
    told: Sequence[_Lateness],
    lags: dict[tuple[str, int], int],
    settings: Settings,
) -> Table:
    columns = (
        SHOP,
        Column("events", "Events"),
        Column("handed_over", "Handed over together"),
        Column("median", "Half within", "min", 1),
        *interval("median_", "min"),
        Column("ninety", "90 of 100 within", "min", 1),
        *interval("ninety_", "min"),
        Column("over_minutes", f"Over {settings.late_minutes} min", "%", 1),
        Column("over_hours", f"Over {settings.late_hours} h", "%", 1),
        Column("ahead", "Before they happened"),
        Column("bounded", "With a time from outside"),
        Column("surely_late", "of which surely late"),
        Column("impossible", "of which impossible"),
    )
    rows = []
    for one in sorted(told, key=lambda c: by_name(c.shop)):
        enough = one.single >= settings.least_late_events
        times: list[float | None] = []
        for quantile in _SHOWN[:2]:
            ranks = (_rank(one.single, quantile), *interval_ranks(one.single, quantile))
            times += [
                lags[one.shop, rank] / 60 if enough and rank else None for rank in ranks
            ]
        rows.append(
            (
                one.shop,
                one.events,
                one.handed_over,
                *times,
                100 * one.over_minutes / one.single if enough else None,
                100 * one.over_hours / one.single if enough else None,
                one.ahead,
                one.bounded,
                one.surely_late,
                one.impossible,
            )
        )
    return Table(
        "lateness",
        "How long after it happened an event was written down",
        columns,
        tuple(rows),
        f"{settings.batch_entries} entries within one second count as handed over "
        "together, and stand outside the times and shares. An empty cell: fewer than "
        f"{settings.least_late_events} events, too few.",
    )


def _chart(enough: Sequence[_Lateness], lags: dict[tuple[str, int], int]) -> Chart:
    def minutes(one: _Lateness, quantile: float) -> float:
        return max(0.1, lags[one.shop, _rank(one.single, quantile)] / 60)

    styles = (Style.FULL, Style.DASHED, Style.DOTTED)
    lines = tuple(
        Line(
            f"{100 * quantile:.0f} of 100 events",
            tuple(
                (float(n), time)
                for n, time in enumerate(
                    sorted(minutes(o, quantile) for o in enough), 1
                )
            ),
            style,
        )
        for quantile, style in zip(_SHOWN, styles, strict=True)
    )
    ordered = sorted(enough, key=lambda one: (minutes(one, 0.9), by_name(one.shop)))
    middle, last = ordered[(len(ordered) - 1) // 2], ordered[-1]
    usual, slowest = _time(minutes(middle, 0.9)), _time(minutes(last, 0.9))
    half = "all" if usual == slowest else "half"
    rest = (
        "" if usual == slowest else f"; in the slowest, {last.shop}, within {slowest}"
    )
    return Chart(
        "lateness",
        "Within what time events are written down",
        f"In {half} of the shops 90 of 100 events are written down within {usual}"
        f"{rest}.",
        Scale("shops, each line from the quickest on"),
        Scale("minutes", is_logarithmic=True),
        lines,
    )


def _time(minutes: float) -> str:
    if minutes < 120:
        return counted(round(minutes), "minute")
    return f"{minutes / 60:.0f} hours"
