"""What was delivered, what was held back, and by what it was judged.

What is absent shows nothing, neither good nor bad; but a shop that sends all but its
failures has a gap, and the gap's place is known. Pure but for ``ask``.
"""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.fleet.audited import AskedOfShop, Section
from auditkit.fleet.delivery.logs import LogHere, of_shop, read_logs
from auditkit.fleet.delivery.questions import (
    begun_anew,
    conflicting,
    little_delivered,
)
from auditkit.fleet.delivery.tables import (
    conflict_table,
    log_table,
    number_table,
    refused_table,
)
from auditkit.fleet.delivery.unnamed_vehicles import (
    questions,
    read_unnamed,
    sentences,
    unnamed_table,
)
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name, counted, listed
from auditkit.fleet.settings import Settings

_PACKETS = """SELECT count(*) FILTER (is_verified),
        count(*) FILTER (NOT is_verified) FROM packet"""
_CONFLICTS = """SELECT CAST(c.kind AS VARCHAR), s.shop, s.origin, c.sentence,
        lower(hex(p.sha256)), coalesce(p.order_no, ''), lower(hex(q.sha256)),
        coalesce(q.order_no, '')
    FROM conflict c JOIN shop_log s USING (log_id)
    LEFT JOIN packet p ON p.packet_id = c.first_packet_id
    LEFT JOIN packet q ON q.packet_id = c.second_packet_id
    ORDER BY 2, 3, 1, c.seq, 4, 5, 7"""

_OUTSIDE = """SELECT count(*) FROM repair_order o JOIN shop_log s USING (log_id)
    JOIN packet p USING (packet_id)
    WHERE s.is_counted AND p.key_is = 'outside its dates'"""


def delivered(ask: Ask, settings: Settings) -> Part:
    """Tell what of each log is here, what is withheld, refused, or begun anew."""
    logs, unnamed = read_logs(ask), read_unnamed(ask, settings)
    conflicts = ask(_CONFLICTS)
    anew = begun_anew(logs)
    asked = [
        *little_delivered(logs, settings),
        *anew,
        *conflicting(conflicts),
        *questions(ask, unnamed, settings),
    ]
    tables = (
        log_table(logs, settings),
        unnamed_table(unnamed),
        number_table(ask),
        refused_table(ask),
        conflict_table(conflicts),
    )
    return Part(
        Section(
            "delivered",
            "What was delivered, and what was not",
            (*_sentences(ask, logs, anew, settings), *sentences(unnamed)),
            tables,
        ),
        tuple(sorted(asked, key=lambda a: (by_name(a.shop), a.screen))),
    )


def _sentences(
    ask: Ask,
    logs: Sequence[LogHere],
    anew: Sequence[AskedOfShop],
    settings: Settings,
) -> list[str]:
    ((good, refused),) = ask(_PACKETS)
    shops = of_shop(logs)
    ((orders,),) = ask("SELECT count(*) FROM counted_order")
    said = [
        (
            f"{counted(good, 'packet')} of {counted(len(logs), 'log')} verified; "
            f"counted here: {counted(orders, 'repair order')} of "
            f"{counted(len(shops), 'shop')}."
        )
    ]
    if refused:
        said.append(
            f"{counted(refused, 'packet')} could not be read, or did not verify: "
            "nothing is shown by it."
        )
    for shop, own in shops.items():
        if own.lacks_much:
            missing = own.size - own.here
            orders = sum(log.orders for log in own.logs)
            about = missing * orders / own.here if own.here else 0
            lacking = f", about {about:,.0f} repair orders" if about >= 1 else ""
            said.append(
                f"{shop} delivered {100 * own.here / own.size:.0f} of 100 steps that "
                f"its log holds: {missing:,} are missing{lacking}. Its numbers cannot "
                "be compared until the rest is here."
            )
    forked = [log.shop for log in logs if log.is_forked]
    if forked:
        left = "counted all the same, as asked" if settings.with_forked else "left out"
        said.append(
            f"Two versions of one log, of which at most one is true, were signed by "
            f"{listed(forked)}: {left}. Both are kept."
        )
    unknown = [log for log in logs if not log.is_trusted]
    if ask("SELECT keys_sha256 IS NULL FROM collection LIMIT 1") == [(True,)]:
        said.append(
            "No list of the shops' keys was given: each log counts under the name that "
            "it claims, and nothing shows whose it is."
        )
    elif unknown:
        orders = sum(log.orders for log in unknown)
        said.append(
            f"{counted(len(unknown), 'log')} with {counted(orders, 'repair order')} "
            "left out: their keys are not in the reader's list."
        )
    ((outside,),) = ask(_OUTSIDE)
    if outside:
        said.append(
            f"{counted(outside, 'repair order')} left out: from outside the days on "
            "which the reader's list knows the key as the shop's."
        )
    if anew:
        names = listed([one.shop for one in anew])
        said.append(
            f"A new log was begun again and again by {names}: that sets its "
            "history back to nothing, so what looks good there shows little."
        )
    return said
