"""Kinds of work are told apart where there is enough of them."""

from auditkit.fleet.outcomes.strata import strata
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics.followed import Ending


def named(events):
    return strata({kind: (Ending(9, n, 0),) for kind, n in events.items()}, Settings())


def test_a_group_with_enough_of_each_age_is_told_apart_by_age():
    assert named({("egr", 0): 20, ("egr", 2): 25, ("egr", None): 21}) == {
        ("egr", 0): "egr, 0 to 4 years",
        ("egr", 2): "egr, 10 years and more",
        ("egr", None): "egr, age not known",
    }


def test_ages_are_joined_where_one_is_small():
    assert named({("egr", 0): 19, ("egr", 1): 25}) == {
        ("egr", 0): "egr",
        ("egr", 1): "egr",
    }


def test_small_groups_are_other_work_and_codes_of_no_group_too():
    assert set(named({("egr", 0): 10, ("fan", 0): 9, ("", 1): 70}).values()) == {
        "all other work"
    }
