"""A fifth fifty of bogus records and twelve honest twists, by an independent hand.

Whoever wrote them had read the schemas, the honest jobs and the earlier sets of fifty;
the rules and the families had not been read. Form and promise are those of the second
fifty, the three kinds those of the fourth. Beside each lie stands what in the record
shows it.

The first run: 31 of 50 as expected, and 12 of 12. Nineteen came out proven. Seventeen
of them led to a rule that was mended: a fault that had healed, a misfire at rest, a
part of another sensor or wheel, an instrument with two limits of error, misfires of all
cylinders, a module that still says that its own quantity is wrong (coolant, engine
speed, the loop of the mixture), a permanent code erased without a warm-up, a lamp that
is still asked for, another emission requirement, a drive of 540 km/h, an engine that
was off while it ran, nobody who agreed, more tests than cycles, an answer byte by byte.
Of these, four expectations were not fair as they were written, and say so. One lie was
none, and stands among the twists; one is left.
"""

import copy
import re

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
    edit,
    shifted,
    with_bytes,
    with_codes,
    with_test,
)
from truth.changes import (
    CLEAN_07,
    CLEVER,
    LATE,
    ODD,
    acknowledge_again,
    also_said,
    answered,
    corrected,
    read_at,
    recorder,
    renamed,
    set_aside,
    status_is,
    told_as,
    told_in,
    with_frame,
)
from truth.jobs import at
from truth.named_jobs import (
    AIR,
    BUS,
    CAP,
    CAT,
    COIL,
    CRANK,
    DECLINED,
    EGR,
    HEALED,
    INJECTOR,
    LEAN,
    NEWER,
    PEDAL,
    PERM,
    PURGE,
    THERMO,
)
from truth.said import code_bytes, parsed, text_of, word
from truth.vehicle_counts import (
    CATALYST_MET,
    CATALYST_RAN,
    EGR_RAN,
    with_counts,
    with_rises,
)

LIES: list[tuple] = []
TWISTS: list[tuple] = []
LEFT: list[tuple] = []
"""What comes out proven, and why it is left so stands beside it."""
lie, twist = recorder(LIES, TWISTS)
left, _ = recorder(LEFT, [])
HEATER, SLOW = "14: sensor heater open", "15: oxygen sensor slow"
WHEEL = "25: wheel speed sensor open"


# What somebody would do to have it paid, or passed.


@lie(COIL, KNOWN, typed=True, kind=CLEVER)
def misfire_with_a_standing_engine(d):
    """The freeze frame: 0 rpm, 0 km/h. What does not turn does not misfire.

    At first vouched was not accepted: an engine that misfires may stall, and a module
    may keep the frame then.
    """

    def change(said):
        for pid, data in {"0C": word(0), "0D": b"\0", "04": b"\0"}.items():
            with_frame(said, pid, data)

    edit(d.before, change)


@lie(EGR, KNOWN, kind=CLEVER)
def sold_for_a_fault_that_had_healed(d):
    """Lamp off, nothing pending, its own result inside its limits: history alone."""

    def change(said):
        with_codes(said, "07", "7E8", [])
        with_bytes(said, "0101", b"\x01\x07\xe5\x00")
        with_test(said, 0, lambda p: p[:4] + word(590) + p[6:])

    edit(d.before, change)


@lie(SLOW, EXPLAINS, kind=CLEVER)
def sensor_of_the_other_bank(d):
    """The part's name says bank 2; P0133 is of bank 1 (SAE J2012)."""
    renamed(d, "front oxygen sensor", "front oxygen sensor of bank 2")


@lie(HEATER, EXPLAINS, kind=CLEVER)
def sensor_behind_the_catalyst_for_the_one_before_it(d):
    """The part's name says downstream; P0135 is of sensor 1, upstream (SAE J2012).

    At first it said rear: where an engine stands crosswise, bank 1 is its rear one.
    """
    renamed(d, "front oxygen sensor", "downstream oxygen sensor of bank 1")
    renamed(d, "front-sensor", "rear-sensor")


@lie(WHEEL, EXPLAINS, typed=True, kind=CLEVER)
def sensor_of_the_other_wheel(d):
    """The part's name says rear right; C0035 is of the left front (SAE J2012)."""
    renamed(d, "front left", "rear right")


@lie(THERMO, AT_FAULT, kind=CLEVER)
def above_fifty_eight_against_a_minimum_of_eighty(d):
    """What was above 58 degC may have been 88: the reading itself says nothing."""
    reading = d.old_test["readings"][0]
    reading["above"] = reading.pop("value")


