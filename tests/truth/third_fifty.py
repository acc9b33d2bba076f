"""A third fifty of bogus records and ten honest twists, of other ideas.

By the hand that wrote the second, which had read part of the rules by then: those of
readouts, of time, of the paths to a pass, of the part and of the fault that is gone.
Form and promise are those of the second fifty; ``CLEVER`` and ``ODD`` mean the same.

The first run: 43 of 50 as expected. Seven came out proven, all true holes, for which
rules were mended: an answer begun otherwise than it came whole, one glued to its
request, one written with colons, a lamp on and off in one readout, a freeze frame
stripped to its code, a drive with a cold engine, a module that fell silent. One twist
was told in the wrong place: a test of 10:15 before cautions of 09:58.
"""

import copy
import re

from auditkit.obd.fingerprint import said_sha256
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
    CLEAN_03,
    CLEAN_07,
    CLEVER,
    ODD,
    answered,
    corrected,
    programming,
    recorder,
    told_as,
    with_frame,
)
from truth.jobs import at, event
from truth.named_jobs import (
    AIR,
    BLOCK,
    COIL,
    EGR,
    GEARBOX,
    HEALED,
    IDLE,
    INJECTOR,
    NEWER,
    NO_VIN,
    PERM,
    PUMP,
    PURGE,
    THERMO,
    WIRE,
)
from truth.said import code_bytes, word
from truth.vehicle_counts import with_counts

LIES: list[tuple] = []
TWISTS: list[tuple] = []
lie, twist = recorder(LIES, TWISTS)
TWO, CANISTER = "-: two faults with one repair", "32: two faults, one canister"


# What is hidden in the form.


@lie(PURGE, TIME, AT_FAULT, kind=ODD)
def bench_test_dated_in_another_zone(d):
    d.old_test["at"] = d.old_test["at"].replace("+01:00", "-08:00")


@lie(EGR, GONE, kind=ODD)
def first_frame_of_three_codes_then_none(d):
    first = "7E8 10 08 43 03 04 01 04 20"
    answered(d.after, "03", first, CLEAN_03)


@lie(EGR, GONE, kind=ODD)
def answer_glued_to_its_request(d):
    glued = "> 03 7E8 04 43 01 04 01 AA AA AA\n7E8 02 43 00 AA AA AA AA AA\n"
    d.after["raw"] = re.sub("(?m)^> 03\n7E8.*\n", glued, d.after["raw"])


@lie(EGR, GONE, kind=ODD)
def second_answer_behind_a_wide_space(d):
    two = "7E8 02 43 00 AA AA AA AA AA\u30007E8 04 43 01 04 01 AA AA AA"
    answered(d.after, "03", two)


@lie(EGR, GONE, kind=ODD)
def code_in_digits_of_full_width(d):
    wide = "7E8 04 47 01 \uff10\uff14 01 AA AA AA"
    answered(d.after, "07", wide, CLEAN_07)


@lie(EGR, GONE, kind=ODD)
def answer_written_with_colons(d):
    answered(d.after, "07", "7E8:04:47:01:04:01", CLEAN_07)


@lie(EGR, GONE, kind=ODD)
def permanent_counted_and_not_listed(d):
    answered(d.after, "0A", "7E8 02 4A 01 AA AA AA AA AA")


@lie(NEWER, GONE, kind=ODD)
def old_service_still_lists_it(d):
    d.after["raw"] += "> 03\n7E8 04 43 01 01 13 AA AA AA\n"


@lie(NEWER, GONE, kind=ODD)
def permanent_by_the_newer_service(d):
    body = b"\x59\x55\x33\xff\x04" + code_bytes("P0113") + b"\x00\x2f"
    from_vehicle = body.hex(" ").upper()
    d.after["raw"] += (
        f"> 195533\n7E8 10 09 {from_vehicle[:17]}\n7E8 21 {from_vehicle[18:]}\n"
    )


@lie(GEARBOX, GONE, kind=ODD)
def asked_for_confirmed_ones_alone(d):
    d.after["raw"] = d.after["raw"].replace("> 1902FF", "> 190200")


@lie(EGR, GONE, kind=ODD)
def lamp_on_and_then_off_in_one_readout(d):
    on, off = "7E8 06 41 01 81 07 E5 00 AA", "7E8 06 41 01 00 07 E5 00 AA"
    answered(d.after, "0101", on, off)


