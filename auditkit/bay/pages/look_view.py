"""What an unfinished form would show: asked while it is typed, and never recorded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditkit.bay.pages.draw import page, picture
from auditkit.bay.pages.form_view import filled
from auditkit.bay.pages.given import raw
from auditkit.bench import BenchOutcome
from auditkit.errors import InputError
from auditkit.obd.comparison import compare
from auditkit.order.bench_event import bench_input, result_of
from auditkit.order.events import Event
from auditkit.order.self_test_evidence import readout_of
from auditkit.output.bench_lines import bench_lines, short_bench_lines
from auditkit.output.bench_plot import bench_plot
from auditkit.output.comparison_lines import comparison_lines
from auditkit.output.readout_lines import readout_in_brief, readout_lines

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.responses import Response

    from auditkit.bay.pages.visit import Visit


def look(visit: Visit) -> Response:
    """Return what the answers so far show, or what they still lack."""
    shown = _readout if visit.place["kind"] == "readout" else _bench_test
    try:
        return shown(visit)
    except InputError as error:
        return _drawn((f"{error.message}: {error.what_to_do}.",))


@dataclass(frozen=True, slots=True)
class Told:
    """What a readout holds in lines: in brief, and whole."""

    brief: tuple[str, ...] = ()
    whole: tuple[str, ...] = ()


def _readout(visit: Visit) -> Response:
    told = readout_told(visit, visit.answers)
    return _drawn(told.brief, more=told.whole)


def readout_told(
    visit: Visit, said: Mapping[str, str], entries: tuple[int, ...] = ()
) -> Told:
    """Return what a readout holds, and how it differs from the one before.

    ``entries`` are its own, where it is recorded already. Raises InputError for a text
    or file in which no vehicle answers.
    """
    if read := raw(visit, said):
        found = read[1]
    elif any(key.startswith("typed.") for key in said):
        made = filled(visit, "readout")
        if made.problems:
            return Told((f"Still asked: {made.problems[0].message}.",))
        found = readout_of(Event(0, made.event))
    else:
        return Told()
    before = visit.desk.standing(visit.order, before=entries[0] if entries else None)
    earlier = before.so_far.order.of("readout")
    brief, whole = readout_in_brief(found), readout_lines(found)
    if earlier:
        last = earlier[-1]
        against, *changed = comparison_lines(compare(readout_of(last), found))
        when = last.text("captured")[:16].replace("T", " ")
        brief.append(f"Against the readout of {when}: {against}")
        brief += [line for line in changed if line.startswith("Code")]
        whole += [f"Against the readout of {when}:", *changed]
    return Told(tuple(brief), tuple(whole))


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
    drawn = ""
    if result.result is not None or result.outcome is not BenchOutcome.NOT_VALID:
        drawn = bench_plot(kind, bench_input(read), result)
    judgement = visit.desk.standing(visit.order).so_far.judgement
    part = read.text("part")
    name = judgement.part_names.get(part, part)
    brief, whole = short_bench_lines(name, result), bench_lines(name, result)
    return _drawn(tuple(brief), drawn, tuple(whole), "How sure that is, and why")


def _drawn(
    lines: tuple[str, ...],
    svg: str = "",
    more: tuple[str, ...] = (),
    title: str = "All that it holds",
) -> Response:
    drawn = picture(svg) if svg else ""
    return page("look.html", lines=lines, picture=drawn, more=more, more_title=title)
