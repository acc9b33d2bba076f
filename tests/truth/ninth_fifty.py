"""Fifty more bogus records and ten honest twists, by a hand that had read no rule.

What a shop of everyday life would do: a comeback hidden, a good part sold, a readout
edited for the inspection, a caution ticked at breakfast. Form and promise are those of
the second fifty.

The first run: 39 of 50 as expected, and 7 of 10. Eight came out proven, and one vouched
that should not; two fell by a question that was not named. Three of the eight led to a
rule that was mended: work after the clear and the drive, a hold that was read within
seconds, an engine that moves a vehicle and was never started. Six were left as they
came out, each with its reason; five still are, and are told. The three twists that fell
were written with times out of order.
"""

import copy

from truth.bench_changes import bench_test_of
from truth.bogus import (
    AT_FAULT,
    ELSE,
    GONE,
    HAZARDS,
    KNOWN,
    PASSED,
    RERAN,
    SAME,
    TIME,
    answers,
    edit,
    move,
    shifted,
    with_bytes,
    with_codes,
)
from truth.changes import (
    CLEVER,
    LATE,
    ODD,
    acknowledge_again,
    also_said,
    confirmed_again,
    corrected,
    read_at,
    recorder,
    set_aside,
    status_is,
    told_as,
)
from truth.jobs import at, event
from truth.named_jobs import (
    AIR,
    CAT,
    CHARGE,
    DECLINED,
    EGR,
    HEALED,
    IDLE,
    LEAN,
    NEWER,
    NO_VIN,
    PUMP,
    UNCLEARED,
    WIRE,
)
from truth.said import ENGINE, word
from truth.vehicle_counts import EGR_RAN, EVAP_RAN, ODOMETER, with_counts, with_rises

LIES: list[tuple] = []
TWISTS: list[tuple] = []
LEFT: list[tuple] = []
"""What comes out as well as the truth would, and why it is left so stands beside it."""
lie, twist = recorder(LIES, TWISTS)
left, _ = recorder(LEFT, [])


def later(
    d, when: tuple, *, rise: int, starts: int, coolant: int, **counts: int
) -> dict:
    """Return a readout between drive and last readout, or after that, not yet put."""
    made = copy.deepcopy(d.after)
    made["at"] = made["captured"] = at(*when)

    def change(said):
        with_counts(said, **counts, went=counts["distance"])
        with_rises(said, rise, starts)
        with_bytes(said, "0105", bytes([coolant + 40]))

    edit(made, change)
    return made


def tested_again(d, clock: str, of: str, setup: str, end: str) -> dict:
    """Return the bench test of the old part, done once more on another one."""
    made = copy.deepcopy(d.old_test)
    made |= {"at": at(clock), "of": of, "setup": setup}
    made["readings"][-1]["value"] = end
    return made


# Good parts sold.


@lie(EGR, AT_FAULT, kind=CLEVER)
def old_valve_holds_well_in_the_afternoon(d):
    """Somebody looks once more at it, after the new one was sold."""
    made = tested_again(d, "14:00", "old", "removed", "17.6")
    d.put(made, after=d.of("road_test")[0])
    acknowledge_again(d)


@lie(EGR, AT_FAULT, PASSED, kind=CLEVER)
def new_valve_fails_the_test_that_condemned_the_old(d):
    """What fails good parts too shows nothing of the old one."""
    made = tested_again(d, "11:00", "new", "engine-off", "6.4")
    d.put(made, after=d.of("repair")[0])
    acknowledge_again(d)


@lie(CAT, AT_FAULT, kind=CLEVER)
def joint_was_looked_at_once_the_catalyst_was_in(d):
    """What was to be ruled out first is ruled out when all is bolted together."""
    joint = bench_test_of(d, "exhaust-joint")
    d.events.remove(joint)
    joint["at"] = at("11:00")
    d.put(joint, after=d.of("repair")[0])
    acknowledge_again(d)


