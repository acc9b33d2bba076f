"""Forty bogus records and ten honest ones more, in the form of the tenth fifty.

Each lie is what a shop might do that wants to be paid and to look clean. Beside each
stands the sentence of the verdict's definition that lets a question fall, with its
section; no shop that did the work could have the same record proven, for what that
sentence asks is not in it. Written by a hand that knew that definition alone.

When they were first judged, 39 of the 40 lies came out as written, one came out
*proven*, none *vouched* wrongly, and none fell by another question than was written;
of the honest ones nine of ten came out as written.

The lie had measured the old part when the work was over, and a rule took that for a
test before it. It is typed now, no more, as nobody saw the piece come out: so the lie
may be *vouched*, which was not written at first, for an honest shop that comes too late
has the same record. The honest one had programmed the engine's module by a bulletin:
the rule asked that a diagnosis suspect it, and the definition asks for calibration and
source alone. Where an id changed without its number, that is held against it since.

Where more fell than was written, it follows: with a code set aside and worked on what
it owes is open too, a clear that is two minutes old does not fit the recorded drive,
and a code that nobody set aside leaves the lamp unexplained.
"""

import copy

from truth.bench_changes import bench_test_of, read_of
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
    answers,
    edit,
    move,
    shifted,
    with_bytes,
    with_codes,
    with_test,
    without,
)
from truth.changes import (
    CLEVER,
    LATE,
    ODD,
    also_said,
    complaint,
    corrected,
    free_of_codes,
    in_time,
    programming,
    read_at,
    recalibrated,
    renamed,
    renumbered,
    set_aside,
    status_is,
    suspect,
    told_as,
    with_frame,
)
from truth.jobs import at, event
from truth.named_jobs import (
    CAP,
    CAT,
    CHARGE,
    DECLINED,
    EGR,
    HEALED,
    INJECTOR,
    PERM,
    PUMP,
    PURGE,
    THERMO,
)
from truth.own_jobs import a_fifty, limited
from truth.said import ENGINE, code_bytes, word
from truth.vehicle_counts import with_counts, with_rises

LIES, LEFT, HONEST, lie, left, honest = a_fifty()
BRAKES, GEARBOX = "7EA", "7E9"
SOOT = "21: soot from a dripping injector, by status"
FAILING, NOT_RUN = 0x2F, 0x50
"""Status of a code: failing and confirmed; its test never completed."""

INJECTOR_OPEN = {
    "name": "injector of cylinder 3 open",
    "codes": ["P0203"],
    "part": ["injector-3", "injector of cylinder 3", "fuel"],
    "bench": ["winding", ">40000", "14.6", limited("ohm", "11", "18")],
    "path": "watched and measured",
}
COOLANT = {
    "name": "coolant sensor open",
    "codes": ["P0118"],
    "part": ["coolant-sensor", "coolant temperature sensor", "cooling"],
    "bench": ["winding", ">40000", "2.51", limited("kohm", "2.2", "2.8")],
    "path": "watched and measured",
}
COOLANT_UDS = {
    **COOLANT,
    "name": "coolant sensor open, on a vehicle of service 19",
    "uds": True,
    "path": "code status",
}
AIR_PUMP = {
    "name": "secondary air pump weak",
    "codes": ["P0411"],
    "part": ["air-pump", "secondary air pump", "secondary-air"],
    "bench": ["direct-reading", "3.2", "24.0", limited("A", "15", "35")],
    "test": ["71", "81", "17", 400, 2400, 1500, 65535],
    "path": "monitor result",
}
HEATER_2 = {
    "name": "heater of the front sensor of bank 2 open",
    "codes": ["P0155"],
    "part": ["front-sensor-2", "front oxygen sensor of bank 2", "oxygen-sensor"],
    "bench": ["winding", ">40000000", "7.8", limited("ohm", "2", "20")],
    "test": ["45", "81", "0E", 0, 1100, 500, 65535],
    "path": "monitor result",
}
LEAN_2 = {
    "name": "intake gasket of bank 2 leaks",
    "codes": ["P0174"],
    "part": ["intake-gasket-2", "intake gasket of bank 2", "intake"],
    "bench": ["seal-hold", "5.0", "17.7", limited("inHg", "15.0")],
    "days": 3,
    "path": "watched and measured",
}
COIL_4 = {
    "name": "ignition coil of cylinder 4 open, its counter without a limit",
    "codes": ["P0304"],
    "part": ["coil-4", "ignition coil of cylinder 4", "ignition"],
    "bench": ["winding", ">40000", "10.8", limited("kohm", "5", "20")],
    "test": ["A5", "0C", "24", 60, 0, 0, 65535],
    "path": "monitor result",
}
WHEEL = {
    "name": "wheel speed sensor, front right, open",
    "codes": ["C0040"],
    "module": BRAKES,
    "part": ["wheel-sensor", "wheel speed sensor, front right", "brakes"],
    "bench": ["winding", ">40000", "1.28", limited("kohm", "0.8", "2.5")],
    "status": True,
    "path": "code status",
}
INPUT_SPEED = {
    "name": "input speed sensor of the gearbox open",
    "codes": ["P0717"],
    "module": GEARBOX,
    "pointer": "P0700",
    "part": ["input-sensor", "input speed sensor", "transmission"],
    "bench": ["winding", ">40000", "0.52", limited("kohm", "0.4", "0.65")],
    "status": True,
    "days": 2,
    "path": "code status",
}
PURGE_OPEN = {
    "name": "purge valve's winding open, never cleared",
    "codes": ["P0443"],
    "part": ["purge-valve", "purge valve", "evap"],
    "bench": ["winding", ">40000", "24.6", limited("ohm", "20", "30")],
    "clear": False,
    "days": 5,
    "path": "lamp went off",
}


