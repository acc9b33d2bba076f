"""Forty bogus records and ten honest ones more, in the form of the tenth fifty.

Each lie is what a shop might do that wants to be paid and to look clean; what has to
fall follows from the verdict's definition, whose section stands beside each. Written by
somebody who knew that definition alone, not the rules and none of the other lies but
those of the nineteenth fifty.

When they were first judged, all 40 lies came out as written: none *proven*, none
*vouched* wrongly, none by another question than was written; the honest ones all ten.
Beside the figures two faults of the rules were seen. The sister code that is set aside
kept `nothing-else` from being shown and not `fault-gone`, against which it speaks
(section 2): it is *contradicted* now. And a display alone could not vouch for a
permanent code that a monitor erases, since none shows counts of tests (section 3): it
can now, and ``test_honest.py`` holds it.
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
    with_bytes,
    with_codes,
    with_test,
    without,
)
from truth.changes import (
    CLEVER,
    LATE,
    ODD,
    acknowledge_again,
    corrected,
    free_of_codes,
    in_time,
    programming,
    read_at,
    recalibrated,
    renamed,
    set_aside,
    status_is,
    suspect,
)
from truth.jobs import at, event
from truth.own_jobs import a_fifty, limited
from truth.said import ENGINE, code_bytes, word
from truth.vehicle_counts import with_counts, with_rises

LIES, LEFT, HONEST, lie, left, honest = a_fifty()
GEARBOX_MODULE = "7E9"
CATALYST = "8: catalyst worn"
PENDING = 0x04
"""Status of a code that is pending and not confirmed (ISO 14229-1, from memory)."""
FAILED_SINCE = 0x20
"""Status of a code that failed since the clear, and does not now."""
NOT_THIS_CYCLE = 0x40
"""Status of a code whose test completed since the clear, and not in this cycle."""

MAP = {
    "name": "manifold pressure sensor low",
    "codes": ["P0107"],
    "part": ["map-sensor", "manifold pressure sensor", "intake"],
    "bench": ["direct-reading", "0.12", "1.62", limited("V", "1.40", "1.80")],
    "path": "watched and measured",
}
EGR_SENSOR = {
    "name": "position sensor of the EGR valve low",
    "codes": ["P0405"],
    "part": ["egr-sensor", "position sensor of the EGR valve", "egr"],
    "bench": ["direct-reading", "0.05", "0.92", limited("V", "0.70", "1.10")],
    "path": "watched and measured",
}
PHASER_2 = {
    "name": "camshaft solenoid of bank 2 sticks",
    "codes": ["P0021"],
    "part": ["cam-solenoid-2", "camshaft solenoid of bank 2", "valve-timing"],
    "bench": ["winding", "15.1", "7.4", limited("ohm", "6", "9")],
    "test": ["36", "81", "1C", 1620, 210, 0, 500],
    "path": "monitor result",
}
SLOW_2 = {
    "name": "front oxygen sensor of bank 2 slow",
    "codes": ["P0153"],
    "part": ["front-sensor-2", "front oxygen sensor of bank 2", "oxygen-sensor"],
    "bench": ["direct-reading", "610", "88", limited("ms", "", "150")],
    "test": ["05", "05", "10", 580, 84, 0, 200],
    "path": "monitor result",
}
PURGE = {
    "name": "purge valve flows while closed",
    "codes": ["P0496"],
    "part": ["purge-valve", "purge valve", "evap"],
    "bench": ["seal-hold", "2.0", "17.8", limited("inHg", "15.0")],
    "test": ["3D", "82", "FD", 900, 140, 0, 450],
    "days": 2,
    "path": "monitor result",
}
ASIDE = {
    "name": "P0133 declined, P0441 done; the lamp stays on",
    "codes": ["P0441"],
    "set_aside": ["P0133"],
    "part": ["purge-valve", "purge valve", "evap"],
    "bench": ["seal-hold", "8.0", "17.8", limited("inHg", "15.0")],
    "test": ["3D", "81", "FD", 820, 190, 0, 500],
    "path": "monitor result",
}
COIL_4 = {
    "name": "ignition coil of cylinder 4 open",
    "codes": ["P0304"],
    "part": ["coil-4", "ignition coil of cylinder 4", "ignition"],
    "bench": ["winding", ">40000", "10.6", limited("kohm", "5", "20")],
    "test": ["A5", "0B", "24", 52, 0, 0, 10],
    "path": "monitor result",
}
VALVE_4 = {
    "name": "two attempts at cylinder 4: a plug first, then the valve",
    "codes": ["P0304"],
    "part": ["valve-4", "exhaust valve of cylinder 4", "engine-mechanical"],
    "bench": ["direct-reading", "31", "97", limited("%", "75")],
    "test": ["A5", "0B", "24", 52, 0, 0, 10],
    "first_attempt": ["plug-4", "spark plug of cylinder 4", "ignition"],
    "path": "monitor result",
}
INJECTOR_2 = {
    "name": "injector of cylinder 2 weak",
    "codes": ["P0302"],
    "part": ["injector-2", "injector of cylinder 2", "fuel"],
    "bench": ["balance", "190", "303", limited("%", "85", of="lowest to highest")],
    "test": ["A3", "0B", "24", 44, 0, 0, 10],
    "path": "monitor result",
}
INPUT = {
    "name": "input speed sensor open",
    "codes": ["P0717"],
    "module": GEARBOX_MODULE,
    "pointer": "P0700",
    "part": ["input-sensor", "input speed sensor", "transmission"],
    "bench": ["winding", ">40000", "640", limited("ohm", "500", "900")],
    "status": True,
    "days": 2,
    "path": "code status",
}
WHEEL = {
    "name": "wheel speed sensor, front right, open",
    "codes": ["C0040"],
    "module": "7EA",
    "part": ["wheel-sensor", "wheel speed sensor, front right", "brakes"],
    "bench": ["winding", ">40000", "1.31", limited("kohm", "0.8", "2.5")],
    "status": True,
    "path": "code status",
}
GLOW = {
    "name": "glow plug of cylinder 1 dead",
    "codes": ["P0671"],
    "diesel": True,
    "part": ["glow-plug-1", "glow plug of cylinder 1", "ignition"],
    "bench": ["direct-reading", "0.20", "11.90", limited("A", "8.00", "20.00")],
    "path": "watched and measured",
}
HEATERS = {
    "name": "fuse holder of two heaters burnt",
    "codes": ["P0135", "P0155"],
    "part": ["heater-fuse", "fuse holder of the heaters", "electrical"],
    "bench": ["voltage-drop", "2.10", "0.06", limited("V", "", "0.20")],
    "tests": [
        ["41", "81", "0E", 0, 1150, 500, 65535],
        ["45", "81", "0E", 0, 1180, 500, 65535],
    ],
    "path": "monitor result",
}
CAP = {
    "name": "filler cap leaks, its permanent code erased",
    "codes": ["P0455"],
    "permanent": True,
    "days": 4,
    "part": ["filler-cap", "filler cap", "evap"],
    "bench": ["seal-hold", "1.0", "17.6", limited("inHg", "15.0")],
    "path": "permanent code erased",
}
CRANK = {
    "name": "crank sensor open, its code permanent",
    "codes": ["P0335"],
    "permanent": True,
    "days": 3,
    "part": ["crank-sensor", "crankshaft sensor", "ignition"],
    "bench": ["winding", ">40000", "0.84", limited("kohm", "0.2", "2")],
    "path": "watched and measured",
}
COOLANT = {
    "name": "coolant sensor open, the lamp went off by itself",
    "codes": ["P0118"],
    "clear": False,
    "days": 5,
    "part": ["coolant-sensor", "coolant temperature sensor", "cooling"],
    "bench": ["winding", ">40000", "2.31", limited("kohm", "2.0", "2.8")],
    "path": "lamp went off",
}
CATALYST_KEPT = {
    "name": "catalyst worn, its code never cleared",
    "codes": ["P0420"],
    "part": ["catalyst", "catalyst", "catalyst"],
    "ruled_out": [
        ["exhaust-joint", "exhaust joint", "exhaust"],
        ["rear-sensor", "rear oxygen sensor", "oxygen-sensor"],
    ],
    "test": ["21", "81", "20", 29000, 11800, 0, 21000],
    "clear": False,
    "days": 5,
    "path": "monitor result",
}
KNOCK = {
    "name": "knock sensor low, a J1979-2 vehicle",
    "codes": ["P0327"],
    "uds": True,
    "part": ["knock-sensor", "knock sensor", "ignition"],
    "bench": ["winding", ">40000", "4.7", limited("kohm", "4.0", "6.0")],
    "path": "code status",
}
PUMP = {
    "name": "fuel pump too weak for the rail",
    "codes": ["P0087"],
    "part": ["fuel-pump", "fuel pump", "fuel"],
    "bench": ["stored-energy", "170", "304", limited("kPa", "280")],
    "days": 2,
    "path": "watched and measured",
}
DOSING = {
    "name": "pump of the reductant weak",
    "codes": ["P20E8"],
    "diesel": True,
    "part": ["dosing-pump", "pump of the reductant", "nox"],
    "bench": ["direct-reading", "30", "97", limited("mL", "90", "110")],
    "days": 3,
    "path": "watched and measured",
}
EGR_DIESEL = {
    "name": "EGR valve of a diesel leaks",
    "codes": ["P0401"],
    "diesel": True,
    "part": ["egr-valve", "EGR valve", "egr"],
    "bench": ["seal-hold", "6.0", "17.5", limited("inHg", "15.0")],
    "test": ["31", "81", "17", 220, 600, 340, 65535],
    "path": "monitor result",
}
GASKET = {
    "name": "intake gasket of bank 2 leaks",
    "codes": ["P0174"],
    "part": ["intake-gasket", "intake gasket of bank 2", "intake"],
    "bench": ["seal-hold", "3.0", "17.7", limited("inHg", "15.0")],
    "days": 3,
    "path": "watched and measured",
}
CONTACTOR = {
    "name": "contactor of the high-voltage battery burnt",
    "codes": ["P0AA1"],
    "part": ["contactor", "contactor of the high-voltage battery", "hybrid"],
    "bench": ["voltage-drop", "0.90", "0.03", limited("V", "", "0.10")],
    "days": 2,
    "path": "watched and measured",
}


# What several of them do.


def gearbox_is(readout: dict, calibration: bytes) -> None:
    """Let the gearbox's module say its own calibration, too."""
    payload = b"\x49\x04\x01" + calibration.ljust(16, b"\0")
    edit(readout, lambda s: answers(s, "0904").append((GEARBOX_MODULE, payload)))


