"""Conformance probability and the three-way verdict.

Worked examples of JCGM 106:2012: inputs and two printed digits from memory, further
digits computed with scipy.
"""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from auditkit.bench.decision import (
    BenchOutcome,
    decide,
    guard_band,
    probability_above,
    rule_text,
)
from auditkit.errors import InputError

NUMBERS = st.floats(-1e6, 1e6)
SPREADS = st.floats(1e-6, 1e6)
ALPHAS = st.floats(0.001, 0.4)


@pytest.mark.parametrize(
    ("reading", "limits", "p", "printed"),
    [
        ((-5.47, 0.05), (None, -5.40), 0.9192433407662273, "0.92"),  # Zener diode
        ((509.7, 8.6), (490, None), 0.9890095473848222, "0.99"),  # container burst
        ((13.6, 1.8), (12.5, 16.3), 0.6626297864953079, "0.66"),  # motor oil viscosity
    ],
)
def test_jcgm_106_examples(reading, limits, p, printed):
    low, high = limits
    computed = decide(*reading, minimum=low, maximum=high).probability
    assert computed == pytest.approx(p, rel=1e-12)
    assert f"{computed:.2f}" == printed


@pytest.mark.parametrize(
    ("reading", "limits", "p", "outcome"),
    [
        # Computed with scipy: a gauge of +/- 0.3 with a step of 0.1 inH2O, at least 8
        ((8.00, 0.1755942292), (8, None), 0.5, BenchOutcome.INCONCLUSIVE),
        ((8.25, 0.1755942292), (8, None), 0.9227386897, BenchOutcome.INCONCLUSIVE),
        ((8.50, 0.1755942292), (8, None), 0.9977966152, BenchOutcome.GOOD),
        ((7.50, 0.1755942292), (8, None), 0.0022033848, BenchOutcome.FAULTY),
        # a coil of 11 to 15 ohm
        ((14.9, 0.0925), (11, 15), 0.8601694759, BenchOutcome.INCONCLUSIVE),
        ((15.2, 0.0925), (11, 15), 0.0153028395, BenchOutcome.FAULTY),
    ],
)
def test_three_ways(reading, limits, p, outcome):
    decision = decide(*reading, minimum=limits[0], maximum=limits[1])
    assert decision.probability == pytest.approx(p, abs=1e-9)
    assert decision.outcome is outcome


def test_guard_bands():
    # ISO 14253-1:2017, 1.645 u; ILAC-G8:09/2019, at most 2.275 % at w = U (from memory)
    assert guard_band(1) == pytest.approx(1.6448536269514722, rel=1e-12)
    assert guard_band(0.1755942292) == pytest.approx(0.2888268, abs=1e-7)
    at_the_guard = probability_above(8, 8 - 2 * 0.1, 0.1)
    assert at_the_guard == pytest.approx(0.022750131948179195, rel=1e-9)
    assert probability_above(8, 8, 0.1) == 0.5


def test_the_rule_is_named():
    text = rule_text(0.05)
    assert "ISO/IEC 17025:2017, 7.8.6" in text
    assert "alpha 0.05" in text
    assert "95 %" in text
    assert "1.645 u" in text


def test_without_uncertainty_limits_are_inclusive():
    assert decide(8, 0, minimum=8).outcome is BenchOutcome.GOOD
    assert decide(8, 0, maximum=8).outcome is BenchOutcome.GOOD
    assert decide(8.1, 0, maximum=8).outcome is BenchOutcome.FAULTY


def test_a_reading_too_wide_for_both_limits_is_no_fault():
    # In the middle of 11 to 15 with u = 100: hardly any probability lies within.
    decision = decide(13, 100, minimum=11, maximum=15)
    assert decision.probability < 0.05
    assert decision.outcome is BenchOutcome.INCONCLUSIVE


@pytest.mark.parametrize(
    ("limits", "alpha", "said"),
    [
        ({}, 0.05, "no limit"),
        ({"minimum": 2, "maximum": 1}, 0.05, "above the maximum"),
        ({"minimum": 1}, 0.5, "alpha"),
        ({"minimum": 1}, 0.0, "alpha"),
    ],
)
def test_what_cannot_be_decided_is_refused(limits, alpha, said):
    with pytest.raises(InputError, match=said):
        decide(1, 1, alpha=alpha, **limits)


@given(NUMBERS, SPREADS, NUMBERS, NUMBERS)
def test_probability_agrees_with_scipy(value, u, one, two):
    low, high = sorted((one, two))
    wanted = stats.norm.cdf(high, value, u) - stats.norm.cdf(low, value, u)
    decision = decide(value, u, minimum=low, maximum=high)
    assert decision.probability == pytest.approx(wanted, abs=1e-9)


@given(st.lists(NUMBERS, min_size=2, max_size=5), SPREADS, NUMBERS, ALPHAS)
def test_verdict_is_monotone_in_the_reading(values, u, limit, alpha):
    ladder = [BenchOutcome.GOOD, BenchOutcome.INCONCLUSIVE, BenchOutcome.FAULTY]
    for low, high in itertools.pairwise(sorted(values)):
        one = decide(low, u, maximum=limit, alpha=alpha).outcome
        two = decide(high, u, maximum=limit, alpha=alpha).outcome
        assert ladder.index(one) <= ladder.index(two)
        one = decide(low, u, minimum=limit, alpha=alpha).outcome
        two = decide(high, u, minimum=limit, alpha=alpha).outcome
        assert ladder.index(one) >= ladder.index(two)


@given(NUMBERS, SPREADS, st.floats(1, 1000), st.tuples(NUMBERS, NUMBERS), ALPHAS)
def test_a_wider_uncertainty_never_makes_a_verdict(value, u, wider, limits, alpha):
    low, high = sorted(limits)
    sharp = decide(value, u, minimum=low, maximum=high, alpha=alpha).outcome
    blunt = decide(value, u * wider, minimum=low, maximum=high, alpha=alpha).outcome
    assert blunt in (sharp, BenchOutcome.INCONCLUSIVE)


@given(NUMBERS, SPREADS, NUMBERS, ALPHAS)
def test_both_verdicts_carry_the_same_burden(value, u, limit, alpha):
    mirror = {
        BenchOutcome.GOOD: BenchOutcome.FAULTY,
        BenchOutcome.FAULTY: BenchOutcome.GOOD,
        BenchOutcome.INCONCLUSIVE: BenchOutcome.INCONCLUSIVE,
    }
    upper = decide(value, u, maximum=limit, alpha=alpha)
    lower = decide(value, u, minimum=limit, alpha=alpha)
    assert upper.probability == pytest.approx(1 - lower.probability, abs=1e-12)
    if abs(upper.probability - alpha) > 1e-9 < abs(lower.probability - alpha):
        assert mirror[upper.outcome] is lower.outcome