# What several of them do.


def listed(said, service: str, code: str, status: int, kind: int = 0) -> None:
    """Let a report of service 19 list one code more, of this failure type."""
    body = code_bytes(code) + bytes([kind, status])
    found = [one for one in said if one[0].startswith(service)]
    assert found
    for one in found:
        one[1] = [(who, payload + body) for who, payload in one[1]]


def lit_by(said, *codes: str) -> None:
    """Let the engine module store these codes, count them and light the lamp."""
    with_codes(said, "03", ENGINE, list(codes))
    with_bytes(said, "0101", bytes([0x80 | len(codes)]) + bytes.fromhex("07E500"))


def result(ids: str, value: int, low: int, high: int) -> bytes:
    """Return one result of service 06: of this monitor, test and scaling."""
    return bytes.fromhex(ids) + word(value) + word(low) + word(high)


def tested_as(test: dict, value: str, **limit: str) -> None:
    """Let a winding be read as this, and be held against this limit."""
    reading = test["readings"][0]
    reading.pop("above", None)
    reading["value"] = value
    test["limit"] |= limit


def with_value(value: int):
    """Return what gives a result of service 06 another value."""
    return lambda payload: payload[:4] + word(value) + payload[6:]


# The fault, and the part that is said to explain it.


@lie(WHEEL, KNOWN, kind=CLEVER)
def wheel_test_had_never_completed(d):
    """The brakes list the code as not tested since the clear, and not as failed.

    Section 2: a readout before the repair in which its module reports it.
    """
    edit(d.before, lambda s: status_is(s, "C0040", NOT_RUN))


@lie(COOLANT, KNOWN, kind=CLEVER)
def last_winters_code_is_sold_as_todays(d):
    """No lamp, nothing pending: the code is stored, and has been good for cycles.

    Section 2: history alone only with a failing result of its own monitor.
    """

    def history(said):
        with_bytes(said, "0101", bytes.fromhex("0107E500"))
        with_codes(said, "07", ENGINE, [])

    edit(d.before, history)


@lie(INJECTOR_OPEN, KNOWN, typed=True, kind=CLEVER)
def plug_is_pulled_in_the_yard(d):
    """The lamp has been on for five minutes and no kilometre; it came 20 minutes ago.

    Section 2: lamp distance and minutes say that it is younger than the visit: `word`,
    which is told, and which is no more than vouched.
    """
    also_said(d.before, "0121", "41210000")
    also_said(d.before, "014D", "414D0005")


@lie(AIR_PUMP, EXPLAINS, kind=CLEVER)
def generator_is_sold_for_the_air_pump(d):
    """Section 2: the row calls the part's system plausible; no reason is given."""
    renamed(d, "air-pump", "generator")
    renamed(d, "secondary air pump", "generator")
    d.of("diagnosis")[0]["suspect_parts"][0]["system"] = "charging"
    in_time(d)


