"""Instruments: whether they were in calibration when used, and what they can show."""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.fleet.audited import AskedOfShop, Column, Section, Table, interval
from auditkit.fleet.evidence.packets import to_open
from auditkit.fleet.evidence.wording import SHOP
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name, in_100
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.proportion import wilson

_USES = """
    WITH uses AS (
        SELECT o.shop, i.*, CASE
            WHEN NOT has_specification THEN 'no specification'
            WHEN calibrated_on IS NULL OR due IS NULL THEN 'no dates'
            WHEN used_on < calibrated_on OR used_on > due THEN 'out of calibration'
            ELSE 'in calibration' END AS state
        FROM instrument i JOIN counted_order o USING (order_id))"""
_COUNTS = f"""{_USES}
    SELECT shop, count(*), count(*) FILTER (state = 'in calibration'),
        count(*) FILTER (state = 'out of calibration'),
        count(*) FILTER (state = 'no dates'),
        count(*) FILTER (state = 'no specification')
    FROM uses GROUP BY shop ORDER BY shop"""
_OUT = f"""{_USES}
    SELECT shop, instrument, count(*), CAST(min(due) AS VARCHAR),
        max(greatest(date_diff('day', due, used_on),
            date_diff('day', used_on, calibrated_on)))
    FROM uses WHERE state = 'out of calibration' GROUP BY ALL ORDER BY ALL"""
_MOVED = f"""{_USES}
    SELECT shop, instrument, certificate, string_agg(
        DISTINCT CAST(due AS VARCHAR), ', ' ORDER BY CAST(due AS VARCHAR))
    FROM uses WHERE certificate IS NOT NULL AND due IS NOT NULL
    GROUP BY ALL HAVING count(DISTINCT due) > 1 ORDER BY ALL"""
_ORDERS = f"""{_USES}
    SELECT order_id, string_agg(DISTINCT instrument || ', used ' ||
        CAST(used_on AS VARCHAR) || ', due ' || CAST(due AS VARCHAR), '; '
        ORDER BY instrument || ', used ' ||
        CAST(used_on AS VARCHAR) || ', due ' || CAST(due AS VARCHAR))
    FROM uses WHERE state = 'out of calibration' AND shop = ?
    GROUP BY order_id ORDER BY order_id"""
_OUT_REASONS = (
    "it was calibrated again in time, and the register was not brought up to date",
    "the due date of the register is not that of the certificate",
)


def calibration(ask: Ask, settings: Settings) -> Part:
    """Say of how many uses of an instrument its calibration is shown."""
    counts = ask(_COUNTS)
    uses, good, out, undated, unstated = (
        sum(r[k] for r in counts) for k in range(1, 6)
    )
    if not uses:
        sentence = "No bench test names an instrument."
    else:
        sentence = (
            f"Of {uses} uses of an instrument {in_100(good / uses)} fall within "
            f"its calibration, {in_100(out / uses)} outside it; for "
            f"{in_100(undated / uses)} no dates are told, and for "
            f"{in_100(unstated / uses)} not even what the instrument can show."
        )
    outside = ask(_OUT)
    tables = (
        _uses_table(counts, settings),
        _outside_table(outside),
        _moved_table(ask(_MOVED)),
    )
    section = Section(
        "calibration",
        "Instruments and their calibration",
        (sentence,),
        tuple(one for one in tables if one.rows),
    )
    shops = sorted({row[0] for row in outside}, key=by_name)
    asked = tuple(_asked(ask, shop, outside, counts) for shop in shops)
    return Part(section, asked)


def _asked(
    ask: Ask,
    shop: str,
    outside: Sequence[tuple[str, str, int, str, int]],
    counts: Sequence[tuple[str, int, int, int, int, int]],
) -> AskedOfShop:
    own = [row for row in outside if row[0] == shop]
    number = sum(row[2] for row in own)
    uses = next(row[1] for row in counts if row[0] == shop)
    return AskedOfShop(
        screen="instruments used outside their calibration",
        shop=shop,
        question=(
            f"{number} of {uses} uses of instruments of {shop} fall outside their "
            f"calibration ({', '.join(row[1] for row in own)}). When were they "
            "calibrated?"
        ),
        measured={
            "outside": number,
            "uses": uses,
            "days at most": max(r[4] for r in own),
        },
        peers={},
        at_least="one use: this needs no comparison",
        honest_reasons=_OUT_REASONS,
        to_open=to_open(ask, dict(ask(_ORDERS, [shop]))),
    )


def _uses_table(
    counts: Sequence[tuple[str, int, int, int, int, int]], settings: Settings
) -> Table:
    columns = (
        SHOP,
        Column("uses", "Uses"),
        Column("within", "In calibration"),
        Column("share", "Share", "%", 1),
        *interval(""),
        Column("outside", "Outside"),
        Column("undated", "No dates"),
        Column("unstated", "No specification"),
    )
    rows = []
    for shop, uses, good, out, undated, unstated in sorted(
        counts, key=lambda row: by_name(row[0])
    ):
        ends = wilson(good, uses) if uses >= settings.least_for_interval else None
        rows.append(
            (
                shop,
                uses,
                good,
                100 * good / uses if uses >= settings.least_for_rate else None,
                100 * ends[0] if ends else None,
                100 * ends[1] if ends else None,
                out,
                undated,
                unstated,
            )
        )
    return Table(
        "calibration",
        "Uses of instruments, by shop",
        columns,
        tuple(rows),
        f"No share: fewer than {settings.least_for_rate} uses; no interval: fewer than "
        f"{settings.least_for_interval}.",
    )


def _outside_table(outside: Sequence[tuple[str, str, int, str, int]]) -> Table:
    columns = (
        SHOP,
        Column("instrument", "Instrument"),
        Column("uses", "Uses outside"),
        Column("due", "Was due"),
        Column("days", "Days at most", "d"),
    )
    title = "Instruments used outside their calibration"
    return Table("outside-calibration", title, columns, tuple(outside))


def _moved_table(moved: Sequence[tuple[str, str, str, str]]) -> Table:
    columns = (
        SHOP,
        Column("instrument", "Instrument"),
        Column("certificate", "Certificate"),
        Column("due", "Due"),
    )
    title = "Due dates that moved under one certificate"
    return Table("moved-due-dates", title, columns, tuple(moved))
