"""Voltage drop under load. All cases invented.

Where a number is named, it comes from the checks of the formulas (test_gas,
test_curves) or is worked out by hand beside it.
"""

import pytest
from bench_inputs import limit
from bench_kinds import drop, evaluate, value

from auditkit.bench import BenchOutcome


def test_voltage_drop_is_brought_to_rated_current():
    # Ohm: 0.2 V at 100 A is 2 mohm, 0.3 V at 150 A.
    result = evaluate("voltage-drop", drop(limit=limit("V", high="0.5")))
    assert result.outcome is BenchOutcome.GOOD
    assert value(result, "voltage drop") == pytest.approx(0.3, abs=1e-4)
    assert value(result, "resistance") == pytest.approx(2.0, abs=1e-3)
    assert evaluate("voltage-drop", drop(limit=limit("V", high="0.25"))).outcome is (
        BenchOutcome.FAULTY
    )


@pytest.mark.parametrize("amps", ["0.0 A", "0.3 A", "60 A"])
def test_a_drop_without_load_is_not_valid(amps):
    result = evaluate("voltage-drop", drop(amps=amps, limit=limit("V", high="0.5")))
    assert result.outcome is BenchOutcome.NOT_VALID
