"""Forty bogus records and ten honest ones more, in the form of the tenth fifty.

Most lies begin with a repair that a shop would like to sell falsely: a vehicle, what
its customer complains of, a code; then one datum is changed, left out, borrowed or
taken at another time. Where no job of ``honest.toml`` brings what the lie needs, the
honest record is told first (functions named ``with_...`` or ``by_...``), and it comes
out proven, or vouched where its test is of a kind that is typed. The section that is
named is that of the contract from which the expectation follows.

Before the first run each of these honest records was judged. All came out but one: a
purge valve whose vehicle, by its own map, has no results of that monitor.

The first run: of 40 lies 30 fell as expected, 5 came out proven (one of the wheel, of
the glow plug, of the baths, of the speedometer, of the drive), 3 vouched (the old code
on a screen, the coil put back, the vehicle without a mark) and 2 fell by another
question (the newer vehicle, the chain). Of 10 honest jobs 9 came out as expected; the
one with the permanent code that is declined did not.

Seven of these lies, and both honest records, were holes of the rules, which are mended.
Two lies are left, and the expectation of the chain was wrong: each says why.
"""

from truth.bench_changes import counted_times, read_of, swapped, told_anew
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
    LATE,
    ODD,
    acknowledge_again,
    also_said,
    answered,
    complaint,
    corrected,
    in_time,
    programming,
    recalibrated,
    renamed,
    set_aside,
    status_is,
    told_as,
)
from truth.jobs import SOURCE, THERMOMETER, at, event
from truth.named_jobs import (
    AIR,
    BLOCK,
    CHARGE,
    COIL,
    EGR,
    GEARBOX,
    NEWER,
    NO_VIN,
    PERM,
    THERMO,
)
from truth.own_jobs import a_fifty, limited
from truth.said import ENGINE, code_bytes, word
from truth.vehicle_counts import with_counts, with_rises

LIES, LEFT, HONEST, lie, left, honest = a_fifty()
AIR_FLOW, CHAIN = "26: air-flow sensor reads low", "28: timing chain stretched"
OLD_BUS = "36: before CAN: no VIN, no monitor ids"
SOOT = "21: soot from a dripping injector, by status"
ONE_HOSE = "-: two faults with one repair"
GEARBOX_MODULE, BRAKES = "7E9", "7EA"
ENGINE_BYTE, GEARBOX_BYTE = 0x10, 0x18
"""Who answers on the buses before CAN (ISO 9141-2), as its third header byte."""

