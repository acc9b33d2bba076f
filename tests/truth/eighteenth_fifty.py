"""Forty bogus records and ten honest ones more, in the form of the tenth fifty.

Each lie is what a shop might do that wants to be paid and to look clean; what has to
fall follows from the verdict's definition, whose section stands beside each. Written by
somebody who knew that definition alone, before any was judged.

When they were first judged, 38 of the 40 lies came out as written, one came out
*proven*, none *vouched* wrongly, and one fell by another question than was written; of
the honest ones all ten came out as written.

Proven was a gearbox that answered before, and nobody after, what all were asked. The
readout of the morning was written wrongly: its counters of service 09 had gone on, so
that it was no copy (section 5), and fell by its times alone. It keeps them now, too.
"""

import copy

from auditkit.order.policy import parse_policy
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
    also_said,
    complaint,
    corrected,
    in_time,
    renamed,
    renumbered,
    set_aside,
    status_is,
    suspect,
    told_as,
)
from truth.jobs import at, event
from truth.named_jobs import AIR, BLOCK, CAP, HEALED, NO_VIN, PURGE
from truth.own_jobs import a_fifty, limited
from truth.packets import Signing
from truth.said import ENGINE, code_bytes, word
from truth.vehicle_counts import with_counts, with_rises

LIES, LEFT, HONEST, lie, left, honest = a_fifty()
GEARBOX_MODULE, BRAKES_MODULE, BELTS_MODULE = "7E9", "7EA", "7EC"
BOOST, TWO_LEAKS = "22: boost hose leaks", "-: two faults with one repair"

FAN = {
    "name": "fan motor open",
    "codes": ["P0480"],
    "part": ["fan-motor", "motor of the cooling fan", "cooling"],
    "bench": ["direct-reading", "1.2", "14.0", limited("A", "10.0", "20.0")],
    "path": "watched and measured",
}
TANK = {
    "name": "fuel level sender off its range",
    "codes": ["P0463"],
    "part": ["level-sender", "fuel level sender", "fuel"],
    "bench": ["winding", "410", "182", limited("ohm", "100", "280")],
    "path": "watched and measured",
}
MANIFOLD = {
    "name": "manifold pressure sensor low",
    "codes": ["P0107"],
    "part": ["map-sensor", "manifold pressure sensor", "intake"],
    "bench": ["direct-reading", "0.02", "1.25", limited("V", "1.00", "1.50")],
    "path": "watched and measured",
}
MANIFOLD_RANGE = {
    "name": "manifold pressure sensor out of its range",
    "codes": ["P0106"],
    "part": ["map-sensor", "manifold pressure sensor", "intake"],
    "bench": ["direct-reading", "2.10", "1.30", limited("V", "1.00", "1.50")],
    "days": 2,
    "path": "watched and measured",
}
INJECTOR_3 = {
    "name": "injector of cylinder 3 open",
    "codes": ["P0203"],
    "part": ["injector-3", "injector of cylinder 3", "fuel"],
    "bench": ["winding", ">40000", "13.8", limited("ohm", "11", "18")],
    "path": "watched and measured",
}
AIR_PUMP = {
    "name": "secondary air pump weak",
    "codes": ["P0491"],
    "part": ["air-pump", "secondary air pump", "secondary-air"],
    "bench": ["direct-reading", "2.0", "24.0", limited("A", "15.0", "35.0")],
    "test": ["71", "81", "17", 120, 410, 250, 65535],
    "days": 2,
    "path": "monitor result",
}
PHASER = {
    "name": "solenoid of the phaser high in ohms",
    "codes": ["P0011"],
    "part": ["phaser-solenoid", "solenoid of the phaser", "valve-timing"],
    "bench": ["winding", "48", "8.2", limited("ohm", "6", "10")],
    "test": ["35", "81", "20", 900, 200, 0, 500],
    "days": 2,
    "path": "monitor result",
}
REAR_SENSOR = {
    "name": "rear oxygen sensor slow",
    "codes": ["P013A"],
    "part": ["rear-sensor", "rear oxygen sensor", "oxygen-sensor"],
    "bench": ["direct-reading", "480", "90", limited("ms", high="150")],
    "test": ["02", "05", "10", 520, 90, 0, 200],
    "days": 2,
    "path": "monitor result",
}
CAT_2 = {
    "name": "catalyst of bank 2 worn",
    "codes": ["P0430"],
    "part": ["catalyst", "catalyst", "catalyst"],
    "ruled_out": [
        ["exhaust-joint", "exhaust joint", "exhaust"],
        ["rear-sensor", "rear oxygen sensor", "oxygen-sensor"],
    ],
    "test": ["22", "81", "20", 30000, 12000, 0, 21000],
    "days": 2,
    "path": "monitor result",
}
COIL_4 = {
    "name": "ignition coil of cylinder 4 open",
    "codes": ["P0304"],
    "part": ["coil-4", "ignition coil of cylinder 4", "ignition"],
    "bench": ["winding", ">40000", "11.0", limited("kohm", "5", "20")],
    "test": ["A5", "0B", "24", 36, 0, 0, 10],
    "path": "monitor result",
}
REAR_WHEEL = {
    "name": "wheel speed sensor at the rear open",
    "codes": ["C0050"],
    "module": BRAKES_MODULE,
    "part": ["wheel-sensor", "wheel speed sensor, rear right", "brakes"],
    "bench": ["winding", ">40000", "1.40", limited("kohm", "0.8", "2.5")],
    "status": True,
    "path": "code status",
}
GEAR_SPEED = {
    "name": "input speed sensor of the gearbox open",
    "codes": ["P0717"],
    "module": GEARBOX_MODULE,
    "pointer": "P0700",
    "part": ["speed-sensor", "input speed sensor of the gearbox", "transmission"],
    "bench": ["winding", ">40000", "0.42", limited("kohm", "0.3", "0.6")],
    "status": True,
    "days": 2,
    "path": "code status",
}


