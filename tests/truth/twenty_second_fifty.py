"""Forty bogus records and ten honest ones more, in the form of the tenth fifty.

Most of the lies are of lamps, pending and permanent codes and counts since a clear: of
which module they were read, and whether at all. What has to fall follows from the
verdict's definition, whose section stands beside each. Written by somebody who knew
that definition alone, before any was judged.

When they were first judged, 39 of the 40 lies came out as written, none came out
*proven*, one came out *vouched* wrongly, and none fell by another question than was
written; the honest ones all ten came out as written. No rule was changed.

The one had measured the old part when the new one was in. That the piece on the bench
is the one that came out is what a person typed, and an honest shop that measures late
has the same record: so it may be *vouched*, which was not written at first.

Where more fell than was written, it follows: a lamp that nobody read, or that nothing
explains, leaves `nothing-else` open too; a second readout that is typed makes all that
cites it typed; and what is set aside after work on it is an error of its own.
"""

import copy

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
    in_order,
    in_time,
    programming,
    recalibrated,
    set_aside,
    status_is,
)
from truth.jobs import at, event, on_display
from truth.named_jobs import (
    AIR,
    CHARGE,
    CRANK,
    DECLINED,
    EGR,
    LEAN,
    PERM,
    THERMO,
    VENT,
)
from truth.own_jobs import a_fifty, limited
from truth.said import ENGINE, code_bytes, word
from truth.vehicle_counts import with_counts, with_rises

LIES, LEFT, HONEST, lie, left, honest = a_fifty()
GEARBOX, BRAKES = "7E9", "7EA"
TWO_CODES = "32: two faults, one canister"
ON_FOR_ONE, ON_FOR_NONE = "8107E500", "8007E500"
OFF_WITH_ONE, OFF = "0107E500", "0007E500"
"""Lamp, number of codes and readiness of the engine's module, as PID 01 says them."""
COUNTS = ("0130", "0131", "014E")
"""Warm-ups, distance and minutes since a clear."""
FAILED_SINCE = 0x20
"""Status of a code that failed since the clear, and does not now (ISO 14229-1)."""

PRESSURE = {
    "name": "manifold pressure sensor high",
    "codes": ["P0108"],
    "part": ["pressure-sensor", "manifold pressure sensor", "intake"],
    "bench": ["direct-reading", "4.93", "1.24", limited("V", "1.00", "1.60")],
    "path": "watched and measured",
}
BREATHER = {
    "name": "hose of the crankcase valve leaks",
    "codes": ["P0174"],
    "part": ["breather-hose", "hose of the crankcase valve", "vacuum"],
    "bench": ["seal-hold", "5.0", "17.7", limited("inHg", "15.0")],
    "days": 3,
    "path": "watched and measured",
}
COOLANT = {
    "name": "coolant sensor open, its code permanent",
    "codes": ["P0118"],
    "part": ["coolant-sensor", "coolant temperature sensor", "cooling"],
    "bench": ["winding", ">40000", "2.41", limited("kohm", "2.0", "3.0")],
    "permanent": True,
    "days": 3,
    "path": "watched and measured",
}
LEVEL = {
    "name": "sender of the fuel level open",
    "codes": ["P0463"],
    "part": ["level-sender", "sender of the fuel level", "fuel"],
    "bench": ["winding", ">40000", "112", limited("ohm", "20", "250")],
    "path": "watched and measured",
}
SMALL_LEAK = {
    "name": "line of the purge valve leaks",
    "codes": ["P0456"],
    "part": ["purge-line", "line of the purge valve", "evap"],
    "bench": ["seal-hold", "6.0", "17.8", limited("inHg", "15.0")],
    "test": ["3C", "81", "FD", 640, 95, 0, 300],
    "days": 3,
    "path": "monitor result",
}
SPEED = {
    "name": "output speed sensor open",
    "codes": ["P0722"],
    "module": GEARBOX,
    "pointer": "P0700",
    "part": ["speed-sensor", "output speed sensor", "transmission"],
    "bench": ["winding", ">40000", "0.56", limited("kohm", "0.4", "0.8")],
    "status": True,
    "days": 2,
    "path": "code status",
}
REAR_WHEEL = {
    "name": "wheel speed sensor, rear right, open",
    "codes": ["C0050"],
    "module": BRAKES,
    "part": ["wheel-sensor", "wheel speed sensor, rear right", "brakes"],
    "bench": ["winding", ">40000", "1.18", limited("kohm", "0.8", "2.5")],
    "status": True,
    "path": "code status",
}
CAM_2 = {
    "name": "wire of the second cam sensor, never cleared",
    "codes": ["P0345"],
    "part": ["cam-wire", "ground wire of the second camshaft sensor", "wiring"],
    "action": "repaired",
    "bench": ["voltage-drop", "1.60", "0.05", limited("V", "", "0.20")],
    "clear": False,
    "days": 5,
    "path": "lamp went off",
}
KNOCK_WIRE = {
    "name": "wire of the knock sensor, permanent and never cleared",
    "codes": ["P0325"],
    "part": ["knock-wire", "ground wire of the knock sensor", "wiring"],
    "action": "repaired",
    "bench": ["voltage-drop", "1.40", "0.06", limited("V", "", "0.20")],
    "permanent": True,
    "clear": False,
    "days": 5,
    "path": "lamp went off",
}


