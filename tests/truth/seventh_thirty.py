"""Thirty more bogus records and nine honest twists, by the hand of the sixth fifty.

Whoever wrote them had by then read the rules of the bench, of monitors' results, of
what is watched and measured, of time and of other faults, and mended them for the sixth
fifty; the others, the families and the earlier lies had not been read. These aim at
what the sixth fifty left out. Form and promise are those of the second fifty.

The first run: 18 of 30 as expected, and 9 of 9. Ten came out proven, and two vouched
that should not. Nine of these twelve led to a rule that was mended: a failure type of
the same code, kilometres and starts that do not fit from one readout to the next, a
monitor that its module's own list does not hold, a clear after the last readout, a
freeze frame told by PID 02, two quantities at the end of their scale, another test id
that was typed. One was no lie and stands among the twists; two are left.
"""

import copy

from auditkit.order.events import RepairOrder
from truth.bogus import (
    AT_FAULT,
    ELSE,
    GONE,
    HAZARDS,
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
    without,
)
from truth.changes import CLEVER, ODD, acknowledge_again, also_said, recorder
from truth.jobs import at, event
from truth.named_jobs import (
    BLOCK,
    COIL,
    DECLINED,
    EGR,
    HEALED,
    IDLE,
    NEWER,
    PERM,
    THERMO,
)
from truth.said import ENGINE, code_bytes, word
from truth.vehicle_counts import with_counts, with_rises

LIES: list[tuple] = []
TWISTS: list[tuple] = []
LEFT: list[tuple] = []
"""What comes out proven, and why it is left so stands beside it."""
lie, twist = recorder(LIES, TWISTS)
left, _ = recorder(LEFT, [])
STILL = PASSED, GONE
CANISTER = "32: two faults, one canister"
WHEEL, FLOW = "25: wheel speed sensor open", "26: air-flow sensor reads low"
ODOMETER = 1203450


def in_answers(readout: dict, service: str, change) -> None:
    """Change each payload that answers a service."""

    def changed(said):
        for one in said:
            if one[0].startswith(service):
                one[1] = [(who, change(payload)) for who, payload in one[1]]

    edit(readout, changed)


# Other ways than a monitor's result.


@lie(HEALED, GONE, kind=CLEVER)
def permanent_though_its_lamp_went_off(d):
    """Without a clear the permanent code goes with the lamp."""
    for readout in d.of("readout"):
        edit(readout, lambda said: with_codes(said, "0A", ENGINE, ["P0340"]))


@lie(HEALED, SAME, TIME, RERAN, PASSED, kind=CLEVER)
def drove_farther_since_the_clear_than_at_all(d):
    """The count since the clear rose by 2,300 km, the odometer by 300."""
    edit(d.after, lambda said: with_bytes(said, "0131", word(4300)))


@lie(PERM, SAME, RERAN, PASSED, kind=CLEVER)
def calibration_not_read_again(d):
    """A new program erases permanent codes, too."""
    edit(d.after, lambda said: without(said, "0904", "0906"))


@lie(NEWER, RERAN, PASSED, kind=ODD)
def bits_of_a_status_that_the_module_does_not_have(d):
    """Its mask holds neither bit 4 nor bit 5, so that both are zero for good."""
    for readout in d.of("readout"):
        in_answers(readout, "19", lambda p: p[:2] + b"\x0f" + p[3:])


@lie(NEWER, RERAN, PASSED, GONE, kind=ODD)
def completed_for_another_failure_type(d):
    """P0113-00 failed; P0113-1A has completed, and P0113-00 is not told of."""
    body = code_bytes("P0113") + bytes.fromhex("1A00")
    in_answers(d.after, "190A", lambda p: p[:3] + body)


# Which vehicle?


@lie(EGR, SAME, typed=True, kind=CLEVER)
def vin_from_a_display_the_next_day(d):
    """The adapter did not ask for it; somebody typed it."""
    edit(d.after, lambda said: without(said, "0902"))
    typed = {"modules": [{"module": "7E8"}], "vin": "0ZZTB1A18CA000123"}
    told = event("readout", "08:15", 1, captured=at("08:15", 1), tool="screen")
    d.put({**told, "typed": typed}, after=d.after)


@lie(EGR, SAME, TIME, RERAN, kind=CLEVER)
def odometer_stood_still_for_sixty_kilometres(d):
    """60 km since the clear, and not one on the odometer."""
    edit(d.after, lambda said: with_bytes(said, "01A6", word(ODOMETER, 4)))


@lie(EGR, SAME, TIME, kind=CLEVER)
def twenty_thousand_kilometres_in_a_day(d):
    """By the vehicle's own odometer."""
    there = word(ODOMETER + 200_000, 4)
    edit(d.after, lambda said: with_bytes(said, "01A6", there))


@lie(EGR, SAME, TIME, kind=CLEVER)
def five_thousand_starts_in_a_day(d):
    """By the vehicle's own count of ignition cycles: one every fifteen seconds."""
    edit(d.after, lambda said: with_rises(said, 2, 5000))


