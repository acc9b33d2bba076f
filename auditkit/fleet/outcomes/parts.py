"""Which parts come back more than the faults that they were fitted for.

Only orders in which one part alone was worked on: in others nothing tells which part a
comeback is of. Parts are questions to whoever makes or buys them, not to shops. Pure
but for ``ask``.
"""

from __future__ import annotations

import math

from auditkit.fleet.audited import Cell, Column, Section, Table, interval
from auditkit.fleet.outcomes.strata import Kind, by_stratum, strata
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import counted
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics import rare_counts
from auditkit.fleet.statistics.expectation import expected, hazard
from auditkit.fleet.statistics.followed import Ending, comebacks, together, total
from auditkit.fleet.statistics.stand_out import adjusted_tails

_CELLS = """WITH one_part AS (
        SELECT order_id, min(name) AS name, coalesce(min(part_number), '') AS number
        FROM part WHERE was_worked_on GROUP BY order_id HAVING count(*) = 1)
    SELECT lower(p.name), p.number, f.fault_group, f.age_band, f.days,
        count(*) FILTER (f.came_back), count(*) FILTER (NOT f.came_back)
    FROM followed_fault f JOIN one_part p USING (order_id)
    WHERE f.state = 'followed' AND f.log_is_compared
    GROUP BY ALL ORDER BY ALL"""
Endings = dict[Kind, list[Ending]]


def parts(ask: Ask, settings: Settings) -> Part:
    """Hold the comebacks of each part, and part number, against its faults' usual."""
    by_name: dict[str, Endings] = {}
    by_number: dict[str, Endings] = {}
    every: Endings = {}
    for name, number, group, band, days, back, others in ask(_CELLS):
        ending, kind = Ending(days, back, others), (group, band)
        every.setdefault(kind, []).append(ending)
        by_name.setdefault(name, {}).setdefault(kind, []).append(ending)
        if number:
            by_number.setdefault(number, {}).setdefault(kind, []).append(ending)
    named = strata(every, settings)
    hazards = {
        name: hazard(endings) for name, endings in by_stratum(every, named).items()
    }

    def row(own: Endings) -> tuple[int, int, float]:
        all_own = together(own.values())
        of_strata = by_stratum(own, named).items()
        usual = math.fsum(expected(e, hazards[name]) for name, e in of_strata)
        return total(all_own), comebacks(all_own), usual

    tables = (
        _table(
            "parts",
            "Comebacks by the part that was worked on",
            Column("part", "part"),
            {name: row(own) for name, own in by_name.items()},
            settings,
        ),
        _table(
            "part_numbers",
            "Comebacks by part number",
            Column("part_number", "part number"),
            {number: row(own) for number, own in by_number.items()},
            settings,
        ),
    )
    more = [str(row[0]) for one in tables for row in one.rows if row[-1] == _MORE]
    said = (
        f"More came back than the same faults usually do after: {', '.join(more)}."
        if more
        else "No part is shown to come back more than its faults do otherwise."
    )
    based = sum(total(endings) for endings in every.values())
    return Part(
        Section(
            "parts",
            "Which parts come back",
            (said, f"Of {counted(based, 'repair')} where one part was worked on."),
            tables,
        )
    )


_MORE = "more than usual"


def _table(
    name: str,
    title: str,
    column: Column,
    found: dict[str, tuple[int, int, float]],
    settings: Settings,
) -> Table:
    enough = [
        key for key, (_, _, usual) in found.items() if usual >= settings.least_expected
    ]
    tails = [
        rare_counts.upper_tail_middle(found[key][1], found[key][2]) for key in enough
    ]
    adjusted = dict(zip(enough, adjusted_tails(tails), strict=True))
    rows: list[tuple[Cell, ...]] = []
    for key in enough:
        followed, seen, usual = found[key]
        is_more = adjusted[key] <= settings.false_discovery
        rows.append(
            (
                *(key, followed, seen, usual, seen / usual),
                *rare_counts.ratio_limits(seen, usual),
                _MORE if is_more else "as usual, or not shown",
            )
        )
    left = len(found) - len(enough)
    return Table(
        name=name,
        title=title,
        columns=(
            column,
            Column("followed", "repairs followed"),
            Column("seen", "came back"),
            Column("expected", "expected", "", 1),
            Column("ratio", "seen / expected", "", 2),
            *interval("", "", 2),
            Column("said", "what is said"),
        ),
        rows=tuple(rows),
        note=f"{left:,} with fewer than {settings.least_expected:g} expected comebacks "
        "are left out.",
    )