# What several of them do.


def lamp_and_count(readout: dict, data: str) -> None:
    """Let the engine's module say another lamp or number of codes."""
    edit(readout, lambda s: with_bytes(s, "0101", bytes.fromhex(data)))


def listed(readout: dict, service: str, who: str, *codes: str) -> None:
    """Let a module list these codes alone, in one service."""
    edit(readout, lambda s: with_codes(s, service, who, list(codes)))


def left_out(readout: dict, *requests: str) -> None:
    edit(readout, lambda s: without(s, *requests))


def answers_only(readout: dict, request: str, who: str, payload: str) -> None:
    """Let a request be answered by one module, and by no other."""

    def changed(said):
        found = answers(said, request)
        assert found
        found[:] = [(who, bytes.fromhex(payload))]

    edit(readout, changed)


def also_answers(readout: dict, request: str, who: str, payload: str) -> None:
    """Let one more module answer a request."""
    answer = (who, bytes.fromhex(payload))
    edit(readout, lambda s: answers(s, request).append(answer))


def gearbox_is_clean(readout: dict) -> None:
    """Let the gearbox's module have no code and no lamp, by each service."""
    for request, payload in (
        ("0101", "410100000000"),
        ("03", "4300"),
        ("07", "4700"),
        ("0A", "4A00"),
    ):
        also_answers(readout, request, GEARBOX, payload)


def gearbox_is_a_witness(d) -> None:
    """P0562 is stored and pending in the gearbox's module too, and then is not."""
    for service in ("03", "07"):
        listed(d.before, service, GEARBOX, "P0562")
        listed(d.after, service, GEARBOX)


def evap_code_is_permanent(d) -> None:
    """P0455 stands in 0A alone, before and after."""
    for readout in (d.before, d.after):
        edit(readout, lambda s: with_codes(s, "0A", ENGINE, ["P0455"], add=True))


def new_value(readout: dict, place: int, value: int) -> None:
    """Let results of service 06, from this one on, have another value."""
    edit(
        readout,
        lambda s: with_test(s, place, lambda p: p[:4] + word(value) + p[6:]),
    )


# Lamps.


@lie(PRESSURE, GONE, kind=CLEVER)
def nobody_looks_at_the_lamp_again(d):
    """It was on; PID 01 is not asked after. Section 2: its lamp is off."""
    left_out(d.after, "0101")


@lie(LEVEL, GONE, kind=CLEVER)
def only_the_gearbox_says_that_its_lamp_is_off(d):
    """The engine's module is silent there. Section 5: none answers for another."""
    answers_only(d.after, "0101", GEARBOX, "410100000000")


@lie(AIR, GONE, kind=CLEVER)
def engine_lamp_is_laid_on_a_code_of_the_brakes(d):
    """It is on, its list is empty; the brakes hold C0050, set aside.

    Section 2: every reason for it is another code of that module's list.
    """
    body = code_bytes("C0050").hex() + "0008"
    for readout in (d.before, d.after):
        also_said(readout, "1902FF", "5902FF" + body, BRAKES)
    d.of("diagnosis")[0]["set_aside"] = set_aside(["C0050"], "known-history")
    lamp_and_count(d.after, ON_FOR_NONE)