def status_moved(readout: dict, who: str) -> None:
    """Let another module give the answers of service 19."""

    def moved(said):
        for one in said:
            if one[0].startswith("19"):
                one[1] = [(who, payload) for _, payload in one[1]]

    edit(readout, moved)


# The fault before the repair, and the part that is said to explain it.


@lie(KNOCK, KNOWN, kind=CLEVER)
def knock_code_was_pending_and_nothing_more(d):
    """No lamp, not confirmed, not failing. Section 2: pending alone does not do."""

    def pending(said):
        status_is(said, "P0327", PENDING)
        with_bytes(said, "0101", bytes.fromhex("0007E500"))

    edit(d.before, pending)


@lie(EGR_SENSOR, KNOWN, SAME, kind=CLEVER)
def first_look_at_the_codes_when_the_sensor_was_in(d):
    """Read at 10:45, fitted at 10:30. Section 2: a readout before the first repair."""
    d.before["at"] = d.before["captured"] = at("10:45")
    in_time(d)


@lie(PHASER_2, KNOWN, kind=LATE)
def clean_readout_is_amended_to_hold_the_code(d):
    """Two minutes later, before anybody looked. Section 6: readouts are never amended.

    Anybody could write any code into a readout so, before the first step.
    """
    right = copy.deepcopy(d.before)
    edit(d.before, free_of_codes)
    made = event("amendment", "08:12", corrects=1, why="a slip", event=right)
    assert d.events[1] is d.before
    d.put(made, after=d.before)


