"""Schemas by name, and what a record or an event lacks against them.

jsonschema-rs decides. Only what it refuses is shown to jsonschema, which explains;
where the two differ the stricter answer stands. Each problem carries a JSON pointer
(RFC 6901) and what to do, which is the ``description`` of the schema at that place.
"""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from auditkit.errors import InputError
from auditkit.proof.log_kinds import LOG_KINDS
from auditkit.text.display_text import not_text
from auditkit.text.values import Json

if TYPE_CHECKING:
    from jsonschema import Draft202012Validator
    from jsonschema.exceptions import ValidationError

RECORD = "repair-record-1"
RESERVED = frozenset({"_sd", "...", "_sd_alg"})
WRITTEN_BY_SOFTWARE = LOG_KINDS | {"verdict"}
_SUFFIX = ".schema.json"
_added: dict[str, Mapping[str, object]] = {}


@dataclass(frozen=True, slots=True)
class SchemaProblem:
    """One thing that does not fit: where (RFC 6901 pointer), what, and what to do."""

    pointer: str
    message: str
    what_to_do: str


@lru_cache(maxsize=1)
def names() -> tuple[str, ...]:
    """Return the names of the schemas that come with auditkit."""
    found = (p.name for p in files("auditkit_schemas").iterdir())
    return tuple(sorted(n.removesuffix(_SUFFIX) for n in found if n.endswith(_SUFFIX)))


