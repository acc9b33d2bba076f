"""Resistance and current of a winding. All cases invented.

Where a number is named, it comes from the checks of the formulas (test_gas,
test_curves) or is worked out by hand beside it.
"""

from fractions import Fraction

import pytest
from bench_inputs import given, instrument, limit
from bench_kinds import AMPS, VOLTS, evaluate, value

from auditkit.bench import Accuracy, BenchOutcome

OHMS = instrument(
    "ohm",
    "40000",
    "0.01",
    "0.03",
    accuracy=Accuracy(percent_of_reading=Fraction("0.5"), absolute=Fraction("0.03")),
)


def coil(ohm="14.00 ohm", celsius="65 degC", conductor="copper", **more):
    return given(
        {"resistance": ohm, **more.pop("readings", {})},
        {"winding temperature": celsius, "conductor": conductor},
        {
            "meter": OHMS,
            "thermometer": instrument("degC", "200", "0.1", "2"),
            "volts": VOLTS,
            "amps": AMPS,
        },
        **more,
    )


def test_a_hot_coil_is_corrected():
    # 14.00 ohm at 65 degC: 11.8962 ohm at 20 degC, u 0.0672 with +/- (0.5 % + 0.03
    # ohm) and +/- 2 degC. Uncorrected it would fail 11 to 13.
    result = evaluate("winding", coil(limit=limit("ohm", "11", "13")))
    assert result.outcome is BenchOutcome.GOOD
    assert value(result, "resistance") == pytest.approx(11.896, abs=6e-4)
    uncertainty = float(result.result.standard_uncertainty.text)
    assert uncertainty == pytest.approx(0.0671622, abs=5e-4)
    assert evaluate("winding", coil(limit=limit("ohm", "12.2", "14"))).outcome is (
        BenchOutcome.FAULTY
    )


def test_only_copper_is_corrected():
    heater = coil("6.0 ohm", conductor="other", limit=limit("ohm", "5", "8"))
    result = evaluate("winding", heater)
    assert result.outcome is BenchOutcome.NOT_VALID
    assert "maker's curve" in result.reasons[0]
    cold = coil("6.0 ohm", "20 degC", "other", limit=limit("ohm", "5", "8"))
    assert evaluate("winding", cold).outcome is BenchOutcome.GOOD
    hot = coil(celsius="180 degC", limit=limit("ohm", "11", "13"))
    assert evaluate("winding", hot).outcome is BenchOutcome.NOT_VALID


def test_current_against_the_expected():
    # 13.5 V over 6 ohm: 2.25 A.
    more = {"supply voltage": "13.5 V", "current": "2.3 A"}
    result = evaluate("winding", coil("6.0 ohm", "20 degC", readings=more))
    assert any("2.25 A" in n and "agrees" in n for n in result.notes)
    more["current"] = "9.0 A"
    result = evaluate("winding", coil("6.0 ohm", "20 degC", readings=more))
    assert any("does not agree" in n for n in result.notes)


def test_lead_resistance_and_driver_are_taken_off():
    # 6.2 less 0.2 ohm; 13.5 less 1.5 V over 6 ohm is 2 A.
    more = {
        "lead resistance": "0.2 ohm",
        "supply voltage": "13.5 V",
        "driver voltage": "1.5 V",
    }
    result = evaluate("winding", coil("6.2 ohm", "20 degC", readings=more))
    assert value(result, "resistance") == pytest.approx(6.0, abs=1e-3)
    assert any("expected current 2 A" in note for note in result.notes)
    more = {"lead resistance": "7 ohm"}
    result = evaluate("winding", coil("6.2 ohm", "20 degC", readings=more))
    assert "the leads have 7 ohm of 6.2 read" in result.reasons[0]
