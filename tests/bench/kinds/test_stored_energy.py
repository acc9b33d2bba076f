"""What a part keeps stored. All cases invented.

Where a number is named, it comes from the checks of the formulas (test_gas,
test_curves) or is worked out by hand beside it.
"""

import pytest
from bench_inputs import THERMOMETER, each, given, instrument, limit
from bench_kinds import FINE, PSI, VOLTS, evaluate, value

from auditkit.bench import BenchOutcome


def test_fuel_pressure_is_judged_alike_without_a_barometer():
    # 4 bar above the standard atmosphere; its kind asks for no barometer.
    found = []
    for air, reference in ((0.0, "gauge"), (101.325, "absolute")):
        unit = f"kPa ({reference})"
        series = " ".join(f"{p + air:.3f}" for p in (400, 390, 385))
        inputs = given(
            {"pressure": each(f"{series} {unit}"), "hold time": "300 s"},
            {"temperature": "40 degC", "required hold time": "300 s"},
            {"gauge": instrument(unit, "1000", "0.1", "70"), "thermometer": FINE},
            limit=limit(unit, low=f"{300 + air:.3f}", of="pressure at end"),
        )
        found.append(evaluate("stored-energy", inputs))
    # u = 70/sqrt 3 = 40.4 kPa: 385 lies 2.1 u above 300
    assert [r.outcome for r in found] == [BenchOutcome.GOOD] * 2
    assert found[0].probability == pytest.approx(found[1].probability, abs=1e-9)


def stored(readings, conditions, **more):
    instruments = {
        "gauge": PSI,
        "meter": VOLTS,
        "clamp": instrument("mA", "1000", "1", "2"),
        "thermometer": THERMOMETER,
    }
    return given(readings, conditions, instruments, **more)


def test_fuel_pressure_hold():
    readings = {"pressure": each("58 57 55 psig"), "hold time": "300 s"}
    conditions = {"temperature": "40 degC", "required hold time": "300 s"}
    most = limit("psi", high="5", of="loss of pressure")
    result = evaluate("stored-energy", stored(readings, conditions, limit=most))
    assert result.outcome is BenchOutcome.GOOD
    assert value(result, "loss of pressure") == pytest.approx(3, abs=0.01)
    readings["pressure"] = each("58 40 psig")
    result = evaluate("stored-energy", stored(readings, conditions, limit=most))
    assert result.outcome is BenchOutcome.FAULTY
    readings["hold time"] = "100 s"
    result = evaluate("stored-energy", stored(readings, conditions, limit=most))
    assert result.outcome is BenchOutcome.NOT_VALID


def test_battery_under_load():
    readings = {"voltage": each("12.5 9.2 V"), "hold time": "15 s"}
    conditions = {"temperature": "21 degC", "load current": "300 A"}
    least = limit("V", low="9.6")
    result = evaluate("stored-energy", stored(readings, conditions, limit=least))
    assert result.outcome is BenchOutcome.FAULTY
    del conditions["load current"]
    result = evaluate("stored-energy", stored(readings, conditions, limit=least))
    assert "load current is missing" in result.reasons[0]


def test_parasitic_draw_waits_for_sleep():
    # 30 mA is 720 mA h a day.
    readings = {"current": each("30 30 30 30 mA")}
    asleep = {"time since shutdown": "60 min", "time until asleep": "40 min"}
    most = limit("mA", high="50")
    result = evaluate("stored-energy", stored(readings, asleep, limit=most))
    assert result.outcome is BenchOutcome.GOOD
    assert any("720 mA h" in note for note in result.notes)
    # The error of the instrument does not average out: +/- 2 and a step of 1.
    uncertainty = float(result.result.standard_uncertainty.text)
    assert uncertainty == pytest.approx(1.19, abs=0.05)
    awake = asleep | {"time since shutdown": "10 min"}
    result = evaluate("stored-energy", stored(readings, awake, limit=most))
    assert result.outcome is BenchOutcome.NOT_VALID


def test_one_store_a_test():
    readings = {"voltage": each("12.5 9.2 V"), "current": "30 mA", "hold time": "15 s"}
    result = evaluate("stored-energy", stored(readings, {}, limit=limit("V", "9")))
    assert "give one of" in result.reasons[0]