@left(EGR, SAME, TIME, RERAN, PASSED, kind=CLEVER)
def sixty_kilometres_in_five_minutes(d):
    """By the vehicle's own counts since the clear.

    Left: the minutes are those of engine run, and a hybrid drives without its engine.
    It is told.
    """
    edit(d.after, lambda said: with_bytes(said, "014E", word(5)))


@lie(COIL, SAME, RERAN, PASSED, kind=ODD)
def has_no_misfire_monitor_any_more(d):
    """PID 01 says which monitors a module has; its own stays what it is."""
    edit(d.after, lambda said: with_bytes(said, "0101", bytes.fromhex("0006E500")))


@lie(EGR, RERAN, PASSED, SAME, GONE, kind=ODD)
def map_says_that_there_is_no_such_monitor(d):
    """Its list of monitors 21 to 40 has no 31, and 31 is answered."""
    also_said(d.after, "0620", "462080000001")


# After the repair.


@lie(EGR, RERAN, PASSED, GONE, kind=CLEVER)
def cleaned_again_after_the_last_readout(d):
    """What was read before the last work on the part says nothing of it."""
    again = {
        "part": "egr-valve",
        "action": "cleaned",
        "started": at("09:40", 1),
    }
    d.put(event("repair", "10:00", 1, **again), after=d.after)
    acknowledge_again(d)


@lie(EGR, RERAN, PASSED, GONE, kind=CLEVER)
def cleared_again_before_it_was_handed_over(d):
    """Whatever came up since the last readout is gone with it."""
    d.put(event("code_clear", "09:00", 1, tool="adapter (invented)"), after=d.after)


@lie(EGR, GONE, ELSE, kind=ODD)
def frame_is_kept_for_it_after_the_clear(d):
    """PID 02 of service 01 names the code for which a freeze frame is kept."""
    also_said(d.after, "0102", "41020401")


@left(EGR, GONE, ELSE, kind=ODD)
def one_code_counted_and_a_filler_in_its_place(d):
    """The list says that it holds one, and shows none.

    Left: modules are known that count the places of their list, filled or not. It is
    told.
    """

    def change(said):
        answers(said, "03")[:] = [(ENGINE, bytes.fromhex("43010000"))]

    edit(d.after, change)


@lie(CANISTER, RERAN, PASSED, kind=CLEVER)
def second_of_two_faults_was_not_read_again(d):
    """Its own leak test has a result before the repair alone."""
    edit(d.after, lambda said: without(said, "063C"))


@lie(BLOCK, *STILL, kind=CLEVER)
def battery_empty_at_sixty(d):
    """0 % left (PID 5B), with the vehicle driven."""
    also_said(d.after, "015B", "415B00")


@lie(FLOW, *STILL, kind=CLEVER)
def air_flow_at_the_end_of_its_scale(d):
    """655.35 g/s (PID 10), at 1,840 rpm."""
    also_said(d.after, "0110", "4110FFFF")


@lie(WHEEL, GONE, ELSE, kind=CLEVER)
def other_wheel_s_sensor_fails_now(d):
    """The same module lists C0040 as failed and confirmed."""
    body = code_bytes("C0040") + bytes.fromhex("002F")
    in_answers(d.after, "1902", lambda p: p[:3] + body)


@lie(EGR, GONE, kind=CLEVER)
def back_on_a_display_under_another_number(d):
    """Two days later it is stored again, in an order of its own, typed."""
    d.recorded = [one["at"] for one in d.events]
    opening = {**copy.deepcopy(d.events[0]), "at": at("07:50", 3)}
    module = {"module": "7E8", "stored": ["P0401"], "pending": ["P0401"], "lamp": True}
    typed = {"modules": [module], "vin": "0ZZTB1A18CA000123"}
    seen = event("readout", "08:10", 3, captured=at("08:10", 3), tool="screen")
    d.others = (RepairOrder.fold("RO-2", [opening, {**seen, "typed": typed}]),)


# The bench, and its hazards.


@lie(EGR, AT_FAULT, kind=CLEVER)
def good_valve_beside_it_leaks_as_much(d):
    """The test states what a known-good valve read: no better."""
    readings = copy.deepcopy(d.old_test["readings"])
    good = {"part": "valve of another van", "readings": readings}
    d.old_test["known_good"] = {**good, "conditions": d.old_test["conditions"]}


@lie(THERMO, AT_FAULT, kind=CLEVER)
def thermometer_ends_at_fifty(d):
    """58 degC, read with an instrument for -20 to 50."""
    for one in d.old_test["instruments"]:
        one["specification"]["high"] = "50"


@lie(BLOCK, HAZARDS, kind=CLEVER)
def battery_is_said_to_lie_elsewhere(d):
    """No orange cables in reach of a block of the high-voltage battery."""
    d.of("diagnosis")[0]["suspect_parts"][0]["where"] = ["elsewhere"]
    d.events[:] = [e for e in d.events if e.get("caution") != "high-voltage"]


