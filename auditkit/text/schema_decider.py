"""Deciding whether a value fits a JSON Schema: pure, the same in every host.

JSON Schema 2020-12 (core and validation), of which exactly the keywords are known that
the project's schemas use; a schema with any other is refused by name when it is
compiled. A value is one that ``strict_json`` reads: what has no place there, such as a
fraction, fits nothing. Where the standard leaves room:

- ``format`` decides. ``date-time`` is RFC 3339 section 5.6 in capital letters, in the
  years 1 to 9999 and without leap seconds: what ``datetime`` reads.
- ``pattern`` is of the subset in which ECMA-262 and Python agree.
- ``x-...`` are annotations of the project's own, for the forms that are made of a
  schema (``auditkit.bay.schema_fields``). They decide nothing; another than those in
  ``ANNOTATIONS`` is refused, so that none is misspelt.
- ``$ref`` names an entry of ``$defs`` in the same schema or in one of the registry, and
  leads back to no schema that it came from.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from auditkit.text import schema_applicators as applicators
from auditkit.text import schema_values as values
from auditkit.text.schema_parts import (
    ANYTHING,
    NOTHING,
    Decider,
    Misfit,
    Schema,
    SchemaPart,
)
from auditkit.text.schema_values import refuse

__all__ = ["ANNOTATIONS", "DIALECT", "KEYWORDS", "Decider", "Misfit", "compile_schema"]

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_AT_THE_ROOT: dict[str, Callable[[object], bool]] = {
    "$schema": lambda value: value == DIALECT,
    "$id": lambda value: isinstance(value, str),
    "$defs": lambda value: isinstance(value, Mapping),
}
_SAID: dict[str, Callable[[object], bool]] = dict.fromkeys(
    ("title", "description"), lambda value: isinstance(value, str)
)
_FROM = {"person", "readout", "register", "before", "clock", "log", "computed"}


def _is_words(value: object) -> bool:
    return isinstance(value, Mapping) and all(
        isinstance(v, str) for v in value.values()
    )


def _is_when(value: object) -> bool:
    """Return whether a value is one name and a list of texts."""
    if not isinstance(value, Mapping) or len(value) != 1:
        return False
    return all(isinstance(v, list) and all(map(_is_text, v)) for v in value.values())


def _is_text(value: object) -> bool:
    return isinstance(value, str)


ANNOTATIONS: dict[str, Callable[[object], bool]] = {
    "x-from": lambda value: value in _FROM,
    "x-group": _is_text,
    "x-help": _is_text,
    "x-lacks": _is_text,
    "x-when": _is_when,
    "x-words": _is_words,
    "x-file": lambda value: value is True,
}
"""Annotation -> whether a value is one that it can have."""
# What a schema says itself comes before what it refers to: so it decides, and is told.
_BUILDERS: dict[
    tuple[str, ...], Callable[[applicators.Compiler, Schema, str], SchemaPart]
] = {
    ("type",): values.type_,
    ("const",): values.const,
    ("enum",): values.enum,
    ("minLength", "maxLength"): values.between("minLength", "maxLength", str, len),
    ("minItems", "maxItems"): values.between("minItems", "maxItems", list, len),
    ("maxProperties",): values.between("", "maxProperties", dict, len),
    ("minimum", "maximum"): values.between("minimum", "maximum", int, int),
    ("pattern",): values.pattern,
    ("format",): values.format_,
    ("propertyNames",): applicators.property_names,
    ("properties", "additionalProperties"): applicators.members,
    ("items",): applicators.items,
    ("required",): values.required,
    ("anyOf",): applicators.any_of,
    ("allOf",): applicators.all_of,
    ("$ref",): applicators.ref,
}
_SOUND = {**_AT_THE_ROOT, **_SAID, **ANNOTATIONS}
KEYWORDS = frozenset(_SOUND).union(*_BUILDERS)
"""The keywords that are known; a schema with another is refused."""
_REFERENCE = re.compile(r"([^#]*)#/\$defs/([A-Za-z0-9_-]+)")


def compile_schema(schema: Schema, registry: Mapping[str, Schema]) -> Decider:
    """Return what decides a schema; raise InputError for one that is not known whole.

    ``registry`` holds other schemas by their ``$id``, to which ``$ref`` may lead.
    """
    own = str(schema.get("$id", ""))
    compiler = _Compiler({**registry, own: schema})
    decider = compiler.compile(schema, f"{own}#")
    for name in schema.get("$defs", {}):  # those too that nothing refers to
        compiler.refer(f"#/$defs/{name}", f"{own}#/$defs")
    return decider


class _Compiler:
    """Schemas by their ``$id``, and what was compiled of their ``$defs``."""

    def __init__(self, schemas: Mapping[str, Schema]) -> None:
        self._schemas = schemas
        self._made: dict[str, Decider | None] = {}  # None while it is being made

    def compile(self, schema: object, place: str) -> Decider:
        """Return what decides the schema at ``place``: its ``$id``, #, its pointer."""
        if isinstance(schema, bool):
            return ANYTHING if schema else NOTHING
        if not isinstance(schema, Mapping):
            refuse(place, "it is not a schema")
        for keyword, value in schema.items():
            _check_known(keyword, value, place)
        return Decider(
            build(self, schema, place)
            for keywords, build in _BUILDERS.items()
            if any(keyword in schema for keyword in keywords)
        )

    def refer(self, reference: object, place: str) -> Decider:
        """Return what decides the schema that ``$ref`` at ``place`` leads to."""
        found = _REFERENCE.fullmatch(reference) if isinstance(reference, str) else None
        base = (found[1] if found else "") or place.partition("#")[0]
        definitions = self._schemas.get(base, {}).get("$defs", {})
        if found is None or found[2] not in definitions:
            refuse(place, f"the $ref {reference!r} leads to no entry of $defs")
        target = f"{base}#/$defs/{found[2]}"
        if target not in self._made:
            self._made[target] = None
            self._made[target] = self.compile(definitions[found[2]], target)
        made = self._made[target]
        if made is None:
            refuse(place, f"the $ref {reference!r} leads back to where it came from")
        return made


def _check_known(keyword: str, value: object, place: str) -> None:
    is_root = not place.partition("#")[2]
    if keyword not in KEYWORDS or (keyword in _AT_THE_ROOT and not is_root):
        known = ", ".join(sorted(KEYWORDS.difference(() if is_root else _AT_THE_ROOT)))
        message = f"the keyword {keyword!r} is not one that is decided here"
        refuse(place, message, f"known are {known}")
    if keyword in _SOUND and not _SOUND[keyword](value):
        refuse(place, f"its {keyword} is not one that is known here")
