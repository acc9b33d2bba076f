"""Forty lies and ten honest jobs more, by a hand that knew the contract alone.

Written from ``verdict.md`` and the table of codes without a look at the rules, nearly
all of jobs of their own. How the jobs themselves come out was looked at; what becomes
of a lie was not. Each lie says what it does and which section it offends.

Of three honest jobs (a frame at no speed, a permanent code of a lean bank, a map
without the ids) that look showed, before the first run, that they came out unproven;
they stand as the contract has them. Rules for two of them came from elsewhere before
the first run.

First run, of forty lies: 36 as expected, 4 came out proven, none vouched, none fell by
another question than expected. Of ten honest jobs: 9 as expected.

A status of history was no fault of now only with one bit more, and in a module that
tells no lamp not at all; that lie had been told by half, and says so. A glow plug had
no cylinder, a rail no pressure that is impossible under load, and service 09's own list
was not held against the VIN; a frame at 0 rpm asked for a load of 0. Rules for these
came after.
"""

import copy

from truth.bench_changes import counted_times, told_anew
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
    with_bytes,
    with_codes,
    with_test,
    without,
)
from truth.changes import (
    CLEVER,
    ODD,
    acknowledge_again,
    also_said,
    answered,
    complaint,
    in_time,
    renamed,
    renumbered,
    status_is,
    suspect,
    told_as,
)
from truth.jobs import at, bench, event
from truth.named_jobs import (
    BLOCK,
    BUS,
    CHARGE,
    COIL,
    CRANK,
    EGR,
    HEALED,
    NEWER,
    PERM,
    PUMP,
    THERMO,
    UNCLEARED,
)
from truth.own_jobs import a_fifty, limited
from truth.said import code_bytes, word
from truth.vehicle_counts import with_counts, with_rises

LIES, LEFT, HONEST, lie, left, honest = a_fifty()
GEARBOX_MODULE = "7E9"
TWO_FAULTS = "-: two faults with one repair"
KNOCK, WHEEL = "29: knock sensor open", "25: wheel speed sensor open"
NO_COUNTS = "-: EOBD: without distance and minutes since the clear"
OLD_VAN = "36: before CAN: no VIN, no monitor ids"


# Jobs of its own that a lie or more is told of.


