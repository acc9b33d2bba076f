"""A sensor whose output is a line of its stimulus. All cases invented.

Where a number is named, it comes from the checks of the formulas (test_gas,
test_curves) or is worked out by hand beside it.
"""

import pytest
from bench_inputs import each, given, instrument, limit
from bench_kinds import VOLTS, evaluate, value

from auditkit.bench import BenchOutcome


def transfer(volts: str, stimuli="20 40 60 80 100 kPa (absolute)", **more):
    return given(
        {"stimulus": each(stimuli), "output": each(volts)},
        {
            "specified stimulus low": "20 kPa (absolute)",
            "specified stimulus high": "100 kPa (absolute)",
            "specified output low": "0.8 V",
            "specified output high": "4.0 V",
            **more.pop("conditions", {}),
        },
        {"pump": instrument("kPa", "200", "0.1", "0.3"), "meter": VOLTS},
        limit=limit("V", "-0.1", "0.1"),
        **more,
    )


@pytest.mark.parametrize(
    ("volts", "outcome"),
    [
        ("0.79 1.59 2.41 3.20 3.99 V", BenchOutcome.GOOD),
        ("0.79 1.59 2.81 3.20 3.99 V", BenchOutcome.FAULTY),
        ("0.79 1.59 2.49 3.20 3.99 V", BenchOutcome.INCONCLUSIVE),
    ],
)
def test_every_point_of_a_line_is_judged(volts, outcome):
    result = evaluate("linear-transfer", transfer(volts))
    assert result.outcome is outcome
    if outcome is not BenchOutcome.GOOD:
        assert "point 3" in result.result.name
        # 60 kPa belongs to 2.4 V on the specified line.
        error = float(volts.split()[2]) - 2.4
        assert value(result, "output error") == pytest.approx(error, abs=1e-3)


def test_a_line_of_vacuum_readings_wants_the_barometer():
    # 81.3, 51.3 and 21.3 kPa below 101.3 kPa are 20, 50 and 80 kPa absolute.
    vacuum = "81.3 51.3 21.3 kPa (vacuum)"
    alone = evaluate("linear-transfer", transfer("0.80 2.00 3.20 V", vacuum))
    assert alone.outcome is BenchOutcome.NOT_VALID
    assert "without the barometer" in alone.reasons[0]
    air = {"barometer": "101.3 kPa", "uncertainty of barometer": "0.05 kPa"}
    inputs = transfer("0.80 2.00 3.20 V", vacuum, conditions=air)
    assert evaluate("linear-transfer", inputs).outcome is BenchOutcome.GOOD


def test_a_line_wants_pairs_and_stimuli_that_differ():
    odd = evaluate("linear-transfer", transfer("0.8 1.6 2.4 V"))
    assert "do not pair" in odd.reasons[0]
    same = transfer("0.8 0.8 0.8 V", "20 20 20 kPa (absolute)")
    assert "same stimulus" in evaluate("linear-transfer", same).reasons[0]


def test_stimulus_and_specification_are_of_one_kind():
    other = {"specified stimulus low": "5 deg"}
    inputs = transfer("0.8 1.6 2.4 3.2 4.0 V", conditions=other)
    assert "differ: angle, pressure" in evaluate("linear-transfer", inputs).reasons[0]
