"""The picture of one bench test, as SVG text.

It tells the result and the limit in words, and draws the diagram that the kind of test
gives. A limit is drawn only where the result was held against it.
"""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.bench import BenchInput, BenchResult, TestKind
from auditkit.bench.diagram import ChartDiagram
from auditkit.bench.diagrams.beside_limit import beside_limit
from auditkit.errors import InputError
from auditkit.order.statement import DEFERS
from auditkit.output import svg
from auditkit.output.bench_lines import TYPED
from auditkit.output.chart_drawing import charts
from auditkit.output.frame import BOTTOM
from auditkit.output.scale_drawing import bottom_of, on_scale
from auditkit.output.text_width import wrapped

_ROOM = svg.WIDTH - 32.0  # of a line of text
_LINES = 18
_LOW_TOP, _LOW_BOTTOM = 60.0, 156.0


def bench_plot(kind: TestKind, inputs: BenchInput, result: BenchResult) -> str:
    """Return the picture of one bench test; a text where nothing was computed.

    ``result`` is what the kind said of ``inputs``. Raises InputError where a plugin's
    kind gives no diagram that can be drawn.
    """
    title = f"{kind.title}: {result.outcome.value.replace('-', ' ')}"
    try:
        diagram = kind.diagram(inputs, result)
    except Exception as error:
        raise InputError(
            f"the kind of bench test {kind.name!r} gives no diagram: "
            f"{type(error).__name__}: {error}",
            what_to_do="report this to the maker of the plugin that brings it",
        ) from error
    if diagram is None:
        said = result.reasons or ("nothing was computed",)
        return svg.svg(title, [*said, DEFERS], _paragraphs(said))
    told = _told(result)
    header = _header(told)
    top = 62.0 + 16 * len(header)
    if isinstance(diagram, ChartDiagram):
        bottom, drawn = BOTTOM, charts(diagram, top)
    else:
        bottom = bottom_of(diagram, top)
        drawn = on_scale(diagram, top, bottom)
    height = bottom + svg.HEIGHT - BOTTOM
    return svg.svg(title, [*told, DEFERS], [*header, *drawn], height)


def limit_plot(result: BenchResult) -> str:
    """Return a low picture of a result beside its limit; empty without a result.

    The picture is the same for every kind of test, whatever else a kind draws.
    """
    if result.result is None:
        return ""
    limit = result.limit if result.decision_rule else None
    diagram = beside_limit({"this part": result.result}, limit)
    title = "Result and limit" if limit is not None else "Result, held to no limit"
    drawn = on_scale(diagram, _LOW_TOP, _LOW_BOTTOM)
    return svg.svg(title, [*_told(result), DEFERS], drawn, _LOW_BOTTOM + 54)


def _told(result: BenchResult) -> list[str]:
    """Return result, limit and reasons as lines."""
    limit = result.limit if result.decision_rule else None
    lines = [f"{result.result}"]
    if limit is not None:
        pairs = (("at least", limit.minimum), ("at most", limit.maximum))
        sides = [f"{word} {side}" for word, side in pairs if side is not None]
        said = f"{' and '.join(sides)} {limit.unit}, from {limit.source}"
        lines.append(f"limit: {said}")
    lines += [f"because {reason}" for reason in result.reasons[:1]]
    lines += [f"{TYPED}: {why}" for why in result.unchecked]
    if result.comparison is not None:
        lines.append(result.comparison.text)
    return lines


def _header(told: Sequence[str]) -> list[str]:
    """Return what is told, two lines each at most; the description has it whole."""
    lines = [part for line in told for part in wrapped(line, _ROOM)]
    return [svg.text(16, 42 + 16 * i, line) for i, line in enumerate(lines)]


def _paragraphs(said: Sequence[str]) -> list[str]:
    lines = [part for one in said for part in wrapped(one, _ROOM, _LINES)]
    return [svg.text(16, 60 + 18 * i, line) for i, line in enumerate(lines[:_LINES])]
