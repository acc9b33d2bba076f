"""One change makes an honest record bogus, and no bogus record comes out proven.

Each rule that decides is needed: without it a bogus record comes out, or an honest one
no longer does: all rules are asked. Of the records a seeded sample runs, and with
AUDITKIT_TESTS=all every one.
"""

from itertools import chain, starmap, zip_longest

import pytest
import sampling

import truth.families
import truth.log_families
import truth.lone_families
import truth.signed_families  # noqa: F401  all four fill the table of families
from auditkit.order.findings import Severity, Shown
from truth.bogus import (
    FAMILIES,
    Draft,
    all_bogus,
    bases,
    lacking,
    made,
    only_by,
    why_wrong,
)
from truth.jobs import CATALOGUE, JOBS

SAMPLE = 120
LEAST = 2000
EVERY = list(all_bogus())
ADVICE = [r.name for r in CATALOGUE.rules if r.severity is Severity.ADVISORY]
DECIDING = [r for r in CATALOGUE.rules if r.severity is Severity.BLOCKING]


def records(every):
    """Yield those of them that make sense."""
    return filter(None, starmap(made, every))


def drawn(number, what):
    """Return the bogus records of a sample, or all."""
    return list(records(sampling.sampled(EVERY, number, what)))


def test_no_bogus_record_comes_out():
    assert len(EVERY) >= LEAST
    bogus = drawn(SAMPLE, "bogus records")
    assert len(bogus) > sampling.count(SAMPLE, len(EVERY)) // 2
    assert [told for one in bogus if (told := why_wrong(one))] == []


def test_every_family_makes_a_record():
    """A change that fits no job would prove nothing."""
    for one in FAMILIES.values():
        for variant in one.variants:
            assert any(made(one, variant, job) for job in one.jobs), (
                f"{one.name}[{variant}]"
            )


def shows(rule):
    """Return whether an honest job comes out less well without a rule that shows it."""
    for name in bases():
        order = Draft(name).order
        said = rule.check(order, CATALOGUE.parameters(rule))
        if any(isinstance(one, Shown) for one in said):
            found = lacking(CATALOGUE, rule.name).judge(order)
            if found.verdict != "proven":
                return True
    return False


def stopped_by(rule):
    """Yield the bogus records that a rule may stop, one of each family in turn.

    It is asked first whether it says anything of a record: all others take longer.
    """
    given = CATALOGUE.parameters(rule)
    chance = sampling.chance(rule.name)
    columns = []
    for one in FAMILIES.values():
        if set(one.falls) & set(rule.questions):
            every = [(one, v, job) for v in one.variants for job in one.jobs]
            columns.append(records(chance.sample(every, len(every))))
    chance.shuffle(columns)
    for one in filter(None, chain.from_iterable(zip_longest(*columns))):
        said = rule.check(one.draft.order, given)
        if any(not isinstance(each, Shown) for each in said):
            yield one


@pytest.mark.parametrize("rule", DECIDING, ids=lambda rule: rule.name)
def test_each_rule_that_decides_is_needed(rule):
    """Rules of advice are left out: they decide nothing, as the next test holds."""
    assert shows(rule) or any(only_by(one) == rule.name for one in stopped_by(rule))


def test_advice_decides_nothing():
    """What is worth a sentence and no more is of severity *advisory*.

    What was signed is left out: a reader that lacks a rule of the shop's says so.
    """
    assert ADVICE
    number = sampling.count(60, 1000)
    for one in records(sampling.chance("advised records").sample(EVERY, number)):
        if one.draft.signing is not None:
            continue
        whole, bare = one.draft.judged(), one.draft.judged(*ADVICE)
        assert (bare.verdict, bare.answers) == (whole.verdict, whole.answers), one.id
    for name in sampling.sampled(list(JOBS), 5, "advised jobs"):
        order = Draft(name).order
        whole, bare = (
            lacking(CATALOGUE, *left_out).judge(order) for left_out in ((), ADVICE)
        )
        assert (bare.verdict, bare.answers) == (whole.verdict, whole.answers), name
