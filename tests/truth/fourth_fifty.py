"""A fourth fifty of bogus records and twelve honest twists, by an independent hand.

Whoever wrote them had read what the records look like, what a verdict promises and the
earlier sets; the rules and the families had not been read. Form and promise are those
of the second fifty. ``CLEVER`` is what somebody would really do to have a repair paid
or a vehicle passed, ``ODD`` is hidden in the form of the raw text, ``LATE`` lies in
clocks, corrections and pictures. They stand in one file, as they were written.

The first run: 30 of 50 as expected, and 10 of 12. Seventeen came out proven, all true
holes. Two were stopped by a caution alone, which the change had displaced, and one of
the thirty by a slip of its change; behind each was a hole. Rules were mended for all
twenty: counts that more time or more starts would take, an engine that had run on, a
drive or a hold longer than the work allows, readings of another year, lines stamped
before the lines above them; what a clear empties and a failure fills, a module that
still reads the faulty quantity, its name; a set-aside whose reason the readouts
contradict, a part named for another cylinder, one measured after the old one was
scrapped, a frame too long to be read. One lie and two twists were not written as they
were meant, and say so beside them.
"""

import copy
import json
import re

from truth.bogus import (
    AT_FAULT,
    ELSE,
    EXPLAINS,
    GONE,
    KNOWN,
    PASSED,
    RERAN,
    SAME,
    TIME,
    edit,
    move,
    with_bytes,
    with_codes,
)
from truth.changes import (
    CLEAN_03,
    CLEAN_07,
    CLEVER,
    LATE,
    ODD,
    acknowledge_again,
    also_said,
    answered,
    corrected,
    pictured,
    programming,
    read_at,
    recorder,
    set_aside,
    suspect,
)
from truth.jobs import PICTURE, at, bench, event
from truth.named_jobs import (
    ATTEMPTS,
    CHARGE,
    COIL,
    EGR,
    LEAN,
    NO_VIN,
    PURGE,
    THERMO,
    VENT,
)
from truth.said import code_bytes, word
from truth.vehicle_counts import with_counts, with_rises

LIES: list[tuple] = []
TWISTS: list[tuple] = []
lie, twist = recorder(LIES, TWISTS)
FLOW = "26: air-flow sensor reads low"


# What somebody would do to have it paid, or passed.


@lie(COIL, AT_FAULT, PASSED, kind=CLEVER)
def new_coil_is_as_open_as_the_old_one(d):
    """The leads were at the wrong pins, of both."""
    again = copy.deepcopy(d.old_test)
    again |= {"of": "new", "at": at("11:00")}
    d.put(again, after=d.of("repair")[0])
    acknowledge_again(d)


@lie(COIL, AT_FAULT, kind=CLEVER)
def good_by_its_own_limit_and_faulty_by_another_engine_s(d):
    test = d.old_test
    good = copy.deepcopy(test) | bench(d.job["bench"], good=True)
    good["at"] = at("09:10")
    d.events.insert(d.events.index(test), good)
    test["readings"] = copy.deepcopy(good["readings"])
    test["limit"] |= {"minimum": "0.5", "maximum": "1.5"}
    acknowledge_again(d)


@lie(EGR, AT_FAULT, EXPLAINS, ELSE, kind=CLEVER)
def cooler_renewed_with_a_valve_that_stayed(d):
    done = d.of("repair")[0]
    done |= {"part": "egr-cooler", "renewed_with": "egr-valve"}
    acknowledge_again(d)


@lie(VENT, AT_FAULT, kind=CLEVER)
def winding_read_hot_and_held_against_the_cold_limit(d):
    """25.4 ohm at 20 degC, of copper, are 35.4 ohm at 120 degC.

    At first the limit was told at 120 degC too, by a slip, and only a caution was
    missing; as it was meant, the winding is found good: contradicted.
    """
    test = d.old_test
    test["readings"][0]["value"] = "35.4"
    hot = {"value": "120.0", "unit": "degC"}
    test["conditions"] |= {"winding temperature": hot, "conductor": "copper"}
    acknowledge_again(d)


@lie(THERMO, PASSED, RERAN, SAME, TIME, kind=CLEVER)
def nine_warm_ups_with_one_start(d):
    edit(d.after, lambda s: with_rises(s, 2, 1))


