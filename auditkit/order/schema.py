"""Schemas by name, and where a record or an event does not fit them.

``text.schema_decider`` decides and finds the place; the words are ours, so that every
host gives one answer. Each problem carries a JSON pointer (RFC 6901) and what to do,
which is the ``description`` of the schema at that place.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sized
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from auditkit.order.event_kinds import EventKinds, decider_of, kinds, load
from auditkit.proof.log_kinds import LOG_KINDS
from auditkit.text.display_text import nearest, not_text, printable, quoted
from auditkit.text.schema_decider import Decider, Misfit
from auditkit.text.values import Json

RECORD = "repair-record-1"
RESERVED = frozenset({"_sd", "...", "_sd_alg"})
WRITTEN_BY_SOFTWARE = LOG_KINDS | {"verdict"}
_OVER_RANGE = (
    'a display that is over its range is written {"above": "40", "unit": "Mohm"}, and '
    '{"below": ...} where it only showed that'
)
_POINTS_BACK = {"amendment": "corrects", "attachment": "of"}


@dataclass(frozen=True, slots=True)
class SchemaProblem:
    """One thing that does not fit: where (RFC 6901 pointer), what, and what to do.

    ``missing`` names the member that is missing at ``pointer``, or is empty.
    """

    pointer: str
    message: str
    what_to_do: str
    missing: str = ""


def validate_record(
    record: Json, known: EventKinds, first: int = 0
) -> list[SchemaProblem]:
    """Return what does not fit in a repair record, most helpful first.

    Events before the place ``first`` are not held against their kinds: they were, when
    they were recorded.
    """
    problems = _check(decider_of(RECORD), record, "")
    if not isinstance(record, dict) or not isinstance(record.get("events"), list):
        return problems
    events = record["events"]
    for index, event in enumerate(events if isinstance(events, list) else []):
        if index < first:
            continue
        pointer = f"/events/{index}"
        if any(p.pointer == pointer for p in problems):
            continue
        problems = [p for p in problems if not p.pointer.startswith(f"{pointer}/")]
        problems += _recorded(event, known, pointer, index)
    return problems


def validate(name: str, value: Json) -> list[SchemaProblem]:
    """Return what keeps a value from fitting the schema ``name``; empty if it fits."""
    return _check(decider_of(name), value, "")


def _recorded(
    event: Json, known: EventKinds, pointer: str, index: int
) -> list[SchemaProblem]:
    if not isinstance(event, dict):
        return []
    kind = event.get("kind")
    if _by_software(kind):
        message = (
            f"{quoted(str(kind))} is written by the software, not in a repair record"
        )
        return [SchemaProblem(f"{pointer}/kind", message, "leave this event out")]
    problems = validate_event(event, known, pointer)
    member = _POINTS_BACK.get(str(kind), "")
    target = event.get(member)
    if isinstance(target, int) and target >= index:
        message = f"{target} is not the place of an earlier event"
        what_to_do = f"write a number from 0 to {index - 1}"
        problems.append(SchemaProblem(f"{pointer}/{member}", message, what_to_do))
    return problems


def validate_event(
    event: Json, known: EventKinds, pointer: str = ""
) -> list[SchemaProblem]:
    """Return what does not fit in one event; empty where all fits.

    ``known`` are the kinds of event that it may be of: those of a catalogue.
    """
    if not isinstance(event, dict):
        message = f"{_shown(event)} is not an event"
        return [SchemaProblem(pointer, message, "write an object with kind, at and by")]
    kind = event.get("kind")
    added = known.added.get(kind) if isinstance(kind, str) else None
    if added is None and kind not in kinds():
        return [_unknown_kind(kind, known.names, pointer)]
    decider = added or decider_of(f"event-{kind}-1")
    problems = _check(decider, event, pointer)
    if not problems:
        if added is not None:  # our own schemas leave no room for these
            problems += _times(event, pointer)
            problems += _reserved(event, pointer)
        if not _is_printable(event):
            problems += _controls(event, pointer)
    if kind == "amendment" and not problems:
        inner = event["event"]
        inner_kind = inner.get("kind") if isinstance(inner, dict) else None
        if inner_kind == "amendment" or _by_software(inner_kind):
            message = f"an amendment cannot correct to {quoted(str(inner_kind))}"
            what_to_do = "write the whole corrected event"
            return [SchemaProblem(f"{pointer}/event/kind", message, what_to_do)]
        return validate_event(inner, known, f"{pointer}/event")
    return problems


def _by_software(kind: Json) -> bool:
    return isinstance(kind, str) and kind in WRITTEN_BY_SOFTWARE


def _unknown_kind(kind: Json, names_: tuple[str, ...], pointer: str) -> SchemaProblem:
    if kind is None:
        message = '"kind" is missing'
    else:
        message = f"{_shown(kind)} is not a kind of event"
    near = nearest(str(kind), names_)
    known = ", ".join(k for k in names_ if k not in WRITTEN_BY_SOFTWARE)
    what_to_do = f'did you mean "{near[0]}"?' if near else f"write one of {known}"
    place = pointer if kind is None else f"{pointer}/kind"
    return SchemaProblem(place, message, what_to_do)


def _reserved(value: Json, pointer: str) -> Iterator[SchemaProblem]:
    if isinstance(value, dict):
        for name, item in value.items():
            place = f"{pointer}/{_escape(name)}"
            if name in RESERVED:
                message = f"the name {quoted(name)} is reserved"
                yield SchemaProblem(place, message, "choose another name")
            yield from _reserved(item, place)
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _reserved(item, f"{pointer}/{index}")


def _is_printable(value: Json) -> bool:
    """Return whether ``_controls`` finds nothing; a quick False may be wrong."""
    if isinstance(value, dict):
        for name, item in value.items():
            if isinstance(item, str):  # the kind of nearly all
                if name != "raw" and not item.isprintable():
                    return False
            elif not (item is None or _is_printable(item)):
                return False
    elif isinstance(value, list):
        return all(map(_is_printable, value))
    elif isinstance(value, str):
        return value.isprintable()
    return True


def _controls(value: Json, pointer: str) -> Iterator[SchemaProblem]:
    """Yield texts that could control a screen, but not what a vehicle sent."""
    if isinstance(value, str):
        if told := not_text(value):
            yield SchemaProblem(pointer, told, "write plain text")
    elif isinstance(value, dict):
        for name, item in value.items():
            if name != "raw":
                yield from _controls(item, f"{pointer}/{_escape(name)}")
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _controls(item, f"{pointer}/{index}")


def _times(event: Mapping[str, Json], pointer: str) -> Iterator[SchemaProblem]:
    """Yield times that no calendar has: a plugin's schema may not check them."""
    for name in ("at", "captured", "start", "end"):
        text = event.get(name)
        if not isinstance(text, str):
            continue
        try:
            datetime.fromisoformat(text)
        except ValueError:
            yield SchemaProblem(f"{pointer}/{name}", *_no_time(text))


