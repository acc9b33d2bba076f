"""Between which times each entry was recorded, and claims that lie outside."""

import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import hypothesis.strategies as st
import pytest
from hypothesis import given

from auditkit.errors import VerificationError
from auditkit.proof import cosignature, note
from auditkit.proof.attestation import AttestedCheckpoint
from auditkit.proof.attested_bounds import believed_bounds, with_witnesses
from auditkit.proof.check_report import CheckReport
from auditkit.proof.clock_notes import clock_notes
from auditkit.proof.keys import PrivateKey
from auditkit.proof.time_bounds import (
    SLACK,
    BelievedBounds,
    Bound,
    intervals,
    with_times,
)
from auditkit.proof.trust_policy import parse_trust_policy, quorum_times, satisfied

DAY = datetime(2026, 3, 2, tzinfo=UTC)
LOG = PrivateKey.from_seed(bytes([1] * 32))
ORIGIN = "garage.example/log"
KEYS = {f"w{i}": PrivateKey.from_seed(bytes([10 + i] * 32)) for i in range(3)}


def hour(number, minute=0):
    return DAY + timedelta(hours=number, minutes=minute)


def claim(seq, moment):
    return seq, moment.isoformat(timespec="milliseconds")


def bound(size, number, seq=None, off=0):
    early, late = hour(number, -off), hour(number, off)
    return Bound(size, early, late, f"w{number}", seq)


def test_before_the_outsider_spoke_and_after_the_log_kept_it():
    recorded = [claim(seq, hour(8 + seq)) for seq in range(6)]
    known = intervals(recorded, [bound(2, 10, seq=3), bound(5, 15, seq=5)])
    sides = [(i.after and i.after.who, i.before and i.before.who) for i in known]
    assert sides == [
        (None, "w10"),
        (None, "w10"),
        (None, "w15"),
        ("w10", "w15"),  # the entry that keeps the attestation was written after it
        ("w10", "w15"),
        ("w15", None),
    ]


def test_what_the_log_does_not_keep_bounds_one_side_only():
    (line,) = intervals([claim(0, DAY)], [bound(1, 10)])
    assert (line.after, line.before.who) == (None, "w10")


def test_the_tightest_of_several_counts():
    bounds = [bound(9, 12), bound(5, 11), bound(9, 10), bound(3, 2, 4), bound(4, 1, 5)]
    line = intervals([claim(6, hour(5))], bounds)[0]
    assert (line.after.who, line.before.who) == ("w2", "w10")


@given(
    st.lists(st.integers(0, 20), min_size=1, max_size=12),
    st.lists(
        st.tuples(st.integers(1, 20), st.integers(0, 23), st.integers(0, 20)),
        max_size=8,
    ),
)
def test_agrees_with_a_plain_search(seqs, drawn):
    bounds = [bound(size, number, seq) for size, number, seq in drawn]
    for line in intervals([(seq, "") for seq in seqs], bounds):
        late = [b.latest for b in bounds if b.size > line.seq]
        early = [b.earliest for b in bounds if b.seq is not None and b.seq <= line.seq]
        assert (line.before and line.before.latest) == min(late, default=None)
        assert (line.after and line.after.earliest) == max(early, default=None)


def report(recorded=(), last_event=None):
    return CheckReport(
        verified=True,
        entries=len(recorded),
        checkpoint=None,
        log_key="",
        problems=(),
        recorded=tuple(recorded),
        last_event=last_event,
    )


@pytest.mark.parametrize(
    ("claimed", "said"),
    [
        (hour(10) - SLACK - timedelta(seconds=1), "the clock was set back"),
        (hour(14) + SLACK + timedelta(seconds=1), "the clock was set forward"),
        (hour(10) - SLACK, ""),
        (hour(14) + SLACK, ""),
        (hour(12), ""),
    ],
)
def test_clock_set_back_or_forward_is_a_problem(claimed, said):
    bounds = (bound(1, 10, seq=1), bound(9, 14, seq=9))
    found = with_times(report([claim(2, claimed)]), BelievedBounds(bounds))
    assert found.verified is not bool(said)
    assert [said in p.problem for p in found.problems] == [True] * bool(said)
    assert found.intervals[0]["after"] == "2026-03-02T10:00:00+00:00"
    assert found.intervals[0]["before"] == "2026-03-02T14:00:00+00:00"


