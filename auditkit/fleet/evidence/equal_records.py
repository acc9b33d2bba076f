"""Bench tests that agree in every number with another of the same shop.

Of one day several tests share the weather and the gauge, so equal ones of a day count
once. How many agree by chance is read from all other shops with the same test.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace

from auditkit.fleet.audited import AskedOfShop, Column, Section, Table
from auditkit.fleet.evidence.packets import to_open
from auditkit.fleet.evidence.wording import ASKS, SHOP, asks, who_stands_out
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.equal_pairs import (
    coincidence,
    expected_pairs,
    repeats_tail,
)
from auditkit.fleet.statistics.stand_out import standing_out

_RECORDS = """
    WITH numbers AS (
        SELECT o.shop, r.order_id, r.log_id, r.seq,
            coalesce(r.method, r.test_kind) AS test,
            coalesce(CAST(max(r.resolution) AS VARCHAR), '') AS resolution,
            CAST(max(r.ends_at) AS DATE) AS day,
            string_agg(
                r.quantity || ' ' || r.value_text || ' ' || r.unit, ', '
                ORDER BY r.place, r.quantity, r.value_text)
                || coalesce(', hold ' || CAST(max(r.hold_s) AS VARCHAR) || ' s', '')
                || coalesce(', ' || max(r.conditions), '') AS numbers,
            count(DISTINCT r.quantity || r.value_text) + count(DISTINCT r.hold_s)
                + len(regexp_extract_all(max(coalesce(r.conditions, '')), '"value"'))
                AS fields
        FROM bench_reading r JOIN counted_order o USING (order_id)
        WHERE NOT coalesce(r.is_computed, false)
        GROUP BY ALL HAVING min(abs(coalesce(r.value, 1))) > 0),
    records AS (SELECT * FROM numbers WHERE fields >= ?),
    on_days AS (SELECT DISTINCT test, resolution, shop, day, numbers FROM records)"""
_SIZES = f"""{_RECORDS}
    SELECT test, resolution, shop, count(*) FROM on_days GROUP BY ALL ORDER BY ALL"""
_EQUAL = f"""{_RECORDS}
    SELECT test, resolution, numbers, shop, count(*) FROM on_days
    WHERE (test, resolution, numbers) IN (
        SELECT (test, resolution, numbers) FROM on_days GROUP BY ALL
        HAVING count(*) > 1)
    GROUP BY ALL ORDER BY ALL"""
_ORDERS = f"""{_RECORDS}
    SELECT order_id, numbers FROM records
    WHERE shop = ? AND test = ? AND resolution = ? AND numbers IN (
        SELECT numbers FROM on_days WHERE shop = ? AND test = ? AND resolution = ?
        GROUP BY numbers HAVING count(*) > 1)
    ORDER BY numbers, order_id"""
_REASONS = (
    "the same part was tested again on another day, and shows the same",
    "the gauge and the thermometer have coarse steps, and the test has few numbers",
    "one job was written down under two numbers",
    "a training job was repeated",
)
Group = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Agreeing:
    """A shop's records that repeat another's numbers, and how many chance makes."""

    group: Group
    shop: str
    records: int
    repeats: int
    expected: float | None = None
    peers: int = 0
    tail: float | None = None
    stands_out: bool = False


def equal_records(ask: Ask, settings: Settings) -> Part:
    """Say where tests of different days agree in all numbers, beyond coincidence."""
    least = settings.least_fields_copied
    sizes: dict[Group, dict[str, int]] = {}
    for test, resolution, shop, number in ask(_SIZES, [least]):
        sizes.setdefault((test, resolution), {})[shop] = number
    equal: dict[Group, dict[str, dict[str, int]]] = {}
    for test, resolution, numbers, shop, number in ask(_EQUAL, [least]):
        shops = equal.setdefault((test, resolution), {}).setdefault(numbers, {})
        shops[shop] = number
    held = agreeing(sizes, equal, settings)
    found = [one for one in held if one.stands_out]
    screened = (one.shop for one in held if one.tail is not None)
    section = Section(
        "equal-records",
        "Bench tests that agree in every number",
        (who_stands_out((one.shop for one in found), screened),),
        (_table(held, settings),),
    )
    return Part(section, tuple(_question(ask, settings, one) for one in found))


def agreeing(
    sizes: dict[Group, dict[str, int]],
    equal: dict[Group, dict[str, dict[str, int]]],
    settings: Settings,
) -> list[Agreeing]:
    """Hold each shop's repeats against what its peers' records let expect. Pure.

    ``sizes`` are records by group and shop, ``equal`` those that occur more than once:
    by group and numbers how often in which shop.
    """
    held = []
    for group, shops in sorted(sizes.items()):
        shared = list(equal.get(group, {}).values())
        whole = sum(shops.values())
        for shop, records in sorted(shops.items()):
            repeats = sum(max(0, counts.get(shop, 0) - 1) for counts in shared)
            one = Agreeing(group, shop, records, repeats, peers=len(shops) - 1)
            elsewhere = [
                sum(counts.values()) - counts.get(shop, 0) for counts in shared
            ]
            others = whole - records
            if one.peers >= settings.least_peers and records > 1 and others > 2:
                chance = coincidence(elsewhere, singles=others - sum(elsewhere))
                expected, _ = expected_pairs(records, chance)
                tail = repeats_tail(repeats, records, chance)
                one = replace(one, expected=expected, tail=tail)
            held.append(one)
    tails = [one.tail for one in held]
    marks = standing_out(tails, settings.false_discovery_screens)
    return [
        replace(one, stands_out=mark) for one, mark in zip(held, marks, strict=True)
    ]


def _readable(numbers: str) -> str:
    """Return a test's numbers, its conditions in words: "temperature 19.2 degC"."""
    readings, brace, rest = numbers.partition(", {")
    if not brace:
        return numbers
    told = [readings]
    for name, given in json.loads("{" + rest).items():
        if isinstance(given, dict):
            shown = [given.get("value"), given.get("unit")]
            told.append(" ".join([name, *(str(one) for one in shown if one)]))
        else:
            told.append(f"{name} {given}")
    return ", ".join(told)


