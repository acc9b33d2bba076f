"""How often a fault was seen, against published values and a reference library."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from auditkit.bench import counts
from auditkit.bench.counts import Tries

Z = 1.959963984540054


@pytest.mark.parametrize(
    ("seen", "of", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_s_interval(seen, of, low, high):
    # Newcombe 1998, Stat Med 17:857, Table I, method 3 (from memory), and scipy.
    found = counts.wilson(seen, of, Z)
    assert found == pytest.approx((low, high), abs=5e-5)
    reference = stats.binomtest(seen, of).proportion_ci(0.95, method="wilson")
    assert found == pytest.approx((reference.low, reference.high), abs=1e-12)


@pytest.mark.parametrize("tries", [1, 3, 10, 30, 100])
def test_what_never_seen_leaves_open(tries):
    # Clopper-Pearson, one-sided, by scipy; 3/m is the rule of three.
    one_sided = stats.binomtest(0, tries, alternative="less")
    exact = one_sided.proportion_ci(0.95, method="exact").high
    assert counts.most_share_unseen(tries) == pytest.approx(exact, rel=1e-9)
    assert counts.most_share_unseen(tries) <= 3 / tries


@pytest.mark.parametrize(
    ("seen", "of", "needed"), [(3, 10, 10), (2, 10, 15), (10, 10, 3), (2, 7, 11)]
)
def test_three_n_over_k_tries_leave_five_percent(seen, of, needed):
    before = Tries(seen, of)
    assert before.none_needed == needed
    assert before.gone_in(Tries(0, needed))
    assert not before.gone_in(Tries(0, needed - 1))
    assert not before.gone_in(Tries(1, 10 * needed))
    unseen = stats.binom.pmf(0, needed, seen / of)
    assert before.chance_unseen(needed) == pytest.approx(unseen, abs=1e-12)
    assert unseen < 0.05


def test_once_is_never_gone():
    assert not Tries(1, 10).gone_in(Tries(0, 1000))
    assert not Tries(0, 10).gone_in(Tries(0, 1000))


@pytest.mark.parametrize(("tries", "without"), [(2, 2), (10, 10), (10, 20), (50, 50)])
def test_the_chance_of_a_false_contrast(tries, without):
    def chance(share: float) -> float:
        twice = stats.binom.sf(1, tries, share)
        return float(twice * stats.binom.pmf(0, without, share))

    best = optimize.minimize_scalar(
        lambda p: -chance(p), bounds=(1e-6, 1), method="bounded"
    )
    found = counts.chance_of_contrast(tries, without)
    assert found == pytest.approx(-best.fun, rel=1e-3)
    # drawn: a fault that comes with that share whether or not anyone wiggles
    rng, draws = np.random.default_rng(4), 200_000
    seen = rng.binomial(tries, best.x, draws)
    false = (seen >= 2) & (rng.binomial(without, best.x, draws) == 0)
    assert false.mean() == pytest.approx(found, abs=0.003)


def test_a_share_is_stated_with_what_its_counts_leave_open():
    said = Tries(3, 10).stated("share")
    assert said.value.text == "30"
    low, high = counts.wilson(3, 10, 2)
    half = float(said.expanded_uncertainty.text)
    assert half == pytest.approx(50 * (high - low), abs=0.5)
    never = Tries(0, 30).stated("share")
    assert str(never.value) == "below 9.5 %"  # 1 - 0.05^(1/30); 3/30 is 10 %
