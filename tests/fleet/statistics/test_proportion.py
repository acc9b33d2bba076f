"""Wilson's interval against printed tables and two libraries."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest
from statsmodels.stats.proportion import proportion_confint

from auditkit.fleet.statistics.proportion import wilson


@pytest.mark.parametrize(
    ("hits", "total", "low", "high"),
    [
        # Newcombe 1998, Statistics in Medicine 17:857, Table I (from memory).
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_printed_intervals(hits, total, low, high):
    assert wilson(hits, total) == (
        pytest.approx(low, abs=5e-5),
        pytest.approx(high, abs=5e-5),
    )


@given(st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_two_libraries_agree(counts):
    hits, total = counts
    ours = wilson(hits, total)
    theirs = binomtest(hits, total).proportion_ci(method="wilson")
    assert ours == pytest.approx((theirs.low, theirs.high), abs=1e-12)
    assert ours == pytest.approx(
        proportion_confint(hits, total, method="wilson"), abs=1e-12
    )


def test_five_of_five_are_not_all():
    assert wilson(5, 5)[0] == pytest.approx(0.5655175352)


@pytest.mark.parametrize("counts", [(0, 0), (3, 2), (-1, 2)])
def test_what_is_no_share_is_refused(counts):
    with pytest.raises(ValueError, match="is no share"):
        wilson(*counts)
