"""What a display showed, as it is chosen on a page -> the answers of a readout. Pure.

Of each group of a module one of three is chosen: nothing was displayed, this was, or
this display does not show it. What is not chosen was not asked, unless it is written.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from auditkit.bay.field import HOW
from auditkit.bay.filling import NONE
from auditkit.obd.monitors import SINCE_CLEAR, mid_name

if TYPE_CHECKING:
    from auditkit.obd import Readout
    from auditkit.text.values import Json

_GROUPS = (
    *("stored", "pending", "permanent", "lamp", "count", "monitors", "self_tests"),
    "calibrations",
)
NOTHING, THESE, NOT_SHOWN = NONE, "these", "not-shown"
_MODULES = "typed.modules"
_CHOSEN = re.compile(rf"typed\.modules\.([0-9]+)\.([a-z_]+)\.{HOW}")
_CODES = re.compile(
    r"typed\.modules\.[0-9]+\.(?:stored|pending|permanent)(?:\.[0-9]+)?"
)
_SINGLE = re.compile(r"typed\.modules\.([0-9]+)\.(lamp|count)")
_ROW = re.compile(r"(typed\.modules\.[0-9]+\.(?:monitors|self_tests)\.[0-9]+)\.monitor")
_LIMIT = re.compile(
    r"typed\.modules\.[0-9]+\.self_tests\.[0-9]+\.(?:minimum|maximum)\.value"
)
_NO_VALUE = (f".{HOW}", ".module", ".monitor", ".mid", ".tid", ".unit", ".bound")
"""Ends of keys that say how something is called or measured, and nothing of it."""
_DIGITS = re.compile(r"\b[0-3][0-9A-Fa-f]{3}\b")


def answers_of_display(said: Mapping[str, str]) -> dict[str, str]:
    """Return the answers that a readout's fields have; a code of digits is of P."""
    made = dict(said)
    for key, text in said.items():
        found = _CHOSEN.fullmatch(key) or _SINGLE.fullmatch(key)
        is_chosen = text in {NOTHING, NOT_SHOWN} or (not text and key.endswith(HOW))
        if found is None or not is_chosen:
            continue
        number, group = found.groups()
        start = f"{_MODULES}.{number}.{group}"
        for other in [k for k in made if _is_under(k, start)]:
            del made[other]
        if text == NOTHING:
            made[start] = NONE
        elif text:
            row = _GROUPS.index(group)
            made[f"{_MODULES}.{number}.not_shown.{row}"] = group
    for start, _ in _unvalued(made):
        for other in [k for k in made if _is_under(k, start)]:
            del made[other]
    for key, text in made.items():
        if _CODES.fullmatch(key):
            made[key] = _DIGITS.sub(lambda word: f"P{word[0]}", text)
    for key in [k for k, t in made.items() if _LIMIT.fullmatch(k) and t.strip()]:
        test, name, _ = key.rsplit(".", 2)
        unit = made.get(f"{test}.value.unit", "")
        if unit and not made.get(f"{test}.{name}.unit", "").strip():
            made[f"{test}.{name}.unit"] = unit  # written once for the three of them
    return made


def at_odds(said: Mapping[str, str]) -> tuple[str, ...]:
    """Return the keys of groups whose choice and what is written do not agree."""
    found: list[str] = []
    for key, text in said.items():
        if not _CHOSEN.fullmatch(key):
            continue
        group = key.removesuffix(f".{HOW}")
        is_written = any(
            t.strip()
            and _is_under(k, group)
            and (k == group or k.endswith((".state", ".value")))
            for k, t in said.items()
        )
        if is_written != (text == THESE):
            found.append(group)
    return tuple(found)


def holds_values(said: Mapping[str, str], key: str) -> bool:
    """Return whether something that a display shows was written below a key."""
    return any(
        text.strip() and _is_under(k, key) and not k.endswith(_NO_VALUE)
        for k, text in said.items()
    )


def left_out(said: Mapping[str, str], layout: Mapping[str, str]) -> Iterator[str]:
    """Yield the name of each row without a state or value, of which a person is told.

    A form begins with the names of the readout before, its ``layout``: a group of which
    nothing was written was not asked.
    """
    for row, name in _unvalued(said):
        group = row.rpartition(".")[0]
        if holds_values(said, group) or layout.get(f"{row}.monitor") != name:
            yield name


def _unvalued(said: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Return key and name of each row that has a name and no state or value."""
    found: dict[str, str] = {}
    for key, text in said.items():
        row = _ROW.fullmatch(key)
        if row is None or not text.strip():
            continue
        start = row[1]
        if said.get(f"{start.rpartition('.')[0]}.{HOW}", THESE) != THESE:
            continue
        if not any(
            t.strip() and k.startswith(f"{start}.") and k.endswith((".state", "value"))
            for k, t in said.items()
        ):
            found[start] = text
    return tuple(found.items())


def _is_under(key: str, other: str) -> bool:
    return key == other or key.startswith(f"{other}.")


def layout_of(typed: Mapping[str, Json], read: Readout) -> dict[str, str]:
    """Return what of an earlier readout a typed form begins with: never its values.

    The modules; what they show and what not; which monitors, which self-tests by name
    and id, in which units. ``typed`` is the earlier readout's typed form, if any.
    """
    rows = typed.get("modules")
    modules = [
        m for m in (rows if isinstance(rows, list) else []) if isinstance(m, dict)
    ]
    if not modules:
        modules = [_module_of(read, who) for who in read.responders]
    made: dict[str, str] = {}
    for number, module in enumerate(modules):
        start = f"{_MODULES}.{number}"
        made[f"{start}.module"] = str(module["module"])
        hidden = module.get("not_shown")
        for group in hidden if isinstance(hidden, list) else []:
            made[f"{start}.{group}.{HOW}"] = NOT_SHOWN
        made |= _rows(module, "monitors", ("monitor",), start)
        made |= _rows(module, "self_tests", ("monitor", "mid", "tid"), start)
    return made


def _rows(
    module: Mapping[str, Json], group: str, kept: Iterable[str], start: str
) -> dict[str, str]:
    rows = module.get(group)
    made: dict[str, str] = {}
    for number, row in enumerate(rows if isinstance(rows, list) else []):
        if not isinstance(row, dict):
            continue
        made[f"{start}.{group}.{HOW}"] = THESE
        for name in kept:
            if name in row:
                made[f"{start}.{group}.{number}.{name}"] = str(row[name])
        for name in ("value", "minimum", "maximum"):
            amount = row.get(name)
            if isinstance(amount, dict) and "unit" in amount:
                made[f"{start}.{group}.{number}.{name}.unit"] = str(amount["unit"])
    return made


def _module_of(read: Readout, who: str) -> dict[str, Json]:
    """Return which module it is, and of what its readout had results."""
    monitors: list[Json] = [
        {"monitor": m.monitor}
        for m in read.monitors
        if m.responder == who and m.supported and m.cycle == SINCE_CLEAR
    ]
    tests: list[Json] = [
        {
            "monitor": mid_name(int(t.mid, 16)) or t.mid,
            "mid": t.mid,
            "tid": t.tid,
            "value": {"unit": t.unit},
        }
        for t in read.self_tests
        if t.responder == who
    ]
    return {"module": who, "monitors": monitors, "self_tests": tests}
