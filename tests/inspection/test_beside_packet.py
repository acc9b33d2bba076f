"""What a station reads today, held against what the shop read at the hand-over.

Counts that a clear sets to zero, and readiness that it begins anew: ISO 15031-5:2006
7.4.1 and B.2; in-use counters survive a clear: 13 CCR 1968.2(d)(5), from memory.
"""

import pytest
from vehicles import Vehicle, counted

from auditkit.inspection.beside_packet import HandOver, beside_packet
from auditkit.inspection.standing import Standing
from auditkit.obd import decode

P0442, P0171, P0443 = 0x0442, 0x0171, 0x0443
THEN = Vehicle(tests={(0x3C, 0x81, 0xFD): (200, 0, 400)})
LATER = THEN.but(
    warm_ups=45,
    distance=2150,
    minutes=3200,
    odometer=1204950,
    counters=counted(counted(THEN.counters, 1, 6), 10, 2),
)


def held(now, then=THEN, **more):
    text = then.readout()
    members = {
        "repaired": (("P0442", ("7E8",)),),
        "vin": then.vin or None,
        "texts": (("readout 2 of 2 in RO-1", text),),
    }
    given = HandOver("RO-1", "readout 2 of 2 in RO-1", decode(text), **(members | more))
    raw = now if isinstance(now, str) else now.readout()
    return beside_packet(given, decode(raw), raw=raw)


def said(found, standing=None):
    return [line.text for line in found.lines if standing in {None, line.standing}]


def test_the_same_vehicle_that_went_on_holds():
    found = held(LATER)
    assert found.answer is Standing.HOLDS
    assert {line.standing for line in found.lines} == {Standing.HOLDS}
    whole = " / ".join(said(found))
    for one in (
        "VIN 0ZZTB1A18CA000123, as at the hand-over",
        "P0442 is neither stored nor pending in engine module 7E8",
        "150 km since the clear (engine module 7E8)",
        "5 warm-ups since the clear",
        "200 minutes of engine run since the clear",
        "150 km on the odometer (engine module 7E8)",
        "marks of the vehicle (calibrations, what it can be asked) as at the hand-over",
    ):
        assert one in whole, one


@pytest.mark.parametrize(
    ("now", "answer", "told"),
    [
        (
            LATER.but(vin="0ZZTB1A15CA000130"),
            Standing.OTHER_VEHICLE,
            "gave VIN 0ZZTB1A15CA000130, and the packet is of 0ZZTB1A18CA000123",
        ),
        (LATER.but(vin=""), Standing.UNDECIDED, "the vehicle gave no VIN today"),
        (LATER.but(cvn="00000001"), Standing.ASK, "calibration verification numbers"),
        (LATER.but(calibration="DEMO-ENG-0002"), Standing.ASK, "calibration ids of"),
        (LATER.but(map_00="BE1FA811"), Standing.ASK, "support map 01/00 of 7E8"),
        (LATER.but(confirmed=(P0442,)), Standing.BACK, "P0442 is stored in engine"),
        (LATER.but(pending=(P0442,)), Standing.BACK, "P0442 is pending in engine"),
        (LATER.but(permanent=(P0442,)), Standing.BACK, "P0442 is permanent in engine"),
        (
            LATER.but(pending=(P0443,)),
            Standing.ASK,
            "P0443 of engine module 7E8 is new",
        ),
        (
            LATER.but(tests={(0x3C, 0x81, 0xFD): (880, 0, 400)}),
            Standing.BACK,
            "self-test 3C/81",
        ),
        (
            THEN.cleared(),
            Standing.CLEARED,
            "counts 0 km since the clear, and 2000 then",
        ),
        (LATER.but(warm_ups=3), Standing.CLEARED, "counts 3 warm-ups since the clear"),
        (
            LATER.but(odometer=1403450),
            Standing.CLEARED,
            "the odometer rose by 20000",
        ),
        (
            LATER.but(status="0007E505"),
            Standing.CLEARED,
            "of engine module 7E8 was complete then, and is not now",
        ),
        (
            LATER.but(odometer=1100000),
            Standing.ASK,
            "km on the odometer, and",
        ),
        (
            LATER.but(counters=counted(THEN.counters, 1, -50)),
            Standing.ASK,
            "a clear leaves this",
        ),
        (
            LATER.but(distance=3000),
            Standing.ASK,
            "the km since the clear rose by 1000, and the odometer by 150",
        ),
        (THEN, Standing.COPIED, "every answer is that of the shop's readout 2 of 2"),
        (
            THEN.but(confirmed=(P0171,)),
            Standing.ASK,
            "every live and counting value is that of the shop's readout 2 of 2",
        ),
        (THEN.but(minutes=3001), Standing.HOLDS, "1 minutes of engine run"),
        (
            LATER.but(warm_ups=None, distance=None, minutes=None, odometer=None),
            Standing.UNDECIDED,
            "no count that could go on was read both times",
        ),
    ],
)
def test_what_differs_is_told_and_answers(now, answer, told):
    found = held(now)
    assert found.answer is answer, said(found)
    (first, *_) = [line for line in found.lines if told in line.text]
    assert first.standing is answer
    assert first.what_to_do or answer is Standing.HOLDS
    assert found.lines[0].standing is answer, "the gravest stands first"


