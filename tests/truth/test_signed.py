"""What a shop signs as it likes: its reader is told, and what no packet shows is named.

A seeded sample runs; AUDITKIT_TESTS=all runs every one of them.
"""

import sampling

import truth.families
import truth.lone_families
import truth.signed_families  # noqa: F401  all three fill the table of families
from auditkit.log import reading
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.packet import parse_packet
from auditkit.reader.judge_again import judge_again
from truth.bogus import FAMILIES, Draft, all_bogus, made, why_wrong
from truth.jobs import CATALOGUE
from truth.packets import Signing, packet_of, signed

SIGNED = [
    each
    for each in all_bogus()
    if each[0].change.__module__.endswith("signed_families")
]


def read(packet):
    """Return what a reader is told of a packet, which has to hold."""
    report = verify_packet(packet)
    assert report.problems == ()
    return judge_again(parse_packet(packet), CATALOGUE)[1]


def test_whoever_reads_is_told_that_more_was_signed():
    """Nothing was altered, and what the evidence does not bear out is said."""
    told = 0
    for each in sampling.sampled(SIGNED, 20, "signed lies"):
        bogus = made(*each)
        if bogus is None or bogus.draft.signing is None:
            continue
        assert why_wrong(bogus) == ""
        here = read(bogus.draft.packet)
        assert here.agrees is (bogus.family.where != "packet"), bogus.id
        told += 1
    assert told


def test_what_a_shop_signs_honestly_agrees():
    names = FAMILIES["in_a_second_history"].jobs
    for name in sampling.sampled(names, 2, "honest packets"):
        for lie in (None, "no_test", "fault_back"):
            draft = Draft(name)
            if lie and FAMILIES[lie].change(draft, "03") is False:
                continue
            assert read(packet_of(draft.order, Signing())).agrees, (name, lie)


def _one(name):
    family = FAMILIES[name]
    found = (made(family, None, job) for job in family.jobs)
    return next(filter(None, found)).draft


def test_the_whole_log_shows_what_was_proven_on_another_day():
    """The packet of Tuesday says nothing of Monday; the list of orders does."""
    draft = _one("proven_on_tuesday")
    assert read(draft.packet).verdict == "proven"
    with signed(draft.order, draft.signing) as ledger:
        first, second = reading.orders(ledger)
        assert (first.verdict, second.verdict) == ("contradicted", "proven")
        assert first.vehicle == second.vehicle


def test_two_histories_are_found_by_who_holds_both():
    """Each packet holds by itself; held against the other's checkpoint, it does not."""
    draft = _one("in_a_second_history")
    other = Draft(draft.name)
    FAMILIES["fault_back"].change(other, "03")
    first, second = (packet_of(d.order, Signing()) for d in (draft, other))
    assert read(first).verdict == "proven"
    assert read(second).verdict == "contradicted"
    report = verify_packet(first, trust=parse_packet(second).checkpoint)
    assert [one.problem for one in report.problems] == [
        "the trusted checkpoint has another root: the log was forked"
    ]
