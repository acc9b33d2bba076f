"""A set of like readings. All cases invented.

Where a number is named, it comes from the checks of the formulas (test_gas,
test_curves) or is worked out by hand beside it.
"""

import pytest
from bench_inputs import each, given, instrument, limit
from bench_kinds import PSI, evaluate, value

from auditkit.bench import BenchOutcome


def cylinders(numbers: str, unit: str = "psi", **more):
    return given(
        {"reading of each member": each(f"{numbers} {unit}")},
        {"pressure reference": "gauge"},
        {"gauge": PSI, "meter": instrument("kPa (gauge)", "100", "0.01", "0.1")},
        measured_with={"reading of each member": "gauge" if unit == "psi" else "meter"},
        **more,
    )


def test_balance_of_a_set():
    # 118/172 = 0.686047; member 4 of the drops is 35.1852 % below the median 21.6.
    uneven = cylinders("168 172 165 170 118 171", limit=limit("%", low="75"))
    result = evaluate("balance", uneven)
    assert result.outcome is BenchOutcome.FAULTY
    assert value(result, "lowest to highest") == pytest.approx(68.6047, abs=0.01)
    assert any("Grubbs" in n and " exceeds" in n for n in result.notes)
    of = "deviation from the median"
    drops = cylinders(
        "21 22 21.5 14 22.2 21.7", "kPa", limit=limit("%", "-10", "10", of)
    )
    result = evaluate("balance", drops)
    assert result.outcome is BenchOutcome.FAULTY
    assert result.result.name.endswith("member 4")
    assert value(result, of) == pytest.approx(-35.1852, abs=0.01)
    even = cylinders(
        "21 22 21.5 21.6 22.2 21.7", "kPa", limit=limit("%", "-10", "10", of)
    )
    assert evaluate("balance", even).outcome is BenchOutcome.GOOD


def test_two_are_no_set():
    result = evaluate("balance", cylinders("168 118", limit=limit("%", low="75")))
    assert result.outcome is BenchOutcome.NOT_VALID
    assert "at least 3" in result.reasons[0]
