"""A second fifty of bogus records and ten honest twists, written by another hand.

Whoever wrote them had read what the records look like and what a verdict promises, and
neither the rules nor the families. Each lie is a change to one honest job that comes
out proven (on a display alone: vouched). What is expected stands with it: the questions
of which one has to fall, and whether *vouched* is accepted, which it is only where the
lie lies in what a person typed. A twist has to come out as its job does.

``CLEVER`` is what a service writer would really tell; ``ODD`` is hidden in the form.
All stand in one file, so that they can be read as they were written.

The first run: 36 of 50 as expected. Ten came out proven; nine of them were true holes,
for which rules were mended (a line left out beside an answer, an answer behind an odd
line break, clocks in the raw text, a part replaced twice, another hold time, a speed
and a temperature that the module still reads, a result that nothing counted, a
permanent code not asked for before). Of the others the expectation was wrong, and says
so beside it: one was no lie and stands among the twists; four were unproven by another
question than was expected. Two twists were not honest as they were written: in one the
odometer did not fit the distance since the clear, in one a step lacked its caution.
"""

import copy
import re

from truth.bench_changes import bench_test_of
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
)
from truth.changes import (
    CLEAN_03,
    CLEAN_07,
    CLEVER,
    ODD,
    answered,
    confirmed_again,
    corrected,
    pictured,
    programming,
    recorder,
    status_is,
    told_as,
)
from truth.jobs import CATALOGUE, at, event, on_display
from truth.named_jobs import (
    AIR,
    ATTEMPTS,
    BLOCK,
    CAP,
    CAT,
    DECLINED,
    EGR,
    EOBD,
    GEARBOX,
    HEALED,
    IDLE,
    NEWER,
    PERM,
    PUMP,
    PURGE,
    THERMO,
    UNCLEARED,
    VENT,
    WIRE,
)
from truth.said import parsed, word
from truth.vehicle_counts import with_counts

LIES: list[tuple] = []
TWISTS: list[tuple] = []
lie, twist = recorder(LIES, TWISTS)


# What is hidden in the form.


@lie(EGR, GONE, kind=ODD)
def pending_code_from_a_module_spelt_in_cyrillic(d):
    there = "7\u04158 04 47 01 04 01 AA AA AA"
    answered(d.after, "07", there, CLEAN_07)


@lie(EGR, GONE, kind=ODD)
def answer_behind_a_remark_and_an_odd_line_break(d):
    hidden = "# read once more\u20287E8 04 43 01 04 01 AA AA AA"
    answered(d.after, "03", hidden, CLEAN_03)


@lie(EGR, GONE, kind=ODD)
def captured_as_a_bus_log_with_two_answers(d):
    lines = ["7E8#0443010401AAAAAA", "7E8#024300AAAAAAAAAA"]
    stamped = [f"(1772525400.{n:06}) can0 {line}" for n, line in enumerate(lines)]
    answered(d.after, "03", *stamped)


@lie(CAP, PASSED, RERAN, kind=ODD)
def second_frame_of_the_result_lost(d):
    first = next(
        line
        for line in d.after["raw"].splitlines()
        if "46 3C" in line and " 10 " in line
    )
    answered(d.after, "063C", first)


@lie(EGR, GONE, kind=ODD)
def code_beyond_a_count_of_none(d):
    answered(d.after, "03", "7E8 04 43 00 04 01 AA AA AA")


@lie(AIR, GONE, kind=ODD)
def asked_to_wait_and_never_answered(d):
    answered(d.after, "03", "7E8 03 7F 03 78 AA AA AA AA")


@lie(EGR, GONE, kind=ODD)
def no_data_where_pending_codes_were_read(d):
    answered(d.after, "07", "NO DATA")


@lie(EGR, GONE, SAME, kind=ODD)
def answered_under_a_header_of_29_bits(d):
    d.after["raw"] = d.after["raw"].replace("7E8 ", "18DAF110 ")


@lie(NEWER, GONE, PASSED, kind=ODD)
def list_of_codes_refused(d):
    answered(d.after, "1902FF", "7E8 03 7F 19 31 AA AA AA AA")


