"""Stages, late texts, forks and reused numbers of packets that were really signed."""

import random

from collections_made import asked, collected, content, written
from made_logs import CUSTOMER, OTHER_VIN, VIN, MadeLog, demo_events

from auditkit.fleet.collecting import collect
from auditkit.proof.fork import fork_between


def two_stages():
    """Return the packets of an order before and after it was gone on with."""
    log = MadeLog(1)
    events = demo_events()
    log.close("RO-1", events[:9])
    first = log.packet("RO-1")
    log.close("RO-2", demo_events(vin=OTHER_VIN))
    log.close("RO-1", events[9:])
    return log, first, log.packet("RO-1")


def orders(into):
    return asked(
        into,
        "SELECT o.order_no, p.checkpoint_size, is_incomplete FROM repair_order "
        "o JOIN packet p USING (packet_id) ORDER BY ALL",
    )


def test_a_later_stage_replaces_an_earlier_one_in_any_order(tmp_path):
    log, first, second = two_stages()
    made = []
    for place, packets in enumerate(([first, second], [second, first])):
        into, done = collected(tmp_path / str(place), packets)
        assert (done.added, done.conflicts) == (2, [])
        assert orders(into) == [("RO-1", len(log.entries), False)]
        made.append(content(into, without=("stretch",)))
    one_by_one = tmp_path / "later"
    into, _ = collected(one_by_one, [first])
    written(one_by_one / "in", [second])
    assert collect([one_by_one / "in"], into).added == 1
    made.append(content(into, without=("stretch",)))
    for table in set(made[0]) - {"event", "packet"}:
        assert made[0][table] == made[1][table] == made[2][table], table
    assert len(made[0]["event"]) == len(made[1]["event"]) == len(made[2]["event"])


def test_texts_disclosed_later_are_put_to_the_order(tmp_path):
    log, first, second = two_stages()
    disclosed = log.packet("RO-1", reveal=("name",))
    into, done = collected(tmp_path, [first, second, disclosed])
    assert done.not_merged == []
    ((lent,),) = asked(into, "SELECT len(texts_from) FROM repair_order")
    assert lent == 0, "the larger of equal stages is the one that discloses"
    early = log.packet("RO-1", size=14, reveal=("name", "plate"))
    written(tmp_path / "in", [early])
    assert collect([tmp_path / "in"], into).added == 1
    ((lent, size),) = asked(
        into,
        "SELECT len(texts_from), checkpoint_size FROM repair_order "
        "JOIN packet USING (packet_id)",
    )
    assert (lent, size) == (1, len(log.entries))


def test_texts_of_a_packet_that_is_gone_are_told(tmp_path):
    log, _, second = two_stages()
    early = log.packet("RO-1", size=14, reveal=("name",))
    into, _ = collected(tmp_path, [early])
    (tmp_path / "in" / "000.json").unlink()
    written(tmp_path / "in", [second])
    done = collect([tmp_path / "in"], into)
    assert [path[-8:] for path in done.not_merged] == ["000.json"]
    assert orders(into) == [("RO-1", len(log.entries), False)]
    assert any("packet that is gone" in line for line in done.lines())


def test_packets_that_each_lack_entries_make_an_order_incomplete(tmp_path):
    log = MadeLog(1)
    events = demo_events()
    log.close("RO-1", events[:9])
    honest = log.packet("RO-1")
    liar = log.fork()  # of one history: only what the packet leaves out differs
    hidden = set(range(5, 9))
    kept = [n for n in range(2, 11) if n not in hidden]
    said = demo_events()[9]
    liar.add("RO-1", said)
    kept.append(len(liar.entries) - 1)
    liar.add(
        "RO-1",
        {
            "kind": "verdict",
            "at": said["at"],
            "by": "mechanic-1",
            "verdict": "unproven",
            "judged": kept,
            "statement": ["Repair order RO-1 is unproven."],
        },
    )
    verdict = {11}
    cut = liar.packet("RO-1", leave_out=hidden | verdict)
    into, done = collected(tmp_path, [honest, cut])
    assert [found.kind for found in done.conflicts] == ["entries missing"]
    assert [row[2] for row in orders(into)] == [True]
    assert done.incomplete == 1


def test_a_number_used_for_two_vehicles_is_two_orders_and_told(tmp_path):
    log = MadeLog(1)
    log.close("RO-1", demo_events())
    one = log.packet("RO-1")
    again = log.fork()
    first = set(range(2, len(again.entries)))
    for event in demo_events(vin=OTHER_VIN, days=9):
        again.add("RO-1", event)
    own = list(range(max(first) + 1, len(again.entries)))
    verdict = {"kind": "verdict", "at": "2026-03-12T08:13:00+01:00", "by": "mechanic-1"}
    verdict |= {"verdict": "unproven", "judged": own}
    again.add("RO-1", {**verdict, "statement": ["Repair order RO-1 is unproven."]})
    other = again.packet("RO-1", leave_out=first)
    into, done = collected(tmp_path, [one, other])
    assert [found.kind for found in done.conflicts] == ["order number reused"]
    assert sorted(asked(into, "SELECT order_no, vin FROM repair_order")) == [
        ("RO-1", VIN),
        ("RO-1", OTHER_VIN),
    ]
    assert not done.is_forked