@lie(DECLINED, ELSE, EXPLAINS, RERAN, PASSED, GONE, kind=CLEVER)
def valve_is_charged_for_the_declined_code_too(d):
    """P0420 is set aside, and named as what the new valve is for.

    Section 1: a set-aside is never of a code for which a part was worked on.
    """
    both = ["P0401", "P0420"]
    d.of("diagnosis")[0]["codes"] = both
    d.of("diagnosis")[0]["suspect_parts"] = [suspect(d, codes=both)]
    d.of("repair")[0]["codes"] = both


# Bench tests.


@lie(INJECTOR_OPEN, AT_FAULT, kind=CLEVER)
def winding_is_a_hair_over(d):
    """18.04 ohm, at most 18, by a meter of half a percent.

    Section 2: faulty beyond its uncertainty.
    """
    tested_as(d.old_test, "18.04")


@lie(INJECTOR_OPEN, AT_FAULT, typed=True, kind=CLEVER)
def old_injector_is_measured_after_the_new_one_is_in(d):
    """The repair ends at 10:30; what was in the bin is measured at 11:05.

    Section 2: a bench test of that part before it was worked on. That the piece came
    out of there is what somebody typed.
    """
    d.old_test["at"] = at("11:05")
    in_time(d)


@lie(PURGE, AT_FAULT, kind=CLEVER)
def no_valve_could_hold_so_much(d):
    """18.0 inHg are pumped, 17.8 stay, and 18.5 are asked for.

    Section 8: limit out of reach; section 2: the valve is not shown to be faulty.
    """
    read_of(d.old_test, "end pressure", value="17.8")
    d.old_test["limit"]["minimum"] = "18.5"


@lie(INJECTOR, AT_FAULT, kind=CLEVER)
def worst_of_the_set_stays_in(d):
    """Cylinder 2 gives too little; the injector of cylinder 1 is replaced.

    Section 2: a bench test of that part, faulty; X where it is good.
    """
    readings = d.old_test["readings"]
    own = next(one for one in readings if one["which"] == "cylinder 1")
    other = next(one for one in readings if one["which"] == "cylinder 2")
    own["which"], other["which"] = other["which"], own["which"]


@lie(CAT, AT_FAULT, kind=CLEVER)
def leaking_joint_is_overlooked(d):
    """The joint before the rear sensor holds nothing; the catalyst is sold.

    Section 2: what the row says to rule out first was tested good.
    """
    read_of(bench_test_of(d, "exhaust-joint"), "end pressure", value="4.0")


@lie(INJECTOR_OPEN, AT_FAULT, kind=CLEVER)
def injector_is_measured_hot(d):
    """21.5 ohm of copper at 110 degC are 15.9 at 20: a good one.

    Section 2: X, the only cause was tested good by that method.
    """
    tested_as(d.old_test, "21.5")
    d.old_test["conditions"] |= {
        "winding temperature": {"value": "110.0", "unit": "degC"},
        "conductor": "copper",
    }
    in_time(d)


@lie(INJECTOR_OPEN, AT_FAULT, kind=LATE)
def good_winding_is_corrected_on_the_next_day(d):
    """14.8 ohm were written; after the repair they are amended to an open winding.

    Section 6: from then on an amendment can take away, never give.
    """
    told = copy.deepcopy(d.old_test)
    tested_as(d.old_test, "14.8")
    corrected(d, d.old_test, told, at("10:00", 1))


# That the vehicle's own test ran again, and passed.


@lie(HEATER_2, RERAN, PASSED, kind=CLEVER)
def heater_of_the_other_bank_is_tested(d):
    """The results are of monitor 41, of bank 1. Section 4: ids of the row.

    Section 8: self-test of another bank.
    """
    for readout in (d.before, d.after):
        edit(readout, lambda s: renumbered(s, "0645", "0641"))


@lie(CAP, RERAN, PASSED, kind=CLEVER)
def only_the_test_that_always_passed_is_read_again(d):
    """Of two tests of the monitor 82 failed, and 81 alone is read afterwards.

    Section 4: inside those read before; another test id shows nothing.
    """
    good = result("3C 81 FD", 110, 0, 400)
    bad = result("3C 82 FD", 880, 0, 400)
    edit(d.before, lambda s: with_test(s, 0, lambda p: p[:1] + good + bad))


@lie(CAT, RERAN, PASSED, kind=CLEVER)
def catalyst_passed_two_minutes_after_a_clear(d):
    """No kilometre, no warm-up since. Section 4: sooner than the row's soonest."""
    edit(d.after, lambda s: with_counts(s, warm_ups=0, distance=0, minutes=2))


