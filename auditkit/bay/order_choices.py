"""An order narrows what its forms ask: its parts, its codes, the shop's instruments.

Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from auditkit.bay.field import Field, FieldKind

if TYPE_CHECKING:
    from auditkit.bay.so_far import SoFar
    from auditkit.order.instruments import RegisteredInstrument

Choices = tuple[tuple[str, str], ...]
_ROW = ("id",)


def narrowed(
    fields: Iterable[Field],
    found: SoFar,
    register: Mapping[str, RegisteredInstrument],
) -> tuple[Field, ...]:
    """Return fields with the choices that an order and a register leave.

    A part is one of those suspected, a code one of those reported or named. Where there
    is nothing to choose from, a field stays as it is.
    """
    parts = tuple(
        dict.fromkeys(
            (s.part.id, s.part.name or s.part.id)
            for fault in found.faults
            for s in fault.suspects
        )
    )
    codes = tuple(dict.fromkeys((f.fault.code, f.fault.code) for f in found.faults))
    instruments = tuple(
        (name, f"{one.description} ({name})") for name, one in register.items()
    )
    return tuple(_narrowed(field, parts, codes, instruments) for field in fields)


def _narrowed(
    field: Field, parts: Choices, codes: Choices, instruments: Choices
) -> Field:
    if field.path == ("part",) and parts:
        return replace(field, kind=FieldKind.CHOICE, choices=parts)
    if field.path == ("instruments",) and instruments:
        row = next(f for f in field.fields if f.path == _ROW)
        chosen = replace(row, kind=FieldKind.CHOICE, choices=instruments)
        others = (f for f in field.fields if f.path == ("measures",))
        return replace(field, fields=(chosen, *others))
    if field.kind is FieldKind.LIST:
        rows = tuple(_narrowed(f, (), codes, ()) for f in field.fields)
        is_codes = field.path[-1:] == ("codes",) and codes and not rows[0].path
        if is_codes:
            rows = (replace(rows[0], kind=FieldKind.CHOICE, choices=codes),)
        return replace(field, fields=rows)
    return field