COOLANT = {
    "name": "coolant sensor open",
    "codes": ["P0118"],
    "part": ["coolant-sensor", "coolant temperature sensor", "cooling"],
    "bench": ["winding", ">40000", "2.30", limited("kohm", "2.0", "2.8")],
    "permanent": True,
    "frame": {"rpm": 1800, "load": 40, "coolant": -40, "speed": 60},
    "days": 2,
    "path": "watched and measured",
}
WHEEL = {
    "name": "wheel speed sensor, rear left, open",
    "codes": ["C0045"],
    "module": BRAKES,
    "part": ["wheel-sensor", "wheel speed sensor, rear left", "brakes"],
    "bench": ["winding", ">40000", "1.25", limited("kohm", "0.8", "2.5")],
    "status": True,
    "path": "code status",
}
CAM_2 = {
    "name": "solenoid of the second bank's camshaft open",
    "codes": ["P0020"],
    "part": ["cam-solenoid-2", "camshaft solenoid, bank 2", "valve-timing"],
    "bench": ["winding", ">40000", "7.4", limited("ohm", "6", "9")],
    "path": "watched and measured",
}
GLOW_2 = {
    "name": "glow plug of cylinder 2 dead",
    "codes": ["P0672"],
    "diesel": True,
    "part": ["glow-plug-2", "glow plug of cylinder 2", "ignition"],
    "bench": ["direct-reading", "0.10", "12.40", limited("A", "8.00", "20.00")],
    "path": "watched and measured",
}
SMALL_LEAK = {
    "name": "canister leaks a little",
    "codes": ["P0456"],
    "part": ["canister", "canister", "evap"],
    "bench": ["seal-hold", "3.0", "17.9", limited("inHg", "15.0")],
    "test": ["3C", "81", "FD", 500, 120, 0, 250],
    "days": 3,
    "path": "monitor result",
}
DRIFT = {
    "name": "coolant sensor off its curve",
    "codes": ["P0116"],
    "part": ["coolant-sensor", "coolant temperature sensor", "cooling"],
    "bench": ["winding", "4.90", "2.44", limited("kohm", "2.20", "2.70")],
    "days": 3,
    "path": "watched and measured",
}
COIL_3 = {
    "name": "ignition coil of cylinder 3 weak",
    "codes": ["P0303"],
    "part": ["coil-3", "ignition coil of cylinder 3", "ignition"],
    "bench": ["winding", ">40000", "11.0", limited("kohm", "5", "20")],
    "test": ["A4", "0B", "24", 44, 0, 0, 10],
    "path": "monitor result",
}
CAM_WIRE = {
    "name": "wire of the exhaust cam sensor chafed",
    "codes": ["P0365"],
    "part": ["cam-wire", "signal wire of the exhaust camshaft sensor", "wiring"],
    "action": "repaired",
    "bench": ["voltage-drop", "1.90", "0.04", limited("V", "", "0.20")],
    "days": 2,
    "path": "watched and measured",
}
CATALYST_2 = {
    "name": "catalyst of bank 2 worn",
    "codes": ["P0430"],
    "part": ["catalyst-2", "catalyst of bank 2", "catalyst"],
    "ruled_out": [
        ["exhaust-joint", "exhaust joint of bank 2", "exhaust"],
        ["rear-sensor", "rear oxygen sensor of bank 2", "oxygen-sensor"],
    ],
    "test": ["22", "81", "20", 29000, 11000, 0, 21000],
    "days": 2,
    "path": "monitor result",
}
OIL_PUMP = {
    "name": "oil pump worn",
    "codes": ["P0524"],
    "part": ["oil-pump", "oil pump", "lubrication"],
    "bench": ["direct-reading", "0.9", "3.3", limited("mm", "2.5")],
    "days": 3,
    "path": "watched and measured",
}
DRAIN = {
    "name": "relay of the interior light sticks",
    "codes": ["P0562"],
    "part": ["light-relay", "relay of the interior light", "electrical"],
    "bench": ["direct-reading", "0.41", "0.02", limited("A", "", "0.05")],
    "days": 2,
    "path": "watched and measured",
}
MISFIRE_4 = {
    "name": "ignition coil of cylinder 4 open, counts have no limit",
    "codes": ["P0304"],
    "part": ["coil-4", "ignition coil of cylinder 4", "ignition"],
    "bench": ["winding", ">40000", "10.9", limited("kohm", "5", "20")],
    "test": ["A5", "0C", "24", 38, 0, 0, 65535],
    "path": "monitor result",
}
LEAN_IDLE = {
    "name": "hose leaks, lean at idle only",
    "codes": ["P2187"],
    "part": ["booster-hose", "hose of the brake booster", "vacuum"],
    "bench": ["seal-hold", "4.0", "17.6", limited("inHg", "15.0")],
    "frame": {"rpm": 760, "load": 22, "coolant": 92, "speed": 0},
    "live": {"rpm": 750, "load": 22, "coolant": 91, "speed": 0},
    "days": 3,
    "path": "watched and measured",
}
SPEED = {
    "name": "speed sensor open",
    "codes": ["P0500"],
    "part": ["speed-sensor", "vehicle speed sensor", "transmission"],
    "bench": ["winding", ">40000", "1.20", limited("kohm", "0.8", "2.5")],
    "frame": {"rpm": 2200, "load": 35, "coolant": 91, "speed": 0},
    "live": {"rpm": 2200, "load": 36, "coolant": 91, "speed": 62},
    "days": 2,
    "path": "watched and measured",
}
PURGE_OPEN = {
    "name": "purge valve stands open, no results of its monitor",
    "codes": ["P0496"],
    "part": ["purge-valve", "purge valve", "evap"],
    "bench": ["seal-hold", "9.0", "17.9", limited("inHg", "17.0")],
    "days": 3,
    "path": "watched and measured",
}
OIL_HEAT = {
    "name": "oil temperature sensor open",
    "codes": ["P0198"],
    "part": ["oil-sensor", "oil temperature sensor", "lubrication"],
    "bench": ["winding", ">40000", "2.10", limited("kohm", "1.8", "2.4")],
    "path": "watched and measured",
}
STARTER = {
    "name": "starter relay burnt",
    "codes": ["P0615"],
    "part": ["starter-relay", "starter relay", "charging"],
    "bench": ["voltage-drop", "1.90", "0.04", limited("V", "", "0.20")],
    "frame": {"rpm": 0, "load": 0, "coolant": 25, "speed": 0},
    "days": 2,
    "path": "watched and measured",
}
CHILLER = {
    "name": "pressure sensor of the air conditioning high",
    "codes": ["P0533"],
    "part": ["pressure-sensor", "refrigerant pressure sensor", "air-conditioning"],
    "bench": ["direct-reading", "4.98", "1.45", limited("V", "1.20", "1.70")],
    "path": "watched and measured",
}


# Instruments and tests that no job brings.


def gauge(name: str, unit: str, high: str, step: str, low: str = "0") -> dict:
    told = {"unit": unit, "low": low, "high": high, "resolution": step}
    told |= {"percent_of_reading": "0.5", "certificate": "INV-2026-044"}
    told |= {"calibrated_on": "2026-01-12", "due": "2027-01-12"}
    return {"id": name, "specification": told}


def amount(value: str, unit: str) -> dict:
    return {"value": value, "unit": unit}


def read(name: str, *values: str, unit: str) -> list[dict]:
    return [{"name": name, **amount(value, unit)} for value in values]


