"""What of a typed readout is hardly what a display showed: asked about, never mended.

Ranges are those of the bytes that the vehicle sends: identifiers 01, 30, 31 and 4E of
service 01 (ISO 15031-5:2006 Annex B). Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from auditkit.obd.vin import has_check_digit
from auditkit.text.display_text import plural
from auditkit.text.values import Json, quantity

if TYPE_CHECKING:
    from auditkit.order.events import Event, RepairOrder

_MOST = {
    "warm_ups": (255, "warm-ups", "one byte"),
    "distance": (65535, "kilometres", "two bytes"),
    "minutes": (65535, "minutes", "two bytes"),
}
_MOST_CODES = 127


def odd_typed(event: Event, order: RepairOrder) -> Iterator[str]:
    """Yield in a sentence each thing to look at again on the display."""
    typed = event.object("typed")
    yield from _vin(str(typed.get("vin") or ""), order)
    counts = typed.get("counts")
    for name, amount in (counts if isinstance(counts, Mapping) else {}).items():
        yield from _count(name, amount, order)
    modules = typed.get("modules")
    for module in modules if isinstance(modules, list) else []:
        if isinstance(module, dict):
            yield from _module(module)


def _vin(vin: str, order: RepairOrder) -> Iterator[str]:
    written = order.vehicle("vin")
    if vin and written and vin != written:
        yield f"VIN {vin}: the order was opened for {written}"
    elif vin and not has_check_digit(vin):
        yield (
            f"VIN {vin}: its check digit does not fit: a slip, or a vehicle from where "
            "none is used"
        )


def _count(name: str, value: Json, order: RepairOrder) -> Iterator[str]:
    amount = quantity(value)
    if amount is None:
        return
    number = amount.kilometres if amount.unit == "mi" else amount.value
    most, words, size = _MOST.get(name, (0, "", ""))
    if most and number > most:
        yield f"{amount} {words}: a vehicle counts to {most} there, in {size}"
    opened = order.of("opening")
    first = quantity(opened[0].object("vehicle").get("odometer")) if opened else None
    if name == "odometer" and first is not None:
        before = first.kilometres if first.unit == "mi" else first.value
        if number < before:
            yield f"Odometer {amount}: less than {first} when the order was opened"


def _module(module: Mapping[str, Json]) -> Iterator[str]:
    name, count, stored = (module.get(n) for n in ("module", "count", "stored"))
    if isinstance(count, int) and not 0 <= count <= _MOST_CODES:
        yield f"{name}: {count} stored codes: a module counts to {_MOST_CODES}"
    elif isinstance(count, int) and isinstance(stored, list) and count != len(stored):
        yield (
            f"{name}: it counts {plural(count, 'stored code', 'stored codes')}, and "
            f"{len(stored)} {'is' if len(stored) == 1 else 'are'} listed"
        )
    tests = module.get("self_tests")
    for test in tests if isinstance(tests, list) else []:
        if isinstance(test, dict):
            yield from _test(str(name), test)


def _test(module: str, test: Mapping[str, Json]) -> Iterator[str]:
    value, low, high = (quantity(test.get(n)) for n in ("value", "minimum", "maximum"))
    called = f"{module}, {test.get('monitor')}"
    if (
        low is not None
        and high is not None
        and low.unit == high.unit
        and low.value > high.value
    ):
        yield f"{called}: minimum {low} lies above maximum {high}"
    limits = [one for one in (low, high) if one is not None]
    if value is not None and any(one.unit != value.unit for one in limits):
        yield f"{called}: value and limits are in different units"
    if value is not None and not limits:
        yield f"{called}: a value without a limit: it can be neither passed nor failed"