def _no_time(text: str) -> tuple[str, str]:
    return f"{quoted(text)} is not a date of the calendar", "write the date as it was"


def _check(decider: Decider, value: Json, pointer: str) -> list[SchemaProblem]:
    if decider.fits(value):
        return []
    misfits = [told for misfit in decider.misfits(value) for told in _meant(misfit)]
    # A misfit higher up says more: those below it may not matter.
    misfits.sort(key=lambda misfit: len(misfit.path))
    return [_explained(misfit, pointer) for misfit in misfits]


def _meant(misfit: Misfit) -> Iterator[Misfit]:
    """Yield a misfit, or where alternatives failed, those of the one that was meant.

    That is the only one that takes values of this type.
    """
    near = [
        choice
        for choice in misfit.choices
        if not any(f.keyword == "type" and f.path == misfit.path for f in choice)
    ]
    if len(near) == 1:
        for inner in near[0]:
            yield from _meant(inner)
    else:
        yield misfit


def _explained(misfit: Misfit, pointer: str) -> SchemaProblem:
    place = pointer + "".join(f"/{_escape(str(step))}" for step in misfit.path)
    message, what_to_do = _MESSAGES[misfit.keyword](misfit)
    said = str(misfit.schema.get("description", "")) or "write it as the schema says"
    missing = misfit.name if misfit.keyword == "required" else ""
    return SchemaProblem(place, message, what_to_do or said, missing)


def _required(misfit: Misfit) -> tuple[str, str]:
    prop = misfit.schema.get("properties", {}).get(misfit.name, {})
    return f'"{misfit.name}" is missing', _described(prop)


