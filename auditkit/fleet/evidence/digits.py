"""Last digits of readings against those of shops whose gauges have the same steps.

Of readings that repeat each other in one test the first alone counts: they are of one
part, so that their digits are alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from auditkit.fleet.audited import (
    AskedOfShop,
    Bars,
    Cell,
    Chart,
    Column,
    Scale,
    Section,
    Table,
)
from auditkit.fleet.evidence.packets import to_open
from auditkit.fleet.evidence.unit_scale import SCALED
from auditkit.fleet.evidence.wording import (
    ASKS,
    LIMITS_OF_SCREENS,
    SHOP,
    asks,
    who_stands_out,
)
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import counted
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.last_digits import Homogeneity, homogeneity
from auditkit.fleet.statistics.stand_out import standing_out

_LAST = f"""
    WITH near AS (SELECT CAST(? AS DOUBLE) * (1 + 1e-9) AS steps),{SCALED},
    placed AS (
        SELECT o.shop, r.order_id, coalesce(r.method, r.test_kind) AS test, r.quantity,
            r.unit, r.resolution, r.value, r.value_text,
            r.value_si, r.low_si, r.high_si, scaled.si,
            max(r.resolution) OVER (
                PARTITION BY coalesce(r.method, r.test_kind), r.quantity, r.unit
            ) AS coarsest,
            CASE WHEN r.resolution = round(r.resolution) THEN 0
                ELSE length(split_part(CAST(r.resolution AS VARCHAR), '.', 2)) END
                AS places
        FROM bench_reading r JOIN counted_order o USING (order_id)
            LEFT JOIN scaled USING (unit)
        WHERE NOT coalesce(r.is_computed, false) AND r.bound IS NULL
            AND r.resolution > 0 AND r.resolution < 10 AND r.value IS NOT NULL
        QUALIFY row_number() OVER (
            PARTITION BY r.log_id, r.seq, r.quantity ORDER BY r.place) = 1),
    kept AS (
        SELECT *, CAST(right(value_text, 1) AS INTEGER) AS digit FROM placed, near
        WHERE value <> 0
            AND length(split_part(value_text, '.', 2)) = places
            AND regexp_matches(value_text, '[0-9]$')
            AND coalesce(abs(value_si - low_si) > steps * abs(coarsest * si), true)
            AND coalesce(abs(value_si - high_si) > steps * abs(coarsest * si), true))"""
_COUNTS = f"""{_LAST}
    SELECT test, quantity, unit, CAST(resolution AS VARCHAR), shop, digit, count(*)
    FROM kept GROUP BY ALL ORDER BY ALL"""
_ORDERS = f"""{_LAST}
    SELECT order_id, value_text || ' ' || unit FROM kept
    WHERE shop = ? AND test = ? AND quantity = ? AND unit = ?
        AND CAST(resolution AS VARCHAR) = ? AND digit = ?
    ORDER BY order_id, value_text"""
_REASONS = (
    "the scale is read by eye, and people round",
    "the display shows steps of its own, other than the specification says",
    "one kind of part makes most of the readings",
    "one person reads all of them",
)


@dataclass(frozen=True, slots=True)
class _Digits:
    group: tuple[str, ...]
    shop: str
    own: tuple[int, ...]
    others: tuple[int, ...]
    peers: int
    compared: Homogeneity | None
    stands_out: bool = False

    @property
    def favoured(self) -> int:
        """The digit that exceeds the others' share by most."""
        own, others = max(1, sum(self.own)), max(1, sum(self.others))
        excess = [
            a / own - b / others for a, b in zip(self.own, self.others, strict=True)
        ]
        return excess.index(max(excess))


def last_digits(ask: Ask, settings: Settings) -> Part:
    """Say whose last digits differ from those of others with the same resolution."""
    left_out = settings.digit_steps_left_out
    counts: _Counts = {}
    for *group, shop, digit, number in ask(_COUNTS, [left_out]):
        counts.setdefault((tuple(group), shop), [0] * 10)[digit] = number
    held = _compared(counts, settings)
    found = [one for one in held if one.stands_out]
    screened = (one.shop for one in held if one.compared)
    section = Section(
        "last-digits",
        "Last digits of readings",
        (who_stands_out((o.shop for o in found), screened), LIMITS_OF_SCREENS),
        (_table(held, settings),),
    )
    return Part(section, tuple(_question(ask, settings, one) for one in found))


_Counts = dict[tuple[tuple[str, ...], str], list[int]]