@lie(AIR_PUMP, PASSED, kind=CLEVER)
def pass_is_typed_beside_a_failing_result(d):
    """The bytes say 900, at least 1500; the shop types 2400 and passed.

    Section 3: a typed result counts only where no raw readout holds one.
    """
    edit(d.after, lambda s: with_test(s, 0, with_value(900)))
    typed = event(
        "self_test",
        "08:20",
        1,
        monitor="secondary air",
        mid="71",
        tid="81",
        outcome="passed",
        seen_on="display (invented)",
        value={"value": "2400", "unit": "1"},
        minimum={"value": "1500", "unit": "1"},
    )
    d.put(typed, after=d.after)


@lie(COIL_4, PASSED, kind=CLEVER)
def misfire_was_never_counted(d):
    """Its counter, which has no limit, stood at 0 before too.

    Section 4: above 0 before, 0 over a completed cycle after.
    """
    edit(d.before, lambda s: with_test(s, 0, with_value(0)))


@lie(PERM, GONE, kind=CLEVER)
def permanent_codes_are_refused_the_second_time(d):
    """Section 2: asked by the services in which it had answered."""

    def refused(said):
        answers(said, "0A")[:] = [(ENGINE, bytes.fromhex("7F0A11"))]

    edit(d.after, refused)


@lie(PERM, RERAN, PASSED, kind=CLEVER)
def permanent_code_is_programmed_away(d):
    """A new calibration is written, named and read: that erases it, not a test.

    Section 4: answers 0A without it, calibrations read and equal.
    """
    edit(d.after, recalibrated)
    d.put(programming("DEMO-ENG-0002"), after=d.of("repair")[0])
    in_time(d)


@lie(HEALED, RERAN, PASSED, kind=CLEVER)
def lamp_is_put_out_by_a_clear_that_nobody_wrote_down(d):
    """The counts since the clear stood at 40, 2000 and 3000, and are lower now.

    Section 4: they went on without a clear.
    """
    edit(d.after, lambda s: with_counts(s, warm_ups=15, distance=300, minutes=450))


@lie(HEALED, RERAN, PASSED, kind=CLEVER)
def lamp_was_lit_by_two(d):
    """P0102 lit it too, and is set aside as watched.

    Section 4: the lamp was on for this code alone.
    """
    edit(d.before, lambda s: lit_by(s, "P0340", "P0102"))
    diagnosis = d.of("diagnosis")[0]
    diagnosis["set_aside"] = set_aside(["P0102"], "watched")


@lie(LEAN_2, RERAN, PASSED, kind=CLEVER)
def full_load_is_looked_for_in_town(d):
    """It was lean at 4200 rpm and 90 %, and is driven at 1840 rpm and 42 %.

    Section 4: within rpm 375 and load 20 % of this code's freeze frame.
    """

    def at_full_load(said):
        with_frame(said, "0C", word(4200 * 4))
        with_frame(said, "04", bytes([230]))

    edit(d.before, at_full_load)


@lie(CHARGE, RERAN, PASSED, kind=CLEVER)
def lead_is_still_bad_by_the_old_limit(d):
    """0.70 V now, held against 1.00: the old one had to stay below 0.30.

    Section 4: good by the same method and limit.
    """
    read_of(d.new_test, "voltage drop", value="0.70")
    d.new_test["limit"]["maximum"] = "1.00"


@lie(THERMO, RERAN, PASSED, kind=CLEVER)
def another_thermostat_is_measured(d):
    """One from the shelf, known to be good. Section 4: the part now fitted."""
    d.new_test["of"] = "known-good"


# That the fault is gone, and nothing else is left.


@lie(HEATER_2, GONE, ELSE, kind=CLEVER)
def heaters_other_code_is_set_aside_afterwards(d):
    """P0051 lights the lamp after the clear: the heater's circuit at the same place.

    Section 1: a code of its row and place that is new cannot be set aside.
    """
    edit(d.after, lambda s: lit_by(s, "P0051"))
    told = copy.deepcopy(d.of("diagnosis")[0])
    told |= {"at": at("08:30", 1), "codes": [], "suspect_parts": []}
    told["set_aside"] = set_aside(["P0051"], "watched")
    d.put(told, after=d.after)


@lie(DECLINED, GONE, kind=CLEVER)
def two_are_counted_and_one_is_listed(d):
    """Section 2: its count fits its list."""
    edit(d.after, lambda s: with_bytes(s, "0101", bytes.fromhex("8207E500")))


