"""Forty bogus records and ten honest ones more, in the form of the tenth fifty.

Each lie is of something that stands in the data: a value, a time, a code, a kind or an
id, which its sentence names.

The first run: 34 of 40 as expected, and 10 of 10. Four came out proven; all four are
left: three are told as advice, one is no lie by what its word means. One came out
vouched that should not, and led to a rule that was mended. One fell by order-of-time,
rightly: two times of the record conflict; its expectation now says so. Two fell by the
place of a caution in its list, not by what they tell. In the order of time one falls
all the same; the other, told of a test that holds nothing, came out proven, and led to
a second rule that was mended.
"""

import copy

from truth.bench_changes import read_of
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
)
from truth.changes import (
    CLEVER,
    LATE,
    ODD,
    acknowledge_again,
    also_said,
    complaint,
    confirmed_again,
    corrected,
    in_order,
    in_time,
    renamed,
    status_is,
    told_as,
)
from truth.jobs import at, event
from truth.named_jobs import (
    AIR,
    BLOCK,
    CAP,
    CAT,
    COIL,
    DECLINED,
    EGR,
    GEARBOX,
    HEALED,
    INJECTOR,
    LEAN,
    NEWER,
    PERM,
    WIRE,
)
from truth.own_jobs import a_fifty, limited
from truth.said import code_bytes, word
from truth.vehicle_counts import EGR_RAN, with_counts, with_rises

LIES, LEFT, HONEST, lie, left, honest = a_fifty()
GEARBOX_MODULE = "7E9"


# The fault, the part, and what was measured on it.


@lie(COIL, KNOWN, typed=True, kind=CLEVER)
def frame_at_sixty_and_no_kilometre(d):
    """The code's frame was kept at 60 km/h; since the last clear it went 0 km."""
    edit(d.before, lambda s: with_counts(s, warm_ups=0, distance=0, minutes=2))


@lie(COIL, EXPLAINS, AT_FAULT, typed=True, kind=CLEVER)
def coil_of_cylinder_three_for_cylinder_one(d):
    """The code says cylinder 1; the part's id and name say 3."""
    renamed(d, "coil-1", "coil-3")
    renamed(d, "ignition coil of cylinder 1", "ignition coil of cylinder 3")


@lie(AIR, AT_FAULT, TIME, typed=True, kind=LATE)
def tested_before_the_vehicle_came(d):
    """The test is forty days older than the order's opening."""
    d.old_test["at"] = at("09:15", -40)
    in_time(d)


@lie(EGR, AT_FAULT, kind=CLEVER)
def known_good_one_is_bad(d):
    """What was measured is a known-good part, by the test's own word."""
    d.old_test["of"] = "known-good"


@lie(EGR, AT_FAULT, kind=CLEVER)
def gauge_errs_by_more_than_is_missing(d):
    """14.0 of 15.0 inHg, on a gauge that errs by 10 % of 30."""
    read_of(d.old_test, "end pressure", value="14.0")
    told = d.old_test["instruments"][0]["specification"]
    del told["percent_of_reading"]
    told["percent_of_span"] = "10"


@lie(EGR, AT_FAULT, kind=CLEVER)
def vacuum_lost_to_a_heat_gun(d):
    """From 19 to 80 degC the air alone takes the vacuum from 18.0 to some 15 inHg."""
    read_of(d.old_test, "end pressure", value="14.5")
    d.old_test["conditions"]["end temperature"] = {"value": "80.0", "unit": "degC"}


@lie(INJECTOR, AT_FAULT, kind=CLEVER)
def same_injector_read_twice(d):
    """195 and 299 mL are both of cylinder 1: good and faulty under equal conditions."""
    d.old_test["readings"][2]["which"] = d.old_test["readings"][1]["which"]


@lie(EGR, AT_FAULT, TIME, kind=CLEVER)
def held_for_an_hour_and_not_a_minute(d):
    """The readings' own times are an hour apart; the hold time says 60 s."""
    d.old_test["at"] = at("09:50")
    read_of(d.old_test, "start pressure", at=at("08:45"))
    read_of(d.old_test, "end pressure", at=at("09:45"))
    in_time(d)


