"""Forty bogus records and ten honest ones more, in the form of the tenth fifty.

The first run: 35 of 40 as expected, and 9 of 10. Five came out proven, none vouched
that should not. Three of the five led to a rule that was mended, and so did the honest
one: a weak pump is an everyday cause of misfires. Two are left as they come out.
"""

import copy

from truth.bench_changes import bench_test_of, swapped
from truth.bogus import (
    AT_FAULT,
    ELSE,
    EXPLAINS,
    GONE,
    HAZARDS,
    PASSED,
    RERAN,
    SAME,
    TIME,
    answers,
    edit,
    with_codes,
    without,
)
from truth.changes import (
    CLEVER,
    ODD,
    acknowledge_again,
    also_said,
    complaint,
    confirmed_again,
    read_at,
    recalibrated,
    renamed,
    status_is,
    told_as,
    told_in,
)
from truth.jobs import at
from truth.named_jobs import (
    AIR,
    ATTEMPTS,
    BLOCK,
    BUS,
    CAP,
    CAT,
    EGR,
    GEARBOX,
    HEALED,
    INJECTOR,
    LEAN,
    NO_VIN,
    PEDAL,
    UNCLEARED,
    WIRE,
)
from truth.own_jobs import a_fifty, limited
from truth.said import ENGINE, code_bytes
from truth.tenth_fifty import COIL_3, HEATER
from truth.vehicle_counts import with_counts, with_rises

SLOW, WHEEL = "15: oxygen sensor slow", "25: wheel speed sensor open"
LIES, LEFT, HONEST, lie, left, honest = a_fifty()


# The part, and what was measured on it.


@lie(PEDAL, AT_FAULT, kind=CLEVER)
def three_angles_are_one(d):
    """A transfer over one angle is none: nothing is said of its line."""
    for one in d.old_test["readings"]:
        if one["name"] == "stimulus":
            one["value"] = "45"


@lie(WIRE, AT_FAULT, typed=True, kind=ODD)
def reads_finer_than_its_own_step(d):
    """1.90 V on a meter that steps by 1 V: no reading of that instrument."""
    meter = d.old_test["instruments"][0]["specification"]
    meter["resolution"] = "1"


@lie(COIL_3, AT_FAULT, kind=CLEVER)
def misfire_stays_where_it_was_when_coils_change_places(d):
    """A known-good swap shows a part at fault where the fault follows it."""
    swapped(d, at_new_place="0", at_old_place="3")
    acknowledge_again(d)


@lie(WIRE, EXPLAINS, AT_FAULT, typed=True, kind=CLEVER)
def catalyst_is_sold_as_wiring(d):
    """Wiring explains every code; a catalyst by that name explains no cam signal."""
    d.of("diagnosis")[0]["suspect_parts"][0]["name"] = "catalyst"


@lie(SLOW, EXPLAINS, typed=True, kind=CLEVER)
def sensor_behind_the_catalyst_for_the_one_before(d):
    """P0133 is of sensor 1: another place."""
    name = "oxygen sensor behind the catalyst"
    d.of("diagnosis")[0]["suspect_parts"][0]["name"] = name


@lie(WHEEL, EXPLAINS, typed=True, kind=CLEVER)
def sensor_of_another_wheel(d):
    """C0035 is of the left front wheel: another place."""
    name = "wheel speed sensor, rear right"
    d.of("diagnosis")[0]["suspect_parts"][0]["name"] = name


@lie(INJECTOR, AT_FAULT, typed=True, kind=CLEVER)
def one_injector_is_the_whole_set(d):
    """Four readings of one injector are no set in which one stands out."""
    for one in d.old_test["readings"]:
        one["which"] = "cylinder 1"


@lie(AIR, AT_FAULT, kind=CLEVER)
def above_a_tenth_is_called_open(d):
    """A display that ends at 0.1 kohm says nothing against at most 3.0."""
    reading = d.old_test["readings"][0]
    reading["above"] = "0.1"


@lie(AIR, PASSED, kind=CLEVER)
def below_the_top_of_its_limit_may_be_a_short(d):
    """Somewhere below 2.9 kohm is not shown to be above 2.0."""
    reading = d.new_test["readings"][0]
    del reading["value"]
    reading["below"] = "2.9"


@lie(EGR, AT_FAULT, kind=ODD)
def vacuum_of_forty_inches_of_mercury(d):
    """There is none beyond the barometer: 98.2 kPa are 29 inHg."""
    d.old_test["readings"][0]["value"] = "40.0"
    d.old_test["instruments"][0]["specification"]["high"] = "60"


@lie(EGR, AT_FAULT, typed=True, kind=CLEVER)
def nobody_knows_when_the_gauge_was_checked(d):
    """Without a dated check within the interval it is typed."""
    for one in d.old_test["instruments"]:
        for name in ("calibrated_on", "due", "certificate"):
            del one["specification"][name]