@lru_cache(maxsize=64)
def load(name: str) -> dict[str, Any]:
    """Return a schema by name; raise InputError where there is none."""
    if name not in names():
        message = f"no schema is called {name!r}"
        raise InputError(message, what_to_do=f"the schemas are {', '.join(names())}")
    text = (files("auditkit_schemas") / f"{name}{_SUFFIX}").read_text("utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


@lru_cache(maxsize=1)
def kinds() -> tuple[str, ...]:
    """Return the kinds of event that are known."""
    events = (n for n in names() if n.startswith("event-"))
    own = (n.removeprefix("event-").removesuffix("-1") for n in events)
    return tuple(sorted({*own, *_added}))


def add_kinds(schemas: Mapping[str, Mapping[str, object]]) -> None:
    """Add event kinds that a plugin brings; a known kind may not be replaced."""
    for kind, schema in schemas.items():
        if kind in kinds() and _added.get(kind) != schema:
            message = f"the event kind {kind!r} is known already"
            raise InputError(message, what_to_do="choose another name")
        _added[kind] = schema
        kinds.cache_clear()
    _decider.cache_clear()
    _explainer.cache_clear()


def _schema(name: str) -> dict[str, Any]:
    kind = name.removeprefix("event-").removesuffix("-1")
    return dict(_added[kind]) if kind in _added else load(name)


@lru_cache(maxsize=64)
def _decider(name: str) -> Any:  # noqa: ANN401  jsonschema-rs names no public type
    import jsonschema_rs

    common = load("common-1")
    registry = jsonschema_rs.Registry([(common["$id"], common)])
    return jsonschema_rs.Draft202012Validator(
        _schema(name), registry=registry, validate_formats=True
    )


@lru_cache(maxsize=64)
def _explainer(name: str) -> Draft202012Validator:
    import jsonschema
    import referencing
    import referencing.jsonschema

    common = load("common-1")
    resource = referencing.jsonschema.DRAFT202012.create_resource(common)
    registry: referencing.Registry[Any] = referencing.Registry().with_resource(
        common["$id"], resource
    )
    return jsonschema.Draft202012Validator(_schema(name), registry=registry)


def validate_record(record: Json) -> list[SchemaProblem]:
    """Return what does not fit in a repair record, best first; empty where all fits."""
    problems = _check(RECORD, record, "")
    if not isinstance(record, dict) or not isinstance(record.get("events"), list):
        return problems
    events = record["events"]
    for index, event in enumerate(events if isinstance(events, list) else []):
        pointer = f"/events/{index}"
        if any(p.pointer == pointer for p in problems):
            continue
        problems = [p for p in problems if not p.pointer.startswith(f"{pointer}/")]
        problems += _recorded(event, pointer, index)
    return problems


def validate(name: str, value: Json) -> list[SchemaProblem]:
    """Return what keeps a value from fitting the schema ``name``; empty if it fits."""
    return _check(name, value, "")


def _recorded(event: Json, pointer: str, index: int) -> list[SchemaProblem]:
    if not isinstance(event, dict):
        return []
    kind = event.get("kind")
    if _by_software(kind):
        message = f"{kind!r} is written by the software, not in a repair record"
        return [SchemaProblem(f"{pointer}/kind", message, "leave this event out")]
    problems = validate_event(event, pointer)
    target = event.get("corrects")
    if kind == "amendment" and isinstance(target, int) and target >= index:
        message = f"{target} is not the place of an earlier event"
        what_to_do = f"write a number from 0 to {index - 1}"
        problems.append(SchemaProblem(f"{pointer}/corrects", message, what_to_do))
    return problems


def validate_event(event: Json, pointer: str = "") -> list[SchemaProblem]:
    """Return what does not fit in one event; empty where all fits."""
    if not isinstance(event, dict):
        message = f"{_shown(event)} is not an event"
        return [SchemaProblem(pointer, message, "write an object with kind, at and by")]
    kind = event.get("kind")
    if not isinstance(kind, str) or kind not in kinds():
        return [_unknown_kind(kind, pointer)]
    problems = _check(f"event-{kind}-1", event, pointer)
    if not problems:
        problems = list(_times(event, pointer))
        if not _is_printable(event.values()):
            problems += _controls(event, pointer)
        if kind in _added:  # our own schemas leave no room for reserved names
            problems += _reserved(event, pointer)
    if kind == "amendment" and not problems:
        inner = event["event"]
        inner_kind = inner.get("kind") if isinstance(inner, dict) else None
        if inner_kind == "amendment" or _by_software(inner_kind):
            message = f"an amendment cannot correct to {inner_kind!r}"
            what_to_do = "write the whole corrected event"
            return [SchemaProblem(f"{pointer}/event/kind", message, what_to_do)]
        return validate_event(inner, f"{pointer}/event")
    return problems


def _by_software(kind: Json) -> bool:
    return isinstance(kind, str) and kind in WRITTEN_BY_SOFTWARE


def _unknown_kind(kind: Json, pointer: str) -> SchemaProblem:
    if kind is None:
        message = '"kind" is missing'
    else:
        message = f"{_shown(kind)} is not a kind of event"
    near = difflib.get_close_matches(str(kind), kinds(), n=1)
    known = ", ".join(k for k in kinds() if k not in WRITTEN_BY_SOFTWARE)
    what_to_do = f'did you mean "{near[0]}"?' if near else f"write one of {known}"
    place = pointer if kind is None else f"{pointer}/kind"
    return SchemaProblem(place, message, what_to_do)


def _reserved(value: Json, pointer: str) -> Iterator[SchemaProblem]:
    if isinstance(value, dict):
        for name, item in value.items():
            place = f"{pointer}/{_escape(name)}"
            if name in RESERVED:
                message = f"the name {name!r} is reserved"
                yield SchemaProblem(place, message, "choose another name")
            yield from _reserved(item, place)
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _reserved(item, f"{pointer}/{index}")


def _is_printable(values: Iterable[Json]) -> bool:
    """Return whether all texts are of printable characters: quick, and sound."""
    for value in values:
        if isinstance(value, str):
            if not value.isprintable():
                return False
        elif isinstance(value, dict):
            if not _is_printable(value.values()):
                return False
        elif isinstance(value, list) and not _is_printable(value):
            return False
    return True


def _controls(value: Json, pointer: str) -> Iterator[SchemaProblem]:
    """Yield texts that would steer a screen; what a vehicle sent is kept as it was."""
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
    """Yield times that fit the pattern but no calendar, such as 30 February."""
    for name in ("at", "captured", "start", "end"):
        text = event.get(name)
        if not isinstance(text, str):
            continue
        try:
            datetime.fromisoformat(text)
        except ValueError:
            message = f"{text!r} is not a date of the calendar"
            what_to_do = "write the date as it was"
            yield SchemaProblem(f"{pointer}/{name}", message, what_to_do)


def _check(name: str, value: Json, pointer: str) -> list[SchemaProblem]:
    decider = _decider(name)
    if decider.is_valid(value):
        return []
    problems = [_explained(e, pointer) for e in _best(_explainer(name), value)]
    if not problems and isinstance(value, dict):
        problems = list(_times(value, pointer))
    if not problems:  # the stricter of the two refused it alone
        error = next(iter(decider.iter_errors(value)))
        place = pointer + "".join(f"/{_escape(str(p))}" for p in error.instance_path)
        problems = [SchemaProblem(place, error.message, "write it as the schema says")]
    return problems


def _best(explainer: Draft202012Validator, value: Json) -> list[ValidationError]:
    from jsonschema.exceptions import best_match, relevance

    errors = sorted(explainer.iter_errors(value), key=relevance, reverse=True)
    # Within alternatives, the deepest relevant error says what was meant.
    return [best_match([error]) or error for error in errors]


def _explained(error: ValidationError, pointer: str) -> SchemaProblem:
    place = pointer + "".join(f"/{_escape(str(p))}" for p in error.absolute_path)
    parent = error.schema if isinstance(error.schema, dict) else {}
    said = str(parent.get("description", "")) or "write it as the schema says"
    checker = _MESSAGES.get(str(error.validator))
    if checker is None:
        return SchemaProblem(place, error.message, said)
    message, what_to_do = checker(error, parent)
    return SchemaProblem(place, message, what_to_do or said)


def _required(error: Any, parent: Mapping[str, Any]) -> tuple[str, str]:  # noqa: ANN401
    names_ = [n for n in parent.get("required", []) if n not in error.instance]
    missing = next((n for n in names_ if repr(n) in error.message), names_[0])
    prop = parent.get("properties", {}).get(missing, {})
    return f'"{missing}" is missing', _described(prop)


def _described(prop: Mapping[str, Any]) -> str:
    if "description" in prop:
        return str(prop["description"])
    name = str(prop.get("$ref", "")).rpartition("/")[2]
    definition = load("common-1")["$defs"].get(name, {})
    return str(definition.get("description", ""))


def _additional(error: Any, parent: Mapping[str, Any]) -> tuple[str, str]:  # noqa: ANN401
    known = list(parent.get("properties", {}))
    extra = next((n for n in error.instance if n not in known), "")
    near = difflib.get_close_matches(extra, known, n=1)
    what_to_do = (
        f'did you mean "{near[0]}"?' if near else f"known are {', '.join(known)}"
    )
    return f'"{extra}" is not known here', what_to_do


def _enum(error: ValidationError, parent: Mapping[str, Any]) -> tuple[str, str]:
    allowed = [str(v) for v in parent.get("enum", [])]
    near = difflib.get_close_matches(str(error.instance), allowed, n=1)
    hint = f'did you mean "{near[0]}"? ' if near else ""
    return f"{_shown(error.instance)} is not allowed here", (
        f"{hint}write one of {', '.join(allowed)}"
    )


def _type(error: ValidationError, _: Mapping[str, Any]) -> tuple[str, str]:
    kind = {dict: "an object", list: "a list", str: "text", bool: "true or false"}
    found = kind.get(type(error.instance), "a number")
    if error.instance is None:
        found = "null"
    return f"{_shown(error.instance)} is {found}", ""


def _pattern(error: ValidationError, _: Mapping[str, Any]) -> tuple[str, str]:
    return f"{_shown(error.instance)} is not of the right form", ""


def _length(error: Any, _: Mapping[str, Any]) -> tuple[str, str]:  # noqa: ANN401
    if error.validator in {"minLength", "minItems"}:
        return "it is empty", ""
    size, most = len(error.instance), error.validator_value
    return f"it is too long ({size}, at most {most})", ""


def _alternatives(error: Any, _: Mapping[str, Any]) -> tuple[str, str]:  # noqa: ANN401
    """Say what is missing where each alternative asks for a member of its own."""
    asked = [
        e.validator_value for e in error.context or () if e.validator == "required"
    ]
    names_ = [str(name) for value in asked for name in value]
    if names_:
        listed = '" or "'.join(names_)
        return f'"{listed}" is missing', ""
    return f"{_shown(error.instance)} fits none of the forms allowed here", ""


def _const(error: ValidationError, _: Mapping[str, Any]) -> tuple[str, str]:
    return f"{_shown(error.instance)} is not {_shown(error.validator_value)}", ""


_MESSAGES = {
    "required": _required,
    "additionalProperties": _additional,
    "enum": _enum,
    "type": _type,
    "pattern": _pattern,
    "minLength": _length,
    "maxLength": _length,
    "minItems": _length,
    "maxItems": _length,
    "const": _const,
    "anyOf": _alternatives,
}


def _shown(value: object) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 60 else f"{text[:57]}..."  # noqa: PLR2004


def _escape(name: str) -> str:
    return name.replace("~", "~0").replace("/", "~1")
