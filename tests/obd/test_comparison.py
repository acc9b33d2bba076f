"""Before/after pairs of invented vehicles whose truth is known."""

import itertools
import random

import pytest
from vehicles import Vehicle, counted

from auditkit.obd import decode
from auditkit.obd.comparison import compare, margin
from auditkit.obd.rerun import Grade, evidence, why_waiting

EVAP = frozenset({"39", "3A", "3B", "3C", "3D"})
PLACE = (0x3C, 0x81, 0xFD)
EVAPCOMP = 14
FAULTY = Vehicle(confirmed=(0x0442,), status="8107E500")


def grades(before, after):
    found = evidence(decode(before.readout()), decode(after.readout()), EVAP)
    return [e.grade.value for e in found]


def ran(vehicle, words=(120, 0, 400)):
    return vehicle.but(tests={PLACE: words}, status="0007E5E1")


def test_values_after_a_clear_are_new():
    after = ran(FAULTY.cleared()).but(warm_ups=3, distance=80, minutes=90)
    assert grades(FAULTY, after)[0] == "results-after-clear"
    assert grades(FAULTY.cleared(), after) == [
        "results-after-clear",
        "readiness-completed",
    ]


def test_all_zero_after_a_clear_shows_nothing():
    assert grades(FAULTY, FAULTY.cleared()) == []


def test_a_counter_that_rose():
    after = FAULTY.but(counters=counted(FAULTY.counters, EVAPCOMP, 1))
    assert grades(FAULTY, after) == ["counter-rose"]


def test_a_counter_that_wrapped_rose():
    top = FAULTY.but(counters=counted(FAULTY.counters, EVAPCOMP, 65535 - 20))
    after = top.but(counters=counted(top.counters, EVAPCOMP, 2))
    assert grades(top, after) == ["counter-rose"]


def test_another_monitors_counter_shows_nothing():
    after = FAULTY.but(counters=counted(FAULTY.counters, 2, 5))
    assert grades(FAULTY, after) == []


def test_readiness_that_turned():
    before = FAULTY.but(status="0007E504")
    assert grades(before, FAULTY.but(status="0007E500")) == ["readiness-completed"]


def test_changed_words_without_a_clear():
    after = FAULTY.but(tests={PLACE: (500, 0, 400)})
    assert grades(FAULTY, after) == ["results-changed"]


@pytest.mark.parametrize(
    ("mid", "kind", "grade"),
    [
        (0x3C, "07", "readiness-completed"),
        (0x81, "07", "results-changed"),
        (0xA2, "07", "results-changed"),
        (0xA2, "0F", "readiness-completed"),
    ],
)
def test_what_always_reads_complete_is_no_sign_that_it_ran(mid, kind, grade):
    """ISO 15031-5:2006 B.2: fuel system, and misfire on spark ignition."""
    place = (mid, 0x0B, 0x24)
    before = FAULTY.but(tests={place: (40, 0, 10)}, status=f"81{kind}E500")
    after = before.but(tests={place: (0, 0, 10)}, cycle=f"00{kind}E500")
    mids = frozenset({f"{mid:02X}"})
    found = evidence(decode(before.readout()), decode(after.readout()), mids)
    assert [e.grade.value for e in found] == [grade]


def test_equal_words_show_nothing():
    assert grades(FAULTY, FAULTY) == []


def test_no_pair_is_graded_better_than_its_truth():
    """Every mix of what can happen between two readouts, with its truth beside it."""
    for clear, run, count in itertools.product((False, True), repeat=3):
        after = FAULTY.cleared() if clear else FAULTY
        after = ran(after) if run else after
        if run and count:
            after = after.but(counters=counted(after.counters, EVAPCOMP, 1))
        found = grades(FAULTY, after)
        assert bool(found) is run
        if run:
            assert (found[0] == "results-after-clear") is clear
            assert ("counter-rose" in found) is count