# Typed.


@lie(EGR, SAME, TIME, RERAN, PASSED, kind=CLEVER, way="screen")
def counts_on_the_display_stood_still(d):
    """Warm-ups, distance and minutes as before the clear."""
    d.after["typed"]["counts"] = copy.deepcopy(d.before["typed"]["counts"])


@lie(EGR, GONE, ELSE, kind=CLEVER, way="screen")
def display_counts_a_code_that_it_does_not_list(d):
    d.after["typed"]["modules"][0]["count"] = 1


@lie(EGR, SAME, kind=CLEVER, way="screen")
def display_shows_another_calibration(d):
    d.after["typed"]["modules"][0]["calibrations"] = ["DEMO-ENG-0002"]


@lie(EGR, RERAN, PASSED, kind=CLEVER, way="hand")
def typed_before_the_clear(d):
    """The result that passed is older than the clear, which empties results."""
    told = d.of("self_test")[-1]
    d.events.remove(told)
    told["at"] = at("11:20")
    d.put(told, after=d.of("repair")[-1])


@lie(EGR, RERAN, PASSED, kind=CLEVER, way="hand")
def another_test_of_the_monitor_was_typed(d):
    """Test 81 had failed; test 82 passed."""
    d.of("self_test")[-1]["tid"] = "82"


# Honest.


@twist(EGR, way="screen")
def monitor_is_not_complete_on_the_display(d):
    """At first among the lies: one test has passed before all of a monitor have run."""
    for one in d.after["typed"]["modules"][0]["monitors"]:
        if one["monitor"] == "egr-vvt":
            one["state"] = "not-complete"


@twist(EGR)
def valve_was_tested_twice(d):
    again = copy.deepcopy(d.old_test)
    again["at"] = shifted(again["at"], minutes=6)
    again["readings"][1]["value"] = "6.7"
    d.put(again, after=d.old_test)


@twist(EGR)
def torn_diaphragm_was_seen_too(d):
    d.old_test["finding"] = {"seen": "torn along its rim, 8 mm", "is_fault": True}


@twist(THERMO)
def coolant_is_renewed_with_the_thermostat(d):
    repair = d.of("repair")[-1]
    fluid = {"part": "coolant", "step": "fluid-service", "renewed_with": "thermostat"}
    new = {**repair, **fluid, "at": at("10:50"), "started": at("10:35")}
    del new["part_number"], new["old_part"]
    d.put(new, after=repair)
    acknowledge_again(d)


@twist(IDLE)
def idle_is_relearned_after_the_cleaning(d):
    repair = d.of("repair")[-1]
    done = {"action": "relearned", "step": "relearn"}
    new = {**repair, **done, "at": at("10:50"), "started": at("10:40")}
    d.put(new, after=repair)
    acknowledge_again(d)


@twist(EGR)
def read_a_week_later(d):
    move(d.after, days=6)

    def change(said):
        with_counts(said, warm_ups=20, distance=410, minutes=640)
        with_bytes(said, "01A6", word(ODOMETER + 4110, 4))
        with_rises(said, 8, 30)

    edit(d.after, change)


@twist(DECLINED)
def second_code_is_declined_too(d):
    aside = d.of("diagnosis")[0]["set_aside"][0]
    aside["codes"] = ["P0420", "P0133"]
    for readout, codes, lamp in (
        (d.before, ["P0401", "P0420", "P0133"], "8307E500"),
        (d.after, ["P0420", "P0133"], "8207E500"),
    ):

        def change(said, codes=codes, lamp=lamp):
            with_codes(said, "03", ENGINE, codes)
            with_bytes(said, "0101", bytes.fromhex(lamp))

        edit(readout, change)


@twist(EGR)
def cleared_twice_within_two_minutes(d):
    first = d.of("code_clear")[0]
    d.put({**first, "at": at("11:32")}, after=first)


@twist(EGR)
def first_readout_in_two_parts(d):
    later = copy.deepcopy(d.before)
    later["at"] = later["captured"] = at("08:14")
    edit(later, lambda said: without(said, "03", "07", "0A"))
    edit(d.before, lambda said: without(said, "0631", "0904", "0906", "0908"))
    d.put(later, after=d.before)


@twist(EGR)
def other_suspect_is_tested_good_first(d):
    other = {"id": "egr-hose", "name": "vacuum hose of the EGR valve", "system": "egr"}
    suspects = d.of("diagnosis")[0]["suspect_parts"]
    suspects.append({**suspects[0], **other})
    good = {**copy.deepcopy(d.old_test), "part": "egr-hose", "setup": "engine-off"}
    good["at"] = at("08:50")
    good["readings"][1]["value"] = "17.9"
    d.put(good, after=d.of("diagnosis")[0])
    acknowledge_again(d)
