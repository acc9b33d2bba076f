"""One change makes an honest record bogus, and no bogus record comes out proven.

A seeded sample runs; AUDITKIT_TESTS=all runs every one of them.
"""

import sampling

import truth.families  # noqa: F401  fills the table of families
from auditkit.order.questions import Question, State
from truth.bogus import FAMILIES, all_bogus, bases, made

SAMPLE = 120
LEAST = 2000


def why_wrong(bogus):
    """Return what is wrong with the judgement of a bogus record; empty if nothing.

    Every verdict below *vouched* is right as long as a question fell that had to; and
    *vouched* where the lie is in what somebody typed.
    """
    found = bogus.draft.judged()
    if any("crashed" in f.message for f in found.findings):
        return f"{bogus.id}: a rule crashed"
    allowed = {"unproven", "contradicted", *(["vouched"] if bogus.family.typed else [])}
    if found.verdict not in allowed:
        return f"{bogus.id}: {found.verdict}"
    falls = bogus.family.falls
    if not falls:
        return ""
    fell = [
        a
        for a in found.answers
        if a.question in falls
        and not (a.state is State.SHOWN and Question(a.question).is_full(a.strength))
    ]
    return "" if fell else f"{bogus.id}: none of {', '.join(falls)} fell"


def test_no_bogus_record_comes_out():
    every = list(all_bogus())
    assert len(every) >= LEAST
    drawn = sampling.sampled(every, SAMPLE, "bogus records")
    records = [one for each in drawn if (one := made(*each))]
    assert len(records) > SAMPLE // 2
    assert [told for one in records if (told := why_wrong(one))] == []


def test_every_family_makes_a_record():
    """A change that fits no job would prove nothing."""
    for one in FAMILIES.values():
        for variant in one.variants:
            assert any(made(one, variant, job) for job in bases(one.way)), (
                f"{one.name}[{variant}]"
            )