PHASER = {
    "name": "solenoid of the intake camshaft open",
    "codes": ["P0011"],
    "part": ["timing-solenoid", "solenoid of the intake camshaft", "valve-timing"],
    "bench": ["winding", ">40000", "7.6", limited("ohm", "6", "9")],
    "test": ["35", "81", "1C", 1900, 300, 0, 800],
    "path": "monitor result",
}
LEAN_2 = {
    "name": "hose of the intake leaks, bank 2 is lean",
    "codes": ["P0174"],
    "part": ["intake-hose", "hose of the intake", "intake"],
    "bench": ["seal-hold", "4.0", "17.6", limited("inHg", "15.0")],
    "test": ["82", "81", "AF", 2600, 300, -1000, 1000],
    "path": "monitor result",
}
AIR_PUMP = {
    "name": "secondary air pump weak",
    "codes": ["P0411"],
    "part": ["air-pump", "secondary air pump", "secondary-air"],
    "bench": ["direct-reading", "2.1", "31.0", limited("A", "20", "45")],
    "test": ["71", "81", "17", 120, 700, 400, 65535],
    "path": "monitor result",
}
REAR_SENSOR = {
    "name": "rear sensor does not move",
    "codes": ["P0140"],
    "part": ["rear-sensor", "rear oxygen sensor", "oxygen-sensor"],
    "bench": ["direct-reading", "540", "95", limited("ms", high="150")],
    "test": ["02", "05", "10", 520, 90, 0, 200],
    "path": "monitor result",
}
RANDOM = {
    "name": "pump weak, all cylinders misfire",
    "codes": ["P0300"],
    "part": ["fuel-pump", "fuel pump", "fuel"],
    "bench": ["stored-energy", "180", "305", limited("kPa", "280")],
    "test": ["A1", "0B", "24", 60, 0, 0, 20],
    "path": "monitor result",
}
RAIL = {
    "name": "rail pressure sensor low",
    "codes": ["P0192"],
    "part": ["rail-sensor", "rail pressure sensor", "fuel"],
    "bench": ["direct-reading", "0.02", "1.30", limited("V", "1.10", "1.50")],
    "path": "watched and measured",
}
EGR_SENSOR = {
    "name": "sensor C of the EGR low",
    "codes": ["P044C"],
    "part": ["egr-sensor", "position sensor of the EGR valve", "egr"],
    "bench": ["direct-reading", "0.02", "0.80", limited("V", "0.60", "1.00")],
    "path": "watched and measured",
}
INPUT_SPEED = {
    "name": "input speed sensor of the gearbox open",
    "codes": ["P0715"],
    "module": "7E9",
    "pointer": "P0700",
    "part": ["speed-sensor", "input speed sensor", "transmission"],
    "bench": ["winding", ">40000", "0.95", limited("kohm", "0.5", "1.5")],
    "status": True,
    "path": "code status",
}
INPUT_LOST = {
    **INPUT_SPEED,
    "name": "input speed sensor open, the engine misses the gearbox's data",
    "pointer": "U0402",
}
REFRIGERANT = {
    "name": "pressure sensor of the air conditioning low",
    "codes": ["P0532"],
    "part": ["pressure-sensor", "refrigerant pressure sensor", "air-conditioning"],
    "bench": ["direct-reading", "0.02", "1.45", limited("V", "1.20", "1.70")],
    "path": "watched and measured",
}
OIL = {
    "name": "oil pressure sensor low",
    "codes": ["P0522"],
    "part": ["oil-sensor", "oil pressure sensor", "lubrication"],
    "bench": ["direct-reading", "0.05", "0.51", limited("V", "0.40", "0.60")],
    "path": "watched and measured",
}
AIR_FLOW = {
    "name": "air-flow sensor reads low, never cleared",
    "codes": ["P0101"],
    "part": ["air-flow-sensor", "air-flow sensor", "intake"],
    "bench": ["direct-reading", "60", "93", limited("%", "85")],
    "clear": False,
    "days": 4,
    "path": "watched and measured",
}
GLOW = {
    "name": "glow plug of cylinder 1 dead",
    "codes": ["P0671"],
    "diesel": True,
    "part": ["glow-plug-1", "glow plug of cylinder 1", "ignition"],
    "bench": ["direct-reading", "0.10", "12.40", limited("A", "8.00", "20.00")],
    "path": "watched and measured",
}
FAN = {
    "name": "ground of the fan corroded",
    "codes": ["P0480"],
    "part": ["fan-wire", "ground wire of the fan", "wiring"],
    "action": "repaired",
    "bench": ["voltage-drop", "1.40", "0.06", limited("V", high="0.20")],
    "path": "watched and measured",
}
NOX_SENSOR = {
    "name": "NOx sensor reads low",
    "codes": ["P2201"],
    "diesel": True,
    "part": ["nox-sensor", "NOx sensor", "nox"],
    "bench": ["direct-reading", "0.05", "1.20", limited("V", "1.00", "1.40")],
    "status": True,
    "path": "code status",
}
STARTER = {
    "name": "lead of the starter corroded",
    "codes": ["P0615"],
    "part": ["starter-lead", "lead of the starter", "wiring"],
    "action": "repaired",
    "bench": ["voltage-drop", "1.90", "0.12", limited("V", high="0.50")],
    "path": "watched and measured",
}
GAS = {
    "name": "exhaust gas temperature sensor open",
    "codes": ["P0546"],
    "diesel": True,
    "part": ["gas-sensor", "exhaust gas temperature sensor", "exhaust"],
    "bench": ["winding", ">40000", "0.22", limited("kohm", "0.15", "0.30")],
    "path": "watched and measured",
}
GAP = {
    "name": "gap of the crank sensor adjusted",
    "codes": ["P0335"],
    "part": ["crank-sensor", "crankshaft sensor", "ignition"],
    "action": "adjusted",
    "bench": ["direct-reading", "2.4", "0.9", limited("mm", "0.5", "1.5")],
    "path": "watched and measured",
}


