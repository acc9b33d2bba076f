"""JSON Schema's keywords that apply schemas to a value or to what is in it, as parts.

Sections are those of JSON Schema 2020-12's core.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Protocol

from auditkit.text.schema_parts import (
    ANYTHING,
    TYPES,
    Decider,
    Misfit,
    Path,
    Schema,
    SchemaPart,
    either,
    every,
    never,
)
from auditkit.text.schema_values import refuse, some


class Compiler(Protocol):
    """What compiles the schemas within a schema."""

    def compile(self, schema: object, place: str) -> Decider:
        """Return what decides a schema."""

    def refer(self, reference: object, place: str) -> Decider:
        """Return what decides the schema that a ``$ref`` leads to."""


def property_names(compiler: Compiler, schema: Schema, place: str) -> SchemaPart:
    """Section 10.3.2.4."""
    decider = compiler.compile(schema["propertyNames"], f"{place}/propertyNames")

    def check(value: dict[str, object]) -> bool:
        return all(map(decider.fits, value))

    def misfits(value: dict[str, object], path: Path) -> Iterator[Misfit]:
        for name in value:
            yield from decider.misfits(name, path)

    return SchemaPart({dict: check}, misfits)


def members(compiler: Compiler, schema: Schema, place: str) -> SchemaPart:
    """Sections 10.3.2.1 and 10.3.2.3."""
    said = schema.get("properties", {})
    if not isinstance(said, Mapping):
        refuse(place, "its properties are not an object")
    known = {
        name: compiler.compile(inner, f"{place}/properties/{name}")
        for name, inner in said.items()
    }
    others = ANYTHING
    if "additionalProperties" in schema:
        inner = schema["additionalProperties"]
        others = compiler.compile(inner, f"{place}/additionalProperties")
    tables = {name: decider.table for name, decider in known.items()}
    get, rest = tables.get, others.table

    def check(value: dict[str, object]) -> bool:
        for name, one in value.items():
            fits = get(name, rest).get(type(one))
            if fits is None or not fits(one):
                return False
        return True

    def misfits(value: dict[str, object], path: Path) -> Iterator[Misfit]:
        extra = next((name for name in value if name not in known), None)
        if extra is not None and not rest:
            yield Misfit(path, "additionalProperties", value, schema, extra)
        for name, one in value.items():
            if name in known or rest:
                yield from known.get(name, others).misfits(one, (*path, name))

    if others is ANYTHING and not any(tables.values()):  # it only bars some names
        return SchemaPart({dict: frozenset(tables).isdisjoint}, misfits)
    return SchemaPart({dict: check}, misfits)


def items(compiler: Compiler, schema: Schema, place: str) -> SchemaPart:
    """Section 10.3.1.2."""
    item = compiler.compile(schema["items"], f"{place}/items")
    get = item.table.get

    def check(value: list[object]) -> bool:
        for one in value:
            fits = get(type(one))
            if fits is None or not fits(one):
                return False
        return True

    def misfits(value: list[object], path: Path) -> Iterator[Misfit]:
        for index, one in enumerate(value):
            yield from item.misfits(one, (*path, index))

    return SchemaPart({list: check}, misfits)


def _schemas(
    compiler: Compiler, keyword: str, schema: Schema, place: str
) -> list[Decider]:
    return [
        compiler.compile(inner, f"{place}/{keyword}/{index}")
        for index, inner in enumerate(some(keyword, schema, place))
    ]


def any_of(compiler: Compiler, schema: Schema, place: str) -> SchemaPart:
    """Section 10.2.1.2."""
    choices = _schemas(compiler, "anyOf", schema, place)

    def misfits(value: object, path: Path) -> Iterator[Misfit]:
        told = tuple(tuple(choice.misfits(value, path)) for choice in choices)
        yield Misfit(path, "anyOf", value, schema, choices=told)

    checks = {
        kind: either(choice.table.get(kind, never) for choice in choices)
        for kind in TYPES.values()
    }
    return SchemaPart(checks, misfits)


def all_of(compiler: Compiler, schema: Schema, place: str) -> SchemaPart:
    """Section 10.2.1.1."""
    return _together(_schemas(compiler, "allOf", schema, place))


def ref(compiler: Compiler, schema: Schema, place: str) -> SchemaPart:
    """Section 8.2.3.1."""
    return _together([compiler.refer(schema["$ref"], place)])


def _together(deciders: list[Decider]) -> SchemaPart:
    def misfits(value: object, path: Path) -> Iterator[Misfit]:
        for decider in deciders:
            yield from decider.misfits(value, path)

    checks = {
        kind: every(decider.table.get(kind, never) for decider in deciders)
        for kind in TYPES.values()
    }
    return SchemaPart(checks, misfits)
