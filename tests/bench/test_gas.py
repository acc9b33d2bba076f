"""Leak rate, openings and decay against regulation, handbook and the fluids library.

"Computed" values come from numpy and scipy, independently of this code.
"""

from __future__ import annotations

import math

import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from auditkit.bench.kinds.flow_at_pressure import effective_leak_diameter
from auditkit.bench.physics import gas

INCH = 0.0254
WATER = 249.08891
AIR = 101325.0
T = 293.15
HIGH, LOW = AIR + 14 * WATER, AIR + 8 * WATER


def area_of(inches: float, coefficient: float = 0.6) -> float:
    return coefficient * math.pi * (inches * INCH) ** 2 / 4


def test_leak_rate_of_the_regulation():
    # 40 CFR 1065.644, example; its inputs read in the text, its answer 0.00030 mol/s
    # from memory. The regulation writes a gain.
    gain = -gas.moles_lost(0.0020000, (25300, T), (50600, T), 8.314472) / 70
    assert gain == pytest.approx(2.9657046846399363e-4, rel=1e-12)
    assert f"{gain:.5f}" == "0.00030"


def test_leak_rate_of_a_tank():
    # Computed: 40 L, 14 -> 8 inH2O in 120 s, 20 degC.
    rate = gas.moles_lost(0.040, (HIGH, T), (LOW, T)) / 120
    assert rate == pytest.approx(2.0439031090757417e-4, rel=1e-9)
    assert rate * gas.R * T == pytest.approx(0.498177820, abs=1e-9)
    for standard, flow in (
        (273.15, 274.87189),
        (288.7055556, 290.52553),
        (293.15, 294.99797),
    ):
        assert gas.standard_flow(rate, standard) * 6e7 == pytest.approx(flow, abs=1e-4)


def test_one_kelvin_looks_like_a_leak():
    # Computed: at 14 inH2O a drift of 1 K moves the gauge by 357.538 Pa; what a rise
    # of 1 K hides in 40 L and 120 s is 70.3326 cm3/min at 20 degC.
    warmed = HIGH * (T + 1) / T
    assert warmed - HIGH == pytest.approx(357.538, abs=1e-3)
    hidden = gas.moles_lost(0.040, (HIGH, T), (HIGH, T + 1)) / 120
    assert gas.standard_flow(hidden, T) * 6e7 == pytest.approx(70.3326, abs=1e-4)
    assert gas.moles_lost(0.040, (HIGH, T), (warmed, T + 1)) == pytest.approx(
        0, abs=1e-15
    )


def test_volume_by_expansion():
    # Boyle's law by hand: 2 L at +5 kPa into V at 0 settles at +0.25 kPa: 38 L.
    assert gas.volume_by_expansion(2.0, 5.0, 0.25, 0.0) == pytest.approx(38.0)


def test_critical_ratio_against_fluids():
    # Doctest value published with fluids.P_critical_flow.
    assert fluids.P_critical_flow(1e6, 1.4) == pytest.approx(528281.7877171742)
    assert pytest.approx(0.5282817877171742, rel=1e-14) == gas.CRITICAL_RATIO
    choked = gas.CHOKED
    assert choked == pytest.approx(0.6847314563772704, rel=1e-14)


@given(st.floats(0.76, 0.9999))
def test_subsonic_flow_against_fluids(ratio):
    # Isentropic nozzle of ISO 5167-3 as beta goes to 0 (fluids): times the flow of an
    # incompressible gas it is ours.
    up, down = AIR, AIR * ratio
    density = up / (gas.R_AIR * T)
    incompressible = math.sqrt(2 * density * (up - down))
    epsilon = fluids.nozzle_expansibility(1.0, 1e-9, up, down, 1.4)
    assert gas.flow_per_area(up, down, T) == pytest.approx(
        incompressible * epsilon, rel=1e-9
    )


def test_orifice_and_nozzle_form_at_14_inches():
    # Computed: 0.98 % apart; epsilon 0.991618173194046 (ISO 5167-2:2003 5.3.2.2).
    epsilon = fluids.orifice_expansibility(1.0, 1e-9, HIGH, AIR, 1.4)
    assert epsilon == pytest.approx(0.991618173194046, rel=1e-9)
    density = HIGH / (gas.R_AIR * T)
    orifice = epsilon * math.sqrt(2 * density * (HIGH - AIR))
    assert orifice / gas.flow_per_area(HIGH, AIR, T) - 1 == pytest.approx(
        0.0098, abs=5e-5
    )


