"""The report of a repair order's bench tests, as one HTML page.

It holds what ISO/IEC 17025:2017 7.8.2.1 a) to p) and 7.8.6 ask of a report where they
apply to a shop (items from memory; the table stands in DEVELOPERS.md). The page loads
nothing, prints on paper, and names each item's letter beside it.
"""

from __future__ import annotations

import hashlib
from html import escape
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.events import RepairOrder
from auditkit.order.statement import DEFERS
from auditkit.output.bench_section import bench_section
from auditkit.output.html_table import pair_table
from auditkit.text.display_text import plural
from auditkit.text.strict_json import canonical

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue

_STYLE = """
body{font:16px/1.45 sans-serif;max-width:60rem;margin:1rem auto;padding:0 1rem;
color:#111;background:#fff}
h1{font-size:1.5rem}h2{font-size:1.2rem;border-top:2px solid #111;padding-top:.7rem}
h3{font-size:1rem;margin:1.2rem 0 .3rem}
table{border-collapse:collapse;width:100%;margin:.3rem 0}
caption{text-align:left;font-size:.85rem;padding:.2rem 0}
th,td{border:1px solid #888;padding:.25rem .4rem;text-align:left;vertical-align:top;
box-sizing:border-box;overflow-wrap:break-word}
.pairs th{width:34%}th{font-weight:600}
.wide{overflow-x:auto}.wide table{font-size:.85rem;min-width:44rem}
figure{margin:.6rem 0}svg{max-width:100%;width:40rem;height:auto}
.answer{font-size:1.15rem;font-weight:700}.sign td{height:2.6rem}
@page{size:A4;margin:14mm}
@media print{body{font-size:9pt;line-height:1.3;max-width:none;margin:0;padding:0}
section+section{break-before:page}h2,h3,caption{break-after:avoid}
h3{margin-top:.7rem}th,td{padding:.12rem .3rem}
tr,figure,svg,.pairs,.wide{break-inside:avoid}thead{display:table-header-group}
.wide{overflow:visible}.wide table{font-size:7.5pt;min-width:0;table-layout:fixed}
svg{width:140mm}
.budget thead{font-size:7pt}
.budget th:nth-child(1){width:15%}.budget th:nth-child(2){width:11%}
.budget th:nth-child(3){width:19%}.budget th:nth-child(4){width:12%}
.budget th:nth-child(5){width:9%}.budget th:nth-child(6){width:13%}
.budget th:nth-child(7){width:12%}.budget th:nth-child(8){width:9%}}
"""
_NO_LOADING = (
    '<meta http-equiv="Content-Security-Policy" '
    "content=\"default-src 'none'; style-src 'unsafe-inline'\">"
)
_ONLY = "These results relate to the parts tested only, as they were then (l)."
_LETTERS = (
    "A letter in brackets is an item of ISO/IEC 17025:2017, 7.8.2.1, which this page "
    "takes as its model (a: its title); a shop is no accredited laboratory."
)
_TO_SIGN = (("Checked by (name, signature)", ""), ("Day", ""))


def bench_report(order: RepairOrder, catalogue: Catalogue, issued_at: str) -> str:
    """Return the page for all bench tests of an order.

    The catalogue has the kinds of test; ``issued_at`` is the day of issue. A test that
    names no method is shown as it was recorded. Raises InputError where there is none.
    """
    tests = order.of("bench_test")
    if not tests:
        raise InputError(
            "this repair order has no bench test to report",
            where=order.id,
            what_to_do="record the bench tests that were made, then ask again",
        )
    sections = [
        bench_section(order, test, catalogue.bench_tests, f"Test {i} of {len(tests)}")
        for i, test in enumerate(tests, start=1)
    ]
    shop = order.opening.text("shop") if order.opening else "not recorded"
    many = plural(len(tests), "test", "tests")
    head = [
        ("Shop (b)", shop),
        ("Place of the work (c)", f"{shop}, unless a test says otherwise"),
        ("Report (d)", f"{_identity(order)}; {many}; an end line"),
        ("Customer (e)", "withheld here; the repair order names the customer"),
        ("Vehicle (g)", _vehicle(order)),
        ("Day of issue (j)", issued_at),
        ("Sampling (k)", "none: the part itself is the item"),
        ("Results of others (p)", "none recorded"),
    ]
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width,initial-scale=1">',
            _NO_LOADING,
            f"<title>Bench test report, {escape(order.id)}</title>",
            f"<style>{_STYLE}</style></head><body><main>",
            f"<h1>Bench test report, repair order {escape(order.id)}</h1>",
            f"<p>{_LETTERS}</p>",
            pair_table("The report", head),
            *sections,
            pair_table("To be signed on paper", _TO_SIGN).replace(
                "pairs", "pairs sign"
            ),
            f"<p>{_ONLY}</p>",
            f"<p>{escape(DEFERS)}</p>",
            f"<p>End of report {escape(_identity(order))} (d).</p>",
            "</main></body></html>",
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
