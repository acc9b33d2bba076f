"""Forty more bogus records and ten more honest ones.

Form and promise are those of the tenth fifty: each says below its name what it must not
come out as, and why; ``typed`` says that *vouched* is tolerable.

The first run: 31 of 40 as expected, and 8 of 10. Eight came out proven, one vouched
that should not. Seven of the eight led to a rule that was mended; one is left as it
comes out, and so is the one that is vouched. The two honest ones were written badly;
one of them, put right, came out unproven still: counts were no test to be repeated.
"""

from truth.bench_changes import bench_test_of, counted_times, told_anew
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
    answers,
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
    in_time,
    programming,
    read_at,
    recalibrated,
    suspect,
    told_as,
)
from truth.jobs import SOURCE, at, event, on_display
from truth.named_jobs import (
    AIR,
    BLOCK,
    CAT,
    CHARGE,
    COIL,
    CRANK,
    DECLINED,
    EGR,
    GEARBOX,
    NEWER,
    NO_VIN,
    PUMP,
    VENT,
    WIRE,
)
from truth.own_jobs import a_fifty, limited
from truth.said import ENGINE, code_bytes, word
from truth.vehicle_counts import ODOMETER, with_rises

LIES, LEFT, HONEST, lie, left, honest = a_fifty()


def typed_beside(d: Draft, clock: str, day: int, change) -> dict:
    """Return what a display would show of a readout, changed, not yet put."""
    source = d.after if day else d.before
    made = event("readout", clock, day, captured=at(clock, day), tool="screen")
    made["typed"] = on_display(source["raw"])
    change(made["typed"])
    return made


def counts_on_screen(d: Draft, **counts: int) -> None:
    """Let the screen show these counts since the clear, and so the odometer."""
    shown = d.after["typed"]["counts"]
    for name, number in counts.items():
        shown[name]["value"] = str(number)
    was = d.before["typed"]["counts"]["odometer"]["value"]
    shown["odometer"]["value"] = str(float(was) + counts["distance"])


# The part, and what was measured on it.


@lie(EGR, AT_FAULT, kind=CLEVER)
def limit_on_what_the_hand_pump_reached(d):
    """The limit is on the start of the hold: a weak hand pump is no bad valve."""
    d.old_test["limit"] |= {"of": "start pressure", "minimum": "20.0"}


@lie(VENT, AT_FAULT, kind=CLEVER)
def leads_of_twelve_ohm_are_taken_off(d):
    """25.5 ohm less 12 of the leads: no lead has twelve; the part is good."""
    d.old_test["readings"][0]["value"] = "25.5"
    lead = {"name": "lead resistance", "value": "12.0", "unit": "ohm"}
    d.old_test["readings"].append(lead)


@lie(WIRE, AT_FAULT, PASSED, kind=CLEVER)
def good_wire_is_scaled_to_a_hundred_ampere(d):
    """0.04 V at 10 A is good; told for a current ten times as high, it is bad."""
    d.old_test["readings"][0]["value"] = "0.04"
    d.new_test["readings"][0]["value"] = "0.01"
    for test in (d.old_test, d.new_test):
        test["conditions"]["rated current"]["value"] = "100"


@lie(VENT, AT_FAULT, typed=True, kind=CLEVER)
def first_reading_has_no_limit_beside_it(d):
    """25.5 ohm first, without a limit, then 210 by the same meter: not equal parts."""
    first = event(
        "bench_test",
        "08:50",
        part="vent-valve",
        of="old",
        setup="removed",
        test="winding",
        result={"value": "25.5", "unit": "ohm"},
        instruments=[{"id": "meter-1"}],
    )
    d.events.insert(d.events.index(d.old_test), first)
    acknowledge_again(d)


@lie(EGR, AT_FAULT, way="screen", kind=CLEVER)
def more_than_three_is_called_less_than_fifteen(d):
    """A display that read above 3 says nothing against a minimum of 15."""
    d.old_test["result"] = {"above": "3.0", "unit": "inHg"}


@lie(EGR, AT_FAULT, typed=True, kind=ODD)
def gauge_is_calibrated_the_week_after(d):
    """Its check was not yet made when it was read: typed, at most."""
    for one in d.old_test["instruments"]:
        one["specification"]["calibrated_on"] = "2026-03-09"