@lie(EGR, AT_FAULT, typed=True, kind=CLEVER)
def check_of_the_gauge_ended_yesterday(d):
    """The check in its interval ended the day before the test: typed."""
    for one in d.old_test["instruments"]:
        one["specification"]["due"] = "2026-03-01"


@lie(EGR, AT_FAULT, typed=True, kind=CLEVER)
def limit_comes_from_nowhere(d):
    """A limit without its source is nobody's."""
    d.old_test["limit"]["source"] = " "


@lie(CAT, AT_FAULT, kind=CLEVER)
def another_joint_is_ruled_out(d):
    """The tight joint is a known-good one: that of this vehicle was not tested."""
    bench_test_of(d, "exhaust-joint")["of"] = "known-good"


@lie(ATTEMPTS, AT_FAULT, kind=CLEVER)
def new_plug_is_adjusted_untested(d):
    """The second attempt works on the new plug, of which nothing was measured."""
    first, second = d.of("diagnosis")
    second["suspect_parts"] = copy.deepcopy(first["suspect_parts"])
    d.events.remove(d.old_test)
    repair = d.of("repair")[1]
    repair |= {"part": "plug-1", "action": "adjusted"}
    for name in ("part_number", "old_part"):
        repair.pop(name)
    acknowledge_again(d)


# Another vehicle, another moment, another module.


@lie(NO_VIN, SAME, kind=CLEVER)
def vehicle_without_vin_has_other_marks_now(d):
    """Without a VIN two equal marks are asked for: they differ."""
    edit(d.after, recalibrated)


@left(EGR, TIME, SAME, RERAN, kind=ODD)
def ran_longer_since_its_start_than_since_the_clear(d):
    """15 min since a start that came after the clear, and 9 since the clear.

    It is left, and told: an engine that stops at each light, or a hybrid's, runs for
    less than the time since it was started.
    """
    read_at(d, "12:34", ("12:00", "12:30"), warm_ups=1, distance=27, minutes=9)


@lie(EGR, GONE, SAME, way="screen", kind=CLEVER)
def another_module_has_no_codes(d):
    """The module that reported it was not asked again."""
    d.after["typed"]["modules"][0]["module"] = "7E9"


@lie(EGR, SAME, way="screen", kind=CLEVER)
def screen_shows_another_calibration(d):
    """A mark differs, and no programming explains it."""
    d.after["typed"]["modules"][0]["calibrations"] = ["DEMO-ENG-0077"]


@lie(WHEEL, GONE, RERAN, PASSED, SAME, kind=CLEVER)
def body_module_answers_for_the_brakes(d):
    """One module never answers for another."""

    def change(said):
        for one in said:
            if one[0].startswith("19"):
                one[1] = [("7EB", payload) for _, payload in one[1]]

    edit(d.after, change)


@left(UNCLEARED, RERAN, PASSED, TIME, SAME, kind=CLEVER)
def battery_was_off_and_nobody_says_so(d):
    """The counts began anew without a clear on record.

    It is left: the result is another one than before and its counter rose, so that the
    test ran after the work; a battery that was off is asked for, not held against it.
    """
    edit(d.after, lambda s: with_counts(s, warm_ups=3, distance=60, minutes=90))


@lie(HEALED, RERAN, PASSED, TIME, SAME, kind=ODD)
def one_of_three_counts_was_forgotten(d):
    """Warm-ups and distance went on, and the minutes began anew."""
    edit(d.after, lambda s: with_counts(s, minutes=90))


# Gone, passed, and nothing else.


@lie(EGR, PASSED, RERAN, way="hand", kind=CLEVER)
def display_says_that_it_did_not_run(d):
    """A value beside *not run* is an old one."""
    d.of("self_test")[-1]["outcome"] = "not-run"


@lie(EGR, PASSED, way="hand", kind=CLEVER)
def failed_on_the_display_five_minutes_later(d):
    """The same test outside its limit, after the pass: it speaks against it."""
    later = copy.deepcopy(d.of("self_test")[-1])
    later |= {"at": at("08:25", 1), "outcome": "failed"}
    later["value"]["value"] = "200"
    d.events.append(later)


@lie(HEATER, PASSED, RERAN, way="hand", kind=CLEVER)
def heater_of_the_other_bank_passes(d):
    """Monitor 46 is of bank 2: another place."""
    d.of("self_test")[-1]["mid"] = "46"


@lie(CAP, GONE, kind=CLEVER)
def permanent_code_is_there_still(d):
    """Only 0A holds it after the clear: waiting, not gone."""
    for one in (d.before, d.after):
        edit(one, lambda s: with_codes(s, "0A", ENGINE, ["P0442"]))