@lie(DECLINED, GONE, kind=CLEVER)
def lamp_is_on_for_a_declined_code_that_is_no_more(d):
    """P0420 was declined and is listed nowhere; the lamp is on all the same.

    Section 2: every reason for it is another code of that module's list.
    """
    listed(d.after, "03", ENGINE)
    lamp_and_count(d.after, ON_FOR_NONE)


@lie(SMALL_LEAK, ELSE, kind=CLEVER)
def gearbox_counts_a_code_lights_its_lamp_and_lists_none(d):
    """It had none before. Section 2: every other code and lamp, in any module."""
    for readout in (d.before, d.after):
        gearbox_is_clean(readout)

    def lit(said):
        found = answers(said, "0101")
        found[:] = [found[0], (GEARBOX, bytes.fromhex("410181000000"))]

    edit(d.after, lit)


@lie(SPEED, GONE, kind=CLEVER)
def lamp_of_the_gearbox_stays_on(d):
    """Its module asks for one before and after; that of the engine went off.

    Section 2: the lamp of the module that reported it is off.
    """
    also_answers(d.before, "0101", GEARBOX, "410181000000")
    also_answers(d.after, "0101", GEARBOX, "410180000000")


@lie(SPEED, GONE, kind=CLEVER)
def lamp_of_the_gearbox_is_not_read_again(d):
    """It was on; afterwards the engine's module alone says that its own is off.

    Section 2: its lamp is off; section 5: one module never answers for another.
    """
    also_answers(d.before, "0101", GEARBOX, "410181000000")


@lie(CAM_2, RERAN, PASSED, kind=CLEVER)
def lamp_that_went_off_was_on_for_two_codes(d):
    """P0420, declined, was stored and pending beside it.

    Section 4: the lamp was on for this code alone.
    """
    listed(d.before, "03", ENGINE, "P0345", "P0420")
    listed(d.before, "07", ENGINE, "P0345", "P0420")
    lamp_and_count(d.before, "8207E500")
    listed(d.after, "03", ENGINE, "P0420")
    lamp_and_count(d.after, OFF_WITH_ONE)
    d.of("diagnosis")[0]["set_aside"] = set_aside(["P0420"], "declined")


@lie(CAM_2, RERAN, PASSED, KNOWN, kind=CLEVER)
def lamp_that_went_off_was_never_on(d):
    """Section 4: the lamp was on for this code, and is off."""
    lamp_and_count(d.before, OFF_WITH_ONE)


@lie(PRESSURE, GONE, kind=CLEVER, way="screen")
def another_display_shows_no_lamp(d):
    """The one before the repair did. Section 2: its lamp is off."""
    module = d.after["typed"]["modules"][0]
    del module["lamp"]
    module["not_shown"] = ["lamp"]


@lie(LEVEL, GONE, kind=CLEVER, way="screen")
def display_counts_one_code_and_lists_none(d):
    """Section 2: its count fits its list."""
    d.after["typed"]["modules"][0]["count"] = 1


# Pending codes.


@lie(CHARGE, GONE, kind=CLEVER)
def second_witness_still_has_it_pending(d):
    """P0562 is in 07 of the gearbox's module, that of the engine is clean.

    Section 1: several witnesses, all asked again; section 2: in 07.
    """
    gearbox_is_a_witness(d)
    listed(d.after, "07", GEARBOX, "P0562")


@lie(SMALL_LEAK, GONE, kind=ODD)
def pending_codes_are_refused_afterwards(d):
    """Conditions not correct, it says. Section 2: asked by the services as before."""
    answers_only(d.after, "07", ENGINE, "7F0722")


@lie(BREATHER, GONE, typed=True, kind=CLEVER)
def pending_codes_are_typed_beside_the_bytes(d):
    """The bytes do not ask for 07; a display showed none, somebody types.

    Section 3: the weakest event cited; what is typed is not first-hand.
    """
    clock = {"captured": at("08:15", 3), "tool": "screen"}
    shown = on_display(d.after["raw"])
    left_out(d.after, "07")
    d.events.append(event("readout", "08:15", 3, **clock, typed=shown))