@lie(EGR, SAME, kind=ODD)
def last_frame_of_the_vin_lost(d):
    lines = d.after["raw"].splitlines()
    start = lines.index("> 0902")
    answered(d.after, "0902", *lines[start + 1 : start + 3])


# What a service writer would tell.


@lie(EGR, PASSED, kind=CLEVER)
def the_other_test_that_failed_is_left_out(d):
    def change(said):
        with_test(said, 0, lambda p: p + b"\x31\x82\x24" + word(9) + word(0) + word(3))

    edit(d.before, change)


@lie(COIL, PASSED, kind=CLEVER)
def misfires_of_this_cycle_only(d):
    def change(said):
        more = b"\xa2\x0c\x24" + word(31) + word(0) + word(10)
        with_test(said, 0, lambda p: p + more)

    edit(d.after, change)


@lie(EGR, TIME, PASSED, kind=CLEVER)
def captured_before_the_clear_entered_the_next_day(d):
    d.after["captured"] = at("11:00")


@lie(THERMO, PASSED, RERAN, typed=True, kind=CLEVER)
def freeze_frame_stripped_to_its_code(d):
    edit(d.before, lambda s: without(s, "020400", "020500", "020C00", "020D00"))

    def change(said):
        with_bytes(said, "0105", bytes([30 + 40]))
        with_bytes(said, "010C", word(700 * 4))
        with_bytes(said, "010D", b"\x00")

    edit(d.after, change)


@lie(PUMP, PASSED, RERAN, kind=CLEVER)
def only_driven_cold(d):
    edit(d.after, lambda s: with_bytes(s, "0105", bytes([15 + 40])))


@lie(WIRE, PASSED, kind=CLEVER)
def good_when_fitted_and_faulty_after_the_drive(d):
    again = copy.deepcopy(d.new_test)
    again["readings"] = copy.deepcopy(d.old_test["readings"])
    again["at"] = at("13:00")
    d.put(again, after=d.of("road_test")[0])


@lie(TWO, PASSED, RERAN, kind=CLEVER)
def one_of_two_results_left_out(d):
    edit(d.after, lambda s: without(s, "063C"))


@lie(CANISTER, ELSE, EXPLAINS, AT_FAULT, kind=CLEVER)
def second_code_healed_along_with_the_first(d):
    d.of("diagnosis")[0]["suspect_parts"][0]["codes"] = ["P0446"]


@lie(EGR, GONE, ELSE, kind=CLEVER)
def code_of_the_same_row_set_aside_afterwards(d):
    edit(d.after, lambda s: with_codes(s, "07", "7E8", ["P0402"]))
    aside = {"codes": ["P0402"], "reason": "watched", "agreed_by": "customer"}
    made = event(
        "diagnosis",
        "08:30",
        1,
        codes=[],
        suspect_parts=[],
        reasoning="to be watched",
        set_aside=[aside],
    )
    d.events.append(made)


@lie(EGR, GONE, TIME, SAME, kind=CLEVER)
def readout_amended_to_a_clean_one(d):
    clean = copy.deepcopy(d.after)
    edit(d.after, lambda s: with_codes(s, "07", "7E8", ["P0401"]))
    corrected(d, d.after, clean, at("09:00", 1))


@lie(COIL, PASSED, SAME, kind=CLEVER)
def limit_raised_by_a_programming_that_changed_nothing(d):
    d.put(programming("DEMO-ENG-0001"), after=d.of("repair")[0])
    edit(
        d.after,
        lambda s: with_test(s, 0, lambda p: p[:4] + word(31) + word(0) + word(200)),
    )


@lie(EGR, SAME, kind=CLEVER)
def clean_readout_of_last_week_s_order(d):
    """Its lines in another order, with a remark of today."""
    d.elsewhere[said_sha256(d.after["raw"])] = "RO-0"
    blocks = d.after["raw"].split("> ")[1:]
    turned = "".join(f"> {block}" for block in reversed(blocks))
    d.after["raw"] = f"# this morning\n{turned.lower()}"


@lie(EGR, EXPLAINS, TIME, AT_FAULT, ELSE, KNOWN, kind=CLEVER)
def diagnosed_once_the_valve_was_sold(d):
    found = d.of("diagnosis")[0]
    d.events.remove(found)
    found["at"] = at("11:00")
    d.put(found, after=d.of("repair")[0])