def by_flow(d, blank: str = "2") -> None:
    """The flow that keeps the pressure, with what the closed tester itself lets by."""
    told_anew(
        d.old_test,
        method="flow-at-pressure",
        test="flow that keeps 3.0 kPa in the canister",
        readings=[
            *read("flow", "120", unit="cm3/min"),
            *read("blank flow", blank, unit="cm3/min"),
            *read("inlet pressure", "3.00", unit="kPa (gauge)"),
        ],
        conditions={
            "gas": "nitrogen",
            "gas temperature": amount("20.0", "degC"),
            "standard temperature": amount("20.0", "degC"),
            "barometer": amount("98.2", "kPa"),
            "pressure reference": "gauge",
        },
        instruments=[
            gauge("flow-meter-1", "cm3/min", "500", "1"),
            {
                **gauge("gauge-4", "kPa (gauge)", "10", "0.01"),
                "measures": ["inlet pressure"],
            },
            {
                **gauge("barometer-1", "kPa", "110", "0.1", low="80"),
                "measures": ["barometer"],
            },
            THERMOMETER,
        ],
        limit=limited("cm3/min", "", "60", of="flow", source=SOURCE),
    )
    acknowledge_again(d)


def in_two_baths(test, *resistances: str, baths=("20.0", "80.0"), **more) -> None:
    """A sensor in two baths, held against the maker's curve.

    R = 2.0 kohm * exp(3500 K * (1 / T - 1 / 298.15 K)): 2.443 at 20 degC, 0.321 at 80.
    """
    told_anew(
        test,
        method="temperature-sensor",
        test="in two baths, against the maker's curve",
        readings=[
            *read("sensor resistance", *resistances, unit="kohm"),
            *read("bath temperature", *baths, unit=more.get("unit", "degC")),
        ],
        conditions={
            "curve": "beta",
            "resistance at 25 celsius": amount("2.0", "kohm"),
            "beta": amount("3500", "K"),
        },
        instruments=[
            gauge("meter-3", "kohm", "40", "0.001"),
            more.get("thermometer", THERMOMETER),
        ],
        limit=limited("K", "-2", "2", of="temperature error", source=SOURCE),
    )


def by_curve(d, **more) -> None:
    """The old sensor is read far off its curve, the new one on it."""
    in_two_baths(d.old_test, "4.900", "0.700", **more)
    in_two_baths(d.new_test, "2.443", "0.321", **more)
    acknowledge_again(d)


def by_wiggling(d) -> None:
    """It drops out 6 of 10 times when the wire is moved, and no more once mended."""
    for test, seen, tries in ((d.old_test, "6", "10"), (d.new_test, "0", "10")):
        told_anew(
            test,
            method="intermittent",
            test="signal watched while the wire is moved",
            readings=counted_times(
                seen_with_stimulus=seen,
                tries_with_stimulus=tries,
                seen_without_stimulus="0",
                tries_without_stimulus="10",
            ),
            conditions={"stimulus": "wiggle"},
            instruments=[],
        )
    d.new_test["conditions"] |= {
        "stimulus before repair": "wiggle",
        "seen before repair": amount("6", "times"),
        "tries before repair": amount("10", "times"),
    }
    acknowledge_again(d)


def by_exchange(d, *, seen_after_swap_back: str) -> None:
    """Coils of two cylinders change places, and are put back."""
    swapped(d, at_new_place="3", at_old_place="0")
    d.old_test["readings"] += counted_times(
        seen_after_swap_back=seen_after_swap_back, tries_after_swap_back="3"
    )
    acknowledge_again(d)


def by_pressure(d, *, speed: str = "2000") -> None:
    """Oil pressure, with the engine speed for which the maker states it."""
    for test, value, rpm in ((d.old_test, "95", speed), (d.new_test, "340", "2000")):
        told_anew(
            test,
            setup="running",
            method="direct-reading",
            test="oil pressure, engine warm",
            readings=read("pressure", value, unit="kPa (gauge)"),
            conditions={
                "engine speed": amount(rpm, "rpm"),
                "least engine speed": amount("1900", "rpm"),
                "greatest engine speed": amount("2100", "rpm"),
                "pressure reference": "gauge",
            },
            instruments=[
                gauge("gauge-5", "kPa (gauge)", "1000", "1"),
                gauge("tachometer-1", "rpm", "8000", "10"),
            ],
            limit=limited("kPa (gauge)", "250", source=SOURCE),
        )
    acknowledge_again(d)


def by_drain(d, *, waited: str = "45") -> None:
    """What the sleeping vehicle draws: with the old relay, and with the new one."""
    for test, value, since in (
        (d.old_test, "0.41", waited),
        (d.new_test, "0.02", "45"),
    ):
        told_anew(
            test,
            setup="engine-off",
            method="stored-energy",
            test="current of the sleeping vehicle",
            readings=read("current", value, unit="A"),
            conditions={
                "time since shutdown": amount(since, "min"),
                "time until asleep": amount("30", "min"),
            },
            instruments=[
                gauge("clamp-2", "A", "10", "0.01"),
                gauge("watch-2", "min", "600", "1"),
            ],
            limit=limited("A", "", "0.05", of="mean current", source=SOURCE),
        )
    acknowledge_again(d)


