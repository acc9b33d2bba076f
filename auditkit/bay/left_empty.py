"""What a form begins with, and what an empty answer stands for. Pure.

It is said, never hidden: a person sees it at the field, and may write something else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import TYPE_CHECKING

from auditkit.bay.bench_rows import READINGS
from auditkit.bay.field import HOW, Field, FieldKind
from auditkit.bench.units import Unit, unit_of
from auditkit.errors import InputError
from auditkit.text.moment import is_time

if TYPE_CHECKING:
    from auditkit.order.events import RepairOrder
    from auditkit.order.instruments import RegisteredInstrument

_NOTHING: Mapping[str, str] = MappingProxyType({})
OWN = "this software, over "
"""How the tool of a readout begins that was read over a cable of the bay."""


@dataclass(frozen=True, slots=True)
class Stands:
    """What an empty answer stands for, in words, and the value of it."""

    words: str
    value: str


def begun_with(
    fields: Iterable[Field],
    register: Mapping[str, RegisteredInstrument],
    answers: Mapping[str, str] = _NOTHING,
) -> dict[str, str]:
    """Return what a form has chosen already.

    The one code, part or quantity that there is to choose, a part's everyday method,
    and each instrument that alone in this shop takes a quantity that is asked, or what
    was read in ``answers``.
    """
    many = tuple(fields)
    begun: dict[str, str] = {}
    for one in many:
        is_alone = one.required and 1 in {one.ahead, len(one.choices)}
        is_everyday = one.path == ("method",) and one.ahead
        if one.kind is FieldKind.CHOICE and (is_alone or is_everyday):
            begun[one.key] = one.choices[0][0]
        is_list = one.required and one.kind is FieldKind.LIST
        if is_list and not one.fields[0].path and len(one.fields[0].choices) == 1:
            begun[f"{one.key}.0"] = one.fields[0].choices[0][0]
        if one.path == ("instruments",):
            alone = _alone(many, register, {**begun, **answers})
            begun |= {f"instruments.{n}.id": name for n, name in enumerate(alone)}
    return begun


def unit_of_limit(one: Field, answers: Mapping[str, str]) -> str:
    """Return the unit of a limit whose end was answered: that of what was read.

    Empty where none was, or a limit is not written in it.
    """
    if not any(answers.get(f"limit.{end}") for end in ("minimum", "maximum")):
        return ""
    what = answers.get("limit.of") or answers.get(f"{READINGS}.{HOW}", "")
    key = dict(one.follows).get(what, "").removesuffix(".unit")
    written = answers.get(key, "").partition(" ")[2]
    read = _unit(written)
    plain = read.symbol if read else ""  # whatever a pressure was read against
    return next((u for u in (written, plain) if u in dict(one.units)), "")


def _alone(
    fields: Iterable[Field],
    register: Mapping[str, RegisteredInstrument],
    answers: Mapping[str, str],
) -> list[str]:
    """Return the instruments that alone take a kind of quantity that is read."""
    shown = {name: _unit(str(one.data["unit"])) for name, one in register.items()}
    alone: dict[str, None] = {}
    for one in fields:
        is_asked = one.group is None and one.required
        is_read = answers.get(one.key) or (is_asked and one.is_due(answers))
        if not (one.repeats and is_read):
            continue
        read = _unit(answers.get(one.key, "").partition(" ")[2])
        kinds = (read.kind,) if read else one.kinds
        for kind in kinds:
            fits = [
                name
                for name, unit in shown.items()
                if unit is not None
                and unit.kind is kind
                and not (read and _is_against_another(unit, read))
            ]
            if len(fits) == 1:
                alone[fits[0]] = None
    return list(alone)


def _is_against_another(shown: Unit, read: Unit) -> bool:
    """Return whether a pressure was read against what an instrument does not show."""
    return None not in (shown.reference, read.reference) and (
        shown.reference is not read.reference
    )


def _unit(text: str) -> Unit | None:
    """Return a unit; None for one that no method reads."""
    try:
        return unit_of(text)
    except InputError:
        return None


def stands_for(
    kind: str, order: RepairOrder, opened: str, *, part: str = "", by: str = ""
) -> dict[str, Stands]:
    """Return by key what an empty answer stands for.

    ``opened`` is when its form was opened: a repair is written down once it is done,
    and its cautions stand before its beginning. Where ``by`` acknowledged one for the
    repair of ``part`` only after that, it began then.
    """
    if kind == "repair" and opened:
        last = _acknowledged_last(order, kind, part, by)
        if is_time(opened) and is_time(last) and _time(opened) < _time(last):
            words = f"when its last caution was acknowledged, {last[11:16]}"
            return {"started": Stands(words, last)}
        words = f"when this form was opened, {opened[11:16]}"
        return {"started": Stands(words, opened)}
    if kind == "road_test":
        roads = [
            event
            for event in order.of("caution")
            if isinstance(step := event.data.get("step"), Mapping)
            and step.get("kind") == kind
        ]
        if roads:
            began = roads[-1].text("at")
            words = f"when its caution was acknowledged, {began[11:16]}"
            return {"start": Stands(words, began)}
    if kind in {"readout", "code_clear"}:
        tools = [event.text("tool") for event in order.of("readout")]
        # The bay's own cable asks and never clears, and is no display.
        others = [tool for tool in tools if tool and not tool.startswith(OWN)]
        return {"tool": Stands(others[-1], others[-1])} if others else {}
    return {}


def _acknowledged_last(order: RepairOrder, kind: str, part: str, by: str) -> str:
    """Return when somebody acknowledged a caution for a step last, or empty."""
    times = [
        str(event.object("second_confirmation").get("at") or event.text("at"))
        for event in order.of("caution")
        if event.by == by
        and event.object("step").get("kind") == kind
        and event.object("step").get("part", "") in ("", part)
    ]
    return max(filter(is_time, times), key=_time, default="")


_time = datetime.fromisoformat