@lie(AIR, PASSED, kind=CLEVER)
def new_sensor_reads_more_than_two_kilohm(d):
    """Above 2.1 kohm, where the maximum is 3.0: may be open like the old one."""
    reading = d.new_test["readings"][0]
    del reading["value"]
    reading["above"] = "2.1"


@lie(THERMO, AT_FAULT, kind=CLEVER)
def certificate_doubts_thirty_degrees(d):
    """Its certificate states U = 30 K with k = 2: 58 is not shown to be below 80."""
    meter = d.old_test["instruments"][0]["specification"]
    meter |= {"certificate_u": "30", "certificate_k": "2"}


@lie(THERMO, AT_FAULT, typed=True, kind=CLEVER)
def thermometer_is_better_the_second_time(d):
    """One instrument, one certificate, one range, and two limits of error.

    By the first, nothing is shown; by the second the same reading condemns the part. At
    first vouched was not accepted: limits of error are typed, and may be corrected.
    """
    first = copy.deepcopy(d.old_test)
    first["at"] = at("09:05")
    first["instruments"][0]["specification"]["absolute"] = "40"
    d.events.insert(d.events.index(d.old_test), first)
    acknowledge_again(d)


@lie(EGR, AT_FAULT, typed=True, kind=CLEVER)
def seen_by_the_seller_alone(d):
    """There is neither a reading nor a picture of it."""
    test = d.old_test
    for name in ("method", "readings", "conditions", "instruments", "limit"):
        del test[name]
    test["finding"] = {"seen": "worn out, sticks now and then", "is_fault": True}


@lie(PEDAL, AT_FAULT, kind=CLEVER)
def jump_is_where_the_pointer_stood(d):
    """At 7 deg, 0.90 V is what the stated line of the sensor asks for, within 0.2 V."""
    d.old_test["readings"][1]["value"] = "7"


@lie(COIL, PASSED, kind=CLEVER)
def engine_as_a_whole_misfires_as_before(d):
    """Monitor A1, misfires of all cylinders: 40, at most 10, before and after."""
    failed = b"\x46\xa1\x0b\x24" + word(40) + word(0) + word(10)
    for one in (d.before, d.after):
        also_said(one, "06A1", failed.hex())


@lie(THERMO, PASSED, kind=CLEVER)
def coolant_still_stays_at_sixty(d):
    """PID 05 after a quarter of an hour at 60 km/h: 60 degC, as in the freeze frame.

    The part's own limit is 80 degC at least. At first it was 70 degC, which a vehicle
    calls warm: it lies within 11 K of that (13 CCR 1968.2(e)(10.2.1)(A)).
    """
    edit(d.before, lambda s: with_frame(s, "05", bytes([60 + 40])))
    edit(d.after, lambda s: with_bytes(s, "0105", bytes([60 + 40])))


@lie(CRANK, RERAN, PASSED, kind=CLEVER)
def no_engine_speed_at_sixty(d):
    """PID 0C says 0 rpm, with load, at 62 km/h: the very signal that had failed."""
    edit(d.after, lambda s: with_bytes(s, "010C", word(0)))


@lie(LEAN, PASSED, GONE, kind=CLEVER)
def open_loop_because_of_a_failure(d):
    """PID 03 says 08: open loop because of a detected failure (ISO 15031-5)."""
    also_said(d.before, "0103", "41 03 02 00")
    also_said(d.after, "0103", "41 03 08 00")


@left(CAT, PASSED, RERAN, SAME, TIME, kind=CLEVER)
def catalyst_test_that_the_vehicle_did_not_count(d):
    """The result is new since the clear, the count of completed tests is the old one.

    A completed test is counted within ten seconds (13 CCR 1968.2(d)(4.3), from memory).
    It comes out proven, and stays so: a module shows but one of several tests that it
    counts (of sensors, of EGR and valve timing the one with the lowest ratio, of leaks
    the smallest), and pauses its counts; a rule would turn honest results away.
    It is told as advice.
    """
    edit(d.after, lambda s: with_rises(s, 4, 12, {CATALYST_RAN: 0}))


@lie(EGR, GONE, PASSED, SAME, TIME, kind=CLEVER)
def lamp_was_on_for_half_an_hour_since_the_clear(d):
    """PID 4D: 30 minutes run with the lamp on; a clear puts it to nought."""
    also_said(d.after, "014D", "41 4D 00 1E")