def by_opening(d, *, event: str = "opens", approach: str = "rising") -> None:
    """The temperature at which a thermostat opens in a stirred bath, three times."""
    old, new = ("58.0", "58.5", "58.2"), ("87.5", "88.0", "88.1")
    for test, values, told in (
        (d.old_test, old, ("opens", "rising")),
        (d.new_test, new, (event, approach)),
    ):
        told_anew(
            test,
            method="switching-point",
            test="in a stirred bath",
            readings=read("temperature", *values, unit="degC"),
            conditions={"event": told[0], "approach": told[1]},
            instruments=[THERMOMETER],
            limit=limited("degC", "80", of="temperature", source=SOURCE),
        )
    acknowledge_again(d)


def by_load(d, *, load: str = "60.0") -> None:
    """The spread of the blocks under the load for which the maker limits it."""
    for test, amperes in ((d.old_test, "60.0"), (d.new_test, load)):
        test["conditions"] = {
            "load current": amount(amperes, "A"),
            "least load current": amount("50", "A"),
            "greatest load current": amount("80", "A"),
        }
        test["instruments"].append(gauge("clamp-3", "A", "200", "0.1"))


# What a vehicle says that no job brings.


def with_map(d, *, fourth: int = 0x00) -> None:
    """The vehicle lists which monitors have results; ``fourth`` is of 39 to 40."""
    told_as(d, "supply limit", value="3.7")
    for readout in d.of("readout"):
        also_said(readout, "0600", "4600C0000001")
        also_said(readout, "0620", f"4620800080{fourth:02X}")


def with_oil_heat(d, *, after: int) -> None:
    """PID 5C; before the repair it stands at the end of its scale, -40 degC."""
    also_said(d.before, "015C", "415C00")
    also_said(d.after, "015C", f"415C{after + 40:02X}")


def with_witness(d, who: str, code: str) -> None:
    """Another module holds a code too, and no longer after the repair."""
    for readout, codes in ((d.before, [code]), (d.after, [])):
        edit(readout, lambda s, c=codes: with_codes(s, "03", who, c))
        edit(readout, lambda s: with_codes(s, "07", who, []))


def with_brakes_complaining(d) -> None:
    """The brakes' module says that the engine's data are not plausible (U0401)."""
    with_witness(d, BRAKES, "U0401")
    diagnosis = d.of("diagnosis")[0]
    diagnosis["codes"].append("U0401")
    diagnosis["suspect_parts"][0]["codes"] = ["P0101", "U0401"]


def with_gearbox_calibration(d, *, after: str = "DEMO-GBX-0001") -> None:
    """The gearbox module tells its calibration, before and after."""
    for readout, name in ((d.before, "DEMO-GBX-0001"), (d.after, after)):
        told = b"\x49\x04\x01" + name.encode().ljust(16, b"\0")
        edit(readout, lambda s, t=told: answers(s, "0904").append((GEARBOX_MODULE, t)))


def with_programming(d, when: str = "10:50") -> None:
    """The engine's module is programmed anew, and says so afterwards."""
    made = {**programming("DEMO-ENG-0002", step="adaptation"), "at": at(when)}
    told = {"id": "control-module", "name": "engine module", "codes": []}
    diagnosis = d.of("diagnosis")[0]
    diagnosis["suspect_parts"].append({**told, "system": "control-module"})
    edit(d.after, recalibrated)
    before = [one for one in d.events if one["at"] <= made["at"]]
    d.put(made, after=before[-1])
    acknowledge_again(d)


def with_regeneration(d) -> None:
    """The soot is burnt once its cause is mended."""
    made = event("repair", "11:00", part="filter", action="regenerated")
    made |= {"step": "regeneration", "note": "standing, with the tool"}
    d.put(made, after=d.of("repair")[0])
    acknowledge_again(d)


def over_old_bus(payload: str, who: int = ENGINE_BYTE) -> str:
    whole = bytes([0x48, 0x6B, who]) + bytes.fromhex(payload)
    return (whole + bytes([sum(whole) & 0xFF])).hex(" ").upper()


# The fault, the part, and what was measured on it.


@lie(COOLANT, KNOWN, kind=CLEVER, way="screen")
def old_code_of_the_sensor_is_sold_once_more(d):
    """Van of 2012 for its inspection, no complaint; P0118 is left from another winter.

    The display shows it as stored, none pending, the lamp off: history alone (2).
    """
    engine = d.before["typed"]["modules"][0]
    engine |= {"pending": [], "lamp": False}


@lie(NEWER, KNOWN, kind=CLEVER)
def newer_vehicle_has_it_pending_only(d):
    """Newer car, no complaint; P0113 once failed, is pending and not confirmed.

    Pending alone, and its test does not fail now (2, fault-known): status 24.
    """
    edit(d.before, lambda s: status_is(s, "P0113", 0x24))


@lie(WHEEL, KNOWN, kind=CLEVER)
def wheel_sensor_failed_last_winter(d):
    """Estate, the lamp of the brakes was on in the snow; C0045.

    It is confirmed, neither failing nor pending: history alone (2): status 28.
    """
    edit(d.before, lambda s: status_is(s, "C0045", 0x28))


