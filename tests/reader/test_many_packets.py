"""Many packets get the answers that each would get alone, in one process or in many."""

import json
import os
import pickle
import random
import sqlite3
from dataclasses import replace

import hypothesis.strategies as st
import pytest
from conftest import PASSPHRASE, judge, small_record
from hypothesis import given
from web_corpus import Forge, packet_text

from auditkit.errors import AuditkitError, InputError, VerificationError
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.check_report import LogProblem
from auditkit.proof.keys import PrivateKey
from auditkit.reader import many_packets
from auditkit.reader.file_kind import GivenFile, packet_in
from auditkit.reader.many_packets import verify_packets
from auditkit.reader.outcomes import KEPT_PROBLEMS, FileOutcome, Summary
from auditkit.text import fast_json
from auditkit.text.strict_json import canonical, parse_canonical


@pytest.fixture
def files(closed, tmp_path):
    """Return good, altered and unusable files, mixed; the same mix each time."""
    folder = tmp_path / "in"
    folder.mkdir()
    good = closed.packet("RO-1")
    lie = json.loads(good)
    lie["statement"][0] = "Repair order RO-1 is proven."
    contents = {
        "other.json": closed.packet("RO-2", reveal=["*"]).encode(),
        "forged.json": Forge().enrol().work().verdict().packet().encode(),
        "unsigned.json": (packet_text(lie)).encode(),
        "spaced.json": good.replace("\n", "\n ", 1).encode(),
        "cut.json": good[: len(good) // 2].encode(),
        "empty.json": b"",
        "bytes.json": b"\xff\xfe",
        "list.json": b"[]",
        "log.json": b"SQLite format 3\x00" + bytes(100),
    }
    raw = good.encode()
    source = random.Random(5)
    for n in range(40):
        changed = bytearray(raw)
        if n % 2:
            changed[source.randrange(len(raw))] ^= 1 << source.randrange(8)
        contents[f"p{n:02}.json"] = bytes(changed)
    made = []
    for name, data in contents.items():
        (folder / name).write_bytes(data)
        made.append(folder / name)
    made += [folder / "missing.json", folder]
    source.shuffle(made)
    return made


def alone(path, **how):
    """Return the answer of ``verify_packet`` in the form of an outcome."""
    try:
        given = GivenFile(str(path), path.read_bytes())
        packet = packet_in(given).packet.data
        report = verify_packet(packet, where=str(path), **how)
    except (InputError, OSError) as error:
        return (str(path), False, 0, "", (), str(error))
    first = report.problems[:KEPT_PROBLEMS]
    return (str(path), report.verified, report.entries, report.log_key, first, "")


def told(outcome):
    """Return an outcome as ``alone`` gives it."""
    return (
        outcome.path,
        outcome.verified,
        outcome.entries,
        outcome.log_key,
        outcome.problems,
        outcome.unusable,
    )


@pytest.mark.parametrize("processes", [1, 2])
@pytest.mark.parametrize("how", ["plain", "key", "trust", "another key"])
def test_every_file_gets_its_own_answer_in_order(files, closed, processes, how):
    asked = {
        "plain": {},
        "key": {"expect_key": closed.log_key.thumbprint},
        "trust": {"trust": closed.checkpoint()},
        "another key": {"expect_key": "A" * 43},
    }[how]
    found = list(verify_packets(files, processes=processes, **asked))
    expected = [alone(path, **asked) for path in files]
    assert [o.path for o in found] == [str(path) for path in files]
    for mine, outcome in zip(expected, found, strict=True):
        own = {"missing.json", "in"}  # refused by their look, in other words
        if os.path.basename(outcome.path) in own:  # noqa: PTH119  the text as it is told
            assert outcome.unusable.startswith(outcome.path)
            assert not mine[1]
            assert mine[5]
        else:
            assert told(outcome) == mine
    kinds = {(o.verified, bool(o.unusable)) for o in found}
    some_hold = how != "another key"
    assert kinds >= {(False, True), (False, False)}
    assert ((True, False) in kinds) == some_hold


def test_one_process_and_many_agree(files):
    assert list(verify_packets(files, processes=1)) == list(
        verify_packets(files, processes=3)
    )


@pytest.mark.parametrize("processes", [1, 2])
def test_progress_reaches_the_total(files, processes):
    seen = []
    done = list(
        verify_packets(files, processes=processes, progress=lambda *at: seen.append(at))
    )
    assert len(done) == len(files)
    assert seen[-1] == (len(files), len(files))
    assert [at for at, _ in seen] == sorted({at for at, _ in seen})
    assert {total for _, total in seen} == {len(files)}
    assert len(seen) >= 4


def test_no_file_is_no_work():
    assert list(verify_packets([])) == []
    assert list(verify_packets([], processes=2)) == []
    assert Summary().exit_status == 2


def vanish(report, *, path):
    path.unlink(missing_ok=True)
    return report


@pytest.mark.parametrize("processes", [1, 2])
def test_a_file_that_vanishes_meanwhile_is_reported(closed, tmp_path, processes):
    from functools import partial

    paths = [tmp_path / f"{n}.json" for n in range(8)]
    for path in paths:
        path.write_text(closed.packet("RO-1"), encoding="utf-8")
    gone = paths[-1]
    found = list(
        verify_packets(
            paths, processes=processes, more_checks=partial(vanish, path=gone)
        )
    )
    assert [o.verified for o in found] == [True] * 7 + [False]
    assert str(gone) in found[-1].unusable
    assert "cannot be read" in found[-1].unusable
    assert "check the path" in found[-1].unusable


def object_to_all(report):
    assert report.packet is not None
    return report.with_more(["somebody objects"], [])


def cannot(_report):
    message = "the roots cannot be read"
    raise InputError(message, where="roots.pem")


def interrupted(_report):
    raise KeyboardInterrupt


def broken(_report):
    return 1 // 0


@pytest.mark.parametrize("processes", [1, 2])
def test_a_further_check_is_heard(files, processes):
    found = list(verify_packets(files, processes=processes, more_checks=object_to_all))
    assert not any(o.verified for o in found)
    assert [o for o in found if any("objects" in p.problem for p in o.problems)]
    found = list(verify_packets(files, processes=processes, more_checks=cannot))
    assert sum("roots.pem" in o.unusable for o in found) >= 20


@pytest.mark.parametrize("processes", [1, 2])
def test_an_interrupt_and_a_defect_are_not_swallowed(files, processes):
    with pytest.raises(KeyboardInterrupt):
        list(verify_packets(files, processes=processes, more_checks=interrupted))
    with pytest.raises(ZeroDivisionError):
        list(verify_packets(files, processes=processes, more_checks=broken))

    def stop(_done, _total):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        list(verify_packets(files, processes=processes, progress=stop))


def killed(_report):
    os._exit(9)


def test_a_killed_process_is_one_clear_error(files):
    with pytest.raises(AuditkitError, match="killed from outside") as caught:
        list(verify_packets(files, processes=2, more_checks=killed))
    assert caught.value.what_to_do


def test_results_come_while_others_are_worked_on(files):
    """Nothing waits for the last file, and stopping early is clean."""
    found = verify_packets(files, processes=2)
    assert next(found).path == str(files[0])
    found.close()
    with pytest.raises(StopIteration):
        next(found)


def test_outcomes_are_small(files):
    """Well below a packet, whatever its size: ten thousand fit in a few megabytes."""
    for outcome in verify_packets(files, processes=1):
        assert len(pickle.dumps(outcome)) < 4_000


def test_many_problems_are_counted_and_the_first_are_kept(closed, tmp_path):
    content = json.loads(closed.packet("RO-1"))
    for entry in content["entries"]:
        entry["proof"] = "x"
    path = tmp_path / "bad.json"
    path.write_text(packet_text(content))
    (outcome,) = verify_packets([path])
    assert len(outcome.problems) == KEPT_PROBLEMS < outcome.found


def test_few_files_start_no_process(files, monkeypatch):
    def never(*_args, **_kwargs):
        raise AssertionError

    monkeypatch.setattr(many_packets, "ProcessPoolExecutor", never)
    assert len(list(verify_packets(files[:5]))) == 5
    monkeypatch.setattr(many_packets, "SMALL", 2)
    monkeypatch.setattr(many_packets.os, "cpu_count", lambda: 2)
    with pytest.raises(AssertionError):
        list(verify_packets(files[:5]))


def test_a_real_log_is_told_from_a_packet(tmp_path):
    path = tmp_path / "a.log"
    with sqlite3.connect(path) as db:
        db.execute("create table t (a)")
    db.close()
    (outcome,) = verify_packets([path])
    assert "this is a log" in outcome.unusable


GOOD = FileOutcome(
    "a.json",
    verified=True,
    entries=5,
    log_key="K1",
    origin="o",
    repair_order="RO-1",
    verdict="unproven",
)
BAD = FileOutcome(
    "b.json",
    verified=False,
    entries=5,
    log_key="K2",
    problems=(LogProblem(4, "it is wrong"),),
    found=3,
)
LOST = FileOutcome(
    "c.json", verified=False, unusable="c.json: this is nothing; ask again"
)


def test_summary_gives_the_answer_first_then_why_then_what_next():
    assert Summary.of([GOOD, BAD, LOST, GOOD]).lines() == [
        "4 packets: 2 verified, 1 NOT verified, 1 cannot be used",
        (
            "    the packets, as judged here: 0 proven, 0 vouched, 2 unproven, "
            "0 contradicted"
        ),
        "    1 repair order; 1 file repeats it",
        "    log key K2: 1 NOT verified",
        "    log key K1: 2 verified",
        "b.json: NOT verified: 3 problems, the first:",
        "b.json: entry 4: it is wrong",
        "c.json: this is nothing; ask again",
        (
            "    what to do: do not rely on those NOT verified; verify each by itself "
            "to see all its problems"
        ),
        "    what to do: ask for those that cannot be used again",
    ]
    assert Summary.of([GOOD]).lines() == [
        "1 packet: 1 verified",
        (
            "    the repairs, as judged here: 0 proven, 0 vouched, 1 unproven, "
            "0 contradicted"
        ),
        "    log key K1: 1 verified",
    ]


def test_what_packets_say_of_repairs_is_counted_beside_that_they_hold():
    """A repair order is one of its log: by the log's name and by its key."""
    others = [
        replace(GOOD, repair_order="RO-2", verdict="contradicted"),
        replace(GOOD, origin="p", verdict="proven"),
        replace(GOOD, log_key="K3", verdict=None),
    ]
    said = Summary.of([GOOD, *others, *others, BAD, LOST])
    assert said.lines()[1:3] == [
        (
            "    the packets, as judged here: 2 proven, 0 vouched, 1 unproven, "
            "2 contradicted, "
            "2 without a verdict"
        ),
        "    4 different repair orders; 3 files repeat one of them",
    ]
    found = said.to_json()
    assert found["verdicts"] == {
        "proven": 2,
        "vouched": 0,
        "unproven": 1,
        "contradicted": 2,
        "none": 2,
    }
    assert (found["repair_orders"], found["repeated"]) == (4, 3)
    apart = Summary.of([GOOD, *others]).lines()
    assert "the repairs, as judged here" in apart[1]
    assert "repeat" not in "".join(apart)
    assert "repairs" not in "".join(Summary.of([BAD, LOST]).lines())


@pytest.mark.parametrize("processes", [1, 2])
def test_a_folder_of_copies_is_told_as_such(closed, catalogue, tmp_path, processes):
    """Copies, and a later packet of an order, repeat it; all of them are verified."""
    texts = [closed.packet("RO-1"), closed.packet("RO-2")]
    record = small_record("RO-9")
    closed.record(
        record, judge(catalogue, record), passphrase=PASSPHRASE, unproven_reason="t"
    )
    texts.append(closed.packet("RO-1"))
    assert texts[2] != texts[0]
    paths = []
    for number in range(9):
        paths.append(tmp_path / f"{number}.json")
        paths[-1].write_text(texts[number % 3], encoding="utf-8")
    found = Summary.of(verify_packets(paths, processes=processes))
    verdict = verify_packet(texts[0]).verdict
    assert found.verdicts == {verdict: 9}
    assert (
        found.lines()[2] == "    2 different repair orders; 7 files repeat one of them"
    )


def test_no_line_of_the_summary_steers_a_terminal():
    evil = "\x1b[2J\n\u202e"
    bad = replace(BAD, path=evil, log_key=evil, problems=(LogProblem(4, evil),))
    lost = replace(LOST, unusable=f"{evil}: unusable")
    lines = Summary.of([bad, lost]).lines()
    assert all(line.isprintable() for line in lines)
    assert sum("<U+001B>[2J<U+000A><U+202E>" in line for line in lines) == 4


def test_summary_names_so_many_files_and_counts_the_rest():
    lines = Summary.of([BAD] * 30 + [LOST] * 25).lines(shown=3)
    assert "    and 27 more that are not verified" in lines
    assert "    and 22 more that cannot be used" in lines
    assert len(lines) < 20


@pytest.mark.parametrize(
    ("outcomes", "status"),
    [([GOOD], 0), ([GOOD, LOST], 2), ([GOOD, BAD, LOST], 1), ([LOST], 2)],
)
def test_exit_status(outcomes, status):
    assert Summary.of(outcomes).exit_status == status


def test_summary_as_json(files):
    found = list(verify_packets(files, processes=1))
    said = json.loads(json.dumps(Summary.of(found).to_json()))
    assert said["packets"] == len(files)
    assert said["packets_verified"] == sum(o.verified for o in found)
    assert not said["verified"]
    listed = [o["path"] for o in said["not_verified"] + said["unusable"]]
    assert sorted(listed) == sorted(o.path for o in found if not o.verified)
    assert sum(k["verified"] for k in said["log_keys"]) == said["packets_verified"]
    assert all(o["unusable"] is None for o in said["not_verified"])


NAMES = st.text(st.characters(max_codepoint=127), max_size=8)
VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.text(max_size=9),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(NAMES, inner, max_size=4)
    ),
    max_leaves=12,
)


