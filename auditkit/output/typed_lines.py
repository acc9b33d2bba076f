"""What was typed from a display, as lines: what was asked, and what it showed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from auditkit.order.event_text import value_text
from auditkit.text.values import Json

_ASKED = {
    "stored": "stored codes",
    "pending": "pending codes",
    "permanent": "permanent codes",
    "lamp": "engine lamp",
    "count": "codes counted",
    "monitors": "readiness",
    "self_tests": "self-tests",
    "calibrations": "calibrations",
}
_COUNTS = {
    "warm_ups": "warm-ups since codes were cleared",
    "distance": "distance since codes were cleared",
    "minutes": "engine run time since codes were cleared",
}
_NONE = "none displayed"


def typed_lines(typed: Mapping[str, Json]) -> list[str]:
    """Return a line a module, then what was displayed of the vehicle as a whole.

    Self-tests are only counted here: each has a line of its own.
    """
    modules = typed.get("modules")
    lines = [
        _module(one)
        for one in (modules if isinstance(modules, list) else [])
        if isinstance(one, dict)
    ]
    whole = [f"VIN {value_text(typed['vin'])}"] if "vin" in typed else []
    counts = typed.get("counts")
    if isinstance(counts, dict):
        whole += [f"{_COUNTS.get(n, n)} {value_text(q)}" for n, q in counts.items()]
    return [*lines, *([f"displayed besides: {'; '.join(whole)}"] if whole else [])]


def _module(module: Mapping[str, Json]) -> str:
    name = value_text(module.get("module"))
    told = [
        f"{word}: {_shown(member, module[member])}"
        for member, word in _ASKED.items()
        if member in module
    ]
    hidden = module.get("not_shown")
    if isinstance(hidden, list) and hidden:
        words = ", ".join(_ASKED.get(str(one), str(one)) for one in hidden)
        told.append(f"not shown by this display: {words}")
    if not told:
        return f"{name}: nothing is typed of what was asked or displayed"
    return f"{name} displayed: {'; '.join(told)}"


def _shown(member: str, value: Json) -> str:
    if member == "lamp":
        return "ON" if value is True else "off"
    if not isinstance(value, list):
        return value_text(value)
    if not value:
        return _NONE
    if member == "self_tests":
        return f"{len(value)}, told below"
    if member == "monitors":
        return ", ".join(_readiness(value))
    return value_text(value)


def _readiness(monitors: list[Json]) -> Iterator[str]:
    for one in monitors:
        if isinstance(one, dict):
            state = str(one.get("state", "")).replace("-", " ")
            yield f"{one.get('monitor')} {state.replace('not', 'NOT', 1)}"