@lie(EGR, TIME, PASSED, kind=ODD)
def lines_stamped_a_month_before_the_visit(d):
    d.after["raw"] = re.sub("(?m)^7E8", "2026-02-01 08:10:00 7E8", d.after["raw"])


# What a service writer would tell.


@lie(CAT, AT_FAULT, kind=CLEVER)
def leak_looked_for_after_the_catalyst_was_sold(d):
    joint = bench_test_of(d, "exhaust-joint")
    d.events.remove(joint)
    joint["at"] = at("11:20")
    d.put(joint, after=d.of("repair")[0])


@lie(EGR, GONE, PASSED, kind=CLEVER)
def came_back_and_was_cleared_once_more(d):
    again = copy.deepcopy(d.before)
    again |= {"at": at("14:00"), "captured": at("14:00")}

    def change(said):
        with_counts(said, warm_ups=1, distance=27, minutes=40, went=27)
        with_test(said, 0, lambda p: p[:4] + word(220) + p[6:])

    edit(again, change)
    drive = d.of("road_test")[0]
    d.put(again, after=drive)
    d.put(event("code_clear", "14:20", tool="adapter (invented)"), after=again)


@lie(GEARBOX, GONE, ELSE, KNOWN, PASSED, kind=CLEVER)
def only_the_request_addressed_the_fault_set_aside(d):
    found = d.of("diagnosis")[0]
    found["codes"] = ["P0700"]
    found["suspect_parts"][0]["codes"] = ["P0700"]
    aside = {"codes": ["P0741"], "reason": "other-order", "agreed_by": "customer"}
    found["set_aside"] = [aside]


@lie(ATTEMPTS, AT_FAULT, kind=CLEVER)
def plug_replaced_a_second_time_the_valve_never(d):
    d.of("repair")[-1]["part"] = "plug-1"
    for one in d.of("caution"):
        if one["step"] == {"kind": "repair", "part": "valve-1"}:
            one["step"]["part"] = "plug-1"


@lie(PURGE, AT_FAULT, kind=CLEVER)
def good_in_kilopascal_then_faulty_in_inches(d):
    good = copy.deepcopy(d.old_test)
    for one, value in zip(good["readings"], ("60.9", "60.6"), strict=True):
        one |= {"value": value, "unit": "kPa"}
    gauge = good["instruments"][0]["specification"]
    gauge |= {"unit": "kPa (vacuum)", "high": "100", "resolution": "0.1"}
    good["limit"] |= {"minimum": "57.6", "unit": "kPa"}
    good["at"] = shifted(good["at"], minutes=-4)
    d.events.insert(d.events.index(d.old_test), good)


@lie(EGR, AT_FAULT, EXPLAINS, ELSE, TIME, kind=CLEVER)
def repair_corrected_to_the_part_that_was_tested(d):
    """At first without ELSE and TIME: as recorded, nothing was done for the code."""
    done = d.of("repair")[0]
    told = copy.deepcopy(done)
    done["part"] = "wheel-bearing"
    corrected(d, done, told, at("08:30", 3))


@lie(HEALED, PASSED, kind=CLEVER)
def lamp_was_off_when_it_came(d):
    edit(d.before, lambda s: with_bytes(s, "0101", b"\x01\x07\xe5\x00"))


@lie(EGR, HAZARDS, TIME, kind=CLEVER)
def temperature_corrected_once_somebody_asked(d):
    """At first without TIME: what was corrected too late was told by that question."""
    found = next(e for e in d.of("caution") if e["caution"] == "hot-exhaust")
    told = copy.deepcopy(found)
    found["preconditions"] = {"surface temperature": {"value": "290", "unit": "degC"}}
    corrected(d, found, told, at("08:30", 3))


@lie(EGR, TIME, AT_FAULT, typed=True, kind=CLEVER)
def bench_test_written_after_the_drive(d):
    d.recorded = [e["at"] for e in d.events]
    place = d.events.index(d.old_test)
    d.recorded[place:] = [
        shifted(at("08:15", 2), minutes=n) for n in range(len(d.events) - place)
    ]


