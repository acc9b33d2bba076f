"""Twenty more bogus records and four honest twists, by the hand of the sixth fifty.

By then most rules had been read but those of cautions, amendments, marks and identity
of the vehicle. Form and promise are those of the second fifty.

The first run: 12 of 20 as expected, and 4 of 4. Four came out proven, and four vouched
that should not. Seven of these eight led to a rule that was mended: a part worked on
once the fault had healed, a drive that ends before it starts, an odometer far beyond
the written one, a picture older than its step, marks that are not read again or are
none, a typed limit that asks less or is of another kind. One was no lie and stands
among the twists.
"""

import copy

from auditkit.order.events import RepairOrder
from truth.bogus import (
    AT_FAULT,
    ELSE,
    EXPLAINS,
    GONE,
    KNOWN,
    PASSED,
    SAME,
    TIME,
    answers,
    edit,
    move,
    shifted,
    with_bytes,
    with_codes,
    without,
)
from truth.changes import CLEVER, ODD, also_said, recorder
from truth.jobs import at, event
from truth.named_jobs import AIR, ATTEMPTS, BUS, EGR, NO_VIN, VENT
from truth.said import ENGINE, code_bytes, word

LIES: list[tuple] = []
TWISTS: list[tuple] = []
lie, twist = recorder(LIES, TWISTS)
KLINE = "36: before CAN: no VIN, no monitor ids"


@lie(ATTEMPTS, KNOWN, AT_FAULT, EXPLAINS, kind=CLEVER)
def plug_had_healed_it_before_the_valve_was_sold(d):
    """The readout between the two repairs holds no code, no lamp and no misfire."""

    def change(said):
        with_codes(said, "03", ENGINE, [])
        with_codes(said, "07", ENGINE, [])
        with_bytes(said, "0101", bytes.fromhex("0007E500"))
        answers(said, "06A2")[0] = (
            ENGINE,
            bytes.fromhex("46A20B24") + word(0) + word(0) + word(10),
        )

    edit(d.of("readout")[1], change)


@lie(BUS, GONE, ELSE, kind=CLEVER)
def second_witness_was_not_asked_again(d):
    """Two modules reported it, and one of them is read after."""
    body = code_bytes("U0100") + bytes.fromhex("002F")

    def change(said):
        for one in said:
            if one[0].startswith("19"):
                one[1].append(("7EA", one[1][0][1][:3] + body))

    edit(d.before, change)


@lie(AIR, KNOWN, kind=CLEVER)
def circuit_was_only_pending(d):
    """Pending alone, no lamp, and no result of its own that failed."""

    def change(said):
        with_codes(said, "03", ENGINE, [])
        with_bytes(said, "0101", bytes.fromhex("0007E500"))

    edit(d.before, change)


@lie(EGR, KNOWN, typed=True, kind=CLEVER)
def cleared_two_minutes_before_the_first_readout(d):
    """What it then shows was made in the yard, or is older and nobody knows."""

    def change(said):
        for pid, size, count in (("30", 1, 0), ("31", 2, 0), ("4E", 2, 2)):
            with_bytes(said, f"01{pid}", word(count, size))

    edit(d.before, change)


@lie(EGR, KNOWN, typed=True, kind=CLEVER)
def lamp_was_on_for_a_minute(d):
    """The lamp came on in the yard: 1 min and 0 km with it on."""
    also_said(d.before, "014D", "414D0001")
    also_said(d.before, "0121", "41210000")


@lie(VENT, AT_FAULT, kind=ODD)
def leads_of_less_than_nothing(d):
    """25.5 ohm, less leads of -100 ohm."""
    d.old_test["readings"] = [
        {"name": "resistance", "value": "25.5", "unit": "ohm"},
        {"name": "lead resistance", "value": "-100", "unit": "ohm"},
    ]


@lie(EGR, TIME, typed=True, kind=ODD)
def drive_ended_before_it_began(d):
    drive = d.of("road_test")[-1]
    drive["start"], drive["end"] = drive["end"], drive["start"]


@lie(EGR, TIME, typed=True, kind=CLEVER)
def written_down_thirty_hours_later(d):
    """From the bench test on, when the car had left already."""
    late = shifted(d.old_test["at"], hours=30)
    place = d.events.index(d.old_test)
    d.recorded = [
        one["at"] if n < place else max(one["at"], late)
        for n, one in enumerate(d.events)
    ]