@lie(AIR, GONE, ELSE, kind=CLEVER)
def new_code_of_the_same_sensor_is_watched(d):
    """P0112 is pending after the clear, and set aside once it is seen.

    Section 1: never a code of the fault's own row and place, new after the repair.
    """
    listed(d.after, "07", ENGINE, "P0112")
    aside = set_aside(["P0112"], "watched")
    told = {"codes": [], "suspect_parts": [], "reasoning": "it may go by itself"}
    d.events.append(event("diagnosis", "08:40", 1, **told, set_aside=aside))


@lie(LEVEL, KNOWN, kind=CLEVER)
def old_history_is_sold_as_a_fault(d):
    """In 03, no lamp, 07 empty, and no monitor of its own.

    Section 2: history alone only with a failing result of its own monitor.
    """
    listed(d.before, "07", ENGINE)
    lamp_and_count(d.before, OFF_WITH_ONE)


@lie(PRESSURE, GONE, kind=LATE)
def pending_code_is_corrected_away(d):
    """It is in 07 after the drive. Section 6: readouts are never amended."""
    clean = copy.deepcopy(d.after)
    listed(d.after, "07", ENGINE, "P0108")
    corrected(d, d.after, clean, at("09:00", 1))


# Permanent codes.


@lie(PERM, ELSE, kind=CLEVER)
def another_permanent_code_is_not_spoken_of(d):
    """P0455, before and after. Section 2: every other code that the record holds."""
    evap_code_is_permanent(d)


@lie(PERM, RERAN, PASSED, kind=CLEVER)
def permanent_code_was_none_before(d):
    """0A was empty then, too. Section 4: the module had it as permanent."""
    listed(d.before, "0A", ENGINE)


@lie(PERM, RERAN, PASSED, kind=CLEVER)
def no_calibration_was_ever_read(d):
    """A new one erases permanent codes. Section 4: calibrations read and equal."""
    for readout in (d.before, d.after):
        left_out(readout, "0904", "0906")


@lie(KNOCK_WIRE, GONE, kind=CLEVER)
def lamp_went_off_and_the_permanent_code_did_not(d):
    """Section 2: the module, asked by 0A as before, does not report it."""
    listed(d.after, "0A", ENGINE, "P0325")


@lie(COOLANT, GONE, kind=CLEVER)
def permanent_codes_are_not_asked_for_again(d):
    """It was one. Section 2: asked by the services in which it had answered."""
    left_out(d.after, "0A")


@lie(COOLANT, PASSED, kind=CLEVER)
def erased_permanent_code_of_a_circuit_is_all(d):
    """The new sensor is not measured. Section 4: C shows `test-reran` only."""
    d.events.remove(d.new_test)
    in_time(d)


# Counts.


@lie(CAM_2, RERAN, PASSED, kind=CLEVER)
def lamp_was_put_off_by_a_clear_that_nobody_wrote(d):
    """All three counts began anew at the repair. Section 4: without a clear."""
    edit(d.after, lambda s: with_counts(s, warm_ups=15, distance=300, minutes=450))


@lie(BREATHER, RERAN, PASSED, kind=CLEVER)
def nothing_counts_the_cycles(d):
    """Neither what counts since the clear nor the ignition cycles are read again.

    Section 4: a clear that the vehicle's counts bear out, or counts that went on.
    """
    left_out(d.after, *COUNTS, "0908")


@lie(THERMO, RERAN, PASSED, kind=CLEVER)
def driven_once_around_the_block(d):
    """One warm-up and one start since the clear. Section 4: three driving cycles."""

    def once(said):
        with_counts(said, warm_ups=1, distance=30, minutes=40, went=30)
        with_rises(said, 1, 1)

    edit(d.after, once)


@lie(LEAN, RERAN, PASSED, GONE, SAME, TIME, kind=CLEVER)
def cleared_again_two_minutes_before_it_is_read(d):
    """No warm-up, no km, two minutes: another clear than the recorded one.

    Section 2: counts since clear fit time and drive; section 4: three driving cycles.
    """
    edit(d.after, lambda s: with_counts(s, warm_ups=0, distance=0, minutes=2))