def dropouts(d, *, seen: str, tries: str, after: str) -> None:
    """Let the old and the new part be heated: k of n before, 0 of m after."""
    for test, k, n, by in (
        (d.old_test, seen, tries, "heat"),
        (d.new_test, "0", "60", after),
    ):
        before = {} if test is d.old_test else _before(seen, tries)
        told_anew(
            test,
            method="intermittent",
            test="signal watched while the part is treated",
            readings=counted_times(
                seen_with_stimulus=k,
                tries_with_stimulus=n,
                seen_without_stimulus="0",
                tries_without_stimulus="20",
            ),
            conditions={"stimulus": by, **before},
            instruments=[],
        )


def _before(seen: str, tries: str) -> dict:
    return {
        "seen before repair": {"value": seen, "unit": "times"},
        "tries before repair": {"value": tries, "unit": "times"},
        "stimulus before repair": "heat",
    }


# The fault, the part, and what was measured on it.


@lie(BUS, KNOWN, kind=CLEVER)
def history_alone_in_the_module_that_complained(d):
    """Status 08: confirmed once, neither pending nor failing, no number (section 2).

    At first 07 held it still: then it is pending, and reported.
    """

    def change(said):
        status_is(said, "U0100", 0x08)
        with_codes(said, "07", GEARBOX_MODULE, [])

    edit(d.before, change)


@lie(EGR_SENSOR, EXPLAINS, kind=CLEVER)
def purge_valve_for_a_code_with_a_letter(d):
    """P044C lies between evaporative ones and is the EGR's: narrowest wins (1, 2)."""
    d.of("diagnosis")[0]["suspect_parts"] = [
        suspect(d, name="purge valve", system="evap")
    ]
    acknowledge_again(d)


@lie(TWO_FAULTS, EXPLAINS, kind=CLEVER)
def hose_is_sold_for_the_air_sensor_too(d):
    """P0113 comes with the vehicle, and a fuel vapour hose is its cause (section 2)."""

    def change(said):
        with_bytes(said, "0101", bytes.fromhex("8307E500"))
        for service in ("03", "07"):
            with_codes(said, service, "7E8", ["P0113"], add=True)

    edit(d.before, change)
    told = d.of("diagnosis")[0]
    told["codes"].append("P0113")
    told["suspect_parts"][0]["codes"] = list(told["codes"])
    acknowledge_again(d)


@lie(GLOW, EXPLAINS, AT_FAULT, typed=True, kind=CLEVER)
def plug_of_the_third_cylinder(d):
    """P0671 is of cylinder 1, tested and replaced is the plug of 3 (1, place)."""
    renamed(d, "glow-plug-1", "glow-plug-3")
    renamed(d, "glow plug of cylinder 1", "glow plug of cylinder 3")


@lie(CRANK, AT_FAULT, kind=CLEVER)
def dropped_out_once_in_ten(d):
    """One dropout of ten tries under heat shows no fault (section 2, k of n)."""
    dropouts(d, seen="1", tries="10", after="heat")


@lie(CRANK, PASSED, kind=CLEVER)
def heated_before_and_tapped_after(d):
    """The new one was never heated: good is asked by the same method (section 4)."""
    dropouts(d, seen="6", tries="10", after="tap")


@lie(KNOCK, PASSED, kind=CLEVER)
def meter_may_be_wrong_by_two_hundred_digits(d):
    """4.9 between 4.0 and 6.0 kohm, known to 2.0: not good beyond it (3, 4)."""
    told = d.new_test["instruments"][0]["specification"]
    told["digits"] = "200"


# Its test.


@lie(PHASER, RERAN, PASSED, kind=CLEVER)
def camshaft_of_the_other_bank_passes(d):
    """The result after it is monitor 36, of bank 2 (section 4, ids of the row)."""
    edit(d.after, lambda s: renumbered(s, "0635", "0636"))