def test_order_of_grades():
    names = list(Grade)
    assert all(a.meets(b) for a, b in itertools.combinations(names, 2))
    assert not any(b.meets(a) for a, b in itertools.combinations(names, 2))


def test_the_cycle_tells_why_it_cannot_run_today():
    # ISO 15031-5:2006 Table B.46: supported in PID 01, not enabled in PID 41.
    disabled = decode(FAULTY.cleared().but(cycle="0007E1E1").readout())
    assert "disabled for the rest" in why_waiting(disabled, EVAP)[0]
    waiting = decode(FAULTY.cleared().but(cycle="0007E5E5").readout())
    assert "can still run" in why_waiting(waiting, EVAP)[0]


def test_codes_gone_come_and_stayed():
    before = FAULTY.but(confirmed=(0x0442, 0x0301))
    after = FAULTY.but(confirmed=(0x0301,), pending=(0x0455,))
    found = compare(decode(before.readout()), decode(after.readout()))
    assert [c.text for c in found.gone] == ["P0442"]
    assert [c.text for c in found.come] == ["P0455"]
    assert [c.text for c in found.stayed] == ["P0301"]


def test_a_clear_is_told_by_the_vehicles_own_counts():
    after = FAULTY.cleared()
    reasons = compare(decode(FAULTY.readout()), decode(after.readout())).cleared
    assert len(reasons) == 4
    assert compare(decode(after.readout()), decode(FAULTY.readout())).cleared == ()


@pytest.mark.parametrize(
    ("words", "uasid", "share"),
    [
        ((300, 200, 400), 0xFD, "0.500"),
        ((200, 200, 400), 0xFD, "0.000"),
        ((150, 200, 400), 0xFD, "-0.250"),
        ((100, 0, 400), 0xFD, "0.250"),  # signed: minimum 0 is a limit
        ((100, 0, 400), 0x17, "0.750"),  # unsigned: minimum 0 is none
        ((612, 350, 0xFFFF), 0x17, "0.749"),
        # 0.1 degC less 40: 95 degC of at least 80 degC is 15 of 80.
        ((1350, 1200, 0xFFFF), 0x16, "0.188"),
        # The same scaling, below 0 degC: -25 of at least -30 is 5 of 30.
        ((150, 100, 0xFFFF), 0x16, "0.167"),
        # Between -10 and 90 degC, 80 is 10 of 100: the offset is in no difference.
        ((1200, 300, 1300), 0x16, "0.100"),
    ],
)
def test_margin(words, uasid, share):
    (test,) = decode(Vehicle(tests={(0x3C, 0x81, uasid): words}).readout()).self_tests
    assert str(margin(test)) == share


@pytest.mark.parametrize(
    ("words", "uasid"),
    [((7, 9, 5), 0x17), ((0x7000, 1, 0x8000), 0x81)],  # signed: at most -32,768
)
def test_crossed_limits_leave_no_margin(words, uasid):
    """No value meets both, so none lies inside by any share."""
    (test,) = decode(Vehicle(tests={(0x3C, 0x81, uasid): words}).readout()).self_tests
    assert (test.outcome, margin(test)) == ("not-judged", None)


def test_a_test_that_did_not_run_has_no_margin():
    (test,) = decode(Vehicle(tests={PLACE: (0, 0, 0)}).readout()).self_tests
    assert margin(test) is None


def test_every_generated_readout_decodes_whole():
    source = random.Random(8)
    for _ in range(200):
        tests = {
            (mid, tid, 0x17): tuple(source.randrange(65536) for _ in range(3))
            for mid in (0x21, 0x3C)
            for tid in range(0x81, 0x81 + source.randrange(1, 6))
        }
        read = decode(Vehicle(tests=tests).readout())
        assert read.problems == ()
        assert {
            (int(t.mid, 16), int(t.tid, 16), 0x17): (
                t.raw_value,
                t.raw_minimum,
                t.raw_maximum,
            )
            for t in read.self_tests
        } == tests
