"""A test done twice asks the same of the part both times. All values invented."""

import copy
from itertools import count

import pytest
from truth.jobs import CATALOGUE, JOBS, bench

from auditkit.order.bench_event import same_limit
from auditkit.order.events import Event
from auditkit.order.same_test import is_same_test

KINDS = CATALOGUE.bench_tests
JOB = {
    "hold": "7: fuel pump weak",
    "seal": "10: filler cap leaks",
    "winding": "3: intake air sensor open",
    "typed": "21: soot from a dripping injector, watched",
}


def old_and_new(kind):
    found = [bench(JOBS[JOB[kind]]["bench"], good=good) for good in (False, True)]
    return copy.deepcopy(found)


def alike(old, new):
    number = count()
    one, other = (
        Event(next(number), {"kind": "bench_test", "at": "2026-03-02T09:00:00Z", **e})
        for e in (old, new)
    )
    return is_same_test(one, other, KINDS)


@pytest.mark.parametrize("kind", JOB)
def test_a_faulty_and_a_good_part(kind):
    assert alike(*old_and_new(kind))


@pytest.mark.parametrize(
    ("seconds", "same"), [("300", True), ("299", False), ("5", False)]
)
def test_the_required_hold_time_is_a_specification(seconds, same):
    old, new = old_and_new("hold")
    new["conditions"]["required hold time"]["value"] = seconds
    assert alike(old, new) is same


def test_a_specification_may_stand_in_another_unit():
    old, new = old_and_new("hold")
    new["conditions"]["required hold time"] = {"value": "5", "unit": "min"}
    assert alike(old, new)


@pytest.mark.parametrize(
    ("seconds", "same"), [("600", True), ("54", True), ("53", False), ("2", False)]
)
def test_what_holds_has_to_hold_as_long(seconds, same):
    """Our choice: a tenth less is as long."""
    old, new = old_and_new("seal")
    new["conditions"]["hold time"]["value"] = seconds
    assert alike(old, new) is same


def test_another_reference_temperature():
    old, new = old_and_new("winding")
    new["conditions"]["reference temperature"] = {"value": "200", "unit": "degC"}
    assert not alike(old, new)


def test_a_temperature_that_was_read_may_differ():
    old, new = old_and_new("winding")
    new["conditions"]["winding temperature"] = {"value": "31", "unit": "degC"}
    assert alike(old, new)


def test_another_method_or_limit():
    old, new = old_and_new("winding")
    assert not alike(old, {**new, "method": "direct-reading"})
    new["limit"]["minimum"] = "1.0"
    assert not alike(old, new)


@pytest.mark.parametrize(
    ("limit", "other", "same"),
    [
        (("15", "kPa (gauge)"), ("15.0", "kPa (gauge)"), True),
        (("50", "kPa (gauge)"), ("0.5", "bar (gauge)"), True),
        (("50", "kPa (gauge)"), ("50", "kPa (absolute)"), False),
        (("50", "kPa"), ("50", "kPa (gauge)"), False),
        (("4700", "ohm"), ("4.7", "kohm"), True),
        (("4700", "ohm"), ("4.71", "kohm"), False),
        (("15", "°C"), ("15.0", "degC"), True),
        (("15", "degC"), ("288.15", "K"), False),  # a difference may be meant
        (("3", "mm"), ("3", "V"), False),
        (("3", "notches"), ("3.0", "notches"), True),
        (("3", "notches"), ("3", "teeth"), False),
    ],
)
@pytest.mark.parametrize("end", ["minimum", "maximum"])
def test_limits_are_compared_as_quantities(end, limit, other, same):
    one, two = (
        Event(0, {"limit": {end: value, "unit": unit}})
        for value, unit in (limit, other)
    )
    assert same_limit(one, two) is same


def test_a_smallest_value_is_no_largest():
    one, two = (
        Event(0, {"limit": {end: "3", "unit": "V"}}) for end in ("minimum", "maximum")
    )
    assert not same_limit(one, two)


def counts(times, of, under="heat", **before):
    """Return k of n under a stimulus, and what is told of the test before it."""
    told = {f"{name} before repair": value for name, value in before.items()}
    readings = {"seen with stimulus": times, "tries with stimulus": of}
    return {
        "method": "intermittent",
        "readings": [
            {"name": name, "value": str(value), "unit": "times"}
            for name, value in readings.items()
        ],
        "conditions": {
            "stimulus": under,
            **{
                name: {"value": str(value), "unit": "times"}
                if isinstance(value, int)
                else value
                for name, value in told.items()
            },
        },
    }


@pytest.mark.parametrize(
    ("new", "is_same"),
    [
        (counts(0, 15, seen=4, tries=5), True),
        (counts(0, 15), True),
        (counts(0, 15, seen=5, tries=5), False),
        (counts(0, 15, seen=4, tries=4), False),
    ],
)
def test_counts_are_the_same_test_where_they_tell_the_first_as_it_was(new, is_same):
    """Who tells of more failures than there were needs fewer tries afterwards."""
    assert alike(counts(4, 5), new) is is_same


def test_counts_under_another_stimulus_are_another_test():
    assert not alike(counts(4, 5), counts(0, 15, under="tap"))