@lie(INPUT_SPEED, GONE, kind=CLEVER)
def engine_module_still_asks_for_the_lamp(d):
    """The gearbox is clean, P0700 is back. Section 2: in 03 after a clear again."""
    edit(d.after, lambda s: lit_by(s, "P0700"))


@lie(COOLANT_UDS, GONE, ELSE, kind=ODD)
def code_comes_back_with_another_failure_type(d):
    """P0118-13 fails now, P0118-00 does not.

    Section 2: a code of its row and place after a clear.
    """
    edit(d.after, lambda s: listed(s, "19", "P0118", FAILING, 0x13))


@lie(AIR_PUMP, GONE, RERAN, PASSED, kind=CLEVER)
def failure_of_the_afternoon_is_cleared_away(d):
    """The code is back at 14:00; it is cleared again, and nothing is repaired.

    Section 2: an attempt that did not heal is open for the next, and there is none.
    """
    again = copy.deepcopy(d.before)
    again |= {"at": at("14:00"), "captured": at("14:00")}

    def failed_again(said):
        with_counts(said, warm_ups=1, distance=27, minutes=35, went=27)
        with_rises(said, 1, 1)
        with_test(said, 0, with_value(420))

    edit(again, failed_again)
    second = event("code_clear", "14:30", tool="adapter (invented)")
    d.put(again, after=d.of("road_test")[0])
    d.put(second, after=again)
    edit(d.after, lambda s: with_counts(s, distance=33, minutes=60))


@lie(WHEEL, ELSE, kind=CLEVER)
def other_wheels_code_goes_with_the_clear(d):
    """C0050 failed before too, and nobody speaks of it.

    Section 2: every other code that the record holds, before and after.
    """
    edit(d.before, lambda s: listed(s, "19", "C0050", FAILING))


@lie(SOOT, ELSE, AT_FAULT, kind=CLEVER)
def filter_is_burnt_free_and_the_injector_drips_on(d):
    """Section 1: a regeneration is a step, no part; so the code is not addressed."""
    whole = d.of("repair")[0]
    whole |= {"part": "filter", "action": "regenerated", "step": "regeneration"}
    del whole["part_number"], whole["old_part"]
    in_time(d)


@lie(DECLINED, ELSE, kind=LATE)
def customer_is_said_to_have_declined_afterwards(d):
    """The diagnosis is amended on the third day, when P0420 was left.

    Section 6: an amendment can take away, never give.
    """
    diagnosis = d.of("diagnosis")[0]
    told = copy.deepcopy(diagnosis)
    del diagnosis["set_aside"]
    corrected(d, diagnosis, told, at("09:00", 3))


@lie(COOLANT, GONE, kind=CLEVER, way="screen")
def display_is_not_asked_for_pending_codes(d):
    """It was before. Section 2: asked by the services in which it had answered."""
    del d.after["typed"]["modules"][0]["pending"]


# The vehicle, the times, and the cautions.


@lie(AIR_PUMP, SAME, kind=CLEVER)
def sister_van_gets_the_bill(d):
    """All is read of one van, and written for another, whose VIN is a good one.

    Section 2: VIN read before and after, equal to the written one.
    """
    d.of("opening")[0]["vehicle"]["vin"] = "0ZZTB1A11CA000125"


@lie(EGR, SAME, kind=CLEVER)
def calibration_read_is_not_the_one_named(d):
    """DEMO-ENG-0003 is named, DEMO-ENG-0002 is read.

    Section 2: a reprogramming names the calibration, and it is read.
    """
    edit(d.after, recalibrated)
    d.put(programming("DEMO-ENG-0003"), after=d.of("repair")[0])
    in_time(d)


@lie(LEAN_2, SAME, kind=CLEVER)
def calibrations_are_not_asked_again(d):
    """Section 2: marks are read again where they were read before."""
    edit(d.after, lambda s: without(s, "0904", "0906"))


@lie(PURGE, SAME, RERAN, PASSED, GONE, TIME, kind=CLEVER)
def first_readout_is_cleaned_and_handed_in_again(d):
    """No count moves: codes and lamp are taken out, and a passing value put in.

    Sections 2 and 5: a count that only rises has risen; a copy is a readout whose live
    and counting values all equal another's.
    """
    d.after["raw"] = d.before["raw"]
    edit(d.after, free_of_codes)
    edit(d.after, lambda s: with_test(s, 0, with_value(200)))


