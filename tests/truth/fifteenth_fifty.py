"""Forty bogus records and ten honest ones more, in the form of the tenth fifty.

Each lie is what a shop might do that wants to be paid and to look clean; what has to
fall follows from the verdict's definition, whose section stands beside each. Written by
somebody who knew that definition alone, before any was judged.

When they were first judged, 36 of the 40 lies came out as written, three came out
*proven*, none *vouched* wrongly, and one fell by another question than was written; of
the honest ones eight of ten came out as written.

Proven were a suspect turbo renewed with its hose and nobody said why, a gap that was
good before it was adjusted, and a code that a status byte says to be pending alone; for
another calibration in the same readout the vehicle was still called the same. Rules
ask for each of them now.

Both honest ones were written wrongly. A programming explains a calibration as a cause
does, which a diagnosis names (section 1), and none named the module; test id 0B of a
misfire is a mean of ten cycles that a clear sets to zero, and no count over one. Both
are put right. Two of the four lies of a programming then came out *proven*, so that
they had fallen at first by what was wrong with the honest one: other maps that it
excused, and a source that it did not name. Rules ask for those, too.
"""

import copy
import re

from auditkit.order.policy import parse_policy
from truth.bench_changes import bench_test_of, counted_times, read_of, told_anew
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
    also_said,
    complaint,
    corrected,
    in_time,
    programming,
    recalibrated,
    renamed,
    set_aside,
    status_is,
    suspect,
    told_as,
)
from truth.jobs import SOURCE, at, event
from truth.named_jobs import (
    CAP,
    CAT,
    CHARGE,
    COIL,
    CRANK,
    DECLINED,
    EGR,
    GEARBOX,
    LEAN,
    PEDAL,
    PERM,
    PUMP,
    VENT,
    WIRE,
)
from truth.own_jobs import a_fifty, limited
from truth.packets import Signing
from truth.said import ENGINE, code_bytes, word
from truth.vehicle_counts import with_counts, with_rises

LIES, LEFT, HONEST, lie, left, honest = a_fifty()
GEARBOX_MODULE, BRAKES_MODULE = "7E9", "7EA"
HOSE, HEATER = "11: hose of the canister off", "14: sensor heater open"
FILTER, BOOST = "20: particulate filter cracked", "22: boost hose leaks"
SOOT = "21: soot from a dripping injector, by status"
WHEEL, FLOW = "25: wheel speed sensor open", "26: air-flow sensor reads low"
KNOCK, NOX = "29: knock sensor open", "31: dosing injector clogged"
TWO_CODES, OLD_VAN = (
    "32: two faults, one canister",
    "36: before CAN: no VIN, no monitor ids",
)
GAP = "39: repaired by adjustment"

TURBO = {
    "name": "turbocharger worn",
    "codes": ["P0299"],
    "diesel": True,
    "part": ["turbocharger", "turbocharger", "boost"],
    "ruled_out": [
        ["boost-hose", "hose of the charge cooler", "boost"],
        ["vane-actuator", "actuator of the vanes", "boost"],
    ],
    "bench": ["direct-reading", "0.92", "0.06", limited("mm", high="0.30")],
    "test": ["85", "81", "FD", 200, 900, 600, 32767],
    "path": "monitor result",
}
EGR_SENSOR = {
    "name": "sensor of the EGR valve without signal",
    "codes": ["P044A"],
    "part": ["egr-sensor", "sensor of the EGR valve", "egr"],
    "bench": ["direct-reading", "0.02", "0.98", limited("V", "0.90", "1.10")],
    "path": "watched and measured",
}
AIR_PERM = {
    "name": "intake air sensor open, its code was permanent",
    "codes": ["P0113"],
    "part": ["air-sensor", "intake air temperature sensor", "intake"],
    "bench": ["winding", ">40000", "2.45", limited("kohm", "2.0", "3.0")],
    "permanent": True,
    "days": 3,
    "path": "watched and measured",
}
OPEN_MISFIRE = {
    "name": "ignition coil open, its counter has no limit",
    "codes": ["P0303"],
    "part": ["coil-3", "ignition coil of cylinder 3", "ignition"],
    "bench": ["winding", ">40000", "11.4", limited("kohm", "5", "20")],
    "test": ["A4", "0C", "24", 38, 0, 0, 65535],
    "path": "monitor result",
}
CHILLER = {
    "name": "pressure sensor of the air conditioning high",
    "codes": ["P0533"],
    "part": ["pressure-sensor", "refrigerant pressure sensor", "air-conditioning"],
    "bench": ["direct-reading", "4.92", "1.45", limited("V", "1.20", "1.70")],
    "path": "watched and measured",
}