@lie(INPUT, EXPLAINS, kind=CLEVER)
def sensor_of_the_seat_for_the_gearbox(d):
    """A reason, and nowhere that it stands. Section 2: with reason and source."""
    renamed(d, "input-sensor", "seat-sensor")
    renamed(d, "input speed sensor", "sensor of the seat")
    d.of("diagnosis")[0]["suspect_parts"][0] |= {
        "system": "restraint",
        "why": "both hang on one plug",
    }
    acknowledge_again(d)


@lie(COIL_4, EXPLAINS, AT_FAULT, ELSE, kind=LATE)
def coil_is_suspected_after_the_fact(d):
    """The plug was suspected, the coil is sold, and the diagnosis amended on day 3.

    Section 6: once a step rests on it an amendment never gives; section 1: a cause is
    what a diagnosis suspects.
    """
    said = d.of("diagnosis")[0]
    right = copy.deepcopy(said)
    said["suspect_parts"] = [suspect(d, id="plug-4", name="spark plug of cylinder 4")]
    acknowledge_again(d)
    corrected(d, said, right, at("09:00", 3))


@lie(HEATERS, ELSE, kind=CLEVER)
def fuse_is_suspected_for_one_of_two_codes(d):
    """P0155 is named, and no part is suspected for it: nor is it set aside.

    Section 1: addressed is what a part is worked on for; section 2: every other code.
    """
    d.of("diagnosis")[0]["suspect_parts"][0]["codes"] = ["P0135"]


