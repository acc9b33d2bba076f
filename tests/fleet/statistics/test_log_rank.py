"""The log-rank test against a printed value and two libraries."""

import pytest
from lifelines.statistics import logrank_test, multivariate_logrank_test
from statsmodels.duration.survfunc import survdiff
from survival_rows import CONTROL, LEUKAEMIA, shop

from auditkit.fleet.statistics.followed import gathered
from auditkit.fleet.statistics.log_rank import log_rank


def test_the_printed_chi_square_of_two_groups():
    found = log_rank([[gathered(LEUKAEMIA), gathered(CONTROL)]])
    # Kleinbaum and Klein, Survival Analysis, print 16.79 (from memory).
    assert round(found.chi_square, 2) == 16.79
    theirs = logrank_test(*columns(0), *columns(1))
    assert found.chi_square == pytest.approx(theirs.test_statistic)
    assert found.tail == pytest.approx(theirs.p_value)


def columns(place):
    return [[row[place] for row in rows] for rows in (LEUKAEMIA, CONTROL)]


def flat():
    times, ended, names = [], [], []
    for name in "ABC":
        for time, event in shop(name):
            times.append(time)
            ended.append(int(event))
            names.append(name)
    return times, ended, names


def test_three_shops():
    found = log_rank([[gathered(shop(name)) for name in "ABC"]])
    times, ended, names = flat()
    theirs = multivariate_logrank_test(times, names, ended)
    chi, tail = survdiff(times, ended, names)
    assert found.freedom == 2
    assert found.chi_square == pytest.approx(theirs.test_statistic)
    assert (found.chi_square, found.tail) == pytest.approx((chi, tail))
    assert found.chi_square == pytest.approx(3.2595810002)
    assert found.expected == pytest.approx(
        (4.4150765573, 3.3056713150, 5.2792521278), abs=1e-9
    )
    assert sum(found.expected) == pytest.approx(13)


def test_three_shops_within_strata():
    times, ended, names = flat()
    stratum = [place % 2 for place in range(len(times))]
    split = [
        [
            gathered(
                (t, bool(e))
                for t, e, n, s in zip(times, ended, names, stratum, strict=True)
                if (n, s) == (name, which)
            )
            for name in "ABC"
        ]
        for which in (0, 1)
    ]
    found = log_rank(split)
    chi, tail = survdiff(times, ended, names, strata=stratum)
    assert (found.chi_square, found.tail) == pytest.approx((chi, tail))
    assert found.chi_square == pytest.approx(3.3132674826)


def test_a_group_that_nothing_could_happen_to_changes_nothing():
    two = [gathered(shop("A")), gathered(shop("B"))]
    found = log_rank([[*two, ()]])
    assert found.freedom == 1
    assert found.chi_square == pytest.approx(log_rank([two]).chi_square)


@pytest.mark.parametrize(
    "strata",
    [
        [],
        [[gathered([(1, True)])]],
        [[gathered([(1, False)]), gathered([(1, False)])]],
        [[gathered([(1, True)]), ()]],
    ],
)
def test_what_cannot_be_compared_is_refused(strata):
    with pytest.raises(ValueError, match=r"two groups"):
        log_rank(strata)