@lie(GEARBOX, ELSE, kind=CLEVER)
def another_solenoid_is_confirmed_and_not_told(d):
    """The gearbox lists P0746 as confirmed; nobody speaks of it."""

    def change(said):
        found = answers(said, "190A")
        more = code_bytes("P0746") + b"\0\x08"
        found[:] = [(who, p + more) for who, p in found]

    edit(d.after, change)


@lie(EGR, GONE, ELSE, kind=CLEVER)
def gearbox_module_reports_it_afterwards(d):
    """One code in several modules is one fault: the other one holds it now."""
    edit(d.after, lambda s: with_codes(s, "07", "7E9", ["P0401"]))


@lie(EGR, ELSE, kind=CLEVER)
def freeze_frame_of_a_code_that_nobody_tells(d):
    """A frame of P0113 is kept after the repair."""
    also_said(d.after, "020200", "4202000113")


@lie(BUS, GONE, kind=CLEVER)
def confirmed_again_since_the_clear(d):
    """A clear takes this bit away: it was set since."""
    edit(d.after, lambda s: status_is(s, "U0100", 0x08))


@lie(EGR, GONE, ELSE, way="screen", kind=CLEVER)
def display_counts_one_and_lists_none(d):
    """The count does not fit the list."""
    d.after["typed"]["modules"][0]["count"] = 1


@lie(CAP, PASSED, ELSE, kind=CLEVER)
def large_leak_is_found_beside_the_small(d):
    """Another test of the same row fails in the readout with the pass."""
    also_said(d.after, "0639", "463981FD07D000000384")


@lie(CAT, ELSE, PASSED, kind=CLEVER)
def catalyst_of_the_other_bank_fails(d):
    """A monitor fails after the repair, and no code of it is told."""
    also_said(d.after, "0622", "4622812075300000" + "5208")


@lie(LEAN, RERAN, PASSED, kind=CLEVER)
def load_is_not_asked_any_more(d):
    """Whether the conditions of the frame were met cannot be told without it."""
    edit(d.after, lambda s: without(s, "0104"))


# Hazards.


@lie(CAP, HAZARDS, kind=ODD)
def confirmed_before_it_was_read(d):
    """The second confirmation of a danger stands before the first."""
    confirmed_again(d, at("07:00"))


@lie(CAT, HAZARDS, kind=CLEVER)
def exhaust_is_touched_at_a_hundred_and_twenty(d):
    """Beyond what skin bears, and no glove is named."""
    for one in told_as(d, "surface temperature", value="120"):
        one.pop("gloves", None)


@lie(BLOCK, HAZARDS, kind=CLEVER)
def meter_was_not_proved(d):
    """That the voltage is nought rests on a meter: it is told as not proved."""
    for one in told_in(d, "meter"):
        one["meter"] = "was not proved, there was no time for it"


@lie(BLOCK, HAZARDS, kind=CLEVER)
def gloves_were_tested_last_year(d):
    """400 days are beyond the interval of such gloves."""
    told_as(d, "time since gloves were tested", value="400")


@lie(EGR, HAZARDS, kind=CLEVER)
def caution_was_read_for_another_part(d):
    """An acknowledgement of a part is for that part."""
    for one in d.of("caution"):
        if one["step"].get("part"):
            one["step"]["part"] = "egr-pipe"


@lie(EGR, HAZARDS, kind=CLEVER)
def apprentice_repairs_what_another_read(d):
    """Acknowledged by one, done by another."""
    d.of("repair")[0]["by"] = "apprentice-1"


# Honest ones.