@lie(EGR, HAZARDS, kind=CLEVER)
def cautions_acknowledged_while_at_work(d):
    done = d.of("repair")[0]
    for one in d.of("caution"):
        if one["step"]["kind"] == "repair":
            one["at"] = shifted(done["started"], minutes=10)
            if "second_confirmation" in one:
                one["second_confirmation"]["at"] = shifted(done["started"], minutes=11)


# By path, kind of test and step.


@lie(NEWER, PASSED, RERAN)
def status_without_the_bit_for_not_completed(d):
    def change(said):
        for one in said:
            if one[0].startswith("19"):
                one[1] = [(w, p[:2] + b"\x2f" + p[3:]) for w, p in one[1]]

    edit(d.after, change)


@lie(HEALED, GONE, PASSED)
def pending_codes_not_asked_for(d):
    edit(d.after, lambda s: without(s, "07"))


@lie(HEALED, SAME, PASSED)
def calibration_changed_while_the_lamp_went_off(d):
    new = b"DEMO-ENG-0009".ljust(16, b"\0")
    edit(d.after, lambda s: with_bytes(s, "0904", b"\x01" + new))


@lie(AIR, PASSED, RERAN, SAME, TIME)
def warm_without_a_minute_of_running(d):
    edit(d.after, lambda s: with_counts(s, distance=0, minutes=0))


@lie(WIRE, PASSED, typed=True)
def new_wire_measured_by_a_meter_without_a_specification(d):
    for one in d.new_test["instruments"]:
        del one["specification"]


@lie(BLOCK, AT_FAULT)
def reading_beyond_the_range_of_the_meter(d):
    d.old_test["instruments"][0]["specification"]["high"] = "1"


@lie(INJECTOR, AT_FAULT)
def balance_of_a_single_injector(d):
    test = d.old_test
    test["readings"] = [r for r in test["readings"] if r["value"] == "195"]


@lie(PURGE, AT_FAULT, typed=True)
def gauge_without_any_error(d):
    gauge = d.old_test["instruments"][0]["specification"]
    gauge["resolution"] = "0"
    gauge["percent_of_reading"] = "0"


@lie(AIR, AT_FAULT)
def over_range_beyond_what_the_meter_can_show(d):
    d.old_test["instruments"][0]["specification"]["high"] = "20"


@lie(EGR, SAME, ELSE, GONE)
def gearbox_module_answered_before_and_is_silent(d):
    def change(said):
        for service in ("03", "07", "0A"):
            answers(said, service).append(("7E9", bytes([int(service, 16) + 64, 0])))

    edit(d.before, change)


@lie(EGR, ELSE, SAME)
def a_module_with_a_code_that_was_not_there_before(d):
    edit(d.after, lambda s: with_codes(s, "07", "7EA", ["U0121"]))


@lie(GEARBOX, GONE)
def engine_module_refuses(d):
    def change(said):
        found = answers(said, "03")
        found[:] = [(w, b"\x7f\x03\x22" if w == "7E8" else p) for w, p in found]

    edit(d.after, change)


@lie(EGR, SAME)
def gearbox_says_another_vin(d):
    edit(
        d.after,
        lambda s: answers(s, "0902").append(("7E9", b"\x49\x02\x010ZZTB1A1XCA000999")),
    )


@lie(EGR, SAME)
def another_map_of_what_is_supported(d):
    edit(d.after, lambda s: with_bytes(s, "0100", bytes.fromhex("983B0011")))


@lie(EGR, SAME)
def written_odometer_is_far_ahead(d):
    d.of("opening")[0]["vehicle"]["odometer"]["value"] = "190345"


@lie(EGR, SAME, way="screen")
def display_shows_another_calibration(d):
    d.after["typed"]["modules"][0]["calibrations"] = ["DEMO-ENG-0777"]


@lie(EGR, PASSED, way="screen")
def display_shows_a_failed_test_beside_the_passed_one(d):
    failed = {
        "monitor": "EGR",
        "mid": "31",
        "tid": "81",
        "value": {"value": "214", "unit": "1"},
        "minimum": {"value": "350", "unit": "1"},
    }
    d.after["typed"]["modules"][0]["self_tests"] = [failed]


@lie(EGR, PASSED, RERAN, SAME, TIME, way="screen")
def display_counts_no_drive(d):
    for name in ("warm_ups", "distance", "minutes"):
        d.after["typed"]["counts"][name]["value"] = "0"


@lie(EGR, HAZARDS)
def acknowledged_by_the_one_at_the_desk(d):
    for one in d.of("caution"):
        one["by"] = "service-writer"


