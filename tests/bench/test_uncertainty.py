"""Instrument specifications, combination and degrees of freedom.

GUM is JCGM 100:2008. Inputs and printed values from memory unless said otherwise.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import pytest
from scipy import stats
from uncertainties import umath

from auditkit.bench import student
from auditkit.bench.instrument import (
    Accuracy,
    Instrument,
    of_certificate,
    of_resolution,
    rectangular,
    triangular,
)
from auditkit.bench.uncertainty import (
    Budget,
    Component,
    Origin,
    combined,
    effective_dof,
    few_readings_factor,
    uncertainty_of,
    value_of,
)

INCH_WATER = 249.08891


def test_shapes_of_a_specification():
    # GUM 4.3.7, 4.3.9, 4.3.3 and F.2.2.1.
    assert triangular(1) == pytest.approx(0.40824829, abs=1e-8)
    assert of_resolution(0.1) == pytest.approx(0.0288675135, abs=1e-10)
    assert of_certificate(0.5, 2) == 0.25


@pytest.mark.parametrize(
    ("percent", "span", "u"),
    [
        # ASME B40.100 grades A, B, 2A at mid scale of 30 psi; EN 837-1 class 1.6, 1 bar
        ("1", "30", 0.173205081),
        ("2", "30", 0.346410162),
        ("0.5", "30", 0.086602540),
        ("1.6", "1", 0.009237604),
    ],
)
def test_a_gauge_class_is_of_the_span(percent, span, u):
    accuracy = Accuracy(percent_of_span=Fraction(percent))
    half = accuracy.half_width(Fraction(1), Fraction(span), Fraction(0))
    assert rectangular(float(half)) == pytest.approx(u, abs=1e-9)


def test_percent_of_reading_and_digits():
    # +/- (0.5 % of reading + 2 digits) at 12.60 V: 0.083 V, computed by hand.
    accuracy = Accuracy(percent_of_reading=Fraction("0.5"), digits=Fraction(2))
    half = accuracy.half_width(Fraction("12.60"), Fraction(20), Fraction("0.01"))
    assert half == Fraction("0.083")
    assert rectangular(float(half)) == pytest.approx(0.047920072, abs=1e-9)


def test_accuracy_resolution_and_certificate_add_up():
    # hypot(0.3, 0.05)/sqrt 3: +/- 0.3 and half a step of 0.1, computed.
    gauge = Instrument(
        "inH2O",
        Fraction(0),
        Fraction(50),
        Fraction("0.1"),
        Accuracy(absolute=Fraction("0.3")),
    )
    assert gauge.uncertainty_at(Fraction(8)) == pytest.approx(0.1755942292, abs=1e-10)
    assert gauge.errors_at(Fraction(8)).shared == pytest.approx(0.3 / math.sqrt(3))
    assert gauge.errors_at(Fraction(8)).own == pytest.approx(0.1 / math.sqrt(12))
    certified = replace(gauge, certificate_u=Fraction("0.2"))
    assert certified.certificate == 0.1
    wanted = math.hypot(0.1755942292, 0.1)
    assert certified.uncertainty_at(Fraction(8)) == pytest.approx(wanted, abs=1e-9)


def test_digits_are_each_readings_own_and_a_share_has_the_readings_sign():
    # +/- (0.5 % + 2 digits) at 12.60 V: 0.083 V in all, 0.063 V of it shared; by hand.
    meter = Instrument(
        "V",
        Fraction(-20),
        Fraction(20),
        Fraction("0.01"),
        Accuracy(percent_of_reading=Fraction("0.5"), digits=Fraction(2)),
    )
    shared, own = 0.063 / math.sqrt(3), math.sqrt((0.083**2 - 0.063**2) / 3)
    at = Fraction("12.60")
    assert meter.errors_at(at).shared == pytest.approx(shared)
    assert meter.errors_at(-at).shared == pytest.approx(-shared)
    assert meter.errors_at(at).own == pytest.approx(
        math.hypot(own, 0.01 / math.sqrt(12))
    )


def test_gum_h1_end_gauge():
    # GUM H.1: u 25, 9.7, 2.9, 16.6 nm; dof 18, 25.6, 50, 2; printed 32 nm and 16.7.
    parts = [
        Component("standard", 25, Origin.INSTRUMENT, 18),
        Component("difference", 9.7, Origin.REPEAT, 25.6),
        Component("expansion", 2.9, Origin.METHOD, 50),
        Component("temperature", 16.6, Origin.METHOD, 2),
    ]
    assert combined(parts) == pytest.approx(31.67112249, abs=1e-8)
    assert effective_dof(parts) == pytest.approx(16.76455398, abs=1e-8)
    assert student.quantile(0.995, 16) == pytest.approx(2.92, abs=0.005)
    second_order = Component("second order", 11.7, Origin.METHOD)
    assert combined([*parts, second_order]) == pytest.approx(33.76314559, abs=1e-8)


def test_budget_of_a_leak():
    # Leak example: 14 -> 8 inH2O, +/- 0.3 each; 40 L u 2 L; 293.15 K +/- 0.2 each;
    # 120 s +/- 1 s. Computed independently with numpy.
    budget = Budget()

    def add(name: str, value: float, u: float):
        return budget.input(name, value, u, Origin.METHOD)

    p1 = add("p1", 101325 + 14 * INCH_WATER, rectangular(0.3) * INCH_WATER)
    p2 = add("p2", 101325 + 8 * INCH_WATER, rectangular(0.3) * INCH_WATER)
    t1 = add("T1", 293.15, rectangular(0.2))
    t2 = add("T2", 293.15, rectangular(0.2))
    volume, time = add("V", 0.040, 0.002), add("t", 120, rectangular(1))
    leak = volume * (p1 / t1 - p2 / t2) * 293.15 / time
    assert value_of(leak) == pytest.approx(0.498177820, abs=1e-9)
    assert uncertainty_of(leak) == pytest.approx(0.0375930339, abs=1e-9)
    parts = {c.name: c.standard_uncertainty for c in budget.components(leak)}
    expected = {
        "V": 0.0249089,
        "p1": 0.0143812,
        "p2": 0.0143812,
        "T1": 0.0137616,
        "T2": 0.0135654,
        "t": 0.0023969,
    }
    assert parts == pytest.approx(expected, abs=1e-7)
    assert next(iter(parts)) == "V"


def test_correlation_is_kept():
    budget = Budget()
    x = budget.input("x", 3.0, 0.1, Origin.METHOD)
    assert uncertainty_of(x - x) == 0
    assert uncertainty_of(x + x) == pytest.approx(0.2)
    assert uncertainty_of(umath.sqrt(x)) == pytest.approx(0.1 / (2 * math.sqrt(3)))


def test_an_exact_number_has_no_budget():
    budget = Budget()
    assert budget.input("exact", 2.0, 0.0, Origin.METHOD) == 2.0
    assert budget.components(2.0) == ()
    assert uncertainty_of(2.0) == 0
    assert effective_dof([]) == math.inf


@pytest.mark.parametrize("dof", [1, 2, 3, 4, 5, 9, 16, 30, 101, 999])
def test_student_against_scipy(dof):
    at = [-40.0, -3.1, -0.2, 0.0, 0.7, 2.0, 12.0]
    expected = pytest.approx(stats.t.cdf(at, dof), abs=1e-13)
    assert [student.cdf(t, dof) for t in at] == expected


def test_student_with_many_degrees_is_normal():
    assert student.cdf(1.5, 5000) == pytest.approx(stats.t.cdf(1.5, 5000), abs=2e-4)


@pytest.mark.parametrize("dof", [1, 2, 4, 16, 60, 5000])
@pytest.mark.parametrize("p", [0.5, 0.8, 0.95, 0.975, 0.995, 0.9999])
def test_student_quantile_against_scipy(dof, p):
    # From 1000 degrees on the normal stands in: 0.02 % at 5000.
    wanted = stats.t.ppf(p, dof)
    assert student.quantile(p, dof) == pytest.approx(wanted, rel=1e-3, abs=1e-12)
    if dof < student.MANY:
        assert student.quantile(p, dof) == pytest.approx(wanted, rel=1e-9, abs=1e-12)


def test_quantile_of_the_lower_half_is_refused():
    with pytest.raises(ValueError, match="not from 0"):
        student.quantile(0.4, 3)


@pytest.mark.parametrize(
    ("dof", "k"),
    [(1, 13.97), (2, 4.53), (3, 3.31), (4, 2.87), (5, 2.65), (8, 2.37), (10, 2.28)],
)
def test_few_readings_widen_as_the_gum_says(dof, k):
    # GUM Table G.2, column 95.45 %: the k that 2 becomes.
    assert 2 * few_readings_factor(dof, 0.05) == pytest.approx(k, abs=0.005)


def test_few_readings_widen_more_for_a_smaller_risk():
    wanted = stats.t.ppf(0.99, 3) / stats.norm.ppf(0.99)
    assert few_readings_factor(3, 0.01) == pytest.approx(wanted)


def test_mean_of_repeats():
    budget = Budget()
    mean = budget.mean("drop", [1.0, 1.2, 1.1, 1.3], 0.05)
    scatter = stats.sem([1.0, 1.2, 1.1, 1.3])
    assert value_of(mean) == pytest.approx(1.15)
    assert uncertainty_of(mean) == pytest.approx(scatter * 3.3068 / 2, rel=1e-3)
    (part,) = budget.components(mean)
    assert (part.dof, part.origin) == (3, Origin.REPEAT)
    assert budget.mean("steady", [1.0, 1.0], 0.05) == 1.0
