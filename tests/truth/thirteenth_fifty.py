"""Forty bogus records and ten honest ones more, in the form of the tenth fifty.

The first run: 37 of 40 as expected, and 9 of 10. Three came out proven, none vouched
that should not. One of the three led to a rule that was mended; two are left as they
come out. A fourth had fallen by the place of a caution in its list, not by what it
tells: in the order of time it is left, too. The honest one was written wrongly: nobody
limits a supply to 10 kPa who measures a winding.
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
    with_bytes,
    with_codes,
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
    free_of_codes,
    in_time,
    programming,
    read_at,
    recalibrated,
    renamed,
    set_aside,
    told_as,
    told_in,
)
from truth.jobs import at, event
from truth.named_jobs import (
    AIR,
    BLOCK,
    CAP,
    CAT,
    CHARGE,
    COIL,
    DECLINED,
    EGR,
    HEALED,
    INJECTOR,
    NEWER,
    NO_VIN,
    PERM,
    PUMP,
    WIRE,
)
from truth.own_jobs import a_fifty, limited
from truth.said import ENGINE, code_bytes, word
from truth.vehicle_counts import (
    EGR_MET,
    EGR_RAN,
    EVAP_MET,
    EVAP_RAN,
    with_counts,
    with_rises,
)

HOSE, GASKET = "11: hose of the canister off", "9: exhaust leak before the rear sensor"
SOOT = "21: soot from a dripping injector, by status"
CANISTER = "32: two faults, one canister"
LIES, LEFT, HONEST, lie, left, honest = a_fifty()
READY = b"\x07\xe5\x00"
"""Which monitors there are, all complete: what follows lamp and count in PID 01."""


def also_replaced(d, part: str, name: str, system: str, **members) -> None:
    """Let one more part be suspected for the codes, and replaced, untested."""
    diagnosis = d.of("diagnosis")[0]
    told = {"id": part, "name": name, "system": system, "where": ["engine-bay"]}
    diagnosis["suspect_parts"].append({**told, "codes": diagnosis["codes"]})
    made = event(
        "repair",
        "10:50",
        part=part,
        action="replaced",
        started=at("10:35"),
        part_number="EX-9 (invented)",
        old_part="scrapped",
        **members,
    )
    d.put(made, after=d.of("repair")[0])
    acknowledge_again(d)


def reported(said, codes: list[str], *, lamp: bool) -> None:
    """Let the engine module report these codes, with a count that fits."""
    with_codes(said, "03", ENGINE, codes)
    with_bytes(said, "0101", bytes([len(codes) | 0x80 * lamp]) + READY)


def also_resulted(readout: dict, request: str, payload: str) -> None:
    """Let an answer of service 06 hold the result of one more test."""

    def change(said):
        found = answers(said, request)
        found[0] = (found[0][0], found[0][1] + bytes.fromhex(payload))

    edit(readout, change)


# The part, and what was measured on it.


@lie(HOSE, AT_FAULT, kind=CLEVER)
def canister_is_sold_with_its_hose(d):
    """Two causes are replaced and one was tested: each cause is asked for."""
    also_replaced(d, "canister", "canister", "evap")


@lie(GASKET, AT_FAULT, kind=CLEVER)
def catalyst_is_renewed_with_a_gasket(d):
    """What is suspected for the fault is a cause and no seal: it owes a test."""
    also_replaced(d, "catalyst", "catalyst", "catalyst", renewed_with="exhaust-gasket")


@lie(SOOT, KNOWN, EXPLAINS, AT_FAULT, ELSE, kind=CLEVER)
def soot_is_burnt_and_the_injector_stays(d):
    """A regeneration is a step, no part: the faulty injector was not worked on."""
    repair = d.of("repair")[0]
    repair |= {"part": "filter", "action": "regenerated", "step": "regeneration"}
    for name in ("part_number", "old_part"):
        del repair[name]
    acknowledge_again(d)


@lie(WIRE, PASSED, kind=CLEVER)
def wire_passes_by_a_wider_limit(d):
    """Good by the same limit is asked for; 1.70 V pass by one of 2.50 alone."""
    read_of(d.new_test, "voltage drop", value="1.70")
    d.new_test["limit"]["maximum"] = "2.50"


SHIFT = {
    "name": "shift solenoid A, 22.5 ohm",
    "codes": ["P0753"],
    "module": "7E9",
    "part": ["shift-solenoid", "shift solenoid A", "transmission"],
    "bench": ["winding", "22.5", "14.9", limited("ohm", "12", "18")],
    "status": True,
    "days": 2,
    "path": "code status",
}


@lie(SHIFT, AT_FAULT, kind=CLEVER)
def solenoid_is_measured_hot(d):
    """Copper of 14.9 ohm has 22.5 at 150 degC: it is good at 20."""
    told = d.old_test["conditions"]
    told["winding temperature"] = {"value": "150.0", "unit": "degC"}
    told["conductor"] = "copper"
    acknowledge_again(d)


@lie(CHARGE, AT_FAULT, kind=CLEVER)
def lead_drops_at_fifteen_times_its_current(d):
    """0.90 V at 150 A are 0.06 V at the rated 10 A: the lead is good."""
    read_of(d.old_test, "load current", value="150.0")


@lie(PUMP, AT_FAULT, kind=CLEVER)
def pressure_is_read_after_fifty_minutes(d):
    """The limit asks what is left after 300 s; nothing is said of that."""
    read_of(d.old_test, "hold time", value="3000")


@lie(EGR, AT_FAULT, typed=True, kind=LATE)
def gauge_was_checked_after_the_test(d):
    """A dated check bears out what is read after it: this reading is typed."""
    for one in d.old_test["instruments"]:
        one["specification"] |= {"calibrated_on": "2026-03-20", "due": "2027-03-20"}


@lie(AIR, AT_FAULT, kind=CLEVER)
def sensor_from_the_shelf_reads_the_same(d):
    """A known-good part that fails the limit: it is the meter or its leads."""
    d.old_test["known_good"] = {
        "part": "a new one from the shelf",
        "readings": [{"name": "resistance", "above": "40000", "unit": "kohm"}],
    }


@lie(INJECTOR, AT_FAULT, kind=CLEVER)
def another_injector_stands_out(d):
    """Cylinder 2 is weak, and the injector of cylinder 1 was replaced."""
    first, second = d.old_test["readings"][:2]
    first["which"], second["which"] = second["which"], first["which"]


@lie(AIR, EXPLAINS, kind=CLEVER)
def brake_switch_for_air_and_no_source(d):
    """Another system needs a reason and its source: only a reason is given."""
    d.of("diagnosis")[0]["suspect_parts"][0] |= {
        "system": "brakes",
        "name": "switch of the brake lamp",
        "why": "it is on the same loom",
    }
    acknowledge_again(d)


@left(COIL, AT_FAULT, typed=True, kind=CLEVER)
def ohms_of_a_coil_that_is_firing(d):
    """Resistance of a circuit under voltage is no reading of this method.

    It is left: a part that is unplugged can be measured while the engine runs, to keep
    it hot, and no record says whether it was plugged in.
    """
    d.old_test["setup"] = "running"
    acknowledge_again(d)


@lie(CAT, AT_FAULT, kind=CLEVER)
def joint_leaks_and_the_catalyst_is_sold(d):
    """What the row says to rule out first is faulty itself: nothing is ruled out."""
    read_of(bench_test_of(d, "exhaust-joint"), "end pressure", value="4.0")


@lie(CAP, EXPLAINS, AT_FAULT, ELSE, kind=LATE)
def diagnosis_names_the_part_when_it_is_done(d):
    """An amendment after the repair can take away, never give a suspect."""
    old = d.of("diagnosis")[0]
    new = copy.deepcopy(old)
    old["suspect_parts"][0] |= {"id": "filler-neck", "name": "filler neck"}
    corrected(d, old, new, at("08:30", 3))


# The vehicle, and what it said before and after.


@lie(AIR, KNOWN, typed=True, kind=CLEVER)
def code_is_made_in_the_yard(d):
    """A readout fifteen minutes before has no code, and the counts stood still."""
    first = copy.deepcopy(d.before)
    first["at"] = first["captured"] = at("07:55")

    def change(said):
        free_of_codes(said)
        with_bytes(said, "010C", word(750 * 4))

    edit(first, change)
    d.put(first, after=d.of("opening")[0])


@lie(EGR, GONE, RERAN, PASSED, kind=CLEVER)
def it_came_back_and_was_cleared_again(d):
    """Pending after the drive, cleared, and read again: no repair came between."""
    back = copy.deepcopy(d.after)
    back["at"] = back["captured"] = at("13:00")

    def change(said):
        with_codes(said, "07", ENGINE, ["P0401"])
        with_counts(said, warm_ups=1, distance=27, minutes=40, went=27)
        with_rises(said, 1, 2)

    edit(back, change)
    again = event("code_clear", "13:30", tool="adapter (invented)")
    d.put(back, after=d.of("road_test")[0])
    d.put(again, after=back)


@lie(EGR, GONE, RERAN, PASSED, SAME, TIME, kind=CLEVER)
def codes_were_cleared_a_minute_ago(d):
    """The vehicle counts one minute and no drive since a clear of the day before."""
    edit(d.after, lambda s: with_counts(s, warm_ups=0, distance=0, minutes=1))


@lie(EGR, GONE, RERAN, PASSED, SAME, TIME, kind=CLEVER)
def vehicle_knows_of_no_clear(d):
    """Its counts since the last clear went on through the one on record."""
    counts = {"warm_ups": 43, "distance": 2060, "minutes": 3090}
    edit(d.after, lambda s: with_counts(s, **counts))


@lie(EGR, RERAN, PASSED, SAME, TIME, kind=ODD)
def more_warm_ups_than_starts(d):
    """Thirty warm-ups since the clear in six starts: the counts do not fit."""
    edit(d.after, lambda s: with_counts(s, warm_ups=30))


@lie(EGR, RERAN, PASSED, SAME, TIME, kind=ODD)
def test_completed_more_often_than_it_was_started(d):
    """A ratio's numerator rises once a driving cycle: not by 40 in six starts."""
    edit(d.after, lambda s: with_rises(s, 2, 6, {EGR_RAN: 40, EGR_MET: 41}))


