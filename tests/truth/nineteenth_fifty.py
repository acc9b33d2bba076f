"""Forty bogus records and ten honest ones more, in the form of the tenth fifty.

Each lie is what a shop might do that wants to be paid and to look clean; what has to
fall follows from the verdict's definition, whose section stands beside each. Written by
somebody who knew that definition alone, before any was judged.

When they were first judged, 36 of the 40 lies came out as written, four came out
*proven*, none *vouched* wrongly, and none fell by another question than was written;
the honest ones all ten came out as written.

Two of the four were written wrongly, and are put right. A second confirmation is no
acknowledgement: who did it has to have acknowledged (section 2), and a second person
may confirm. And an acknowledgement holds until it lapses (section 2), so that the
cautions of a plug, which are of the whole vehicle, hold for the next one by the same
hand. Two are left: each says why. No rule was changed.

Where more fell than was written, it follows: what two VINs in one readout leave open is
`fault-gone` too; a first readout that is typed makes `nothing-else` typed; and a new
part is held against the test of the old one. In two lies of the plugs the cautions had
stood out of order, so that `order-of-time` fell as well: they are sorted now.
"""

import copy

from truth.bench_changes import swapped
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
    complaint,
    corrected,
    in_time,
    pictured,
    renamed,
    renumbered,
    set_aside,
    suspect,
    told_as,
)
from truth.jobs import at, event, on_display
from truth.named_jobs import (
    BLOCK,
    EGR,
    GEARBOX,
    HEALED,
    IDLE,
    LEAN,
    NO_VIN,
    PEDAL,
    PERM,
    VENT,
)
from truth.own_jobs import a_fifty, limited
from truth.said import ENGINE, code_bytes, word
from truth.vehicle_counts import with_rises

LIES, LEFT, HONEST, lie, left, honest = a_fifty()
GEARBOX_MODULE, BRAKES = "7E9", "7EA"
SLOW, BOOST = "15: oxygen sensor slow", "22: boost hose leaks"
THERMO = "2: thermostat, watched and measured"
SOOT = "21: soot from a dripping injector, by status"
FLOW, KNOCK = "26: air-flow sensor reads low", "29: knock sensor open"
TWO_CODES = "32: two faults, one canister"
CATALYST_2_RAN = 4
"""Place in service 09, info type 08, of bank 2's completed tests (ISO 15031-5)."""
STORED = 0x08
"""Status of a code that is confirmed and did not fail since."""