def gearbox_answers(readout: dict, request: str, payload: str) -> None:
    """Let the gearbox's module answer what the engine's was asked, too."""
    said = bytes.fromhex(payload)
    edit(readout, lambda s: answers(s, request).append((GEARBOX_MODULE, said)))


def with_limits(said, low: int, high: int) -> None:
    """Let every result of service 06 have these limits."""
    with_test(said, 0, lambda p: p[:6] + word(low) + word(high))


def as_it_was(said, before) -> None:
    """Let all that lives or counts be what it was in another readout."""
    for request, found in before:
        now = answers(said, request)
        lives = request[:2] == "01" and request not in {"0100", "0101"}
        if (lives or request == "0908") and now is not None:
            now[:] = found


# The fault, the part, and what was measured on it.


@lie(FAN, KNOWN, kind=CLEVER)
def fan_code_of_last_summer(d):
    """Stored with the lamp off, not pending: history, and it has no monitor.

    Section 2: history alone counts only with a failing result of its own monitor.
    """

    def history(said):
        with_bytes(said, "0101", bytes.fromhex("0107E500"))
        with_codes(said, "07", ENGINE, [])

    edit(d.before, history)


@lie(MANIFOLD, KNOWN, typed=True, kind=CLEVER)
def plug_is_pulled_in_the_yard(d):
    """The lamp has been on for 0 km and 4 minutes; the order is 20 minutes old.

    Section 2: told, and word, where distance and minutes say that it is younger.
    """
    also_said(d.before, "0121", "41210000")
    also_said(d.before, "014D", "414D0004")


@lie(REAR_WHEEL, KNOWN, ELSE, kind=CLEVER)
def code_is_of_the_other_wheel(d):
    """The module lists C0045, the diagnosis and the bill say C0050.

    Section 2: the diagnosis says that this readout shows it, and it does not.
    """
    edit(d.before, lambda s: status_is(s, "C0045", 0x2F))


@lie(FAN, EXPLAINS, kind=CLEVER)
def wiper_motor_for_the_fan(d):
    """A wiper motor, of another system. Section 2: that owes reason and source."""
    renamed(d, "fan-motor", "wiper-motor")
    renamed(d, "motor of the cooling fan", "wiper motor")
    d.of("diagnosis")[0]["suspect_parts"][0]["system"] = "body"
    acknowledge_again(d)


@lie(MANIFOLD, AT_FAULT, kind=CLEVER)
def measured_until_it_is_faulty(d):
    """Twice 1.22 V, then 0.02 V. Section 2: good and faulty under equal conditions."""
    for minutes in (-20, -10):
        good = copy.deepcopy(d.old_test)
        read_of(good, "voltage", value="1.22")
        move(good, minutes=minutes)
        d.events.append(good)
    in_time(d)


