"""Equal pairs: written out, and drawn."""

import numpy as np
import pytest

from auditkit.fleet.statistics.equal_pairs import (
    Coincidence,
    coincidence,
    expected_pairs,
    repeats_tail,
)

SHARES = (0.2, 0.15, 0.15, 0.1, 0.1, 0.1, 0.1, 0.05, 0.05)


def _of(shares):
    return Coincidence(sum(p**2 for p in shares), sum(p**3 for p in shares))


def test_mean_and_variance():
    # computed, and the mean by hand: 780 pairs of 40 records, .13 of them equal
    mean, variance = expected_pairs(40, _of(SHARES))
    assert mean == pytest.approx(101.4)
    assert variance == pytest.approx(212.706)


def test_drawn_pairs_have_this_mean_variance_and_tail():
    drawn = np.random.default_rng(5).multinomial(40, SHARES, size=40_000)
    pairs = (drawn * (drawn - 1) // 2).sum(axis=1)
    assert pairs.mean() == pytest.approx(101.4, abs=0.4)
    assert pairs.var() == pytest.approx(212.706, rel=0.03)


def test_the_tail_is_never_too_small_and_seldom_far_too_large():
    shares = np.einsum("i,j,k->ijk", SHARES, SHARES, SHARES).ravel()
    drawn = np.random.default_rng(7).multinomial(30, shares, size=20_000)
    found = np.clip(drawn - 1, 0, None).sum(axis=1)
    for least in (1, 2, 3, 4):
        told = float((found >= least).mean())
        bound = repeats_tail(least, 30, _of(shares))
        assert told - 4 * (told / 20_000) ** 0.5 <= bound <= 2.5 * told


def test_evenly_spread_values_are_rare_events():
    # 30 records of 100 even values: 4.35 pairs; P(none) is the birthday problem's
    chance = Coincidence(0.01, 0.0001)
    assert expected_pairs(30, chance)[0] == pytest.approx(4.35)
    none = float(np.prod([1 - i / 100 for i in range(30)]))
    assert none == pytest.approx(0.0077910971)
    assert 1 - repeats_tail(1, 30, chance) == pytest.approx(none, abs=0.006)
    # five fields of 100 even values, 400 records: 8e-6 pairs, so one is a question
    assert expected_pairs(400, Coincidence(1e-10, 1e-20))[0] == pytest.approx(7.98e-6)
    assert repeats_tail(1, 400, Coincidence(1e-10, 1e-20)) == pytest.approx(
        7.98e-6, rel=1e-4
    )


def test_the_chance_is_estimated_without_bias():
    drawn = np.random.default_rng(6)
    found = [coincidence(map(int, drawn.multinomial(60, SHARES))) for _ in range(2_000)]
    two = float(np.mean([one.two for one in found]))
    three = float(np.mean([one.three for one in found]))
    assert two == pytest.approx(_of(SHARES).two + 0.5 / (60 * 59 / 2), rel=0.01)
    assert three == pytest.approx(_of(SHARES).three, rel=0.05)
    assert coincidence([3, 2], singles=4) == coincidence([3, 2, 1, 1, 1, 1])
    with pytest.raises(ValueError, match="three records"):
        coincidence([1, 1])


def test_no_repeat_is_no_oddity():
    assert repeats_tail(0, 6, _of(SHARES)) == 1
    assert repeats_tail(1, 1, _of(SHARES)) == 0