# What was measured on the old part.


@lie(PHASER_2, AT_FAULT, kind=CLEVER)
def faulty_by_less_than_the_meter_can_tell(d):
    """9.02 ohm of at most 9, by a meter of 0.5 %. Section 2: beyond its uncertainty."""
    read_of(d.old_test, "resistance", value="9.02")


@lie(GLOW, AT_FAULT, typed=True, kind=CLEVER)
def clamp_that_begins_at_ten_amperes_reads_a_fifth(d):
    """0.20 A, of which its specification says nothing.

    Section 3: measured is by an instrument of a stated specification, with uncertainty.
    """
    d.old_test["instruments"][0]["specification"]["low"] = "10"


@lie(SLOW_2, AT_FAULT, typed=True, kind=LATE)
def meter_is_checked_three_weeks_after_the_test(d):
    """Section 3: a dated check within the policy's interval, which begins with it."""
    d.old_test["instruments"][0]["specification"]["calibrated_on"] = "2026-03-23"


@lie(GASKET, AT_FAULT, kind=CLEVER)
def other_mechanic_finds_the_gasket_good(d):
    """It is off, and holds 17.6 inHg. Section 2: good and faulty, equal conditions."""
    again = copy.deepcopy(d.old_test)
    again |= {"at": at("10:20"), "by": "mechanic-2"}
    read_of(again, "end pressure", value="17.6")
    d.put(again, after=d.old_test)
    in_time(d)


@lie(CATALYST_KEPT, AT_FAULT, kind=CLEVER)
def joint_is_ruled_out_when_the_catalyst_is_in(d):
    """The joint before it holds at 11:00, half an hour after the repair.

    Section 2: what the row says to rule out first, tested good.
    """
    bench_test_of(d, "exhaust-joint")["at"] = at("11:00")
    in_time(d)


@lie(CATALYST_KEPT, AT_FAULT, kind=CLEVER)
def catalyst_passed_its_test_before(d):
    """20500 of at most 21000. Section 2: the vehicle's own failing number before."""
    edit(d.before, lambda s: with_test(s, 0, lambda p: p[:4] + word(20500) + p[6:]))


