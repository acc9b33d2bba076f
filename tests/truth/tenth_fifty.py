"""Forty bogus records and ten honest ones, by a hand that had read no rule.

Written from the pages on the verdict and on fault codes alone. ``CLEVER`` is a lie
without a changed byte: true values, and the wrong part, moment or vehicle, work in the
wrong order, a request left out. ``ODD`` has a number or byte that was made. Each says
below its name what it must not come out as, and why; ``typed`` says that *vouched* is
tolerable. The honest ones are other jobs than those of ``honest.toml``, with the
verdict that they must come out with, and whether they wait.

The first run: 26 of 40 as expected, and 7 of 10. Twelve came out proven, none vouched
that should not; two fell by a question that was not named. Ten of the twelve led to a
rule that was mended, and so did all three honest ones: a coolant sensor that is open,
a fan whose relay is open, and an order that waits for its status byte. One of the
twelve is left as it comes out; of another *vouched* had not been tolerated, where a
frame that was not read at all is a word as well.
"""

import copy

from truth.bench_changes import read_of, swapped, told_anew
from truth.bogus import (
    AT_FAULT,
    ELSE,
    EXPLAINS,
    GONE,
    HAZARDS,
    KNOWN,
    PASSED,
    RERAN,
    SAME,
    TIME,
    Draft,
    edit,
    with_bytes,
    with_codes,
    with_test,
)
from truth.changes import (
    CLEVER,
    ODD,
    acknowledge_again,
    also_said,
    complaint,
    free_of_codes,
    in_order,
    programming,
    read_at,
    recalibrated,
    renamed,
    set_aside,
    status_is,
    suspect,
    told_in,
    with_frame,
)
from truth.jobs import at, bench, event
from truth.named_jobs import (
    AIR,
    ATTEMPTS,
    CAP,
    CAT,
    COIL,
    CRANK,
    DECLINED,
    EGR,
    GEARBOX,
    HEALED,
    INJECTOR,
    LEAN,
    NEWER,
    PERM,
    PUMP,
    THERMO,
    UNCLEARED,
    VENT,
)
from truth.own_jobs import a_fifty, limited
from truth.said import ENGINE, word
from truth.vehicle_counts import EGR_RAN, with_counts, with_rises

LIES, LEFT, HONEST, lie, left, honest = a_fifty()


def degrees(number: str) -> dict:
    return {"value": number, "unit": "degC"}


def watched(d: Draft, code: str) -> None:
    """Let a code be pending after the repair, and somebody set it aside then."""
    edit(d.after, lambda s: with_codes(s, "07", ENGINE, [code]))
    made = copy.deepcopy(d.of("diagnosis")[-1])
    made |= {"at": at("08:20", 1), "set_aside": set_aside([code], "watched")}
    d.events.append(made)


# Another part than the one at fault.


@lie(COIL, EXPLAINS, AT_FAULT, typed=True, kind=CLEVER)
def coil_of_another_cylinder(d):
    """Cylinder 1 misfires; the coil of cylinder 3 is tested and sold: another place."""
    renamed(d, "coil-1", "coil-3")
    renamed(d, "coil of cylinder 1", "coil of cylinder 3")


@lie(COIL, AT_FAULT, typed=True, kind=CLEVER)
def gap_of_the_plug_condemns_the_coil(d):
    """What was measured is no quantity of a coil: no bench test of that part."""
    gap = ["direct-reading", "1.9", "0.8", limited("mm", high="1.1")]
    told_anew(d.old_test, **bench(gap, good=False))


@lie(INJECTOR, AT_FAULT, typed=True, kind=CLEVER)
def one_that_gives_too_much_is_another_injector(d):
    """The third gives 420 mL; injector 1 is like the others: it is not at fault."""
    values = ("300", "301", "420", "299")
    for one, value in zip(d.old_test["readings"], values, strict=True):
        one["value"] = value
    d.old_test["test"] = "volume of each injector, cylinders 1 to 4 in this order"


@lie(CAT, AT_FAULT, kind=CLEVER)
def spacer_under_the_rear_sensor_as_other_work(d):
    """A suspect that was tested good, and worked on: that speaks against it."""
    made = event("repair", "10:40", part="rear-sensor", action="adjusted")
    d.put(made, after=d.of("repair")[0])
    acknowledge_again(d)