WEAK_PUMP = {
    "name": "fuel pump weak, all cylinders misfire",
    "codes": ["P0300"],
    "part": ["fuel-pump", "fuel pump", "fuel"],
    "bench": ["stored-energy", "170", "304", limited("kPa", "280")],
    "test": ["A1", "0B", "24", 60, 0, 0, 20],
    "days": 2,
    "path": "monitor result",
}
BANK_2_LEAN = {
    "name": "hose of bank 2 leaks",
    "codes": ["P0174"],
    "part": ["vacuum-hose", "hose of the manifold", "vacuum"],
    "bench": ["seal-hold", "3.5", "17.7", limited("inHg", "15.0")],
    "days": 3,
    "path": "watched and measured",
}
EGR_SOLENOID = {
    "name": "solenoid of the EGR valve open",
    "codes": ["P0403"],
    "part": ["egr-solenoid", "solenoid of the EGR valve", "egr"],
    "bench": ["winding", ">40000", "31.5", limited("ohm", "28", "36")],
    "path": "watched and measured",
}
THROTTLE_HIGH = {
    "name": "throttle sensor reads high",
    "codes": ["P0123"],
    "part": ["throttle-sensor", "throttle position sensor", "throttle"],
    "bench": [
        "linear-transfer",
        "4.00",
        "2.50",
        limited("V", "-0.20", "0.20", of="output error"),
    ],
    "path": "watched and measured",
}
SHIFT_SOLENOID = {
    "name": "shift solenoid open",
    "codes": ["P0753"],
    "module": "7E9",
    "part": ["shift-solenoid", "shift solenoid A", "transmission"],
    "bench": ["winding", ">40000", "14.9", limited("ohm", "12", "18")],
    "status": True,
    "days": 2,
    "path": "code status",
}
NEW_HEATER = {
    "name": "heater open in a vehicle that is asked by service 22",
    "codes": ["P0135"],
    "part": ["front-sensor", "front oxygen sensor", "oxygen-sensor"],
    "bench": ["winding", ">40000", "6.4", limited("ohm", "2", "20")],
    "uds": True,
    "path": "code status",
}
OLD_VAN = {
    "name": "intake air sensor shorted, before CAN",
    "codes": ["P0112"],
    "part": ["air-sensor", "intake air temperature sensor", "intake"],
    "bench": ["winding", "0.03", "2.41", limited("kohm", "2.0", "3.0")],
    "kline": True,
    "no_vin": True,
    "photo": True,
    "path": "watched and measured",
}
LEAN_TODAY = {
    "name": "hose leaks, read on the same day",
    "codes": ["P0171"],
    "part": ["crankcase-hose", "hose of the crankcase ventilation", "crankcase"],
    "bench": ["seal-hold", "2.0", "17.7", limited("inHg", "15.0")],
    "path": "watched and measured",
}
DIESEL_EGR = {
    "name": "EGR valve of a diesel sticks",
    "codes": ["P0401"],
    "part": ["egr-valve", "EGR valve", "egr"],
    "diesel": True,
    "bench": ["seal-hold", "5.5", "17.4", limited("inHg", "15.0")],
    "test": ["31", "81", "17", 190, 640, 350, 65535],
    "days": 2,
    "path": "monitor result",
}
MISFIRE_3 = {
    "name": "a plug first, then the coil of cylinder 3",
    "codes": ["P0303"],
    "part": ["coil-3", "ignition coil of cylinder 3", "ignition"],
    "bench": ["winding", ">40000", "11.8", limited("kohm", "5", "20")],
    "test": ["A4", "0B", "24", 52, 0, 0, 10],
    "first_attempt": ["plug-3", "spark plug of cylinder 3", "ignition"],
    "path": "monitor result",
}


@honest(WEAK_PUMP, "proven")
def pump_for_a_misfire_of_all_cylinders(d):
    """Fuel is plausible for a misfire; its counts are zero after two days."""
    complaint(d, "It jerks uphill and the lamp blinks.")


@honest(BANK_2_LEAN, "proven")
def hose_for_a_lean_bank(d):
    """No result is owed for trims: watched over cycles, and measured again."""
    complaint(d, "It hisses at idle.")


@honest(EGR_SOLENOID, "proven")
def open_solenoid_of_the_valve(d):
    """A circuit finding: two starts, and the new one measured."""
    complaint(d, "Only the lamp.")


@honest(THROTTLE_HIGH, "proven")
def throttle_sensor_is_swept_at_three_angles(d):
    """A circuit code, by a transfer that is computed."""
    complaint(d, "It does not take gas.")


@honest(SHIFT_SOLENOID, "proven")
def gearbox_passes_by_its_own_status(d):
    """The module says that its test completed and did not fail since the clear."""
    complaint(d, "It shifts hard from first to second.")


@honest(NEW_HEATER, "proven")
def newer_vehicle_passes_by_status(d):
    """Asked by services 19 and 22 alone."""
    complaint(d, "Failed the inspection.")


@honest(OLD_VAN, "vouched")
def van_from_before_can(d):
    """No VIN to read: a picture of plate and VIN, and equal marks."""
    complaint(d, "It starts badly when it is cold.")


@honest(LEAN_TODAY, "unproven", waiting=True)
def lean_code_asks_for_three_cycles(d):
    """One cycle was driven today: the customer comes again."""
    read_at(d, "13:10", ("12:00", "12:40"), warm_ups=1, distance=31, minutes=44)
    edit(d.after, lambda s: with_rises(s, 1, 2))


@honest(DIESEL_EGR, "proven")
def diesel_valve_by_its_own_monitor(d):
    """The same monitor as with spark, counted under another info type."""
    complaint(d, "Black smoke and the lamp.")


@honest(MISFIRE_3, "proven")
def coil_was_it_and_not_the_plug(d):
    """The first attempt lowers nothing."""
    renamed(d, "worn plug", "plug worn, gap measured")