@lie(WIRE, AT_FAULT, kind=CLEVER)
def drop_of_a_wire_that_carried_next_to_nothing(d):
    """0.02 V at 0.1 A, told as two volts at ten."""
    drop, load = d.old_test["readings"]
    drop["value"], load["value"] = "0.02", "0.1"


@lie(EGR, AT_FAULT, kind=CLEVER)
def gauge_may_be_wrong_by_twelve(d):
    d.old_test["instruments"][0]["specification"]["absolute"] = "12"


@lie(EGR, AT_FAULT, TIME, kind=LATE)
def readings_are_of_last_week(d):
    """The vehicle was not here yet: the numbers are another valve's."""
    for one in d.old_test["readings"]:
        one["at"] = at("09:10", -4)


@lie(EGR, TIME, kind=LATE)
def held_for_a_minute_that_lasted_five_seconds(d):
    """The rule that looks is of the order of time; the bench test was named first."""
    start, end = d.old_test["readings"]
    start["at"] = at("09:14")
    end["at"] = shifted(at("09:14"), seconds=5)


# Inspection to be passed, test that did not run.


@left(EGR, RERAN, kind=ODD)
def egr_monitor_never_completed_by_its_own_counter(d):
    """A value typed into the raw text; the counter of completed tests was forgotten.

    Several tests share this counter, and it is that of the one which runs least often:
    another may have run. It is left as in the fifth fifty, and told.
    """
    edit(d.after, lambda s: with_rises(s, 2, 6, {EGR_RAN: 0}))


@left(UNCLEARED, RERAN, kind=ODD)
def evap_monitor_never_completed_and_was_not_cleared(d):
    """Its lamp went off by itself, which is evidence of its own.

    This counter, too, is that of one of several tests: of the smallest leak, as a rule.
    It is told.
    """
    edit(d.after, lambda s: with_rises(s, 10, 30, {EVAP_RAN: 0}))


@left(CAT, RERAN, kind=ODD)
def catalyst_monitor_is_not_complete(d):
    """The result is there, and readiness says that the test has not been done.

    Readiness waits for the catalyst of the other bank, too, which was not asked here:
    it is told, and lowers nothing.
    """
    edit(d.after, lambda s: with_bytes(s, "0101", bytes.fromhex("0007E501")))


@lie(EGR, TIME, kind=CLEVER)
def cleared_again_on_the_way_to_the_inspection(d):
    """A result after a clear is one of that clear: what falls is that it was yesterday.

    First it was thought that the test itself would not be shown.
    """
    made = event("code_clear", "07:55", 1, tool="adapter (invented)")
    d.events.insert(d.events.index(d.after), made)
    edit(d.after, lambda s: with_counts(s, warm_ups=0, distance=1, minutes=4))


@lie(EGR, RERAN, TIME, kind=CLEVER)
def another_valve_went_in_before_the_last_readout(d):
    """The drive and its result are those of the valve before."""
    made = event(
        "repair",
        "07:30",
        1,
        part="egr-valve",
        action="replaced",
        started=at("07:00", 1),
        part_number="EX-9 (invented)",
        old_part="scrapped",
    )
    d.events.insert(d.events.index(d.after), made)
    acknowledge_again(d)


@lie(HEALED, RERAN, kind=ODD)
def lamp_went_off_after_one_start(d):
    """No vehicle puts its lamp out after one cycle; a hand does."""

    def change(said):
        with_counts(said, warm_ups=41)
        with_rises(said, 1, 1)

    edit(d.after, change)


@lie(WIRE, PASSED, kind=CLEVER)
def mended_wire_is_measured_at_a_tenth_of_its_current(d):
    d.new_test["readings"][1]["value"] = "1.0"
    d.new_test["conditions"]["rated current"]["value"] = "1.0"


@lie(IDLE, PASSED, kind=CLEVER)
def idle_is_as_high_as_before_in_the_last_readout(d):
    """The bench test says 710, the vehicle still says 1,050."""
    edit(d.after, lambda s: with_bytes(s, "010C", word(1050 * 4)))


@lie(LEAN, PASSED, kind=CLEVER)
def long_term_trim_still_stands_at_its_end(d):
    also_said(d.after, "0107", "4107A0")


