"""The funnel with the shops' own spread: computed examples and a library."""

import numpy as np
import pytest
from scipy.stats import norm
from scipy.stats.mstats import winsorize
from statsmodels.stats.meta_analysis import combine_effects

from auditkit.fleet.statistics import funnel
from auditkit.fleet.statistics.normal import deviations, two_sided

SEEN = [14, 30, 3, 22, 41, 8, 60, 25, 11, 90]
EXPECTED = [9.1, 20.5, 6.2, 21, 30.3, 10.4, 55.5, 40.2, 12.3, 62]
SHOPS = list(zip(SEEN, EXPECTED, strict=True))


def test_ten_invented_shops():
    # Computed with numpy from the formulas of Spiegelhalter 2005.
    found = funnel.spread(SHOPS)
    assert found.chance == pytest.approx(
        [
            *(1.4500735, 1.8990660, -1.5158582, 0.2156801, 1.7971613),
            *(-0.7929520, 0.5922690, -2.6806940, -0.3810216, 3.2256502),
        ],
        abs=1e-7,
    )
    assert found.phi == pytest.approx(1.9200474502)
    assert found.between == pytest.approx(0.0448374937)
    assert funnel.distance(90, 62, found.between) == pytest.approx(1.6591120)
    assert funnel.spread(SHOPS, 0).phi == pytest.approx(2.9998970)


def test_winsorising_is_by_interpolated_quantiles():
    z = funnel.spread(SHOPS).chance
    low, high = np.quantile(z, [0.1, 0.9])
    assert (low, high) == pytest.approx((-1.6323418, 2.0317244))
    assert funnel.spread(SHOPS).phi == pytest.approx(
        np.mean(np.clip(z, low, high) ** 2)
    )
    # Whole order statistics, as scipy holds them, are another and smaller choice here.
    assert funnel.spread(SHOPS).phi != pytest.approx(
        np.mean(np.asarray(winsorize(np.array(z), (0.1, 0.1))) ** 2)
    )


def test_without_winsorising_it_is_dersimonian_and_laird():
    # Their estimate is about the weighted mean, ours about "as expected": shops that
    # lie evenly about it have both in one place.
    shops, effects, variances = [], [], []
    for e, d in [(9.0, 0.5), (25.0, 0.3), (60.0, 0.7), (14.0, 0.1)]:
        for y in (2 + d, 2 - d):
            shops.append((e * (y / 2) ** 2, e))
            effects.append(y)
            variances.append(1 / e)
    theirs = combine_effects(np.array(effects), np.array(variances), method_re="dl")
    assert funnel.spread(shops, 0).between == pytest.approx(theirs.tau2)


@pytest.mark.parametrize(
    ("expected", "confidence", "low", "high"),
    [
        (10, 0.95, 0.3931831, 1.8850105),
        (10, 0.998, 0.1697169, 2.5218485),
        (50, 0.95, 0.5631979, 1.5613373),
        (50, 0.998, 0.3679197, 1.9416643),
    ],
)
def test_limits_with_the_spread_of_ten_shops(expected, confidence, low, high):
    between = funnel.spread(SHOPS).between
    assert funnel.limits(expected, between, confidence) == pytest.approx((low, high))


def test_a_lower_limit_is_never_mirrored():
    low, high = funnel.limits(0.3, 0.5, 0.998)
    assert low == 0
    assert high > 1


def test_a_shop_on_a_limit_is_as_far_as_the_limit_says():
    low, high = funnel.limits(30, 0.04, 0.95)
    assert funnel.distance(30 * high, 30, 0.04) == pytest.approx(deviations(0.95))
    assert funnel.distance(30 * low, 30, 0.04) == pytest.approx(-deviations(0.95))


def test_shops_that_differ_by_chance_alone_have_no_spread():
    assert funnel.spread([(10, 10.0), (20, 20.0), (30, 30.5)]).between == 0


@pytest.mark.parametrize("z", [0.0, 1.0, -1.96, 3.09, 8.0])
def test_tails_are_those_of_scipy(z):
    assert two_sided(z) == pytest.approx(2 * norm.sf(abs(z)), rel=1e-12)


def test_one_shop_has_no_spread():
    with pytest.raises(ValueError, match="two shops"):
        funnel.spread([(1, 1.0)])
