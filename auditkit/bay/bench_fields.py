"""What a kind of bench test asks, as fields: readings, conditions, limit. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from auditkit.bay.bench_rows import CONDITIONS, GOOD, READINGS
from auditkit.bay.field import HOW, ComesFrom, Field, FieldKind, Path, When
from auditkit.bay.unit_words import VACUUM, offered, units_of_kinds
from auditkit.bench import TestKind
from auditkit.bench.inputs import PRESSURE_REFERENCE, HowKnown, Need
from auditkit.bench.readings import BAROMETER
from auditkit.bench.units import QuantityKind
from auditkit.text.display_text import first_large

MORE = "What else is known"
_STATED = "How well given values are known"
_CHOICE = (READINGS, HOW)
_COUNTED = ("times",)
_REFERENCES = {
    "gauge": "gauge, up from the air around",
    "vacuum": "vacuum, down from the air around",
    "absolute": "absolute, up from nothing",
    "differential": "the difference of two pressures",
}


def bench_fields(kind: TestKind, frame: Iterable[Field]) -> tuple[Field, ...]:
    """Return what a bench test by a method asks beside part, setup and method.

    ``frame`` are the fields of a bench test without one: those of the limit, the
    instruments and the good part are taken from there.
    """
    of_frame = {field.path: field for field in frame}
    own = (
        *_needs(kind, READINGS, kind.readings),
        *_needs(kind, CONDITIONS, kind.conditions),
    )
    first = [f for f in own if f.path[-1] in {PRESSURE_REFERENCE, HOW}]
    good = of_frame[GOOD, "part"]
    return (
        *first,
        *(f for f in own if f not in first),
        *(_limit(kind, of_frame) if kind.needs_limit else ()),
        _instruments(kind, of_frame["instruments",]),
        *(_of_good(own, good) if kind.needs_limit else ()),
        replace(of_frame[CONDITIONS,], label="Other conditions", group=MORE),
    )


def _needs(kind: TestKind, member: str, needs: Iterable[Need]) -> Iterator[Field]:
    tables: dict[str, list[Need]] = {}
    alternatives: dict[str, list[Need]] = {}
    for need in needs:
        asked = need.asked
        if asked.one_of:
            alternatives.setdefault(asked.one_of, []).append(need)
        if asked.row:
            tables.setdefault(asked.row, []).append(need)
    for title, of_it in alternatives.items():
        words = tuple((need.name, _label(need)) for need in of_it)
        yield Field(_CHOICE, title, kind=FieldKind.CHOICE, choices=words, required=True)
    for need in needs:
        columns = tables.get(need.asked.row)
        if columns is None:
            yield from _fields(kind, member, need)
        elif columns[0] is need:
            yield _table(member, need, columns)


def _table(member: str, first: Need, columns: Iterable[Need]) -> Field:
    """Return the table of what was read at the same moments, a row each."""
    return Field(
        (member, first.asked.row),
        first.asked.row,
        f"one row a moment, {first.at_least} at least",
        FieldKind.LIST,
        required=first.required,
        group=_group(first),
        fields=tuple(_quantity(need, (need.name,), required=True) for need in columns),
        least=first.at_least,
    )


def _fields(kind: TestKind, member: str, need: Need) -> Iterator[Field]:
    path = (member, need.name)
    asked = need.asked  # what is chosen is needed, and is asked then alone
    is_chosen = bool(asked.one_of) or asked.only is not None
    when, required = _when(kind, need), need.required or is_chosen
    group = _group(need)
    if need.words:
        yield Field(
            path,
            _label(need),
            _help(need),
            FieldKind.CHOICE,
            tuple((word, _REFERENCES.get(word, word)) for word in need.words)
            if need.name == PRESSURE_REFERENCE
            else tuple((word, word) for word in need.words),
            required=required,
            group=group,
            when=when,
        )
        return
    one = replace(_quantity(need, path, required=required), when=when, group=group)
    if need.at_least == 1:
        yield one
    else:
        row = replace(one, path=(), help="", when=None, group=None, required=True)
        yield replace(
            one,
            kind=FieldKind.LIST,
            units=(),
            repeats=False,
            fields=(row,),
            least=need.at_least,
        )
    if need.given is HowKnown.STATED:
        name = f"uncertainty of {need.name}"
        yield Field(
            (CONDITIONS, name),
            first_large(name),
            "standard uncertainty, with its unit",
            FieldKind.QUANTITY,
            units=one.units,
            kinds=one.kinds,
            required=required and need.slack is None,
            group=group if need.slack is None else _STATED,
            when=when,
        )


def _quantity(need: Need, path: Path, *, required: bool) -> Field:
    return Field(
        path,
        _label(need),
        _help(need),
        FieldKind.QUANTITY,
        units=offered(need.asked.units) or _units(need),
        kinds=need.kinds,
        required=required,
        comes_from=ComesFrom.READOUT if need.name == BAROMETER else ComesFrom.PERSON,
        repeats=need.given is HowKnown.MEASURED,
        beyond=path[0] != CONDITIONS and need.given is HowKnown.MEASURED,
        timed=tuple(f"{READINGS}.{name}" for name in need.asked.timed or ()),
    )


def _units(need: Need) -> tuple[tuple[str, str], ...]:
    """Return units of a need; a vacuum's too where it may be read against anything."""
    is_open = QuantityKind.PRESSURE in need.kinds and need.reference is None
    return units_of_kinds(need.kinds, also=VACUUM if is_open else ())