@lie(TANK, AT_FAULT, kind=CLEVER)
def sender_is_over_by_less_than_the_meter_errs(d):
    """281 of at most 280 ohm, the meter errs by 1.4. Section 2: beyond uncertainty."""
    read_of(d.old_test, "resistance", value="281")


@lie(INJECTOR_3, AT_FAULT, PASSED, typed=True, kind=CLEVER)
def meter_was_last_checked_seven_years_ago(d):
    """Its next check is said to be due in 2030. Section 3: within the interval."""
    for test in (d.old_test, d.new_test):
        test["instruments"] = copy.deepcopy(test["instruments"])
        for one in test["instruments"]:
            one["specification"] |= {"calibrated_on": "2019-01-12", "due": "2030-01-12"}


@lie(REAR_WHEEL, AT_FAULT, kind=CLEVER)
def sensor_of_another_car_fails_as_well(d):
    """A known-good one is open by the same leads. Section 2: not shown."""
    good = {**copy.deepcopy(d.old_test), "of": "known-good"}
    move(good, minutes=10)
    d.events.append(good)
    in_time(d)


@lie(COIL_4, AT_FAULT, kind=CLEVER)
def injector_is_sold_along(d):
    """It is suspected and renewed, and nobody tested it. Section 2: each cause."""
    d.of("diagnosis")[0]["suspect_parts"].append(
        suspect(d, id="injector-4", name="injector of cylinder 4", system="fuel")
    )
    sold = event(
        "repair",
        "10:50",
        part="injector-4",
        action="replaced",
        started=at("10:35"),
        part_number="EX-8 (invented)",
        old_part="scrapped",
    )
    d.put(sold, after=d.of("repair")[-1])
    in_time(d)


@lie(CAT_2, AT_FAULT, kind=CLEVER)
def another_rear_sensor_is_good(d):
    """The suspect itself was never tested. Section 2: each suspect has its own test."""
    bench_test_of(d, "rear-sensor")["of"] = "known-good"


@lie(CAT_2, AT_FAULT, kind=CLEVER)
def number_of_the_other_bank(d):
    """P0430 is of bank 2, and the failing number before is that of bank 1.

    Sections 1 and 2: its own place, the vehicle's own failing number before.
    """
    edit(d.before, lambda s: renumbered(s, "0622", "0621"))


@lie(PURGE, AT_FAULT, kind=LATE)
def how_it_was_held_is_withheld(d):
    """The gauge was warm and the line cold, and the reader is not told.

    Section 6: what a question reads and is withheld is not shown to who lacks it.
    """
    d.old_test["conditions"]["start temperature"]["value"] = "60.0"
    d.signing = Signing(
        parse_policy(
            'format = "auditkit/policy@1"\nwithhold = ["bench_test.conditions"]\n',
            where="policy",
        )
    )


# Whether its test ran again and passed.


@lie(REAR_SENSOR, RERAN, PASSED, kind=CLEVER)
def another_test_of_the_same_sensor(d):
    """Test 05 failed, test 06 is shown. Section 4: another test id shows nothing."""
    edit(d.after, lambda s: with_test(s, 0, lambda p: p[:2] + b"\x06" + p[3:]))


@lie(PHASER, RERAN, PASSED, kind=CLEVER)
def limit_has_grown_with_the_value(d):
    """700 of at most 900, where 500 was the most. Section 4: inside those before."""

    def grown(said):
        with_test(said, 0, lambda p: p[:4] + word(700) + p[6:])
        with_limits(said, 0, 900)

    edit(d.after, grown)


@lie(COIL_4, RERAN, PASSED, kind=CLEVER)
def misfires_of_cylinder_three_are_none(d):
    """P0304, and afterwards A4 is read in place of A5. Section 1: place is its id."""
    edit(d.after, lambda s: renumbered(s, "06A5", "06A4"))


@lie(AIR_PUMP, PASSED, kind=CLEVER)
def limits_that_nothing_can_break(d):
    """0 to 65535, before and after. Section 8: only a limit that cannot fail."""
    for readout in (d.before, d.after):
        edit(readout, lambda s: with_limits(s, 0, 65535))


