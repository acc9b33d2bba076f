"""Every page and form of the bay, and who may make the request. Data."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from starlette.responses import Response

from auditkit.bay.pages import (
    bench_extras,
    caution_view,
    choices_view,
    close_view,
    correct_view,
    counter_view,
    diagnosis_view,
    form_view,
    look_view,
    open_view,
    order_view,
    readout_view,
    shop_view,
    sign_in_view,
)
from auditkit.bay.pages.visit import Visit, Who

View = Callable[[Visit], Response]


@dataclass(frozen=True, slots=True)
class Way:
    """A request that is answered.

    ``is_touch`` is false of what a page asks by itself: it keeps nobody signed in.
    ``is_long`` is true of what may take a second and more, and of what waits for
    another process: nobody else's request waits for it.
    ``is_at_counter`` is true of the few that are answered while one order is shown to
    somebody who is not of the shop.
    """

    method: str
    path: str
    who: Who
    view: View
    is_touch: bool = True
    is_long: bool = False
    is_at_counter: bool = False


WAYS = (
    Way("GET", "/", Who.LOOKS, order_view.home),
    Way("GET", "/sign-in", Who.ANYBODY, sign_in_view.show, is_at_counter=True),
    Way("POST", "/sign-in", Who.ANYBODY, sign_in_view.sign_in, is_at_counter=True),
    Way("POST", "/sign-out", Who.ANYBODY, sign_in_view.sign_out),
    Way("GET", "/counter", Who.ANYBODY, counter_view.show, is_at_counter=True),
    Way("POST", "/orders/{order}/counter", Who.MANAGES, counter_view.begin),
    Way("POST", "/lock", Who.LOOKS, sign_in_view.lock),
    Way("GET", "/orders", Who.LOOKS, order_view.find, is_long=True),
    Way("GET", "/new-order", Who.WRITES, open_view.show),
    Way("POST", "/new-order", Who.WRITES, open_view.open_order),
    Way("POST", "/new-order/draft", Who.WRITES, open_view.keep_draft),
    Way("GET", "/orders/{order}", Who.LOOKS, order_view.show),
    Way(
        "GET",
        "/orders/{order}/argument",
        Who.LOOKS,
        order_view.argument,
        is_touch=False,
    ),
    Way("GET", "/orders/{order}/packet", Who.LOOKS, close_view.packet, is_long=True),
    Way("GET", "/orders/{order}/receipt", Who.LOOKS, close_view.receipt, is_long=True),
    Way("GET", "/orders/{order}/close", Who.WRITES, close_view.show),
    Way("POST", "/orders/{order}/close", Who.WRITES, close_view.close),
    Way("GET", "/orders/{order}/add/caution", Who.WRITES, caution_view.show),
    Way("POST", "/orders/{order}/add/caution", Who.WRITES, caution_view.add),
    Way(
        "GET",
        "/orders/{order}/timer",
        Who.WRITES,
        bench_extras.runs,
        is_touch=False,
    ),
    Way("GET", "/orders/{order}/add/diagnosis", Who.WRITES, diagnosis_view.show),
    Way("POST", "/orders/{order}/add/diagnosis", Who.WRITES, diagnosis_view.add),
    Way("GET", "/orders/{order}/add/readout", Who.WRITES, readout_view.show),
    Way("POST", "/orders/{order}/add/readout", Who.WRITES, readout_view.add),
    Way("POST", "/orders/{order}/live", Who.WRITES, readout_view.begin),
    Way("POST", "/orders/{order}/live/stop", Who.WRITES, readout_view.stop),
    Way(
        "GET",
        "/orders/{order}/live",
        Who.LOOKS,
        readout_view.watch,
        is_touch=False,
    ),
    Way("GET", "/orders/{order}/add/{kind}", Who.WRITES, form_view.show),
    Way("POST", "/orders/{order}/add/{kind}", Who.WRITES, form_view.add),
    Way("GET", "/orders/{order}/correct/{entry}", Who.WRITES, correct_view.show),
    Way("POST", "/orders/{order}/correct/{entry}", Who.WRITES, correct_view.correct),
    Way(
        "POST",
        "/orders/{order}/draft/{kind}",
        Who.WRITES,
        form_view.keep_draft,
    ),
    Way(
        "POST",
        "/orders/{order}/look/{kind}",
        Who.WRITES,
        look_view.look,
        is_touch=False,
    ),
    Way("POST", "/vin", Who.WRITES, open_view.vin_told, is_touch=False),
    Way("GET", "/shop", Who.LOOKS, shop_view.show),
    Way("POST", "/shop/enrol", Who.MANAGES, shop_view.enrol, is_long=True),
    Way("POST", "/shop/revoke", Who.MANAGES, shop_view.revoke, is_long=True),
    Way("POST", "/shop/replace", Who.MANAGES, shop_view.replace, is_long=True),
    Way("POST", "/shop/instrument", Who.MANAGES, choices_view.instrument),
    Way("POST", "/shop/calibration", Who.MANAGES, choices_view.calibration),
    Way("POST", "/shop/policy", Who.MANAGES, choices_view.policy),
)