@lie(CAM_2, EXPLAINS, AT_FAULT, typed=True, kind=CLEVER)
def solenoid_in_reach_for_the_one_at_the_bulkhead(d):
    """Six cylinders, a rattle; P0020 is of bank 2, and bank 1 is the easy one.

    Another part (8) than that of the code's place (1).
    """
    renamed(d, "cam-solenoid-2", "cam-solenoid-1")
    renamed(d, "camshaft solenoid, bank 2", "camshaft solenoid, bank 1")


@lie(GLOW_2, AT_FAULT, kind=CLEVER)
def glow_plug_of_the_next_cylinder_was_read(d):
    """Diesel, starts badly; P0672. The reading says that it is of cylinder 3.

    No bench test of that part (2, part-at-fault; 1, place).
    """
    d.old_test["readings"][0]["which"] = "cylinder 3"


@lie(SMALL_LEAK, AT_FAULT, kind=CLEVER)
def tester_leaks_as_much_as_the_canister(d):
    """Saloon, lamp before its inspection; P0456, and a canister is dear.

    118 of 120 cm3/min flow with the tester closed off: not faulty (2).
    """
    by_flow(d, blank="118")


@lie(DRIFT, AT_FAULT, kind=CLEVER)
def both_baths_are_the_hot_one(d):
    """Hatchback, its gauge rises slowly; P0116. A curve needs two temperatures.

    Not faulty beyond its uncertainty by that method (2, part-at-fault; 3).
    """
    by_curve(d)
    in_two_baths(d.old_test, "0.700", "0.700", baths=("80.0", "80.0"))


@lie(COIL_3, AT_FAULT, kind=CLEVER)
def misfire_is_gone_when_the_coil_is_put_back(d):
    """It shakes at the lights; P0303. Put back, the coil fires at its old place.

    Good and faulty under equal conditions (2): it was the plug in the connector.
    """
    by_exchange(d, seen_after_swap_back="0")


@lie(CAM_WIRE, AT_FAULT, kind=CLEVER)
def drops_out_as_often_when_nobody_moves_the_wire(d):
    """Stalls now and then; P0365. 6 of 10 when the wire is moved, 6 of 10 without.

    Good and faulty are not told apart by that stimulus (2, k of n under a stimulus).
    """
    by_wiggling(d)
    read_of(d.old_test, "seen without stimulus", value="6")


@lie(CATALYST_2, AT_FAULT, kind=CLEVER)
def failing_number_of_the_catalyst_was_never_read(d):
    """Six cylinders, lamp; P0430. Monitor 22 was not asked before the repair.

    Nobody publishes a bench limit: the vehicle's own failing number before (2).
    """
    edit(d.before, lambda s: without(s, "0622"))


@lie(OIL_PUMP, AT_FAULT, kind=CLEVER)
def oil_pressure_of_an_idling_engine(d):
    """Pickup, its oil lamp flickers; P0524, and a pump takes four hours.

    95 kPa at 700 rpm against the limit for 2,000: not faulty by that limit (2).
    """
    by_pressure(d, speed="700")


@lie(DRAIN, AT_FAULT, kind=CLEVER)
def drain_is_read_before_the_vehicle_sleeps(d):
    """Flat battery each Monday; P0562. Read 5 minutes after the key was drawn.

    It sleeps after 30: not faulty by that method (2, part-at-fault; 3).
    """
    by_drain(d, waited="5")


# The test ran again, and passed.


@lie(MISFIRE_4, PASSED, kind=CLEVER)
def two_misfires_are_within_no_limit(d):
    """It shakes when cold; P0304. 38 before, 2 after, and the counter has no limit.

    Such a counter passes by 0 over a completed cycle alone (4).
    """
    edit(d.after, lambda s: with_test(s, 0, lambda p: p[:4] + word(2) + p[6:]))


@lie(LEAN_IDLE, RERAN, PASSED, kind=CLEVER)
def lean_at_idle_and_watched_at_sixty(d):
    """Hisses and hunts at the lights; P2187. Watched where it never was lean.

    No readout in the conditions of its freeze frame, 760 rpm at a standstill (4).
    """

    def driven(said):
        with_bytes(said, "0104", bytes([107]))
        with_bytes(said, "010C", word(1840 * 4))
        with_bytes(said, "010D", bytes([62]))

    edit(d.after, driven)


@lie(SPEED, PASSED, RERAN, kind=CLEVER)
def speedometer_stands_still_on_the_drive(d):
    """The needle is dead; P0500. 2,200 rpm, the odometer goes on, and 0 km/h.

    The live value in which the row shows a repaired state is as it was (4).
    """
    edit(d.after, lambda s: with_bytes(s, "010D", bytes([0])))


@lie(COOLANT, PASSED, kind=CLEVER)
def erased_permanent_code_stands_for_the_new_sensor(d):
    """The fan never stops; P0118. Nobody measured what was fitted.

    Permanent and erased shows of a circuit that its test ran, no more (4).
    """
    d.events.remove(d.new_test)