@lie(AIR, AT_FAULT, PASSED, kind=CLEVER)
def scrapped_sensor_is_tested_in_the_afternoon(d):
    """The old part was scrapped at half past ten: what was measured at two?"""
    d.of("repair")[0]["old_part"] = "scrapped"
    test = d.old_test
    d.events.remove(test)
    test["at"] = at("14:00")
    d.put(test, after=d.of("road_test")[0])
    acknowledge_again(d)


@lie(COIL, AT_FAULT, EXPLAINS, kind=CLEVER)
def injector_is_renewed_with_a_part_that_nobody_touched(d):
    """What is renewed with it owes no test; with what was not worked on, it does."""
    made = d.of("diagnosis")[0]
    other = suspect(d, id="injector-1", name="injector of cylinder 1", system="fuel")
    made["suspect_parts"].append(other)
    more = event("repair", "10:40", part="injector-1", action="replaced")
    more |= {"renewed_with": "fuel-rail", "part_number": "EX-3 (invented)"}
    d.put(more, after=d.of("repair")[0])
    acknowledge_again(d)


@lie(CAT, AT_FAULT, typed=True, kind=CLEVER)
def joint_is_ruled_out_by_a_glance(d):
    """What the row rules out first was looked at, not measured: typed, at most."""
    told_anew(
        bench_test_of(d, "exhaust-joint"),
        test="looked at",
        finding={"seen": "looks tight from below", "is_fault": False},
    )


TWO_BANKS = {
    "name": "catalysts of both banks worn",
    "codes": ["P0420", "P0430"],
    "part": ["catalyst", "catalyst", "catalyst"],
    "ruled_out": [
        ["exhaust-joint", "exhaust joint", "exhaust"],
        ["rear-sensor", "rear oxygen sensor", "oxygen-sensor"],
    ],
    "tests": [
        ["21", "81", "20", 30000, 12000, 0, 21000],
        ["22", "81", "20", 29000, 12500, 0, 21000],
    ],
    "days": 2,
    "path": "monitor result",
}


@lie(TWO_BANKS, EXPLAINS, AT_FAULT, typed=True, kind=CLEVER)
def one_bank_is_replaced_for_both(d):
    """The catalyst of bank 1 explains no fault of bank 2: another place."""
    d.of("diagnosis")[0]["suspect_parts"][0]["name"] = "catalyst of bank 1"


def by_counts(d: Draft, test: dict, seen: str, tries: str, **conditions) -> None:
    """Let a test be k of n with hot air, and none of ten without."""
    told_anew(
        test,
        method="intermittent",
        test="heated with hot air, signal watched",
        readings=counted_times(
            seen_with_stimulus=seen,
            tries_with_stimulus=tries,
            seen_without_stimulus="0",
            tries_without_stimulus="10",
        ),
        conditions={"stimulus": "heat", **conditions},
        instruments=[],
    )
    acknowledge_again(d)


def healed_by_counts(d: Draft, before: tuple[str, str], tries: str) -> None:
    """Let both tests be counts: k of n of the old part, and none of so many after."""
    by_counts(d, d.old_test, *before)
    seen, tried = ({"value": number, "unit": "times"} for number in before)
    told = {"seen before repair": seen, "tries before repair": tried}
    told["stimulus before repair"] = "heat"
    by_counts(d, d.new_test, "0", tries, **told)


@lie(CRANK, PASSED, kind=CLEVER)
def heated_too_seldom_to_say_that_it_is_gone(d):
    """3 of 10 before: 0 of 4 afterwards may well be chance (rule of three)."""
    healed_by_counts(d, ("3", "10"), "4")


@lie(AIR, PASSED, kind=CLEVER)
def good_value_is_of_the_sensor_in_the_drawer(d):
    """What was measured good is not fitted: the quantity of the new one is unknown."""
    d.new_test["of"] = "known-good"


@lie(EGR, EXPLAINS, KNOWN, ELSE, AT_FAULT, kind=CLEVER)
def valve_was_replaced_for_another_code(d):
    """The repair names P0113; for the fault that was addressed nothing was done."""
    d.of("repair")[0]["codes"] = ["P0113"]