@lie(LEAN_2, RERAN, PASSED, kind=CLEVER)
def bank_one_is_not_lean(d):
    """P0174 is of bank 2; monitor 81, which passes, is of bank 1 (section 4)."""
    edit(d.after, lambda s: renumbered(s, "0682", "0681"))


@lie(REAR_SENSOR, RERAN, PASSED, kind=ODD)
def asked_for_the_rear_and_the_front_answers(d):
    """Below the request for monitor 02 stands a result of monitor 01 (section 4)."""
    edit(d.after, lambda s: with_test(s, 0, lambda p: p[:1] + b"\x01" + p[2:]))


@lie(AIR_PUMP, RERAN, PASSED, kind=ODD)
def its_test_cannot_fail(d):
    """0 to 65535 is every number that two bytes can say (section 8)."""
    for readout in (d.before, d.after):
        edit(
            readout,
            lambda s: with_test(s, 0, lambda p: p[:6] + word(0) + word(65535)),
        )


@lie(RANDOM, PASSED, GONE, ELSE, kind=CLEVER)
def second_cylinder_still_misfires(d):
    """Its monitor counts 40 of at most 10; P0300 is of any cylinder (4, row)."""
    also_said(d.after, "06A3", "46A30B24" + "00280000000A")


@lie(RAIL, PASSED, GONE, RERAN, kind=CLEVER)
def no_pressure_at_sixty(d):
    """The rail's pressure stands at the end of its scale while it drives (4)."""
    also_said(d.after, "0123", "41230000")


@lie(AIR_FLOW, RERAN, PASSED, kind=CLEVER)
def two_cycles_where_three_are_asked(d):
    """Two starts, two warm-ups: a range code asks for three cycles (section 4)."""

    def change(said):
        with_counts(said, warm_ups=42)
        with_rises(said, 2, 2)

    edit(d.after, change)


@lie(PERM, RERAN, PASSED, SAME, kind=CLEVER)
def calibration_was_never_read_before_it(d):
    """What was not read before cannot be read equal after (section 4, erased)."""
    edit(d.before, lambda s: without(s, "0904", "0906"))


@lie(NEWER, SAME, TIME, RERAN, kind=CLEVER)
def five_thousand_km_since_yesterday(d):
    """5000 km since a clear a day ago, 60 by the odometer (2, counts fit)."""
    edit(d.after, lambda s: with_counts(s, distance=5000))


@lie(NO_COUNTS, SAME, RERAN, kind=CLEVER)
def nothing_that_counts_is_read_again(d):
    """No count since the clear, no odometer, no counter: none has risen (2)."""
    edit(d.after, lambda s: without(s, "01A6", "0908"))


@lie(STARTER, TIME, SAME, RERAN, way="screen", kind=CLEVER)
def display_ran_for_two_days_since_yesterday(d):
    """3000 minutes of engine since a clear some 20 hours ago (2, counts fit)."""
    d.after["typed"]["counts"]["minutes"]["value"] = "3000"


@lie(THERMO, RERAN, PASSED, SAME, way="screen", kind=CLEVER)
def display_shows_no_counts_any_more(d):
    """No count bears out that it was watched over three cycles (section 4)."""
    del d.after["typed"]["counts"]


# Whether it is gone, and what else there is.


@lie(WHEEL, GONE, RERAN, PASSED, kind=ODD)
def two_reports_of_one_module_differ(d):
    """19 02 lists nothing, 19 0A lists it as confirmed (5, two answers)."""

    def change(said):
        found = answers(said, "190A")
        found[0] = (found[0][0], b"\x59\x0a\xff" + code_bytes("C0035") + b"\0\x08")

    edit(d.after, change)


@lie(HEALED, GONE, RERAN, PASSED, kind=CLEVER)
def pending_codes_are_left_out(d):
    """07 had answered before, and is not asked when the lamp is off (2, 4)."""
    edit(d.after, lambda s: without(s, "07"))


@lie(EGR, GONE, kind=ODD)
def tester_answers_itself(d):
    """The answer to 07 has the tester's own id: no module has answered (5)."""
    answered(d.after, "07", "7E0 02 47 00 AA AA AA AA AA")