@lie(ATTEMPTS, SAME, TIME, PASSED, kind=CLEVER)
def second_attempt_read_on_the_first_one_s_counters(d):
    old = {"0104": "00", "0105": "41", "010C": "0000", "010D": "00", "011F": "0000"}

    def change(said):
        for request, data in old.items():
            with_bytes(said, request, bytes.fromhex(data))
        with_counts(said, warm_ups=4, distance=30, minutes=95, went=30)
        with_rises(said, 1, 3)

    edit(d.after, change)


@lie(EGR, SAME, TIME, kind=CLEVER)
def two_hundred_kilometres_in_half_an_hour(d):
    read_at(d, "12:00", ("11:40", "11:58"), warm_ups=1, distance=200, minutes=25)


@lie(THERMO, PASSED, RERAN, SAME, TIME, kind=CLEVER)
def warmed_up_twelve_times_in_half_an_hour(d):
    """Each time from 22 K below, and to 71 degC at least.

    At first it fell by a drive longer than its counts, which was a slip of the change.
    """
    read_at(d, "12:00", ("11:35", "11:58"), warm_ups=12, distance=20, minutes=28)


@lie(EGR, SAME, kind=CLEVER)
def tuned_under_the_same_name(d):
    d.put(programming("DEMO-ENG-0001"), after=d.of("repair")[0])
    acknowledge_again(d)
    edit(d.after, lambda s: with_bytes(s, "0906", b"\x01\x55\x66\x77\x88"))


@lie(EGR, AT_FAULT, SAME, EXPLAINS, kind=CLEVER)
def programmed_for_the_code_says_the_bill(d):
    """Its calibration is the old one still, and nothing showed it to be at fault."""
    computer = {"id": "engine-computer", "name": "engine control module"}
    made = suspect(d, **computer, system="control-module")
    d.of("diagnosis")[0]["suspect_parts"].append(made)
    mine = {"part": "engine-computer", "codes": ["P0401"]}
    done = programming("DEMO-ENG-0002", **mine)
    d.put(done, after=d.of("repair")[0])
    acknowledge_again(d)


@lie(EGR, ELSE, kind=CLEVER)
def known_history_that_no_readout_had_shown(d):
    bin_of_codes = ["P0113", "P0171", "P0300", "P0420", "P0442", "P0507"]
    aside = set_aside(bin_of_codes, "known-history")
    d.of("diagnosis")[0]["set_aside"] = aside
    edit(d.after, lambda s: with_codes(s, "07", "7E8", ["P0171"]))


@lie(EGR, ELSE, kind=CLEVER)
def made_by_a_test_and_there_before_any_test(d):
    edit(d.before, lambda s: with_codes(s, "03", "7E8", ["P0401", "P0113"]))
    edit(d.before, lambda s: with_bytes(s, "0101", b"\x82\x07\xe5\x00"))
    d.of("diagnosis")[0]["set_aside"] = set_aside(["P0113"], "made-by-a-test")


@lie(EGR, GONE, PASSED, kind=CLEVER)
def freeze_frame_of_the_code_since_the_clear(d):
    also_said(d.after, "020200", "42 02 00 04 01")


@lie(EGR, ELSE, KNOWN, kind=CLEVER)
def freeze_frame_of_a_code_that_nobody_speaks_of(d):
    frame = b"\x00" + code_bytes("P0113")
    edit(d.before, lambda s: with_bytes(s, "020200", frame))


@lie(EGR, GONE, PASSED, SAME, TIME, kind=CLEVER)
def lamp_was_on_for_fifty_kilometres_since_the_clear(d):
    """A clear puts that distance to nought (ISO 15031-5, PID 21)."""
    also_said(d.after, "0121", "41 21 00 37")


@lie(LEAN, PASSED, kind=CLEVER)
def trim_as_high_as_before(d):
    for one in (d.before, d.after):
        also_said(one, "0106", "41 06 84")
        also_said(one, "0107", "41 07 9F")


@lie(CHARGE, PASSED, kind=CLEVER)
def still_below_twelve_volts_while_driven(d):
    for one in (d.before, d.after):
        also_said(one, "0142", "41 42 2D B4")


@lie(FLOW, PASSED, kind=CLEVER)
def no_air_flows_at_sixty(d):
    for one in (d.before, d.after):
        also_said(one, "0110", "41 10 00 00")


@lie(EGR, SAME, kind=CLEVER)
def built_to_another_standard_the_next_day(d):
    edit(d.after, lambda s: with_bytes(s, "011C", b"\x06"))


