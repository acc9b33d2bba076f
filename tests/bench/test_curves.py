"""Copper, thermistors, platinum, straight lines, outliers, known-good parts."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from uncertainties import ufloat

from auditkit.bench import comparison
from auditkit.bench.kinds import balance, winding
from auditkit.bench.physics import sensor_curves as curves
from auditkit.bench.physics.straight_line import line_through
from auditkit.errors import InputError

ZERO = 273.15

NORRIS = """
0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5
996.3 449.1 448.6 778.9 777.0 559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9
339.3 338.0 448.9 447.5 10.8 11.6 557.7 556.0 228.3 228.1 998.0 995.8 888.8 887.6
119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1 888.0 887.2 998.5 999.0 778.9
779.0 10.2 11.1 117.6 118.3 228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5
"""
"""y x y x ...: NIST StRD, linear regression, Norris; 36 points."""


def test_norris():
    # NIST StRD Norris, certified values.
    numbers = [Fraction(text) for text in NORRIS.split()]
    y, x = numbers[0::2], numbers[1::2]
    assert len(x) == 36
    line = line_through(x, y)
    residual_sd = math.sqrt(sum(r * r for r in line.residuals) / (len(x) - 2))
    certified = {
        "slope": (line.slope, 1.00211681802045),
        "intercept": (line.intercept, -0.262323073774029),
        "residual sd": (residual_sd, 0.884796396144373),
    }
    for name, (got, wanted) in certified.items():
        assert float(got) == pytest.approx(wanted, rel=1e-13), name


def test_a_pressure_sensor_line():
    # Invented points; computed with scipy's linregress.
    x = [Fraction(v) for v in (20, 40, 60, 80, 100)]
    y = [Fraction(v) for v in ("0.79", "1.59", "2.41", "3.20", "3.99")]
    line = line_through(x, y)
    assert line.slope == Fraction("0.04005")
    assert line.intercept == Fraction("-0.007")
    assert max(map(abs, line.residuals)) == Fraction("0.014")


@given(st.lists(st.tuples(st.integers(-99, 99), st.integers(-99, 99)), min_size=3))
def test_line_against_scipy(points):
    x, y = [Fraction(a) for a, _ in points], [Fraction(b) for _, b in points]
    if len(set(x)) == 1:
        with pytest.raises(InputError, match="same stimulus"):
            line_through(x, y)
        return
    line, wanted = line_through(x, y), stats.linregress(*zip(*points, strict=True))
    assert float(line.slope) == pytest.approx(wanted.slope, abs=1e-9)
    assert float(line.intercept) == pytest.approx(wanted.intercept, abs=1e-9)
    assert sum(line.residuals) == 0


def test_copper():
    # IEC 60028, 0.00393 /K at 20 degC; 234.5 degC is the trade's rounding of where
    # the line meets zero. Computed by hand.
    def hot(celsius: float) -> float:
        return 1 / winding.copper_at(1.0, celsius + ZERO)

    assert hot(80) == pytest.approx(1.2358)
    assert hot(100) == pytest.approx(1.3144)
    assert hot(80) == pytest.approx((234.5 + 80) / (234.5 + 20), rel=1e-4)
    assert winding.copper_at(14.0, 65 + ZERO) == pytest.approx(11.896163487, abs=1e-9)
    assert pytest.approx(234.452926, abs=1e-6) == 1 / winding.ALPHA_20 - 20
    back = winding.copper_at(winding.copper_at(5.0, 350.0), winding.T_20, 350.0)
    assert back == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("celsius", "ohm"),
    [
        (0, 33620.60372),
        (20, 12535.32581),
        (25, 10000),
        (50, 3588.182582),
        (80, 1270.320235),
        (100, 697.519773),
    ],
)
def test_beta_thermistor(celsius, ohm):
    # Computed from the beta equation: 10 kohm, beta 3950.
    got = curves.beta_temperature(ohm, 10000, 3950)
    assert got - ZERO == pytest.approx(celsius, abs=1e-6)


def test_steinhart_hart_of_a_textbook():
    # Widely reproduced example, 25/10/4 kohm at 5/25/45 degC: A 2.1085e-3 (from
    # memory); further digits computed with numpy.
    points = ((5 + ZERO, 25e3), (25 + ZERO, 10e3), (45 + ZERO, 4e3))
    a, b, c = curves.steinhart_hart(points)
    assert a == pytest.approx(2.10850817e-3, rel=1e-8)
    assert b == pytest.approx(7.97920473e-5, rel=1e-8)
    assert c == pytest.approx(6.53507631e-7, rel=1e-8)
    for kelvin, ohm in points:
        got = curves.steinhart_hart_temperature(ohm, a, b, c)
        assert got == pytest.approx(kelvin, abs=1e-9)


def test_steinhart_hart_of_a_table():
    # A generic 10 kohm table gives 10, 50 and 100 degC for the last three; computed.
    table = ((0 + ZERO, 32650.0), (25 + ZERO, 10000.0), (70 + ZERO, 1752.0))
    abc = curves.steinhart_hart(table)
    assert abc == pytest.approx((1.12846385e-3, 2.34227258e-4, 8.73395137e-8), rel=1e-7)
    for ohm, celsius, nominal in (
        (19900, 10.002740, 10),
        (3603, 49.988840, 50),
        (680, 99.936052, 100),
    ):
        got = curves.steinhart_hart_temperature(ohm, *abc) - ZERO
        assert got == pytest.approx(celsius, abs=1e-5)
        assert got == pytest.approx(nominal, abs=0.1)


def test_a_curve_through_fewer_points_is_refused():
    with pytest.raises(InputError, match="three different points"):
        curves.steinhart_hart(((280.0, 5.0), (280.0, 5.0), (300.0, 4.0)))


@pytest.mark.parametrize(
    ("celsius", "ohm", "table"),
    [
        (-50, 80.306281875, "80.31"),
        (0, 100.0, "100.00"),
        (100, 138.5055, "138.51"),
        (200, 175.856, "175.86"),
        (400, 247.092, "247.09"),
        (850, 390.481125, "390.48"),
    ],
)
def test_platinum(celsius, ohm, table):
    # IEC 60751:2022 table values (from memory) and digits computed from its formula.
    got = 100 * curves.platinum_ratio(celsius)
    assert got == pytest.approx(ohm, abs=1e-9)
    assert abs(got - float(table)) <= 0.0051
    back = curves.platinum_temperature(ohm, 100.0)
    assert back - ZERO == pytest.approx(celsius, abs=1e-6)


@given(st.floats(-199.9, 849.9))
def test_platinum_there_and_back(celsius):
    ohm = 100 * curves.platinum_ratio(celsius)
    back = curves.platinum_temperature(ohm, 100.0)
    assert back - ZERO == pytest.approx(celsius, abs=1e-7)


def test_platinum_beyond_its_range_is_refused():
    with pytest.raises(InputError, match="-200 to 850"):
        curves.platinum_temperature(400.0, 100.0)


def test_outlier_of_a_set_of_six():
    # Invented compressions; Grubbs' formulas computed with scipy.
    values = [168, 172, 165, 170, 118, 171]
    assert balance.grubbs(values) == pytest.approx(2.0270019943, abs=1e-10)
    assert balance.grubbs_critical(6, 0.05) == pytest.approx(1.8871451178, abs=1e-9)
    assert balance.grubbs([3, 3, 3]) == 0


@pytest.mark.parametrize("count", [3, 4, 8, 20, 100])
def test_grubbs_against_scipy(count):
    t = stats.t.ppf(1 - 0.05 / (2 * count), count - 2)
    wanted = (count - 1) / math.sqrt(count) * math.sqrt(t * t / (count - 2 + t * t))
    assert balance.grubbs_critical(count, 0.05) == pytest.approx(wanted, rel=1e-9)


def test_median_of_a_set():
    # Invented injector drops; by hand.
    assert balance.median_of([21, 22, 21.5, 14, 22.2, 21.7]) == pytest.approx(21.6)
    assert balance.median_of([3.0, 1.0, 2.0]) == 2.0


@pytest.mark.parametrize(
    ("part", "good", "error"),
    [
        ((10.05, 0.08), (9.95, 0.05), 1.059997880006375),
        ((2.31, 0.06), (2.45, 0.05), -1.7925163190605453),
    ],
)
def test_normalised_error(part, good, error):
    # ISO/IEC 17043 Annex B (formula from memory), expanded uncertainties; computed.
    one, two = (ufloat(value, expanded / 2) for value, expanded in (part, good))
    assert comparison.normalised_error(one, two) == pytest.approx(error, rel=1e-12)
