"""A jurisdiction's inspection rules: data with sources, as a plugin brings them. Pure.

Plugins bring them through the hook ``jurisdictions``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from auditkit.errors import InputError


class InspectionAnswer(StrEnum):
    """What a rule answers; ``undecided`` where the readout does not hold enough."""

    ACCEPT = "accept"
    NOT_READY = "reject-as-not-ready"
    FAIL = "fail"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class RuleSource:
    """Where a rule stands: its section, its date, and how it is known."""

    section: str
    dated: str
    known: str

    def __str__(self) -> str:
        return f"{self.section} ({self.dated}; {self.known})"


@dataclass(frozen=True, slots=True)
class Allowance:
    """Which monitors may be incomplete, for an ignition and a span of model years.

    ``count`` of any monitors, or those of ``monitors``. ``continuous`` tells whether
    misfire, fuel system and components count at all.
    """

    ignition: str
    first_year: int
    last_year: int
    count: int
    monitors: frozenset[str]
    continuous: bool


@dataclass(frozen=True, slots=True)
class RuleReading:
    """One way to read a jurisdiction's readiness rule; two where sources conflict."""

    name: str
    source: RuleSource
    allowances: tuple[Allowance, ...]


@dataclass(frozen=True, slots=True)
class PermanentRule:
    """From which model year a permanent code fails, and what exempts from it."""

    source: RuleSource
    first_year: int
    warm_ups: int
    distance_km: int


@dataclass(frozen=True, slots=True)
class Jurisdiction:
    """The rules of one jurisdiction. A missing source means that it has no such rule.

    ``not_ready`` is what too many incomplete monitors lead to.
    """

    name: str
    title: str
    first_year: int
    lamp: RuleSource
    bulb: RuleSource
    codes: RuleSource | None
    permanent: PermanentRule | None
    not_ready: InspectionAnswer
    readings: tuple[RuleReading, ...]


def jurisdiction_of(data: Mapping[str, object]) -> Jurisdiction:
    """Return a jurisdiction from its table; InputError names what is missing."""
    try:
        return _jurisdiction(data)
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(
            f"a jurisdiction's data is not whole ({error!r})",
            where=str(data.get("name", "jurisdiction")),
            what_to_do="write it as the tables of inspection.toml are written",
        ) from error


def _jurisdiction(data: Mapping[str, object]) -> Jurisdiction:
    permanent = data.get("permanent")
    readings = data["reading"]
    if not isinstance(readings, list):
        raise TypeError("reading is no list of tables")
    return Jurisdiction(
        name=str(data["name"]),
        title=str(data["title"]),
        first_year=_int(data["first_year"]),
        lamp=_source(data["lamp"]),
        bulb=_source(data["bulb"]),
        codes=_source(data["codes"]) if "codes" in data else None,
        permanent=_permanent_rule(permanent) if permanent is not None else None,
        not_ready=InspectionAnswer(str(data["not_ready"])),
        readings=tuple(
            RuleReading(
                str(item["name"]),
                _source(item),
                tuple(_allowance(row) for row in item["allowance"]),
            )
            for item in readings
        ),
    )


def _table(value: object) -> Mapping[str, object]:
    if not isinstance(value, dict):
        raise TypeError(f"{value!r} is no table")
    return value


def _int(value: object) -> int:
    if not isinstance(value, int):
        raise TypeError(f"{value!r} is no whole number")
    return value


def _source(value: object) -> RuleSource:
    table = _table(value)
    return RuleSource(str(table["section"]), str(table["dated"]), str(table["known"]))


def _permanent_rule(value: object) -> PermanentRule:
    table = _table(value)
    return PermanentRule(
        _source(table),
        _int(table["first_year"]),
        _int(table["warm_ups"]),
        _int(table["distance_km"]),
    )


def _allowance(value: object) -> Allowance:
    table = _table(value)
    monitors = table.get("monitors", [])
    return Allowance(
        ignition=str(table["ignition"]),
        first_year=_int(table["first_year"]),
        last_year=_int(table.get("last_year", 9999)),
        count=_int(table.get("count", 0)),
        monitors=frozenset(monitors if isinstance(monitors, list) else ()),
        continuous=bool(table.get("continuous", True)),
    )