@lie(EGR, SAME, kind=CLEVER)
def no_vin_on_paper(d):
    """The vehicle tells its VIN, and nobody wrote which one was taken in."""
    del d.events[0]["vehicle"]["vin"]


@lie(EGR, SAME, kind=CLEVER)
def thirty_thousand_kilometres_less_on_paper(d):
    """90,345 km taken down; its own odometer says 120,345."""
    d.events[0]["vehicle"]["odometer"]["value"] = "90345"


@lie(EGR, SAME, kind=ODD)
def two_modules_tell_two_vins(d):
    """The gearbox module's is another vehicle's."""
    other = b"\x49\x02\x01" + b"0ZZTB1A14CA000121"
    edit(d.after, lambda said: answers(said, "0902").append(("7E9", other)))


@lie(NO_VIN, SAME, TIME, kind=CLEVER)
def photograph_is_older_than_the_visit(d):
    """Plate and VIN, two weeks before the vehicle came."""
    picture = d.of("attachment")[0]
    move(picture, days=-14)


@lie(NO_VIN, SAME, kind=ODD)
def photograph_is_not_here(d):
    """Its digest is, and nobody can look at it."""
    del d.of("attachment")[0]["kept"]
    d.pictures.clear()


@lie(NO_VIN, SAME, kind=CLEVER)
def calibration_marks_left_out_the_next_day(d):
    """Without a VIN they are what tells one van from the next."""
    edit(d.after, lambda said: without(said, "0904", "0906", "0100"))


@lie(KLINE, SAME, kind=ODD)
def supports_other_parameters_the_next_day(d):
    """Before CAN the map of parameters is one of the few marks."""
    old = b"\x48\x6b\x10" + bytes.fromhex("4100BE1FA813")
    new = b"\x48\x6b\x10" + bytes.fromhex("4100BE3EB811")
    texts = [(x + bytes([sum(x) & 0xFF])).hex(" ").upper() for x in (old, new)]
    assert texts[0] in d.after["raw"]
    d.after["raw"] = d.after["raw"].replace(*texts)


@lie(EGR, SAME, kind=CLEVER, way="screen")
def display_had_no_vin_before_the_repair(d):
    del d.before["typed"]["vin"]


@lie(EGR, GONE, ELSE, kind=CLEVER, way="screen")
def lamp_is_left_out_of_the_last_display(d):
    """It was on, and the display shows it."""
    module = d.after["typed"]["modules"][0]
    del module["lamp"]


@lie(EGR, PASSED, kind=CLEVER, way="hand")
def typed_against_a_lower_limit(d):
    """150, which 350 asked of before; now 100 is asked."""
    told = d.of("self_test")[-1]
    told["value"]["value"], told["minimum"]["value"] = "150", "100"


@lie(EGR, PASSED, kind=ODD, way="hand")
def typed_in_another_unit_than_before(d):
    """A count before, kilopascals after."""
    told = d.of("self_test")[-1]
    told["value"]["unit"] = told["minimum"]["unit"] = "kPa"


# Honest.


@twist(EGR)
def cleared_once_more_under_another_number(d):
    """At first among the lies: two hours before the last readout.

    What was read after it, and driven since, shows the same once more.
    """
    d.recorded = [one["at"] for one in d.events]
    opening = {**copy.deepcopy(d.events[0]), "at": at("05:50", 1)}
    clear = event("code_clear", "06:10", 1, tool="adapter (invented)")
    d.others = (RepairOrder.fold("RO-2", [opening, clear]),)


@twist(EGR)
def pending_with_a_result_that_failed(d):
    def change(said):
        with_codes(said, "03", ENGINE, [])
        with_bytes(said, "0101", bytes.fromhex("0007E500"))

    edit(d.before, change)


@twist(EGR, way="screen")
def display_counts_in_miles(d):
    for readout, miles in ((d.before, "1243"), (d.after, "37")):
        readout["typed"]["counts"]["distance"] = {"value": miles, "unit": "mi"}


@twist(VENT)
def leads_of_a_tenth_of_an_ohm(d):
    lead = {"name": "lead resistance", "value": "0.1", "unit": "ohm"}
    d.old_test["readings"].append(lead)


@twist(EGR)
def lamp_had_been_on_for_a_week(d):
    also_said(d.before, "014D", "414D0258")
    also_said(d.before, "0121", "41210190")