def programmed(d):
    """Let the engine's module be given another calibration, which is read.

    A diagnosis for no code says what it is that was programmed.
    """
    module = {
        "id": "control-module",
        "name": "engine control module",
        "system": "control-module",
        "where": ["engine-bay"],
    }
    named = event(
        "diagnosis",
        "08:25",
        codes=[],
        suspect_parts=[module],
        reasoning="the maker calls it in for a newer calibration (invented)",
    )
    d.put(named, after=d.of("diagnosis")[0])
    d.put(programming("DEMO-ENG-0002"), after=d.of("repair")[-1])
    edit(d.after, recalibrated)
    in_time(d)


def wiggled(d, *, untouched: str = "0", afterwards: str = "wiggle"):
    """Let the wire of the sensor drop out 4 of 10 times when it is moved.

    ``untouched`` is how often of 10 it drops out by itself, ``afterwards`` what is done
    to the mended one.
    """
    before = counted_times(seen_with_stimulus="4", tries_with_stimulus="10")
    alone = counted_times(seen_without_stimulus=untouched, tries_without_stimulus="10")
    after = counted_times(seen_with_stimulus="0", tries_with_stimulus="30")
    told = {"setup": "running", "method": "intermittent", "instruments": []}
    told["test"] = "the wire moved at its plug, the trace watched (invented)"
    conditions = {"stimulus": "wiggle"}
    told_anew(d.old_test, readings=before + alone, conditions=conditions, **told)
    conditions = {
        "stimulus": afterwards,
        "stimulus before repair": "wiggle",
        "seen before repair": {"value": "4", "unit": "times"},
        "tries before repair": {"value": "10", "unit": "times"},
    }
    told_anew(d.new_test, readings=after, conditions=conditions, **told)
    acknowledge_again(d)


def regenerated(d):
    """Let the filter be regenerated as a step, once the injector was replaced."""
    step = event(
        "repair",
        "10:55",
        part="filter",
        action="regenerated",
        step="regeneration",
        note="stationary, by the maker's procedure (invented)",
    )
    d.put(step, after=d.of("repair")[-1])
    in_time(d)


def counts_of_the_gearbox(d, *, before: int, after: int):
    """Let the gearbox's module say how many codes it holds, too."""
    for readout, number in ((d.before, before), (d.after, after)):
        payload = bytes([0x41, 1, number, 0, 0, 0])
        edit(
            readout,
            lambda s, p=payload: answers(s, "0101").append((GEARBOX_MODULE, p)),
        )


# The fault, the part, and what was measured on it.


@lie(TURBO, AT_FAULT, kind=CLEVER)
def turbo_by_the_vehicles_own_number(d):
    """Nobody measured the turbo: too little boost, and hose and actuator are good.

    Section 2: the vehicle's own number does where nobody publishes a bench limit.
    """
    d.events.remove(d.old_test)
    acknowledge_again(d)


@lie(BOOST, AT_FAULT, kind=CLEVER)
def turbo_is_renewed_with_the_hose_and_nobody_says_why(d):
    """A suspect itself, never tested. Section 1: what is renewed names part and why."""
    d.of("diagnosis")[0]["suspect_parts"].append(
        suspect(d, id="turbocharger", name="turbocharger")
    )
    sold = event(
        "repair",
        "10:50",
        part="turbocharger",
        action="replaced",
        part_number="EX-7 (invented)",
        old_part="scrapped",
        renewed_with="boost-hose",
    )
    d.put(sold, after=d.of("repair")[-1])
    in_time(d)


@lie(FILTER, AT_FAULT, kind=CLEVER)
def joint_is_at_its_limit_to_the_digit(d):
    """15.0 of at least 15.0 inHg: neither good nor faulty. Section 2: tested good."""
    read_of(bench_test_of(d, "exhaust-joint"), "end pressure", value="15.0")


