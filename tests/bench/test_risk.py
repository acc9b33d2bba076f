"""The decision rule against drawn errors: its risk is alpha, and it does decide.

A seeded sample of what ``tests/benchmarks/bench_risk.py`` prints whole. A rate may
exceed alpha, or fall short of 95 %, by what that many draws scatter (four standard
deviations of a binomial share), no more.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from bench_inputs import given, instrument, q
from bench_risk import Cell, rates, rates_of, repeated, spread_of_a_set
from scipy import stats

from auditkit.bench import KINDS
from auditkit.bench.decision import cleared_at, decide, decided_at
from auditkit.bench.readings import Readings
from auditkit.bench.uncertainty import uncertainty_of, value_of

DRAWS, ALPHA = 1000, 0.05
SLACK = 4 * math.sqrt(ALPHA * (1 - ALPHA) / DRAWS)
CELLS = [
    Cell(1, math.inf, 0.0),
    Cell(1, 1.0, 0.0),
    Cell(1, 0.0, 0.0),
    Cell(4, 0.0, 0.5),
    Cell(4, math.inf, 0.5),
    Cell(4, 12.0, 0.0),
    Cell(10, math.inf, 0.0),
    Cell(10, 1.0, 0.5),
]


def test_the_distance_of_95_percent():
    # z(1 - alpha/n) + z(0.95), computed with scipy: 3.29, 3.89, 4.22 u.
    for points, printed in ((1, "3.29"), (4, "3.89"), (10, "4.22")):
        wanted = stats.norm.ppf(1 - 0.05 / points) + stats.norm.ppf(0.95)
        assert decided_at(0.05, points) == pytest.approx(wanted, rel=1e-12)
        assert f"{decided_at(0.05, points):.2f}" == printed
        all_of_them = stats.norm.ppf(1 - 0.05 / points) * 2
        assert cleared_at(0.05, points) == pytest.approx(all_of_them, rel=1e-12)


@pytest.mark.parametrize("points", [1, 4, 10])
def test_close_limits_ask_for_more_distance(points):
    # Both limits in one place are a test of two sides: z(1 - alpha/2n) + z(0.95).
    both = stats.norm.ppf(1 - 0.025 / points) + stats.norm.ppf(0.95)
    assert decided_at(0.05, points, width=0.0) == pytest.approx(both, rel=1e-12)
    assert decided_at(0.05, points, width=12.0) == pytest.approx(
        decided_at(0.05, points), rel=1e-9
    )
    for width in (0.3, 1.0, 2.0):
        beyond = decided_at(0.05, points, width=width) - stats.norm.ppf(0.95)
        chance = stats.norm.sf(beyond) + stats.norm.sf(beyond + width)
        assert chance == pytest.approx(0.05 / points, rel=1e-9)


@pytest.mark.parametrize("cell", CELLS, ids=str)
def test_risk_and_power(cell):
    found = rates_of(cell, DRAWS, ALPHA)
    assert found.false_alarm <= ALPHA + SLACK
    assert found.false_good <= ALPHA + SLACK
    assert found.found >= 1 - ALPHA - SLACK
    if cell.width >= 12:
        assert found.cleared >= 1 - ALPHA - SLACK
        assert found.all_cleared >= 1 - ALPHA - SLACK


def test_a_smaller_alpha_is_a_smaller_risk():
    found = rates_of(Cell(4, math.inf, 0.0), 1500, 0.01)
    assert found.false_alarm <= 0.01 + 4 * math.sqrt(0.01 * 0.99 / 1500)
    assert found.found >= 0.95 - 4 * math.sqrt(0.05 * 0.95 / 1500)


@pytest.mark.parametrize("members", [3, 4, 6, 8, 12])
@pytest.mark.parametrize("u", [0.5, 2, 5])
def test_a_good_set_is_not_called_uneven(members, u):
    # Half of the members at the limit, half at the top: there chance does most.
    for low in {1, members // 2}:
        faulty, good = spread_of_a_set(members, low, u, DRAWS, ALPHA)
        assert faulty <= ALPHA + SLACK
        assert good <= ALPHA + SLACK


def test_the_set_that_is_drawn_is_the_software_s():
    rng = np.random.default_rng(3)
    meter = instrument("psi (gauge)", "300", "1.7320508", "0")
    for _ in range(5):
        numbers = rng.uniform(50, 200, 6).round(2)
        inputs = given(
            {"reading of each member": [q(f"{n} psi (gauge)") for n in numbers]},
            {},
            {"gauge": meter},
        )
        test = KINDS["balance"]
        computed = test.compute(Readings(test.needs, inputs))
        found = computed.named("lowest to highest")
        ratio, u = numbers.min() / numbers.max(), 1.7320508 / math.sqrt(12)
        assert value_of(found.values[0]) == pytest.approx(ratio)
        wanted = u / numbers.max() * math.sqrt(1 + ratio**2)
        assert uncertainty_of(found.values[0]) == pytest.approx(wanted, rel=1e-6)
        assert found.chances == 15


@pytest.mark.parametrize("readings", [2, 3, 5, 10])
def test_few_readings_are_no_smaller_proof(readings):
    faulty, good = repeated(readings, 0.0, 4000, ALPHA)
    slack = 4 * math.sqrt(ALPHA * (1 - ALPHA) / 4000)
    assert faulty <= ALPHA + slack
    assert good <= ALPHA + slack


def test_a_rectangular_error_is_no_larger_risk():
    # A part at its limit, read with +/- a: 1.645 a/sqrt 3 = 0.95 a is passed by 2.5 %;
    # 3.29 u = 1.9 a beyond it, by all but the 2.5 % that read 0.95 a too low.
    rng, u = np.random.default_rng(5), 1 / math.sqrt(3)
    for truth, share in ((0.0, 0.025), (decided_at(ALPHA) * u, 0.975)):
        found = [
            decide(value, u, maximum=0.0, alpha=ALPHA).outcome
            for value in (truth + rng.uniform(-1, 1, 4000)).tolist()
        ]
        assert rates(found)[0] == pytest.approx(share, abs=0.01)
