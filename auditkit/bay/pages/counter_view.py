"""One order, shown at the counter to a customer or an inspector, and nothing else.

The manager's key is forgotten meanwhile; their passphrase leads back. Who the customer
is stays out, as it does of a packet.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from auditkit.bay.pages.order_view import path_of, values
from auditkit.bay.pages.visit import see_other

if TYPE_CHECKING:
    from starlette.responses import Response

    from auditkit.bay.pages.desk import Standing
    from auditkit.bay.pages.visit import Visit


def begin(visit: Visit) -> Response:
    """Show an order alone from now on."""
    visit.desk.standing(visit.order)  # which says so where there is none
    visit.desk.sign_ins.show_only(visit.token, visit.order)
    return see_other("/counter")


def show(visit: Visit) -> Response:
    """Show the one order; to anybody else, where to sign in."""
    if not visit.shown:
        return see_other("/orders")
    order = visit.shown
    seen = replace(visit, place={"order": order})
    return visit.page(
        "counter.html",
        **values(seen, _nameless(visit.desk.standing(order))),
        back=path_of(order),
    )


def _nameless(standing: Standing) -> Standing:
    """Return an order without its customer."""
    lines = tuple(
        replace(line, event={n: v for n, v in line.event.items() if n != "customer"})
        for line in standing.logged.lines
    )
    return replace(standing, logged=replace(standing.logged, lines=lines))