@lie(EGR, SAME, kind=CLEVER)
def module_says_another_name(d):
    names = (b"ECM\0-EngineControl", b"ECM2-EngineControl2")
    for one, name in zip((d.before, d.after), names, strict=True):
        also_said(one, "090A", "49 0A 01" + name.ljust(20, b"\0").hex())


@lie(EGR, SAME, PASSED, GONE, kind=CLEVER)
def monitor_of_the_valve_is_gone(d):
    """The readiness bit that says that there is one; common with a removed valve."""
    edit(d.after, lambda s: with_bytes(s, "0101", b"\x00\x07\x65\x00"))


@lie(PURGE, AT_FAULT, TIME, kind=CLEVER)
def held_for_ten_hours_against_the_limit_of_a_minute(d):
    """The vehicle had been there for an hour and a half."""
    d.old_test["conditions"]["hold time"]["value"] = "36000"


@lie(EGR, EXPLAINS, AT_FAULT, ELSE, kind=CLEVER)
def one_id_for_the_valve_and_the_turbocharger(d):
    other = suspect(d, name="turbocharger", system="boost")
    d.of("diagnosis")[0]["suspect_parts"].append(other)
    acknowledge_again(d)


@lie(EGR, EXPLAINS, AT_FAULT, ELSE, kind=CLEVER)
def the_id_means_a_steering_pump_when_it_is_sold(d):
    later = copy.deepcopy(d.of("diagnosis")[0])
    pump = suspect(d, name="power steering pump", system="steering")
    later |= {"at": at("09:30"), "suspect_parts": [pump]}
    d.put(later, after=d.old_test)
    acknowledge_again(d)


@lie(COIL, EXPLAINS, kind=CLEVER)
def coil_of_the_third_cylinder_for_the_first_one_s_misfires(d):
    text = json.dumps(d.events)
    text = text.replace("coil-1", "coil-3").replace("cylinder 1", "cylinder 3")
    d.events[:] = json.loads(text)


@lie(EGR, TIME, SAME, kind=CLEVER)
def engine_had_run_since_before_the_repair(d):
    counts = {"warm_ups": 1, "distance": 40, "minutes": 60}
    read_at(d, "13:00", ("12:00", "12:30"), **counts)
    edit(d.after, lambda s: with_bytes(s, "011F", word(4 * 3600)))


@lie(EGR, SAME, typed=True, kind=CLEVER)
def written_down_as_a_diesel(d):
    d.of("opening")[0]["vehicle"]["ignition"] = "compression"


@lie(EGR, TIME, KNOWN, SAME, kind=CLEVER)
def cleared_on_arrival_and_two_thousand_kilometres_since(d):
    clear = event("code_clear", "08:00", tool="adapter (invented)")
    d.put(clear, after=d.of("opening")[0])


@lie(EGR, TIME, kind=CLEVER)
def order_opened_once_the_work_was_done(d):
    d.of("opening")[0]["at"] = at("12:45")


@lie(EGR, AT_FAULT, kind=CLEVER)
def fitted_before_it_was_measured_as_the_old_one(d):
    first = copy.deepcopy(d.of("repair")[0])
    first |= {"at": at("08:50"), "started": at("08:30"), "old_part": "scrapped"}
    d.put(first, after=d.of("diagnosis")[0])
    acknowledge_again(d)


# What is hidden in the form.


@lie(EGR, GONE, kind=ODD)
def pending_as_a_log_with_brackets_writes_it(d):
    there = "  can0  7E8   [8]  04 47 01 04 01 AA AA AA"
    answered(d.after, "07", there, CLEAN_07)


@lie(EGR, GONE, kind=ODD)
def pending_with_a_column_for_the_length(d):
    answered(d.after, "07", "7E8 8 04 47 01 04 01 AA AA AA", CLEAN_07)


@lie(EGR, GONE, ELSE, SAME, kind=ODD)
def pending_from_a_longer_header_beside_the_short_one(d):
    there = "18 DA F1 10 04 47 01 04 01 AA AA AA AA"
    answered(d.after, "07", there, CLEAN_07)


@lie(EGR, PASSED, RERAN, kind=ODD)
def a_frame_was_lost_and_the_next_one_kept(d):
    lines = d.after["raw"].splitlines()
    start = lines.index("> 0631")
    last = lines[start + 2].replace("7E8 21", "7E8 22")
    answered(d.after, "0631", lines[start + 1], last)