@lie(EGR, HAZARDS)
def too_hot_in_fahrenheit(d):
    told_as(d, "surface temperature", value="410", unit="degF")


@lie(BLOCK, HAZARDS)
def voltage_at_the_parts(d):
    told_as(d, "voltage at the parts", value="288")


@lie(EGR, SAME)
def programmed_by_halves(d):
    d.put(programming("DEMO-ENG-0002"), after=d.of("repair")[0])
    new = b"DEMO-ENG-0002".ljust(16, b"\0")
    edit(d.after, lambda s: with_bytes(s, "0904", b"\x01" + new))


@lie(NO_VIN, SAME)
def picture_of_the_plate_belongs_to_another_step(d):
    """The honest job is vouched: it has no VIN to read."""
    d.of("attachment")[0]["of"] = d.events.index(d.after)


@lie(PERM, PASSED, RERAN, GONE)
def permanent_codes_refused(d):
    answered(d.after, "0A", "7E8 03 7F 0A 11 AA AA AA AA")


# Honest, and a little unlike the usual.


@twist(IDLE)
def it_idled_very_fast(d):
    edit(d.before, lambda s: with_frame(s, "0C", word(1500 * 4)))


@twist(EGR)
def odometer_written_in_miles(d):
    odometer = d.of("opening")[0]["vehicle"]["odometer"]
    odometer |= {"value": "74779", "unit": "mi"}


@twist(EGR)
def the_adapter_s_clock_is_months_behind(d):
    for one, clock in (
        (d.before, "2025-08-01 03:10:00"),
        (d.after, "2025-08-02 03:11:00"),
    ):
        one["raw"] = re.sub("(?m)^7E8", f"{clock} 7E8", one["raw"])


@twist(EGR)
def the_adapter_says_that_the_bus_was_busy(d):
    for one in (d.before, d.after):
        one["raw"] = one["raw"].replace("> 07\n", "> 07\nBUS BUSY\n> 07\n")


@twist(EGR)
def captured_as_a_bus_log(d):
    for one, start in ((d.before, 1772435400), (d.after, 1772521800)):
        lines = []
        for number, line in enumerate(one["raw"].splitlines()):
            who, digits = ("7DF", line[2:]) if line[0] == ">" else line.split(" ", 1)
            digits = digits.replace(" ", "")
            if who == "7DF":
                digits = f"{len(digits) // 2:02X}{digits}".ljust(16, "A")
            lines.append(f"({start + number / 10:.6f}) can0 {who}#{digits}")
        one["raw"] = "\n".join(lines) + "\n"


@twist(PURGE)
def the_old_valve_tested_once_more_off_the_vehicle(d):
    again = copy.deepcopy(d.old_test)
    again["at"] = at("10:15")
    d.events.insert(d.events.index(d.of("repair")[0]), again)


@twist(EGR)
def read_once_between_the_repair_and_the_clear(d):
    again = copy.deepcopy(d.before)
    again |= {"at": at("11:10"), "captured": at("11:10")}
    edit(again, lambda s: with_bytes(s, "011F", word(12)))
    edit(again, lambda s: with_bytes(s, "014E", word(3001)))
    d.put(again, after=d.of("repair")[0])


@twist(PERM)
def the_permanent_code_went_on_the_third_day_only(d):
    early = copy.deepcopy(d.after)
    move(early, days=-1)

    def change(said):
        with_codes(said, "0A", "7E8", ["P0128"])
        with_counts(said, warm_ups=6, distance=120, minutes=180, went=120)
        old = answers(said, "0908")[0][1]
        words = [int.from_bytes(old[n : n + 2], "big") for n in range(3, len(old), 2)]
        with_bytes(said, "0908", old[2:3] + b"".join(word(w - 2) for w in words))

    edit(early, change)
    d.events.insert(d.events.index(d.after), early)


@twist(EGR)
def reasoned_once_more_after_the_bench_test(d):
    again = copy.deepcopy(d.of("diagnosis")[0])
    again |= {"at": at("09:20"), "reasoning": "the diaphragm leaks, as measured"}
    d.put(again, after=d.old_test)


@twist(AIR)
def new_sensor_measured_before_it_went_in(d):
    new = d.new_test
    d.events.remove(new)
    new["at"] = shifted(d.old_test["at"], minutes=5)
    d.put(new, after=d.old_test)


@twist(EGR)
def two_remarks_and_an_empty_line(d):
    d.after["raw"] = f"# after the drive, 20 min at 80 km/h\n\n{d.after['raw']}; end\n"