def test_a_code_that_stayed_is_history_and_a_lamp_over_it_is_not():
    then = THEN.but(confirmed=(P0442,), permanent=(P0442,))
    kept = held(LATER.but(confirmed=(P0442,), permanent=(P0442,)), then)
    assert kept.answer is Standing.HOLDS
    assert "as at the hand-over: history" in " ".join(said(kept))
    assert "the vehicle erases it by itself" in " ".join(said(kept))
    lit = LATER.but(confirmed=(P0442,), permanent=(P0442,), status="8107E500")
    found = held(lit, then)
    assert found.answer is Standing.BACK
    assert "its lamp is on, which was off at the hand-over" in found.lines[0].text


def test_a_code_that_was_pending_at_the_hand_over_and_still_is_is_back():
    found = held(LATER.but(pending=(P0442,)), THEN.but(pending=(P0442,)))
    assert found.answer is Standing.BACK


def test_another_code_is_told_and_says_nothing_against_this_repair():
    found = held(LATER.but(confirmed=(P0171,)))
    assert found.answer is Standing.HOLDS
    assert "P0171 of engine module 7E8 is new since the hand-over; the repair" in (
        " ".join(said(found))
    )


def test_a_module_that_was_not_asked_is_no_absence_of_a_code():
    lines = LATER.readout().split("\n")
    at = lines.index("> 07")
    found = held("\n".join(lines[:at] + lines[at + 2 :]))
    assert found.answer is Standing.UNDECIDED
    assert "pending codes of engine module 7E8: not asked" in " ".join(said(found))
    silent = held(LATER, THEN.but(responders=("7E8", "7E9")))
    assert silent.answer is Standing.UNDECIDED
    assert "answered at the hand-over and not today" in " ".join(said(silent))


def test_counts_at_their_end_are_not_called_standing_still():
    full = THEN.but(warm_ups=255, distance=65535, minutes=None, odometer=None)
    found = held(full.but(counters=LATER.counters), full)
    assert "no count that could go on was read both times" in " ".join(said(found))
    still = held(THEN.but(counters=LATER.counters))
    assert "no count went on since the hand-over" in " ".join(said(still))


BEFORE = Vehicle(
    warm_ups=9,
    distance=600,
    confirmed=(P0442,),
    tests={(0x3C, 0x81, 0xFD): (880, 0, 400)},
)


def of_two(now, before=BEFORE):
    texts = (("readout 1 of 2", before), ("readout 2 of 2 in RO-1", THEN))
    return held(now, texts=tuple((place, v.readout()) for place, v in texts))


def test_a_readout_older_than_the_repair_is_a_question_and_no_answer():
    """What the shop wrote after it may be false: the fault it reports is told."""
    found = of_two(BEFORE)
    line, fault = found.lines
    assert (found.answer, line.standing) == (Standing.COPIED, Standing.COPIED)
    assert fault.standing is Standing.ASK
    assert fault.text.startswith("if it is of today all the same, it says: P0442 ")
    assert "that of the shop's readout 1 of 2" in line.text
    assert "from before the hand-over, and says nothing for or against" in line.text
    assert "or nothing ran since it was read" in line.text
    went_on = of_two(BEFORE.but(minutes=3001))
    assert went_on.answer is Standing.BACK, "one value went on: it is another readout"


def test_a_short_readout_that_equals_an_older_one_may_be_of_today():
    """Nothing in it lives: that the fault is back has to be told all the same."""
    short = BEFORE.but(warm_ups=None, distance=None, minutes=None, odometer=None)
    found = of_two(short, short)
    assert found.answer is Standing.COPIED
    assert any(line.standing is Standing.BACK for line in found.lines)


def test_what_the_packet_cannot_tell_is_said():
    found = held(LATER, is_after=False)
    assert found.answer is Standing.UNDECIDED
    assert "the shop read nothing after the repair" in " ".join(said(found))
    found = held(LATER, THEN.but(vin=""), vin=None)
    assert "the packet tells none" in " ".join(said(found, Standing.UNDECIDED))


def test_a_typed_hand_over_names_modules_and_monitors_as_its_display_did():
    then = THEN.but(responders=("7E0",), status="0001E500")
    told = [("P0442", ("7E0",))]
    found = held(LATER, then, is_typed=True, texts=(), repaired=tuple(told))
    assert "P0442 is neither stored nor pending in engine module 7E8" in (
        " ".join(said(found))
    )
    assert not [one for one in said(found) if "answered at the hand-over" in one]
    raw = held(LATER, then, texts=(), repaired=tuple(told))
    assert raw.answer is Standing.UNDECIDED


def test_a_written_vin_stands_in_for_one_that_no_readout_gave():
    found = held(LATER, THEN.but(vin=""), vin=LATER.vin)
    assert found.answer is Standing.HOLDS
    found = held(LATER, THEN.but(vin=""), vin="0ZZTB1A15CA000130")
    assert found.answer is Standing.OTHER_VEHICLE


def test_it_is_told_as_json():
    told = held(LATER.but(pending=(P0442,))).to_json()
    assert told["answer"] == "fault-back"
    assert told["repaired"] == ["P0442"]
    assert told["lines"][0]["what_to_do"].startswith("find the remaining cause")