@pytest.mark.parametrize(
    ("inches", "kg_s", "at_0", "at_20"),
    [
        (0.020, 1.113066725796226e-5, 516.7996, 554.6396),
        (0.040, 4.452266903184904e-5, 2067.1985, 2218.5585),
    ],
)
def test_flow_of_small_openings(inches, kg_s, at_0, at_20):
    # Computed: 14 inH2O, discharge coefficient 0.6.
    flow = area_of(inches) * gas.flow_per_area(HIGH, AIR, T)
    assert flow == pytest.approx(kg_s, rel=1e-12)
    moles = flow / gas.MOLAR_MASS_AIR
    assert gas.standard_flow(moles, 273.15) * 6e7 == pytest.approx(at_0, abs=1e-3)
    assert gas.standard_flow(moles, 293.15) * 6e7 == pytest.approx(at_20, abs=1e-3)


@pytest.mark.parametrize(
    ("inches", "scfm", "table"),
    [
        (1 / 64, 0.400191, 0.406),
        (1 / 32, 1.600764, 1.62),
        (1 / 16, 6.403055, 6.49),
    ],
)
def test_choked_flow_of_compressed_air(inches, scfm, table):
    # Computed; compressed-air leak tables (from memory) lie within 1.5 %. 100 psi gauge
    # over 14.696 psi, standard air 60 degF and 14.696 psi, coefficient 1.
    psi = 6894.757293168361
    flow = area_of(inches, 1.0) * gas.flow_per_area(114.696 * psi, 14.696 * psi, T)
    density = 14.696 * psi / (gas.R_AIR * (60 + 459.67) * 5 / 9)
    cubic_feet = flow / density / 4.719474432e-4
    assert cubic_feet == pytest.approx(scfm, rel=2e-4)
    assert cubic_feet == pytest.approx(table, rel=0.015)


def test_no_flow_uphill():
    assert gas.flow_per_area(AIR, AIR, T) == 0
    assert gas.flow_per_area(AIR, HIGH, T) == 0


@given(st.floats(20000, 400000), st.floats(250, 330))
def test_flow_grows_as_the_pressure_falls(down, temperature):
    up = 400001.0
    more = gas.flow_per_area(up, down * 0.9, temperature)
    assert more >= gas.flow_per_area(up, down, temperature)


DECAYS = [
    (10, 0.020, 18.169065, 18.151733, 74.401194, 74.370692),
    (20, 0.020, 36.338130, 36.303467, 148.802388, 148.741385),
    (40, 0.010, 290.705039, 290.427732, 1190.419107, 1189.931078),
    (40, 0.020, 72.676260, 72.606933, 297.604777, 297.482770),
    (40, 0.040, 18.169065, 18.151733, 74.401194, 74.370692),
    (60, 0.020, 109.014389, 108.910400, 446.407165, 446.224154),
    (60, 0.040, 27.253597, 27.227600, 111.601791, 111.556039),
]


@pytest.mark.parametrize("row", DECAYS)
def test_time_of_a_decay(row):
    # Computed with scipy's quad: 14 -> 8 and 14 -> 0 inH2O, coefficient 0.6; beside
    # each the square-root law, which the decay follows to 0.1 %.
    litres, inches, to_8, law_8, to_0, law_0 = row
    volume, area = litres / 1000, area_of(inches)
    for end, exact, law in ((8, to_8, law_8), (0, to_0, law_0)):
        time = volume / area * gas.hold_integral(HIGH, AIR + end * WATER, AIR, T)
        assert time == pytest.approx(exact, abs=2e-6 * exact)
        assert time == pytest.approx(law, rel=1e-3)


@pytest.mark.parametrize(
    ("litres", "six", "eight"),
    [
        (10, 0.00778226, 0.00673963),
        (20, 0.01100578, 0.00953128),
        (40, 0.01556452, 0.01347927),
        (60, 0.01906256, 0.01650866),
    ],
)
def test_diameter_that_just_fails(litres, six, eight):
    # Computed: 14 -> 8 inH2O in 120 s, coefficients 0.6 and 0.8.
    integral = gas.hold_integral(HIGH, LOW, AIR, T)
    area = gas.effective_area(litres / 1000, 120, integral)
    assert gas.diameter(area, 0.6) / INCH == pytest.approx(six, abs=2e-8)
    assert gas.diameter(area, 0.8) / INCH == pytest.approx(eight, abs=2e-8)