# Another vehicle, another moment.


@left(NO_VIN, SAME, kind=CLEVER)
def picture_shows_the_sign_of_the_shop(d):
    """Without a VIN to read, plate and VIN are to be in the picture.

    It is left at *vouched*: what a picture shows, in whatever language it is said, is
    for the eye of who reads the packet, in which it lies.
    """
    d.of("attachment")[0]["shows"] = "sign at the gate of the shop (invented)"


@lie(EGR, SAME, kind=CLEVER)
def nobody_wrote_which_vehicle_it_is(d):
    """The VIN that was read has to equal the one that was written: none was."""
    del d.of("opening")[0]["vehicle"]["vin"]


@lie(EGR, SAME, kind=CLEVER)
def programming_of_the_gearbox_explains_the_engine(d):
    """The calibration that changed is not the one that the programming names."""
    d.put(programming("DEMO-TCM-0009"), after=d.of("repair")[0])
    edit(d.after, recalibrated)
    acknowledge_again(d)


@lie(EGR, SAME, way="screen", kind=CLEVER)
def screen_shows_no_vin_afterwards(d):
    """VIN and marks are read again where they were read before."""
    del d.after["typed"]["vin"]


@lie(EGR, SAME, TIME, kind=ODD)
def odometer_rises_by_less_than_since_the_clear(d):
    """60 km since the clear, and the odometer rose by 10: facts conflict."""
    edit(d.after, lambda s: with_bytes(s, "01A6", word(ODOMETER + 105, 4)))


@lie(EGR, SAME, RERAN, TIME, kind=ODD)
def tests_are_counted_without_a_start(d):
    """All counters rise by two; that of the ignition stands, over 60 km."""
    edit(d.after, lambda s: with_rises(s, 2, 0))


@lie(AIR, KNOWN, TIME, kind=CLEVER)
def work_began_before_the_first_readout(d):
    """The sensor was off from 8:00; what is read at 8:10 was made in the yard."""
    d.of("repair")[0]["started"] = at("08:00")
    in_time(d)


@lie(EGR, TIME, typed=True, kind=CLEVER)
def all_is_written_down_on_friday(d):
    """Every step is recorded days after its time: the order of time is a word."""
    d.recorded = [at("12:00", 4)] * len(d.events)
    complaint(d, "The lamp is on; it was a busy week.")


@lie(EGR, RERAN, PASSED, TIME, kind=CLEVER)
def driven_before_the_valve_went_in(d):
    """Cleared, driven, then repaired: what passed did so with the old valve."""
    clear, road = d.of("code_clear")[0], d.of("road_test")[0]
    for one in (clear, road):
        d.events.remove(one)
    clear["at"] = at("08:25")
    road |= {"at": at("08:55"), "start": at("08:27"), "end": at("08:55")}
    d.events.extend([clear, road])
    in_order(d)
    read_at(d, "11:00", ("08:27", "08:55"), warm_ups=1, distance=27, minutes=30)
    in_order(d)


@lie(EGR, KNOWN, typed=True, kind=CLEVER)
def screen_shows_what_the_bytes_do_not_hold(d):
    """The module answers 03 with nothing; somebody types P0401 from a display."""

    def known(typed):
        typed["modules"][0]["stored"] = ["P0401"]

    typed = typed_beside(d, "08:12", 0, known)
    place = d.events.index(d.before) + 1
    edit(d.before, free_of_codes)
    d.events.insert(place, typed)


# Gone, passed, and nothing else: what is not said.


@lie(NEWER, GONE, ELSE, kind=CLEVER)
def same_code_comes_back_with_another_failure_type(d):
    """P0113-13 before, P0113-17 after the clear: a code of its row and place."""

    def change(said):
        body = code_bytes("P0113") + b"\x17" + b"\x2f"
        found = answers(said, "1902FF")
        found[:] = [(who, p[:3] + body) for who, p in found]

    edit(d.after, change)


@lie(GEARBOX, GONE, ELSE, kind=CLEVER)
def lamp_is_asked_for_again(d):
    """P0700 is pending in the engine's module after the repair."""
    edit(d.after, lambda s: with_codes(s, "07", ENGINE, ["P0700"]))


