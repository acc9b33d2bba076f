"""The report of a repair order's computed bench tests, as one HTML page.

It holds what ISO/IEC 17025:2017 7.8.2.1 a) to p) and 7.8.6 ask of a report where they
apply to a shop (items from memory; the table stands in DEVELOPERS.md). The page loads
nothing, prints on paper, and names each item's letter beside it.
"""

from __future__ import annotations

import hashlib
from html import escape
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.bench_event import bench_input, result_of
from auditkit.order.events import Event, RepairOrder
from auditkit.order.statement import DEFERS, limit_text
from auditkit.output.bench_lines import bench_lines
from auditkit.output.bench_plot import bench_plot
from auditkit.text.display_text import plural
from auditkit.text.strict_json import canonical
from auditkit.text.values import displayed

if TYPE_CHECKING:
    from collections.abc import Mapping

    from auditkit.bench import BenchResult, TestKind
    from auditkit.order.catalogue import Catalogue

_STYLE = """
body{font:16px/1.45 sans-serif;max-width:46rem;margin:1rem auto;padding:0 1rem;
color:#111;background:#fff}
h1{font-size:1.5rem}h2{font-size:1.2rem;border-top:2px solid #111;padding-top:.7rem}
table{border-collapse:collapse;width:100%}
th,td{border:1px solid #888;padding:.3rem .5rem;text-align:left;vertical-align:top}
th{width:38%;font-weight:600}
svg{max-width:100%;height:auto}.answer{font-size:1.15rem;font-weight:700}
@media print{section{break-inside:avoid}}
"""
_NO_LOADING = (
    '<meta http-equiv="Content-Security-Policy" '
    "content=\"default-src 'none'; style-src 'unsafe-inline'\">"
)
_ONLY = "l) These results relate to the parts tested only, as they were then."


def bench_report(order: RepairOrder, catalogue: Catalogue, issued_at: str) -> str:
    """Return the page for all bench tests of an order that name their method.

    The catalogue has the kinds of test; ``issued_at`` is the day of issue. Raises
    InputError where no test is computed.
    """
    tests = [e for e in order.of("bench_test") if e.text("method")]
    if not tests:
        message = "no bench test of this repair order names its method"
        what_to_do = "write \"method\", one of those that 'auditkit bench' lists"
        raise InputError(message, where=order.id, what_to_do=what_to_do)
    sections = [
        _section(order, test, catalogue.bench_tests, f"Test {place} of {len(tests)}")
        for place, test in enumerate(tests, start=1)
    ]
    shop = order.opening.text("shop") if order.opening else "not recorded"
    many = plural(len(tests), "test", "tests")
    head = [
        ("b) shop", shop),
        ("c) place of the work", f"{shop}, unless a test says otherwise"),
        ("d) report", f"{_identity(order)}; {many}; an end line"),
        ("e) customer", "withheld here; the repair order names the customer"),
        ("g) vehicle", _vehicle(order)),
        ("j) day of issue", issued_at),
        ("k) sampling", "none: the part itself is the item"),
        ("p) results of others", "none recorded"),
    ]
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width,initial-scale=1">',
            _NO_LOADING,
            f"<title>Bench test report, {escape(order.id)}</title>",
            f"<style>{_STYLE}</style></head><body>",
            f"<h1>Bench test report, repair order {escape(order.id)}</h1>",
            _table(head),
            *sections,
            f"<p>{_ONLY}</p>",
            f"<p>{escape(DEFERS)}</p>",
            f"<p>d) End of report {escape(_identity(order))}.</p>",
            "</body></html>",
            "",
        ]
    )


def _identity(order: RepairOrder) -> str:
    """Return an id of the report: a digest over the tests that it reports."""
    digest = hashlib.sha256()
    for test in order.of("bench_test"):
        digest.update(canonical(dict(test.data)).encode())
    return f"{order.id}-{digest.hexdigest()[:12]}"


def _vehicle(order: RepairOrder) -> str:
    vehicle = order.opening.object("vehicle") if order.opening else {}
    return (
        f"{vehicle.get('description', 'not recorded')}, VIN {vehicle.get('vin', '-')}"
    )


def _section(
    order: RepairOrder, test: Event, kinds: Mapping[str, TestKind], place: str
) -> str:
    part = order.suspect(test.text("part"))
    name = f"{part.name} ({part.id})" if part else test.text("part")
    rows = [
        ("f) method", f"{test.text('method')}: {test.text('test')}"),
        ("g) item", name),
        ("h) received", "with the vehicle, at the opening of the repair order"),
        ("i) performed", test.text("at")),
        ("n) departures from the method", test.text("note") or "none recorded"),
        ("o) responsible", test.by),
    ]
    try:
        found = result_of(test, kinds)
    except InputError as error:
        rows.append(("m) result", f"not computed: {error.message}"))
        return _wrapped(f"{place}: {name}", rows, "", [])
    if found is None:  # the caller reports tests with a method only
        return ""
    rows += _results(test, found)
    picture = _picture(kinds[found.kind], test, found)
    return _wrapped(f"{place}: {name}", rows, picture, bench_lines(name, found)[:-1])


def _picture(kind: TestKind, test: Event, found: BenchResult) -> str:
    try:
        return bench_plot(kind, bench_input(test), found)
    except InputError as error:
        return f"<p>No picture: {escape(error.message)}.</p>"


def _results(test: Event, found: BenchResult) -> list[tuple[str, str]]:
    outcome = found.outcome.value.replace("-", " ")
    result = str(found.result) if found.result else "; ".join(found.reasons)
    rows = [
        ("m) result", result),
        ("7.8.6 conformity", f"{outcome}; {limit_text(test)}"),
        ("7.8.6 decision rule", found.decision_rule or "none: nothing was decided"),
    ]
    for item in test.items("instruments"):
        spec = item.get("specification")
        days = spec if isinstance(spec, dict) else {}
        told = f"{item.get('description', '')}; calibrated {days.get('calibrated_on')}"
        told += f", due {days.get('due')}, certificate {days.get('certificate', '-')}"
        rows.append((f"instrument {item.get('id')}", told))
    rows += [
        (f"reading: {r.get('name')}", str(displayed(dict(r)) or r.get("value")))
        for r in test.items("readings")
    ]
    rows += [
        (f"condition: {name}", str(displayed(value) or value))
        for name, value in test.object("conditions").items()
    ]
    return rows


def _wrapped(
    heading: str, rows: list[tuple[str, str]], picture: str, lines: list[str]
) -> str:
    answer = f'<p class="answer">{escape(lines[0])}</p>' if lines else ""
    more = "".join(f"<li>{escape(line.strip())}</li>" for line in lines[1:])
    return (
        f"<section><h2>{escape(heading)}</h2>{answer}{picture}"
        f"{_table(rows)}<h3>How the result came about</h3><ul>{more}</ul></section>"
    )


def _table(rows: list[tuple[str, str]]) -> str:
    cells = "".join(
        f'<tr><th scope="row">{escape(name)}</th><td>{escape(text)}</td></tr>'
        for name, text in rows
    )
    return f"<table>{cells}</table>"