def _when(kind: TestKind, need: Need) -> When | None:
    if need.name == PRESSURE_REFERENCE:
        return _where_pressures_are_read(kind)
    if need.asked.one_of:
        return When(_CHOICE, (need.name,))
    if need.asked.only is None:
        return None
    title, values = need.asked.only
    named = title in {other.name for other in kind.conditions}
    return When((CONDITIONS, title) if named else _CHOICE, values)


def _where_pressures_are_read(kind: TestKind) -> When | None:
    """Return when pressures are read, where that is one choice of several; else None.

    What may be of any kind, as the step between two readings, follows what is chosen.
    """
    pressures = [n for n in kind.needs if n.kinds == (QuantityKind.PRESSURE,)]
    chosen = tuple(n.name for n in pressures if n.asked.one_of)
    is_all = 0 < len(chosen) == len(pressures)
    return When(_CHOICE, chosen) if is_all else None


def _group(need: Need) -> str | None:
    asked = need.asked
    if asked.group or need.required:
        return asked.group or None
    up_front = asked.up_front or asked.one_of or asked.only
    return None if up_front or need.name == PRESSURE_REFERENCE else MORE


def _label(need: Need) -> str:
    if need.name == PRESSURE_REFERENCE:
        return "What pressures are read as"
    return first_large(need.asked.label or need.name)


def _help(need: Need) -> str:
    if need.name == PRESSURE_REFERENCE:
        return "not needed where each unit says it"
    if need.words:
        return ""
    is_said = need.name == BAROMETER or any(kind in need.name for kind in need.kinds)
    told = [] if is_said else [" or ".join(need.kinds)]
    if need.asked.units == _COUNTED:
        return "how many times"
    if need.at_least > 1 and not need.asked.row:
        told.append(f"{need.at_least} at least")
    if need.given is HowKnown.EXACT:
        told.append("as it is specified")
    if need.default:
        told.append(f"{need.default} where nothing is said")
    return ", ".join(told)


def _limit(kind: TestKind, frame: dict[Path, Field]) -> Iterator[Field]:
    """Return what is limited, then how: in the unit of what was read.

    What is limited is not asked where it is the one thing that is read.
    """
    read = {need.name for need in kind.readings if need.asked.one_of}
    if read.issuperset(judged.name for judged in kind.judges):
        yield replace(frame["limit", "of"], comes_from=ComesFrom.COMPUTED)
    elif len(kind.judges) > 1:
        names = tuple((judged.name, judged.name) for judged in kind.judges)
        yield replace(
            frame["limit", "of"],
            kind=FieldKind.CHOICE,
            choices=names,
            lacks="left empty: the first that the limit's unit fits",
        )
    for name in ("minimum", "maximum"):
        yield frame["limit", name]
    kinds = tuple(dict.fromkeys(judged.kind for judged in kind.judges))
    yield replace(
        frame["limit", "unit"],
        units=units_of_kinds(kinds),
        kinds=kinds,
        follows=tuple(_followed(kind)),
    )
    yield frame["limit", "source"]


def _followed(kind: TestKind) -> Iterator[tuple[str, str]]:
    """Yield what may be limited, and the unit of the reading of its kind, if any.

    The reading of its own name, else the first of its kind.
    """
    for judged in kind.judges:
        read = [need.name for need in kind.readings if judged.kind in need.kinds]
        for name in [n for n in read if n == judged.name] or read[:1]:
            yield judged.name, f"{READINGS}.{name}.unit"
            if judged is kind.judges[0]:
                yield "", f"{READINGS}.{name}.unit"


def _instruments(kind: TestKind, instruments: Field) -> Field:
    """Return the list of instruments, each of which took some of the readings."""
    names = tuple((n.name, _label(n)) for n in kind.needs if not n.words)
    rows = tuple(
        replace(
            field,
            fields=(replace(field.fields[0], kind=FieldKind.CHOICE, choices=names),),
        )
        if field.path == ("measures",)
        else field
        for field in instruments.fields
    )
    return replace(instruments, fields=rows, lacks="needed to count as measured")


def _of_good(own: Iterable[Field], good: Field) -> Iterator[Field]:
    """Return the same readings and conditions of a known-good part beside it."""
    yield good
    for field in own:
        if field.path[-1] != HOW:
            made = replace(field, required=False, group=good.group, timed=())
            yield replace(made, path=(GOOD, *field.path))