@lie(EGR, GONE, kind=ODD)
def filler_stands_before_the_code(d):
    answered(d.after, "07", "7E8 06 47 02 00 00 04 01 AA")


@lie(EGR, GONE, kind=ODD)
def answer_behind_a_remark_and_a_form_feed(d):
    hidden = "# read once more\x0c7E8 04 43 01 04 01 AA AA AA"
    answered(d.after, "03", hidden, CLEAN_03)


@lie(EGR, GONE, kind=ODD)
def header_filled_with_noughts(d):
    answered(d.after, "07", "000007E8 04 47 01 04 01 AA AA AA", CLEAN_07)


@lie(EGR, GONE, kind=ODD)
def bytes_written_as_a_program_does(d):
    answered(d.after, "07", "0x7E8 0x04 0x47 0x01 0x04 0x01", CLEAN_07)


@lie(EGR, GONE, kind=ODD)
def late_answer_stands_below_the_next_request(d):
    answered(d.after, "07", "7E8 04 43 01 04 01 AA AA AA", CLEAN_07)


@lie(EGR, GONE, kind=ODD)
def named_in_the_adapter_s_own_words(d):
    answered(d.after, "07", "PENDING: P0401", CLEAN_07)


# Clocks, corrections, pictures.


@lie(EGR, TIME, GONE, PASSED, kind=LATE)
def lists_of_codes_stamped_before_the_clear(d):
    blocks = d.after["raw"].split("> ")[1:]
    stamped = ""
    for block in blocks:
        early = block.split("\n")[0] in {"03", "07", "0A"}
        stamp = "2026-03-02 11:00:00" if early else "2026-03-03 08:10:00"
        stamped += "> " + re.sub("(?m)^7E8", f"{stamp} 7E8", block)
    d.after["raw"] = stamped


@lie(EGR, TIME, kind=LATE)
def driven_while_the_valve_was_off(d):
    """At first its caution stood after the drive, and only that fell."""
    road, repair = d.of("road_test")[0], d.of("repair")[0]
    road |= {"start": at("10:05"), "end": at("10:25"), "at": at("10:25")}
    told = [e for e in d.of("caution") if e["step"]["kind"] == "road_test"]
    for one in (*told, road):
        d.events.remove(one)
        d.events.insert(d.events.index(repair), one)
    for one in told:
        one["at"] = at("10:03")


@lie(THERMO, TIME, PASSED, kind=LATE)
def measured_with_the_engine_off_while_it_was_driven(d):
    test = d.new_test
    d.events.remove(test)
    test["at"] = at("12:15")
    d.put(test, after=d.of("code_clear")[0])


@lie(PURGE, AT_FAULT, TIME, kind=LATE)
def readings_of_last_year(d):
    """At first only its cautions fell, which come after such readings."""
    for one, minute in zip(d.old_test["readings"], ("10", "11"), strict=True):
        one["at"] = f"2025-03-02T09:{minute}:00+01:00"


@lie(EGR, PASSED, RERAN, GONE, TIME, kind=LATE)
def last_clear_corrected_to_the_day_before(d):
    clear = event("code_clear", "08:00", 1, tool="adapter (invented)")
    d.events.insert(d.events.index(d.after), clear)
    corrected(d, clear, {**clear, "at": at("11:45")}, at("08:30", 3))


@lie(PURGE, AT_FAULT, TIME, kind=LATE)
def known_good_valve_corrected_to_the_old_one(d):
    test = d.old_test
    told = copy.deepcopy(test)
    test["of"] = "known-good"
    corrected(d, test, told, at("08:30", 3))


@lie(EGR, ELSE, TIME, kind=LATE)
def set_aside_by_a_correction(d):
    edit(d.after, lambda s: with_codes(s, "07", "7E8", ["P0113"]))
    found = d.of("diagnosis")[0]
    told = {**found, "set_aside": set_aside(["P0113"], "declined")}
    corrected(d, found, told, at("08:30", 3))


@lie(PURGE, AT_FAULT, TIME, kind=LATE)
def found_good_by_a_correction_and_faulty_by_the_next(d):
    test = d.old_test
    good = {**test, **bench(d.job["bench"], good=True)}
    corrected(d, test, good, at("08:30", 3))
    corrected(d, test, copy.deepcopy(test), at("08:40", 3))


