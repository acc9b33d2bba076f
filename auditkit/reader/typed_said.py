"""What a person typed from a vehicle's display, member by member. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from auditkit.order.event_text import value_text
from auditkit.reader.blocks import Block, Fact, Facts, Paragraph, Table

if TYPE_CHECKING:
    from auditkit.text.values import Json

_NAMES = {
    "stored": "stored codes",
    "pending": "pending codes",
    "permanent": "permanent codes",
    "lamp": "engine lamp is on",
    "count": "codes counted",
    "not_shown": "not shown by this display",
    "monitors": "readiness",
}
_TEST_HEAD = ("Self-test", "Value", "Minimum", "Maximum")
_TEST = ("monitor", "mid", "tid", "value", "minimum", "maximum")


def typed_said(typed: Mapping[str, Json]) -> list[Block]:
    """Return what a display showed, as it was typed: every member of it."""
    modules = typed.get("modules")
    found = modules if isinstance(modules, list) else []
    blocks: list[Block] = [
        Paragraph(
            "Typed from a display, not read from the vehicle: weaker evidence.",
            "strong",
        ),
        Facts(tuple(_facts(typed, found))),
    ]
    rows = [_row(_who(module), test) for module in found for test in _tests(module)]
    if rows:
        blocks.append(Table(_TEST_HEAD, tuple(rows)))
    return blocks


def _who(module: Json) -> str:
    name = module.get("module") if isinstance(module, dict) else module
    return "unnamed" if name is None else value_text(name)


def _facts(typed: Mapping[str, Json], modules: list[Json]) -> Iterator[Fact]:
    if "vin" in typed:
        yield Fact("VIN, as displayed", value_text(typed["vin"]))
    for module in modules:
        if not isinstance(module, dict):
            yield Fact("Module", value_text(module))
            continue
        who = _who(module)
        for name, value in module.items():
            if name == "module" or (name == "self_tests" and _tests(module)):
                continue
            said = _NAMES.get(name, name.replace("_", " "))
            yield Fact(f"Module {who}: {said}", value_text(value))
    for name, value in typed.items():
        if name == "counts" and isinstance(value, dict):
            for which, count in value.items():
                said = f"Count since codes were cleared: {which.replace('_', ' ')}"
                name_of = "Odometer" if which == "odometer" else said
                yield Fact(name_of, value_text(count))
        elif name not in {"vin", "modules"}:
            yield Fact(name.replace("_", " ").capitalize(), value_text(value))


def _tests(module: Json) -> list[Mapping[str, Json]]:
    tests = module.get("self_tests") if isinstance(module, dict) else None
    whole = tests if isinstance(tests, list) else []
    kept: list[Mapping[str, Json]] = [t for t in whole if isinstance(t, dict)]
    return kept if len(kept) == len(whole) else []


def _row(who: str, test: Mapping[str, Json]) -> tuple[str, ...]:
    more = {name: value for name, value in test.items() if name not in _TEST}
    place = "/".join(str(test[name]) for name in ("mid", "tid") if name in test)
    name = f"{who} {place}: {value_text(test.get('monitor', 'unnamed'))}"
    if more:
        name += f" ({value_text(more)})"
    low, high = (value_text(test.get(n, "none typed")) for n in ("minimum", "maximum"))
    return name, value_text(test.get("value", "none typed")), low, high
