"""Exact Poisson limits and tails against scipy's distributions."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2, poisson

from auditkit.fleet.statistics import rare_counts

EXPECTED = st.floats(0.01, 500)


@given(st.integers(0, 500), EXPECTED)
def test_scipy_agrees(count, expected):
    low, high = rare_counts.ratio_limits(count, expected)
    if count:
        assert low == pytest.approx(chi2.ppf(0.025, 2 * count) / 2 / expected)
    else:
        assert low == 0
    assert high == pytest.approx(chi2.ppf(0.975, 2 * count + 2) / 2 / expected)
    assert rare_counts.upper_tail(count, expected) == pytest.approx(
        poisson.sf(count - 1, expected), abs=1e-14
    )
    assert rare_counts.lower_tail(count, expected) == pytest.approx(
        poisson.cdf(count, expected), abs=1e-14
    )


@pytest.mark.parametrize(
    ("seen", "expected", "low", "high"),
    [
        (14, 6.2, 1.2345049, 3.7886486),
        (0, 4.1, 0, 0.8997267),
        (30, 20.5, 0.9873597, 2.0891154),
    ],
)
def test_limits_of_a_ratio(seen, expected, low, high):
    assert rare_counts.ratio_limits(seen, expected) == pytest.approx((low, high))


def test_the_printed_limits_of_ten():
    # Garwood 1936, table: 10 events, 95 %: 4.80 to 18.39 (from memory).
    assert rare_counts.limits(10) == pytest.approx((4.80, 18.39), abs=0.005)


def test_tails_with_half_of_the_count_itself():
    assert rare_counts.upper_tail(14, 6.2) == pytest.approx(0.0047966837)
    assert rare_counts.upper_tail_middle(14, 6.2) == pytest.approx(0.0033531746)
    assert rare_counts.upper_tail_middle(30, 20.5) == pytest.approx(0.0235062169)


@pytest.mark.parametrize(("expected", "count"), [(5, 13), (10, 21), (50, 73)])
def test_the_largest_count_within_limits(expected, count):
    assert rare_counts.largest_within(expected, 0.998) == count


@given(st.floats(0.5, 300), st.sampled_from([0.95, 0.998]))
def test_whole_counts_lie_outside_as_scipy_says(expected, confidence):
    low = rare_counts.smallest_within(expected, confidence)
    outside = (1 - confidence) / 2
    for count in range(int(low) + 3):
        if abs(count - low) > 1e-6:
            is_outside = poisson.cdf(count, expected) <= outside
            assert is_outside == (count < low), count


def test_no_event_at_all_may_be_likely():
    assert rare_counts.smallest_within(3.6, 0.95) == 0
    assert rare_counts.smallest_within(3.7, 0.95) > 0  # exp(-3.7) < .025


def test_nothing_expected_has_no_ratio():
    with pytest.raises(ValueError, match="expected"):
        rare_counts.ratio_limits(1, 0.0)