PHASER = {
    "name": "camshaft solenoid sticks",
    "codes": ["P0011"],
    "part": ["cam-solenoid", "camshaft solenoid", "valve-timing"],
    "bench": ["winding", "14.9", "7.2", limited("ohm", "6", "9")],
    "test": ["35", "81", "1C", 1500, 180, 0, 500],
    "path": "monitor result",
}
REAR_HEATER = {
    "name": "heater of the rear sensor open",
    "codes": ["P0141"],
    "part": ["rear-sensor", "rear oxygen sensor", "oxygen-sensor"],
    "bench": ["winding", ">40000000", "9.4", limited("ohm", "2", "20")],
    "test": ["42", "81", "0E", 0, 900, 400, 65535],
    "path": "monitor result",
}
CATALYST_2 = {
    "name": "catalyst of bank 2 worn",
    "codes": ["P0430"],
    "part": ["catalyst-2", "catalyst of bank 2", "catalyst"],
    "ruled_out": [
        ["exhaust-joint", "exhaust joint of bank 2", "exhaust"],
        ["rear-sensor", "rear oxygen sensor of bank 2", "oxygen-sensor"],
    ],
    "test": ["22", "81", "20", 28000, 12500, 0, 21000],
    "days": 2,
    "path": "monitor result",
}
NEVER_CLEARED = {
    **CATALYST_2,
    "name": "catalyst of bank 2 worn, its code never cleared",
    "clear": False,
    "days": 5,
}
FAN = {
    "name": "relay of the fan burnt",
    "codes": ["P0480"],
    "part": ["fan-relay", "relay of the fan", "electrical"],
    "bench": ["voltage-drop", "1.70", "0.05", limited("V", "", "0.20")],
    "path": "watched and measured",
}
PURGE_COIL = {
    "name": "purge valve's winding open",
    "codes": ["P0443"],
    "part": ["purge-valve", "purge valve", "evap"],
    "bench": ["winding", ">40000", "25.1", limited("ohm", "20", "30")],
    "path": "watched and measured",
}
RAIL = {
    "name": "rail pressure sensor high",
    "codes": ["P0193"],
    "part": ["rail-sensor", "rail pressure sensor", "fuel"],
    "bench": ["direct-reading", "4.95", "0.52", limited("V", "0.40", "0.60")],
    "path": "watched and measured",
}
COIL_2 = {
    "name": "ignition coil of cylinder 2 open",
    "codes": ["P0302"],
    "part": ["coil-2", "ignition coil of cylinder 2", "ignition"],
    "bench": ["winding", ">40000", "11.1", limited("kohm", "5", "20")],
    "test": ["A3", "0B", "24", 41, 0, 0, 10],
    "path": "monitor result",
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
SHIFT = {
    "name": "shift solenoid open",
    "codes": ["P0753"],
    "module": GEARBOX_MODULE,
    "pointer": "P0700",
    "part": ["shift-solenoid", "shift solenoid A", "transmission"],
    "bench": ["winding", ">40000", "15.2", limited("ohm", "12", "18")],
    "status": True,
    "days": 2,
    "path": "code status",
}
GLOW_PLUGS = {
    "name": "two glow plugs dead",
    "codes": ["P0672", "P0674"],
    "diesel": True,
    "part": ["glow-plug-2", "glow plug of cylinder 2", "ignition"],
    "bench": ["direct-reading", "0.10", "12.40", limited("A", "8.00", "20.00")],
    "path": "watched and measured",
}


# What several of them do.


def two_plugs(d) -> None:
    """Each plug is suspected for its own code, tested, replaced and measured."""
    suspects = d.of("diagnosis")[0]["suspect_parts"]
    suspects[0]["codes"] = ["P0672"]
    suspects.append(
        suspect(d, id="glow-plug-4", name="glow plug of cylinder 4", codes=["P0674"])
    )
    for one in (d.old_test, d.of("repair")[0], d.new_test):
        second = {**copy.deepcopy(one), "part": "glow-plug-4"}
        move(second, minutes=5)
        d.put(second, after=one)
    in_time(d)


def unlit(d) -> None:
    """Let the code be stored before, and light no lamp."""
    edit(d.before, lambda s: with_bytes(s, "0101", bytes.fromhex("0107E500")))


def of_plug_4(d, kind: str, of: str = "") -> list[dict]:
    found = [
        one
        for one in d.of(kind)
        if one.get("part") == "glow-plug-4" and (not of or one["of"] == of)
    ]
    assert found
    return found


def with_stored(said, code: str) -> None:
    """Let the brakes' module list one code more, as stored and not failing since."""
    found = 0
    for one in said:
        if one[0].startswith("19"):
            body = code_bytes(code) + b"\0" + bytes([STORED])
            one[1] = [(who, payload + body) for who, payload in one[1]]
            found += 1
    assert found == 2


def old_code_of_the_right_wheel(d) -> None:
    """Let a code of the right wheel be stored, before and after."""
    for readout in (d.before, d.after):
        edit(readout, lambda s: with_stored(s, "C0050"))


def gearbox_says(d, request: str, before: str, after: str) -> None:
    """Let the gearbox's module answer this too."""
    for readout, payload in ((d.before, before), (d.after, after)):
        answer = (GEARBOX_MODULE, bytes.fromhex(payload))
        edit(readout, lambda s, a=answer: answers(s, request).append(a))


def asked_before(readout: dict, request: str, who: str, payload: bytes) -> None:
    """Let a module answer a request once, before all else in a readout."""
    edit(readout, lambda s: s.insert(0, [request, [(who, payload)]]))


def coils_change_places(d, at_old_place: str) -> None:
    """The coils of two cylinders change places; at the new one it misfires 3 of 3."""
    swapped(d, at_new_place="3", at_old_place=at_old_place)
    acknowledge_again(d)


# The fault, the part, and what was measured on it.


@lie(TWO_CODES, KNOWN, kind=CLEVER)
def second_code_is_of_the_shops_own(d):
    """P0446 is reported; P0442 never was, and is charged with the same canister.

    Section 2: the diagnosis says that this readout shows it, and it does not.
    """

    def only_one(said):
        with_codes(said, "03", ENGINE, ["P0446"])
        with_codes(said, "07", ENGINE, ["P0446"])
        with_bytes(said, "0101", bytes.fromhex("8107E500"))

    edit(d.before, only_one)


@lie(FAN, KNOWN, kind=CLEVER, way="screen")
def display_showed_it_as_pending_only(d):
    """No lamp, none stored, once pending. Section 2: pending alone does not do."""
    module = d.before["typed"]["modules"][0]
    module |= {"stored": [], "pending": ["P0480"], "lamp": False, "count": 0}


@lie(FAN, KNOWN, SAME, typed=True, kind=CLEVER)
def first_readout_is_typed(d):
    """The bytes before the repair were not kept; what they said is typed.

    Section 3: the weakest event cited; what is typed is not first-hand.
    """
    before = d.before
    before["typed"] = on_display(before.pop("raw"))
    del before["protocol"]


@lie(LEAN, EXPLAINS, typed=True, kind=CLEVER)
def hose_of_the_steering_for_a_lean_engine(d):
    """A forum says so. Section 2: another system, with reason and source, is word."""
    renamed(d, "booster-hose", "steering-hose")
    renamed(d, "hose of the brake booster", "hose of the steering")
    d.of("diagnosis")[0]["suspect_parts"][0] |= {
        "system": "steering",
        "why": "the pump loads the idle",
        "why_source": "a forum (invented), 2019",
    }
    acknowledge_again(d)


@lie(COIL_2, AT_FAULT, kind=CLEVER)
def plug_is_replaced_where_the_coil_failed(d):
    """Both are suspects, the coil fails on the bench, the cheaper plug goes in.

    Section 2: a bench test of that part, faulty.
    """
    d.of("diagnosis")[0]["suspect_parts"].append(
        suspect(d, id="plug-2", name="spark plug of cylinder 2")
    )
    d.of("repair")[0]["part"] = "plug-2"
    acknowledge_again(d)


@lie(COIL_2, AT_FAULT, kind=CLEVER)
def misfires_at_both_places_of_the_coils(d):
    """It misfires where the coil is now, and where it was, 3 of 3 each.

    Section 2: seen k of n under a named stimulus; the fault did not follow the part.
    """
    coils_change_places(d, "3")


@lie(PEDAL, AT_FAULT, typed=True, kind=CLEVER)
def nobody_says_by_what_the_angle_was_set(d):
    """Volts by a meter, degrees by eye. Section 3: else a reading is typed."""
    d.old_test["instruments"].pop()


@lie(SLOW, AT_FAULT, typed=True, kind=LATE)
def meter_was_checked_ten_years_ago(d):
    """And its certificate is good until 2031. Section 3: within the policy's interval.

    A shop's own date of expiry does not make a check of 2016 a recent one.
    """
    d.old_test["instruments"][0]["specification"] |= {
        "calibrated_on": "2016-01-12",
        "due": "2031-01-12",
    }


@lie(CATALYST_2, AT_FAULT, typed=True, kind=CLEVER)
def failing_number_of_the_catalyst_is_typed(d):
    """The bytes before hold no result; somebody typed the number that it needs.

    Section 2: the vehicle's own failing number; section 3: typed is not first-hand.
    """
    edit(d.before, lambda s: without(s, "0622"))
    typed = event(
        "self_test",
        "08:15",
        monitor="monitor 22",
        mid="22",
        tid="81",
        outcome="failed",
        seen_on="display (invented)",
        value={"value": "28000", "unit": "1"},
        maximum={"value": "21000", "unit": "1"},
    )
    d.put(typed, after=d.before)


@lie(CATALYST_2, AT_FAULT, RERAN, PASSED, kind=CLEVER)
def failing_number_is_of_the_other_bank(d):
    """Bank 1 failed, the catalyst of bank 2 is sold for the code of bank 2.

    Section 2: the vehicle's own failing number; section 1: a place is bank and id.
    """
    edit(d.before, lambda s: renumbered(s, "0622", "0621"))


@lie(VENT, AT_FAULT, kind=LATE)
def faulty_reading_is_taken_back(d):
    """Whoever measured it writes on the third day that it was 25.5 ohm: good.

    Section 6: an amendment can take away; the lesser counts.
    """
    test = d.old_test
    right = copy.deepcopy(test)
    right["readings"][0]["value"] = "25.5"
    corrected(d, test, right, at("09:00", 3))


@lie(GLOW_PLUGS, AT_FAULT, kind=CLEVER)
def one_plug_is_measured_and_two_are_sold(d):
    """Section 2: each cause, a bench test of that part."""
    two_plugs(d)
    for one in of_plug_4(d, "bench_test", "old"):
        d.events.remove(one)
    in_time(d)


@lie(GLOW_PLUGS, PASSED, kind=CLEVER)
def only_one_of_two_new_plugs_is_measured(d):
    """Section 4: the quantity that was faulty, on the part now fitted, by each code."""
    two_plugs(d)
    for one in of_plug_4(d, "bench_test", "new"):
        d.events.remove(one)
    in_time(d)


# Whether its test ran again and passed.


@lie(FLOW, PASSED, kind=CLEVER)
def new_sensor_is_read_by_a_coarse_meter(d):
    """93 % of at least 85 %, give or take 20 %. Section 4: good by the same limit.

    Neither good nor faulty is within what the instrument can tell (section 2).
    """
    d.new_test["instruments"][0]["specification"]["absolute"] = "20"


@lie(IDLE, RERAN, PASSED, kind=CLEVER)
def idles_with_half_as_much_load_again(d):
    """Load 45 %, and 30 % in the frame of P0507, whose idle speed alone is exempt.

    Section 4: load within 20 % of its value.
    """
    edit(d.after, lambda s: with_bytes(s, "0104", bytes([round(45 * 2.55)])))


@lie(THERMO, RERAN, PASSED, kind=CLEVER)
def turns_four_hundred_faster_than_the_frame(d):
    """2200 and 1800 rpm. Section 4: within 375 rpm of this code's freeze frame."""
    edit(d.after, lambda s: with_bytes(s, "010C", word(2200 * 4)))


@lie(NEVER_CLEARED, RERAN, PASSED, kind=CLEVER)
def counter_of_the_other_bank_rises(d):
    """The catalyst of bank 1 was tested ten times, that of bank 2 never since.

    Section 4: without a clear the result changed and its counter rose.
    """
    unlit(d)
    edit(d.after, lambda s: with_rises(s, 10, 30, {CATALYST_2_RAN: 0}))


@lie(SLOW, PASSED, kind=CLEVER)
def limit_of_the_sensor_cannot_be_missed(d):
    """From 0 to 65535, before and after. Section 8: only a limit that cannot fail."""
    for readout in (d.before, d.after):
        edit(
            readout,
            lambda s: with_test(s, 0, lambda p: p[:6] + word(0) + word(65535)),
        )


@lie(BOOST, RERAN, PASSED, kind=CLEVER, way="screen")
def display_had_no_limits_any_more(d):
    """A value of 900 and no minimum, where it had been 600.

    Section 4: another limit shows nothing; section 3: its own numbers decide.
    """
    result = d.of("self_test")[-1]
    result.pop("minimum")
    result.pop("maximum", None)


@lie(PERM, RERAN, PASSED, GONE, kind=ODD)
def permanent_code_is_asked_until_it_is_gone(d):
    """It is permanent, asked again it is not. Section 5: two answers show nothing."""
    held = b"\x4a\x01" + code_bytes("P0128")
    asked_before(d.after, "0A", ENGINE, held)


@lie(HEALED, RERAN, PASSED, kind=CLEVER, way="screen")
def display_counts_nothing_while_the_lamp_goes_off(d):
    """No warm-ups, distance or minutes: a clear puts a lamp off, too.

    Section 4: 30, 31 or 4E went on without a clear.
    """
    counts = d.after["typed"]["counts"]
    for name in ("warm_ups", "distance", "minutes"):
        del counts[name]


@lie(SOOT, RERAN, PASSED, GONE, kind=ODD)
def gearbox_tells_the_status_of_the_engines_code(d):
    """The engine's module is silent there. Section 5: none answers for another."""

    def moved(said):
        for one in said:
            if one[0].startswith("19"):
                one[1] = [(GEARBOX_MODULE, p) for _, p in one[1]]

    edit(d.after, moved)


# Whether it is gone, and nothing else is left.


@lie(LEAN, GONE, kind=CLEVER)
def back_after_the_clear_and_called_history(d):
    """It is in 03 without a lamp. Section 2: history was never cleared."""

    def stored(said):
        with_codes(said, "03", ENGINE, ["P0171"])
        with_bytes(said, "0101", bytes.fromhex("0107E500"))

    edit(d.after, stored)


@lie(SHIFT, GONE, kind=CLEVER)
def solenoid_is_stored_again_after_the_clear(d):
    """Its test completed and it is confirmed. Section 2: after a clear again."""

    def again(said):
        body = code_bytes("P0753") + b"\0" + bytes([STORED])
        for one in said:
            if one[0].startswith("19"):
                one[1] = [(w, p[:3] + body) for w, p in one[1]]

    edit(d.after, again)


@lie(GEARBOX, GONE, kind=CLEVER)
def gearbox_is_not_asked_for_pending_ones_again(d):
    """It had answered 07 before. Section 2: asked by the services it had answered."""

    def silent(said):
        found = answers(said, "07")
        assert GEARBOX_MODULE in dict(found)
        found[:] = [one for one in found if one[0] != GEARBOX_MODULE]

    edit(d.after, silent)


@lie(FLOW, GONE, kind=CLEVER, way="screen")
def another_display_shows_no_pending_codes(d):
    """It says of them nothing at all. Section 2: asked by the services as before."""
    module = d.after["typed"]["modules"][0]
    del module["pending"]
    module["not_shown"] = ["pending"]


@lie(WHEEL, ELSE, kind=CLEVER)
def right_wheel_is_stored_and_not_spoken_of(d):
    """C0050, before and after. Section 2: every other code, in any module."""
    old_code_of_the_right_wheel(d)


@lie(RAIL, ELSE, kind=CLEVER, way="screen")
def display_lists_a_code_of_the_brakes(d):
    """The brakes had none and have one now. Section 2: every other code, after."""
    for readout, codes in ((d.before, []), (d.after, ["C0040"])):
        told = {"module": BRAKES, "stored": codes, "pending": []}
        readout["typed"]["modules"].append(told)


@lie(EGR, ELSE, kind=CLEVER)
def engine_has_lost_the_gearbox_since(d):
    """U0101 is pending. Sections 1 and 2: where that module has none, one as others."""
    edit(d.after, lambda s: with_codes(s, "07", ENGINE, ["U0101"]))


@left(SLOW, ELSE, kind=ODD)
def lamp_of_the_gearbox_was_on_when_it_came(d):
    """It lists no code and asks for a lamp; not a word. Section 2: code and lamp.

    Left: it is off when it is asked last. A set-aside names codes, and no readout holds
    one of this module, so that an honest shop could say nothing of its lamp either.
    """
    gearbox_says(d, "0101", "410180000000", "410100000000")


# The vehicle, the times, and how safely.


@lie(RAIL, SAME, kind=CLEVER, way="screen")
def vin_is_read_only_when_it_was_done(d):
    """Section 2: VIN read before and after."""
    del d.before["typed"]["vin"]


@left(KNOCK, SAME, kind=CLEVER)
def vin_with_a_wrong_digit_everywhere(d):
    """Written, before and after. Section 2: check digit right where one is due.

    Left: it is due in the U.S. and Canada (49 CFR 565), and no record says where a
    vehicle was sold. It is told; a reader's policy lets it block.
    """
    false = "0ZZTB1A17CA000123"
    d.of("opening")[0]["vehicle"]["vin"] = false
    for readout in (d.before, d.after):
        edit(readout, lambda s: with_bytes(s, "0902", b"\x01" + false.encode()))


@lie(PHASER, SAME, kind=CLEVER)
def gearbox_supports_other_things_now(d):
    """Its map is another one. Section 1: supported maps are marks."""
    gearbox_says(d, "0100", "410098188001", "410098180001")


@lie(REAR_HEATER, SAME, kind=ODD)
def another_vehicle_answers_first(d):
    """A twin's VIN, then the written one. Section 5: two answers show nothing."""
    payload = b"\x49\x02\x01" + b"0ZZTB1A1XCA000124"
    asked_before(d.after, "0902", ENGINE, payload)


@lie(REAR_HEATER, SAME, kind=ODD)
def second_number_of_a_calibration_appears(d):
    """One number before, two afterwards. Section 1: numbers are marks."""
    numbers = bytes.fromhex("021791BC8216E062BE")
    edit(d.after, lambda s: with_bytes(s, "0906", numbers))


@lie(NO_VIN, SAME, kind=LATE)
def one_picture_of_the_plate_and_of_the_valve(d):
    """The same bytes are named a second time, as the valve's picture.

    Section 3: named by this event alone in the log.
    """
    told = pictured(d, d.old_test, ("08:40", 1), shows="the valve (invented)")
    d.events.append(told)


@lie(PURGE_COIL, TIME, RERAN, PASSED, GONE, SAME, kind=LATE)
def last_readout_was_captured_before_the_work(d):
    """Noted on the next day, captured at 09:30, when the valve was still in.

    Section 2: before and after hold by time.
    """
    d.after["captured"] = at("09:30")


@lie(BLOCK, HAZARDS, kind=CLEVER)
def block_is_heavier_than_the_device_bears(d):
    """600 kg on one of 500 kg. Section 2: preconditions are met."""
    told_as(d, "mass", value="600")


@lie(BLOCK, HAZARDS, kind=CLEVER)
def danger_is_acknowledged_by_the_apprentice(d):
    """Who did the work only confirms it. Section 2: acknowledged by who did it."""
    found = [c for c in d.of("caution") if "second_confirmation" in c]
    assert found
    for one in found:
        one["by"] = "mechanic-2"


@lie(GLOW_PLUGS, HAZARDS, kind=CLEVER)
def other_hand_on_the_second_plug_read_no_caution(d):
    """Section 2: each caution that a step calls for, acknowledged by who did it."""
    two_plugs(d)
    of_plug_4(d, "repair")[0]["by"] = "mechanic-2"


# Honest ones.


@honest(PHASER, "proven")
def camshaft_is_read_by_the_second_mechanic(d):
    """One repairs, another reads the next day."""
    d.after["by"] = "mechanic-2"
    complaint(d, "It idles unevenly.")


@honest(FAN, "proven")
def new_relay_is_measured_before_it_goes_in(d):
    """Section 4: on the part now fitted, before or after it went in."""
    d.new_test["at"] = at("09:40")
    in_time(d)


@honest(GLOW_PLUGS, "proven")
def two_plugs_for_two_codes(d):
    """Section 1: each code has its cause, each cause its test."""
    two_plugs(d)


@honest(COIL_2, "vouched")
def coil_is_found_by_exchange(d):
    """Section 2: what is seen and not measured is typed."""
    coils_change_places(d, "0")


@honest(SHIFT, "proven")
def solenoid_comes_four_days_later(d):
    """The car stays; all from the repair on is done when the part is there."""
    for one in d.events[d.events.index(d.old_test) + 1 :]:
        move(one, days=4)
    in_time(d)


@honest(CATALYST_2, "proven")
def wiper_blades_beside_the_catalyst(d):
    """Section 1: parts worked on for no fault are other work, not judged."""
    blades = event(
        "repair",
        "10:55",
        part="wiper-blades",
        action="replaced",
        part_number="EX-9 (invented)",
        old_part="scrapped",
    )
    d.put(blades, after=d.of("repair")[-1])
    in_time(d)


@honest(REAR_HEATER, "vouched", way="screen")
def rear_heater_with_a_display_alone(d):
    """Section 3: a typed readout can fill every question and ends vouched."""
    complaint(d, "The lamp came on last week.")


@honest(PURGE_COIL, "unproven", way="cut", waiting=True)
def purge_valve_goes_home_unread(d):
    """Section 2: a later readout can show the rest."""
    complaint(d, "The lamp is on; I need it at noon.")


@honest(RAIL, "proven")
def second_look_at_the_rail_sensor(d):
    """Faulty at 09:15, and by another mechanic's meter at 09:35."""
    again = copy.deepcopy(d.old_test)
    again |= {"at": at("09:35"), "by": "mechanic-2"}
    again["instruments"][0]["id"] = "meter-7"
    again["readings"][0]["value"] = "4.94"
    d.put(again, after=d.old_test)
    in_time(d)


@honest(WHEEL, "proven")
def old_code_of_the_right_wheel_is_set_aside(d):
    """Section 1: known history, agreed by the customer, beside the verdict."""
    old_code_of_the_right_wheel(d)
    d.of("diagnosis")[0]["set_aside"] = set_aside(["C0050"], "known-history")