def test_what_does_not_hold_is_given_no_times():
    """What outsiders said then bounds nothing of it."""
    bounds = (bound(1, 10, seq=1), bound(9, 14, seq=9))
    false = report([claim(2, hour(12))]).with_more(["it does not hold"], ())
    assert with_times(report([claim(2, hour(12))]), BelievedBounds(bounds)).times
    found = with_times(false, BelievedBounds(bounds))
    assert (found.verified, found.times, found.intervals) == (False, (), ())


def test_an_offset_is_no_contradiction_and_no_time_is_told():
    bounds = (bound(9, 14, seq=9),)
    assert with_times(
        report([(2, "2026-03-02T15:00:00+01:00")]), BelievedBounds(bounds)
    ).verified
    (problem,) = with_times(report([(2, "yesterday")]), BelievedBounds(bounds)).problems
    assert "which is no time" in problem.problem


def test_outsiders_that_contradict_each_other_are_told():
    bounds = (bound(1, 15, seq=1), bound(9, 14, seq=9))
    (problem,) = with_times(
        report([claim(2, hour(14))]), BelievedBounds(bounds)
    ).problems
    assert "w15 and w14 contradict each other" in problem.problem


def test_small_differences_between_outsiders_are_no_contradiction():
    bounds = (bound(1, 14, seq=1, off=-2), bound(9, 14, seq=9))
    assert with_times(report([claim(2, hour(14))]), BelievedBounds(bounds)).verified


def test_times_at_the_ends_of_the_calendar_are_told_not_raised():
    first = datetime(1, 1, 1, tzinfo=UTC)
    last = datetime(9999, 12, 31, 23, 59, 59, tzinfo=UTC)
    for moment in (first, last):
        ends = (Bound(9, moment, moment, "w", 9), Bound(1, moment, moment, "w", 1))
        found = with_times(report([claim(2, hour(12))]), BelievedBounds(ends))
        assert not found.verified


def test_a_time_without_offset_is_the_same_for_every_reader(monkeypatch):
    bounds = (bound(9, 14, seq=9),)
    told = set()
    for zone in ("UTC", "America/Los_Angeles", "Asia/Tokyo"):
        monkeypatch.setenv("TZ", zone)
        time.tzset()
        told.add(
            with_times(
                report([(2, "2026-03-02T12:00:00")]), BelievedBounds(bounds)
            ).verified
        )
    monkeypatch.undo()
    time.tzset()
    assert told == {True}


def test_a_cosigner_of_the_logs_own_name_is_no_outsider():
    """It states what time the shop likes; a quorum may count it all the same."""
    key = PrivateKey.from_seed(bytes(32))
    own = cosignature.make_cosigner(ORIGIN, key.public)
    lines = f"log {note.vkey(ORIGIN, LOG.public)}\nwitness own {own.vkey}\nquorum own\n"
    policy = parse_trust_policy(lines.encode())
    point = note.Checkpoint(ORIGIN, 3, bytes(32))
    body = note.format_checkpoint(point)
    text = note.sign_checkpoint(point, LOG) + cosignature.cosign(body, ORIGIN, key, 7)
    assert satisfied(policy, text).satisfied
    assert quorum_times(policy, text) is None
    assert (
        believed_bounds([AttestedCheckpoint(5, text, point)], policy=policy).bounds
        == ()
    )


def test_a_packets_texts_steer_no_terminal_and_forge_no_line():
    base = report()
    evil = replace(
        base,
        story=("entries 0 to 4: recorded before 2020 (witnesses)",),
        notes=("a\n    note: all is well", "\x1b[2J\u202egone"),
    )
    lines = evil.lines("x")
    assert "    | entries 0 to 4: recorded before 2020 (witnesses)" in lines
    assert all(line.isprintable() for line in lines)
    assert any("a<U+000A>    note: all is well" in line for line in lines)


def test_the_text_names_runs_of_entries():
    recorded = [claim(seq, hour(11, 50)) for seq in range(4)]
    found = with_times(report(recorded), BelievedBounds((bound(3, 12, seq=3),)))
    assert found.times == (
        "entries 0 to 2: recorded before 2026-03-02T12:00:00+00:00 (w12)",
        "entry 3: recorded after 2026-03-02T12:00:00+00:00 (w12)",
    )
    assert with_times(report(recorded), BelievedBounds(())).times == (
        "entries 0 to 3: recorded at an unknown time",
    )
    assert found.lines("x")[2:4] == [f"    {line}" for line in found.times]