@lie(GEARBOX, PASSED, kind=CLEVER)
def request_for_the_lamp_is_repaired_and_its_cause_declined(d):
    """P0700 is answered by the faults of the gearbox, which are set aside.

    First it was thought that the fault would not be known, explained or gone; what
    falls is that no test of it passed.
    """
    made = d.of("diagnosis")[0]
    made["codes"] = ["P0700"]
    made["suspect_parts"][0]["codes"] = ["P0700"]
    made["set_aside"] = set_aside(["P0741"], "declined")


# A good part, measured so that it fails.


@lie(VENT, AT_FAULT, typed=True, kind=CLEVER)
def measured_hot_and_held_against_the_cold_limit(d):
    """25.5 ohm at 20 degC are 34.8 at 112 in copper; it is written as no copper."""
    d.old_test["readings"][0]["value"] = "34.8"
    d.old_test["conditions"]["winding temperature"] = degrees("112")


@lie(CRANK, AT_FAULT, typed=True, kind=CLEVER)
def good_sensor_is_cooked_until_it_opens(d):
    """Good at 20 degC, open at 260: no state that this vehicle ever met."""
    cold = copy.deepcopy(d.old_test)
    cold |= {"at": at("08:50"), **bench(d.job["bench"], good=True)}
    d.events.insert(d.events.index(d.old_test), cold)
    hot = d.of("bench_test")[1]
    hot["conditions"]["winding temperature"] = degrees("260")
    hot["conditions"]["conductor"] = "copper"
    acknowledge_again(d)


@lie(EGR, AT_FAULT, kind=CLEVER)
def warmed_while_it_held(d):
    """60 K of warmth take 3.4 inHg of vacuum out of a tight valve: no leak."""
    d.old_test["readings"][1]["value"] = "14.6"
    d.old_test["conditions"]["start temperature"] = degrees("0.0")
    d.old_test["conditions"]["end temperature"] = degrees("60.0")


@lie(PUMP, AT_FAULT, kind=CLEVER)
def held_ten_times_as_long_as_its_limit_says(d):
    """The limit is for 300 s; after 3,000 it says nothing."""
    read_of(d.old_test, "hold time", value="3000")


AIR_PUMP = {
    "name": "secondary air pump seized",
    "codes": ["P0411"],
    "part": ["air-pump", "secondary air pump", "secondary-air"],
    "bench": ["direct-reading", "38.0", "14.0", limited("A", high="25")],
    "test": ["71", "81", "17", 180, 640, 400, 65535],
    "days": 2,
    "path": "monitor result",
}


def with_supply(d: Draft, volts: str) -> None:
    """Let the supply of the pump be measured beside its current."""
    d.old_test["conditions"] = {"supply voltage": {"value": volts, "unit": "V"}}
    meter = copy.deepcopy(d.old_test["instruments"][0])
    meter["id"] = "meter-2"
    meter["specification"] |= {"unit": "V", "high": "60"}
    d.old_test["instruments"].append(meter)


@lie(AIR_PUMP, AT_FAULT, typed=True, kind=CLEVER)
def pump_is_measured_on_a_flat_battery(d):
    """6 A at 7.9 V: a dead supply reads like a bad part, and is told in the test."""
    d.old_test["readings"][0]["value"] = "6.0"
    d.old_test["limit"] |= {"minimum": "10"}
    with_supply(d, "7.9")


# Another moment.


@lie(AIR, KNOWN, TIME, SAME, kind=CLEVER)
def readout_of_three_weeks_ago_as_the_finding_of_today(d):
    """Captured before the vehicle came: it does not show what was found."""
    d.before["captured"] = at("08:10", -21)


@lie(UNCLEARED, KNOWN, RERAN, PASSED, kind=CLEVER)
def healed_by_itself_before_the_shop_touched_it(d):
    """Lamp off, not pending, the monitor inside its limits: history alone."""

    def change(said):
        with_bytes(said, "0101", bytes.fromhex("0107E500"))
        with_codes(said, "07", ENGINE, [])
        with_test(said, 0, lambda p: p[:4] + word(150) + p[6:])

    edit(d.before, change)


@lie(AIR, KNOWN, typed=True, kind=CLEVER)
def first_readout_of_the_visit_knew_nothing_of_it(d):
    """Fifteen minutes later the plug was off: younger than the visit, so a word."""
    made = copy.deepcopy(d.before)
    made["at"] = made["captured"] = at("07:55")

    def change(said):
        free_of_codes(said)
        with_bytes(said, "0105", bytes([66]))

    edit(made, change)
    d.events.insert(d.events.index(d.before), made)