@lie(THERMO, PASSED, kind=CLEVER)
def good_reading_is_of_the_part_on_the_shelf(d):
    suspects = d.of("diagnosis")[0]["suspect_parts"]
    suspects.append({**suspects[0], "id": "shelf-part", "name": "thermostat in stock"})
    d.new_test["part"] = "shelf-part"
    for one in d.of("caution"):
        if one["at"] > d.of("repair")[0]["at"] and one["step"].get("part"):
            one["step"]["part"] = "shelf-part"


@lie(PUMP, PASSED, kind=CLEVER)
def new_pump_held_for_five_seconds(d):
    d.new_test["conditions"]["required hold time"]["value"] = "5"
    d.new_test["readings"][-1]["value"] = "5"


@lie(IDLE, PASSED, kind=CLEVER)
def it_still_idles_fast(d):
    edit(d.after, lambda s: with_bytes(s, "010C", word(1050 * 4)))


@lie(AIR, PASSED, GONE, kind=CLEVER)
def module_still_reads_forty_below(d):
    for one in (d.before, d.after):
        one["raw"] += "> 010F\n7E8 03 41 0F 00 AA AA AA AA\n"


@lie(EGR, AT_FAULT, EXPLAINS, PASSED, ELSE, kind=CLEVER)
def work_was_for_another_code(d):
    """At first without ELSE: a code that no work was for is not addressed."""
    d.of("repair")[0]["codes"] = ["P0420"]


@lie(EGR, AT_FAULT, EXPLAINS, PASSED, ELSE, kind=CLEVER)
def nothing_but_a_relearn(d):
    """At first without ELSE: a relearn is a step, and no part was worked on."""
    done = d.of("repair")[0]
    done |= {"action": "relearned", "step": "relearn"}
    del done["part_number"], done["old_part"]


# By path, kind of test and step.


@lie(CAP, PASSED, RERAN)
def result_of_noughts_after_the_clear(d):
    edit(d.after, lambda s: with_test(s, 0, lambda p: p[:4] + bytes(6)))


@lie(UNCLEARED, PASSED, RERAN)
def result_moved_but_nothing_counted_it(d):
    old = answers(parsed(d.before["raw"]), "0908")[0][1]
    edit(d.after, lambda s: with_bytes(s, "0908", old[2:]))


@lie(NEWER, PASSED, RERAN)
def not_completed_since_the_clear(d):
    edit(d.after, lambda s: status_is(s, "P0113", 0x50))


@lie(GEARBOX, GONE)
def confirmed_again_without_a_lamp(d):
    edit(d.after, lambda s: status_is(s, "P0741", 0x08))


@lie(PERM, PASSED, RERAN, GONE)
def permanent_codes_not_read_after(d):
    answered(d.after, "0A", "NO DATA")


@lie(WIRE, AT_FAULT)
def drop_measured_at_next_to_no_load(d):
    """0.004 V at 0.02 A, told as 2 V at 10 A."""
    drop, load = d.old_test["readings"]
    drop["value"], load["value"] = "0.004", "0.02"


@lie(VENT, AT_FAULT)
def winding_told_at_two_thousand_degrees(d):
    test = d.old_test
    test["readings"][0]["value"] = "25.5"
    test["conditions"]["reference temperature"]["value"] = "2000"
    test["conditions"]["conductor"] = "copper"


@lie(AIR, AT_FAULT)
def over_range_on_a_range_that_ends_inside_the_limit(d):
    reading = d.old_test["readings"][0]
    reading["above"] = "2.9"
    d.old_test["instruments"][0]["specification"]["high"] = "2.9"


@lie(PURGE, AT_FAULT)
def known_good_valve_fails_too(d):
    good = copy.deepcopy(d.old_test)
    good |= {"of": "known-good", "at": shifted(good["at"], minutes=5)}
    d.put(good, after=d.old_test)


