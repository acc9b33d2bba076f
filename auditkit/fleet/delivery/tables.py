"""The tables of what was delivered, and what was not. Pure but for ``ask``."""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.fleet.audited import Cell, Column, Table
from auditkit.fleet.delivery.logs import LogHere
from auditkit.fleet.delivery.order_numbers import numbered
from auditkit.fleet.part import Ask
from auditkit.fleet.phrases import by_name, percent
from auditkit.fleet.settings import Settings

_REFUSED = """SELECT coalesce(refused_because, 'not verified'), count(*)
    FROM packet WHERE NOT is_verified GROUP BY 1 ORDER BY 2 DESC, 1"""
_NUMBERS = """SELECT DISTINCT s.shop, o.order_no FROM repair_order o
    JOIN shop_log s USING (log_id) WHERE s.is_counted ORDER BY 1, 2"""


def log_table(logs: Sequence[LogHere], settings: Settings) -> Table:
    """Return how much of each log is here."""
    return Table(
        name="logs",
        title="How much of each log is here",
        columns=(
            Column("shop", "shop"),
            Column("log", "log"),
            Column("here", "entries here"),
            Column("size", "of"),
            Column("coverage", "here", "%", 1),
            Column("missing", "longest missing stretches"),
            Column("orders", "repair orders"),
            Column("opened", "opened"),
            Column("last", "last entry"),
            Column("continues", "continues"),
            Column("counts", "what is said"),
        ),
        rows=tuple(
            (
                *(log.shop, log.origin, log.here, log.size, percent(log.coverage)),
                *(log.stretches, log.orders, _day(log.opened_at)),
                *(_day(log.last_recorded), log.predecessor or "", _counts(log)),
            )
            for log in logs
        ),
        note="Entries are numbered from 0. A shop is compared where at least "
        f"{100 * settings.least_coverage:g} in 100 of its entries are here. Its log's "
        "own are left aside, and what an order has more than three times as many as is "
        "usual: they make up for no order that is not here.",
        without="",
    )


def _day(at: object) -> str:
    return str(at)[:10] if at is not None else ""


def _counts(log: LogHere) -> str:
    if not log.is_counted:
        return (
            "left out: two histories"
            if log.is_forked
            else "left out: its key is not in the list"
        )
    if log.is_forked:
        return "counted, although it has two histories"
    return "counted" if log.is_compared else "counted, not compared"


def number_table(ask: Ask) -> Table:
    """Return the order numbers that are missing where a shop counts one by one."""
    of: dict[str, list[str]] = {}
    for shop, number in ask(_NUMBERS):
        of.setdefault(shop, []).append(number)
    rows: list[tuple[Cell, ...]] = [
        (shop, s.prefix, s.smallest, s.largest, s.here, s.missing)
        for shop in sorted(of, key=by_name)
        for s in numbered(of[shop])
    ]
    return Table(
        name="order_numbers",
        title="Repair order numbers that are not here",
        columns=(
            Column("shop", "shop"),
            Column("prefix", "numbers beginning with"),
            Column("smallest", "smallest"),
            Column("largest", "largest"),
            Column("here", "here"),
            Column("missing", "not here"),
        ),
        rows=tuple(rows),
        note="Only where a shop counts one by one. A missing number may be a job "
        "without a fault, a cancelled job, or one of the counter's sales.",
    )


def refused_table(ask: Ask) -> Table:
    """Return why packets show nothing."""
    return Table(
        name="refused",
        title="Packets that show nothing",
        columns=(Column("because", "because"), Column("packets", "packets")),
        rows=tuple(ask(_REFUSED)),
    )


def conflict_table(conflicts: Sequence[tuple[str, ...]]) -> Table:
    """Return the pairs of packets that cannot both be true, or lack entries."""
    return Table(
        name="conflicts",
        title="Packets that cannot both be true, or that lack entries of each other",
        columns=(
            Column("kind", "kind"),
            Column("shop", "shop"),
            Column("log", "log"),
            Column("sentence", "what is so"),
            Column("first", "packet"),
            Column("second", "and packet"),
        ),
        rows=tuple(
            (kind, shop, origin, sentence, first, second)
            for kind, shop, origin, sentence, first, _, second, _ in conflicts
        ),
        without="",
    )
