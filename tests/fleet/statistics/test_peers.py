"""A shop's share against its peers', held against scipy's own distributions."""

import math

import numpy as np
import pytest
from scipy import stats

from auditkit.fleet.statistics.peers import (
    LEAST_SPREAD,
    against_peers,
    spread_of,
    upper_tail,
)


def test_tail_is_the_beta_binomials():
    # computed with scipy 1.17.1: 22 of 60 where peers have 64 of 594, rho .01
    assert upper_tail(22, 60, 64 / 594, 0.01) == pytest.approx(6.21511755e-5)
    assert upper_tail(22, 60, 64 / 594, 0) == pytest.approx(1.19421802e-7)


def test_tail_is_the_sum_of_the_masses_written_out():
    # the mass by its definition, C(n,k) B(k+a, n-k+b) / B(a,b)
    n, p, rho = 40, 0.15, 0.03
    a, b = p * (1 / rho - 1), (1 - p) * (1 / rho - 1)

    def log_beta(x, y):
        return math.lgamma(x) + math.lgamma(y) - math.lgamma(x + y)

    def mass(k):
        return math.comb(n, k) * math.exp(log_beta(k + a, n - k + b) - log_beta(a, b))

    for k in (1, 6, 15, 40):
        written = sum(mass(i) for i in range(k, n + 1))
        assert upper_tail(k, n, p, rho) == pytest.approx(written, rel=1e-9)
    assert upper_tail(0, n, p, rho) == 1


def test_spread_is_found_again():
    drawn = np.random.default_rng(8)
    rho = 0.04
    shares = drawn.beta(0.2 * (1 / rho - 1), 0.8 * (1 / rho - 1), size=400)
    totals = drawn.integers(60, 300, size=400)
    hits = drawn.binomial(totals, shares)
    # winsorising takes about a third: a normal z so cut has a variance of .68
    found = spread_of([int(k) for k in hits], [int(n) for n in totals])
    assert 0.5 * rho < found < 1.1 * rho


def test_peers_that_are_too_alike_keep_the_least_spread():
    assert spread_of([10] * 12, [100] * 12) == LEAST_SPREAD
    assert spread_of([], []) == LEAST_SPREAD


def test_a_shop_does_not_hide_behind_its_own_numbers():
    hits, totals = [*[10] * 11, 60], [100] * 12
    found = against_peers(hits, totals)
    assert found[-1].peers_share == pytest.approx(110.5 / 1101)
    assert found[-1].tail < 1e-8
    assert found[-1].spread == LEAST_SPREAD
    assert min(one.tail for one in found[:-1]) > 0.1
    assert found[0].peers_share == pytest.approx(160.5 / 1101)


def test_no_peer_ever_and_this_one_always():
    found = against_peers([0] * 10 + [50], [50] * 11, least=0.01)
    assert 0 < found[-1].tail < 1e-10
    assert found[0].tail == 1
    with pytest.raises(ValueError, match="between 0 and 1"):
        upper_tail(3, 10, 0.0, 0.01)


def test_without_spread_it_is_the_binomial_test():
    told = stats.binomtest(17, 90, 0.1, alternative="greater").pvalue
    assert upper_tail(17, 90, 0.1, 0) == pytest.approx(told)
