"""Units that have to be confirmed, columns that are said, claims that are asked about.

All cases invented but where a source is named.
"""

from dataclasses import replace
from fractions import Fraction

import pytest
from bench_inputs import each, given, instrument, limit, q
from bench_kinds import AT_LEAST_8, drop, evaluate, hold

from auditkit.bench import Accuracy, BenchOutcome
from auditkit.bench.claims import doubtful_claims
from auditkit.bench.same_units import differ
from auditkit.bench.units import QuantityKind, unit_of

NOT_VALID, FAULTY = BenchOutcome.NOT_VALID, BenchOutcome.FAULTY


@pytest.mark.parametrize(
    ("one", "two", "are_two"),
    [
        ("kPa", "bar", False),
        ("mV", "kV", False),
        ("mL", "cm3", False),
        ("kPa", "psi", True),
        ("inHg", "mmHg", True),
        ("inH2O", "inHg", True),
        ("degC", "degF", True),
        ("degC", "K", True),
        ("inH2O", "inH2O at 60 degF", True),
        ("N m", "lbf ft", True),
        ("mm", "in", True),
        ("in", "mil", False),
    ],
)
def test_powers_of_ten_are_one_unit(one, two, are_two):
    assert differ(unit_of(one), unit_of(two)) is are_two
    assert differ(unit_of(two), unit_of(one)) is are_two


def read(text, confirmed=None, meter="psi (gauge)"):
    conditions = {"unit of pressure": confirmed} if confirmed else {}
    gauge = instrument(meter, "1000", "0.1", "0.5")
    inputs = given(
        {"pressure": text},
        conditions,
        {"gauge": gauge},
        limit=limit("kPa", low="300"),
    )
    return evaluate("direct-reading", inputs)


def test_another_unit_than_the_instrument_shows_is_confirmed_first():
    found = read("180 kPa (gauge)")
    assert found.outcome is NOT_VALID
    assert "gauge shows psi" in found.reasons[0]
    assert "'unit of pressure' as 'kPa (gauge)'" in found.reasons[0]
    assert read("180 kPa (gauge)", "psi (gauge)").outcome is NOT_VALID
    assert read("180 kPa (gauge)", "kPa (gauge)").outcome is FAULTY
    assert read("1.80 bar (gauge)", meter="kPa (gauge)").outcome is FAULTY


def test_sister_readings_are_in_one_unit():
    meter = instrument("degC", "110", "0.1", "0.5")
    readings = {
        "sensor resistance": each("12535 3588 ohm"),
        "bath temperature": [q("20.0 degC"), q("122.0 degF")],
    }
    conditions = {"curve": "beta", "resistance at 25 celsius": "10 kohm"}
    conditions |= {"beta": "3950 K"}
    instruments = {"t": meter, "o": instrument("ohm", "40000", "1", "40")}
    inputs = given(readings, conditions, instruments, limit=limit("K", "-5", "5"))
    found = evaluate("temperature-sensor", inputs)
    assert found.outcome is NOT_VALID
    assert "122.0 degF was written" in found.reasons[0]
    both = {"barometer": "1013.25 hPa", "barometer at end": "29.92 inHg"}
    late = evaluate("seal-hold", hold(limit=AT_LEAST_8, conditions=both))
    assert late.outcome is NOT_VALID
    assert "barometer is in hPa" in late.reasons[0]


def test_kelvin_stands_nowhere_where_degrees_were_typed():
    degrees = instrument("degC", "150", "0.1", "0.5")
    meter = instrument("ohm", "40000", "1", "40")
    ohms = {"sensor resistance": each("12535 3588 ohm")}
    ohms["bath temperature"] = each("20.0 50.0 degC")
    curve = {"curve": "IEC 60751", "resistance at 0 celsius": "10000 ohm"}
    sensor = given(ohms, curve, {"o": meter, "t": degrees})
    coil = given(
        {"resistance": "140 ohm"},
        {"winding temperature": "65.0 degC", "conductor": "copper"},
        {"o": meter, "t": degrees},
    )
    cases = {
        "temperature-sensor": sensor,
        "winding": coil,
        "seal-hold": hold(limit=AT_LEAST_8),
    }
    for kind, inputs in cases.items():
        found = evaluate(kind, inputs)
        said = [str(found.result), *map(str, found.others), *found.notes]
        assert found.result is not None
        assert not [text for text in said if " K" in text], (kind, said)