@lie(EGR, AT_FAULT, kind=CLEVER)
def it_holds_but_looks_bad(d):
    """Measured good, then called a fault by sight: good, and replaced as the cause."""
    read_of(d.old_test, "end pressure", value="17.8")
    seen = event(
        "bench_test",
        "09:40",
        part="egr-valve",
        setup="removed",
        of="old",
        test="looked at",
        finding={"seen": "soot on the seat (invented)", "is_fault": True},
    )
    d.put(seen, after=d.old_test)
    acknowledge_again(d)


@lie(CAT, AT_FAULT, kind=CLEVER)
def ruled_out_when_it_was_done(d):
    """Joint and sensor are tested at 16:00, the catalyst was replaced at 10:30."""
    for one in d.of("bench_test"):
        one["at"] = at("16:00")
    in_time(d)


@lie(CAT, AT_FAULT, KNOWN, kind=CLEVER)
def catalyst_was_inside_its_limit(d):
    """20000 of at most 21000 before: the vehicle's own number does not fail."""
    edit(d.before, lambda s: with_test(s, 0, lambda p: p[:4] + word(20000) + p[6:]))


# Its test, and whether the fault is gone.


@lie(WIRE, PASSED, kind=CLEVER)
def new_wire_at_a_tenth_of_the_current(d):
    """0.04 V at 1 A are 0.4 V at the rated 10 A, above the limit of 0.20."""
    read_of(d.new_test, "load current", value="1.0")


@lie(AIR, PASSED, kind=CLEVER)
def certificate_owns_up_to_a_kilohm(d):
    """2.45 kohm between 2.0 and 3.0, by a meter that is known to 1.0."""
    told = d.new_test["instruments"][0]["specification"]
    told |= {"certificate_u": "1.0", "certificate_k": "2"}


@lie(AIR, PASSED, kind=CLEVER)
def one_from_the_shelf_passes_instead(d):
    """Measured is to be the part now fitted, not a known-good one."""
    d.new_test["of"] = "known-good"


@lie(WIRE, PASSED, kind=LATE)
def failed_test_is_amended_days_later(d):
    """1.70 V becomes 0.04 V after the last readout: an amendment never gives."""
    new = copy.deepcopy(d.new_test)
    read_of(d.new_test, "voltage drop", value="1.70")
    corrected(d, d.new_test, new, at("08:30", 3))


@left(EGR, RERAN, PASSED, kind=CLEVER)
def monitor_is_not_complete(d):
    """PID 01 says that the EGR monitor has not completed since the clear.

    It is left, and told as advice: readiness waits for all monitors of its group, of
    valve timing too. The result is new, and a clear had set it to nought.
    """
    edit(d.after, lambda s: with_bytes(s, "0101", b"\0\x07\xe5\x80"))


@left(EGR, RERAN, PASSED, kind=CLEVER)
def its_own_counter_stands_still(d):
    """Every monitor's counter rose but this one's: it has not run.

    It is left, and told as advice: a module shows the count of that test of a group
    which runs least often, and pauses it while a fault is pending.
    """
    edit(d.after, lambda s: with_rises(s, 2, 6, {EGR_RAN: 0}))


@lie(LEAN, RERAN, PASSED, kind=CLEVER)
def driven_downhill(d):
    """Load 25 % at the readout, 40 % in the freeze frame: beyond ±20 % of it."""
    edit(d.after, lambda s: with_bytes(s, "0104", bytes([64])))


@lie(LEAN, RERAN, PASSED, ELSE, KNOWN, kind=CLEVER)
def frame_is_of_another_code(d):
    """The freeze frame is P0420's, which no list and no diagnosis names."""

    def change(said):
        found = answers(said, "020200")
        found[0] = (found[0][0], b"\x42\x02\x00" + code_bytes("P0420"))

    edit(d.before, change)


@lie(PERM, RERAN, PASSED, kind=CLEVER)
def it_was_never_permanent(d):
    """0A was empty before: nothing was erased, and nothing measured after."""
    edit(d.before, lambda s: with_codes(s, "0A", "7E8", []))