@lie(INJECTOR_2, AT_FAULT, kind=CLEVER)
def injector_of_cylinder_3_is_the_weak_one(d):
    """190 mL by cylinder 3, and that of cylinder 2 is sold. Section 2: of that part."""
    weak, other = d.old_test["readings"][1:3]
    assert (weak["value"], weak["which"]) == ("190", "cylinder 2")
    assert other["which"] == "cylinder 3"
    weak["which"], other["which"] = other["which"], weak["which"]


# Whether its test ran again and passed.


@lie(PHASER_2, PASSED, kind=ODD)
def failing_result_stands_behind_a_passing_one(d):
    """One answer, two results: another test passes, this one's is as it was.

    Section 2: against it speaks the same test outside its limits.
    """

    def two(payload):
        passing = b"\x36\x82" + payload[3:]
        failing = payload[1:4] + word(1600) + payload[6:]
        return payload[:1] + passing + failing

    edit(d.after, lambda s: with_test(s, 0, two))


@lie(HEATERS, RERAN, PASSED, kind=CLEVER)
def result_of_the_second_heater_is_not_read(d):
    """The tool was asked for bank 1 alone. Section 2: each addressed fault."""
    edit(d.after, lambda s: without(s, "0645"))


@lie(HEATERS, PASSED, GONE, ELSE, kind=CLEVER)
def second_heater_fails_again_and_is_set_aside(d):
    """The fuse was renewed for it. Section 1: never what a part was worked on for."""

    def fails(said):
        with_test(said, 1, lambda p: p[:4] + word(0) + p[6:])
        for service in ("03", "07"):
            with_codes(said, service, ENGINE, ["P0155"])
        with_bytes(said, "0101", bytes.fromhex("8107E500"))

    edit(d.after, fails)
    d.of("diagnosis")[0]["set_aside"] = set_aside(["P0155"], "declined")


@lie(INPUT, RERAN, PASSED, kind=ODD)
def gearbox_lists_nothing_and_knows_of_no_test(d):
    """Its mask holds neither bit 4 nor 5: whether a test completed is not said.

    Section 4: absent only from an answer whose availability mask has bits 4 and 5.
    """

    def empty(said):
        for one in said:
            if one[0].startswith("19"):
                one[1] = [(who, payload[:2] + b"\x0f") for who, payload in one[1]]

    edit(d.after, empty)


@lie(WHEEL, RERAN, PASSED, GONE, kind=CLEVER)
def wheel_sensor_failed_once_more_since_the_clear(d):
    """It does not now. Section 4: completed, not failed since clear."""
    edit(d.after, lambda s: status_is(s, "C0040", FAILED_SINCE))


@lie(CAP, RERAN, PASSED, kind=CLEVER)
def erased_code_was_never_permanent(d):
    """0A was empty before, and is. Section 4: the module had it as permanent."""
    edit(d.before, lambda s: with_codes(s, "0A", ENGINE, []))


@lie(COOLANT, RERAN, PASSED, SAME, kind=ODD)
def counts_stand_still_while_the_lamp_goes_off(d):
    """300 km by the odometer, none since the clear. Section 4: 30, 31 or 4E went on."""
    edit(d.after, lambda s: with_counts(s, warm_ups=40, distance=2000, minutes=3000))


@lie(PUMP, PASSED, kind=CLEVER)
def new_pump_is_held_to_half_the_limit(d):
    """160 kPa of at least 150, where the old one owed 280.

    Section 4: good by the same method and limit.
    """
    d.new_test["limit"]["minimum"] = "150"
    d.new_test["readings"][1]["value"] = "160"


@lie(DOSING, PASSED, kind=CLEVER)
def pump_on_the_shelf_is_measured_instead(d):
    """It is a known good one. Section 4: good on the part now fitted."""
    d.new_test["of"] = "known-good"


