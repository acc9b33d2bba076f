"""Tests that were shorter than the hold that they claim: a list, no statistics."""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.fleet.audited import AskedOfShop, Column, Section, Table
from auditkit.fleet.evidence.packets import to_open
from auditkit.fleet.evidence.wording import SHOP
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name, counted
from auditkit.fleet.settings import Settings

_TYPED_S = 60
"""Times are typed to the minute: a hold that misses by less is none."""

_SHORT = """
    WITH tests AS (
        SELECT o.shop, o.order_id, o.order_no, r.log_id, r.seq,
            coalesce(r.method, r.test_kind) AS test, max(r.hold_s) AS hold_s,
            date_diff('second', min(r.starts_at), max(r.ends_at)) AS lasted,
            date_diff('second', o.opened_at, o.closed_at) AS open_for
        FROM bench_reading r JOIN counted_order o USING (order_id)
        WHERE r.hold_s IS NOT NULL GROUP BY ALL),
    orders AS (
        SELECT shop, order_id, order_no, 'all holds of the order' AS test,
            CAST(sum(CAST(hold_s AS BIGINT)) AS DOUBLE) AS hold_s, open_for AS lasted
        FROM tests WHERE open_for IS NOT NULL GROUP BY ALL)
    SELECT shop, order_id, order_no, test, hold_s, lasted FROM tests
    WHERE hold_s > lasted + ?
    UNION ALL
    SELECT * FROM orders WHERE hold_s > lasted + ?
    ORDER BY ALL"""
_TESTED = """
    SELECT count(*) FROM bench_reading r JOIN counted_order o USING (order_id)
    WHERE r.hold_s IS NOT NULL AND r.starts_at IS NOT NULL"""
_REASONS = (
    "the times were typed in afterwards, from memory",
    "the hold was written down as the procedure asks for it, not as it was",
    "holds of two parts ran side by side",
)
_Row = tuple[str, int, str, str, float, int]


def cut_short(ask: Ask, settings: Settings) -> Part:  # noqa: ARG001
    """List the tests that ended before their hold was over."""
    rows: list[_Row] = list(ask(_SHORT, [_TYPED_S, _TYPED_S]))
    tested = ask(_TESTED)[0][0]
    sentence = (
        f"{len(rows) or 'No'} tests or orders took less time than the hold that they "
        f"claim; {counted(tested, 'reading')} with times to tell it by."
    )
    title = "Holds that were cut short"
    section = Section("cut-short", title, (sentence,), (_table(rows),) if rows else ())
    shops = sorted({row[0] for row in rows}, key=by_name)
    return Part(section, tuple(_question(ask, shop, rows) for shop in shops))


def _question(ask: Ask, shop: str, rows: Sequence[_Row]) -> AskedOfShop:
    own = [row for row in rows if row[0] == shop]
    because = {
        order_id: f"{test}: {hold:g} s claimed, {lasted} s between its times"
        for _, order_id, _, test, hold, lasted in own
    }
    return AskedOfShop(
        screen="holds that were cut short",
        shop=shop,
        question=(
            f"{len(own)} times a test of {shop} took less time than the hold that it "
            "claims. How long was it held?"
        ),
        measured={"times": len(own)},
        peers={},
        at_least="one test with a hold and its times: this needs no comparison",
        honest_reasons=_REASONS,
        to_open=to_open(ask, because),
    )


def _table(rows: Sequence[_Row]) -> Table:
    columns = (
        SHOP,
        Column("order", "Order"),
        Column("test", "Test"),
        Column("hold", "Hold", "s"),
        Column("lasted", "Lasted", "s"),
    )
    cells = tuple((row[0], *row[2:]) for row in rows)
    return Table("cut-short", "Holds that were cut short", columns, cells)