@lie(CHARGE, PASSED, kind=CLEVER)
def supply_is_still_too_low_with_the_engine_running(d):
    also_said(d.after, "0142", "41422E18")


@lie(AIR, PASSED, kind=CLEVER)
def intake_air_still_reads_forty_below(d):
    also_said(d.after, "010F", "410F00")


@lie(NEWER, PASSED, kind=ODD)
def status_bits_that_the_module_does_not_keep(d):
    """Zero in a bit that the availability mask leaves out says nothing.

    That it was watched over two starts is shown all the same; not that it passed.
    """

    def change(said):
        for one in said:
            if one[0].startswith("19"):
                one[1] = [(w, p[:2] + b"\x8f" + p[3:]) for w, p in one[1]]

    edit(d.after, change)


# Comebacks hidden.


@lie(EGR, GONE, PASSED, kind=CLEVER)
def pending_again_on_the_same_day(d):
    """Pending after the drive, and nothing was done until it had gone."""
    made = later(
        d,
        ("13:30",),
        warm_ups=1,
        distance=28,
        minutes=45,
        rise=1,
        starts=3,
        coolant=89,
    )
    edit(made, lambda s: with_codes(s, "07", ENGINE, ["P0401"]))
    d.events.insert(d.events.index(d.after), made)


@lie(EGR, GONE, kind=ODD)
def freeze_frame_of_the_code_after_the_clear(d):
    """A clear takes the frame along: a new one was kept since."""
    also_said(d.after, "020200", "4202000401")


@lie(EGR, GONE, kind=ODD)
def code_that_kept_the_frame_is_named_after_the_clear(d):
    also_said(d.after, "0102", "41020401")


@lie(EGR, GONE, ELSE, kind=ODD)
def driven_with_the_lamp_on_since_the_clear(d):
    """16 km with the lamp on: a clear sets this count to nothing."""
    also_said(d.after, "0121", "41210010")


@lie(NEWER, GONE, PASSED, kind=CLEVER)
def failed_again_since_the_clear(d):
    edit(d.after, lambda s: status_is(s, "P0113", 0x20))


@lie(EGR, GONE, ELSE, kind=CLEVER)
def next_code_of_the_valve_is_set_aside_in_advance(d):
    d.of("diagnosis")[0]["set_aside"] = set_aside(["P0402"], "watched")
    edit(d.after, lambda s: with_codes(s, "07", ENGINE, ["P0402"]))


@lie(DECLINED, ELSE, kind=CLEVER)
def made_by_a_test_though_it_came_with_the_vehicle(d):
    d.of("diagnosis")[0]["set_aside"][0]["reason"] = "made-by-a-test"


@lie(DECLINED, ELSE, kind=CLEVER)
def declined_and_charged_for(d):
    """The repair says that it was for the code that the customer declined."""
    d.of("repair")[0]["codes"] = ["P0401", "P0420"]


@lie(LEAN, ELSE, RERAN, kind=ODD)
def freeze_frame_is_of_a_code_that_is_nowhere_else(d):
    def change(said):
        found = answers(said, "020200")
        found[0] = (found[0][0], bytes.fromhex("4202000301"))

    edit(d.before, change)


@lie(EGR, KNOWN, typed=True, kind=CLEVER)
def lamp_came_on_in_the_yard(d):
    """Two minutes and no kilometre with the lamp on, at a fault that was driven in."""
    also_said(d.before, "0121", "41210000")
    also_said(d.before, "014D", "414D0002")


# Numbers of one readout, or of two, that no one vehicle can say.


@left(EGR, SAME, TIME, kind=ODD)
def runs_longer_than_since_the_clear(d):
    """Four hours since the start, ninety minutes since the clear of the day before.

    In a hybrid, or with an engine that stops at each light, the one count may go on
    where the other stops: it is told, and lowers nothing.
    """
    edit(d.after, lambda s: with_bytes(s, "011F", word(14400)))


@lie(EGR, SAME, TIME, RERAN, kind=ODD)
def fewer_kilometres_since_the_clear_than_driven(d):
    edit(d.after, lambda s: with_bytes(s, "0131", word(20)))