@pytest.mark.parametrize(
    ("unit", "pascals"),
    [
        # NIST SP 811 Appendix B.8, from memory, as printed.
        ("inH2O at 4 degC", 249.082),
        ("inH2O at 60 degF", 248.84),
        ("inHg at 32 degF", 3386.38),
        ("inHg at 60 degF", 3376.85),
        # density x 0.0254 m x 9.80665 m/s2; water at 20 degC 998.207 kg/m3 (CIPM
        # 2001), mercury 13545.85 kg/m3: from memory
        ("inH2O at 68 degF", 998.207 * 0.0254 * 9.80665),
        ("inHg at 68 degF", 13545.85 * 0.0254 * 9.80665),
    ],
)
def test_columns_at_a_temperature(unit, pascals):
    found = unit_of(f"{unit} (vacuum)", QuantityKind.PRESSURE)
    assert float(found.factor) == pytest.approx(pascals, rel=2e-5)
    assert len(f"{unit} (differential)") <= 32


def test_which_column_is_meant_is_said():
    found = evaluate("seal-hold", hold(limit=AT_LEAST_8))
    (said,) = [note for note in found.notes if "conventional" in note]
    assert said.startswith("inH2O is the conventional one, 249.089 Pa")
    assert not any("conventional" in n for n in read("180 psi (gauge)").notes)


@pytest.mark.parametrize(
    ("unit", "high", "step", "accuracy", "doubted"),
    [
        ("V", "20", "0.01", {"absolute": "0.004"}, "half a digit"),
        ("V", "20", "0.01", {"digits": "0.4"}, "half a digit"),
        ("V", "20", "0.01", {"absolute": "0.005"}, ""),
        ("V", "20", "0.001", {"percent_of_reading": "0.5", "digits": "2"}, ""),
        ("V", "20", "0.0001", {"absolute": "0.001"}, "% of its range"),
        ("psi (gauge)", "300", "0.1", {"percent_of_span": "0.05"}, "% of its range"),
        ("psi (gauge)", "300", "0.1", {"percent_of_span": "0.1"}, ""),
        ("psi (gauge)", "300", "1", {"percent_of_span": "1.6"}, ""),
    ],
)
def test_a_claim_that_cannot_be_is_asked_about_and_decides_nothing(
    unit, high, step, accuracy, doubted
):
    limits = Accuracy(**{name: Fraction(text) for name, text in accuracy.items()})
    meter = instrument(unit, high, step, "0", accuracy=limits)
    found = list(doubtful_claims(given({}, {}, {"meter": meter})))
    assert bool(found) is bool(doubted)
    assert doubted in "".join(found)


def test_an_unused_instrument_of_an_unknown_unit_is_asked_about():
    inputs = drop(limit=limit("V", high="0.25"))
    names = {"voltage drop": "meter", "load current": "clamp"}
    more = {**inputs.instruments, "odd": instrument("furlong", "10", "0.1", "1")}
    inputs = replace(inputs, instruments=more, measured_with=names)
    found = evaluate("voltage-drop", inputs)
    assert found.outcome is FAULTY
    assert found.doubts == ("odd: 'furlong' is not a known unit",)


def test_a_doubt_stands_beside_the_outcome():
    inputs = drop(limit=limit("V", high="0.25"))
    fine = replace(inputs.instruments["meter"], accuracy=Accuracy())
    found = evaluate(
        "voltage-drop",
        replace(inputs, instruments={**inputs.instruments, "meter": fine}),
    )
    assert found.outcome is FAULTY
    assert found.doubts[0].startswith("meter claims +/- 0 V, less than half a digit")