@lie(CONTACTOR, PASSED, kind=CLEVER)
def new_contactor_carries_a_tenth_of_the_current(d):
    """0.09 V at 1 A, as bad as the old one's 0.90 V at 10 A; rated, it says now, 1 A.

    Section 4: the quantity that was faulty is good by the same method and limit.
    """
    read_of(d.new_test, "voltage drop", value="0.09")
    read_of(d.new_test, "load current", value="1.0")
    d.new_test["conditions"]["rated current"]["value"] = "1.0"


@lie(EGR_SENSOR, RERAN, PASSED, kind=CLEVER)
def read_while_the_first_drive_still_lasts(d):
    """One start since the clear. Section 4: two starts, or three driving cycles."""
    read_at(d, "12:31", ("12:00", "12:30"), warm_ups=0, distance=27, minutes=31)

    def one_start(said):
        with_bytes(said, "011F", word(31 * 60))
        with_rises(said, 0, 1)

    edit(d.after, one_start)


@lie(CATALYST, RERAN, PASSED, kind=CLEVER)
def catalyst_passes_two_minutes_after_the_clear(d):
    """Section 4: sooner after a clear than the row's soonest shows nothing."""
    read_at(d, "11:35", ("11:32", "11:34"), warm_ups=0, distance=2, minutes=2)

    def one_start(said):
        with_bytes(said, "011F", word(150))
        with_rises(said, 1, 1)

    edit(d.after, one_start)


@lie(GLOW, RERAN, PASSED, SAME, kind=ODD)
def last_readout_is_the_first_without_its_codes(d):
    """Not a count, not a degree differs. Section 5: a copy is of the same moment."""
    d.after["raw"] = d.before["raw"]

    def clean(said):
        free_of_codes(said)
        with_bytes(said, "0101", bytes.fromhex("000FEB00"))

    edit(d.after, clean)


# Whether it is gone, and nothing else is left.


@lie(MAP, GONE, RERAN, PASSED, kind=CLEVER)
def sensor_code_came_back_and_was_cleared_once_more(d):
    """Pending at 17:00, cleared at 17:30, clean the next morning, nothing repaired.

    Section 2: against it speaks that it is there after a clear again; section 1: an
    attempt ends with the readout in which it is present.
    """
    back = copy.deepcopy(d.after)
    back["at"] = back["captured"] = at("17:00")

    def again(said):
        for service in ("03", "07"):
            with_codes(said, service, ENGINE, ["P0107"])
        with_bytes(said, "0101", bytes.fromhex("8107E500"))
        with_counts(said, warm_ups=1, distance=27, minutes=35, went=27)
        with_rises(said, 1, 2)

    edit(back, again)
    edit(d.after, lambda s: with_counts(s, warm_ups=2, distance=30, minutes=40))
    cleared = event("code_clear", "17:30", tool="adapter (invented)")
    d.events[-1:] = [back, cleared, d.after]


@lie(INPUT, GONE, kind=CLEVER)
def engine_still_asks_for_the_gearboxs_lamp(d):
    """P0700 is pending. Section 1: fault-gone is asked of a code that only points."""
    edit(d.after, lambda s: with_codes(s, "07", ENGINE, ["P0700"]))


@lie(PURGE, GONE, ELSE, kind=CLEVER)
def sister_code_comes_after_the_clear_and_is_watched(d):
    """P0441 of the same valve is pending on day 2, and set aside there and then.

    Section 1: never a code of the fault's own row and place that is new afterwards.
    """
    edit(d.after, lambda s: with_codes(s, "07", ENGINE, ["P0441"]))
    later = event(
        "diagnosis",
        "08:40",
        2,
        codes=["P0441"],
        suspect_parts=[],
        reasoning="it may go by itself",
        set_aside=set_aside(["P0441"], "watched"),
    )
    d.events.append(later)


@lie(WHEEL, GONE, kind=ODD)
def gearbox_had_it_and_the_brakes_are_asked(d):
    """Section 2: the module that reported it does not report it."""
    status_moved(d.before, GEARBOX_MODULE)