@lie(CHARGE, AT_FAULT, kind=CLEVER)
def clamp_errs_by_half(d):
    """0.40 V of at most 0.30 at 10 A, give or take 5 A.

    Section 2: faulty beyond its uncertainty.
    """
    read_of(d.old_test, "voltage drop", value="0.40")
    d.old_test["instruments"][1]["specification"]["percent_of_reading"] = "50"


@lie(GAP, AT_FAULT, PASSED, kind=CLEVER)
def gap_is_good_before_it_is_adjusted(d):
    """2.4 mm at 09:15, 0.9 mm at 09:45; it is adjusted from 10:00 on.

    Section 2: good and faulty under equal conditions. No other sensor went in.
    """
    d.new_test["at"] = at("09:45")
    in_time(d)


@lie(WIRE, AT_FAULT, kind=CLEVER)
def wire_drops_out_as_often_untouched(d):
    """4 of 10 times moved, 4 of 10 times alone: the fault does not follow the wire.

    Sections 2 and 3: k of n under a named stimulus, faulty beyond its uncertainty.
    """
    wiggled(d, untouched="4")


@lie(WIRE, PASSED, kind=CLEVER)
def warmed_where_it_had_been_moved(d):
    """Before, it was wiggled; the mended wire is warmed. Section 4: the same method."""
    wiggled(d, afterwards="heat")


@lie(EGR_SENSOR, EXPLAINS, kind=CLEVER)
def purge_valve_for_a_sensor_of_the_egr(d):
    """P044A lies between evaporative codes, and is none.

    Section 1: the narrowest row holds a code; section 2: another system owes a reason.
    """
    renamed(d, "egr-sensor", "purge-valve")
    renamed(d, "sensor of the EGR valve", "purge valve")
    d.of("diagnosis")[0]["suspect_parts"][0]["system"] = "evap"
    acknowledge_again(d)


@lie(TWO_CODES, EXPLAINS, AT_FAULT, ELSE, kind=CLEVER)
def part_is_suspected_for_one_of_two_codes(d):
    """Both codes are charged; the canister is suspected for P0446 alone.

    Section 1: a cause is suspected for a fault. P0442 has none, nor is it set aside.
    """
    d.of("diagnosis")[0]["suspect_parts"][0]["codes"] = ["P0446"]


@lie(CAP, KNOWN, kind=CLEVER)
def pending_and_its_own_number_is_good(d):
    """Pending alone, its own monitor at 300 of at most 400.

    Section 2: pending alone counts with a failing result of its own monitor.
    """

    def pending(said):
        with_codes(said, "03", ENGINE, [])
        with_bytes(said, "0101", bytes.fromhex("0007E500"))
        with_test(said, 0, lambda p: p[:4] + word(300) + p[6:])
        said[:] = [one for one in said if not one[0].startswith("02")]

    edit(d.before, pending)


@lie(WHEEL, KNOWN, kind=CLEVER)
def wheel_sensor_was_only_pending(d):
    """Status 24: pending, not confirmed. Section 2: as above."""
    edit(d.before, lambda s: status_is(s, "C0035", 0x24))


@lie(PUMP, AT_FAULT, typed=True, kind=CLEVER)
def watch_of_the_hold_was_never_checked(d):
    """Its accuracy is stated, no check of it. Section 3: then the reading is typed."""
    told = d.old_test["instruments"][1]["specification"]
    for name in ("calibrated_on", "due", "certificate"):
        del told[name]


@lie(PEDAL, AT_FAULT, kind=LATE)
def which_part_was_measured_is_withheld(d):
    """A known-good sensor was measured, and the reader is not told whose it was.

    Section 6: what a question reads and is withheld is not shown to who lacks it.
    """
    d.old_test["of"] = "known-good"
    d.signing = Signing(
        parse_policy(
            'format = "auditkit/policy@1"\nwithhold = ["bench_test.of"]\n',
            where="policy",
        )
    )


# Whether its test ran again and passed.


@lie(PERM, RERAN, PASSED, kind=CLEVER)
def programming_wipes_the_permanent_code(d):
    """The module was written anew, as is told and read; then nothing was permanent.

    Section 4: a permanent code erased counts where calibrations are read and equal.
    """
    programmed(d)


