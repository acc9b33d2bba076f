"""Expected comebacks: the log-rank's expectation, and Simpson's paradox undone."""

import lifelines
import pytest
from hypothesis import given
from hypothesis import strategies as st
from survival_rows import FOLLOWED, shop

from auditkit.fleet.statistics.expectation import expected, hazard
from auditkit.fleet.statistics.followed import Ending, comebacks, gathered, together
from auditkit.fleet.statistics.log_rank import log_rank
from auditkit.fleet.statistics.rare_counts import ratio_limits


def test_it_is_what_the_log_rank_test_expects():
    groups = [gathered(shop(name)) for name in "ABC"]
    of_all = hazard(together(groups))
    found = [expected(group, of_all) for group in groups]
    assert found == pytest.approx(log_rank([groups]).expected)


@given(st.lists(FOLLOWED, min_size=1, max_size=4))
def test_what_is_expected_of_all_is_what_was_seen(rows):
    groups = [gathered(group) for group in rows]
    of_all = hazard(together(groups))
    assert sum(expected(group, of_all) for group in groups) == pytest.approx(
        comebacks(together(groups))
    )


@given(FOLLOWED)
def test_a_library_reaches_the_same_hazard(rows):
    fitted = lifelines.NelsonAalenFitter(nelson_aalen_smoothing=False).fit(
        [t for t, _ in rows], [e for _, e in rows]
    )
    ours = hazard(gathered(rows))
    for time, reached in fitted.cumulative_hazard_.iloc[:, 0].items():
        assert ours.until(time) == pytest.approx(reached)


def test_unlike_work_is_put_right():
    # Invented shops: A does 600 easy and 200 hard repairs, B the reverse. By all
    # repairs A looks better, within each kind of work it is worse.
    easy = {"A": [Ending(1, 18, 582)], "B": [Ending(1, 4, 196)]}
    hard = {"A": [Ending(1, 30, 170)], "B": [Ending(1, 72, 528)]}
    ratios = {}
    for name in "AB":
        e = sum(
            expected(kind[name], hazard(together(kind.values())))
            for kind in (easy, hard)
        )
        seen = comebacks(easy[name]) + comebacks(hard[name])
        ratios[name] = (e, seen / e, *ratio_limits(seen, e))
    assert ratios["A"] == pytest.approx((42, 1.142857, 0.8426526, 1.5152628))
    assert ratios["B"] == pytest.approx((82, 0.926829, 0.7302360, 1.1600650))