@lie(PURGE, AT_FAULT, typed=True)
def gauge_checked_after_the_test(d):
    gauge = d.old_test["instruments"][0]["specification"]
    gauge |= {"calibrated_on": "2026-03-20", "due": "2027-03-20"}


@lie(DECLINED, GONE, ELSE)
def lamp_on_and_no_code_listed(d):
    def change(said):
        with_codes(said, "03", "7E8", [])
        with_bytes(said, "0101", b"\x80\x07\xe5\x00")

    edit(d.after, change)


@lie(EGR, ELSE, SAME)
def gearbox_lights_its_lamp(d):
    for one, state in ((d.before, b"\0"), (d.after, b"\x81")):
        edit(
            one,
            lambda s, state=state: answers(s, "0101").append(
                ("7E9", b"\x41\x01" + state + b"\x04\x00\x00")
            ),
        )


@lie(EGR, GONE, way="screen")
def display_counts_one_and_lists_none(d):
    d.after["typed"]["modules"][0]["count"] = 1


@lie(EGR, PASSED, way="screen")
def display_passed_without_a_number(d):
    last = d.of("self_test")[-1]
    for name in ("value", "minimum", "maximum"):
        last.pop(name, None)


@lie(EGR, GONE, PASSED)
def vehicle_says_yes_display_says_no(d):
    shown = copy.deepcopy(d.after)
    typed = on_display(shown.pop("raw"))
    shown.pop("protocol")
    move(shown, days=1)
    typed["counts"]["odometer"]["value"] = "120530.5"
    shown |= {"typed": typed, "tool": "display"}
    edit(d.after, lambda s: with_codes(s, "07", "7E8", ["P0401"]))
    d.events.append(shown)


@lie(EGR, SAME)
def no_vin_was_written_down(d):
    del d.of("opening")[0]["vehicle"]["vin"]


@lie(EGR, SAME, TIME)
def odometer_stood_still(d):
    edit(d.after, lambda s: with_bytes(s, "01A6", word(1203450, 4)))


@lie(EGR, SAME)
def another_calibration_than_the_one_programmed(d):
    done = d.of("repair")[0]
    d.put(programming("DEMO-ENG-0002"), after=done)
    new = b"DEMO-ENG-0003".ljust(16, b"\0")

    def change(said):
        with_bytes(said, "0904", b"\x01" + new)
        with_bytes(said, "0906", b"\x01\x55\x66\x77\x88")

    edit(d.after, change)


@lie(BLOCK, HAZARDS)
def gloves_tested_years_ago(d):
    told_as(d, "time since gloves were tested", value="900")


@lie(CAP, HAZARDS)
def danger_confirmed_after_the_work(d):
    confirmed_again(d, at("16:00"))


@lie(EOBD, GONE)
def permanent_code_there_after(d):
    d.after["raw"] += "> 0A\n7E8 04 4A 01 01 13 AA AA AA\n"


@lie(EGR, GONE, PASSED, typed=True)
def last_readout_from_a_display_with_a_picture(d):
    """The picture is of a display that showed something; what it was is typed."""
    after = d.after
    after |= {"typed": on_display(after.pop("raw")), "tool": "display"}
    del after["protocol"]
    test = event(
        "self_test",
        "08:20",
        1,
        monitor="EGR",
        mid="31",
        tid="81",
        value={"value": "612", "unit": "1"},
        minimum={"value": "350", "unit": "1"},
        outcome="passed",
        seen_on="display",
    )
    d.events.extend([test, pictured(d, after)])


@lie(WIRE, AT_FAULT)
def wire_of_the_other_sensor_was_measured(d):
    suspects = d.of("diagnosis")[0]["suspect_parts"]
    suspects.append(
        {**suspects[0], "id": "crank-wire", "name": "wire of the crank sensor"}
    )
    d.old_test["part"] = "crank-wire"


@lie(CAP, AT_FAULT, TIME)
def readings_taken_after_the_cap_was_sold(d):
    for one, when in zip(d.old_test["readings"], ("17:00", "17:01"), strict=True):
        one["at"] = at(when)


# Honest, and a little unlike the usual.


