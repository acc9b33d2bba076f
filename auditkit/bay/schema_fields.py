"""A schema's properties as fields, in their order. Pure.

``title`` is the label. Its ``description`` says what to write, and is the help too
unless ``x-help`` says it for a form; ``x-words`` has the words of an ``enum``'s values
where ``order.choice_words`` has none, ``x-from`` says who fills it, ``x-group`` under
which title it is folded, ``x-when`` for
which values of a member beside it it is asked, ``x-file`` that it is made of a file,
``x-lacks`` what is lacking where it is left empty.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from auditkit.bay.field import HOW, ComesFrom, Field, FieldKind, Path, When
from auditkit.bay.unit_words import offered
from auditkit.order.choice_words import in_words
from auditkit.order.event_kinds import load
from auditkit.text.display_text import first_large

Schema = Mapping[str, Any]
_LONG = 1000  # characters from which on a text gets an area


def fields_in(
    schema: Schema, path: Path = (), group: str | None = None, *, asked: bool = True
) -> Iterator[Field]:
    """Yield the fields of an object's properties: those that machines fill, too.

    ``asked`` is false within what is optional itself: then nothing is required.
    """
    forms = _forms(schema)
    of_forms = [name for form in forms.values() for name in form["required"]]
    required = [*schema.get("required", ()), *of_forms] if asked else []
    whens = _whens(schema, path)
    if forms:
        yield Field(
            (*path, HOW),
            "How",
            kind=FieldKind.CHOICE,
            choices=tuple((name, str(form["title"])) for name, form in forms.items()),
            required=asked,
            group=group,
        )
    members = schema.get("properties", {})
    is_amount = {"value", "above", "below", "unit"} <= set(members)
    for name, stated in members.items():
        if not isinstance(stated, Mapping):
            continue
        if is_amount and name in _AMOUNT:
            if name == "value":
                yield _inline(schema, path, group, asked=asked)
            continue
        said = resolved(stated)
        if "const" in said:
            continue
        place = (*path, name)
        under = said.get("x-group", group)
        is_required = name in required
        kind = kind_of(said)
        if kind is None:
            within = fields_in(said, place, under, asked=is_required)
        else:
            within = iter((_field(place, said, kind, under, required=is_required),))
        for field in within:
            made = (
                field
                if field.when or name not in whens
                else replace(field, when=whens[name])
            )
            if "x-from" in said and field.comes_from is ComesFrom.PERSON:
                made = replace(made, comes_from=ComesFrom(said["x-from"]))
            yield made


def resolved(stated: Schema) -> dict[str, Any]:
    """Return a schema with what it refers to; what it says itself comes first."""
    made: dict[str, Any] = {}
    for other in (*stated.get("allOf", ()), *([stated] if "$ref" in stated else ())):
        if "$ref" in other:
            name = str(other["$ref"]).rpartition("/")[2]
            made |= resolved(load("common-1")["$defs"].get(name, {}))
    own = {key: value for key, value in stated.items() if key not in {"$ref", "allOf"}}
    if "properties" in made and "properties" in own:
        own["properties"] = {**made["properties"], **own["properties"]}
    return made | own


_KINDS = {
    "array": FieldKind.LIST,
    "boolean": FieldKind.YES,
    "integer": FieldKind.NUMBER,
}
_AMOUNT = frozenset({"value", "above", "below", "unit"})


def kind_of(said: Schema) -> FieldKind | None:
    """Return how a resolved schema is answered; None for an object of members."""
    members = said.get("properties", {})
    if members:
        is_amount = {"value", "unit"} <= set(members) <= _AMOUNT
        return FieldKind.QUANTITY if is_amount else None
    if said.get("type") == "object":
        return FieldKind.LIST
    if said.get("x-file"):
        return FieldKind.FILE
    if "enum" in said:
        return FieldKind.CHOICE
    if said.get("format") == "date-time":
        return FieldKind.TIME
    is_long = said.get("maxLength", 0) > _LONG
    return _KINDS.get(
        str(said.get("type")), FieldKind.AREA if is_long else FieldKind.TEXT
    )


def label_of(name: str, said: Schema) -> str:
    """Return a property's label: its title, or its name in words."""
    words = name.replace("_", " ")
    return str(said.get("title", first_large(words)))


def _field(
    path: Path, said: Schema, kind: FieldKind, group: str | None, *, required: bool
) -> Field:
    rows = _rows(path, said) if kind is FieldKind.LIST else ()
    return Field(
        path,
        label_of(path[-1] if path else "", said),
        _help(said),
        kind,
        _choices(path[-1] if path else "", said),
        _units(said) if kind is FieldKind.QUANTITY else (),
        required=required,
        comes_from=ComesFrom(said.get("x-from", ComesFrom.PERSON)),
        group=group,
        fields=rows,
        least=said.get("minItems", 0),
        pattern=str(said.get("pattern", "")),
        longest=said.get("maxLength", 0),
        lacks=str(said.get("x-lacks", "")),
        by_name=kind is FieldKind.LIST and said.get("type") != "array",
        beyond=kind is FieldKind.QUANTITY and "above" in said["properties"],
    )


def _choices(name: str, said: Schema) -> tuple[tuple[str, str], ...]:
    """Return the values of an ``enum``, each in words; ``name`` is its member's."""
    own = said.get("x-words", {})
    values = map(str, said.get("enum", ()))
    return tuple((v, str(own.get(v) or in_words(name, v))) for v in values)


def _inline(schema: Schema, path: Path, group: str | None, *, asked: bool) -> Field:
    """Return the quantity whose members stand beside others of the same object."""
    said = resolved(schema["properties"]["value"])
    return Field(
        (*path, "value"),
        label_of("value", said),
        _help(said),
        FieldKind.QUANTITY,
        units=_units(schema),
        required=asked,
        group=group,
        lacks=str(said.get("x-lacks", "")),
        inline=True,
        beyond=True,
    )


def _help(said: Schema) -> str:
    return str(said.get("x-help", said.get("description", "")))


def _rows(path: Path, said: Schema) -> tuple[Field, ...]:
    if said.get("type") != "array":  # members of any name
        return (
            Field(("name",), "Name", required=True),
            Field(
                ("value",),
                "Value",
                "a value with its unit, or what was seen",
                required=True,
            ),
        )
    item = resolved(said.get("items", {}))
    kind = kind_of(item)
    if kind is None:
        return tuple(fields_in(item))
    one = _field((), item, kind, None, required=True)
    return (replace(one, choices=_choices(path[-1], item)),)


def _units(said: Schema) -> tuple[tuple[str, str], ...]:
    unit = resolved(said["properties"]["unit"])
    listed: list[str] = unit.get("enum", [])
    return offered(listed)


def _whens(schema: Schema, path: Path) -> dict[str, When]:
    """Return by name of a property when it is asked."""
    found: dict[str, When] = {}
    for name, stated in schema.get("properties", {}).items():
        if isinstance(stated, Mapping) and "x-when" in stated:
            ((other, values),) = stated["x-when"].items()
            found[name] = When((*path, other), tuple(values))
    for form_name, form in _forms(schema).items():
        for name in form["required"]:
            found[name] = When((*path, HOW), (form_name,))
    return found


def _forms(schema: Schema) -> dict[str, Schema]:
    """Return the titled forms of which an object has one, by what each needs last."""
    forms = schema.get("anyOf", ())
    return {str(form["required"][-1]): form for form in forms if "title" in form}