@lie(EGR, GONE, ELSE, way="screen", kind=CLEVER)
def this_screen_shows_no_lamp_any_more(d):
    """A lamp that was read before and not after is not off."""
    for one in d.after["typed"]["modules"]:
        one.pop("lamp", None)
        one.pop("count", None)
        one["not_shown"] = ["lamp", "count"]


@lie(EGR, ELSE, kind=CLEVER)
def brake_module_was_on_the_screen_and_is_not_told(d):
    """The record holds C0035, in a readout that was typed: nobody sets it aside."""

    def more(typed):
        typed["modules"].append({"module": "7EA", "stored": ["C0035"], "pending": []})

    d.put(typed_beside(d, "08:12", 0, more), after=d.before)


@lie(EGR, GONE, PASSED, typed=True, kind=CLEVER)
def pending_by_bytes_and_none_by_the_screen(d):
    """The bytes after the drive hold it as pending; only the display does not."""

    def clean(typed):
        typed["modules"][0]["pending"] = []

    typed = typed_beside(d, "09:10", 1, clean)
    edit(d.after, lambda s: with_codes(s, "07", ENGINE, ["P0401"]))
    d.events.append(typed)


@lie(DECLINED, ELSE, typed=True, kind=CLEVER)
def mechanic_declines_for_the_customer(d):
    """Who agreed is the one who wrote it: nobody was asked."""
    found = d.of("diagnosis")[0]["set_aside"][0]
    found["agreed_by"] = "mechanic-1"


@lie(CHARGE, PASSED, kind=CLEVER)
def new_regulator_overcharges(d):
    """17 V with the engine running: the supply is not right, it is wrong upwards."""
    also_said(d.after, "0142", "41424268")


@lie(EGR, PASSED, kind=CLEVER)
def second_test_of_the_monitor_fails(d):
    """The same monitor gives two results; one of them is outside its limits."""
    more = bytes.fromhex("318217") + word(100) + word(350) + word(65535)
    edit(d.after, lambda s: with_test(s, 0, lambda p: p + more))


@lie(CAT, RERAN, PASSED, way="screen", kind=CLEVER)
def catalyst_passes_two_minutes_after_the_clear(d):
    """Sooner than its row allows: the catalyst is not yet hot."""
    counts_on_screen(d, warm_ups=0, distance=1, minutes=2)


@lie(EGR, RERAN, PASSED, way="hand", kind=CLEVER)
def typed_pass_is_from_before_the_repair(d):
    """A result older than the last attempt shows nothing of it."""
    last = d.of("self_test")[-1]
    d.events.remove(last)
    last["at"] = at("08:18")
    d.put(last, after=d.of("self_test")[-1])


@lie(EGR, PASSED, RERAN, way="hand", kind=ODD)
def value_and_limit_are_of_two_kinds(d):
    """612 of nothing is held against 350 kPa: no limit of this value."""
    d.of("self_test")[-1]["minimum"]["unit"] = "kPa"


@lie(EGR, PASSED, RERAN, way="hand", kind=ODD)
def another_test_id_of_the_monitor_is_typed(d):
    """What failed was test 81; what is typed afterwards is test 9A."""
    d.of("self_test")[-1]["tid"] = "9A"


@left(EGR, GONE, ELSE, kind=ODD)
def list_holds_one_code_and_it_is_blank(d):
    """43 01 00 00: a code is counted, and its bytes are wiped.

    It is left: a published example of service 0A counts three and fills one place with
    0000, and PID 01 counts none here. It is told.
    """

    def change(said):
        found = answers(said, "03")
        found[0] = (found[0][0], b"\x43\x01\x00\x00")

    edit(d.after, change)


# Hazards.


@lie(EGR, HAZARDS, kind=ODD)
def acknowledged_a_text_that_nobody_ships(d):
    """Which text was read is not known."""
    for one in d.of("caution"):
        one["text_sha256"] = "0" * 64


@lie(PUMP, HAZARDS, kind=CLEVER)
def fuel_line_is_opened_under_pressure(d):
    """350 kPa are in the line: the precondition is recorded, and not met."""
    told_as(d, "residual pressure", value="350")


