"""Instruments that read a known-good part otherwise than they did.

Readings of faulty parts are no control material; a known-good part ought to stay.
"""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.fleet.audited import (
    AskedOfShop,
    Chart,
    Column,
    Line,
    Scale,
    Section,
    Style,
    Table,
)
from auditkit.fleet.evidence.packets import to_open
from auditkit.fleet.evidence.wording import SHOP
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import counted
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.drift import (
    ControlChart,
    ewma,
    individuals,
    moving_deviation,
)

_IN_TIME = """
    SELECT o.shop, r.instrument, coalesce(r.method, r.test_kind), r.quantity, r.unit,
        coalesce(r.part_id, ''), r.value, r.order_id
    FROM bench_reading r JOIN counted_order o USING (order_id)
    WHERE r.of_part = 'known-good' AND r.value IS NOT NULL
        AND r.instrument IS NOT NULL
    ORDER BY o.shop, r.instrument, r.ends_at, r.log_id, r.seq, r.place"""
_REASONS = (
    "another known-good part took the place of the first",
    "the known-good part itself has aged",
    "the readings were taken at other temperatures",
)
Group = tuple[str, str, str, str, str, str]


def drifting(ask: Ask, settings: Settings) -> Part:
    """Say which instruments read a known-good part otherwise than they did."""
    series: dict[Group, list[tuple[float, int]]] = {}
    for shop, instrument, test, quantity, unit, part, value, order_id in ask(_IN_TIME):
        group = (shop, instrument, test, quantity, unit, part)
        series.setdefault(group, []).append((value, order_id))
    long = {
        group: values
        for group, values in sorted(series.items())
        if len(values) >= settings.least_drift_readings
    }
    charts = {
        group: _averages([v for v, _ in values]) for group, values in long.items()
    }
    out = [group for group, chart in charts.items() if chart.outside]
    sentence = (
        f"No instrument has read a known-good part {settings.least_drift_readings} "
        "times: too few to say whether one drifts."
        if not long
        else f"{counted(len(long), 'instrument has', 'instruments have')} read a "
        f"known-good part {settings.least_drift_readings} times or more; {len(out)} "
        "of them read it otherwise than they did at first."
    )
    section = Section(
        "drifting",
        "Instruments that drift",
        (sentence,),
        (_table(long, charts),) if long else (),
        tuple(_chart(group, charts[group]) for group in out),
    )
    asked = tuple(_question(ask, g, long[g], charts[g], settings) for g in out)
    return Part(section, asked)


def _averages(values: Sequence[float]) -> ControlChart:
    """Return the EWMA about the first half's mean, in deviations by moving ranges."""
    early = values[: max(2, len(values) // 2)]
    return ewma(values, individuals(early).middle, moving_deviation(values))


def _question(
    ask: Ask,
    group: Group,
    values: Sequence[tuple[float, int]],
    chart: ControlChart,
    settings: Settings,
) -> AskedOfShop:
    shop, instrument, test, quantity, unit, _ = group
    first = chart.outside[0]
    return AskedOfShop(
        screen="instruments that drift",
        shop=shop,
        question=(
            f"{instrument} of {shop} reads the {quantity} of a known-good part "
            f"({test}) otherwise since its reading {first + 1} of {len(values)}: "
            f"{chart.values[-1]:.4g} {unit} in place of {chart.middle:.4g}. Was it "
            "checked since?"
        ),
        measured={"readings": len(values), "outside the limits": len(chart.outside)},
        peers={"lower limit": chart.low, "upper limit": chart.high},
        at_least=f"{settings.least_drift_readings} readings of one known-good part",
        honest_reasons=_REASONS,
        to_open=to_open(
            ask,
            {values[k][1]: f"it reads {values[k][0]:g} {unit}" for k in chart.outside},
        ),
    )


def _table(
    long: dict[Group, list[tuple[float, int]]], charts: dict[Group, ControlChart]
) -> Table:
    columns = (
        SHOP,
        Column("instrument", "Instrument"),
        Column("test", "Test"),
        Column("quantity", "Quantity"),
        Column("unit", "Unit"),
        Column("part", "Known-good part"),
        Column("readings", "Readings"),
        Column("first", "At first", decimals=4),
        Column("last", "Now", decimals=4),
        Column("low", "Lower limit", decimals=4),
        Column("high", "Upper limit", decimals=4),
        Column("outside", "Outside"),
    )
    rows = tuple(
        (
            *group,
            len(values),
            charts[group].middle,
            charts[group].values[-1],
            charts[group].low,
            charts[group].high,
            len(charts[group].outside),
        )
        for group, values in long.items()
    )
    return Table("drifting", "Readings of known-good parts in time", columns, rows)


def _chart(group: Group, chart: ControlChart) -> Chart:
    end = float(len(chart.values))
    points = tuple((float(n), v) for n, v in enumerate(chart.values, 1))
    limits = tuple(
        Line(name, ((1.0, level), (end, level)), Style.DASHED)
        for name, level in (("lower limit", chart.low), ("upper limit", chart.high))
    )
    shop, instrument, _, quantity, unit, _ = group
    return Chart(
        f"drifting-{shop}-{instrument}-{quantity}",
        f"{instrument} of {shop}: {quantity} of a known-good part, smoothed",
        f"The smoothed readings leave their limits {len(chart.outside)} times.",
        Scale("readings, in time"),
        Scale(f"{quantity} ({unit})"),
        (Line("smoothed reading", points), *limits),
    )