@lie(PERM, PASSED, RERAN, SAME, TIME, kind=CLEVER)
def permanent_code_erased_within_five_minutes(d):
    """No warm-up and five minutes since the clear, coolant 50 degC at most.

    No vehicle erases a permanent code before its own test, or the general drive of ten
    minutes (13 CCR 1968.2(d)(2.5), from memory).
    """
    read_at(d, "12:00", ("11:50", "11:55"), warm_ups=0, distance=3, minutes=5)
    road = d.of("road_test")[0]
    road |= {"conditions": "round the block, from cold"}

    def change(said):
        with_rises(said, 0, 2)
        with_bytes(said, "011F", word(290))
        with_bytes(said, "0105", bytes([50 + 40]))

    edit(d.after, change)


@lie(HEALED, PASSED, RERAN, SAME, TIME, kind=CLEVER)
def lamp_went_off_within_one_start(d):
    """The ignition count rose by one, warm-ups by one: three cycles it would take."""

    def change(said):
        with_counts(said, warm_ups=41, distance=2030, minutes=3035, went=30)
        with_rises(said, 1, 1)

    edit(d.after, change)


@lie(HEALED, PASSED, RERAN, SAME, TIME, kind=CLEVER)
def put_out_with_the_battery_s_lead(d):
    """The counts since the clear begin anew, and no clear is told."""
    edit(d.after, lambda s: with_counts(s, warm_ups=15, distance=300, minutes=450))


@lie(NEWER, KNOWN, kind=CLEVER)
def module_had_never_seen_it_fail(d):
    """Status 50 before: not completed since the clear nor in this cycle; no failure."""
    edit(d.before, lambda s: status_is(s, "P0113", 0x50))


@lie(NEWER, GONE, PASSED, kind=CLEVER)
def pending_again_by_its_status(d):
    """Status 04 after: a pending code (ISO 14229-1, bit 2)."""
    edit(d.after, lambda s: status_is(s, "P0113", 0x04))


@lie(BUS, GONE, PASSED, kind=CLEVER)
def module_still_asks_for_its_lamp(d):
    """Status 80 after: the warning indicator is requested (ISO 14229-1, bit 7)."""
    edit(d.after, lambda s: status_is(s, "U0100", 0x80))


@lie(EGR, SAME, kind=CLEVER)
def burns_another_fuel_the_next_day(d):
    """PID 51: gasoline before, diesel after."""
    also_said(d.before, "0151", "41 51 01")
    also_said(d.after, "0151", "41 51 04")


@lie(EGR, SAME, kind=CLEVER)
def made_for_another_emission_step(d):
    """PID 5F, the requirement it was built to: another one after."""
    also_said(d.before, "015F", "41 5F 0E")
    also_said(d.after, "015F", "41 5F 10")


@lie(EGR, SAME, kind=CLEVER)
def second_calibration_is_gone(d):
    """Two calibrations with two numbers before, one of them after."""
    two = [b"DEMO-ENG-0001", b"DEMO-GBX-0007"]

    def change(said):
        ids = b"".join(one.ljust(16, b"\0") for one in two)
        with_bytes(said, "0904", b"\x02" + ids)
        with_bytes(said, "0906", bytes.fromhex("02 1791BC82 55667788"))

    edit(d.before, change)


@lie(EGR, TIME, KNOWN, AT_FAULT, kind=CLEVER)
def work_had_begun_before_the_car_was_there(d):
    """The repair started at 06:30; the order was opened at 07:50, read at 08:10."""
    d.of("repair")[0]["started"] = at("06:30")
    acknowledge_again(d)


@lie(EGR, TIME, typed=True, kind=CLEVER)
def twenty_seven_kilometres_in_three_minutes(d):
    """540 km/h, by the road test's own start, end and distance."""
    road = d.of("road_test")[0]
    road |= {"at": at("12:03"), "end": at("12:03")}


@lie(EGR, HAZARDS, kind=CLEVER)
def van_heavier_than_the_lift_bears(d):
    """3,900 kg on a lift of 3,500 kg."""
    d.of("diagnosis")[0]["suspect_parts"][0]["where"] = ["below"]
    acknowledge_again(d)
    told_as(d, "vehicle mass", value="3900")


@lie(CAP, HAZARDS, kind=CLEVER)
def danger_confirmed_before_it_was_shown(d):
    """The second confirmation is ten minutes older than the first."""
    for one in d.of("caution"):
        if "second_confirmation" in one:
            one["second_confirmation"]["at"] = shifted(one["at"], minutes=-10)


@lie(INJECTOR, HAZARDS, kind=CLEVER)
def engine_had_been_off_for_two_hours(d):
    """It ran at 08:10 (PID 0C, 1F), an hour before whoever says so."""

    def change(said):
        with_bytes(said, "010C", word(900 * 4))
        with_bytes(said, "0104", b"\x40")
        with_bytes(said, "011F", word(20))

    edit(d.before, change)
    told_in(d, "time since stop")[0]["time since stop"]["value"] = "120"