@lie(AIR, TIME, PASSED, typed=True, kind=CLEVER)
def measured_with_the_engine_off_while_it_was_driven(d):
    """The new sensor was measured on the vehicle in the midst of its drive."""
    d.new_test["at"] = at("12:15")
    acknowledge_again(d)


@lie(EGR, TIME, SAME, RERAN, kind=CLEVER)
def stone_cold_four_minutes_after_the_drive(d):
    """33 min of engine since 11:30, and coolant of 20 degC at 12:34: facts conflict."""
    read_at(d, "12:34", ("12:00", "12:30"), warm_ups=1, distance=27, minutes=33)

    def change(said):
        with_bytes(said, "0105", bytes([60]))
        with_bytes(said, "010C", word(0))
        with_bytes(said, "010D", b"\0")
        with_bytes(said, "0104", b"\0")
        with_bytes(said, "011F", word(0))

    edit(d.after, change)


@lie(CRANK, PASSED, typed=True, kind=CLEVER)
def fails_hot_and_is_measured_cold(d):
    """Good cold, open hot; the new one is measured cold: not the same conditions."""
    cold = copy.deepcopy(d.old_test)
    cold |= {"at": at("08:50"), **bench(d.job["bench"], good=True)}
    d.events.insert(d.events.index(d.old_test), cold)
    d.of("bench_test")[1]["conditions"]["winding temperature"] = degrees("95")
    acknowledge_again(d)


# Work in the wrong order.


@lie(EGR, ELSE, typed=True, kind=CLEVER)
def diagnosis_is_written_when_the_work_is_done(d):
    """Which part was suspected, and why, is told after it was replaced.

    What falls is that the fault was addressed at all; part and order of time were
    named first.
    """
    made = d.of("diagnosis")[0]
    d.events.remove(made)
    made["at"] = at("10:40")
    d.put(made, after=d.of("repair")[0])


@lie(ATTEMPTS, GONE, PASSED, RERAN, kind=CLEVER)
def comeback_is_driven_away(d):
    """The plug did not heal it; codes are cleared again, and nothing is repaired."""
    first = d.events.index(d.of("diagnosis")[1])
    done = {"diagnosis", "bench_test", "repair", "caution"}
    d.events[first:] = [
        one
        for one in d.events[first:]
        if one["kind"] not in done or one.get("step", {}).get("kind") == "road_test"
    ]


@lie(EGR, HAZARDS, kind=CLEVER)
def engine_ran_again_after_its_surface_was_felt(d):
    """What was acknowledged cold has lapsed: it was driven hot before the work."""
    drive = {"start": at("09:25"), "end": at("09:45")}
    far = {"value": "12", "unit": "km"}
    made = event("road_test", "09:45", **drive, distance=far, conditions="country road")
    d.put(made, after=d.of("bench_test")[0])
    acknowledge_again(d)
    for one in d.of("caution"):
        if one["step"]["kind"] == "repair":
            one["at"] = at("09:20")
    in_order(d)


# What was not asked, or not answered for.


@lie(CAP, RERAN, PASSED, ELSE, SAME, kind=CLEVER)
def of_two_tests_that_failed_one_is_asked_again(d):
    """Two results of this code's ids were outside; one of them is read again."""
    also_said(d.before, "063A", "463A82FD02BC000001F4")


@lie(NEWER, GONE, RERAN, PASSED, kind=CLEVER)
def asked_with_a_mask_that_hides_what_is_pending(d):
    """19 02 08 lists what is confirmed; what came back is pending yet."""

    def change(said):
        said[:] = [one for one in said if one[0] != "190A"]
        for one in said:
            one[0] = one[0].replace("1902FF", "190208")

    edit(d.after, change)


@left(EGR, ELSE, typed=True, kind=CLEVER)
def code_that_the_customer_named_is_never_spoken_of(d):
    """The record holds a second code, in the complaint; nobody sets it aside.

    It is left: the vehicle was asked, and does not hold it, and a customer may name
    what another shop cleared last year. The complaint stands in the packet.
    """
    complaint(d, "The parts shop read P0401 and P0304; it shakes when it is cold.")


