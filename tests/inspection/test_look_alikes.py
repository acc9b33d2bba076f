"""Readouts among others that may be another vehicle's: asked, and nobody accused."""

import pytest
from vehicles import Vehicle, counted

from auditkit.inspection.look_alikes import look_alikes
from auditkit.inspection.pre_test_marks import marks_of_readout
from auditkit.obd import decode

# Invented VINs, whose check digit fits (49 CFR 565): one maker, three vehicles.
ONE, TWO, THREE = "0ZZTB1A18CA000123", "0ZZTB1A1XCA000124", "0ZZTB1A15CA000130"
OTHER_MAKER = "9YYTB1A18CA000123"


def vehicle(vin=ONE, far=0, **more):
    """Return a vehicle of one model, each with counts of its own."""
    base = Vehicle(vin=vin)
    return base.but(
        distance=base.distance + far,
        minutes=base.minutes + 2 * far,
        odometer=base.odometer + 10 * far,
        warm_ups=min(255, base.warm_ups + far % 50),
        counters=counted(base.counters, 1, far),
        **more,
    )


def asked(*given):
    every = []
    for number, one in enumerate(given):
        text, written = one if isinstance(one, tuple) else (one, "")
        raw = text.readout() if isinstance(text, Vehicle) else text
        name = f"{number}.txt"
        every.append(marks_of_readout(decode(raw), raw, name, name, written))
    return look_alikes(every)


def test_healthy_vehicles_of_one_model_are_asked_nothing():
    assert asked(vehicle(ONE), vehicle(TWO, 70), vehicle(THREE, 900)) == ()
    # A station that reads readiness, codes and calibrations alone: equal, and honest.
    bare = {"warm_ups": None, "distance": None, "minutes": None, "odometer": None}
    few = [Vehicle(vin=v, tests={}, **bare).readout() for v in (ONE, TWO)]
    few = ["\n".join(t.split("\n")[: t.split("\n").index("> 0908")]) for t in few]
    assert asked(*few) == ()


def test_one_vehicle_on_two_days_is_asked_nothing():
    assert asked(vehicle(ONE), vehicle(ONE, 300)) == ()


def test_equal_answers_under_several_vins_are_asked_with_the_files():
    (found,) = asked(vehicle(ONE), vehicle(TWO, 70), vehicle(THREE))
    assert found.name == "same-answers"
    assert found.places == ("0.txt", "2.txt")
    assert f"the same under 2 VINs ({THREE}, {ONE})" in found.question
    assert found.question.endswith("?")
    assert found.what_to_do


def test_one_changed_comment_or_order_of_lines_hides_no_copy():
    lines = vehicle(TWO).readout().split("\n> ")
    moved = "# another day\n> " + "\n> ".join([*lines[3:], *lines[1:3], lines[0][2:]])
    (found,) = asked(vehicle(ONE), moved)
    assert found.name == "same-answers"


def test_few_counts_with_equal_self_tests_are_asked_too():
    bare = {"warm_ups": None, "minutes": None, "odometer": None, "standard": None}
    one, two = (Vehicle(vin=v, **bare).readout() for v in (ONE, TWO))
    one, two = (t[: t.index("> 0908")] for t in (one, two))
    (found,) = asked(one, two)
    assert found.name == "same-answers"
    assert "every answer but the VIN" in found.question


def test_the_same_moment_in_two_files_of_one_vehicle_is_asked():
    (found,) = asked(vehicle(ONE), vehicle(ONE))
    assert found.name == "same-moment"
    assert f"several files of VIN {ONE}" in found.question


def test_a_vin_in_the_data_of_a_vehicle_that_is_written_otherwise_is_asked():
    found = asked((vehicle(ONE), ONE), (vehicle(ONE, 50), TWO))
    (vin,) = [one for one in found if one.name == "vin-of-another"]
    assert f"the data give VIN {ONE}, and the vehicle is written as {TWO}" in (
        vin.question
    )
    assert not asked((vehicle(ONE), ONE), (vehicle(TWO, 50), TWO))


def test_one_calibration_with_two_verification_numbers_is_asked():
    """A calibration id is unique to a calibration: 13 CCR 1968.2(g)(4.6), (4.7)."""
    (found,) = asked(vehicle(ONE), vehicle(TWO, 70, cvn="00000001"))
    assert found.name == "other-verification-number"
    assert "DEMO-ENG-0001" in found.question
    assert not asked(
        vehicle(ONE),
        vehicle(TWO, 70, cvn="00000001", calibration="DEMO-ENG-0002"),
    )


def test_equal_marks_of_several_makers_are_asked():
    (found,) = asked(vehicle(ONE), vehicle(OTHER_MAKER, 70))
    assert found.name == "same-marks"
    assert "VINs begin 0ZZ, 9YY" in found.question
    assert not asked(
        vehicle(ONE), vehicle(OTHER_MAKER, 70, calibration="B", cvn="1" * 8)
    )


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"map_00": "BE1FA811"}, "support map 01/00 of 7E8: BE1FA811 or BE1FA813"),
        (
            {"cvn": "00000001", "calibration": "DEMO-ENG-0002"},
            "calibration ids of 7E8: DEMO-ENG-0001 or DEMO-ENG-0002",
        ),
    ],
)
def test_marks_that_a_vehicle_keeps_and_changed_are_asked(change, said):
    (found,) = asked(vehicle(ONE), vehicle(ONE, 70, **change))
    assert found.name == "changed-marks"
    assert said in found.question


def test_records_with_few_values_are_asked_nothing():
    """Nothing driven yet, or counts at their end: what many vehicles say alike."""
    low = {"warm_ups": 255, "distance": 65535, "minutes": 0, "odometer": 1203450}
    every = []
    for name, vin in (("a.json", ONE), ("b.json", TWO)):
        readout = decode(Vehicle(vin=vin, **low).readout())
        every.append(marks_of_readout(readout, "", name, name))
    assert look_alikes(every) == ()


def test_readouts_of_one_file_are_not_held_against_each_other():
    raw = vehicle(ONE).readout()
    twice = [marks_of_readout(decode(raw), raw, p, "one.json") for p in ("a", "b")]
    assert look_alikes(twice) == ()