@lie(EGR, SAME, TIME, kind=LATE)
def odometer_corrected_once_it_was_read(d):
    opening = d.of("opening")[0]
    told = copy.deepcopy(opening)
    opening["vehicle"]["odometer"]["value"] = "190345"
    corrected(d, opening, told, at("08:30", 3))


@lie(NO_VIN, SAME, kind=LATE)
def one_picture_of_the_plate_and_of_the_valve(d):
    """The honest job is vouched: it has no VIN to read."""
    again = copy.deepcopy(d.of("attachment")[0])
    again |= {"of": d.events.index(d.old_test), "shows": "the old valve (invented)"}
    d.events.append(again)


# Honest, and a little unlike the usual.


@twist(PURGE)
def it_looked_good_and_leaked(d):
    """What a look does not find, a measurement may.

    At first it was looked at on the vehicle, for which a caution asks for a smaller
    supply than the one that these tests acknowledge.
    """
    seen = event(
        "bench_test",
        "08:50",
        part="purge-valve",
        setup="removed",
        test="looked at",
        finding={"seen": "no crack, both hoses tight", "is_fault": False},
    )
    d.events.insert(d.events.index(d.old_test), seen)
    acknowledge_again(d)


@twist(EGR)
def driven_by_another(d):
    d.of("road_test")[0]["by"] = "mechanic-2"
    acknowledge_again(d)


@twist(EGR)
def driven_once_more_in_the_evening(d):
    again = copy.deepcopy(d.of("road_test")[0])
    move(again, hours=6)
    d.put(again, after=d.of("road_test")[0])
    acknowledge_again(d)


@twist(EGR)
def picture_of_the_old_valve(d):
    digest = PICTURE[::-1]
    d.pictures[digest] = ""
    soot = "soot on the seat of the old valve (invented)"
    told = {"sha256": digest, "size": 300_000, "shows": soot}
    made = pictured(d, d.old_test, ("09:20",), **told)
    d.put(made, after=d.old_test)


@twist(COIL)
def limit_in_ohm_and_reading_in_kilohm(d):
    d.old_test["limit"] |= {"minimum": "5000", "maximum": "20000", "unit": "ohm"}


@twist(EGR)
def odometer_corrected_at_once(d):
    opening = d.of("opening")[0]
    told = copy.deepcopy(opening)
    opening["vehicle"]["odometer"]["value"] = "12345"
    made = event(
        "amendment", "07:55", corrects=0, why="a digit was left out", event=told
    )
    d.put(made, after=opening)


@twist(EGR)
def times_written_in_utc(d):
    text = re.sub(
        r"T(\d\d)(:\d\d:\d\d)\+01:00",
        lambda m: f"T{int(m[1]) - 1:02}{m[2]}Z",
        json.dumps(d.events),
    )
    d.events[:] = json.loads(text)


@twist(EGR)
def saved_by_an_editor_with_a_mark_at_its_start(d):
    for one in (d.before, d.after):
        one["raw"] = "\ufeff" + one["raw"].replace("\n", "\r\n")


@twist(EGR)
def a_code_of_the_next_day_declined_by_the_customer(d):
    edit(d.after, lambda s: with_codes(s, "07", "7E8", ["P0562"]))
    made = event(
        "diagnosis",
        "08:30",
        1,
        codes=[],
        suspect_parts=[],
        reasoning="the battery is old; the customer will have it replaced elsewhere",
        set_aside=set_aside(["P0562"], "declined"),
    )
    d.events.append(made)


@twist(EGR)
def fetched_a_week_later(d):
    move(d.after, days=7)


@twist(PURGE)
def old_valve_measured_once_it_was_off(d):
    test = d.old_test
    d.events.remove(test)
    test["at"] = at("10:10")
    d.events.insert(d.events.index(d.of("repair")[0]), test)


@twist(EGR)
def gasket_renewed_with_the_valve(d):
    """At first within the time of the valve, so that its cautions came too late."""
    made = event(
        "repair",
        "10:40",
        part="egr-gasket",
        action="replaced",
        started=at("10:33"),
        part_number="EX-3 (invented)",
        renewed_with="egr-valve",
        note="a gasket that was pressed once does not seal again",
    )
    d.put(made, after=d.of("repair")[0])
    acknowledge_again(d)
