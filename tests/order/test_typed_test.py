"""A bench test that a person typed: what its display says by its own limit."""

import pytest

from auditkit.order.events import Event
from auditkit.order.typed_test import (
    typed_lacks,
    typed_outcome,
    typed_undecided,
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