def _described(prop: Mapping[str, Any]) -> str:
    if "description" in prop:
        return str(prop["description"])
    name = str(prop.get("$ref", "")).rpartition("/")[2]
    definition = load("common-1")["$defs"].get(name, {})
    return str(definition.get("description", ""))


def _additional(misfit: Misfit) -> tuple[str, str]:
    known = list(misfit.schema.get("properties", {}))
    near = nearest(misfit.name, known)
    told = f'did you mean "{near[0]}"?' if near else f"known are {', '.join(known)}"
    if "above" in known and near[:1] in ([], ["above"], ["below"]):
        told += f"{'' if near else ';'} {_OVER_RANGE}"
    return f'"{printable(misfit.name)}" is not known here', told


def _enum(misfit: Misfit) -> tuple[str, str]:
    allowed = [str(v) for v in misfit.schema["enum"]]
    near = nearest(str(misfit.value), allowed)
    hint = f'did you mean "{near[0]}"? ' if near else ""
    return f"{_shown(misfit.value)} is not allowed here", (
        f"{hint}write one of {', '.join(allowed)}"
    )


def _type(misfit: Misfit) -> tuple[str, str]:
    kind = {dict: "an object", list: "a list", str: "text", bool: "true or false"}
    found = kind.get(type(misfit.value), "a number")
    if misfit.value is None:
        found = "null"
    # Of a number, what is said first will do: no display that was over its range.
    said = str(misfit.schema.get("description", "")).partition("; where the display")[0]
    return f"{_shown(misfit.value)} is {found}", said if found == "a number" else ""


def _pattern(misfit: Misfit) -> tuple[str, str]:
    return f"{_shown(misfit.value)} is not of the right form", ""


def _length(misfit: Misfit) -> tuple[str, str]:
    size, bound = len(cast("Sized", misfit.value)), misfit.schema[misfit.keyword]
    if misfit.keyword.startswith("max"):
        return f"it is too long ({size}, at most {bound})", ""
    if size == 0:
        return "it is empty", ""
    return f"it is too short ({size}, at least {bound})", ""


def _number(misfit: Misfit) -> tuple[str, str]:
    bound = misfit.schema[misfit.keyword]
    side = "below" if misfit.keyword == "minimum" else "above"
    return f"{misfit.value} is {side} {bound}", ""


def _time(misfit: Misfit) -> tuple[str, str]:
    return _no_time(str(misfit.value))


def _false(misfit: Misfit) -> tuple[str, str]:
    return f"{_shown(misfit.value)} is not allowed here", "leave it out"


def _alternatives(misfit: Misfit) -> tuple[str, str]:
    """Say what is missing or too much where alternatives differ in members."""
    asked = [f.name for told in misfit.choices for f in told if f.keyword == "required"]
    if len(asked) == len(misfit.choices):
        listed = '" or "'.join(asked)
        return f'"{listed}" is missing', ""
    barred = [{f.path[-1] for f in t if f.keyword == "false"} for t in misfit.choices]
    if all(barred) and len(names := set().union(*barred)) > 1:
        listed = " and ".join(sorted(quoted(str(name)) for name in names))
        forms = str(misfit.schema.get("description", ""))
        told = f": {forms}" if forms.startswith("write ") else ""
        return (
            f"{listed} do not go together",
            f"leave all but one of them out{told}",
        )
    return f"{_shown(misfit.value)} fits none of the forms allowed here", ""


def _const(misfit: Misfit) -> tuple[str, str]:
    return f"{_shown(misfit.value)} is not {_shown(misfit.schema['const'])}", ""


_MESSAGES: dict[str, Callable[[Misfit], tuple[str, str]]] = {
    "additionalProperties": _additional,
    "anyOf": _alternatives,
    "const": _const,
    "enum": _enum,
    "false": _false,
    "format": _time,
    "maxItems": _length,
    "maxLength": _length,
    "maxProperties": _length,
    "maximum": _number,
    "minItems": _length,
    "minLength": _length,
    "minimum": _number,
    "pattern": _pattern,
    "required": _required,
    "type": _type,
}


def _shown(value: object) -> str:
    text = printable(json.dumps(value, ensure_ascii=False))
    return text if len(text) <= 60 else f"{text[:57]}..."


def _escape(name: str) -> str:
    return name.replace("~", "~0").replace("/", "~1")