@lie(AIR_PERM, PASSED, kind=CLEVER)
def permanent_code_in_place_of_a_measurement(d):
    """A circuit code that was permanent is erased; nobody measured the new sensor.

    Section 4: for such codes the erasure shows that the test ran, and no more.
    """
    d.events.remove(d.new_test)
    acknowledge_again(d)


@lie(OPEN_MISFIRE, PASSED, kind=CLEVER)
def three_misfires_are_left(d):
    """38 before, 3 after, without a limit. Section 4: it passes where it is 0."""
    edit(d.after, lambda s: with_test(s, 0, lambda p: p[:4] + word(3) + p[6:]))


@lie(FLOW, RERAN, PASSED, kind=CLEVER)
def range_code_after_two_starts(d):
    """P0101 is range or performance. Section 4: three driving cycles, no two starts."""

    def starts(said):
        with_counts(said, warm_ups=2)
        with_rises(said, 2, 2)

    edit(d.after, starts)


@lie(EGR, RERAN, PASSED, typed=True, kind=CLEVER)
def makers_own_id_in_place_of_the_rows(d):
    """Afterwards E1 is read and 31 is not; only the diagnosis links E1 to the code.

    Section 4: an id that only the diagnosis links to the code is the shop's word.
    """
    also_said(d.before, "06E1", "46E18117" + "00D6015EFFFF")
    also_said(d.after, "06E1", "46E18117" + "0264015EFFFF")
    edit(d.after, lambda s: without(s, "0631"))
    d.of("diagnosis")[0]["self_tests"] = [{"mid": "E1", "source": SOURCE}]


@lie(WHEEL, RERAN, PASSED, GONE, kind=CLEVER)
def status_is_asked_until_it_is_clean(d):
    """The brakes list the code as failing, then, asked again, they do not.

    Section 5: two different answers of 19 in one readout show nothing.
    """
    first = bytes.fromhex("5902FF") + code_bytes("C0035") + b"\0\x2f"
    edit(d.after, lambda s: s.insert(0, ["1902FF", [(BRAKES_MODULE, first)]]))


@lie(LEAN, RERAN, PASSED, way="screen", kind=CLEVER)
def display_counts_one_warm_up(d):
    """One warm-up since the clear. Section 4: three driving cycles that data show."""
    d.after["typed"]["counts"]["warm_ups"]["value"] = "1"


@lie(CAP, PASSED, kind=ODD)
def leak_of_less_than_nothing(d):
    """-100 of 0 to 400: the scaling is a signed one. Section 2: outside its limits."""
    edit(d.after, lambda s: with_test(s, 0, lambda p: p[:4] + word(-100) + p[6:]))


# Whether it is gone, and nothing else is left.


@lie(COIL, ELSE, kind=CLEVER)
def another_code_on_the_way_is_cleared(d):
    """Read at 13:00, P0420 was pending; cleared at 13:10, and never spoken of.

    Section 2: every other code that the record holds, before and after.
    """
    read = copy.deepcopy(d.after)
    read["at"] = read["captured"] = at("13:00")

    def on_the_way(said):
        with_counts(said, warm_ups=1, distance=27, minutes=40, went=27)
        with_rises(said, 1, 2)
        with_codes(said, "07", ENGINE, ["P0420"])

    edit(read, on_the_way)
    road = d.of("road_test")[0]
    d.put(read, after=road)
    d.put(event("code_clear", "13:10", tool="adapter (invented)"), after=read)


@lie(CRANK, GONE, ELSE, kind=CLEVER)
def range_code_of_the_same_sensor_is_watched(d):
    """P0336 is pending after the clear, and is set aside as watched.

    Section 1: never a code of the fault's own row and place that is new afterwards.
    """
    edit(d.after, lambda s: with_codes(s, "07", ENGINE, ["P0336"]))
    told = event(
        "diagnosis",
        "08:40",
        1,
        codes=[],
        suspect_parts=[],
        reasoning="it will be looked at with the next service (invented)",
        set_aside=set_aside(["P0336"], "watched"),
    )
    d.events.append(told)


@lie(GEARBOX, GONE, ELSE, kind=ODD)
def gearbox_counts_two_and_lists_none(d):
    """Its module says two codes and lists none. Section 2: its count fits its list."""
    counts_of_the_gearbox(d, before=1, after=2)


