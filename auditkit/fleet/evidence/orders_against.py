"""Orders whose own evidence speaks against them, and faults repaired anew."""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.fleet.audited import AskedOfShop, Column, Section, Table
from auditkit.fleet.evidence.packets import to_open
from auditkit.fleet.evidence.wording import SHOP
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name, counted
from auditkit.fleet.settings import Settings

_VERDICTS = """
    SELECT shop, order_id, order_no, CAST(verdict AS VARCHAR),
        coalesce(CAST(signed_verdict AS VARCHAR), 'none'),
        coalesce(is_overstated, false)
    FROM counted_order
    WHERE verdict = 'contradicted' OR is_overstated
    ORDER BY ALL"""
_ORDERS = "SELECT count(*) FROM counted_order"
_AGAIN = """
    SELECT o.shop, o.vin, f.module, f.code, count(DISTINCT o.order_id),
        list(DISTINCT o.order_id ORDER BY o.order_id),
        strftime(min(o.opened_at), '%Y-%m-%d'), strftime(max(o.opened_at), '%Y-%m-%d')
    FROM fault f JOIN counted_order o USING (order_id)
    WHERE f.is_addressed AND f.attempts > 0 AND o.vin IS NOT NULL
    GROUP BY o.shop, o.vin, f.module, f.code HAVING count(DISTINCT o.order_id) >= 3
    ORDER BY ALL"""
_AGAINST_REASONS = (
    "the vehicle came back with the fault, and the shop says so: that is honest",
    "a readout of another vehicle was attached by mistake",
    "the shop judged by rules, or a policy, of its own",
)
_AGAIN_REASONS = (
    "the fault comes and goes, and each repair took one cause away",
    "parts that were fitted were faulty themselves",
    "the owner did not want the whole repair at once",
)


def orders_against(ask: Ask, settings: Settings) -> Part:  # noqa: ARG001
    """List orders that their own evidence contradicts, or that claim more than it."""
    rows = ask(_VERDICTS)
    again = ask(_AGAIN)
    number = ask(_ORDERS)[0][0]
    against = sum(row[3] == "contradicted" for row in rows)
    over = sum(row[5] for row in rows)
    told = (
        f"Of {counted(number, 'order')}, contradicted by what they hold: {against}; "
        f"signed with a better verdict than they show: {over}."
    )
    repeated = (
        f"{counted(len(again), 'fault')} repaired on three orders or more, of one "
        "vehicle at one shop."
    )
    section = Section(
        "orders-against",
        "Orders that their own evidence speaks against",
        (told, repeated),
        tuple(t for t in (_verdict_table(rows), _again_table(again)) if t.rows),
    )
    shops = sorted({row[0] for row in rows}, key=by_name)
    asked = [_about_verdicts(ask, shop, rows) for shop in shops]
    shops = sorted({row[0] for row in again}, key=by_name)
    asked += [_about_repeats(ask, shop, again) for shop in shops]
    return Part(section, tuple(asked))


_Verdicts = Sequence[tuple[str, int, str, str, str, bool]]
_Repeats = Sequence[tuple[str, str, str, str, int, list[int], str, str]]


def _about_verdicts(ask: Ask, shop: str, rows: _Verdicts) -> AskedOfShop:
    own = [row for row in rows if row[0] == shop]
    return AskedOfShop(
        screen="orders that their own evidence speaks against",
        shop=shop,
        question=(
            f"In {counted(len(own), 'order')} of {shop} the evidence speaks against "
            "the repair, or shows less than was signed. What happened?"
        ),
        measured={"orders": len(own)},
        peers={},
        at_least="one order: this needs no comparison",
        honest_reasons=_AGAINST_REASONS,
        to_open=to_open(
            ask, {row[1]: f"judged {row[3]}, signed as {row[4]}" for row in own}
        ),
    )


def _about_repeats(ask: Ask, shop: str, rows: _Repeats) -> AskedOfShop:
    own = [row for row in rows if row[0] == shop]
    because = {
        order_id: f"{code} of module {module}, one of {number} orders"
        for _, _, module, code, number, orders, _, _ in own
        for order_id in orders
    }
    return AskedOfShop(
        screen="faults repaired again and again",
        shop=shop,
        question=(
            f"{len(own)} faults of {shop} were repaired on three orders or more of one "
            "vehicle. What was the cause in the end?"
        ),
        measured={"faults": len(own), "orders": len(because)},
        peers={},
        at_least="three orders with one fault of one vehicle",
        honest_reasons=_AGAIN_REASONS,
        to_open=to_open(ask, because),
    )


def _verdict_table(rows: _Verdicts) -> Table:
    columns = (
        SHOP,
        Column("order", "Order"),
        Column("verdict", "Judged here"),
        Column("signed", "Signed as"),
    )
    cells = tuple((row[0], *row[2:5]) for row in rows)
    title = "Orders that are contradicted, or claim more than they show"
    return Table("orders-against", title, columns, cells)


def _again_table(rows: _Repeats) -> Table:
    columns = (
        SHOP,
        Column("vin", "VIN"),
        Column("module", "Module"),
        Column("code", "Code"),
        Column("orders", "Orders"),
        Column("first", "First"),
        Column("last", "Last"),
    )
    cells = tuple((*row[:5], *row[6:]) for row in rows)
    return Table("repaired-again", "Faults repaired again and again", columns, cells)