@lie(SLOW_2, ELSE, kind=CLEVER)
def freeze_frame_is_of_a_code_that_nobody_names(d):
    """It was kept for P0128. Section 2: every other code that the record holds."""
    frame = b"\x42\x02\x00" + code_bytes("P0128")

    def of_another(said):
        answers(said, "020200")[:] = [(ENGINE, frame)]

    edit(d.before, of_another)


@lie(VALVE_4, ELSE, kind=CLEVER)
def another_code_between_two_attempts(d):
    """P0420 is pending after the plug, and cleared with the rest.

    Section 2: every other code, before and after, is addressed or set aside.
    """
    edit(d.before, lambda s: with_codes(s, "07", ENGINE, ["P0420"], add=True))


# The vehicle, the times, and how safely.


@lie(COIL_4, SAME, kind=CLEVER, way="screen")
def odometer_on_the_display_went_back(d):
    """120345 km, then 120012. Section 2: a count that only rises has risen."""
    d.after["typed"]["counts"]["odometer"]["value"] = "120012"


@lie(MAP, SAME, kind=CLEVER)
def another_calibration_is_read_than_was_written(d):
    """0003 is written, 0002 is read. Section 2: names calibration, and it is read."""
    edit(d.after, recalibrated)
    d.put(programming("DEMO-ENG-0003"), after=d.of("repair")[-1])
    acknowledge_again(d)


@lie(INPUT, SAME, kind=ODD)
def gearbox_has_another_calibration_since(d):
    """Of no programming a word. Section 1: calibration ids are marks, of any module."""
    gearbox_is(d.before, b"DEMO-GBX-0001")
    gearbox_is(d.after, b"DEMO-GBX-0002")


@lie(COIL_4, SAME, RERAN, TIME, kind=CLEVER)
def cleared_once_more_on_the_yard(d):
    """4 km since the clear, and a road test of 27 km after the one that is told.

    Section 2: counts since clear fit time and drive.
    """
    edit(d.after, lambda s: with_counts(s, warm_ups=0, distance=4, minutes=8))


@lie(EGR_DIESEL, TIME, kind=LATE)
def last_readout_is_dated_twelve_hours_ahead(d):
    """Each step was recorded at once, this one twelve hours before it was done.

    Section 2: times lie before they are recorded.
    """
    d.recorded = [one["at"] for one in d.events]
    move(d.after, hours=12)


@lie(GLOW, HAZARDS, kind=LATE)
def second_man_reads_the_cautions_halfway_through(d):
    """He began at 10:00 and acknowledges at 10:20.

    Section 2: the caution stands before the start of a repair that takes longer.
    """
    d.of("repair")[0]["by"] = "mechanic-2"
    acknowledge_again(d)
    his = [one for one in d.of("caution") if one["by"] == "mechanic-2"]
    assert his
    for one in his:
        one["at"] = at("10:20")
        if "second_confirmation" in one:
            one["second_confirmation"]["at"] = at("10:21")


@lie(KNOCK, HAZARDS, kind=CLEVER)
def driver_of_the_road_test_read_no_caution(d):
    """The mechanic did. Section 2: acknowledged before it by who did it."""
    d.of("road_test")[0]["by"] = "mechanic-2"


@lie(CONTACTOR, HAZARDS, kind=CLEVER)
def contactor_is_called_a_cable_of_the_engine_bay(d):
    """Wiring has no high voltage, and P0AA1 is where the orange cables are.

    Section 8: caution dodged by wording and system.
    """
    renamed(d, "contactor of the high-voltage battery", "cable of the main relay")
    d.of("diagnosis")[0]["suspect_parts"][0] |= {
        "system": "wiring",
        "where": ["engine-bay"],
    }
    acknowledge_again(d)
    kept = [one for one in d.events if one.get("caution") != "high-voltage"]
    d.events[:] = kept


# Honest ones.


@honest(WHEEL, "proven")
def brakes_did_not_test_the_sensor_in_this_cycle(d):
    """Section 4: completed since the clear and not failed; today it stands still."""
    edit(d.after, lambda s: status_is(s, "C0040", NOT_THIS_CYCLE))


