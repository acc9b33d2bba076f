"""Which typed readouts are another order's with values changed, and how many are equal.

The displays are invented: counts, and self-tests with more digits than chance repeats.
"""

import pytest

from auditkit.order.copied_values import copied_values, sure_marks
from auditkit.order.events import RepairOrder

MANY = [
    *("1.127", "0.384", "5.21", "12.36", "208", "0.0951", "7.04"),
    *("33.9", "61.22", "0.517", "94.1", "2.063", "18.55"),
]
FEW = MANY[:6]


def order(number, values, *, elsewhere=None, counts=("183207",)):
    tests = [
        {"mid": f"{n:02X}", "tid": "81", "value": {"value": value, "unit": "V"}}
        for n, value in enumerate(values, 1)
        if value
    ]
    told = zip(("odometer", "distance"), counts, strict=False)
    typed = {
        "modules": [{"module": "7E8", "self_tests": tests}],
        "counts": {name: {"value": value, "unit": "km"} for name, value in told},
    }
    readout = {"kind": "readout", "at": "2026-03-02T08:00:00Z", "by": "a"}
    readout |= {"captured": readout["at"], "typed": typed}
    return RepairOrder.fold(number, [readout], elsewhere)


def shared(one, other):
    """Return what is said of the second of two orders, of two vehicles."""
    known = dict.fromkeys(order("RO-1", *one[:1], **one[1]).alike, "RO-1")
    (*found,) = copied_values(order("RO-2", *other[:1], elsewhere=known, **other[1]))
    return found


def changed(values, *places):
    return [f"{v}3" if n in places else v for n, v in enumerate(values)]


@pytest.mark.parametrize("place", range(len(FEW)))
def test_one_value_of_few_changed_is_a_copy(place):
    (found,) = shared((FEW, {}), (changed(FEW, place), {}))
    assert (found.is_sure, found.is_part) == (True, True)
    assert found.what == "6 of 7 values of the readout"


def test_a_count_that_was_changed_leaves_all_self_tests_equal():
    (found,) = shared((FEW, {}), (FEW, {"counts": ("91555",)}))
    assert (found.is_sure, found.is_part) == (True, False)
    assert found.what == "the values of self-tests of the readout"


@pytest.mark.parametrize("which", ["left out", "added"])
def test_one_value_left_out_or_added_is_a_copy(which):
    pair = (FEW, {}), ([*FEW[:3], "", *FEW[4:]], {})
    (found,) = shared(*(pair if which == "left out" else pair[::-1]))
    assert found.is_sure
    assert found.equal == 6


def test_what_is_equal_is_all_told_where_nothing_was_changed():
    (found,) = shared((FEW, {}), (FEW, {}))
    assert (found.is_sure, found.is_part, found.equal) == (True, False, 7)


@pytest.mark.parametrize(
    ("places", "equal"), [((6,), 13), ((0, 12), 12), ((3, 9), 12), ((4, 9), 12)]
)
def test_many_values_of_which_some_are_changed_are_told_with_their_number(
    places, equal
):
    """Runs of equal values tell it; single ones between changed ones are not seen."""
    (found,) = shared((MANY, {}), (changed(MANY, *places), {}))
    assert (found.is_sure, found.is_part) == (False, True)
    assert equal - 3 <= found.equal <= equal
    assert found.what == f"{found.equal} of 14 values of the readout"


@pytest.mark.parametrize(
    "values",
    [
        changed(FEW, 0, 2, 4),
        ["1.0", "0", "0", "2.5", "200", "0.1"],
    ],
)
def test_few_equal_values_are_said_of_nobody(values):
    assert shared((FEW, {}), (values, {"counts": ("7",)})) == []


def test_round_values_are_those_of_many_vehicles():
    """All but one of them have too few digits to say anything."""
    values = ["1.0", "0.5", "14.0", "2.5", "200", "0.1"]
    assert shared((values, {"counts": ("30",)}), (values, {"counts": ("31",)})) == []


def test_marks_of_all_and_of_all_but_one_are_kept_apart():
    whole, part = sure_marks(order("RO-1", FEW))
    assert (len(whole), len(part)) == (2, 13)
    assert not whole & part


def test_a_long_display_is_marked_in_linear_time():
    """Each value begins one run, and no rest is made of so many."""
    values = [f"{n}.{n * 7919 % 1000:03}1" for n in range(2000)]
    (event,) = order("RO-1", values).events
    assert len(event.value_marks) <= len(values) + 3
