"""The numbers of a chart as tables, for who cannot see it or wants them exactly."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.fleet.audited import Cell, Chart, Column, Scale, Span, Table
from auditkit.fleet.report.axis import moment
from auditkit.output.svg import short


def chart_numbers(chart: Chart) -> Iterator[Table]:
    """Yield the tables of a chart's numbers: each line, dot, bar and span."""
    if chart.bars is not None:
        outline = chart.bars.outline
        names = [*chart.bars.parts]
        names += [chart.bars.outline_name or "held against"] if outline else []
        rows: list[tuple[Cell, ...]] = [
            (name, *values, *outline[i : i + 1])
            for i, (name, values) in enumerate(
                zip(chart.bars.names, chart.bars.values, strict=True)
            )
        ]
        yield _table(chart, (chart.along.label, *names), rows)
    if chart.spans:
        spans = [
            (
                s.lane,
                _place(chart.along, s.start),
                _place(chart.along, s.end),
                _what(chart, s),
            )
            for s in chart.spans
        ]
        yield _table(chart, ("lane", "from", "to", "what"), spans)
    if chart.dots:
        dots = [
            (
                _place(chart.along, d.along),
                _place(chart.up, d.up),
                d.name,
                dict(chart.shapes).get(d.shape, ""),
            )
            for d in chart.dots
        ]
        yield _table(chart, (chart.along.label, chart.up.label, "name", "mark"), dots)
    if chart.lines:
        yield _lines(chart)


def _what(chart: Chart, span: Span) -> str:
    said = [span.name] if span.name else []
    said += ["withheld"] if span.is_hatched else []
    if span.claimed is not None:
        said.append(f"claimed {_place(chart.along, span.claimed)}")
    return ", ".join(said)


def _lines(chart: Chart) -> Table:
    bands = {(line.name, p[0]): p[1:] for line in chart.lines for p in line.band}
    rows = []
    for line in chart.lines:
        for x, y in line.points:
            row: tuple[Cell, ...] = (
                line.name,
                _place(chart.along, x),
                _place(chart.up, y),
            )
            if bands:
                row += bands.get((line.name, x), ("", ""))
            rows.append(row)
    ends = (f"{chart.band_name} from".strip(), "to") if bands else ()
    return _table(chart, ("line", chart.along.label, chart.up.label, *ends), rows)


def _place(scale: Scale, value: float) -> Cell:
    """Return a value of an axis as a person reads it."""
    if scale.is_time:
        return f"{moment(value):%Y-%m-%d %H:%M}"
    if scale.members and value.is_integer() and 0 <= value < len(scale.members):
        return scale.members[int(value)]
    return value


def _table(
    chart: Chart, heads: tuple[str, ...], rows: Iterable[tuple[Cell, ...]]
) -> Table:
    texts = (tuple(_short(cell) for cell in row) for row in rows)
    return Table(
        chart.name,
        f"Numbers of the picture: {chart.title}",
        tuple(Column(f"c{i}", head) for i, head in enumerate(heads)),
        tuple(texts),
    )


def _short(cell: Cell) -> Cell:
    """Return a number as text of at most five digits, others as they are."""
    return short(cell) if isinstance(cell, float) else cell