@given(st.dictionaries(NAMES, VALUES, max_size=5), st.integers(0, 200), st.data())
def test_a_quick_reading_is_never_another(value, place, data):
    """What the library reads, the strict reader reads."""
    text = canonical(value)
    at = place % (len(text) + 1)
    piece = data.draw(st.sampled_from(["", " ", ",", '"', "\\/", "\\u0041", "0", "é"]))
    text = text[:at] + piece + text[at + place % 2 :]
    found = fast_json.canonical_value(text)
    if found is not None:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(fast_json, "NATIVE", False)
            assert parse_canonical(text) == found


def test_a_kept_acceptance_is_of_key_text_and_signature_together():
    """What fits may be kept in mind: none of the three may then change."""
    key, other = PrivateKey.from_seed(bytes(32)), PrivateKey.from_seed(bytes(31) + b"x")
    for again in (False, True):
        text = b"said with again" if again else b"said without"
        signature = key.sign(text)
        for _ in range(2):
            key.public.verify(signature, text, again=again)
            for wrong in (
                (other.public, signature, text),
                (key.public, signature, text + b"x"),
                (key.public, signature[:-1], signature[-1:] + text),
                (key.public, signature + text[:1], text[1:]),
                (key.public, signature[:-1] + bytes([signature[-1] ^ 1]), text),
            ):
                with pytest.raises(VerificationError):
                    wrong[0].verify(*wrong[1:], again=again)


def test_results_do_not_hang_on_the_pool_of_another_run(closed, tmp_path, catalogue):
    """A second run in one process is asked its own question."""
    record = small_record("RO-9")
    closed.record(
        record, judge(catalogue, record), passphrase=PASSPHRASE, unproven_reason="t"
    )
    path = tmp_path / "p.json"
    path.write_text(closed.packet("RO-9"), encoding="utf-8")
    for key, holds in ((closed.log_key.thumbprint, True), ("A" * 43, False)):
        found = verify_packets([path] * 6, expect_key=key, processes=2)
        assert [o.verified for o in found] == [holds] * 6
