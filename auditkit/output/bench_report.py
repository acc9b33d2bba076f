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
from auditkit.output.paper_page import paper_page
from auditkit.text.display_text import plural
from auditkit.text.strict_json import canonical

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue

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
    return paper_page(
        f"Bench test report, {order.id}",
        [
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
        ],
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
