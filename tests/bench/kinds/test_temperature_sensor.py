"""A sensor whose resistance follows its temperature. All cases invented.

Where a number is named, it comes from the checks of the formulas (test_gas,
test_curves) or is worked out by hand beside it.
"""

import pytest
from bench_inputs import THERMOMETER, each, given, instrument, limit
from bench_kinds import evaluate, value

from auditkit.bench import BenchOutcome


def sensor(ohms, temperatures, conditions, limits=("-2", "2")):
    meter = instrument("ohm", "40000", "0.01", "0.05")
    return given(
        {"sensor resistance": each(ohms), "bath temperature": each(temperatures)},
        conditions,
        {"meter": meter, "thermometer": THERMOMETER},
        limit=limit("K", *limits),
    )


BETA = {"curve": "beta", "resistance at 25 celsius": "10 kohm", "beta": "3950 K"}
HART = {
    "curve": "steinhart-hart",
    **{f"curve temperature {i}": f"{t} degC" for i, t in ((1, 0), (2, 25), (3, 70))},
    **{
        f"curve resistance {i}": f"{r} ohm"
        for i, r in ((1, 32650), (2, 10000), (3, 1752))
    },
}


def test_temperature_sensor():
    good = sensor("12535.33 3588.18 ohm", "20.0 50.0 degC", BETA)
    assert evaluate("temperature-sensor", good).outcome is BenchOutcome.GOOD
    drifted = sensor("12535.33 3588.18 ohm", "20.0 56.0 degC", BETA)
    result = evaluate("temperature-sensor", drifted)
    assert result.outcome is BenchOutcome.FAULTY
    assert value(result, "temperature error, at 56.0 degC") == pytest.approx(
        -6, abs=1e-2
    )
    platinum = sensor(
        "100.00 138.51 ohm",
        "0.0 100.0 degC",
        {"curve": "IEC 60751", "resistance at 0 celsius": "100 ohm"},
    )
    assert evaluate("temperature-sensor", platinum).outcome is BenchOutcome.GOOD


def test_a_curve_through_points_is_not_stretched():
    near = sensor("19900 3603 ohm", "10.0 50.0 degC", HART)
    assert evaluate("temperature-sensor", near).outcome is BenchOutcome.GOOD
    far = sensor("19900 680 ohm", "10.0 100.0 degC", HART)
    result = evaluate("temperature-sensor", far)
    assert result.outcome is BenchOutcome.NOT_VALID
    assert "outside the points" in result.reasons[0]


def test_a_sensor_wants_pairs_and_a_whole_curve():
    odd = sensor("12535 3588 3000 ohm", "20.0 50.0 degC", BETA)
    assert "do not pair" in evaluate("temperature-sensor", odd).reasons[0]
    none = sensor("12535 3588 ohm", "20.0 50.0 degC", {"curve": "beta"})
    assert "missing" in evaluate("temperature-sensor", none).reasons[0]


@pytest.mark.parametrize("hot", ["20.0", "29.9"])
def test_one_temperature_alone_is_refused(hot):
    """Read twice in one bath, a sensor that follows no curve may lie near it there."""
    twice = sensor("9000 9000 ohm", f"20.0 {hot} degC", BETA)
    result = evaluate("temperature-sensor", twice)
    assert result.outcome is BenchOutcome.NOT_VALID
    assert "one temperature" in result.reasons[0]


def test_a_curve_without_a_temperature_for_a_resistance():
    wild = sensor("12535 0.01 ohm", "20.0 50.0 degC", BETA | {"beta": "100 K"})
    assert "gives no temperature" in evaluate("temperature-sensor", wild).reasons[0]