@lie(DECLINED, ELSE, GONE, PASSED, EXPLAINS, kind=CLEVER)
def valve_sold_for_the_declined_code_too(d):
    """The repair names P0420, which the customer declined and which is still there."""
    d.of("repair")[0]["codes"] = ["P0401", "P0420"]


@lie(DECLINED, ELSE, typed=True, kind=CLEVER)
def declined_by_a_blank(d):
    """Who agreed is a space."""
    d.of("diagnosis")[0]["set_aside"][0]["agreed_by"] = " "


@lie(EGR, GONE, way="screen", kind=CLEVER)
def display_shows_it_as_permanent(d):
    """The display's own list of permanent codes, after."""
    d.after["typed"]["modules"][0]["permanent"] = ["P0401"]


@lie(EGR, ELSE, kind=CLEVER)
def brake_module_s_own_code_by_the_newer_service(d):
    """Service 19 of the brake module after: C0035, failed and confirmed."""
    body = b"\x59\x02\xff" + code_bytes("C0035") + b"\0\x09"
    also_said(d.after, "1902FF", body.hex(), "7EA")


@lie(PURGE, AT_FAULT, TIME, kind=LATE)
def limit_corrected_once_it_was_found_good(d):
    """As recorded, 9.0 inHg were enough; as corrected three days later, they fail."""
    test = d.old_test
    told = copy.deepcopy(test)
    test["limit"]["minimum"] = "5.0"
    corrected(d, test, told, at("08:30", 3))


@lie(EGR, TIME, kind=LATE)
def read_an_hour_later_by_the_tool_s_own_clock(d):
    """One tool's stamps lie an hour apart; what is told is a day."""
    for one, clock in ((d.before, "08:10:00"), (d.after, "09:10:00")):
        one["raw"] = re.sub("(?m)^7E8", f"2026-03-02 {clock} 7E8", one["raw"])


# What is hidden in the form.


@lie(PURGE, AT_FAULT, kind=ODD)
def vacuum_gauge_read_as_an_absolute_one(d):
    """The gauge's unit says vacuum, the condition says absolute.

    No leak lets an absolute pressure fall below the one around it.
    """
    d.old_test["conditions"]["pressure reference"] = "absolute"


@lie(EGR, SAME, TIME, RERAN, PASSED, kind=ODD)
def test_completed_fifty_times_in_six_starts(d):
    """A cycle counts a completed test once (13 CCR 1968.2(d)(4), from memory)."""
    edit(d.after, lambda s: with_rises(s, 2, 6, {EGR_RAN: 50}))


@lie(EGR, SAME, TIME, kind=ODD)
def one_counter_went_back(d):
    """Ten less of the catalyst's conditions; a clear leaves these counters alone."""
    edit(d.after, lambda s: with_rises(s, 2, 6, {CATALYST_MET: -10}))


@lie(EGR, SAME, kind=ODD)
def another_map_of_the_vehicle_s_information(d):
    """Service 09's own map of what it answers differs."""
    also_said(d.before, "0900", "49 00 55 40 00 00")
    also_said(d.after, "0900", "49 00 54 40 00 00")


@lie(EGR, SAME, GONE, PASSED, kind=ODD)
def speaks_over_an_older_bus_the_next_day(d):
    """Frames of CAN before; three header bytes and a sum after."""
    d.after["raw"] = text_of(parsed(d.after["raw"]), kline=True)


@lie(EGR, GONE, kind=ODD)
def pending_digit_by_digit(d):
    """The line is there, and none of a form that may be passed over."""
    answered(d.after, "07", "7 E 8 0 4 4 7 0 1 0 4 0 1 A A A A A A", CLEAN_07)


@lie(EGR, GONE, kind=ODD)
def pending_as_a_program_keeps_it(d):
    """The same answer as JSON, above the empty one."""
    answered(d.after, "07", '{"id": "7E8", "data": "0447010401AAAAAA"}', CLEAN_07)


@lie(EGR, GONE, kind=ODD)
def pending_marked_as_received(d):
    """The same answer with a mark before it, above the empty one."""
    answered(d.after, "07", "RX 7E8 04 47 01 04 01 AA AA AA", CLEAN_07)


@lie(EGR, GONE, kind=ODD)
def pending_behind_a_space_without_width(d):
    """The same answer with U+200B in it, above the empty one."""
    answered(d.after, "07", "7E8\u200b 04 47 01 04 01 AA AA AA", CLEAN_07)