@lie(EGR, SAME, TIME, kind=LATE)
def programmed_after_it_was_read(d):
    """A programming explains marks that are read after it, not before."""
    edit(d.after, recalibrated)
    d.events.append({**programming("DEMO-ENG-0002"), "at": at("09:30", 1)})
    acknowledge_again(d)


@lie(EGR, SAME, typed=True, kind=CLEVER)
def order_is_of_a_diesel(d):
    """The order's vehicle ignites by compression; the one that was read by spark."""
    d.of("opening")[0]["vehicle"]["ignition"] = "compression"


@lie(NO_VIN, SAME, kind=CLEVER)
def picture_of_the_plate_is_one_of_a_valve(d):
    """Without a VIN to read, plate and VIN in a picture are asked for."""
    picture = d.of("attachment")[0]
    picture |= {
        "of": d.events.index(d.old_test),
        "shows": "the old valve on the bench (invented)",
    }


@lie(HEALED, RERAN, PASSED, kind=CLEVER)
def lamp_was_on_for_two_codes(d):
    """A lamp that went off speaks for a code that had lit it alone."""
    edit(d.before, lambda s: reported(s, ["P0340", "P0135"], lamp=True))
    edit(d.after, lambda s: reported(s, ["P0135"], lamp=False))
    d.of("diagnosis")[0]["set_aside"] = set_aside(["P0135"], "declined")


