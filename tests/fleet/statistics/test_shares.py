"""Goodman's intervals, held against statsmodels."""

import pytest
from statsmodels.stats.proportion import multinomial_proportions_confint

from auditkit.fleet.statistics.shares import simultaneous_shares


def test_the_intervals():
    found = simultaneous_shares([60, 25, 10, 5])
    told = [
        (0.4752676, 0.7129880),
        (0.1587282, 0.3706327),
        (0.0470905, 0.1998871),
        (0.0173693, 0.1354805),
    ]
    for one, other in zip(found, told, strict=True):
        assert one == pytest.approx(other, abs=1e-7)


@pytest.mark.parametrize("counts", [[3, 5], [0, 4, 9], [400, 2, 0, 11, 87]])
def test_they_are_those_of_statsmodels(counts):
    told = multinomial_proportions_confint(counts, method="goodman")
    for one, other in zip(simultaneous_shares(counts), told, strict=True):
        assert one == pytest.approx(tuple(other), abs=1e-9)


def test_nothing_counted_is_refused():
    with pytest.raises(ValueError, match="two classes"):
        simultaneous_shares([0, 0])
