"""Aalen-Johansen against a computed example and a library."""

import lifelines
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditkit.fleet.statistics import holding
from auditkit.fleet.statistics.followed import gathered
from auditkit.fleet.statistics.incidence import Ended, incidence

TIMES = [10, 20, 25, 40, 50, 60, 75, 90, 100, 110]
CAUSES = [1, 2, 0, 1, 0, 2, 1, 0, 2, 1]


def of(times, causes):
    return incidence((t, Ended(c), 1) for t, c in zip(times, causes, strict=True))


def test_an_invented_fleet():
    assert of(TIMES, CAUSES) == (
        (10, pytest.approx(0.1)),
        (40, pytest.approx(0.2142857143)),
        (75, pytest.approx(0.3514285714)),
        (110, pytest.approx(0.5571428571)),
    )


def test_leaving_held_for_staying_makes_it_too_large():
    held = holding.curve(
        gathered((t, c == 1) for t, c in zip(TIMES, CAUSES, strict=True))
    )
    assert [1 - step.share for step in held] == pytest.approx(
        [0.1, 0.2285714286, 0.4214285714, 1.0]
    )


# The library moves equal times apart at random: every time once.
@given(
    st.lists(st.integers(1, 1000), min_size=3, max_size=40, unique=True).flatmap(
        lambda times: st.tuples(
            st.just(times),
            st.lists(
                st.sampled_from([0, 1, 2]), min_size=len(times), max_size=len(times)
            ),
        )
    )
)
def test_a_library_agrees(rows):
    times, causes = rows
    ours = of(times, causes)
    if not ours:
        return
    fitted = lifelines.AalenJohansenFitter(jitter_level=0, calculate_variance=False)
    theirs = fitted.fit(times, causes, event_of_interest=1).cumulative_density_
    for time, reached in ours:
        assert reached == pytest.approx(theirs.loc[time].iloc[0])


def test_equal_times_are_taken_together():
    counted = incidence(
        [(5, Ended.CAME_BACK, 2), (5, Ended.LEFT, 3), (9, Ended.CUT_OFF, 5)]
    )
    assert counted == ((5, pytest.approx(0.2)),)