@lie(BREATHER, SAME, TIME, RERAN, PASSED, kind=CLEVER)
def ran_for_hours_in_ninety_minutes(d):
    """Dated 13:00 on the day of the repair, cleared 11:30, 270 minutes since.

    Section 2: counts since clear fit time and drive.
    """
    d.after["at"] = d.after["captured"] = at("13:00")


@lie(SMALL_LEAK, SAME, TIME, kind=CLEVER)
def odometer_runs_backwards(d):
    """It shows 90 km less than before. Section 2: what only rises has risen."""
    edit(d.after, lambda s: with_counts(s, went=-90))


# All else.


@lie(PRESSURE, SAME, kind=CLEVER)
def programmed_with_one_number_and_answers_with_another(d):
    """DEMO-ENG-0003 was written, DEMO-ENG-0002 is read.

    Section 2: a reprogramming names its calibration, and it is read.
    """
    d.put(programming("DEMO-ENG-0003"), after=d.of("repair")[0])
    edit(d.after, recalibrated)
    in_time(d)


@lie(REAR_WHEEL, RERAN, PASSED, GONE, kind=ODD)
def sensor_failed_once_more_since_the_clear(d):
    """It does not now. Section 4: completed, not failed since the clear."""
    edit(d.after, lambda s: status_is(s, "C0050", FAILED_SINCE))


@lie(SPEED, RERAN, PASSED, kind=ODD)
def mask_has_no_bits_of_what_completed(d):
    """19 0A is not asked, 19 02 lists nothing, its mask is 0F.

    Section 4: absent where the availability mask has bits 4 and 5.
    """
    left_out(d.after, "190A")
    answers_only(d.after, "1902FF", GEARBOX, "59020F")


@lie(TWO_CODES, RERAN, PASSED, GONE, ELSE, kind=CLEVER)
def code_that_was_worked_on_is_watched(d):
    """P0442 fails its test again, so it is set aside from the start.

    Section 1: never a code for which a part was worked on.
    """
    new_value(d.after, 1, 880)
    d.of("diagnosis")[0]["set_aside"] = set_aside(["P0442"], "watched")


@lie(SMALL_LEAK, AT_FAULT, typed=True, kind=CLEVER)
def old_line_is_tested_when_the_new_one_is_in(d):
    """In at 10:30, tested 10:50. Section 1: the old part may be tested until then.

    That it is the piece that came out is typed, and no more.
    """
    d.old_test["at"] = at("10:50")
    in_time(d)


@lie(COOLANT, AT_FAULT, kind=LATE)
def good_reading_is_corrected_into_an_open_one(d):
    """Days after the repair. Section 6: it can take away, never give."""
    test = d.old_test
    opened = copy.deepcopy(test)
    del test["readings"][0]["above"]
    test["readings"][0]["value"] = "2.38"
    corrected(d, test, opened, at("09:00", 4))


@lie(PRESSURE, HAZARDS, kind=LATE)
def dangers_are_read_when_the_work_is_half_done(d):
    """Work began at 10:00. Section 2: the caution stands before that."""
    for one in d.of("caution"):
        if one["at"] < at("10:00"):
            one["at"] = at("10:10")
            if "second_confirmation" in one:
                one["second_confirmation"]["at"] = at("10:11")
    in_order(d)


@lie(EGR, PASSED, RERAN, kind=CLEVER)
def failed_result_is_typed_anew_as_passed(d):
    """The bytes say 214 of at least 350, a person 612.

    Section 3: typed counts only where no raw readout after the repair holds one.
    """
    new_value(d.after, 0, 214)
    typed = event(
        "self_test",
        "08:20",
        1,
        monitor="monitor 31",
        mid="31",
        tid="81",
        outcome="passed",
        seen_on="display (invented)",
        value={"value": "612", "unit": "1"},
        minimum={"value": "350", "unit": "1"},
    )
    d.events.append(typed)