@lie(DECLINED, ELSE, typed=True, kind=CLEVER)
def made_by_a_test_before_there_was_a_test(d):
    """P0420 stood in the first readout: no test of the shop can have made it."""
    d.of("diagnosis")[0]["set_aside"] = set_aside(["P0420"], "made-by-a-test")


@lie(HEALED, RERAN, PASSED, kind=CLEVER)
def lamp_was_on_for_two_codes(d):
    """A lamp that goes off is evidence where it was on for this code alone."""

    def change(said):
        with_codes(said, "03", ENGINE, ["P0118"], add=True)
        with_bytes(said, "0101", bytes.fromhex("8207E500"))

    edit(d.before, change)
    d.of("diagnosis")[0]["set_aside"] = set_aside(["P0118"], "watched")


@lie(COIL, GONE, ELSE, typed=True, kind=CLEVER)
def circuit_of_the_new_coil_is_watched(d):
    """P0351, pending after the repair, is that of the very coil that was fitted."""
    watched(d, "P0351")


@lie(COIL, GONE, ELSE, typed=True, kind=CLEVER)
def misfire_of_any_cylinder_instead_of_the_first(d):
    """P0300 stands in the same row and is new: no code to be set aside."""
    watched(d, "P0300")


# The vehicle says that it is not healed.


@lie(LEAN, PASSED, kind=CLEVER)
def short_term_trim_takes_the_place_of_the_long(d):
    """The clear set the long one to nothing; the short one adds 30 %."""
    also_said(d.after, "0106", "4106A6")


@lie(THERMO, PASSED, kind=CLEVER)
def half_an_hour_and_still_lukewarm(d):
    """62 degC after 30 min: the new thermostat stands open like the old."""
    edit(d.before, lambda s: with_frame(s, "05", bytes([102])))

    def change(said):
        with_bytes(said, "0105", bytes([102]))
        with_bytes(said, "011F", word(1800))

    edit(d.after, change)


@lie(CAP, HAZARDS, kind=CLEVER)
def ventilation_is_off_because_of_the_cold(d):
    """A precondition that is written down as not met."""
    for one in told_in(d, "ventilation"):
        one["ventilation"] = "off, it was too cold in the bay for it"


# Numbers and bytes that were made.


@lie(EGR, SAME, TIME, kind=ODD)
def seven_hundred_km_in_ninety_minutes(d):
    """Distance and minutes since the clear give 467 km/h: counts do not fit."""
    edit(d.after, lambda s: with_counts(s, distance=700, minutes=90, went=700))


@lie(EGR, RERAN, SAME, TIME, kind=ODD)
def monitor_completed_more_often_than_it_was_driven(d):
    """Once in a driving cycle at most: nine times in two starts is made."""
    edit(d.after, lambda s: with_rises(s, 2, 2, {EGR_RAN: 9}))


@lie(EGR, SAME, kind=ODD)
def built_to_another_rule_than_before(d):
    """PID 1C is a mark that a vehicle keeps: another one answered."""
    edit(d.after, lambda s: with_bytes(s, "011C", b"\x06"))


@lie(EGR, SAME, RERAN, kind=ODD)
def egr_monitor_is_no_longer_there(d):
    """Readiness says after the repair that this vehicle has no such monitor."""
    edit(d.after, lambda s: with_bytes(s, "0101", bytes.fromhex("00076500")))


@lie(EGR, PASSED, SAME, typed=True, kind=ODD)
def tuning_file_moves_the_limit_below_the_failing_value(d):
    """The value is the failing one still; the limit rests on a calibration's name."""
    made = programming("DEMO-ENG-0002")
    d.put(made, after=d.of("repair")[0])

    def change(said):
        recalibrated(said)
        with_test(said, 0, lambda p: p[:4] + word(214) + word(100) + p[8:])

    edit(d.after, change)
    acknowledge_again(d)


@lie(ATTEMPTS, AT_FAULT, typed=True, kind=ODD)
def new_plug_fails_with_the_digits_of_the_old(d):
    """Yesterday's readings are written once more, of the plug fitted yesterday."""
    first, second = d.of("diagnosis")
    second["suspect_parts"] = copy.deepcopy(first["suspect_parts"])
    second["reasoning"] = "worn plug, again"
    old, new = d.of("bench_test")[:2]
    kept = new["at"]
    new.clear()
    new |= {**copy.deepcopy(old), "at": kept}
    d.of("repair")[1]["part"] = "plug-1"
    acknowledge_again(d)