@lie(EGR, GONE, kind=ODD)
def pending_one_byte_a_line(d):
    """The same answer, each byte on its own line, above the empty one."""
    answered(d.after, "07", *re.split(" ", "7E8 04 47 01 04 01 AA AA AA"), CLEAN_07)


@lie(EGR, HAZARDS, kind=ODD)
def acknowledged_the_text_of_another_danger(d):
    """The digest of what was shown is that of another caution's text."""
    texts = {one["caution"]: one["text_sha256"] for one in d.of("caution")}
    for one in d.of("caution"):
        if one["caution"] == "hot-exhaust":
            one["text_sha256"] = texts["hot-coolant"]


@lie(EGR, ELSE, KNOWN, kind=ODD)
def freeze_frame_since_the_clear_of_a_code_nobody_names(d):
    """A frame is kept with a code, and a clear empties it: P0113 has failed since."""
    also_said(d.after, "020200", "42 02 00 01 13")


# Honest, and a little unlike the usual.


@twist(EGR)
def adapter_repeats_each_request(d):
    for one in (d.before, d.after):
        one["raw"] = re.sub(r"(?m)^> (\w+)$", r"> \1\n\1", one["raw"])


@twist(THERMO)
def thermometer_in_fahrenheit(d):
    test = d.old_test
    test["readings"][0] |= {"value": "136.4", "unit": "degF"}
    test["instruments"][0]["specification"] |= {"unit": "degF", "low": "0"}


@twist(EGR)
def valve_follows_its_command(d):
    for one, error in ((d.before, "00"), (d.after, "83")):
        also_said(one, "012C", "41 2C 99")
        also_said(one, "012D", f"41 2D {error}")


@twist(EGR)
def lamp_s_own_counts_begin_anew(d):
    also_said(d.before, "0121", "41 21 00 37")
    also_said(d.before, "014D", "41 4D 00 1E")
    also_said(d.after, "0121", "41 21 00 00")
    also_said(d.after, "014D", "41 4D 00 00")


@twist(LEAN)
def closed_loop_and_its_trims_are_back(d):
    for one, short, long in ((d.before, "84", "9F"), (d.after, "82", "84")):
        also_said(one, "0103", "41 03 02 00")
        also_said(one, "0106", f"41 06 {short}")
        also_said(one, "0107", f"41 07 {long}")


@twist(EGR)
def valve_reached_from_below(d):
    d.of("diagnosis")[0]["suspect_parts"][0]["where"] = ["engine-bay", "below"]
    acknowledge_again(d)


@twist(COIL)
def engine_as_a_whole_misfired_and_is_even(d):
    for one, value in ((d.before, 40), (d.after, 0)):
        told = b"\x46\xa1\x0b\x24" + word(value) + word(0) + word(10)
        also_said(one, "06A1", told.hex())


@twist(EGR)
def more_live_values_of_a_sound_engine(d):
    for one, volts in ((d.before, "30 D4"), (d.after, "37 14")):
        also_said(one, "0142", f"41 42 {volts}")
        also_said(one, "0133", "41 33 63")
        also_said(one, "0146", "41 46 34")
        also_said(one, "0151", "41 51 01")


@twist(EGR)
def drive_told_in_miles(d):
    d.of("road_test")[0]["distance"] = {"value": "16.8", "unit": "mi"}


@twist(EGR)
def read_by_another_who_came_in_early(d):
    d.after["by"] = "mechanic-2"


@twist(EGR)
def old_valve_given_to_the_customer(d):
    d.of("repair")[0] |= {"old_part": "returned-to-customer", "note": "soot on it"}


@twist(EGR)
def other_old_code_declined_in_a_second_list(d):
    codes = ["P0401", "P0562", "P0113"]
    edit(d.before, lambda s: with_codes(s, "03", "7E8", codes))
    edit(d.before, lambda s: with_bytes(s, "0101", b"\x83\x07\xe5\x00"))
    aside = set_aside(["P0562"], "known-history") + set_aside(["P0113"], "declined")
    d.of("diagnosis")[0]["set_aside"] = aside


@twist(EGR)
def valve_had_not_moved_yet_when_it_was_read(d):
    """At first among the lies: an error of -100 % at one moment is no closed valve.

    Command and error (PIDs 2C and 2D) are read one after the other, and a valve lags
    behind its command; the monitor, which waits, found the flow inside its limits.
    """
    for one in (d.before, d.after):
        also_said(one, "012C", "41 2C 99")
        also_said(one, "012D", "41 2D 00")
