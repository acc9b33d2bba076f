"""The same vehicle was here before: what its last order says of it. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from auditkit.order.events import RepairOrder
from auditkit.text.values import Json, Quantity, quantity

_TAKEN = ("description", "plate", "model_year", "ignition")
_OF_CUSTOMER = ("name", "contact")


@dataclass(frozen=True, slots=True)
class EarlierVisit:
    """An earlier order of a vehicle.

    ``answers`` are what the opening of a new one can take over, by key: what the
    vehicle is and whose, never what it showed. ``day`` is the opening's.
    """

    order: str
    day: str
    description: str
    odometer: Quantity | None
    answers: Mapping[str, str]

    def is_above(self, value: Json) -> bool:
        """Return whether the vehicle had gone further then than an odometer says."""
        now = quantity(value)
        was = self.odometer
        return now is not None and was is not None and now.kilometres < was.kilometres


def earlier_visit(order: RepairOrder) -> EarlierVisit | None:
    """Return what an order says of its vehicle; None where its opening is gone."""
    if order.opening is None:
        return None
    vehicle = order.opening.object("vehicle")
    customer = order.opening.object("customer")
    answers = {f"vehicle.{n}": str(vehicle[n]) for n in _TAKEN if n in vehicle}
    answers |= {
        f"customer.{n}": str(customer[n]) for n in _OF_CUSTOMER if n in customer
    }
    return EarlierVisit(
        order.id,
        order.opening.text("at")[:10],
        order.vehicle("description"),
        quantity(vehicle.get("odometer")),
        answers,
    )
