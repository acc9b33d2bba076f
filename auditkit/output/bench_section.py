"""One bench test on the report's page: plain words first, the metrologist's term after.

A test that names no method is shown with all that was recorded, and is said to be not
computed.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from auditkit.bench.inputs import readings_of_instruments
from auditkit.bench.result import UNCLAIMED
from auditkit.errors import InputError
from auditkit.order.bench_event import bench_input, result_of
from auditkit.order.choice_words import in_words
from auditkit.order.event_text import limit_text
from auditkit.output.bench_lines import answer_text, probability_text
from auditkit.output.bench_plot import bench_plot, limit_plot
from auditkit.output.budget_drawing import budget_bars
from auditkit.output.budget_table import (
    COVERED,
    BudgetRow,
    budget_rows,
    combined_text,
    dof_note,
    expanded_text,
    share_text,
)
from auditkit.output.decision_section import decision_section
from auditkit.output.html_table import bullets, pair_table, wide_table
from auditkit.output.instrument_table import instrument_table
from auditkit.text.values import displayed

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from auditkit.bench import BenchResult, TestKind
    from auditkit.order.events import Event, RepairOrder
    from auditkit.text.values import Json

_BUDGET_COLUMNS = (
    "Input",
    "Value",
    "How it is known (type, distribution)",
    "Unsure by (standard uncertainty u)",
    "Degrees of freedom",
    "Moves the result (sensitivity |c|)",
    "Adds (contribution |c| u)",
    "Share of the variance",
)
_SAME_VARIABLES = (
    "The rows are independent of each other: what several readings have in common, "
    "such as the specification error of one instrument, stands in one row "
    "(correlation, GUM 5.2). Contributions add as the root of the sum of their "
    "squares. A row without sensitivity is an error that differs between readings."
)


_COUNTED = (
    "It is the number of tries that makes it unsure, and no instrument: there is no "
    "budget of inputs."
)


def bench_section(
    order: RepairOrder, test: Event, kinds: Mapping[str, TestKind], place: str
) -> str:
    """Return one test as a section; never raises for what was recorded."""
    part = order.suspect(test.text("part"))
    name = f"{part.name} ({part.id})" if part else test.text("part")
    found, problem = _computed(test, kinds)
    shown = [
        f"<h2>{escape(place)}: {escape(name)}</h2>",
        f'<p class="answer">{escape(_answer(test, found, problem))}</p>',
    ]
    if found is not None:
        shown += _figure(limit_plot(found))
    shown += [
        "<h3>What was tested, when and by whom (item, method)</h3>",
        pair_table("Item and method", _item_rows(test, name)),
        "<h3>What came out (result, statement of conformity)</h3>",
        pair_table("Result", _result_rows(test, found)),
    ]
    if found is not None and (kind := kinds[found.kind]).draw is not None:
        shown += _figure(_picture(kind, test, found))
    shown += [
        "<h3>What was read (readings, conditions)</h3>",
        pair_table("Readings and conditions", _reading_rows(test)),
        "<h3>What it was read with (instruments, calibration)</h3>",
        instrument_table(
            test, _used_for(test, found, kinds), counted=_is_counted(found)
        ),
    ]
    if found is not None and found.doubts:
        shown += ["<h3>What an instrument claims, to be asked about</h3>"]
        shown.append(bullets(found.doubts))
    if found is not None:
        shown += _budget(found)
        shown += decision_section(found)
    return f"<section>{''.join(shown)}</section>"


def _computed(
    test: Event, kinds: Mapping[str, TestKind]
) -> tuple[BenchResult | None, str]:
    """Return the result, or why there is none."""
    try:
        found = result_of(test, kinds)
    except InputError as error:
        return None, f"not computed: {error.message}"
    return found, "" if found else "not computed: this test names no method"


def _answer(test: Event, found: BenchResult | None, problem: str) -> str:
    if found is not None:
        return answer_text(found)
    typed = displayed(dict(test.object("result")))
    if test.text("method") or typed is None:
        return problem
    return (
        f"{problem}. What was typed, {typed}, is compared with its limit as it stands, "
        "without its uncertainty"
    )


def _item_rows(test: Event, name: str) -> list[tuple[str, str]]:
    method = test.text("method")
    title = f"{method}: {test.text('test')}" if method else test.text("test")
    rows = [
        ("Method (f)", title),
        ("Part (g)", name),
        ("Received (h)", "with the vehicle, at the opening of the repair order"),
        ("Made on (i)", test.text("at")),
        ("Departures from the method (n)", test.text("note") or "none recorded"),
        ("Responsible (o)", test.by),
    ]
    if which := test.text("of"):
        rows.insert(2, ("Which part", str(in_words("of", which))))
    if setup := test.text("setup"):
        rows.insert(2, ("Set-up", str(in_words("setup", setup))))
    return rows


def _result_rows(test: Event, found: BenchResult | None) -> Iterator[tuple[str, str]]:
    """Yield result, limit, conformity and what lies beside them."""
    if seen := test.object("finding").get("seen"):
        yield "Seen, not measured", str(seen)
    if found is None:
        typed = displayed(dict(test.object("result")))
        what = test.object("result").get("name", "")
        told = f"{what} {typed}, as typed" if typed else "no value recorded"
        yield "Result (m)", told.strip()
        yield "Limit", limit_text(test)
        yield "Conformity (7.8.6)", "not stated: without uncertainty nothing is decided"
        return
    if found.result is None:
        yield "Result (m)", f"none: {'; '.join(found.reasons)}"
    else:
        yield "Result (m)", str(found.result)
        told = UNCLAIMED if found.unchecked else expanded_text(found)
        yield "Expanded uncertainty U", told
        if found.result.value.bound or found.result.is_open:
            yield "One-sided", _one_sided(found)
    yield "Limit", limit_text(test)
    outcome = found.outcome.value.replace("-", " ")
    because = "; ".join(found.reasons) if found.result is not None else ""
    yield "Conformity (7.8.6)", f"{outcome}{', because ' if because else ''}{because}"
    if probability := probability_text(found):
        yield "Probability that it lies within the limit", probability
    if found.comparison is not None:
        yield "Beside a known-good part", found.comparison.text
    if found.unchecked:
        yield "Counts as typed", "; ".join(found.unchecked)
    if found.doubts:
        yield "To be asked about", "; ".join(found.doubts)
    if found.others:
        yield "Also computed", "; ".join(map(str, found.others))


def _one_sided(found: BenchResult) -> str:
    if found.result is None or found.result.is_open:
        return "a reading lies beyond its range, and leaves the result open both ways"
    side = found.result.value.bound
    return (
        f"a reading lies beyond its range: the true value lies {side} the value shown, "
        "and the uncertainty is that of this end"
    )


def _reading_rows(test: Event) -> Iterator[tuple[str, str]]:
    """Yield what was read and under which conditions, as it was written.

    Readings of one name are one row.
    """
    read = dict.fromkeys(str(r.get("name")) for r in test.items("readings"))
    for name in read:
        same = [r for r in test.items("readings") if str(r.get("name")) == name]
        yield name, "; ".join(_told(dict(r)) for r in same)
    for name, value in test.object("conditions").items():
        yield f"{name} (condition)", _told(value)
    good = test.object("known_good")
    readings = good.get("readings")
    for one in readings if isinstance(readings, list) else ():
        if isinstance(one, dict):
            label = f"{one.get('name')} (known-good part {good.get('part', '')})"
            yield label, _told(one)
    if not (read or test.object("conditions")):
        yield "readings", "none recorded"


def _told(value: Json) -> str:
    read = displayed(value)
    if read is not None:
        return str(read)
    return "not readable" if isinstance(value, dict) else str(value)


def _picture(kind: TestKind, test: Event, found: BenchResult) -> str:
    try:
        return bench_plot(kind, bench_input(test), found)
    except InputError as error:
        return f"<p>No picture: {escape(error.message)}.</p>"


def _used_for(
    test: Event, found: BenchResult | None, kinds: Mapping[str, TestKind]
) -> dict[str, list[str]]:
    if found is None:
        return {}
    return readings_of_instruments(bench_input(test), kinds[found.kind].needs)


def _is_counted(found: BenchResult | None) -> bool:
    """Return whether a result was decided by counts, which no limit is held to."""
    if found is None or found.result is None or found.components or found.unchecked:
        return False
    return bool(found.decision_rule) and found.limit is None


def _figure(drawn: str) -> list[str]:
    return [f"<figure>{drawn}</figure>"] if drawn else []


def _budget(found: BenchResult) -> list[str]:
    rows = budget_rows(found)
    shown = ["<h3>How sure the value is (uncertainty budget)</h3>"]
    if found.result is None:
        return [*shown, "<p>Nothing was computed, so there is no budget.</p>"]
    if found.unchecked:
        return [*shown, f"<p>{escape(UNCLAIMED.capitalize())}.</p>"]
    if not rows:
        exact = "No input of the result has an uncertainty."
        said = _COUNTED if _is_counted(found) else exact
        return [*shown, f"<p>{said}</p>"]
    end = "the end that is known of " if found.result.value.bound else ""
    caption = f"Uncertainty budget of {end}{found.result.name}, largest first"
    together = [
        ("All together (combined standard uncertainty u)", combined_text(found)),
        (f"Stated (expanded uncertainty U, {COVERED})", expanded_text(found)),
    ]
    if note := dof_note(found):
        together.append(("Degrees of freedom", note))
    return [
        *shown,
        wide_table(caption, _BUDGET_COLUMNS, map(_cells, rows), "budget"),
        *_figure(budget_bars(found)),
        pair_table("Combined and expanded uncertainty", together),
        f"<p>{escape(_SAME_VARIABLES)}</p>",
    ]


def _cells(row: BudgetRow) -> tuple[str, ...]:
    known = ", ".join(filter(None, (row.evaluation, row.distribution, row.basis)))
    return (
        row.name,
        row.value or "-",
        known,
        row.uncertainty or "-",
        row.dof,
        row.sensitivity or "-",
        row.contribution,
        share_text(row.share),
    )