@lie(INPUT_LOST, GONE, kind=CLEVER)
def engine_still_misses_the_gearbox(d):
    """U0402, which pointed at the gearbox, is pending after the clear (1, 2)."""
    edit(d.after, lambda s: with_codes(s, "07", "7E8", ["U0402"]))


@lie(OLD_VAN, GONE, ELSE, kind=CLEVER)
def old_van_counts_one_and_lists_none(d):
    """PID 01 counts one code, 03 lists none: the count fits its list (2, 5)."""
    lines = d.after["raw"].split("\n")
    place = lines.index("> 0101") + 1
    whole = bytearray.fromhex(lines[place])
    whole[5] |= 1
    whole[-1] = sum(whole[:-1]) & 0xFF
    lines[place] = whole.hex(" ").upper()
    d.after["raw"] = "\n".join(lines)


@lie(NOX_SENSOR, GONE, ELSE, kind=CLEVER)
def reads_high_instead_of_low(d):
    """P2202, of the same row and place, is pending after the clear (2, X)."""
    edit(d.after, lambda s: with_codes(s, "07", "7E8", ["P2202"]))


@lie(CHARGE, GONE, way="screen", kind=CLEVER)
def second_module_is_not_on_the_screen_again(d):
    """The gearbox reported P0562 as well; all are asked again (1, 2)."""
    told = {"module": GEARBOX_MODULE, "stored": ["P0562"], "pending": []}
    d.before["typed"]["modules"].append(told)


@lie(FAN, GONE, way="screen", kind=CLEVER)
def display_shows_no_pending_codes_any_more(d):
    """It showed them before: asked again by what had answered (section 2)."""
    told = d.after["typed"]["modules"][0]
    del told["pending"]
    told["not_shown"] = ["pending"]


@lie(COIL, ELSE, GONE, kind=CLEVER)
def gearbox_had_a_permanent_code(d):
    """P0741 stands in its answer to 0A and is named by nobody (2, nothing-else)."""
    edit(d.before, lambda s: with_codes(s, "0A", GEARBOX_MODULE, ["P0741"]))
    edit(d.after, lambda s: with_codes(s, "0A", GEARBOX_MODULE, []))


@lie(UNCLEARED, ELSE, KNOWN, kind=ODD)
def second_frame_is_of_another_code(d):
    """Freeze frame 1 was kept for P0420, which nobody names (2, nothing-else)."""
    also_said(d.before, "020201", "420201" + code_bytes("P0420").hex())


@lie(GAS, ELSE, KNOWN, GONE, way="screen", kind=CLEVER)
def display_counted_two_and_one_is_told(d):
    """The lamp's count was 2 before, the list that was typed has one (5)."""
    d.before["typed"]["modules"][0]["count"] = 2


@lie(TWO_FAULTS, ELSE, KNOWN, kind=CLEVER)
def work_was_for_one_of_the_two(d):
    """The repair is for P0442: P0455 is neither addressed nor set aside (1, 2)."""
    d.of("repair")[0]["codes"] = ["P0442"]
    acknowledge_again(d)


# The vehicle, and how safely.


@lie(EGR, SAME, kind=CLEVER)
def sensors_of_one_bank_are_gone(d):
    """PID 13 told of two banks before, of one after: it keeps what it has (1, 2)."""
    also_said(d.before, "0113", "411333")
    also_said(d.after, "0113", "411303")


@lie(EGR, SAME, kind=ODD)
def map_says_that_there_is_no_vin(d):
    """Service 09's map has no bit for the VIN that stands below it (5, maps)."""
    for readout in (d.before, d.after):
        also_said(readout, "0900", "490015000000")


@lie(UNCLEARED, SAME, TIME, RERAN, kind=CLEVER)
def three_hundred_km_in_twelve(d):
    """300 km more since the last clear and 12 by the odometer, no clear (2)."""
    edit(d.after, lambda s: with_counts(s, went=12))


@lie(GAP, SAME, way="screen", kind=CLEVER)
def display_tells_no_calibration_any_more(d):
    """It was read before and is not read again (2, marks are read again)."""
    del d.after["typed"]["modules"][0]["calibrations"]