@lie(HEALED, RERAN, PASSED, kind=ODD)
def lamp_went_off_in_one_start(d):
    """One start and 1 km went by: a lamp goes off after three cycles."""

    def change(said):
        with_counts(said, warm_ups=41, distance=2001, minutes=3010, went=1)
        with_rises(said, 1, 1)

    edit(d.after, change)
    road = d.of("road_test")[0]
    road |= {"start": at("12:25")}
    road["distance"]["value"] = "1"
    acknowledge_again(d)


@lie(NEWER, GONE, RERAN, PASSED, kind=CLEVER)
def failed_since_the_clear(d):
    """Status 20: not failing now, failed since the clear (ISO 14229-1, bit 5)."""
    edit(d.after, lambda s: status_is(s, "P0113", 0x20))


@lie(COIL, PASSED, GONE, ELSE, kind=CLEVER)
def misfires_of_all_cylinders_fail(d):
    """Cylinder 1 counts nought; the monitor of all counts 40 of at most 10."""
    also_said(d.after, "06A1", "46A10B24" + "00280000000A")


@lie(CAP, PASSED, way="screen", kind=CLEVER)
def typed_limit_grew_tenfold(d):
    """880 failed at most 400 before; after it is inside at most 4000."""
    told = d.of("self_test")[-1]
    told["value"]["value"], told["maximum"]["value"] = "880", "4000"


@lie(CAP, RERAN, PASSED, TIME, way="screen", kind=LATE)
def typed_result_is_older_than_the_drive(d):
    """It was read at 11:20, before the clear at 11:30 and the drive at 12:00."""
    d.of("self_test")[-1]["at"] = at("11:20")
    in_order(d)


@lie(CAP, RERAN, PASSED, GONE, kind=CLEVER)
def replaced_again_after_the_last_readout(d):
    """A second cap is fitted on the day after: nothing is read after that."""
    again = event(
        "repair",
        "09:00",
        4,
        part="filler-cap",
        action="replaced",
        started=at("08:40", 4),
        part_number="EX-7 (invented)",
        old_part="scrapped",
    )
    d.events.append(again)
    acknowledge_again(d)


@lie(EGR, GONE, kind=CLEVER)
def second_witness_is_not_asked_again(d):
    """The gearbox's module reports P0401 too, and is silent after."""
    edit(d.before, lambda s: with_codes(s, "03", GEARBOX_MODULE, ["P0401"]))


@lie(EGR, GONE, PASSED, ELSE, kind=CLEVER)
def new_freeze_frame_of_the_same_code(d):
    """A clear erases the frame: there is one of P0401 after it."""
    also_said(d.after, "020200", "420200" + code_bytes("P0401").hex())


@lie(EGR, GONE, ELSE, PASSED, kind=CLEVER)
def driven_with_the_lamp_on_since_the_clear(d):
    """PID 21 counts 12 km with the lamp on; a clear had set it to 0."""
    also_said(d.after, "0121", "4121000C")


@lie(EGR, GONE, ELSE, kind=CLEVER)
def gearbox_commands_the_lamp(d):
    """Its module says after the repair that it lights the lamp, and counts none."""

    def answer(status: str):
        payload = bytes.fromhex("4101" + status + "040000")
        return lambda s: answers(s, "0101").append((GEARBOX_MODULE, payload))

    edit(d.before, answer("00"))
    edit(d.after, answer("80"))


@lie(GEARBOX, GONE, ELSE, kind=CLEVER)
def neighbour_of_the_clutch_code(d):
    """P0740 of the same module and row is confirmed after the clear."""

    def change(said):
        found = answers(said, "1902FF")
        body = code_bytes("P0740") + b"\0\x2f"
        found[0] = (found[0][0], b"\x59\x02\xff" + body)

    edit(d.after, change)


@lie(EGR, GONE, way="screen", kind=CLEVER)
def display_counts_one_and_lists_none(d):
    """Its list is empty and its count is 1."""
    d.after["typed"]["modules"][0]["count"] = 1