def _summed(line: str) -> str:
    digits = bytes.fromhex(line)[:-1]
    return (digits + bytes([sum(digits) & 0xFF])).hex(" ").upper()


@lie(OLD_VAN, GONE, kind=ODD)
def old_van_is_answered_by_another_module(d):
    """Module 10 held the code; afterwards module 18 answers, and says none.

    Section 5: one module never answers for another.
    """
    other = re.sub(
        r"(?m)^48 6B 10 .*$",
        lambda m: _summed(m[0].replace("48 6B 10", "48 6B 18", 1)),
        d.after["raw"],
    )
    d.after["raw"] = other


@lie(OLD_VAN, GONE, kind=ODD)
def noise_on_the_line_that_holds_the_code(d):
    """The code is pending; the sum of that very line is wrong.

    Section 5: lost is not none.
    """
    line = "48 6B 10 47 01 13 00 00 00 00"
    clean, found = re.subn(
        r"(?m)^48 6B 10 47 .*$", f"{line} 00", d.after["raw"], count=1
    )
    assert found == 1
    d.after["raw"] = clean


@lie(DECLINED, GONE, ELSE, kind=CLEVER)
def lamp_is_explained_by_another_modules_code(d):
    """The engine's module lights the lamp and lists none; the gearbox lists P0420.

    Section 2: the reason for a lamp is another code of that module's own list.
    """
    for readout in (d.before, d.after):
        for service in ("03", "07"):
            edit(readout, lambda s, n=service: with_codes(s, n, GEARBOX_MODULE, []))

    def moved(said):
        with_codes(said, "03", ENGINE, [])
        with_bytes(said, "0101", bytes.fromhex("8007E500"))
        with_codes(said, "03", GEARBOX_MODULE, ["P0420"])

    edit(d.after, moved)


# The vehicle, the times, and how safely.


@lie(EGR, SAME, kind=CLEVER)
def number_of_the_calibration_is_not_read_again(d):
    """The name is read, its number is not: a tuned one has another.

    Section 2: marks are read again where they were read before.
    """
    edit(d.after, lambda s: without(s, "0906"))


@lie(EGR, SAME, kind=CLEVER)
def programming_excuses_another_map(d):
    """What was written explains calibrations, and not that it now supports others.

    Section 2: a recorded cause explains exactly these marks.
    """
    programmed(d)
    edit(d.after, lambda s: with_bytes(s, "0100", bytes.fromhex("BE3FA813")))


@lie(EGR, SAME, kind=CLEVER)
def programming_comes_from_nowhere(d):
    """No source is named. Section 2: it names calibration and source."""
    programmed(d)
    del d.of("repair")[-1]["note"]


@lie(NOX, SAME, kind=ODD)
def calibration_is_asked_until_it_fits(d):
    """Another calibration, then that of before. Section 5: two different answers."""
    said = b"\x49\x04\x01" + b"DEMO-ENG-0002".ljust(16, b"\0")
    edit(d.after, lambda s: s.insert(0, ["0904", [(ENGINE, said)]]))


@lie(HOSE, SAME, kind=CLEVER)
def order_is_opened_for_two_vehicles(d):
    """A second opening names its twin. Section 2: the VIN read equals the written."""
    second = copy.deepcopy(d.of("opening")[0])
    second["at"] = at("07:55")
    second["vehicle"]["vin"] = "0ZZTB1A18CA000124"
    d.put(second, after=d.of("opening")[0])


@lie(EGR, SAME, RERAN, way="screen", kind=CLEVER)
def display_knows_no_such_monitor_any_more(d):
    """The EGR monitor was there before and is not supported afterwards.

    Section 1: a vehicle keeps what it supports.
    """
    module = d.after["typed"]["modules"][0]
    found = [one for one in module["monitors"] if "egr" in one["monitor"]]
    assert len(found) == 1
    found[0]["state"] = "not-supported"


@lie(CAT, SAME, TIME, RERAN, kind=ODD)
def driven_fifty_times_in_six_starts(d):
    """The general denominator goes up once a driving cycle (13 CCR 1968.2, memory).

    Section 2: two facts of the vehicle conflict.
    """
    edit(d.after, lambda s: with_rises(s, 4, 6, {0: 50}))