@lie(LEAN, RERAN, PASSED, typed=True, kind=ODD)
def speed_of_the_freeze_frame_is_left_out(d):
    """Of the frame all is kept but the engine speed, which was not met again.

    That a frame held no more is somebody's word, as where none was read.
    """
    edit(d.before, lambda s: s.remove(next(o for o in s if o[0] == "020C00")))
    edit(d.after, lambda s: with_bytes(s, "010C", word(5200 * 4)))


@lie(VENT, AT_FAULT, typed=True, kind=ODD)
def reads_above_the_end_of_its_own_range(d):
    """210 ohm on a meter that ends at 50: no reading of that instrument."""
    d.old_test["instruments"][0]["specification"]["high"] = "50"


@lie(EGR, SAME, RERAN, TIME, way="screen", kind=ODD)
def screen_was_not_read_anew(d):
    """After a clear it counts 2,000 km since the clear, as it did before."""
    d.after["typed"]["counts"] = copy.deepcopy(d.before["typed"]["counts"])


@lie(EGR, SAME, TIME, way="screen", kind=ODD)
def odometer_on_the_screen_fell(d):
    """A count that only rises is 200 km lower after the repair."""
    d.after["typed"]["counts"]["odometer"]["value"] = "120145"


@lie(PERM, RERAN, PASSED, GONE, SAME, kind=ODD)
def permanent_code_is_erased_after_four_minutes(d):
    """Ten minutes of engine are the least in which a vehicle may do so."""
    road = d.of("road_test")[0]
    road |= {"at": at("12:05"), "end": at("12:05")}
    road["distance"]["value"] = "2"
    counts = {"warm_ups": 1, "distance": 2, "minutes": 4}
    edit(d.after, lambda s: with_counts(s, **counts, went=2))


# Honest ones.

COIL_3 = {
    "name": "coil of cylinder 3, by exchange",
    "codes": ["P0303"],
    "part": ["coil-3", "ignition coil of cylinder 3", "ignition"],
    "bench": ["winding", ">40000", "11.2", limited("kohm", "5")],
    "test": ["A4", "0B", "24", 38, 0, 0, 10],
    "path": "monitor result",
}
COOLANT = {
    "name": "coolant sensor open",
    "codes": ["P0118"],
    "part": ["coolant-sensor", "engine coolant temperature sensor", "cooling"],
    "bench": ["winding", ">40000", "2.35", limited("kohm", "2.1", "2.6")],
    "frame": {"rpm": 900, "load": 25, "coolant": -40, "speed": 0},
    "path": "watched and measured",
}
PHASER = {
    "name": "phaser solenoid shorted",
    "codes": ["P0010"],
    "part": ["phaser-solenoid", "solenoid of the camshaft phaser", "valve-timing"],
    "bench": ["winding", "0.40", "7.30", limited("ohm", "6.7", "7.9")],
    "days": 2,
    "path": "watched and measured",
}
FAN = {
    "name": "fan relay open",
    "codes": ["P0480"],
    "part": ["fan-relay", "relay of the cooling fan", "electrical"],
    "bench": ["winding", ">40000", "84", limited("ohm", "70", "110")],
    "frame": {"rpm": 800, "load": 30, "coolant": 103, "speed": 0},
    "days": 2,
    "path": "watched and measured",
}
HEATER = {
    "name": "heater of the rear sensor open",
    "codes": ["P0141"],
    "part": ["rear-sensor", "rear oxygen sensor", "oxygen-sensor"],
    "bench": ["winding", ">40000", "5.6", limited("ohm", "4", "14")],
    "test": ["42", "81", "0E", 0, 1100, 400, 65535],
    "path": "monitor result",
}
TURBINE = {
    "name": "input speed sensor of the gearbox open",
    "codes": ["P0715"],
    "module": "7E9",
    "part": ["turbine-sensor", "input speed sensor", "transmission"],
    "bench": ["winding", ">40000", "420", limited("ohm", "300", "600")],
    "status": True,
    "days": 2,
    "path": "code status",
}
SMALL_LEAK = {
    "name": "filler cap leaks a little",
    "codes": ["P0456"],
    "part": ["filler-cap", "filler cap", "evap"],
    "bench": ["seal-hold", "3.0", "17.9", limited("inHg", "15.0")],
    "test": ["3C", "81", "FD", 640, 90, 0, 300],
    "path": "monitor result",
}
MISFIRE_2 = {
    "name": "a plug first, then the injector",
    "codes": ["P0302"],
    "part": ["injector-2", "injector of cylinder 2", "fuel"],
    "bench": ["balance", "190", "300", limited("%", "85", of="lowest to highest")],
    "test": ["A3", "0B", "24", 44, 0, 0, 10],
    "first_attempt": ["plug-2", "spark plug of cylinder 2", "ignition"],
    "path": "monitor result",
}
WHEEL = {
    "name": "wheel speed sensor, front right, open",
    "codes": ["C0040"],
    "module": "7EA",
    "part": ["wheel-sensor", "wheel speed sensor, front right", "brakes"],
    "bench": ["winding", ">40000", "1.35", limited("kohm", "0.8", "2.5")],
    "status": True,
    "path": "code status",
}