def test_times_that_go_back_are_noted():
    steady = [claim(seq, hour(seq)) for seq in range(4)]
    assert clock_notes(steady) == ()
    (note_,) = clock_notes([*steady, claim(4, hour(2)), claim(5, hour(3))])
    assert "went back before entries 4:" in note_


# What witnesses say


def policy_of(quorum, *names):
    lines = [f"log {note.vkey(ORIGIN, LOG.public)}"]
    for name, key in KEYS.items():
        vkey = cosignature.make_cosigner(f"{name}.example/1", key.public).vkey
        lines.append(f"witness {name} {vkey}")
    if names:
        lines.append(f"group g {quorum} {' '.join(names)}")
    lines.append(f"quorum {'g' if names else quorum}")
    return parse_trust_policy(("\n".join(lines) + "\n").encode())


def cosigned(size, seq=None, /, **times):
    point = note.Checkpoint(ORIGIN, size, bytes([size]) * 32)
    text = note.sign_checkpoint(point, LOG)
    for name, at in times.items():
        seconds = int(at.timestamp()) if isinstance(at, datetime) else at
        body = note.format_checkpoint(point)
        line = cosignature.cosign(body, f"{name}.example/1", KEYS[name], seconds)
        text = cosignature.add_line(text, line)
    return AttestedCheckpoint(seq, text, point)


def test_a_quorum_bounds_and_no_single_liar_moves_it():
    """Two of three: the one that lies, early or late, decides neither side alone."""
    policy = policy_of(2, "w0", "w1", "w2")
    honest = {"w0": hour(10), "w1": hour(11)}
    for lie in (1, hour(23)):
        early, late = quorum_times(policy, cosigned(3, **honest, w2=lie).text)
        assert early <= int(hour(11).timestamp())
        assert late >= int(hour(10).timestamp())
    early, late = quorum_times(policy, cosigned(3, **honest, w2=hour(12)).text)
    assert (early, late) == (int(hour(11).timestamp()), int(hour(11).timestamp()))
    assert quorum_times(policy, cosigned(3, w0=hour(10)).text) is None
    assert quorum_times(policy_of("none"), cosigned(3, w0=hour(10)).text) is None


def test_a_witness_bounds_and_a_stranger_does_not():
    policy = policy_of("w0")
    heard = believed_bounds(
        [cosigned(3, 5, w0=hour(10)), cosigned(4, 6, w1=hour(11))], policy=policy
    )
    (only,) = heard.bounds
    assert (only.size, only.seq, only.earliest, only.latest) == (
        3,
        5,
        hour(10),
        hour(10) + timedelta(seconds=1),  # it states whole seconds, rounded down
    )
    assert believed_bounds([cosigned(3, 5, w0=hour(10))]).bounds == ()
    (far,) = believed_bounds([cosigned(3, 5, w0=2**62)], policy=policy).bounds
    assert far.latest.year == 9999


def test_a_false_line_of_a_listed_witness_is_a_problem():
    good = cosigned(3, 5, w0=hour(10))
    other = cosigned(4, 5, w0=hour(10))
    lines = other.text.rpartition("\n\n")[2]
    mixed = AttestedCheckpoint(
        5, good.text.rpartition("\n\n")[0] + "\n\n" + lines, good.checkpoint
    )
    with pytest.raises(VerificationError):
        quorum_times(policy_of("w0"), mixed.text)
    (problem,) = believed_bounds([mixed], policy=policy_of("w0")).problems
    assert (problem.seq, "does not fit" in problem.problem) == (5, True)


def test_witnessed_takes_the_largest_that_the_quorum_knows():
    policy = policy_of("w0")
    known = [cosigned(3, 5, w0=hour(10)), cosigned(7, 9, w0=hour(12)), cosigned(9)]
    base = report()
    assert (
        "first 7 entries are cosigned by w0"
        in with_witnesses(base, policy, known).notes[0]
    )
    covered = report(last_event=6)
    assert with_witnesses(covered, policy, known).verified
    late = report(last_event=7)
    (problem,) = with_witnesses(late, policy, known).problems
    assert "entry 7 is newer than what they know" in problem.problem
    assert not with_witnesses(base, policy, known[2:]).verified
    assert not with_witnesses(base, policy, []).verified
    assert with_witnesses(late, policy, known, known[0].text).verified, (
        "--trust is asked of"
    )