@twist(EGR)
def read_once_more_two_days_later(d):
    later = copy.deepcopy(d.after)
    move(later, days=2)

    def change(said):
        with_counts(said, warm_ups=6, distance=131, minutes=205, went=131)
        with_bytes(said, "010C", word(1777 * 4))
        old = answers(said, "0908")[0][1]
        words = [int.from_bytes(old[n : n + 2], "big") for n in range(3, len(old), 2)]
        with_bytes(said, "0908", old[2:3] + b"".join(word(w + 3) for w in words))

    edit(later, change)
    d.events.append(later)


@twist(EGR)
def its_readiness_waits_for_another_test_of_the_monitor(d):
    """At first among the lies: a monitor is complete once all of its tests ran.

    A clear empties results (ISO 15031-5:2006 7.4.1), so one that is not zero after it
    is new, whether or not the monitor's other tests, of valve timing here, have run.
    """
    edit(d.after, lambda s: with_bytes(s, "0101", b"\x00\x07\xe5\x80"))


@twist(EGR)
def tablet_four_minutes_ahead(d):
    for one in d.of("readout"):
        one["captured"] = shifted(one["captured"], minutes=4)


@twist(EGR)
def brake_module_answers_too(d):
    for one in (d.before, d.after):
        edit(
            one,
            lambda s: [
                answers(s, service).append(("7EA", bytes([int(service, 16) + 64, 0])))
                for service in ("03", "07", "0A")
            ],
        )


@twist(EGR)
def old_code_set_aside_with_its_reason(d):
    edit(d.before, lambda s: with_codes(s, "03", "7E8", ["P0401", "P0562"]))
    edit(d.before, lambda s: with_bytes(s, "0101", b"\x82\x07\xe5\x00"))
    d.of("diagnosis")[0]["set_aside"] = [
        {"codes": ["P0562"], "reason": "known-history", "agreed_by": "customer"}
    ]


@twist(PURGE)
def tested_twice_and_faulty_twice(d):
    again = copy.deepcopy(d.old_test)
    again["readings"][1]["value"] = "9.2"
    again["at"] = shifted(again["at"], minutes=5)
    d.put(again, after=d.old_test)


@twist(EGR)
def gauge_in_kilopascal(d):
    test = d.old_test
    for one, value in zip(test["readings"], ("60.9", "22.0"), strict=True):
        one |= {"value": value, "unit": "kPa"}
    gauge = test["instruments"][0]["specification"]
    gauge |= {"unit": "kPa (vacuum)", "high": "100", "resolution": "0.1"}


@twist(EGR)
def prompts_spaces_and_small_letters(d):
    def loose(line: str) -> str:
        if line.startswith(">"):
            return line.replace("> ", ">") + " \r"
        return "  " + line.lower().replace(" ", "  ") + "\t\r"

    for one in (d.before, d.after):
        lines = ["SEARCHING...", *map(loose, one["raw"].splitlines()), ">", ""]
        one["raw"] = "\n".join(lines)


@twist(EGR)
def module_asks_to_wait_and_then_answers(d):
    for one in (d.before, d.after):
        one["raw"] = one["raw"].replace("> 03\n", "> 03\n7E8 03 7F 03 78 AA AA AA AA\n")


@twist(EGR)
def temperature_read_in_fahrenheit(d):
    told_as(d, "surface temperature", value="88", unit="degF")


@twist(EGR)
def wiper_blades_sold_along(d):
    made = event("repair", "10:45", part="wiper-blades", action="replaced")
    d.put(made, after=d.of("repair")[0])
    told = CATALOGUE.cautions["other-hazards"]
    caution = event(
        "caution",
        "10:40",
        caution=told.id,
        version=told.version,
        text_sha256=told.sha256,
        step={"kind": "repair", "part": "wiper-blades"},
        preconditions={
            "hazards considered": "the arm that springs back",
            "protection": "a cloth lies on the glass",
        },
    )
    d.put(caution, after=d.of("repair")[0])


@twist(EGR, "screen")
def picture_of_the_display(d):
    d.events.append(pictured(d, d.after))
