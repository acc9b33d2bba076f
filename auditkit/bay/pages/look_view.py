"""What an unfinished form would show: asked while it is typed, and never recorded."""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.bay.pages.draw import page, picture
from auditkit.bay.pages.form_view import filled
from auditkit.bay.pages.given import raw
from auditkit.errors import InputError
from auditkit.order.bench_event import bench_input, result_of
from auditkit.order.events import Event
from auditkit.output.bench_lines import bench_lines
from auditkit.output.bench_plot import bench_plot
from auditkit.output.readout_lines import readout_lines

if TYPE_CHECKING:
    from starlette.responses import Response

    from auditkit.bay.pages.visit import Visit


def look(visit: Visit) -> Response:
    """Return what the answers so far show, or what they still lack."""
    shown = _readout if visit.place["kind"] == "readout" else _bench_test
    try:
        return shown(visit)
    except InputError as error:
        return _drawn((f"{error.message}: {error.what_to_do}.",))


def _readout(visit: Visit) -> Response:
    read = raw(visit, visit.answers)
    return _drawn(tuple(readout_lines(read[1])) if read else ())


def _bench_test(visit: Visit) -> Response:
    made = filled(visit, "bench_test")
    if made.problems:
        return _drawn((f"Still asked: {made.problems[0].message}.",))
    kinds = visit.desk.catalogue.bench_tests
    read = Event(0, made.event)
    result = result_of(read, kinds)
    if result is None:
        return _drawn(())
    kind = kinds[read.text("method")]
    drawn = bench_plot(kind, bench_input(read), result)
    name = visit.answers.get("part", "")
    return _drawn(tuple(bench_lines(name, result)), drawn)


def _drawn(lines: tuple[str, ...], svg: str = "") -> Response:
    return page("look.html", lines=lines, picture=picture(svg) if svg else "")
