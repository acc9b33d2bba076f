"""What follows from an event or an order is computed once, and for it alone."""

from dataclasses import replace

import pytest

from auditkit.order.events import Event, RepairOrder
from auditkit.order.once import once


def order(*kinds):
    return RepairOrder.fold("RO-1", [{"kind": kind} for kind in kinds])


def test_an_answer_is_computed_once_for_each_thing_that_is_asked():
    asked = []

    @once
    def count(of, kind):
        asked.append((of, kind))
        return len(of.of(kind))

    one, other = order("repair", "readout"), order("repair", "repair")
    assert [count(of, "repair") for of in (one, other, one, other)] == [1, 2, 1, 2]
    assert count(one, "readout") == 1
    assert len(asked) == 3


def test_none_is_an_answer_too():
    asked = []

    @once
    def nothing(of):
        asked.append(of)

    event = Event(0, {})
    assert nothing(event) is nothing(event) is None
    assert len(asked) == 1


def test_an_error_is_not_kept():
    answers = iter([ValueError("not yet"), 7])

    @once
    def second(_):
        found = next(answers)
        if isinstance(found, Exception):
            raise found
        return found

    event = Event(0, {})
    with pytest.raises(ValueError, match="not yet"):
        second(event)
    assert second(event) == second(event) == 7


def test_a_changed_copy_keeps_nothing_of_the_first():
    first = order("diagnosis")
    assert first.codes == ()
    assert replace(first, events=order("repair").events).of("diagnosis") == ()
    event = replace(Event(0, {"kind": "a"}), data={"kind": "b"})
    assert event.kept == {}


def test_without_a_correction_the_other_events_keep_what_was_computed():
    right, wrong = {"kind": "repair", "by": "a"}, {"kind": "repair", "by": "b"}
    amendment = {"kind": "amendment", "corrects": 0, "event": right}
    made = RepairOrder.fold("RO-1", [wrong, {"kind": "readout"}, amendment])
    bare = made.without([2])
    assert bare.events[1] is made.events[1]
    assert (made.events[0].by, bare.events[0].by) == ("a", "b")
    assert bare == RepairOrder.fold(
        "RO-1", [wrong, {"kind": "readout"}, amendment], left_out=[2]
    )


def test_what_was_computed_makes_no_two_orders_differ():
    one, other = order("repair"), order("repair")
    assert one.last_repair is not None
    assert one == other
    assert "kept" not in repr(one)


def test_events_are_found_by_kind_and_place():
    made = order("a", "b", "a", "c", "b", "a")
    assert [e.index for e in made.of("a", "b")] == [0, 1, 2, 4, 5]
    assert [e.index for e in made.of("b", "a")] == [0, 1, 2, 4, 5]
    assert [e.index for e in made.before(2, "a", "b")] == [0, 1]
    assert [e.index for e in made.after(2, "a")] == [5]
    assert [e.index for e in made.between(0, 5, "a", "c")] == [2, 3]
    assert made.between(3, 3, "c") == made.between(5, 0, "a") == ()