@left(DECLINED, ELSE, typed=True, kind=CLEVER)
def history_that_is_pending_again(d):
    """P0420 is set aside as history and is pending after the clear.

    It is left: the reason means that it is known from before, and the first readout
    holds it. That it comes back is no surprise, and the set-aside stands to be read.
    """
    d.of("diagnosis")[0]["set_aside"][0]["reason"] = "known-history"
    edit(d.after, lambda s: with_codes(s, "07", "7E8", ["P0420"]))


# The vehicle, the times, and how safely.


@lie(EGR, SAME, kind=ODD)
def built_to_another_standard_after(d):
    """PID 1C said 1 before and says 6 after: a vehicle keeps what it was built to."""
    edit(d.after, lambda s: with_bytes(s, "011C", b"\6"))


@left(EGR, SAME, typed=True, kind=CLEVER)
def order_is_of_another_model_year(d):
    """Written is 2015; the tenth sign of the VIN, C, says 2012 (49 CFR 565).

    It is left, and told as advice: the VIN written is the one read before and after,
    which is the mark. A year beside it is mistyped, or named as it was sold.
    """
    d.of("opening")[0]["vehicle"]["model_year"] = 2015


@lie(EGR, SAME, TIME, RERAN, way="screen", kind=CLEVER)
def odometer_stands_still_on_the_display(d):
    """60 km since the clear, and the odometer is that of before."""
    counts = d.before["typed"]["counts"]
    d.after["typed"]["counts"]["odometer"] = copy.deepcopy(counts["odometer"])


@lie(EGR, TIME, SAME, RERAN, typed=True, kind=CLEVER)
def drive_is_longer_than_the_vehicle_counts(d):
    """90 km are written after the clear; the vehicle went 60 since it."""
    road = d.of("road_test")[0]
    road |= {"at": at("13:00"), "end": at("13:00")}
    road["distance"]["value"] = "90"
    acknowledge_again(d)


@lie(EGR, TIME, HAZARDS, RERAN, typed=True, kind=LATE)
def driven_while_its_valve_is_out(d):
    """The drive, 10:02 to 10:28, lies within the repair, 10:00 to 10:30."""
    d.of("road_test")[0].update(
        {"at": at("10:28"), "start": at("10:02"), "end": at("10:28")}
    )
    in_time(d)


@lie(BLOCK, HAZARDS, kind=LATE)
def confirmed_again_after_the_work(d):
    """The second confirmation of each DANGER is of 17:00: it is due before the step."""
    confirmed_again(d, at("17:00"))


@lie(BLOCK, HAZARDS, kind=CLEVER)
def gloves_were_tested_a_year_ago(d):
    """400 days: gloves in use are tested every six months (IEC 60903, from memory)."""
    told_as(d, "time since gloves were tested", value="400")


# Honest ones.


