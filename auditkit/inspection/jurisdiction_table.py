"""The table of a jurisdiction (TOML, or a plugin's own) -> its rules. Pure.

A member that is not known is refused: a rule that is misspelt would not be asked.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import TypeVar

from auditkit.errors import InputError
from auditkit.inspection.jurisdiction import (
    Allowance,
    Condition,
    Doubt,
    InspectionAnswer,
    Jurisdiction,
    PermanentRule,
    Retest,
    RuleReading,
    RuleSource,
    Scope,
    Span,
)
from auditkit.obd.monitors import is_monitor

_T = TypeVar("_T")
_ANY, _LAST = "any", 9999
_IGNITIONS = frozenset({"spark", "compression"})
_CONDITIONS = (
    "connector",
    "communication",
    "bulb",
    "lamp",
    "lamp_dark",
    "lamp_running",
    "codes",
    "vin",
    "second_not_ready",
)


def jurisdiction_of(data: Mapping[str, object]) -> Jurisdiction:
    """Return a jurisdiction from its table; InputError names what is wrong in it."""
    try:
        return _jurisdiction(_Table(dict(data)))
    except (KeyError, TypeError, ValueError) as error:
        what = f"{error} is missing" if isinstance(error, KeyError) else str(error)
        raise InputError(
            f"a jurisdiction's data is not whole: {what}",
            where=str(data.get("name", "jurisdiction")),
            what_to_do="write it as the head of inspection.toml says",
        ) from error


@dataclass(slots=True)
class _Table:
    """A table of which each member is taken once; what is left is not known."""

    members: dict[str, object]
    taken: set[str] = field(default_factory=set)

    def get(self, name: str, kind: type[_T], default: _T | None = None) -> _T:
        self.taken.add(name)
        value = self.members.get(name, default)
        if value is None:
            raise KeyError(name)
        is_flag = isinstance(value, bool)
        if not isinstance(value, kind) or (is_flag and kind is not bool):
            raise TypeError(f"{name}: {value!r} is no {kind.__name__}")
        return value

    def has(self, name: str) -> bool:
        return name in self.members

    def table(self, name: str) -> _Table:
        return _Table(dict(self.get(name, dict)))

    def tables(self, name: str) -> list[_Table]:
        found = self.get(name, list, [])
        if not all(isinstance(one, dict) for one in found):
            raise TypeError(f"{name} is no list of tables")
        return [_Table(dict(one)) for one in found]

    def texts(self, name: str) -> list[str]:
        found = self.get(name, list, [])
        if not all(isinstance(one, str) for one in found):
            raise TypeError(f"{name} is no list of texts")
        return found

    def number(self, name: str) -> int | None:
        return self.get(name, int) if self.has(name) else None

    def done(self) -> None:
        if left := set(self.members) - self.taken:
            raise ValueError(f"{', '.join(sorted(left))}: not known here")


def _jurisdiction(table: _Table) -> Jurisdiction:
    found = Jurisdiction(
        name=table.get("name", str),
        title=table.get("title", str),
        span=_span(table),
        scope=_scope(table.table("scope")),
        doubts=tuple(_doubt(one) for one in table.tables("doubt")),
        permanent=_permanent(table.table("permanent"))
        if table.has("permanent")
        else None,
        retests=tuple(_retest(one) for one in table.tables("retest")),
        readings=tuple(_reading(one) for one in table.tables("reading")),
        note=table.get("note", str, ""),
        **{name: _condition(table, name) for name in _CONDITIONS},
    )
    if not found.readings:
        raise KeyError("reading")
    table.done()
    return found


def _source(table: _Table) -> RuleSource:
    section, dated = table.get("section", str), table.get("dated", str)
    return RuleSource(section, dated, table.get("known", str))


def _span(table: _Table) -> Span:
    effective = table.get("effective", date, date.min)
    return Span(effective, table.get("ended", date, date.max))


def _scope(table: _Table) -> Scope:
    found = Scope(
        _source(table),
        _by_ignition(table, "first_year", int),
        _by_ignition(table, "first_used", date),
        table.number("most_gvwr_lb"),
        table.number("youngest"),
        table.number("oldest"),
        electric=table.get("electric", bool, False),
    )
    if bool(found.first_year) == bool(found.first_used):
        raise ValueError("scope: one of first_year and first_used is needed")
    table.done()
    return found


def _by_ignition(table: _Table, name: str, kind: type[_T]) -> dict[str, _T]:
    if not table.has(name):
        return {}
    members = table.table(name)
    found = {i: members.get(i, kind) for i in _IGNITIONS if members.has(i)}
    members.done()
    return found


def _doubt(table: _Table) -> Doubt:
    found = Doubt(
        _source(table),
        _ignition(table),
        table.get("first_year", int),
        table.get("last_year", int),
        table.get("text", str),
    )
    table.done()
    return found


def _condition(parent: _Table, name: str) -> Condition | None:
    if not parent.has(name):
        return None
    table = parent.table(name)
    found = Condition(
        _source(table),
        _answer(table, "answer", InspectionAnswer.FAIL),
        table.get("needs_code", bool, False),
        table.get("first_year", int, 0),
    )
    table.done()
    return found


def _permanent(table: _Table) -> PermanentRule:
    found = PermanentRule(
        _source(table),
        table.get("first_year", int),
        table.get("warm_ups", int),
        table.get("distance_km", int),
    )
    table.done()
    return found


def _retest(table: _Table) -> Retest:
    spans = [text.partition("-") for text in table.texts("codes")]
    found = Retest(
        _source(table),
        tuple((first, last or first) for first, _, last in spans),
        _monitors(table, "monitors"),
        _answer(table, "answer", InspectionAnswer.NOT_READY),
    )
    table.done()
    return found


def _reading(table: _Table) -> RuleReading:
    always = InspectionAnswer(table.get("always", str)) if table.has("always") else None
    found = RuleReading(
        table.get("name", str),
        _source(table),
        _span(table),
        tuple(_allowance(one) for one in table.tables("allowance")),
        _answer(table, "beyond", InspectionAnswer.NOT_READY),
        _monitors(table, "required"),
        table.get("unsupported_counts", bool, False),
        always,
    )
    table.done()
    return found


def _allowance(table: _Table) -> Allowance:
    found = Allowance(
        ignition=_ignition(table),
        first_year=table.get("first_year", int),
        last_year=table.get("last_year", int, _LAST),
        count=table.get("count", int, 0),
        monitors=_monitors(table, "monitors"),
        continuous=table.get("continuous", bool, True),
    )
    table.done()
    return found


def _ignition(table: _Table) -> str:
    name = table.get("ignition", str)
    if name not in _IGNITIONS | {_ANY}:
        raise ValueError(f"ignition: {name!r} is not spark, compression or any")
    return name


def _monitors(table: _Table, name: str) -> frozenset[str]:
    found = table.texts(name)
    for one in found:
        if not is_monitor(one):
            raise ValueError(f"{name}: {one!r} is no monitor of PID 01")
    return frozenset(found)


def _answer(table: _Table, name: str, default: InspectionAnswer) -> InspectionAnswer:
    return InspectionAnswer(table.get(name, str, str(default)))