def _question(ask: Ask, settings: Settings, one: Agreeing) -> AskedOfShop:
    where = (one.shop, *one.group)
    listed = ask(_ORDERS, (settings.least_fields_copied, *where, *where))
    return AskedOfShop(
        screen="bench tests that agree in every number",
        shop=one.shop,
        question=(
            f"{one.repeats} of {one.records} bench tests of {one.shop} "
            f"({one.group[0]}) agree in every number with one of another day; by what "
            f"other shops write about {one.expected or 0:.2g} would. Were they made "
            "again?"
        ),
        measured={"tests": one.records, "that repeat another": one.repeats},
        peers={"expected": float(f"{one.expected or 0:.2g}"), "shops": one.peers},
        at_least=(
            f"{settings.least_fields_copied} numbers in a test, none of them 0, and "
            f"{settings.least_peers} other shops with the same test and gauge"
        ),
        honest_reasons=_REASONS,
        to_open=to_open(
            ask,
            {order: _readable(numbers) for order, numbers in listed},
            alike_together=True,
        ),
    )


def _table(held: Sequence[Agreeing], settings: Settings) -> Table:
    columns = (
        SHOP,
        Column("test", "Test"),
        Column("resolution", "Steps of"),
        Column("records", "Tests"),
        Column("repeats", "That repeat another"),
        Column("expected", "By chance", decimals=3),
        ASKS,
    )
    rows = tuple(
        (
            one.shop,
            *one.group,
            one.records,
            one.repeats,
            one.expected,
            asks(stands_out=one.stands_out, is_screened=one.tail is not None),
        )
        for one in held
    )
    return Table(
        "equal-records",
        "Bench tests that agree in every number with one of another day",
        columns,
        rows,
        f"Tests with fewer than {settings.least_fields_copied} numbers, and those in "
        "which one is 0, are left out.",
    )