REAR_WHEEL = {
    "name": "wheel speed sensor, rear right, open",
    "codes": ["C0050"],
    "module": "7EA",
    "part": ["wheel-sensor", "wheel speed sensor, rear right", "brakes"],
    "bench": ["winding", ">40000", "1.20", limited("kohm", "0.8", "2.5")],
    "status": True,
    "path": "code status",
}
REAR_HEATER = {
    "name": "heater of the rear sensor open",
    "codes": ["P0141"],
    "part": ["rear-sensor", "rear oxygen sensor", "oxygen-sensor"],
    "bench": ["winding", ">40000000", "7.4", limited("ohm", "4", "15")],
    "test": ["42", "81", "0E", 0, 1100, 500, 65535],
    "path": "monitor result",
}
VANES = {
    "name": "solenoid of the turbine's vanes open",
    "codes": ["P0045"],
    "diesel": True,
    "part": ["vane-solenoid", "solenoid of the turbine's vanes", "boost"],
    "bench": ["winding", ">40000", "14.6", limited("ohm", "12", "17")],
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
OIL_SENSOR = {
    "name": "oil pressure sensor low",
    "codes": ["P0522"],
    "part": ["oil-sensor", "oil pressure sensor", "lubrication"],
    "bench": ["direct-reading", "0.05", "0.51", limited("V", "0.40", "0.60")],
    "path": "watched and measured",
}
CHILLER = {
    "name": "pressure sensor of the air conditioning low",
    "codes": ["P0532"],
    "part": ["pressure-sensor", "refrigerant pressure sensor", "air-conditioning"],
    "bench": ["direct-reading", "0.02", "1.45", limited("V", "1.20", "1.70")],
    "path": "watched and measured",
}
FLUID = {
    "name": "fluid temperature sensor of the gearbox open",
    "codes": ["P0713"],
    "module": "7E9",
    "pointer": "P0700",
    "part": ["fluid-sensor", "fluid temperature sensor", "transmission"],
    "bench": ["winding", ">40000", "3.50", limited("kohm", "3.0", "4.0")],
    "status": True,
    "path": "code status",
}
MISFIRE_2 = {
    "name": "a plug first, then the coil of cylinder 2",
    "codes": ["P0302"],
    "part": ["coil-2", "ignition coil of cylinder 2", "ignition"],
    "bench": ["winding", ">40000", "10.8", limited("kohm", "5", "20")],
    "test": ["A3", "0B", "24", 38, 0, 0, 10],
    "first_attempt": ["plug-2", "spark plug of cylinder 2", "ignition"],
    "path": "monitor result",
}
AIR_FLOW = {
    "name": "air-flow sensor without signal, never cleared",
    "codes": ["P0102"],
    "part": ["air-flow-sensor", "air-flow sensor", "intake"],
    "bench": ["direct-reading", "0.02", "0.98", limited("V", "0.90", "1.10")],
    "clear": False,
    "days": 5,
    "path": "lamp went off",
}
EGR_COIL = {
    "name": "solenoid of the EGR valve done, a small leak declined",
    "codes": ["P0403"],
    "part": ["egr-solenoid", "solenoid of the EGR valve", "egr"],
    "bench": ["winding", ">40000", "18.2", limited("ohm", "15", "22")],
    "set_aside": ["P0456"],
    "path": "watched and measured",
}


@honest(REAR_WHEEL, "proven")
def wheel_sensor_by_the_status_of_its_code(d):
    """Completed and not failed since the clear, by the brakes' own module."""
    complaint(d, "The lamp of the brakes is on.")


@honest(REAR_HEATER, "proven")
def rear_heater_draws_again(d):
    """Its monitor ran again, inside its limits and those of before."""
    complaint(d, "The lamp came on at the inspection.")


@honest(VANES, "proven")
def vanes_are_driven_again(d):
    """A circuit code: two starts without it, and the new winding measured."""
    complaint(d, "No power on the motorway.")


@honest(GLOW, "vouched", way="screen")
def glow_plug_with_a_screen_alone(d):
    """With a screen alone each is vouched."""
    complaint(d, "It starts badly in the frost.")


@honest(OIL_SENSOR, "unproven", way="screen", waiting=True)
def oil_sensor_goes_home_unread(d):
    """Cut after the repair each is unproven, waiting; so with a screen."""
    complaint(d, "The oil lamp flickers.")
    d.events.remove(d.after)


@honest(CHILLER, "proven")
def sensor_of_the_refrigerant(d):
    """Two starts without it, and the new sensor measured by the same method."""
    complaint(d, "It does not cool.")


@honest(FLUID, "unproven", way="cut", waiting=True)
def gearbox_sensor_has_not_been_read_again(d):
    """Cut after the repair each is unproven, waiting."""
    complaint(d, "It shifts hard.")


@honest(MISFIRE_2, "proven")
def coil_was_it_and_not_the_plug(d):
    """The first attempt did not heal it, is told, and lowers nothing."""
    complaint(d, "It shakes at idle.")


@honest(AIR_FLOW, "proven")
def air_flow_heals_without_a_clear(d):
    """The lamp went off by itself: that it did is the evidence."""
    complaint(d, "It stumbles when it is cold.")


@honest(EGR_COIL, "vouched", way="screen")
def leak_is_declined_and_its_lamp_stays_on(d):
    """The lamp that stays on is explained by what was set aside."""
    complaint(d, "The lamp is on; do the cheap one.")