@lie(PERM, RERAN, PASSED, SAME, kind=CLEVER)
def calibration_is_not_asked_after_the_erasure(d):
    """A permanent code also goes with new software: calibrations are to be equal."""
    edit(d.after, lambda s: without(s, "0904", "0906"))


@lie(EGR, PASSED, ELSE, kind=CLEVER)
def second_test_of_the_valve_fails(d):
    """The same monitor holds another result, 100 of at least 350."""
    also_resulted(d.after, "0631", "318217" + "0064015EFFFF")


@lie(COIL, PASSED, kind=CLEVER)
def it_misfires_in_this_very_drive(d):
    """The averages are nought, and this cycle counts twenty: no pass by number."""
    also_resulted(d.after, "06A2", "A20C24" + "00140000FFFF")


@lie(AIR, PASSED, RERAN, GONE, kind=CLEVER)
def sensor_reads_minus_forty_still(d):
    """The live value in which its repair shows is at the end of its scale."""
    also_said(d.after, "010F", "410F00")


@lie(CANISTER, RERAN, PASSED, kind=CLEVER)
def one_of_two_tests_has_not_run(d):
    """Value and limits of the vent's test are nought; the leak's test passed."""
    nought = bytes.fromhex("82FD000000000000")
    edit(d.after, lambda s: with_bytes(s, "063A", nought))