@lie(HEATER, TIME, RERAN, PASSED, GONE, kind=LATE)
def last_readout_stands_before_the_work(d):
    """Its time is the next day, its place before the repair.

    Section 2: before and after hold by time and place.
    """
    after = d.after
    first = d.before
    d.events.remove(after)
    d.put(after, after=first)


@lie(KNOCK, AT_FAULT, TIME, kind=LATE)
def test_is_dated_back_by_a_correction(d):
    """Tested at 11:00, the old sensor was out at 10:30; corrected to 09:15 next day.

    Section 6: an amendment can take away, never give.
    """
    test = d.old_test
    test["at"] = at("11:00")
    in_time(d)
    corrected(d, test, {**test, "at": at("09:15")}, at("09:00", 1))


@lie(VENT, HAZARDS, kind=LATE)
def work_begins_later_by_a_correction(d):
    """Begun at 08:55, before any caution was read; corrected to 10:00 afterwards.

    Section 6: an amendment can take away, never give.
    """
    work = d.of("repair")[0]
    late = {**work}
    work["started"] = at("08:55")
    corrected(d, work, late, at("09:00", 2))


@lie(CHILLER, HAZARDS, kind=CLEVER)
def circuit_is_opened_under_pressure(d):
    """600 kPa in the circuit. Section 2: preconditions are met."""
    told_as(d, "circuit pressure", value="600")


@lie(EGR, HAZARDS, kind=CLEVER)
def programmed_on_a_tired_battery(d):
    """11.2 V of at least 12.5 while it is written. Section 2: preconditions are met."""
    programmed(d)
    told_as(d, "supply voltage", value="11.2")


@lie(SOOT, HAZARDS, kind=CLEVER)
def more_soot_than_may_be_burnt(d):
    """60 g, and the maker allows 45. Section 2: preconditions are met."""
    regenerated(d)
    told_as(d, "soot load", value="60")


# Honest ones.


COOLANT_SENSOR = {
    "name": "coolant sensor off its curve",
    "codes": ["P0118"],
    "part": ["coolant-sensor", "coolant temperature sensor", "cooling"],
    "bench": ["winding", "6100", "2443", limited("ohm", "2300", "2600")],
    "path": "watched and measured",
}
OIL_SWITCH = {
    "name": "oil pressure switch opens too late",
    "codes": ["P0520"],
    "part": ["oil-switch", "oil pressure switch", "lubrication"],
    "bench": ["direct-reading", "5", "40", limited("V", "30", "50")],
    "path": "watched and measured",
}
GLOW_PLUGS = {
    "name": "two glow plugs dead",
    "codes": ["P0671", "P0673"],
    "diesel": True,
    "part": ["glow-plug-1", "glow plug of cylinder 1", "ignition"],
    "bench": ["direct-reading", "0.10", "12.40", limited("A", "8.00", "20.00")],
    "path": "watched and measured",
}
COIL_6 = {
    "name": "ignition coil of cylinder 6 open",
    "codes": ["P0306"],
    "part": ["coil-6", "ignition coil of cylinder 6", "ignition"],
    "bench": ["winding", ">40000", "10.9", limited("kohm", "5", "20")],
    "test": ["A7", "0B", "24", 44, 0, 0, 10],
    "path": "monitor result",
}
OLD_WIRE = {
    "name": "before CAN: wire of the cam sensor",
    "codes": ["P0340"],
    "part": ["cam-wire", "ground wire of the camshaft sensor", "wiring"],
    "action": "repaired",
    "bench": ["voltage-drop", "1.70", "0.05", limited("V", high="0.20")],
    "kline": True,
    "no_vin": True,
    "photo": True,
    "path": "watched and measured",
}


