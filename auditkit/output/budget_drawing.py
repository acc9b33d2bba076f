"""The uncertainty budget as bars, as SVG: how much each input adds to the result."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from auditkit.bench.uncertainty import combined
from auditkit.output import svg
from auditkit.output.budget_table import (
    budget_rows,
    combined_text,
    plain,
    share_text,
    spread_unit,
)
from auditkit.output.text_width import wrapped

if TYPE_CHECKING:
    from auditkit.bench import BenchResult

_MOST = 8
"""Inputs that have a bar of their own; the others have one together."""

_ROW, _TOP, _BAR = 34.0, 44.0, 18.0
_LEFT, _RIGHT = 236.0, 470.0


def budget_bars(found: BenchResult) -> str:
    """Return the picture; empty where the result has no uncertainty.

    Every bar is what an input adds to the result, |c| u, its text says it in digits;
    the last bar is all together, the root of the sum of squares.
    """
    rows, total = budget_rows(found), combined(found.components)
    if found.result is None or not total:
        return ""
    unit = spread_unit(found.result.value.unit)
    sizes = [c.standard_uncertainty for c in found.components]
    bars = [
        (f"{row.name} ({row.evaluation[-1]})", size, row.contribution, row.share)
        for row, size in zip(rows[:_MOST], sizes, strict=False)
    ]
    if rest := sizes[_MOST:]:
        size = math.hypot(*rest)
        share = (size / total) ** 2
        name = f"{len(rest)} more, together"
        bars.append((name, size, f"{plain(size)} {unit}", share))
    drawn: list[str] = []
    for place, (name, size, said, share) in enumerate(bars):
        label = f"{said}, {share_text(share)}"
        drawn += _bar(place, name, size / total, label, svg.MEMBER)
    whole = combined_text(found)
    drawn += _bar(len(bars), "all together (u)", 1.0, whole, svg.BLACK)
    told = [f"{name}: {said}, {share_text(share)}" for name, _, said, share in bars]
    title = "What makes it unsure: what each input adds (A, B: type)"
    height = _TOP + _ROW * (len(bars) + 1) + 8
    return svg.svg(title, [*told, f"all together: {whole}"], drawn, height)


def _bar(place: int, name: str, part: float, said: str, fill: str) -> list[str]:
    """Return one bar, ``part`` (0 to 1) of the full length, with name and number."""
    y = _TOP + _ROW * place
    lines = wrapped(name, _LEFT - 18)
    middle = y + _BAR / 2 + 4
    names = [
        svg.text(_LEFT - 10, middle + 14 * (i - (len(lines) - 1) / 2), line, "end")
        for i, line in enumerate(lines)
    ]
    width = max(1.0, part * (_RIGHT - _LEFT))
    return [
        *names,
        svg.rect(_LEFT, y, width, _BAR, fill),
        svg.text(_LEFT + width + 8, middle, said),
    ]