@lie(MANIFOLD_RANGE, RERAN, PASSED, kind=CLEVER)
def revved_in_the_yard(d):
    """Its frame was kept at 60 km/h; all is met again, at 0. Section 4: ±10 km/h."""
    edit(d.after, lambda s: with_bytes(s, "010D", b"\0"))


@lie(MANIFOLD, PASSED, kind=CLEVER)
def copy_part_has_a_limit_of_its_own(d):
    """1.70 V of at most 2.00, where 1.50 was the most. Section 4: the same limit."""
    read_of(d.new_test, "voltage", value="1.70")
    d.new_test["limit"]["maximum"] = "2.00"


@lie(TANK, PASSED, kind=CLEVER)
def sender_on_the_shelf_is_good(d):
    """A known-good one is measured, not the new one. Section 4: the part now fitted."""
    d.new_test["of"] = "known-good"


@lie(GEAR_SPEED, RERAN, PASSED, kind=CLEVER)
def gearbox_has_not_tested_yet(d):
    """Status 50: not completed since the clear. Section 4: completed, not failed."""
    edit(d.after, lambda s: status_is(s, "P0717", 0x50))


@lie(HEALED, PASSED, RERAN, kind=CLEVER)
def lamp_was_put_out_by_the_battery(d):
    """30, 31 and 4E began anew, and no clear is told.

    Section 4: the lamp is evidence where they went on without a clear.
    """
    edit(d.after, lambda s: with_counts(s, warm_ups=6, distance=120, minutes=180))


@lie(AIR_PUMP, PASSED, kind=CLEVER)
def display_passes_what_the_vehicle_fails(d):
    """The bytes say 130 of at least 250; somebody types 410, passed.

    Section 3: a typed result counts only where no raw readout holds one.
    """
    edit(d.after, lambda s: with_test(s, 0, lambda p: p[:4] + word(130) + p[6:]))
    typed = event(
        "self_test",
        "08:20",
        2,
        monitor="monitor 71",
        mid="71",
        tid="81",
        outcome="passed",
        seen_on="display (invented)",
        value={"value": "410", "unit": "1"},
        minimum={"value": "250", "unit": "1"},
    )
    d.put(typed, after=d.after)


@lie(REAR_SENSOR, PASSED, way="screen", kind=CLEVER)
def passed_and_no_number(d):
    """Passed, says the display. Section 4: a pass without a number is no pass."""
    del d.of("self_test")[-1]["value"]


# Whether it is gone, and nothing else is left.


@lie(GEAR_SPEED, GONE, RERAN, PASSED, kind=CLEVER)
def engine_answers_for_the_gearbox(d):
    """Afterwards the gearbox is silent. Section 5: one never answers for another."""

    def silent(said):
        for one in said:
            one[1] = [(w, p) for w, p in one[1] if w != GEARBOX_MODULE]
            if one[0] == "1902FF":
                one[1] = [(ENGINE, bytes.fromhex("5902FF"))]
        said[:] = [one for one in said if one[1]]

    edit(d.after, silent)


@lie(FAN, GONE, kind=ODD)
def pending_codes_are_refused(d):
    """07 is answered by 7F 07 22. Section 5: refused is not none."""
    edit(d.after, lambda s: answers(s, "07").__setitem__(0, (ENGINE, b"\x7f\x07\x22")))


@lie(INJECTOR_3, GONE, ELSE, kind=CLEVER)
def same_injector_is_low_and_made_by_a_test(d):
    """P0267 is pending after the clear, and is set aside as made by a test.

    Section 1: never a code of the fault's own row and place that is new afterwards.
    """
    edit(d.after, lambda s: with_codes(s, "07", ENGINE, ["P0267"]))
    told = event(
        "diagnosis",
        "08:40",
        1,
        codes=[],
        suspect_parts=[],
        reasoning="from the noid lamp in its plug (invented)",
        set_aside=set_aside(["P0267"], "made-by-a-test"),
    )
    d.events.append(told)


@lie(MANIFOLD, GONE, way="screen", kind=CLEVER)
def display_was_not_asked_for_pending(d):
    """Before, it showed the pending ones. Section 2: the services that had answered."""
    for module in d.after["typed"]["modules"]:
        del module["pending"]