@lie(NEWER, GONE, ELSE, kind=CLEVER)
def same_code_with_another_failure_type(d):
    """P0113-13 is failed and confirmed after the clear: of its row and place."""

    def change(said):
        found = answers(said, "1902FF")
        found[0] = (found[0][0], b"\x59\x02\xff" + code_bytes("P0113") + b"\x13\x09")

    edit(d.after, change)


@lie(EGR, GONE, ELSE, kind=CLEVER)
def too_little_flow_is_too_much_now(d):
    """A code of its own row that is new after the repair cannot be set aside."""
    edit(d.after, lambda s: reported(s, ["P0402"], lamp=True))
    d.events.append(
        event(
            "diagnosis",
            "08:20",
            1,
            codes=["P0402"],
            suspect_parts=[],
            reasoning="it will settle",
            set_aside=set_aside(["P0402"], "watched"),
        )
    )


@lie(DECLINED, ELSE, typed=True, kind=CLEVER)
def made_by_a_test_before_any_test(d):
    """The code stands in the first readout: no test of this visit made it."""
    d.of("diagnosis")[0]["set_aside"][0]["reason"] = "made-by-a-test"


@lie(DECLINED, ELSE, EXPLAINS, AT_FAULT, kind=CLEVER)
def worked_on_for_what_is_set_aside(d):
    """The valve is sold for P0420 too, which is set aside."""
    codes = ["P0401", "P0420"]
    d.of("diagnosis")[0]["suspect_parts"][0]["codes"] = codes
    d.of("repair")[0]["codes"] = codes


@lie(EGR, GONE, way="screen", kind=CLEVER)
def display_shows_no_stored_codes_at_all(d):
    """What a display does not show is no *none*."""
    module = d.after["typed"]["modules"][0]
    module["not_shown"] = ["stored", "count"]
    del module["stored"], module["count"]


# When it happened, and how safely.


@lie(EGR, TIME, RERAN, typed=True, kind=CLEVER)
def twenty_seven_kilometres_in_three_minutes(d):
    """540 km/h: what was typed of the drive cannot be."""
    d.of("road_test")[0]["start"] = at("12:27")
    acknowledge_again(d)


