"""Thirty more bogus records and five honest twists, to see whether fresh ones pass.

By the hand that wrote the second and the third fifty, and in their form.

The first run: 21 of 30 as expected. Nine came out proven. Five of them were true holes,
for which rules were mended: a frame cut by a number sign, letters for noughts, codes
cleared within the last readout, a lamp put out by a clear before the repair, more
warm-ups than minutes. Four were no lies, and stand among the twists with the reason.
One twist was refused: what was asked twice and answered alike is one answer (mended).
"""

import copy

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
    with_bytes,
    with_codes,
    without,
)
from truth.changes import (
    CLEAN_03,
    CLEAN_07,
    CLEVER,
    ODD,
    answered,
    recorder,
    status_is,
    told_as,
)
from truth.jobs import at, event
from truth.named_jobs import (
    AIR,
    BLOCK,
    BUS,
    CAP,
    EGR,
    GEARBOX,
    HEALED,
    NEWER,
    PEDAL,
    PERM,
    PUMP,
    PURGE,
    THERMO,
)
from truth.said import code_bytes, word

LIES: list[tuple] = []
TWISTS: list[tuple] = []
lie, twist = recorder(LIES, TWISTS)
CHAIN = "28: timing chain stretched"


@lie(EGR, GONE, kind=ODD)
def rest_of_the_answer_behind_a_number_sign(d):
    cut = "7E8 04 43 # 01 04 01 AA AA AA"
    answered(d.after, "03", cut, CLEAN_03)


@lie(EGR, GONE, kind=ODD)
def letters_for_noughts(d):
    answered(d.after, "07", "7E8 O4 47 O1 O4 O1", CLEAN_07)


@lie(EGR, GONE, kind=ODD)
def pending_without_a_count(d):
    answered(d.after, "07", "7E8 01 47 AA AA AA AA AA AA")


@lie(EGR, GONE, PASSED, TIME, kind=ODD)
def both_readouts_in_one_text(d):
    d.after["raw"] = d.before["raw"] + d.after["raw"]


@lie(EGR, PASSED, RERAN, kind=ODD)
def result_under_another_kind_of_header(d):
    lines = [line for line in d.after["raw"].splitlines() if line.startswith("7E8")]
    start = next(n for n, line in enumerate(lines) if "46 31" in line)
    two = [line.replace("7E8", "18DAF111") for line in lines[start : start + 2]]
    answered(d.after, "0631", *two)


@lie(NEWER, GONE, PASSED, kind=ODD)
def two_failure_types_of_one_code(d):
    def change(said):
        for one in said:
            if one[0] == "190A":
                body = code_bytes("P0113") + b"\x1c\x2f"
                one[1] = [(w, p + body) for w, p in one[1]]

    edit(d.after, change)


@lie(EGR, PASSED, TIME, GONE, kind=CLEVER)
def cleared_within_the_last_readout(d):
    d.after["raw"] = f"> 04\n7E8 01 44 AA AA AA AA AA AA\n{d.after['raw']}"


@lie(HEALED, PASSED, TIME, SAME, kind=CLEVER)
def put_out_by_a_clear_before_the_repair(d):
    clear = event("code_clear", "08:30", tool="adapter (invented)")
    d.put(clear, after=d.of("diagnosis")[0])


@lie(PERM, SAME, PASSED, AT_FAULT, ELSE, kind=CLEVER)
def module_replaced_on_the_side(d):
    made = event(
        "repair",
        "10:45",
        part="engine-computer",
        action="replaced",
        part_number="EX-9 (invented)",
    )
    d.put(made, after=d.of("repair")[0])
    d.of("diagnosis")[0]["suspect_parts"].append(
        {
            "id": "engine-computer",
            "name": "engine control module",
            "system": "control-module",
            "where": ["engine-bay"],
            "codes": ["P0128"],
        }
    )


@lie(THERMO, SAME, TIME, PASSED, RERAN, kind=CLEVER)
def warmed_up_two_hundred_times_in_three_days(d):
    edit(d.after, lambda s: with_bytes(s, "0130", b"\xc8"))
    edit(d.after, lambda s: with_bytes(s, "014E", word(100)))


@lie(PURGE, AT_FAULT, kind=CLEVER)
def warmed_while_it_held(d):
    test = d.old_test
    test["readings"][1]["value"] = "14.9"
    test["limit"]["minimum"] = "15.4"
    test["conditions"]["end temperature"]["value"] = "80.0"