@lie(NOX_SENSOR, SAME, TIME, RERAN, way="screen", kind=CLEVER)
def odometer_turns_to_miles_overnight(d):
    """The digits of the kilometres are miles after: 73000 km in a day (2)."""
    d.after["typed"]["counts"]["odometer"]["unit"] = "mi"


@lie(REFRIGERANT, HAZARDS, kind=CLEVER)
def circuit_is_opened_at_six_bar(d):
    """600 kPa in the circuit when its sensor comes out (2, met)."""
    told_as(d, "circuit pressure", value="600")


@lie(OIL, HAZARDS, kind=CLEVER)
def oil_is_as_hot_as_it_gets(d):
    """130 degC where the sensor is unscrewed (2, met)."""
    told_as(d, "oil temperature", value="130")


@lie(BLOCK, HAZARDS, kind=CLEVER)
def hoist_bears_less_than_the_block_weighs(d):
    """12 kg on a device for 10 (2, met)."""
    told_as(d, "device rating", value="10")


@lie(INPUT_SPEED, HAZARDS, kind=CLEVER)
def it_sits_below_and_nobody_spoke_of_a_lift(d):
    """Reached from below, and no caution of lifting was acknowledged (2, sits)."""
    d.of("diagnosis")[0]["suspect_parts"][0]["where"] = ["below"]
    d.events[:] = [one for one in d.events if one.get("caution") != "lifted"]


# Honest ones.


NOT_YET = {
    "name": "coil of cylinder 2 breaks down, the lamp is not on yet",
    "codes": ["P0302"],
    "part": ["coil-2", "ignition coil of cylinder 2", "ignition"],
    "bench": ["winding", ">40000", "10.8", limited("kohm", "5", "20")],
    "test": ["A3", "0B", "24", 38, 0, 0, 10],
    "path": "monitor result",
}
NO_START = {
    "name": "camshaft sensor gave out while cranking",
    "codes": ["P0341"],
    "part": ["cam-sensor", "camshaft sensor", "ignition"],
    "frame": {"rpm": 0, "load": 0, "coolant": 25, "speed": 0},
    "bench": ["winding", ">40000", "0.80", limited("kohm", "0.5", "1.5")],
    "path": "watched and measured",
}
LEAN_FOR_LONG = {
    "name": "bank 2 lean for so long that the code was permanent",
    "codes": ["P0174"],
    "permanent": True,
    "part": ["intake-hose", "hose of the intake", "intake"],
    "bench": ["seal-hold", "4.0", "17.6", limited("inHg", "15.0")],
    "days": 3,
    "path": "watched and measured",
}
NO_RESULTS = {
    "name": "EGR valve of a vehicle that has no result of it",
    "codes": ["P0400"],
    "part": ["egr-valve", "EGR valve", "egr"],
    "bench": ["seal-hold", "6.5", "17.8", limited("inHg", "15.0")],
    "path": "watched and measured",
}
TWO_PARTS = {
    "name": "wire of the fan and air sensor",
    "codes": ["P0480"],
    "part": ["fan-wire", "ground wire of the fan", "wiring"],
    "action": "repaired",
    "bench": ["voltage-drop", "1.40", "0.06", limited("V", high="0.20")],
    "days": 2,
    "path": "watched and measured",
}
SENSOR_BENCH = ["winding", ">40000", "2.45", limited("kohm", "2.0", "3.0")]


@honest(NOT_YET, "proven")
def misfire_is_pending_and_its_number_fails(d):
    """Pending alone counts with a failing result of its own monitor (section 2)."""

    def change(said):
        with_bytes(said, "0101", bytes.fromhex("0007E500"))
        with_codes(said, "03", "7E8", [])
        said[:] = [one for one in said if not one[0].startswith("02")]

    complaint(d, "It jerks uphill; no lamp.")
    edit(d.before, change)


@honest(NO_START, "proven")
def frame_at_no_speed_asks_for_starts(d):
    """Six starts, three warm-ups, and the new one is good (section 4)."""
    complaint(d, "It cranks and does not start, every other morning.")