@left(AIR, PASSED, TIME, typed=True, kind=LATE)
def measured_with_its_engine_off_on_the_road(d):
    """By the same record the vehicle is driven at 12:15.

    It is left: a drive may have a stop, at which what fails hot is measured. Written
    after the drive, as at first, it fell by its caution, which stood there as well.
    """
    d.new_test["at"] = at("12:15")
    in_time(d)


@lie(EGR, HAZARDS, kind=CLEVER)
def exhaust_of_a_hundred_and_sixty_fahrenheit(d):
    """71 degC are beyond what skin bears, and no glove is named."""
    for one in told_as(d, "surface temperature", value="160", unit="degF"):
        one.pop("gloves", None)


@lie(CAT, HAZARDS, kind=CLEVER)
def heavier_than_the_lift_bears(d):
    """8,000 lb are 3,629 kg, on a lift for 3,500: the precondition is not met."""
    d.of("diagnosis")[0]["suspect_parts"][0]["where"] = ["below"]
    acknowledge_again(d)
    told_as(d, "vehicle mass", value="8000", unit="lb")


@lie(BLOCK, HAZARDS, kind=CLEVER)
def waited_half_as_long_as_the_maker_asks(d):
    """15 minutes of 30."""
    told_as(d, "wait named by the maker", value="30", unit="min")


@left(EGR, HAZARDS, kind=CLEVER)
def driver_watches_the_display(d):
    """The caution asks that somebody else does, or nobody.

    It is left: the sentence is a person's word and stands there to be read. No list of
    words tells it from that of a driver who reads when the vehicle stands.
    """
    for one in told_in(d, "who watches"):
        one["who watches"] = "the driver reads the display at 80 km/h"


# Honest ones.

COOLANT = {
    "name": "coolant sensor open, never cleared, in a country of EOBD",
    "codes": ["P0118"],
    "part": ["coolant-sensor", "coolant temperature sensor", "cooling"],
    "bench": ["winding", ">40000", "2.40", limited("kohm", "2.0", "3.0")],
    "eobd": True,
    "clear": False,
    "days": 5,
    "path": "lamp went off",
}
PHASER = {
    "name": "oil control valve of the intake camshaft",
    "codes": ["P0011"],
    "part": ["oil-valve", "oil control valve of the intake camshaft", "valve-timing"],
    "bench": ["winding", "24.0", "7.4", limited("ohm", "6.9", "7.9")],
    "test": ["35", "81", "9C", 900, 150, -500, 500],
    "days": 2,
    "path": "monitor result",
}
AIR_PUMP = {
    "name": "secondary air pump seized",
    "codes": ["P0411"],
    "part": ["air-pump", "secondary air pump", "secondary-air"],
    "bench": ["direct-reading", "1.20", "22.00", limited("A", "15.00", "30.00")],
    "test": ["71", "81", "20", 2000, 9000, 5000, 65535],
    "days": 2,
    "path": "monitor result",
}
NOX = {
    "name": "heater of the NOx sensor open",
    "codes": ["P2200"],
    "part": ["nox-sensor", "NOx sensor", "nox"],
    "diesel": True,
    "bench": ["winding", ">40000", "3.20", limited("ohm", "2", "6")],
    "status": True,
    "days": 2,
    "path": "code status",
}
PURGE_COIL = {
    "name": "winding of the purge valve open",
    "codes": ["P0443"],
    "part": ["purge-valve", "purge valve", "evap"],
    "bench": ["winding", ">40000", "26.0", limited("ohm", "20", "30")],
    "path": "watched and measured",
}
FAN = {
    "name": "fan motor dead",
    "codes": ["P0480"],
    "part": ["fan", "motor of the cooling fan", "cooling"],
    "bench": ["direct-reading", "0.10", "9.80", limited("A", "6.00", "14.00")],
    "path": "watched and measured",
}
MISFIRE_4 = {
    "name": "a plug first, then the injector of cylinder 4",
    "codes": ["P0304"],
    "part": ["injector-4", "injector of cylinder 4", "fuel"],
    "bench": ["balance", "188", "301", limited("%", "85", of="lowest to highest")],
    "test": ["A5", "0B", "24", 45, 0, 0, 10],
    "first_attempt": ["plug-4", "spark plug of cylinder 4", "ignition"],
    "path": "monitor result",
}
INVERTER = {
    "name": "coolant pump of the inverter weak",
    "codes": ["P0A93"],
    "part": ["inverter-pump", "coolant pump of the inverter", "hybrid"],
    "bench": ["direct-reading", "0.20", "3.40", limited("A", "2.50", "4.50")],
    "days": 2,
    "path": "watched and measured",
}
SMALL_LEAK = {
    "name": "hose of the purge valve, read on the same day",
    "codes": ["P0456"],
    "part": ["purge-hose", "hose of the purge valve", "evap"],
    "bench": ["seal-hold", "11.0", "17.9", limited("inHg", "15.0")],
    "test": ["3C", "81", "FD", 640, 90, 0, 400],
    "path": "monitor result",
}
COLD = {
    "name": "thermostat done, fuel level sender declined",
    "codes": ["P0128"],
    "part": ["thermostat", "thermostat", "cooling"],
    "bench": ["direct-reading", "61", "88", limited("degC", "80")],
    "set_aside": ["P0463"],
    "permanent": True,
    "days": 3,
    "path": "permanent code erased",
}