@lie(CAT, HAZARDS, kind=CLEVER)
def lift_is_rated_in_pounds(d):
    """3,500 lb carry 1,588 kg; the vehicle has 1,900."""
    d.of("diagnosis")[0]["suspect_parts"][0]["where"] = ["below"]
    acknowledge_again(d)
    told_as(d, "lift rating", unit="lb")


@lie(BLOCK, HAZARDS, kind=CLEVER)
def waits_half_of_what_the_maker_names(d):
    """Five minutes of ten: the capacitors may hold their charge."""
    told_as(d, "time waited", value="5")


# Honest ones.


LOOSE_CAP = {
    "name": "filler cap not latched",
    "codes": ["P0457"],
    "part": ["filler-cap", "filler cap", "evap"],
    "action": "adjusted",
    "bench": ["seal-hold", "3.0", "17.9", limited("inHg", "15.0")],
    "test": ["3B", "81", "FD", 900, 110, 0, 400],
    "days": 3,
    "path": "monitor result",
}
CAM = {
    "name": "camshaft sensor drops out when hot",
    "codes": ["P0340"],
    "part": ["cam-sensor", "camshaft sensor", "ignition"],
    "bench": ["winding", ">40000", "0.86", limited("kohm", "0.2", "2")],
    "days": 2,
    "path": "watched and measured",
}
MAP = {
    "name": "manifold pressure sensor bends",
    "codes": ["P0106"],
    "part": ["map-sensor", "manifold pressure sensor", "intake"],
    "bench": [
        "linear-transfer",
        "1.90",
        "2.50",
        limited("V", "-0.20", "0.20", of="output error"),
    ],
    "days": 2,
    "path": "watched and measured",
}
INJECTOR_OPEN = {
    "name": "winding of an injector open",
    "codes": ["P0203"],
    "part": ["injector-3", "injector of cylinder 3", "fuel"],
    "bench": ["winding", ">40000", "14.4", limited("ohm", "12", "17")],
    "path": "watched and measured",
}
BANK_2 = {
    "name": "catalyst of bank 2 worn",
    "codes": ["P0430"],
    "part": ["catalyst-2", "catalyst of bank 2", "catalyst"],
    "ruled_out": [
        ["exhaust-joint", "exhaust joint", "exhaust"],
        ["rear-sensor", "rear oxygen sensor of bank 2", "oxygen-sensor"],
    ],
    "test": ["22", "81", "20", 28000, 11000, 0, 21000],
    "days": 3,
    "path": "monitor result",
}
SLOW_SENSOR = {
    "name": "oxygen sensor of bank 2 slow",
    "codes": ["P0153"],
    "part": ["front-sensor", "front oxygen sensor of bank 2", "oxygen-sensor"],
    "bench": ["direct-reading", "480", "90", limited("ms", high="150")],
    "test": ["05", "05", "10", 500, 90, 0, 200],
    "path": "monitor result",
}
CANISTER = {
    "name": "canister leaks",
    "codes": ["P0442"],
    "part": ["canister", "canister", "evap"],
    "bench": ["seal-hold", "4.0", "17.6", limited("inHg", "15.0")],
    "test": ["3C", "81", "FD", 820, 130, 0, 400],
    "days": 3,
    "path": "monitor result",
}
MISFIRE_4 = {
    "name": "a plug first, then the coil",
    "codes": ["P0304"],
    "part": ["coil-4", "ignition coil of cylinder 4", "ignition"],
    "bench": ["winding", "33.0", "11.4", limited("kohm", "5", "20")],
    "test": ["A5", "0B", "24", 36, 0, 0, 10],
    "first_attempt": ["plug-4", "spark plug of cylinder 4", "ignition"],
    "path": "monitor result",
}
HEATER = {
    "name": "heater repaired, the leak declined",
    "codes": ["P0155"],
    "part": ["front-sensor", "front oxygen sensor of bank 2", "oxygen-sensor"],
    "bench": ["winding", ">40000", "6.2", limited("ohm", "2", "20")],
    "test": ["45", "81", "0E", 0, 1150, 500, 65535],
    "set_aside": ["P0442"],
    "days": 2,
    "path": "monitor result",
}
KNOCK = {
    "name": "knock sensor open, nothing cleared",
    "codes": ["P0325"],
    "part": ["knock-sensor", "knock sensor", "ignition"],
    "bench": ["winding", ">40000", "4.9", limited("kohm", "4.0", "6.0")],
    "clear": False,
    "days": 5,
    "path": "lamp went off",
}


