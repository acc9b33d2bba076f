"""An order narrows what its forms ask: its parts, its codes, the shop's instruments.

Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from auditkit.bay.bench_fields import MORE
from auditkit.bay.bench_rows import CONDITIONS, READINGS
from auditkit.bay.field import HOW, Field, FieldKind, Path
from auditkit.bay.so_far import first_open
from auditkit.bay.unit_words import in_sight, sign_of, units_of_kinds
from auditkit.bench.inputs import PRESSURE_REFERENCE
from auditkit.bench.methods import FittingMethod, methods_for
from auditkit.bench.units import QuantityKind, unit_of
from auditkit.errors import InputError

if TYPE_CHECKING:
    from auditkit.bay.so_far import SoFar
    from auditkit.order.instruments import RegisteredInstrument

Choices = tuple[tuple[str, str], ...]
_ROW, _READ, _LIMIT_UNIT = ("id",), (READINGS, HOW), ("limit", "unit")


@dataclass(frozen=True, slots=True)
class _Offer:
    """What an order and a register leave to choose from; ``units`` come first."""

    parts: Choices = ()
    codes: Choices = ()
    methods: tuple[FittingMethod, ...] = ()
    quantities: tuple[str, ...] = ()
    read: tuple[QuantityKind, ...] = ()
    instruments: Choices = ()
    units: tuple[str, ...] = ()
    people: Choices = ()
    events: Choices = ()


def narrowed(  # noqa: PLR0913  what is chosen from, each by its name
    fields: Iterable[Field],
    found: SoFar,
    register: Mapping[str, RegisteredInstrument],
    *,
    at: str,
    answers: Mapping[str, str],
    people: Iterable[str] = (),
) -> tuple[Field, ...]:
    """Return fields with the choices that an order and a register leave.

    A part is one of those suspected, a code one of those reported or named. Methods
    that fit the part (the one in ``answers``, else the first that is open) come first,
    with what they read; an instrument stands with its calibration on the day ``at``,
    and the units of those that are chosen come first, then of all. ``people`` are who
    can go on with the order. Where there is nothing to choose from, a field stays as it
    is.
    """
    parts = tuple(
        dict.fromkeys(
            (s.part.id, s.part.name or s.part.id)
            for fault in found.faults
            for s in fault.suspects
        )
    )
    codes = tuple(dict.fromkeys((f.fault.code, f.fault.code) for f in found.faults))
    day = date.fromisoformat(at[:10])
    fitting = tuple(_fitting(found, answers.get("part", "")))
    chosen = [m for m in fitting if m.kind == answers.get("method")]
    quantities = tuple(dict.fromkeys(one for m in chosen for one in m.quantities))
    if len(quantities) == 1:
        answers = {".".join(_READ): quantities[0], **answers}
    asked = tuple(fields)
    read_as = (READINGS, answers.get(".".join(_READ), ""))
    offer = _Offer(
        parts,
        codes,
        fitting,
        quantities,
        next((f.kinds for f in asked if f.path == read_as), ()),
        tuple(
            (name, f"{one.description} ({name}): {one.state(day)}")
            for name, one in register.items()
        ),
        _units(register, answers),
        tuple((one, one) for one in people),
        tuple(_events(found)),
    )
    kinds = {k for f in asked if f.repeats and f.is_due(answers) for k in f.kinds}
    made = [_narrowed(field, offer) for field in asked]
    read = [f.units[0][0] for f in made if f.path[0] == READINGS and f.units]
    says = [" (" in unit for unit in read if _kind_of(unit) is QuantityKind.PRESSURE]
    is_said = bool(says) and all(says)  # what pressures are read against
    return tuple(
        replace(field, group=MORE)
        if is_said and field.path == (CONDITIONS, PRESSURE_REFERENCE)
        else _fitting_first(field, register, kinds)
        for field in made
    )


def _fitting_first(
    field: Field, register: Mapping[str, RegisteredInstrument], kinds: set[QuantityKind]
) -> Field:
    """Return the list of instruments with those ahead that read one of some kinds."""
    if field.path != ("instruments",) or not kinds or not field.fields[0].choices:
        return field
    row, *others = field.fields
    fits = [
        c for c in row.choices if _kind_of(str(register[c[0]].data["unit"])) in kinds
    ]
    rest = (c for c in row.choices if c not in fits)
    row = replace(row, choices=(*fits, *rest))
    return replace(field, fields=(row, *others), ahead=len(fits))


def _kind_of(unit: str) -> QuantityKind | None:
    """Return which kind of quantity a unit measures; None for no unit of ours."""
    try:
        return unit_of(unit).kind
    except InputError:
        return None


def _fitting(found: SoFar, part: str) -> Iterable[FittingMethod]:
    """Yield the methods that fit a part for its codes."""
    for fault in found.faults:
        of_it = [s for s in fault.suspects if s.part.id == part]
        first = first_open(fault.suspects)
        chosen = of_it[0] if of_it else None if part else first
        if chosen is not None:
            system = chosen.part.system
            for method in methods_for(fault.fault.code, (system,)):
                if method.system == system:
                    yield method


def _events(found: SoFar) -> Iterable[tuple[str, str]]:
    """Yield the steps that a picture may belong to, the newest first."""
    for event in reversed(found.order.events):
        if event.kind not in {"attachment", "amendment"}:
            part = found.judgement.part_names.get(event.text("part"), "")
            words = f"{event.kind.replace('_', ' ')} {event.text('at')[11:16]}"
            yield str(event.index), f"{words}, {part}" if part else words


def _units(
    register: Mapping[str, RegisteredInstrument], answers: Mapping[str, str]
) -> tuple[str, ...]:
    names = [
        text
        for key, text in answers.items()
        if key.startswith("instruments.") and key.endswith(".id") and text in register
    ]
    units = (str(register[n].data["unit"]) for n in (*names, *register))
    return tuple(dict.fromkeys(units))


def _choices(field: Field, offer: _Offer) -> Choices:
    """Return what a field that is answered once is chosen from; nothing where typed."""
    if field.path == ("of",):
        return offer.events if field.kind is FieldKind.NUMBER else ()
    by_path: dict[Path, Choices] = {("part",): offer.parts, ("to",): offer.people}
    return by_path.get(field.path, ())


def _narrowed(field: Field, offer: _Offer) -> Field:
    if (test := _of_test(field, offer)) is not None:
        return test
    if choices := _choices(field, offer):
        return replace(field, kind=FieldKind.CHOICE, choices=choices, help="")
    if field.path == ("instruments",) and offer.instruments:
        row = next(f for f in field.fields if f.path == _ROW)
        chosen = replace(row, kind=FieldKind.CHOICE, choices=offer.instruments, help="")
        others = (f for f in field.fields if f.path != _ROW)
        return replace(field, fields=(chosen, *others))
    if field.kind is FieldKind.LIST:
        within = _Offer(codes=offer.codes, units=offer.units)
        rows = tuple(_narrowed(f, within) for f in field.fields)
        is_codes = field.path[-1:] == ("codes",) and offer.codes and not rows[0].path
        if is_codes:
            rows = (replace(rows[0], kind=FieldKind.CHOICE, choices=offer.codes),)
            field = replace(field, help="")
        return replace(field, fields=rows)
    if field.units:
        return replace(field, units=_first(field, offer.units))
    return field


def _of_test(field: Field, offer: _Offer) -> Field | None:
    """Return a field with what fits a bench test ahead; None where nothing does."""
    if field.path == ("method",) and offer.methods:
        return _ordered(field, offer.methods)
    if field.path == _READ and offer.quantities:
        fits = tuple(c for c in field.choices if c[0] in offer.quantities)
        choices = tuple(dict.fromkeys((*fits, *field.choices)))
        return replace(field, choices=choices, ahead=len(fits))
    if field.path == _LIMIT_UNIT and 0 < len(offer.read) < len(field.kinds):
        return _limited(field, offer.read)
    return None


def _first(field: Field, first: Iterable[str]) -> Choices:
    """Return a field's units, those of instruments that read its kind in front.

    One that says against what it is read is of readings alone: no barometer shows it.
    """
    is_read = READINGS in field.path
    own = [
        unit
        for unit in first
        if unit_of(unit).kind in field.kinds and (is_read or " (" not in unit)
    ]
    ahead = [(unit, sign_of(unit)) for unit in own]
    return tuple(dict.fromkeys([*ahead, *field.units]))


def _limited(field: Field, kinds: Iterable[QuantityKind]) -> Field:
    """Return a limit's unit with those first, and alone in sight, of what is read."""
    many = tuple(kinds)
    units = units_of_kinds(many)
    ahead = len(in_sight(units, many))
    return replace(
        field, units=tuple(dict.fromkeys((*units, *field.units))), ahead=ahead
    )


def _ordered(field: Field, fitting: Iterable[FittingMethod]) -> Field:
    """Return the choice of a method with those ahead that fit, with what each reads."""
    known, reads = dict(field.choices), dict[str, list[str]]()
    for method in fitting:
        if method.kind in known:
            reads.setdefault(method.kind, []).append(method.reads)
    ahead = tuple(
        (kind, f"{known[kind]}: {' or '.join(dict.fromkeys(what))}")
        for kind, what in reads.items()
    )
    rest = ((k, words) for k, words in field.choices if k not in reads)
    return replace(field, choices=(*ahead, *rest), ahead=len(ahead))