@honest(SLOW_2, "vouched", way="screen")
def second_display_counts_in_miles(d):
    """60 km are 37.3 miles, and 120405.5 km are 74816.6."""
    counts = d.after["typed"]["counts"]
    counts["distance"] = {"value": "37", "unit": "mi"}
    counts["odometer"] = {"value": "74817", "unit": "mi"}


@honest(COIL_4, "proven")
def plug_and_coil_are_both_faulty(d):
    """Section 1: each is a cause, with its own bench test."""
    plug = suspect(d, id="plug-4", name="spark plug of cylinder 4")
    d.of("diagnosis")[0]["suspect_parts"].append(plug)
    gap = copy.deepcopy(d.old_test)
    gap |= {"at": at("09:25"), "part": "plug-4", "method": "direct-reading"}
    gap |= {"test": "gap by a wire gauge", "limit": limited("mm", "0.7", "1.1")}
    gap["limit"]["source"] = d.old_test["limit"]["source"]
    gap["readings"] = [{"name": "length", "value": "1.80", "unit": "mm"}]
    gap["instruments"] = gap["instruments"][:1]
    gap["instruments"][0]["id"] = "wire-gauge-1"
    gap["instruments"][0]["specification"]["unit"] = "mm"
    del gap["conditions"]
    fitted = {**copy.deepcopy(d.of("repair")[0]), "part": "plug-4"}
    move(fitted, minutes=10)
    d.events.extend([gap, fitted])
    in_time(d)


@honest(MAP, "proven")
def sensor_is_measured_when_it_is_off(d):
    """Begun at 10:00, measured at 10:15, done at 10:30. Section 1: until then."""
    d.old_test["at"] = at("10:15")
    in_time(d)


@honest(CRANK, "unproven", waiting=True)
def permanent_code_is_not_erased_yet(d):
    """Section 2: only 0A holds it after a clear; a later readout can show the rest."""
    edit(d.after, lambda s: with_codes(s, "0A", ENGINE, ["P0335"]))


@honest(EGR_DIESEL, "proven")
def last_readout_is_dated_in_universal_time(d):
    """07:10 there is 08:10 here."""
    d.after["at"] = d.after["captured"] = "2026-03-03T07:10:00+00:00"


@honest(INPUT, "proven")
def customer_comes_by_a_week_later(d):
    """It is read once more, and all is well still."""
    again = copy.deepcopy(d.after)
    again["at"] = again["captured"] = at("15:20", 9)

    def later(said):
        with_counts(said, warm_ups=27, distance=540, minutes=810, went=540)
        with_rises(said, 18, 54)

    edit(again, later)
    d.events.append(again)


@honest(GLOW, "proven")
def plug_is_handed_over_to_the_late_shift(d):
    """One tests it, another fits the new one and signs its cautions."""
    for one in d.events[d.events.index(d.of("repair")[0]) :]:
        one["by"] = "mechanic-2"
    waits = "the plug is tested, the new one is to be fitted"
    d.events.append(event("handover", "09:40", to="mechanic-2", waits=waits))
    in_time(d)


@honest(ASIDE, "proven")
def slow_sensor_is_declined_when_the_bill_is_known(d):
    """Section 1: a diagnosis names it with a reason, and who agreed; here the last."""
    aside = d.of("diagnosis")[0].pop("set_aside")
    later = event(
        "diagnosis",
        "09:00",
        1,
        codes=["P0133"],
        suspect_parts=[],
        reasoning="the sensor is slow; the customer will not have it done now",
        set_aside=aside,
    )
    d.events.append(later)


@honest(CONTACTOR, "proven")
def slip_in_a_reading_is_put_right_at_once(d):
    """0.80 for 0.90, both faulty, five minutes later. Section 6: it replaces it."""
    right = copy.deepcopy(d.old_test)
    read_of(d.old_test, "voltage drop", value="0.80")
    place = d.events.index(d.old_test)
    made = event("amendment", "09:20", corrects=place, why="a slip", event=right)
    d.put(made, after=d.old_test)