@lie(AIR, PASSED, kind=CLEVER)
def good_reading_is_of_a_known_good_sensor(d):
    d.new_test["of"] = "known-good"


@lie(THERMO, PASSED, kind=CLEVER)
def good_reading_beyond_the_range(d):
    d.new_test["instruments"][0]["specification"]["high"] = "85"


@lie(CHAIN, AT_FAULT)
def limit_in_another_unit_than_the_reading(d):
    d.old_test["limit"]["unit"] = "mm"


@lie(BUS, PASSED, RERAN)
def not_completed_by_the_module_that_complained(d):
    edit(d.after, lambda s: status_is(s, "U0100", 0x10))


@lie(GEARBOX, GONE)
def listed_by_the_older_service_as_well(d):
    edit(d.after, lambda s: with_codes(s, "03", "7E9", ["P0741"]))


@lie(NEWER, PASSED, RERAN)
def all_tested_codes_not_asked_for(d):
    edit(d.after, lambda s: without(s, "190A"))


@lie(EGR, GONE, way="screen")
def stored_codes_are_not_shown_by_this_display(d):
    module = d.after["typed"]["modules"][0]
    del module["stored"]
    module["not_shown"] = ["stored"]


@lie(EGR, SAME, way="screen")
def display_s_vin_left_out_after(d):
    del d.after["typed"]["vin"]


@lie(EGR, SAME, way="screen")
def display_s_odometer_went_back(d):
    d.after["typed"]["counts"]["odometer"]["value"] = "100345"


@lie(EGR, PASSED, way="hand")
def value_and_minimum_in_two_units(d):
    d.of("self_test")[-1]["minimum"]["unit"] = "kPa"


@lie(EGR, PASSED, RERAN, way="hand")
def noughts_typed(d):
    last = d.of("self_test")[-1]
    last["value"]["value"] = last["minimum"]["value"] = "0"


@lie(BLOCK, HAZARDS)
def waited_less_than_the_maker_says(d):
    told_as(d, "time waited", value="2")


@lie(PUMP, HAZARDS)
def opened_under_pressure(d):
    told_as(d, "residual pressure", value="300")


@lie(EGR, HAZARDS)
def temperature_in_kilopascal(d):
    told_as(d, "surface temperature", unit="kPa")


@lie(EGR, SAME)
def vin_asked_and_refused_after(d):
    answered(d.after, "0902", "7E8 03 7F 09 12 AA AA AA AA")


@twist(EGR)
def everything_asked_twice_and_answered_alike(d):
    d.after["raw"] += d.after["raw"]


@twist(EGR)
def the_adapter_s_buffer_was_full(d):
    d.after["raw"] = d.after["raw"].replace("> 07\n", "> 07\nBUFFER FULL\n> 07\n")


@twist(PURGE)
def a_degree_warmer_at_the_end(d):
    d.old_test["conditions"]["end temperature"]["value"] = "20.0"


@twist(EGR)
def refused_once_while_it_was_busy(d):
    busy = "> 03\n7E8 03 7F 03 21 AA AA AA AA\n> 03\n"
    d.after["raw"] = d.after["raw"].replace("> 03\n", busy)


@twist(GEARBOX)
def a_gearbox_without_a_lamp_is_read_once_more(d):
    again = copy.deepcopy(d.after)
    again |= {"at": at("09:10", 2), "captured": at("09:10", 2)}

    def change(said):
        with_bytes(said, "014E", word(182))
        with_bytes(said, "01A6", word(1203450 + 1206, 4))
        with_bytes(said, "0131", word(120))
        assert answers(said, "0101")

    edit(again, change)
    d.events.append(again)


@twist(EGR)
def sixty_kilometres_in_two_minutes(d):
    """At first among the lies: a hybrid vehicle drives without its engine."""
    edit(d.after, lambda s: with_bytes(s, "014E", word(2)))


@twist(PURGE)
def gauge_read_the_start_alone(d):
    """At first among the lies: who measured what is asked only where two could have."""
    d.old_test["instruments"][0]["measures"] = ["start pressure"]


@twist(PEDAL)
def two_readings_at_one_angle(d):
    """At first among the lies: a sensor that says two things at one angle is faulty."""
    for one, angle in zip(d.old_test["readings"], ("0", "0", "90"), strict=False):
        one["value"] = angle


@twist(CAP)
def danger_confirmed_by_another(d):
    """At first among the lies: a second person may confirm, at the part."""
    for one in d.of("caution"):
        if "second_confirmation" in one:
            one["second_confirmation"]["by"] = "mechanic-9"