@honest(LOOSE_CAP, "vouched")
def cap_was_not_latched_and_is_now(d):
    """What is seen and not measured is typed, at most photographed.

    First its cautions told of a supply that no tank may have.
    """
    told_anew(
        d.old_test,
        setup="engine-off",
        test="looked at before it was touched",
        finding={"seen": "stands a quarter turn before its stop", "is_fault": True},
    )
    acknowledge_again(d)
    told_as(d, "supply limit", value="3.7")


@honest(CAM, "vouched")
def cam_sensor_drops_out_when_it_is_heated(d):
    """k of n under a named stimulus, none of many afterwards: seen, not measured.

    First it was written without a try at rest, which is asked for.
    """
    healed_by_counts(d, ("4", "5"), "15")


@honest(MAP, "proven")
def map_sensor_is_held_at_three_pressures(d):
    """A transfer over pressure instead of an angle, by gauge and voltmeter."""
    for test in (d.old_test, d.new_test):
        pressures = ("20", "60", "100")
        for one in test["readings"]:
            if one["name"] == "stimulus":
                at_place = test["readings"].index(one)
                one |= {"value": pressures[at_place], "unit": "kPa (absolute)"}
        told = {"low": "20", "high": "100"}
        for end, value in told.items():
            test["conditions"][f"specified stimulus {end}"] = {
                "value": value,
                "unit": "kPa (absolute)",
            }
        gauge = test["instruments"][1]
        gauge["id"] = "gauge-9"
        gauge["specification"] |= {"unit": "kPa (absolute)", "high": "250"}
        test["limit"]["source"] = f"{SOURCE}, sensor, page 4"
    acknowledge_again(d)


@honest(INJECTOR_OPEN, "proven")
def injector_circuit_is_watched_over_two_starts(d):
    """A circuit finding asks for two starts; three people worked that day."""
    d.of("road_test")[0]["by"] = "mechanic-3"
    d.after["by"] = "mechanic-2"
    acknowledge_again(d)


@honest(BANK_2, "proven")
def catalyst_by_the_vehicles_own_number(d):
    """Nobody publishes a bench limit: its own failing number, and what is ruled out."""
    complaint(d, "Failed the inspection: engine lamp.")


@honest(SLOW_SENSOR, "unproven", waiting=True)
def sensor_test_has_not_run_in_town(d):
    """Its test asks for a steady cruise; the readout before it left says not run."""
    read_at(d, "13:00", ("12:00", "12:20"), warm_ups=1, distance=8, minutes=28)

    def change(said):
        with_bytes(said, "0101", bytes.fromhex("0007E520"))
        with_rises(said, 0, 2)
        with_test(said, 0, lambda p: p[:4] + bytes(6))

    edit(d.after, change)


@honest(CANISTER, "unproven", way="screen", waiting=True)
def screen_is_read_before_the_customer_leaves(d):
    """No result is displayed yet: a second readout completes it, days later."""
    last = d.after
    d.events[:] = [e for e in d.events if e is not d.of("self_test")[-1]]
    last["at"] = last["captured"] = at("12:50")
    counts_on_screen(d, warm_ups=1, distance=27, minutes=41)
    for one in last["typed"]["modules"]:
        for monitor in one["monitors"]:
            if "evap" in monitor["monitor"].lower():
                monitor["state"] = "not-complete"


@honest(MISFIRE_4, "vouched", way="screen")
def plug_by_screen_first_and_then_the_coil(d):
    """Two attempts, all by a display: the last one counts, the first is told."""
    complaint(d, "It shakes at the lights.")


@honest(HEATER, "proven")
def lamp_stays_on_for_what_was_declined(d):
    """The lamp is explained by the code that the customer did not have repaired."""
    d.of("diagnosis")[0]["set_aside"][0]["note"] = "offer 118 (invented), declined"


@honest(KNOCK, "proven")
def knock_sensor_heals_without_a_clear(d):
    """That the lamp went off by itself is the vehicle's own pass."""
    complaint(d, "The lamp came on uphill.")