@lie(PURGE_OPEN, RERAN, PASSED, kind=CLEVER)
def readiness_of_the_tank_is_left_open(d):
    """Starts badly after filling up; P0496. No results, and the monitor has not run.

    Watched goes for M only where readiness is complete (4).
    """
    with_map(d)
    edit(d.after, lambda s: with_bytes(s, "0101", bytes.fromhex("0007E504")))


@lie(PURGE_OPEN, RERAN, PASSED, kind=CLEVER)
def purge_monitor_has_results_that_nobody_asked_for(d):
    """The same car; its map says that there is a result of monitor 3D.

    Watched goes for M only where the vehicle's own map lacks the ids (4).
    """
    with_map(d, fourth=0x08)


@lie(CAM_WIRE, PASSED, kind=CLEVER)
def mended_wire_is_tapped_and_not_moved(d):
    """Stalls now and then; P0365. What failed when moved is good when tapped.

    Not the same method and conditions on what is fitted now (4, measured).
    """
    by_wiggling(d)
    d.new_test["conditions"] |= {"stimulus": "tap", "stimulus before repair": "tap"}


@lie(THERMO, PASSED, kind=CLEVER)
def new_thermostat_is_read_as_it_closes(d):
    """The heater stays cold; P0128. The old one opens at 58, the new closes at 88.

    Not the quantity that was faulty (4, measured).
    """
    by_opening(d, event="closes", approach="falling")


@lie(OIL_HEAT, PASSED, kind=CLEVER)
def oil_is_forty_below_in_a_warm_engine(d):
    """No oil temperature in the dash; P0198. It reads -40 degC before and after.

    The live value in which the row shows a repaired state is as it was (4).
    """
    with_oil_heat(d, after=-40)


@lie(BLOCK, PASSED, kind=CLEVER)
def new_block_is_measured_without_a_load(d):
    """Hybrid taxi, no pull; P0A80. The old block at 60 A, the new one at 1 A.

    Not good by the same method and limit (4, measured): the limit is for 50 to 80.
    """
    by_load(d, load="1.0")


@lie(STARTER, RERAN, kind=CLEVER)
def starter_turned_once(d):
    """Does not start at times; P0615. One start since the clear, and one warm-up.

    A frame at 0 rpm asks for starts, and a circuit for two (4).
    """

    def once(said):
        with_counts(said, warm_ups=1)
        with_rises(said, 1, 1)

    edit(d.after, once)


@lie(PERM, RERAN, PASSED, kind=CLEVER)
def permanent_code_went_with_the_programming(d):
    """Inspection is tomorrow; P0128 is permanent, and a programming wipes it.

    The path rests on calibrations read and equal (4).
    """
    with_programming(d)


# The fault is gone, and nothing else is left.


@lie(AIR_FLOW, GONE, kind=CLEVER)
def brakes_still_do_not_believe_the_engine(d):
    """Hesitates, two lamps; P0101 with U0401 in the brakes, there pending again.

    ``fault-gone`` is asked of a code that points at another module (1).
    """
    with_brakes_complaining(d)
    edit(d.after, lambda s: with_codes(s, "07", BRAKES, ["U0401"]))


@lie(OLD_BUS, GONE, kind=CLEVER)
def car_of_before_can_has_it_pending_again(d):
    """Car of 1998, high idle when cold; P0113 stands in 07 after the clear (2)."""
    answered(d.after, "07", over_old_bus("47 01 13 00 00 00 00"))


@lie(OLD_BUS, GONE, kind=ODD)
def gearbox_of_before_can_says_none_for_the_engine(d):
    """Car of 1998; the engine had the code, and the gearbox says that it has none.

    One module never answers for another (5); asked is who reported it (2).
    """
    answered(d.after, "03", over_old_bus("43 00 00 00 00 00 00", GEARBOX_BYTE))
    answered(d.after, "07", over_old_bus("47 00 00 00 00 00 00", GEARBOX_BYTE))


@lie(CHARGE, GONE, kind=CLEVER)
def gearbox_holds_it_as_permanent(d):
    """Lamps go dim; P0562 in two modules, one of which keeps it as permanent.

    Of several witnesses all are asked (1); in 0A alone it is waiting (2).
    """
    with_witness(d, GEARBOX_MODULE, "P0562")
    edit(d.before, lambda s: with_codes(s, "0A", GEARBOX_MODULE, ["P0562"]))
    edit(d.after, lambda s: with_codes(s, "0A", GEARBOX_MODULE, ["P0562"]))


@lie(CATALYST_2, GONE, ELSE, kind=CLEVER)
def trim_behind_the_new_catalyst_is_only_watched(d):
    """Six cylinders; P0430 is gone, P2098 (too lean behind it, bank 2) has come.

    Never set aside: a new code of an addressed fault's own row and place (1).
    """
    edit(d.after, lambda s: with_codes(s, "07", ENGINE, ["P2098"]))
    told = {"codes": [], "suspect_parts": [], "reasoning": "it will settle"}
    aside = set_aside(["P2098"], "watched")
    d.events.append(event("diagnosis", "08:20", 2, set_aside=aside, **told))