def forked_packets():
    """Return packets of two histories of one log, with no entry of an order in both."""
    log = MadeLog(3)
    log.close("RO-1", demo_events())
    other = log.fork()
    log.close("RO-2", demo_events(days=1))
    other.close("RO-3", demo_events(vin=OTHER_VIN, days=2))
    other.close("RO-4", demo_events(days=3))
    return log, log.packet("RO-2"), other.packet("RO-4")


def test_two_histories_of_one_log_are_proven_by_two_packets(run, tmp_path):
    log, one, other = forked_packets()
    honest = MadeLog(4)
    honest.close("RO-1", demo_events())
    into = tmp_path / "fleet.duckdb"
    folder = written(tmp_path / "in", [one, other, honest.packet("RO-1")])
    status, out, _ = run("collect", folder, "--into", into)
    assert status == 1
    fork = fork_between(one, other)
    assert str(fork) in out
    assert "000.json" in out and "001.json" in out and "002.json" not in out
    told = asked(
        into,
        "SELECT c.kind, c.seq, l.origin FROM conflict c JOIN log l USING (log_id)",
    )
    assert told == [("fork", fork.first, log.origin)]
    assert sorted(asked(into, "SELECT origin, is_forked FROM log")) == [
        (log.origin, True),
        (honest.origin, False),
    ]
    kept = asked(into, "SELECT content FROM kept_packet ORDER BY packet_id")
    assert [bytes(text).decode() for (text,) in kept] == [one, other]
    assert run("collect", folder, "--into", into)[0] == 1, "and it stays told"


def test_a_fork_is_found_across_runs_too(tmp_path):
    _, one, other = forked_packets()
    into, done = collected(tmp_path, [one])
    assert not done.is_forked
    written(tmp_path / "in", [other])
    done = collect([tmp_path / "in"], into)
    assert [found.kind for found in done.conflicts] == ["fork"]
    assert str(fork_between(one, other)) == done.conflicts[0].sentence


def test_one_history_in_many_packets_shows_no_fork(tmp_path):
    log = MadeLog(5)
    packets = []
    for n in range(12):
        log.close(f"RO-{n}", demo_events(days=n)[:3])
        packets.append(log.packet(f"RO-{n}"))
        packets.append(log.packet(f"RO-{n // 2}"))
    random.Random(5).shuffle(packets)
    into, done = collected(tmp_path, packets)
    assert done.conflicts == []
    ((size, here),) = asked(into, "SELECT largest_size, entries_delivered FROM log")
    assert size == here == len(log.entries)


def test_coverage_counts_each_entry_once(tmp_path):
    log = MadeLog(6)
    for n in range(6):
        log.close(f"RO-{n}", demo_events(days=n)[:3])
    sent = [log.packet(f"RO-{n}") for n in (0, 2, 5)]
    into, _ = collected(tmp_path, sent)
    written(tmp_path / "in", [log.packet("RO-2", size=len(log.entries) - 4)])
    collect([tmp_path / "in"], into)
    ((size, here),) = asked(into, "SELECT largest_size, entries_delivered FROM log")
    assert (size, here) == (2 + 6 * 4, 2 + 3 * 4)
    seqs = {seq for (seq,) in asked(into, "SELECT seq FROM event")}
    assert len(seqs) == here


def test_one_key_of_two_logs_is_told_unless_one_continues_the_other(tmp_path):
    one = MadeLog(7)
    other = MadeLog(7, origin="elsewhere.example/log")
    after = MadeLog(7, origin=f"{one.origin}/2", predecessor=one.origin)
    for log in (one, other, after):
        log.close("RO-1", demo_events())
    _, done = collected(tmp_path / "a", [one.packet("RO-1"), after.packet("RO-1")])
    assert done.conflicts == []
    packets = [log.packet("RO-1") for log in (one, other, after)]
    _, done = collected(tmp_path / "b", packets)
    assert [found.kind for found in done.conflicts] == ["shared key"]
    assert done.conflicts[0].second.endswith("001.json")


def test_customers_are_nowhere_in_a_collection(tmp_path):
    log = MadeLog(8)
    log.close("RO-1", demo_events())
    into, _ = collected(tmp_path, [log.packet("RO-1", reveal=("name", "contact"))])
    assert CUSTOMER.encode() not in into.read_bytes()


def test_a_number_used_again_takes_no_order_away(tmp_path):
    """One packet that tells no VIN goes to the later vehicle; the first one stays."""
    log, begun, packets = MadeLog(1), [], []
    without_vin = [e for e in demo_events() if e["kind"] != "readout"]
    del without_vin[0]["vehicle"]["vin"]
    for events in (
        without_vin,
        demo_events(days=20),
        demo_events(vin=OTHER_VIN, days=30),
    ):
        begun.append(len(log.entries))
        log.close("RO-1", events, since=begun[-1])
        before = set(range(begun[0], begun[-1]))
        packets.append(log.packet("RO-1", leave_out=before))
    made = []
    for place, first in enumerate(([1, 0], [0, 1], [0, 1, 2])):
        into, _ = collected(tmp_path / str(place), [packets[n] for n in first])
        rest = [one for n, one in enumerate(packets) if n not in first]
        written(tmp_path / str(place) / "in", rest)
        collect([tmp_path / str(place) / "in"], into)
        found = asked(into, "SELECT vin, order_id FROM repair_order ORDER BY 1")
        assert [vin for vin, _ in found] == [VIN, OTHER_VIN]
        assert found[0][1] != found[1][1]
        made.append(content(into, without=("stretch",)))
    for table in set(made[0]) - {"event", "packet"}:
        assert made[0][table] == made[1][table] == made[2][table], table