@honest(COIL_3, "vouched")
def coil_is_found_by_exchange_and_the_oil_is_changed_too(d):
    """Counts of an exchange are seen, not measured; an oil service is other work."""
    swapped(d, at_new_place="3", at_old_place="0")
    oil = event("repair", "10:50", part="engine-oil", action="replaced")
    oil |= {"step": "fluid-service", "note": "oil and filter, as it was due"}
    d.put(oil, after=d.of("repair")[0])
    acknowledge_again(d)


@honest(COOLANT, "proven")
def coolant_sensor_says_forty_below(d):
    """Its frame keeps what the open sensor said; a circuit asks for two starts."""
    edit(d.before, lambda s: with_bytes(s, "0105", b"\0"))


@honest(AIR_PUMP, "proven")
def air_pump_takes_too_much_at_a_good_supply(d):
    """The vehicle's own test, and a current with the supply that it was read at."""
    with_supply(d, "12.4")


@honest(PHASER, "proven")
def one_finds_it_and_another_repairs_it(d):
    """A handover in the day changes nothing of what is shown."""
    repair = d.of("repair")[0]
    repair["by"] = d.new_test["by"] = "mechanic-2"
    told = {"to": "mechanic-2", "done": "solenoid is shorted", "waits": "fit the new"}
    d.put(event("handover", "09:30", **told), after=d.of("bench_test")[0])
    acknowledge_again(d)


@honest(FAN, "proven")
def ground_of_the_fan_is_tested_good_first(d):
    """What was tested good is left alone; an open winding is watched over starts."""
    made = d.of("diagnosis")[0]
    ground = suspect(d, id="fan-ground", name="ground of the fan", system="wiring")
    made["suspect_parts"].append(ground)
    drop = ["voltage-drop", "0.90", "0.05", limited("V", high="0.20")]
    told = {"part": "fan-ground", "setup": "engine-off", "of": "old"}
    good = event("bench_test", "08:50", **told, **bench(drop, good=True))
    d.put(good, after=made)
    acknowledge_again(d)


@honest(HEATER, "vouched", way="screen")
def rear_heater_by_screen_alone(d):
    """A typed readout can fill every question."""
    complaint(d, "Failed the inspection for its engine lamp.")


@honest(TURBINE, "vouched", way="screen")
def gearbox_sensor_by_screen_alone(d):
    """No self-test is owed for a circuit: it was watched, and measured again."""
    complaint(d, "It stays in one gear.")


@honest(SMALL_LEAK, "unproven", waiting=True)
def cap_is_read_on_the_same_day(d):
    """Its test needs a night; the readout before the customer left says not run."""
    read_at(d, "13:30", ("12:00", "12:30"), warm_ups=1, distance=27, minutes=35)

    def change(said):
        with_bytes(said, "0101", bytes.fromhex("0007E504"))
        with_rises(said, 0, 2)
        with_test(said, 0, lambda p: p[:4] + bytes(6))

    edit(d.after, change)


@honest(MISFIRE_2, "proven")
def plug_did_not_heal_it_and_the_injector_did(d):
    """Questions are asked of the last attempt; the first is told."""
    complaint(d, "It shakes, and the lamp blinks uphill.")


@honest(WHEEL, "unproven", waiting=True)
def wheel_sensor_was_not_driven_fast_enough(d):
    """Its module says: not completed since the clear. A longer drive can show it."""
    read_at(d, "13:30", ("12:00", "12:10"), warm_ups=1, distance=4, minutes=14)

    def change(said):
        status_is(said, "C0040", 0x50)
        with_rises(said, 0, 2)

    edit(d.after, change)
