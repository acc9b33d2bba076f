"""A readout that a person typed from a display, as what the vehicle said. Pure.

Per module it says what was asked and displayed: an empty list is "none displayed", a
member that is absent was not asked or not shown by this display. It fills the same
questions as bytes do, as strongly as somebody's typing does.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from auditkit.obd import Readout
from auditkit.obd.dtc import Code
from auditkit.obd.monitors import SINCE_CLEAR, Monitor, monitor_named
from auditkit.obd.parameters import DISTANCE, MINUTES, ODOMETER, WARM_UPS, Value
from auditkit.obd.transcript import UNKNOWN
from auditkit.order.events import Event
from auditkit.text.values import Json, quantity

SOURCE = "typed from a display"
_CODES = {"stored": ("confirmed", "03"), "pending": ("pending", "07")}
_CODES["permanent"] = ("permanent", "0A")
_COUNTS = {
    "warm_ups": (WARM_UPS, "warm-ups since codes were cleared", "count"),
    "distance": (DISTANCE, "distance since codes were cleared", "km"),
    "minutes": (MINUTES, "engine run time since codes were cleared", "min"),
    "odometer": (ODOMETER, "odometer", "km"),
}


def typed_readout(event: Event) -> Readout:
    """Return what a typed readout says; an empty readout for one that is not typed."""
    typed = event.object("typed")
    modules = list(_objects(typed.get("modules")))
    codes = [code for module in modules for code in _codes(module)]
    answered = {pair for module in modules for pair in _answered(module)}
    vin = typed.get("vin")
    values = tuple(_values(typed))
    if values or vin:
        first = _name(modules[0]) if modules else UNKNOWN
        answered |= {(first, "01")} if values else set()
        answered |= {(first, "09")} if vin else set()
    return Readout(
        responders=tuple(dict.fromkeys(_name(module) for module in modules)),
        vin=vin if isinstance(vin, str) else None,
        confirmed=tuple(c for c in codes if c.kind == "confirmed"),
        pending=tuple(c for c in codes if c.kind == "pending"),
        permanent=tuple(c for c in codes if c.kind == "permanent"),
        monitors=tuple(m for module in modules for m in _monitors(module)),
        calibration_ids=tuple(
            (_name(module), str(text))
            for module in modules
            for text in _list(module.get("calibrations"))
        ),
        mil=tuple(
            (_name(module), bool(module["lamp"]))
            for module in modules
            if isinstance(module.get("lamp"), bool)
        ),
        reported=frozenset(service for _, service in answered),
        values=values,
        answered=frozenset(answered),
        counts=tuple(
            (_name(module), count)
            for module in modules
            if isinstance(count := module.get("count"), int)
        ),
    )


def typed_tests(event: Event) -> Iterator[Event]:
    """Yield the self-tests of a typed readout, each as a ``self_test`` event.

    Nothing of a readout that holds raw text: there the bytes speak.
    """
    if event.text("raw"):
        return
    for module in _objects(event.object("typed").get("modules")):
        for test in _objects(module.get("self_tests")):
            data = {
                "kind": "self_test",
                "at": event.text("at"),
                "by": event.text("by"),
                "seen_on": event.text("tool"),
                "outcome": "displayed",
                **test,
            }
            yield Event(event.index, data)


def _codes(module: Mapping[str, Json]) -> Iterator[Code]:
    for member, (kind, _) in _CODES.items():
        for text in _list(module.get(member)):
            yield Code(str(text), _name(module), kind)


def _answered(module: Mapping[str, Json]) -> Iterator[tuple[str, str]]:
    name = _name(module)
    for member, (_, service) in _CODES.items():
        if isinstance(module.get(member), list):
            yield name, service
    if "lamp" in module or "count" in module or "monitors" in module:
        yield name, "01"
    if isinstance(module.get("self_tests"), list):
        yield name, "06"
    if isinstance(module.get("calibrations"), list):
        yield name, "09"


def _monitors(module: Mapping[str, Json]) -> Iterator[Monitor]:
    """Yield each monitor once, by whatever names it stands there.

    Of two states of one monitor neither counts: it is there, and whether it is complete
    is not known.
    """
    states: dict[str, set[str]] = {}
    for item in _objects(module.get("monitors")):
        name = monitor_named(str(item.get("monitor", "")))
        states.setdefault(name, set()).add(str(item.get("state", "")))
    for name, told in states.items():
        supported = told != {"not-supported"}
        complete = told == {"complete"} if supported and len(told) == 1 else None
        yield Monitor(_name(module), name, supported, complete, SINCE_CLEAR)


def _values(typed: Mapping[str, Json]) -> Iterator[Value]:
    counts = typed.get("counts")
    if not isinstance(counts, Mapping):
        return
    for member, (identifier, name, unit) in _COUNTS.items():
        amount = quantity(counts.get(member))
        if amount is None:
            continue
        number = amount.kilometres if amount.unit == "mi" else amount.value
        yield Value(UNKNOWN, "01", identifier, name, number, unit, None, SOURCE)


def _name(module: Mapping[str, Json]) -> str:
    return str(module.get("module", UNKNOWN))


def _list(value: Json) -> list[Json]:
    return value if isinstance(value, list) else []


def _objects(value: Json) -> Iterable[dict[str, Json]]:
    return [item for item in _list(value) if isinstance(item, dict)]