@lie(AIR, GONE, kind=CLEVER, way="screen")
def display_says_no_codes_and_lamp_on(d):
    """Idles high; P0113. The last display lists nothing, counts none: lamp on (2)."""
    d.after["typed"]["modules"][0]["lamp"] = True


@lie(ONE_HOSE, ELSE, kind=LATE)
def hose_is_for_both_codes_in_a_correction(d):
    """Smells of fuel; the hose was for P0442 alone, days later for P0455 too.

    An amendment can take away, never give (6): P0455 is neither addressed nor aside.
    """
    work = d.of("repair")[0]
    work["codes"] = ["P0442"]
    corrected(d, work, {**work, "codes": ["P0442", "P0455"]}, at("09:00", 4))


@lie(COIL, ELSE, kind=ODD)
def second_freeze_frame_is_of_another_code(d):
    """It shakes; P0301. Frame 01 was kept for P0172, of which nobody speaks (2)."""
    also_said(d.before, "020201", "42 02 01 01 72")


# One vehicle, one time, and safe.


@lie(GEARBOX, SAME, kind=CLEVER)
def gearbox_is_tuned_and_nobody_says_so(d):
    """Van, its clutch slips; P0741. Its module says another calibration afterwards.

    Marks differ without a recorded cause (2, same-vehicle).
    """
    with_gearbox_calibration(d, after="DEMO-GBX-0002")


@lie(EGR, SAME, kind=LATE)
def programmed_before_it_was_first_read(d):
    """Pings; P0401. Programmed at 08:00, and at 08:10 it says the old calibration.

    That cause does not explain exactly these marks (2, same-vehicle).
    """
    with_programming(d, "08:00")


@left(NO_VIN, SAME, kind=CLEVER)
def vehicle_without_vin_keeps_no_mark(d):
    """Import without a VIN to read; calibrations and maps were not asked either.

    Written VIN and photograph ask for two equal marks (2, same-vehicle). Left: two are
    still there, which modules answer and which monitors they have, and both are marks
    (1); an old vehicle may have no others.
    """
    for readout in d.of("readout"):
        edit(readout, lambda s: without(s, "0100", "0904", "0906", "011C"))


@lie(CHAIN, HAZARDS, kind=LATE)
def engine_runs_while_its_chain_is_out(d):
    """Rattles; P0016. 12 degrees read with the engine running, at 10:15.

    Its chain is worked on from 10:00 to 10:30, and what was acknowledged for that of an
    engine at rest has lapsed (2, hazards-met). Expected was that two facts of the
    vehicle conflict; but the old part may be tested until the work is finished (1), and
    no packet says when it came out.
    """
    d.old_test.update(setup="running", at=at("10:15"))
    in_time(d)


@left(EGR, SAME, TIME, kind=CLEVER)
def half_of_the_drive_is_missing_since_the_clear(d):
    """Pings; P0401. Driven for 30 minutes since the clear; the vehicle counts 14.

    Counts since the clear have to fit time and drive (2, same-vehicle). Left: it counts
    minutes of engine run, and an engine that stops at each light, or a hybrid's, runs
    less than the drive lasts; the kilometres fit.
    """
    edit(d.after, lambda s: with_counts(s, minutes=14, distance=28, went=28))


@lie(EGR, HAZARDS, kind=CLEVER)
def module_is_written_on_a_weak_battery(d):
    """The engine's module is programmed at 11.4 V; the maker names 12.5 at least.

    Preconditions recorded, possible and met (2, hazards-met).
    """
    with_programming(d)
    told_as(d, "supply voltage", value="11.4")


@lie(CHILLER, HAZARDS, kind=CLEVER)
def cooling_circuit_is_opened_under_pressure(d):
    """Does not cool; P0533. Its sensor is unscrewed at 400 kPa (2, hazards-met)."""
    told_as(d, "circuit pressure", value="400")


@lie(SOOT, HAZARDS, kind=CLEVER)
def overloaded_filter_is_burnt_free(d):
    """Diesel without power; P2463. 60 g of soot, and the maker forbids it from 45.

    Preconditions recorded, possible and met (2, hazards-met).
    """
    with_regeneration(d)
    told_as(d, "soot load", value="60")


# Honest ones.

