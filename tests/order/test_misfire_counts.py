"""A misfire counter without a limit passes by number: above 0 before, 0 over a cycle.

Test ids 0B and 0C, scaling 24 and "all three words zero: not run" are those of ISO
15031-5:2006 (Table 161, Annex E, 7.6.1), read through public transcriptions; the
vehicle, its counts and its repair are invented.
"""

import pytest
from truth.bogus import Draft, edit, with_bytes, with_codes, without
from truth.jobs import COUNTERS
from truth.said import word

from auditkit.order.questions import Question, State
from auditkit.order.strength import Strength

COIL = "4: ignition coil open"
NO_LIMIT = 0xFFFF
ASKED = (Question.TEST_RERAN, Question.TEST_PASSED)
DRIVEN = 0  # OBDCOND, the first of the counters of service 09


def result(value, tid=0x0C, mid=0xA2, uasid=0x24, most=NO_LIMIT):
    return bytes([mid, tid, uasid]) + word(value) + word(0) + word(most)


def counts(event, *results):
    """Let the engine module give these results of service 06, and no others."""

    def change(said):
        said[:] = [one for one in said if not one[0].startswith("06")]
        for mid in dict.fromkeys(one[:1] for one in results):
            own = b"".join(one for one in results if one[:1] == mid)
            said.append([f"06{mid.hex().upper()}", [("7E8", b"\x46" + own)]])

    edit(event, change)


def driven(event, more):
    """Let the engine module have this many more driven cycles than before."""
    new = (COUNTERS[DRIVEN] + more, *COUNTERS[1:])
    edit(event, lambda s: with_bytes(s, "0908", b"\x10" + b"".join(map(word, new))))


def warm_ups(event, number):
    edit(event, lambda s: with_bytes(s, "0130", bytes([number])))


def draft():
    made = Draft(COIL)
    counts(made.before, result(40))
    counts(made.after, result(0))
    return made


def said(made):
    found = made.judged()
    assert not [f for f in found.findings if "crashed" in f.message]
    return found, {a.question: a for a in found.answers if a.question in ASKED}


def test_zero_over_a_whole_cycle_since_the_clear_is_the_vehicles_own_pass():
    found, answers = said(draft())
    assert found.verdict == "proven"
    for answer in answers.values():
        assert (answer.state, answer.strength) == (State.SHOWN, Strength.VEHICLE)
    (told,) = answers[Question.TEST_PASSED].because
    assert "A2/0C of 7E8: 40 before the repair, 0 after" in told
    assert "3 warm-ups since the clear: passed after the repair" in told


def never_cleared(made):
    made.events.remove(made.of("code_clear")[0])
    warm_ups(made.after, 43)
    edit(made.after, lambda s: with_bytes(s, "0131", word(2060)))
    edit(made.after, lambda s: with_bytes(s, "014E", word(3090)))


def read_once_more(made):
    """Let the readout after the repair be taken twice, two driven cycles apart."""
    first = dict(made.after)
    made.put(first, after=made.of("road_test")[-1])
    warm_ups(made.after, 1)
    driven(first, 1)
    driven(made.after, 3)


@pytest.mark.parametrize(
    "change",
    [
        lambda d: counts(d.after, result(0, tid=0x0B), result(0)),
        lambda d: warm_ups(d.after, 2),
        never_cleared,
        read_once_more,
        lambda d: (never_cleared(d), warm_ups(d.after, 41), driven(d.after, 3)),
    ],
    ids=["mean too", "two warm-ups", "never cleared", "driven", "driven, not cleared"],
)
def test_it_is_shown_by_any_count_of_whole_cycles(change):
    made = draft()
    change(made)
    for answer in said(made)[1].values():
        assert (answer.state, answer.strength) == (State.SHOWN, Strength.VEHICLE)
        assert any("40 before the repair, 0 after" in told for told in answer.because)


def battery_off(made):
    """The battery was disconnected, and nobody recorded it as a clear."""
    made.events.remove(made.of("code_clear")[0])


def engine_never_ran(made):
    for name, size in (("0130", 1), ("0131", 2), ("014E", 2)):
        edit(made.after, lambda s, n=name, z=size: with_bytes(s, n, bytes(z)))
    driven(made.after, 0)


def idled_cold(made):
    warm_ups(made.after, 0)
    driven(made.after, 0)


def counted_in_between(made):
    read_once_more(made)
    counts(made.of("readout")[-2], result(3))