@honest(COOLANT, "proven")
def coolant_sensor_heals_without_a_clear(d):
    """The lamp went off by itself: that it did is the evidence."""
    complaint(d, "The fan runs as soon as I start it.")


@honest(PHASER, "proven")
def camshaft_follows_again(d):
    """Its monitor ran again, inside its limits and those of before."""
    complaint(d, "It rattles and the lamp is on.")


@honest(AIR_PUMP, "proven")
def air_pump_runs_again(d):
    """Its monitor ran again at a cold start, inside its limits."""
    complaint(d, "It howled for a week, then the lamp came on.")


@honest(NOX, "proven")
def nox_sensor_by_the_status_of_its_code(d):
    """The module lists its code as completed and not failed since the clear."""
    complaint(d, "It counts down to no start.")


@honest(PURGE_COIL, "vouched", way="screen")
def purge_valve_with_a_screen_alone(d):
    """With a screen alone each is vouched.

    A test without a method calls for the caution of a part under pressure: there is no
    supply here, and who acknowledges it says so.
    """
    told_as(d, "supply limit", value="0")


@honest(FAN, "unproven", way="screen", waiting=True)
def fan_goes_home_before_it_is_read(d):
    """Cut after the repair each is unproven, waiting; so with a screen."""
    d.events.remove(d.after)


@honest(MISFIRE_4, "proven")
def injector_was_it_and_not_the_plug(d):
    """The first attempt did not heal it, is told, and lowers nothing."""
    renamed(d, "worn plug", "plug worn, gap measured")


@honest(INVERTER, "proven")
def pump_of_an_inverter(d):
    """Watched over three cycles, and the new pump measured by the same method."""
    complaint(d, "It has no power uphill.")


@honest(SMALL_LEAK, "unproven", waiting=True)
def small_leak_has_not_been_looked_for_yet(d):
    """Its test needs a night: value and limits are nought, the rest is shown."""
    read_at(d, "13:10", ("12:00", "12:40"), warm_ups=1, distance=31, minutes=44)

    def change(said):
        with_rises(said, 1, 2, {EVAP_RAN: 0, EVAP_MET: 0})
        with_bytes(said, "063C", bytes.fromhex("81FD000000000000"))
        with_bytes(said, "0101", b"\0\x07\xe5\x04")

    edit(d.after, change)


@honest(COLD, "proven")
def thermostat_is_done_and_the_sender_declined(d):
    """The lamp that stays on is explained by what was set aside."""
    complaint(d, "The heater stays cold; the fuel gauge has long been wrong.")