@lie(TANK, GONE, kind=LATE)
def readout_is_corrected(d):
    """Pending again, and an amendment says none. Section 6: readouts are never."""
    clean = copy.deepcopy(d.after)
    edit(d.after, lambda s: with_codes(s, "07", ENGINE, ["P0463"]))
    corrected(d, d.after, clean, at("09:00", 2))


@lie(INJECTOR_3, RERAN, GONE, SAME, kind=CLEVER)
def readout_of_the_morning_without_its_code(d):
    """All that lives and counts is what it was before. Section 5: that is a copy."""
    before = {}
    edit(d.before, lambda s: before.update(said=copy.deepcopy(s)))
    edit(d.after, lambda s: as_it_was(s, before["said"]))


@lie(COIL_4, ELSE, kind=CLEVER)
def belts_have_a_code_that_nobody_names(d):
    """B0051 in the module of the belts, before and after.

    Section 2: every other code, before and after, in any module.
    """
    said = (bytes.fromhex("5902FF") + code_bytes("B0051") + b"\0\x2f").hex()
    for readout in (d.before, d.after):
        also_said(readout, "1902FF", said, BELTS_MODULE)


@lie(PHASER, ELSE, kind=CLEVER)
def gearbox_lights_its_lamp(d):
    """Lamp on, one code, which one was not asked. Section 2: every other lamp."""
    for readout in (d.before, d.after):
        gearbox_answers(readout, "0101", "410181000000")


@lie(TWO_LEAKS, ELSE, RERAN, kind=CLEVER)
def smaller_leak_is_set_aside_after_the_work(d):
    """Its test has not run, so it is watched from now on.

    Section 1: never a code for which a part was worked on.
    """
    edit(d.after, lambda s: without(s, "063C"))
    told = event(
        "diagnosis",
        "08:40",
        3,
        codes=[],
        suspect_parts=[],
        reasoning="it will show with the next service (invented)",
        set_aside=set_aside(["P0442"], "watched"),
    )
    d.events.append(told)


# The vehicle, the times, and how safely.


@lie(BOOST, SAME, kind=CLEVER)
def tuned_under_the_same_name(d):
    """The calibration's name is the old one, its number another; nothing is told.

    Section 2: marks equal, or changed by a recorded cause.
    """
    edit(d.after, lambda s: with_bytes(s, "0906", bytes.fromhex("0199A0B1C2")))


@lie(AIR_PUMP, SAME, kind=CLEVER)
def automatic_comes_back_without_a_gearbox_module(d):
    """7E9 answered before, and nobody does after. Section 1: responders are kept."""
    gearbox_answers(d.before, "0100", "410098180001")


@lie(NO_VIN, SAME, kind=CLEVER)
def photograph_is_of_the_invoice(d):
    """The picture is of the repair, and shows a bill. Section 2: of plate and VIN."""
    picture = d.of("attachment")[0]
    picture |= {
        "of": d.events.index(d.of("repair")[0]),
        "shows": "the bill (invented)",
    }


@lie(CAP, SAME, TIME, RERAN, kind=CLEVER)
def readout_of_next_week_on_the_day_of_the_bill(d):
    """70 minutes after the clear, 270 of running since it. Section 2: counts fit."""
    d.after["at"] = d.after["captured"] = at("12:40")
    in_time(d)


@lie(AIR, TIME, GONE, RERAN, kind=LATE)
def captured_before_the_work(d):
    """Written the next day, captured at 09:40, and the sensor was out at 10:30.

    Section 2: before and after hold by time and place.
    """
    d.after["captured"] = at("09:40")


@lie(BLOCK, HAZARDS, kind=CLEVER)
def parts_are_still_live(d):
    """380 V at the parts. Section 2: preconditions are met."""
    told_as(d, "voltage at the parts", value="380")


@lie(TANK, HAZARDS, kind=CLEVER)
def colleague_reads_the_cautions(d):
    """Another acknowledges what the mechanic does. Section 2: by who did it."""
    for one in d.of("caution"):
        one["by"] = "mechanic-2"
        if "second_confirmation" in one:
            one["second_confirmation"]["by"] = "mechanic-2"


