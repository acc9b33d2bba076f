"""An invented plugin that brings one thing of each sort, for the tests.

It is installed by them beside ours and imports nothing but ``auditkit.plugin``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

import click

from auditkit.plugin import (
    Axis,
    Caution,
    Chart,
    ChartDiagram,
    Computation,
    Computed,
    InputError,
    Judged,
    Jurisdiction,
    Limit,
    Mark,
    Need,
    Parameters,
    Problem,
    QuantityKind,
    Readings,
    RepairOrder,
    Rule,
    Series,
    TestKind,
    caution_of,
    hookimpl,
    jurisdiction_of,
    point,
    rule,
    value_of,
)

COMMON = "urn:auditkit:schema:common-1#/$defs/"
SCHEMA = {
    "type": "object",
    "properties": {
        "kind": {"const": "hose_check"},
        "at": {"$ref": f"{COMMON}time"},
        "by": {"$ref": f"{COMMON}person"},
        "hose": {"$ref": f"{COMMON}id", "description": "write which hose"},
        "age": {
            "type": "integer",
            "minimum": 0,
            "description": "write its age in years, as it is stamped",
        },
        "length": {"$ref": f"{COMMON}quantity"},
        "maker": {"type": "string", "description": "write who made it"},
    },
    "required": ["kind", "at", "by", "hose", "age"],
    "additionalProperties": False,
}
CAUTION = {
    "id": "hose-under-pressure",
    "version": 3,
    "signal_word": "CAUTION",
    "hazard": "hose whips",
    "text": "CAUTION: an invented hose under pressure whips. The vehicle maker's "
    "procedure, local codes and licensed practice come first.",
    "basis": "invented for a test",
    "lapses_after": 30,
    "covers": "part",
    "called": {"events": ["hose_check"]},
    "precondition": [
        {
            "name": "pressure in the hose",
            "ask": "pressure in the hose, gauge",
            "possible": [{"unit": "kPa", "low": "0", "high": "500"}],
        }
    ],
}
SOURCE = {"section": "section 1", "dated": "2026", "known": "invented for a test"}
ISLAND = {
    "name": "island",
    "title": "An invented island",
    "scope": {**SOURCE, "first_year": {"spark": 2000}},
    "lamp": SOURCE,
    "bulb": SOURCE,
    "reading": [
        {
            "name": "only",
            **SOURCE,
            "beyond": "fail",
            "allowance": [{"ignition": "any", "first_year": 2000, "count": 5}],
        }
    ],
}
STRETCH = Judged("stretch", QuantityKind.RATIO, "%")


@rule("hose-too-old", parameters={"years": 10})
def too_old(order: RepairOrder, parameters: Parameters) -> Iterator[Problem]:
    """Finds a hose that is older than the shop allows.

    What it checks
    Each hose that was looked at is no older than the parameter says, in years.

    Why it matters
    This rule is invented for a test.

    Example
    A hose of 1999.

    What to do
    Renew the hose.
    """
    most = int(str(parameters["years"]))
    for event in order.of("hose_check"):
        age = event.data["age"]
        if isinstance(age, int) and age > most:
            hose = event.text("hose")
            yield Problem(f"{hose} is {age} years old", "renew it", event.index)


def compute(readings: Readings) -> Computation:
    """Return by how much the hose grew."""
    rest = readings.one("length at rest")
    if value_of(rest) <= 0:
        message = "a hose has a length"
        raise InputError(message, what_to_do="measure it again")
    stretch = readings.one("length under load") / rest - 1
    return Computation((Computed(STRETCH, (stretch,)),))


def draw(
    readings: Readings, computation: Computation, judged: Computed, limit: Limit | None
) -> ChartDiagram:
    """Return both lengths as bars."""
    del computation, judged, limit
    names = ("length at rest", "length under load")
    bars = tuple(
        point(float(place), readings.one(name), readings.unit(name))
        for place, name in enumerate(names, 1)
    )
    up = Axis("length of the hose", str(readings.unit(names[0])))
    chart = Chart(up, (Series("hose", Mark.BAR, bars),))
    return ChartDiagram(Axis("at rest, and under load", members=2), (chart,))


HOSE_STRETCH = TestKind(
    name="hose-stretch",
    title="Stretch of a hose",
    readings=(
        Need("length at rest", (QuantityKind.LENGTH,)),
        Need("length under load", (QuantityKind.LENGTH,)),
    ),
    conditions=(),
    judges=(STRETCH,),
    refuses=("a hose without a length",),
    source="invented for a test",
    compute=compute,
    draw=draw,
)


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rule."""
    return [too_old]


@hookimpl
def schemas() -> Mapping[str, Mapping[str, object]]:
    """Return the kind of event."""
    return {"hose_check": SCHEMA}


@hookimpl
def bench_tests() -> Iterable[TestKind]:
    """Return the kind of bench test."""
    yield HOSE_STRETCH


@hookimpl
def jurisdictions() -> Iterable[Jurisdiction]:
    """Return the island's rules."""
    return [jurisdiction_of(ISLAND)]


@hookimpl
def cautions() -> Iterable[Caution]:
    """Return the caution."""
    return [caution_of(CAUTION)]


@hookimpl
def sealed(seq: int, payload: str) -> None:
    """Note each entry in the folder where the command runs."""
    with Path("sealed.txt").open("a", encoding="utf-8") as notes:
        notes.write(f"{seq} {len(payload)}\n")


@click.command("hoses")
def hoses_command() -> None:
    """Say that the plugin's command runs."""
    click.echo("hoses are well")
