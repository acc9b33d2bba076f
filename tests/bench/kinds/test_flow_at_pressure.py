"""Flow through a leak at a pressure. All cases invented.

Where a number is named, it comes from the checks of the formulas (test_gas,
test_curves) or is worked out by hand beside it.
"""

import pytest
from bench_inputs import THERMOMETER, each, given, instrument, limit
from bench_kinds import evaluate, value

from auditkit.bench import BenchOutcome


def flow(litres="0.50 L/min", inlet="3.5 kPa (gauge)", gas="nitrogen", **more):
    return given(
        {"flow": litres, "inlet pressure": inlet, **more.pop("readings", {})},
        {
            "gas temperature": "20 degC",
            "barometer": "101.325 kPa",
            "gas": gas,
            "standard temperature": "20 degC",
            **more.pop("conditions", {}),
        },
        {
            "meter": instrument("L/min", "2", "0.01", "0.01"),
            "gauge": instrument("kPa (gauge)", "10", "0.01", "0.03"),
            "thermometer": THERMOMETER,
        },
        **more,
    )


HOLE = limit("in", high="0.020", of="effective leak diameter")


def test_flow_at_pressure():
    # 0.7107 L/min belongs to 0.020 in at 14 inH2O.
    good = evaluate("flow-at-pressure", flow(limit=HOLE))
    assert good.outcome is BenchOutcome.GOOD
    assert evaluate("flow-at-pressure", flow("1.20 L/min", limit=HOLE)).outcome is (
        BenchOutcome.FAULTY
    )
    edge = flow("0.7107 L/min", "3.48724474 kPa (gauge)", limit=HOLE)
    result = evaluate("flow-at-pressure", edge)
    assert result.outcome is BenchOutcome.INCONCLUSIVE
    assert value(result, "effective leak diameter") == pytest.approx(0.0200, abs=2e-5)
    # A coefficient of 0.6 gives about 13 % more; 0.7 gives sqrt(6/7) of that.
    assert value(result, "orifice diameter") / 0.020 == pytest.approx(1.05, abs=0.02)


def test_the_rig_leak_is_taken_off():
    blank = {"blank flow": each("0.20 L/min")[0]}
    result = evaluate(
        "flow-at-pressure", flow("0.60 L/min", readings=blank, limit=HOLE)
    )
    assert value(result, "flow") == pytest.approx(400, abs=1)
    less = flow("0.10 L/min", readings=blank, limit=HOLE)
    result = evaluate("flow-at-pressure", less)
    assert result.outcome is BenchOutcome.NOT_VALID
    assert "below that of the rig" in result.reasons[0]


def test_what_the_diameter_equation_does_not_cover():
    for wrong in (
        flow(gas="air", limit=HOLE),
        flow(inlet="0.5 kPa (gauge)", limit=HOLE),
    ):
        assert evaluate("flow-at-pressure", wrong).outcome is BenchOutcome.NOT_VALID


def test_flow_is_brought_to_the_pressure_of_the_limit():
    # Flow goes with the root of the pressure: 3.6 -> 3.5 kPa is a factor 0.98601.
    asked = {"specified pressure": "3.5 kPa"}
    most = limit("L/min", high="0.6")
    near = flow(inlet="3.6 kPa (gauge)", conditions=asked, limit=most)
    result = evaluate("flow-at-pressure", near)
    assert value(result, "flow") == pytest.approx(0.50 * 0.98601, abs=2e-4)
    far = flow(inlet="2.0 kPa (gauge)", conditions=asked, limit=most)
    assert evaluate("flow-at-pressure", far).outcome is BenchOutcome.NOT_VALID