def was_zero_before_the_repair(made):
    """Misfires were read, then none, and the part was replaced all the same."""
    made.put(dict(made.before), after=made.before)
    counts(made.before, result(0))


def no_counts(made):
    edit(made.after, lambda s: without(s, "0130", "0908"))


LIES = {
    "still counted": lambda d: counts(d.after, result(3)),
    "not run: all three words are zero": lambda d: counts(d.after, result(0, most=0)),
    "another cylinder": lambda d: counts(d.after, result(0, mid=0xA3)),
    "misfire in general": lambda d: counts(d.after, result(0, mid=0xA1)),
    "another scaling": lambda d: counts(d.after, result(0, uasid=0x01)),
    "another test": lambda d: counts(d.after, result(0, tid=0x81)),
    "only the mean, which the clear set to zero": lambda d: (
        counts(d.before, result(40, tid=0x0B)),
        counts(d.after, result(0, tid=0x0B)),
    ),
    "the mean since the clear is not zero": lambda d: counts(
        d.after, result(2, tid=0x0B), result(0)
    ),
    "zero before too": lambda d: counts(d.before, result(0)),
    "zero when last read before": was_zero_before_the_repair,
    "counted in between": counted_in_between,
    "one warm-up": lambda d: warm_ups(d.after, 1),
    "idled cold": idled_cold,
    "engine never ran": engine_never_ran,
    "battery disconnected": battery_off,
    "no counts were read": no_counts,
}


@pytest.mark.parametrize("lie", LIES.values(), ids=LIES)
def test_what_a_dishonest_shop_would_do_shows_nothing(lie):
    made = draft()
    lie(made)
    found, answers = said(made)
    passed = answers[Question.TEST_PASSED]
    assert passed.state is not State.SHOWN, passed.because
    assert found.verdict == "unproven"


def test_without_a_clear_two_warm_ups_are_too_few():
    """The first may lie before the repair, and the second may not be over."""
    made = draft()
    never_cleared(made)
    warm_ups(made.after, 42)
    passed = said(made)[1][Question.TEST_PASSED]
    (told,) = passed.because  # another way shows it
    assert "went off by itself" in told


@pytest.mark.parametrize(
    ("kind", "waits", "is_shown"),
    [(0x0F, 0x00, True), (0x0F, 0x10, False), (0x07, 0x00, False)],
    ids=["compression", "compression, not complete", "spark: always complete"],
)
def test_a_compression_engine_says_that_its_misfire_monitor_is_complete(
    kind, waits, is_shown
):
    """ISO 15031-5:2006 B.2: on spark ignition misfire always reads complete."""
    made = draft()
    warm_ups(made.after, 1)
    for event in (made.before, made.after):
        lamp = 0x81 if event is made.before else 0
        edit(event, lambda s, n=lamp: with_bytes(s, "0101", bytes([n, kind, 0x65, 0])))
    cycle = bytes([0x41, 0x41, 0, kind | waits, 0x65, 0])
    edit(made.after, lambda s: s.append(["0141", [("7E8", cycle)]]))
    passed = said(made)[1][Question.TEST_PASSED]
    assert (passed.state is State.SHOWN) is is_shown


def test_it_is_told_why_a_count_at_zero_shows_nothing():
    made = draft()
    warm_ups(made.after, 1)
    (told,) = [f for f in made.judged().findings if f.rule == "no-monitor-result"][:1]
    assert "no count shows a whole driving cycle since" in told.message
    assert "warm the vehicle up twice" in told.what_to_do


def several(made, *codes):
    """Let the fault be of random cylinders: 1 and 2 misfire before."""
    for event in (made.before, made.after):
        old = codes if event is made.before else ()
        for service in ("03", "07"):
            edit(event, lambda s, n=service, c=old: with_codes(s, n, "7E8", [*c]))


@pytest.mark.parametrize(("second", "is_shown"), [(0, True), (9, False)])
def test_every_cylinder_that_misfired_is_at_zero(second, is_shown):
    made = draft()
    for event in made.events:
        if event["kind"] == "diagnosis":
            event["codes"] = ["P0300"]
            for part in event["suspect_parts"]:
                part["codes"] = ["P0300"]
    several(made, "P0300")
    counts(made.before, result(40), result(12, mid=0xA3))
    counts(made.after, result(0), result(second, mid=0xA3))
    passed = said(made)[1][Question.TEST_PASSED]
    assert (passed.state is State.SHOWN) is is_shown