@lie(EGR, SAME, TIME, kind=ODD)
def odometer_stands_still_over_sixty_kilometres(d):
    edit(d.after, lambda s: with_bytes(s, "01A6", word(ODOMETER, 4)))


@lie(EGR, SAME, TIME, kind=ODD)
def more_warm_ups_than_starts(d):
    edit(d.after, lambda s: with_bytes(s, "0130", bytes([30])))


@lie(EGR, SAME, TIME, RERAN, kind=CLEVER)
def counts_went_on_through_the_clear(d):
    """The clear is written down; the vehicle's counts know of none."""
    counts = {"warm_ups": 43, "distance": 2060, "minutes": 3090}
    edit(d.after, lambda s: with_counts(s, **counts))


@lie(LEAN, SAME, TIME, RERAN, kind=ODD)
def engine_turns_and_was_never_started(d):
    """1,840 turns a minute, and no second since the start."""
    edit(d.after, lambda s: with_bytes(s, "011F", word(0)))


@lie(EGR, SAME, TIME, kind=LATE)
def more_minutes_since_the_clear_than_have_passed(d):
    drive = ("12:00", "12:30")
    read_at(d, "12:40", drive, warm_ups=1, distance=27, minutes=90)


@lie(EGR, TIME, RERAN, SAME, typed=True, kind=LATE)
def twenty_seven_kilometres_in_five_minutes(d):
    """Five minutes by the clock may be six and a half: 250 km/h.

    At first that was the rule's limit, and it was left.
    """
    d.of("road_test")[0]["start"] = at("12:25")


@lie(EGR, SAME, kind=ODD)
def spark_before_and_compression_after(d):
    edit(d.after, lambda s: with_bytes(s, "0101", bytes.fromhex("000FEB00")))


@lie(EGR, SAME, typed=True, kind=CLEVER)
def written_odometer_is_far_beyond_the_vehicles(d):
    d.of("opening")[0]["vehicle"]["odometer"]["value"] = "180345"


# Cautions, corrections, pictures.


@lie(EGR, HAZARDS, kind=CLEVER)
def every_caution_was_ticked_at_breakfast(d):
    ticked = d.of("caution")
    for one in ticked:
        d.events.remove(one)
        one["at"] = at("07:52")
    d.events[1:1] = ticked


@lie(EGR, HAZARDS, kind=CLEVER)
def workshop_air_on_a_diaphragm(d):
    """The regulator stands far above what the part may have."""
    told_as(d, "supply limit", value="600")


@lie(PUMP, HAZARDS, kind=LATE)
def danger_was_confirmed_once_the_work_was_done(d):
    confirmed_again(d, at("13:00"))


@lie(EGR, HAZARDS, kind=LATE)
def coolant_cooled_down_in_a_correction(d):
    """It was opened at 85 degC; the day after, 31 was written over it."""
    hot = [c for c in d.of("caution") if "coolant temperature" in c["preconditions"]]
    for one in hot:
        good = copy.deepcopy(one)
        one["preconditions"]["coolant temperature"]["value"] = "85"
        corrected(d, one, good, at("09:00", 1))


@lie(EGR, AT_FAULT, typed=True, kind=LATE)
def gauge_was_in_date_only_in_a_correction(d):
    good = copy.deepcopy(d.old_test)
    told = d.old_test["instruments"][0]["specification"]
    told |= {"calibrated_on": "2024-01-12", "due": "2025-01-12"}
    corrected(d, d.old_test, good, at("09:00", 1))


@lie(NO_VIN, SAME, kind=ODD)
def picture_of_the_plate_is_no_picture(d):
    d.of("attachment")[0]["media_type"] = "application/pdf"


# A screen alone.


@lie(EGR, GONE, way="screen", kind=CLEVER)
def display_still_shows_it_as_permanent(d):
    d.after["typed"]["modules"][0]["permanent"] = ["P0401"]


