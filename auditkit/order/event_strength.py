"""How strongly each event of an order shows what it says.

A reading without a method, or without an instrument that states its specification and a
dated check, is typed: never refused for it, since the careful must not end below the
careless. So is a bench test that came to something else, or was no measurement, before
an amendment, and one that somebody else signed than who made it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.bench_event import result_of
from auditkit.order.events import Event, RepairOrder
from auditkit.order.on_behalf import signed_for
from auditkit.order.photographs import photographed
from auditkit.order.rewritten_tests import earlier_texts, rewritten
from auditkit.order.strength import Strength

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.policy import Policy
    from auditkit.text.values import Json

_OF_ERROR = (
    "percent_of_reading",
    "percent_of_span",
    "digits",
    "absolute",
    "certificate_u",
)
LONGEST_INTERVAL = 731
"""Most days between two checks of an instrument, unless a policy says: our choice."""


def strengths(
    order: RepairOrder, catalogue: Catalogue, policy: Policy
) -> tuple[Strength, ...]:
    """Return the strength of each event of an order, by its place."""
    days = policy.setting("instrument-out-of-calibration").parameters.get("days")
    longest = days if isinstance(days, int) else LONGEST_INTERVAL
    pictured = photographed(order)
    return tuple(
        Strength.TYPED
        if _is_made_stronger(order, event, catalogue, longest)
        else _strength(
            event,
            catalogue,
            longest,
            is_pictured=event.index in pictured,
            is_own=not signed_for(order, event),
        )
        for event in order.events
    )


def _is_made_stronger(
    order: RepairOrder, event: Event, catalogue: Catalogue, longest: int
) -> bool:
    """Return whether amendments gave a bench test its outcome, or its instruments."""
    if event.kind != "bench_test":
        return False
    if rewritten(order, event, catalogue.bench_tests) is not None:
        return True
    return is_measured(event, catalogue, longest) and not all(
        is_measured(one, catalogue, longest) for one in earlier_texts(order, event)
    )


def _strength(
    event: Event,
    catalogue: Catalogue,
    longest: int,
    *,
    is_pictured: bool,
    is_own: bool,
) -> Strength:
    seen = Strength.PHOTOGRAPHED if is_pictured else Strength.TYPED
    if event.kind == "readout":
        return Strength.VEHICLE if event.text("raw") else seen
    if event.kind == "bench_test":
        is_first_hand = is_own and is_measured(event, catalogue, longest)
        return Strength.MEASURED if is_first_hand else seen
    if event.kind == "self_test":
        return seen
    return Strength.PHOTOGRAPHED if is_pictured else Strength.WORD


def is_measured(
    event: Event, catalogue: Catalogue, longest: int = LONGEST_INTERVAL
) -> bool:
    """Return whether a bench test is a measurement: method, and instruments that state.

    Each instrument states an error, which none is without, and a check that was not out
    of date, by an interval of at most ``longest`` days. One that claims more than such
    instruments can do leaves doubts, and then what was read is typed.
    """
    try:
        found = result_of(event, catalogue.bench_tests)
    except InputError:
        return False
    instruments = list(event.items("instruments"))
    return (
        found is not None
        and found.outcome != "not-valid"
        and not found.doubts
        and not found.unchecked
        and bool(instruments)
        and all(
            isinstance(stated := item.get("specification"), Mapping)
            and not why_typed(stated, event.at.date(), longest)
            for item in instruments
        )
    )


def why_typed(specification: Mapping[str, Json], day: date, longest: int) -> str:
    """Return why what an instrument shows counts as typed; empty where it measures."""
    since, due = (str(specification.get(name, "")) for name in ("calibrated_on", "due"))
    try:
        first, last = date.fromisoformat(since), date.fromisoformat(due)
    except ValueError:
        return "the days of its calibration are not both given"
    if not first <= day <= last:
        return f"tested on {day}, calibrated on {since}, due on {due}"
    if (last - first).days > longest:
        return f"calibrated on {since} and due on {due}: more than {longest} days"
    if not any(_is_above_zero(specification.get(name)) for name in _OF_ERROR):
        return "it states no error, and none is without"
    return ""


def _is_above_zero(value: Json) -> bool:
    try:
        return value is not None and Decimal(str(value)) > 0
    except InvalidOperation:
        return False