@honest(COOLANT_SENSOR, "proven")
def coolant_sensor_is_held_against_its_curve(d):
    """In two baths, by ohmmeter and thermometer; the new one by the same method."""
    meter = {**d.old_test["instruments"][0], "id": "meter-1"}
    thermometer = {
        "id": "thermometer-1",
        "specification": {
            "unit": "degC",
            "low": "-20",
            "high": "200",
            "resolution": "0.1",
            "absolute": "0.2",
            "calibrated_on": "2026-01-12",
            "due": "2027-01-12",
            "certificate": "INV-2026-031",
        },
    }
    for test, cold, hot in ((d.old_test, "6100", "900"), (d.new_test, "2443", "321")):
        meter = copy.deepcopy(meter)
        meter["specification"]["high"] = "60000"
        told_anew(
            test,
            method="temperature-sensor",
            test="ohms in two baths (invented)",
            readings=[
                {"name": name, "value": value, "unit": unit}
                for name, value, unit in (
                    ("sensor resistance", cold, "ohm"),
                    ("bath temperature", "20.0", "degC"),
                    ("sensor resistance", hot, "ohm"),
                    ("bath temperature", "80.0", "degC"),
                )
            ],
            conditions={
                "curve": "beta",
                "resistance at 25 celsius": {"value": "2000", "unit": "ohm"},
                "beta": {"value": "3500", "unit": "K"},
            },
            instruments=[meter, thermometer],
            limit=limited("K", "-2", "2", of="temperature error", source=SOURCE),
        )
    acknowledge_again(d)


@honest(OIL_SWITCH, "proven")
def oil_switch_opens_where_it_should(d):
    """The pressure at which it opens, three times, by a hand pump with a gauge."""
    for test, value in ((d.old_test, "5"), (d.new_test, "40")):
        gauge = copy.deepcopy(test["instruments"][0])
        gauge["id"] = "gauge-4"
        gauge["specification"] |= {"unit": "kPa (gauge)", "high": "250"}
        told_anew(
            test,
            method="switching-point",
            test="pressure at which it opens (invented)",
            readings=[{"name": "pressure", "value": value, "unit": "kPa"}] * 3,
            conditions={
                "event": "opens",
                "approach": "rising",
                "step": {"value": "1", "unit": "kPa"},
                "pressure reference": "gauge",
            },
            instruments=[gauge],
            limit=limited("kPa", "30", "50", of="pressure", source=SOURCE),
        )
    acknowledge_again(d)


@honest(WIRE, "vouched")
def wire_drops_out_when_it_is_moved(d):
    """k of n under a named stimulus is seen, and not measured."""
    wiggled(d)


@honest(EGR, "proven")
def module_is_programmed_with_the_valve(d):
    """The programming names calibration and source, and it is read."""
    programmed(d)


@honest(SOOT, "proven")
def filter_is_regenerated_as_a_step(d):
    """A regeneration is a step, no part."""
    regenerated(d)


@honest(GLOW_PLUGS, "proven")
def two_plugs_for_two_codes(d):
    """Each plug is suspected for its own code, tested, replaced and measured."""
    suspects = d.of("diagnosis")[0]["suspect_parts"]
    suspects[0]["codes"] = ["P0671"]
    suspects.append(
        suspect(d, id="glow-plug-3", name="glow plug of cylinder 3", codes=["P0673"])
    )
    for one in (d.old_test, d.of("repair")[0], d.new_test):
        second = {**copy.deepcopy(one), "part": "glow-plug-3"}
        move(second, minutes=5)
        d.put(second, after=one)
    in_time(d)


@honest(COIL_6, "proven")
def second_mechanic_goes_on_the_next_day(d):
    """One finds it and hands over; the other repairs it the next day."""
    later = d.events[d.events.index(d.old_test) + 1 :]
    for one in later:
        move(one, days=1)
        if one["kind"] != "readout":
            one["by"] = "mechanic-2"
    handed = event(
        "handover",
        "16:00",
        to="mechanic-2",
        done="coil 6 is open (invented)",
        waits="the coil comes tomorrow (invented)",
    )
    d.put(handed, after=d.old_test)
    in_time(d)


@honest(OLD_WIRE, "vouched")
def old_van_by_its_plate_and_two_marks(d):
    """A vehicle without a VIN to read: photographed."""
    complaint(d, "It stalls on rough roads.")


@honest(OPEN_MISFIRE, "proven")
def counter_without_a_limit_is_at_nothing(d):
    """Above 0 before, 0 over a completed cycle after."""
    complaint(d, "It shakes uphill.")


@honest(AIR_PERM, "unproven", waiting=True)
def permanent_code_is_still_there(d):
    """Only service 0A holds it after a clear: not shown yet."""
    edit(d.after, lambda s: with_codes(s, "0A", ENGINE, ["P0113"]))