@left(EGR, RERAN, way="screen", kind=CLEVER)
def display_says_that_the_egr_test_is_not_complete(d):
    """Readiness of this group waits for the tests of the cam's timing, too: told."""
    every = d.after["typed"]["modules"][0]["monitors"]
    found = [m for m in every if "egr" in m["monitor"].lower()]
    assert found
    for one in found:
        one["state"] = "not-complete"


@lie(EGR, SAME, TIME, way="screen", kind=CLEVER)
def display_counts_six_thousand_kilometres_since_yesterday(d):
    d.after["typed"]["counts"]["distance"]["value"] = "6000"


@lie(EGR, PASSED, way="hand", kind=CLEVER)
def typed_value_is_in_another_unit_than_its_limit(d):
    """612 Pa above a minimum of 350 kPa."""
    last = d.of("self_test")[-1]
    last["value"]["unit"], last["minimum"]["unit"] = "Pa", "kPa"


@lie(EGR, PASSED, way="hand", kind=CLEVER)
def typed_pass_has_no_limit(d):
    del d.of("self_test")[-1]["minimum"]


# Honest, and unusual.


@twist(EGR)
def nothing_was_seen_on_the_valve_before_it_was_measured(d):
    made = event("bench_test", "08:45", part="egr-valve", of="old", setup="removed")
    made["test"] = "looked at"
    made["finding"] = {"seen": "no crack, stem moves by hand", "is_fault": False}
    d.put(made, after=d.of("diagnosis")[0])
    acknowledge_again(d)


@twist(EGR)
def second_person_measures_the_old_valve_as_well(d):
    made = tested_again(d, "09:25", "old", "removed", "6.7")
    d.put(made | {"by": "mechanic-2"}, after=d.old_test)
    acknowledge_again(d)


@twist(EGR)
def customer_comes_by_three_days_later_and_it_is_read_again(d):
    made = later(
        d,
        ("09:30", 4),
        warm_ups=9,
        distance=240,
        minutes=360,
        rise=8,
        starts=24,
        coolant=88,
    )
    d.events.append(made)


@twist(EGR)
def vehicle_does_not_tell_its_odometer(d):
    for one in d.of("readout"):
        edit(one, lambda s: s.remove(next(a for a in s if a[0] == "01A6")))


@twist(EGR)
def last_readout_is_timed_in_universal_time(d):
    when = "2026-03-03T07:10:00+00:00"
    d.after["at"] = d.after["captured"] = when


@twist(EGR)
def each_caution_was_acknowledged_twice(d):
    for kind in ("bench_test", "repair", "road_test"):
        own = [c for c in d.of("caution") if c["step"]["kind"] == kind]
        place = d.events.index(own[0])
        again = copy.deepcopy(own)
        for one in again:
            move(one, minutes=-5)
        d.events[place:place] = again


@twist(EGR)
def gasket_is_renewed_with_the_valve(d):
    made = event(
        "repair",
        "10:50",
        part="egr-gasket",
        action="replaced",
        started=at("10:40"),
        part_number="EX-7 (invented)",
        old_part="scrapped",
        renewed_with="egr-valve",
        note="the gasket is used once",
    )
    d.put(made, after=d.of("repair")[0])
    acknowledge_again(d)


@twist(EGR)
def slip_of_the_pen_is_corrected_before_the_repair(d):
    good = copy.deepcopy(d.old_test)
    d.old_test["readings"][-1]["value"] = "5.6"
    place = d.events.index(d.old_test)
    told = {"corrects": place, "why": "digits turned", "event": good}
    d.put(event("amendment", "09:20", **told), after=d.old_test)


@twist(EGR)
def lamp_distance_fits_a_fault_that_was_driven_in(d):
    """300 km and seven hours with the lamp on before, nothing after."""
    also_said(d.before, "0121", "4121012C")
    also_said(d.before, "014D", "414D01A4")
    also_said(d.after, "0121", "41210000")
    also_said(d.after, "014D", "414D0000")


@twist(EGR)
def odometer_is_written_in_miles(d):
    told = {"value": "74779", "unit": "mi"}
    d.of("opening")[0]["vehicle"]["odometer"] = told