@pytest.mark.parametrize(
    ("start", "end"), [(AIR + 3000, AIR + 10), (3 * AIR, 1.2 * AIR), (40000, 60000)]
)
def test_hold_integral_against_scipy(start, end):
    # Loss at low pressure, through the choked range, and a vacuum that fills.
    def time_per_pascal(pressure: float) -> float:
        up, down = max(pressure, AIR), min(pressure, AIR)
        return 1 / (gas.R_AIR * T * gas.flow_per_area(up, down, T))

    wanted, _ = integrate.quad(time_per_pascal, *sorted((start, end)), limit=200)
    assert gas.hold_integral(start, end, AIR, T) == pytest.approx(wanted, rel=1e-6)


@pytest.mark.parametrize(
    ("gallons", "left"), [(1000, 1.2119858110933965), (5000, 1.8093538282302375)]
)
def test_laminar_decay_of_a_static_test(gallons, left):
    # Form and constant of a vapour-recovery static decay test (CARB TP-201.3): 2.00
    # exp(-500.887/V).
    assert gas.laminar_end(2.00, 500.887 / gallons) == pytest.approx(left, rel=1e-12)


def test_a_decay_tells_its_law():
    parts = [0, 0.25, 0.5, 0.75, 1]
    laminar = [gas.laminar_end(1000, 1.5 * t) for t in parts]
    square = [gas.square_root_end(1000, 300, t) for t in parts]
    orifice_misfit, laminar_misfit = gas.misfits(parts, laminar)
    assert laminar_misfit < 1e-9 < orifice_misfit
    orifice_misfit, laminar_misfit = gas.misfits(parts, square)
    assert orifice_misfit < 1e-9 < laminar_misfit


@pytest.mark.parametrize(
    ("flow", "inlet", "temperature", "inches"),
    [
        (1.0e-5, 104.81224474, 293.15, 0.01835926139479721),
        (1.0e-5, 104.81224474, 298.15, 0.018437938712882417),
        (5.0e-6, 103.725, 298.15, 0.014291982856036806),
        (1.0e-5, 103.725, 298.15, 0.020291929995065353),
        (2.0e-5, 103.725, 298.15, 0.0288107274597456),
        (1.0e-5, 102.325, 298.15, 0.025363669612174525),
    ],
)
def test_effective_leak_diameter(flow, inlet, temperature, inches):
    # Equation of 40 CFR 1066.985 from memory; values computed with numpy.
    got = effective_leak_diameter(flow, inlet, 101.325, temperature)
    assert got == pytest.approx(inches, rel=1e-12)


def test_worked_example_of_the_effective_leak_diameter():
    # Example of 40 CFR 1066.985, from memory: 0.017 in.
    got = effective_leak_diameter(0.8e-5, 104.294, 101.332, 298.15)
    assert f"{got:.3f}" == "0.017"
    assert got == pytest.approx(0.01718, abs=5e-6)


@pytest.mark.parametrize(
    ("inches", "litres"),
    [(0.020, 0.710661518), (0.025, 1.104836929), (0.040, 2.798573186)],
)
def test_effective_diameter_of_a_flow_in_litres_a_minute(inches, litres):
    # Computed from the equation turned round: 14 inH2O, 293.15 K.
    got = effective_leak_diameter(litres / 60000, 104.81224474, 101.325, 293.15)
    assert got == pytest.approx(inches, rel=1e-8)


@pytest.mark.parametrize(
    ("coefficient", "inches"), [(0.6, 0.00544073), (0.8, 0.00471181), (1.0, 0.00421438)]
)
def test_opening_of_a_cap(coefficient, inches):
    # Computed: 60 cm3/min (1 atm, 20 degC) at 30 inH2O; limit from memory.
    flow = 1e-6 * AIR / (gas.R_AIR * T)
    assert flow == pytest.approx(1.204097e-6, rel=1e-6)
    area = flow / gas.flow_per_area(AIR + 30 * WATER, AIR, T)
    assert gas.diameter(area, coefficient) / INCH == pytest.approx(inches, abs=1e-8)