@honest(LEAN_FOR_LONG, "proven")
def permanent_code_of_a_lean_bank_goes(d):
    """Watched over nine cycles and measured; that 0A is empty is no doubt (4)."""
    complaint(d, "The lamp has been on since winter.")


@honest(NO_RESULTS, "proven")
def its_map_lacks_the_ids_and_it_is_ready(d):
    """Watched and measured serves for M where the vehicle's map lacks ids (4)."""
    complaint(d, "It pings.")
    for readout in (d.before, d.after):
        also_said(readout, "0600", "460000000001")
        also_said(readout, "0620", "462080000000")


@honest(TWO_PARTS, "proven")
def two_faults_two_parts_two_people(d):
    """Each fault has its part, its test before and after, by another (2)."""

    def change(said):
        with_bytes(said, "0101", bytes.fromhex("8207E500"))
        for service in ("03", "07"):
            with_codes(said, service, "7E8", ["P0113"], add=True)

    edit(d.before, change)
    by = "mechanic-2"
    part = {"part": "air-sensor", "by": by}
    second = {
        "id": "air-sensor",
        "name": "intake air temperature sensor",
        "system": "intake",
        "where": ["engine-bay"],
        "codes": ["P0113"],
    }
    more = [
        event(
            "diagnosis",
            "08:30",
            by=by,
            codes=["P0113"],
            suspect_parts=[second],
            reasoning="over range at its plug",
        ),
        event(
            "bench_test",
            "08:50",
            setup="removed",
            of="old",
            **part,
            **bench(SENSOR_BENCH, good=False),
        ),
        event(
            "repair",
            "10:05",
            action="replaced",
            started=at("09:50"),
            part_number="EX-4 (invented)",
            old_part="kept",
            **part,
        ),
        event(
            "bench_test",
            "09:40",
            setup="removed",
            of="new",
            **part,
            **bench(SENSOR_BENCH, good=True),
        ),
    ]
    d.events.extend(more)
    in_time(d)


@honest(EGR, "proven")
def read_at_once_with_noughts_and_again(d):
    """Right after the clear nothing has run; the next day it has (section 4)."""
    early = copy.deepcopy(d.after)
    early["at"] = early["captured"] = at("11:40")

    def change(said):
        with_counts(said, warm_ups=0, distance=0, minutes=0, went=0)
        with_rises(said, 0, 1)
        with_bytes(said, "0101", bytes.fromhex("0007E5A0"))
        with_bytes(said, "011F", word(0))
        with_bytes(said, "0104", b"\0")
        with_bytes(said, "010C", word(0))
        with_bytes(said, "010D", b"\0")
        with_test(said, 0, lambda p: p[:4] + bytes(6))

    edit(early, change)
    d.put(early, after=d.of("code_clear")[0])


@honest(INPUT_SPEED, "vouched", way="screen")
def gearbox_sensor_with_a_screen_alone(d):
    """With a screen alone each is vouched (section 7)."""
    complaint(d, "It shifts with a bang.")


@honest(STARTER, "unproven", way="cut", waiting=True)
def starter_lead_goes_home_unread(d):
    """Cut after the repair each is unproven, waiting (section 7)."""
    complaint(d, "It clicks and does not crank.")


@honest(CRANK, "vouched")
def dropouts_under_heat_are_counted(d):
    """Six of ten under heat, then none of sixty: counts that a person saw (2, 4)."""
    dropouts(d, seen="6", tries="10", after="heat")
    complaint(d, "It dies in traffic on hot days.")


@honest(PUMP, "proven")
def pump_is_read_by_a_gauge_in_psi(d):
    """Another instrument: 26.1 psi old, 44.2 new, at least 280 kPa (2, 3)."""
    for test, low in ((d.old_test, "26.1"), (d.new_test, "44.2")):
        start, end = [one for one in test["readings"] if one["name"] == "pressure"]
        start |= {"value": "45.0", "unit": "psi"}
        end |= {"value": low, "unit": "psi"}
        told = test["instruments"][0]["specification"]
        told |= {"unit": "psi (gauge)", "high": "150", "resolution": "0.2"}