@lie(AIR_PUMP, TIME, kind=LATE)
def tomorrows_readout_is_written_tonight(d):
    """It is recorded at 18:00, and said to be of the next morning.

    Section 2: times lie before `recorded_at`.
    """
    recorded = [one["at"] for one in d.events]
    recorded[d.events.index(d.after)] = at("18:00")
    d.recorded[:] = recorded


@lie(EGR, HAZARDS, kind=CLEVER)
def cautions_are_ticked_in_the_evening(d):
    """All of them at 16:00, when the work was done. Section 2: before the step."""
    cautions = d.of("caution")
    for one in cautions:
        one["at"] = at("16:00")
        if "second_confirmation" in one:
            one["second_confirmation"]["at"] = shifted(at("16:00"), seconds=40)
    kept = [one for one in d.events if one["kind"] != "caution"]
    place = kept.index(d.after)
    d.events[:] = [*kept[:place], *cautions, *kept[place:]]


@lie(PUMP, HAZARDS, kind=CLEVER)
def fuel_line_is_opened_under_pressure(d):
    """250 kPa are left in it. Section 2: preconditions are met."""
    told_as(d, "residual pressure", value="250")


# Honest ones.


@honest(HEATER_2, "proven")
def heater_is_read_after_a_drive_on_the_same_day(d):
    """Its monitor runs within minutes of a cold start. Section 4: run again, inside."""
    drive = ("13:00", "13:50")
    read_at(d, "14:10", drive, warm_ups=1, distance=41, minutes=48)
    edit(d.after, lambda s: with_rises(s, 1, 1))


@honest(COIL_4, "proven")
def misfire_counter_has_no_limit(d):
    """Section 4: above 0 before, 0 over a completed cycle after."""
    complaint(d, "It shakes when it is cold.")


@honest(INJECTOR_OPEN, "proven")
def second_mechanic_changes_the_injector(d):
    """One measures, another repairs and acknowledges what the repair calls for."""
    for kind in ("repair", "code_clear", "road_test"):
        d.of(kind)[0]["by"] = "mechanic-2"
    in_time(d)


@honest(INJECTOR_OPEN, "proven")
def slip_in_a_limit_is_corrected_at_once(d):
    """8 ohm was typed for 18. Section 6: before a step rests on it, it is replaced."""
    told = copy.deepcopy(d.old_test)
    d.old_test["limit"] |= {"minimum": "1", "maximum": "8"}
    slip = {"corrects": d.events.index(d.old_test), "why": "a slip", "event": told}
    d.put(event("amendment", "09:20", **slip), after=d.old_test)


@honest(AIR_PUMP, "proven")
def first_look_in_the_afternoon_is_too_early(d):
    """The pump's test has not run by 14:00: zeros; on the next day it has."""
    early = copy.deepcopy(d.after)
    early |= {"at": at("14:00"), "captured": at("14:00")}

    def not_yet(said):
        with_counts(said, warm_ups=1, distance=27, minutes=35, went=27)
        with_rises(said, 0, 1)
        with_bytes(said, "0101", bytes.fromhex("0007E510"))
        with_test(said, 0, lambda p: p[:4] + bytes(6))

    edit(early, not_yet)
    d.put(early, after=d.of("road_test")[0])


@honest(PURGE_OPEN, "proven")
def code_stays_as_history_when_the_lamp_is_off(d):
    """Section 2: history is gone enough where the test ran and passed."""

    def history(said):
        with_codes(said, "03", ENGINE, ["P0443"])
        with_bytes(said, "0101", bytes.fromhex("0107E500"))

    edit(d.after, history)


@honest(AIR_PUMP, "vouched", way="hand")
def pump_with_results_from_the_display(d):
    """Section 3: what is typed can fill a question, and ends vouched."""
    complaint(d, "The lamp came on in the frost.")


@honest(WHEEL, "unproven", way="cut", waiting=True)
def brakes_are_not_read_before_it_goes_home(d):
    """Section 2: a later readout can show the rest."""
    complaint(d, "The lamp of the brakes is on.")


@honest(EGR, "proven")
def engine_is_programmed_by_the_makers_bulletin_too(d):
    """Section 2: marks changed by a recorded cause that explains exactly these."""
    edit(d.after, recalibrated)
    d.put(programming("DEMO-ENG-0002"), after=d.of("repair")[0])
    in_time(d)


@honest(COOLANT, "proven")
def sensor_is_measured_when_it_is_out(d):
    """The repair lasts from 10:00 to 10:30. Section 1: also taken off, until then."""
    move(d.old_test, minutes=65)
    in_time(d)