def _compared(counts: _Counts, settings: Settings) -> list[_Digits]:
    """Hold each shop against its peers, of whom those that stand out are no more.

    Whoever invents many readings moves the peers of all others: the farthest that
    stands out is taken from the peers, and all are held against the rest anew, until
    nobody else stands out, or a quarter are taken out.
    """
    odd: frozenset[tuple[tuple[str, ...], str]] = frozenset()
    while True:
        held = _held(counts, settings, odd)
        more = [
            (one.compared.chi_square, (one.group, one.shop))
            for one in held
            if one.compared and one.stands_out and (one.group, one.shop) not in odd
        ]
        if not more or len(odd) >= len(counts) // 4:
            return held
        odd |= {max(more)[1]}


def _held(
    counts: _Counts, settings: Settings, odd: frozenset[tuple[tuple[str, ...], str]]
) -> list[_Digits]:
    held: list[_Digits] = []
    for group, keys in groupby(sorted(counts), key=lambda key: key[0]):
        shops = [shop for _, shop in keys]
        enough = [s for s in shops if sum(counts[group, s]) >= settings.least_digits]
        usual = [s for s in enough if (group, s) not in odd]
        whole = [sum(counts[group, s][d] for s in usual) for d in range(10)]
        for shop in shops:
            own = counts[group, shop]
            less = own if shop in usual else [0] * 10
            others = [a - b for a, b in zip(whole, less, strict=True)]
            peers = len(usual) - (shop in usual)
            can = shop in enough and peers >= settings.least_peers
            told = homogeneity(own, others) if can else None
            held.append(_Digits(group, shop, tuple(own), tuple(others), peers, told))
    tails = [one.compared.tail if one.compared else None for one in held]
    marks = standing_out(tails, settings.false_discovery_screens)
    return [
        replace(one, stands_out=mark) for one, mark in zip(held, marks, strict=True)
    ]


def _question(ask: Ask, settings: Settings, one: _Digits) -> AskedOfShop:
    if one.compared is None:
        raise ValueError("a shop without peers is asked nothing")
    test, quantity, unit, resolution = one.group
    digit, left_out = one.favoured, settings.digit_steps_left_out
    asked = (left_out, one.shop, *one.group, digit)
    readings = {order: f"it reads {text}" for order, text in ask(_ORDERS, asked)}
    return AskedOfShop(
        screen="last digits of readings",
        shop=one.shop,
        question=(
            f"Of {sum(one.own)} readings of {one.shop} ({test}, {quantity}, steps of "
            f"{resolution} {unit}) {one.own[digit]} end in {digit}; in the other "
            f"shops so many readings have about "
            f"{sum(one.own) * one.others[digit] / sum(one.others):.0f}. How is this "
            "gauge read, and written down?"
        ),
        measured={
            "readings": sum(one.own),
            **{f"ending in {d}": n for d, n in enumerate(one.own)},
        },
        peers={
            "readings": sum(one.others),
            "shops": one.peers,
            "size of the difference (0 none, 1 whole)": round(one.compared.effect, 3),
        },
        at_least=(
            f"{settings.least_digits} readings, and {settings.least_peers} other shops "
            "with as many of the same resolution"
        ),
        honest_reasons=_REASONS,
        to_open=to_open(ask, readings),
        chart=_chart(one),
    )


def _table(held: Sequence[_Digits], settings: Settings) -> Table:
    columns = (
        SHOP,
        Column("test", "Test"),
        Column("quantity", "Quantity"),
        Column("resolution", "Steps of"),
        Column("readings", "Readings"),
        *(Column(f"ends_in_{d}", f"…{d}") for d in range(10)),
        ASKS,
    )
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            one.shop,
            one.group[0],
            one.group[1],
            f"{one.group[3]} {one.group[2]}",
            sum(one.own),
            *one.own,
            asks(stands_out=one.stands_out, is_screened=one.compared is not None),
        )
        for one in held
    )
    return Table(
        "last-digits",
        "Last digits of readings, by shop, test and resolution",
        columns,
        rows,
        "Readings of 0, and those within "
        f"{counted(settings.digit_steps_left_out, 'step')} of the coarsest "
        "gauge from the limit, "
        f"are left out. Too few: less than {settings.least_digits} readings, or fewer "
        f"than {settings.least_peers} others of the same resolution.",
    )


def _chart(one: _Digits) -> Chart:
    own, others = sum(one.own), sum(one.others)
    digit = one.favoured
    return Chart(
        f"last-digits-{one.shop}-{'-'.join(one.group)}",
        f"{one.shop}: last digits of {own} readings, steps of {one.group[3]} "
        f"{one.group[2]}",
        f"{100 * one.own[digit] / own:.0f} of 100 readings of {one.shop} end in "
        f"{digit}, in the other shops {100 * one.others[digit] / others:.0f} of 100.",
        Scale("last digit"),
        Scale("share of the readings (%)", 0),
        bars=Bars(
            tuple(str(d) for d in range(10)),
            (one.shop,),
            tuple((100 * n / own,) for n in one.own),
            tuple(100 * n / others for n in one.others),
        ),
    )