@lie(VENT, RERAN, PASSED, GONE, SAME, TIME, kind=ODD)
def first_readout_is_copied_and_its_codes_taken_out(d):
    """Live and counting values are those of before. Section 5: that is a copy."""
    d.after["raw"] = d.before["raw"]
    edit(d.after, lambda s: without(s, "020200"))
    for service in ("03", "07"):
        listed(d.after, service, ENGINE)
    lamp_and_count(d.after, OFF)
    new_value(d.after, 0, 150)


@lie(CRANK, KNOWN, SAME, TIME, kind=LATE)
def first_readout_is_taken_when_it_is_done(d):
    """At 10:40, the sensor went in at 10:30.

    Section 2: a readout before the first repair that is for it.
    """
    move(d.before, hours=2, minutes=30)
    in_order(d)


@lie(THERMO, EXPLAINS, kind=CLEVER)
def door_seal_for_a_cold_engine(d):
    """Of the body, and nobody says why. Section 2: another system, with reason."""
    d.of("diagnosis")[0]["suspect_parts"][0] |= {
        "name": "seal of the door",
        "system": "body",
    }
    acknowledge_again(d)


# Honest ones.


@honest(DECLINED, "proven")
def lamp_stays_on_for_two_declined_codes(d):
    """Section 2: every reason for it is a code of its list that is set aside."""
    listed(d.before, "03", ENGINE, "P0401", "P0420", "P0455")
    lamp_and_count(d.before, "8307E500")
    listed(d.after, "03", ENGINE, "P0420", "P0455")
    lamp_and_count(d.after, "8207E500")
    aside = set_aside(["P0420", "P0455"], "declined")
    d.of("diagnosis")[0]["set_aside"] = aside


@honest(SMALL_LEAK, "proven")
def gearbox_answers_each_time_and_has_nothing(d):
    """Section 5: per module and service."""
    for readout in (d.before, d.after):
        gearbox_is_clean(readout)


@honest(CHARGE, "proven")
def low_voltage_is_gone_from_both_modules(d):
    """Section 1: one fault with several witnesses, all asked again."""
    gearbox_is_a_witness(d)


@honest(PERM, "proven")
def old_permanent_code_is_set_aside(d):
    """Section 1: known history, agreed by the customer."""
    evap_code_is_permanent(d)
    d.of("diagnosis")[0]["set_aside"] = set_aside(["P0455"], "known-history")


@honest(CAM_2, "proven")
def code_is_history_when_the_lamp_is_off(d):
    """Section 2: history is gone enough where the test ran and passed."""
    listed(d.after, "03", ENGINE, "P0345")
    lamp_and_count(d.after, OFF_WITH_ONE)


@honest(SMALL_LEAK, "proven")
def leak_was_pending_and_had_failed_its_test(d):
    """Section 2: pending alone, with a failing result of its own monitor."""
    listed(d.before, "03", ENGINE)
    lamp_and_count(d.before, OFF)


@honest(PRESSURE, "vouched", way="screen")
def display_never_shows_permanent_codes(d):
    """Section 3: what was not displayed is said."""
    for readout in (d.before, d.after):
        module = readout["typed"]["modules"][0]
        del module["permanent"]
        module["not_shown"] = ["permanent"]


@honest(COOLANT, "unproven", way="cut", waiting=True)
def coolant_sensor_goes_home_unread(d):
    """Section 2: a later readout can show the rest."""
    complaint(d, "The lamp is on and the fan runs.")


@honest(PERM, "proven")
def permanent_code_is_there_at_noon_and_gone_days_later(d):
    """Section 2: waiting, until a second readout days later completes it."""
    early = copy.deepcopy(d.after)
    early["at"] = early["captured"] = at("13:00")

    def still(said):
        with_counts(said, warm_ups=0, distance=27, minutes=35, went=27)
        with_rises(said, 0, 1)
        with_codes(said, "0A", ENGINE, ["P0128"])

    edit(early, still)
    d.put(early, after=d.of("road_test")[0])


@honest(THERMO, "proven")
def vehicle_counts_ignition_cycles_alone(d):
    """Section 4: three driving cycles by PID 30 or by the ignition count."""
    for readout in (d.before, d.after):
        left_out(readout, *COUNTS)
