"""Kaplan-Meier against the printed example and two libraries."""

import lifelines
import numpy as np
import pytest
from hypothesis import given
from statsmodels.duration.survfunc import SurvfuncRight
from survival_rows import FOLLOWED, LEUKAEMIA, shop

from auditkit.fleet.statistics import holding
from auditkit.fleet.statistics.followed import Ending, at_risk, gathered, together


def test_the_printed_curve():
    steps = holding.curve(gathered(LEUKAEMIA))
    assert [round(step.share, 3) for step in steps] == [
        *(0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448)
    ]
    assert [step.deviation for step in steps] == pytest.approx(
        # lifelines and statsmodels, on the same rows
        [
            *(0.0763603548, 0.0869352852, 0.0963496530, 0.1068147078),
            *(0.1140538653, 0.1282337517, 0.1345914568),
        ],
        abs=1e-9,
    )
    assert next(step.time for step in steps if step.share <= 0.5) == 23


def test_the_interval_of_an_invented_shop():
    step = holding.at(holding.curve(gathered(shop("B"))), 90)
    assert (step.share, step.low, step.high) == pytest.approx(
        (0.35, 0.0847990876, 0.6397598033)
    )


@given(FOLLOWED)
def test_two_libraries_agree(rows):
    steps = holding.curve(gathered(rows))
    times, ended = [t for t, _ in rows], [e for _, e in rows]
    # Neither draws an interval where nothing holds any more.
    held = [step for step in steps if step.share > 0]
    fitted = lifelines.KaplanMeierFitter().fit(times, ended)
    shares = fitted.survival_function_["KM_estimate"]
    ends = fitted.confidence_interval_
    for step in steps:
        assert step.share == pytest.approx(shares[step.time], abs=1e-12)
    for step in held:
        assert (step.low, step.high) == pytest.approx(tuple(ends.loc[step.time]))
    if any(ended):
        known = SurvfuncRight(np.array(times), np.array(ended, int))
        here = dict(zip(known.surv_times, known.surv_prob_se, strict=True))
        for step in held:
            assert step.deviation == pytest.approx(here[step.time])


def test_a_curve_stops_where_few_are_followed():
    endings = gathered(shop("B"))
    assert [step.followed for step in holding.curve(endings, least=7)] == [10, 9, 8]
    assert holding.last_told(endings, 7) == 30
    assert holding.followed_until(endings, 180) == 3


def test_nothing_that_came_back_is_no_step():
    assert holding.curve(gathered([(5, False)])) == ()
    assert holding.at((), 90) is None


@given(FOLLOWED, FOLLOWED)
def test_groups_together_are_as_if_gathered_at_once(one, other):
    assert together([gathered(one), gathered(other)]) == gathered(one + other)


def test_who_ends_at_a_time_was_followed_until_it():
    rows = list(at_risk(gathered([(1, True), (1, False), (2, True)])))
    assert rows == [(Ending(1, 1, 1), 3), (Ending(2, 1, 0), 1)]