LOW_IDLE = {
    "name": "idle too low, throttle body cleaned",
    "codes": ["P0506"],
    "part": ["throttle-body", "throttle body", "throttle"],
    "action": "cleaned",
    "bench": ["direct-reading", "480", "705", limited("rpm", "650")],
    "frame": {"rpm": 480, "load": 30, "coolant": 92, "speed": 0},
    "live": {"rpm": 705, "load": 29, "coolant": 91, "speed": 0},
    "days": 2,
    "path": "watched and measured",
}
SENDER = {
    "name": "fuel level sender open",
    "codes": ["P0463"],
    "part": ["fuel-sender", "fuel level sender", "fuel"],
    "bench": ["winding", ">40000", "95", limited("ohm", "10", "180")],
    "path": "watched and measured",
}
BOTH_LEAN = {
    "name": "both banks lean, one hose",
    "codes": ["P0171", "P0174"],
    "part": ["booster-hose", "hose of the brake booster", "vacuum"],
    "bench": ["seal-hold", "4.0", "17.6", limited("inHg", "15.0")],
    "days": 3,
    "path": "watched and measured",
}
CONTACT_REEL = {
    "name": "contact reel of the steering wheel open",
    "codes": ["B0001"],
    "module": "7EB",
    "part": ["contact-reel", "contact reel of the steering wheel", "restraint"],
    "bench": ["winding", ">40000", "0.80", limited("ohm", "0.20", "2.00")],
    "status": True,
    "path": "code status",
}
COIL_DECLINED = {
    "name": "coil driver circuit done, a small leak declined that is permanent",
    "codes": ["P0351"],
    "part": ["coil-1", "ignition coil of cylinder 1", "ignition"],
    "bench": ["winding", ">40000", "0.72", limited("ohm", "0.40", "1.20")],
    "set_aside": ["P0456"],
    "permanent": True,
    "path": "watched and measured",
}
FAN_RELAY = {
    "name": "relay of the radiator fan burnt, two shifts",
    "codes": ["P0691"],
    "part": ["fan-relay", "relay of the radiator fan", "electrical"],
    "bench": ["winding", ">40000", "82", limited("ohm", "70", "95")],
    "shift_change": True,
    "path": "watched and measured",
}


def also_from_gearbox(readout: dict, request: str, payload: str) -> None:
    """Let the gearbox of an old car answer below the engine."""
    start = readout["raw"].index(f"> {request}\n")
    end = readout["raw"].find("> ", start + 1) % (len(readout["raw"]) + 1)
    told = over_old_bus(payload, GEARBOX_BYTE) + "\n"
    readout["raw"] = readout["raw"][:end] + told + readout["raw"][end:]


@honest(LOW_IDLE, "proven")
def idle_that_was_too_low_is_as_it_should_be(d):
    """480 rpm in the frame, 705 now: the quantity at fault is exempt (4)."""
    complaint(d, "It dies at the lights.")


@honest(SENDER, "proven")
def customer_filled_up_before_the_last_readout(d):
    """Full by a fault before, full by the pump after: a circuit, two starts (4)."""
    complaint(d, "The fuel gauge always says full.")
    for readout in d.of("readout"):
        also_said(readout, "012F", "412FFF")


@honest(NEWER, "proven")
def newer_vehicle_lists_what_it_can_test(d):
    """19 0A lists three codes: two that passed, and one whose test has not run."""
    passed, not_run = code_bytes("P0118") + b"\0\0", code_bytes("P0420") + b"\0\x50"

    def more(said, codes):
        for request in ("1902FF", "190A"):
            found = answers(said, request)
            shown = codes if request == "190A" else codes.replace(passed, b"")
            found[0] = (found[0][0], found[0][1] + shown)

    edit(d.before, lambda s: more(s, passed))
    edit(d.after, lambda s: more(s, passed + not_run))


@honest(OLD_BUS, "vouched")
def gearbox_of_before_can_answers_too(d):
    """Each module answers for itself; the engine says none, and so does it (5)."""
    for readout in d.of("readout"):
        also_from_gearbox(readout, "03", "43 00 00 00 00 00 00")
        also_from_gearbox(readout, "07", "47 00 00 00 00 00 00")


@honest(BOTH_LEAN, "proven")
def one_hose_made_both_banks_lean(d):
    """Two faults with one repair (7); the frame is of the first of them."""
    complaint(d, "It hisses and idles badly.")


@honest(CONTACT_REEL, "proven")
def contact_reel_by_the_status_of_its_code(d):
    """Completed and not failed since the clear, by its own module (4)."""
    complaint(d, "The airbag lamp is on.")
    d.of("diagnosis")[0]["suspect_parts"][0]["where"] = ["dash-column-or-seat"]
    acknowledge_again(d)


@honest(DRIFT, "proven")
def baths_are_read_in_fahrenheit(d):
    """Another instrument: 68 and 176 degF are 20 and 80 degC (3)."""
    thermometer = gauge("thermometer-2", "degF", "392", "0.1", low="-4")
    by_curve(d, baths=("68.0", "176.0"), unit="degF", thermometer=thermometer)


@honest(COIL_DECLINED, "proven")
def declined_leak_is_permanent_and_keeps_its_lamp(d):
    """What is set aside explains the lamp, and stands beside the verdict (1, 2)."""
    complaint(d, "It has no power; leave the tank alone.")


@honest(SMALL_LEAK, "unproven", way="cut", waiting=True)
def canister_waits_for_a_cold_night(d):
    """Cut after the repair each is unproven, waiting (7)."""
    by_flow(d)


@honest(FAN_RELAY, "vouched", way="screen")
def fan_relay_by_a_screen_and_two_people(d):
    """With a screen alone each is vouched (7)."""
    complaint(d, "It boils in the traffic.")