@lie(INJECTOR_3, HAZARDS, kind=LATE)
def cautions_are_read_as_the_work_ends(d):
    """Begun at 08:25, and its cautions are acknowledged shortly before 10:00.

    Section 2: a repair that takes longer states when it started, the caution before.
    """
    d.of("repair")[0]["started"] = at("08:25")


# Honest ones.


@honest(AIR_PUMP, "proven")
def pump_is_read_once_too_early(d):
    """After the drive its test had not run; two days later it had."""
    early = copy.deepcopy(d.after)
    early["at"] = early["captured"] = at("13:00")

    def not_run(said):
        with_counts(said, warm_ups=1, distance=27, minutes=40, went=27)
        with_rises(said, 1, 2)
        without(said, "0671")

    edit(early, not_run)
    d.put(early, after=d.of("road_test")[0])


@honest({**FAN, "name": "two fans", "codes": ["P0480", "P0481"]}, "proven")
def each_fan_for_its_own_code(d):
    """Each motor is suspected for its own code, tested, replaced and measured."""
    suspects = d.of("diagnosis")[0]["suspect_parts"]
    suspects[0]["codes"] = ["P0480"]
    suspects.append(
        suspect(d, id="fan-motor-2", name="motor of the second fan", codes=["P0481"])
    )
    for one in (d.old_test, d.of("repair")[0], d.new_test):
        second = {**copy.deepcopy(one), "part": "fan-motor-2"}
        move(second, minutes=5)
        d.put(second, after=one)
    in_time(d)


@honest(TANK, "proven")
def new_sender_is_read_by_another_meter(d):
    """The first is lent out; the other has its own check and reads in kohm."""
    read_of(d.new_test, "resistance", value="0.182", unit="kohm")
    meter = d.new_test["instruments"][0]
    assert meter["id"] == "meter-1"
    meter["id"] = "meter-2"
    meter["specification"] |= {
        "unit": "kohm",
        "resolution": "0.001",
        "certificate": "INV-2026-044",
    }


@honest(REAR_SENSOR, "vouched", way="screen")
def two_people_with_a_display(d):
    """One reads aloud, the other writes; nothing is raw."""
    for one in d.of("self_test"):
        one["by"] = "mechanic-2"


@honest({**COIL_4, "name": "one fault, one declined", "set_aside": ["P0455"]}, "proven")
def leak_is_declined_and_keeps_the_lamp_on(d):
    """The customer wants the misfire repaired, and the leak not."""
    complaint(d, "It shakes. I do not care about the tank.")


@honest(REAR_WHEEL, "proven")
def sensor_comes_the_next_day(d):
    """One finds it and hands over; the other fits the sensor a day later."""
    for one in d.events[d.events.index(d.old_test) + 1 :]:
        move(one, days=1)
        if one["kind"] != "readout":
            one["by"] = "mechanic-2"
    handed = event(
        "handover",
        "16:00",
        to="mechanic-2",
        done="the sensor is open (invented)",
        waits="the sensor comes tomorrow (invented)",
    )
    d.put(handed, after=d.old_test)
    in_time(d)


@honest({**MANIFOLD, "name": "old EOBD car", "eobd": True}, "proven")
def old_car_knows_no_permanent_codes(d):
    """It does not answer service 0A."""
    complaint(d, "It hesitates.")


@honest({**PHASER, "name": "never cleared", "clear": False, "days": 5}, "proven")
def phaser_heals_without_a_clear(d):
    """Nobody clears anything; the result changed, and the lamp went off by itself."""
    complaint(d, "The lamp is on, the inspection is next week.")


@honest(CAT_2, "proven")
def front_sensor_is_ruled_out_too(d):
    """One suspect more than is asked is tested, and is good."""
    d.of("diagnosis")[0]["suspect_parts"].append(
        suspect(
            d, id="front-sensor", name="front oxygen sensor", system="oxygen-sensor"
        )
    )
    third = copy.deepcopy(bench_test_of(d, "rear-sensor"))
    third["part"] = "front-sensor"
    move(third, minutes=5)
    d.put(third, after=bench_test_of(d, "rear-sensor"))
    in_time(d)


@honest(GEAR_SPEED, "unproven", waiting=True)
def gearbox_waits_for_its_drive(d):
    """Not completed since the clear, nothing failed: a later readout can show it."""
    edit(d.after, lambda s: status_is(s, "P0717", 0x50))
