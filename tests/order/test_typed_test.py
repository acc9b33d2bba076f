"""A bench test that a person typed: what its display says by its own limit."""

import pytest

from auditkit.order.events import Event
from auditkit.order.typed_test import (
    typed_lacks,
    typed_outcome,
    typed_undecided,
    typed_units_differ,
    typed_within,
)


def typed(result, unit="ohm", **ends):
    limit = {"unit": unit, "source": "invented", **ends}
    meter = [{"id": "meter"}]
    return Event(0, {"result": result, "limit": limit, "instruments": meter})


def ohm(side, number):
    return {side: number, "unit": "ohm"}


@pytest.mark.parametrize(
    ("result", "ends", "outcome"),
    [
        # A limit from 4 to 14, inclusive: what lies beyond either end is faulty.
        (ohm("value", "14"), {"minimum": "4", "maximum": "14"}, "good"),
        (ohm("value", "14.1"), {"minimum": "4", "maximum": "14"}, "faulty"),
        (ohm("value", "3.9"), {"minimum": "4", "maximum": "14"}, "faulty"),
        (ohm("above", "14"), {"minimum": "4", "maximum": "14"}, "faulty"),
        (ohm("below", "4"), {"minimum": "4", "maximum": "14"}, "faulty"),
        # All that the display leaves lies within.
        (ohm("above", "10"), {"minimum": "4"}, "good"),
        (ohm("below", "10"), {"maximum": "14"}, "good"),
        # What the display leaves lies on both sides of an end.
        (ohm("above", "10"), {"minimum": "4", "maximum": "14"}, ""),
        (ohm("below", "10"), {"minimum": "4", "maximum": "14"}, ""),
        (ohm("above", "3"), {"minimum": "4"}, ""),
        (ohm("above", "10"), {"maximum": "14"}, ""),
    ],
)
def test_a_display_is_held_against_its_limit(result, ends, outcome):
    test = typed(result, **ends)
    assert typed_lacks(test) == []
    assert typed_outcome(test) == outcome
    assert bool(typed_within(test)) is (outcome == "good")
    assert bool(typed_undecided(test)) is (outcome == "")


def test_what_decides_nothing_is_told_with_its_limit():
    test = typed(ohm("above", "10"), minimum="4", maximum="14")
    assert typed_undecided(test) == "above 10 ohm, minimum 4 and maximum 14 ohm"


@pytest.mark.parametrize(
    ("result", "unit", "ends", "outcome"),
    [
        # SI prefixes (BIPM SI brochure, Table 7): k is 1000, M is 1 000 000.
        (
            {"value": "0.086", "unit": "kohm"},
            "ohm",
            {"minimum": "4", "maximum": "14"},
            "faulty",
        ),
        ({"value": "0.014", "unit": "kohm"}, "ohm", {"maximum": "14"}, "good"),
        ({"above": "40", "unit": "Mohm"}, "ohm", {"maximum": "14"}, "faulty"),
        ({"above": "40", "unit": "MΩ"}, "Ω", {"minimum": "100000"}, "good"),
        ({"above": "0.010", "unit": "kohm"}, "ohm", {"maximum": "14"}, ""),
        ({"value": "14", "unit": "ohm"}, "kohm", {"minimum": "0.015"}, "faulty"),
        # NIST SP 811 Appendix B.8: 1 psi is 6.894757 kPa.
        ({"value": "10", "unit": "psi"}, "kPa", {"minimum": "68.9"}, "good"),
        ({"value": "10", "unit": "psi"}, "kPa", {"minimum": "69.0"}, "faulty"),
    ],
)
def test_a_unit_of_the_same_kind_is_converted(result, unit, ends, outcome):
    test = typed(result, unit, **ends)
    assert typed_lacks(test) == []
    assert typed_outcome(test) == outcome


@pytest.mark.parametrize(
    ("unit", "other"),
    [
        ("V", "ohm"),
        ("strokes", "ohm"),
        ("psi (gauge)", "kPa (absolute)"),
        ("degC", "degF"),  # 9 degF are 5 degC of difference, and -12.8 degC
    ],
)
def test_units_that_do_not_convert_are_named(unit, other):
    test = typed({"value": "86", "unit": unit}, other, maximum="14")
    assert typed_units_differ(test) == f"it is in {unit}, its limit in {other}"
    (lacking,) = typed_lacks(test)
    assert lacking.endswith(typed_units_differ(test))
    assert typed_outcome(test) == typed_within(test) == typed_undecided(test) == ""
