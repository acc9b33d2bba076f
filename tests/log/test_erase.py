"""Erasing withheld text: it is gone from the file, and every proof still holds."""

import json
import signal
import sqlite3
from dataclasses import replace
from datetime import datetime

import pytest
from click.testing import CliRunner
from conftest import PASSPHRASE, judge, small_record
from life.edges import run_killed
from web_corpus import edited

from auditkit.cli.erase import erase_command
from auditkit.errors import InputError, LogError
from auditkit.log.ledger import Ledger
from auditkit.log.logged_order import held_line
from auditkit.order.event_kinds import OWN_KINDS
from auditkit.order.schema import validate_event
from auditkit.proof import disclosure
from auditkit.proof.check_packet import parse_packet, verify_packet
from auditkit.proof.entry import parse_payload
from auditkit.proof.sealed_texts import NOT_TOLD, SealedText
from auditkit.reader.steps import own_steps, steps_of, undisclosed

NAME, CONTACT = "Customer Vanishing (invented)", "letter box 77 (invented)"


@pytest.fixture
def own(closed, catalogue):
    """Return a log whose repair order RO-9 alone holds NAME and CONTACT."""
    made = small_record("RO-9")
    opening = {**made.events[0], "customer": {"name": NAME, "contact": CONTACT}}
    record = replace(made, events=(opening, *made.events[1:]))
    closed.record(
        record, judge(catalogue, record), passphrase=PASSPHRASE, unproven_reason="test"
    )
    return closed


def erase(ledger, *paths, reason="asked by letter"):
    return ledger.erase("RO-9", paths=paths, reason=reason, passphrase=PASSPHRASE)


def stored(ledger, path):
    """Return (seq, digest, disclosure) of what RO-9 withholds at a path."""
    for line in ledger.show("RO-9").lines:
        here = {
            undisclosed.digest for undisclosed in line.texts if undisclosed.path == path
        }
        for seq, digest, text in ledger.store.disclosures(line.seq):
            if digest in here:
                return seq, digest, text
    raise AssertionError(path)


def file_bytes(path):
    wal = path.with_name(path.name + "-wal")
    return path.read_bytes() + (wal.read_bytes() if wal.exists() else b"")


def pieces(ledger, path="customer.name", width=12):
    """Return every run of characters that this one disclosure has to itself.

    Most runs are its own: its salt and what the text says. No part may stay behind.
    """
    _, _, text = stored(ledger, path)
    others = [t for _, _, t in ledger.store.disclosures() if t != text]
    runs = [text[i : i + width] for i in range(len(text) - width + 1)]
    own = [run.encode() for run in runs if not any(run in other for other in others)]
    assert len(own) > len(runs) / 2
    return own


def states(ledger, order="RO-9"):
    return {
        text.path: text.state
        for line in ledger.show(order).lines
        for text in line.texts
    }


def test_no_part_of_the_text_stays_in_the_file(own):
    path = own.store.path
    parts = pieces(own)
    kept = stored(own, "customer.contact")
    before = file_bytes(path)
    assert all(part in before for part in parts)
    gone = erase(own, "customer.name")
    after = file_bytes(path)
    assert not [part for part in parts if part in after]
    assert NAME.encode() not in after
    assert kept[2].encode() in after, "only what was asked for is erased"
    assert gone.texts == ((8, "customer.name"),)


def test_copies_that_a_growing_file_left_in_its_pages_go_too(own):
    """A page that splits leaves its old rows in its unused part (SQLite)."""
    parts = pieces(own)
    own.store._db.execute("pragma secure_delete = off")  # builds differ in this
    signer = own.signer("mechanic-1", PASSPHRASE)
    for number in range(40):  # salts are random, so when a page splits is too
        openings = [small_record().events[0]] * 10
        own.append(f"RO-{10 + number}", openings, person="mechanic-1", signer=signer)
        own.store._db.execute("pragma wal_checkpoint(truncate)")
        if any(file_bytes(own.store.path).count(part) > 1 for part in parts):
            break
    else:
        pytest.fail("no page split where the text lies, so nothing was tried")
    parts = pieces(own)  # what the new texts do not share with it by chance
    erase(own, "customer.name")
    left = file_bytes(own.store.path)
    assert not [part for part in parts if part in left]
    assert own.verify().verified


def test_log_and_packets_hold_before_and_after(own):
    _, _, text = stored(own, "customer.name")
    old_checkpoint = own.checkpoint()
    before = own.packet("RO-9", reveal=["*"])
    seq = erase(own, "customer.name").seq
    report = own.verify(trust=old_checkpoint)
    assert report.verified, report.problems
    assert report.checkpoint.size == seq + 1
    assert "withheld texts erased, as the log says: 1" in report.notes
    after = own.packet("RO-9", reveal=["*"])
    with pytest.raises(InputError, match=r"customer.name was erased, by entry \d+"):
        own.packet("RO-9", reveal=["customer.name"])
    for packet in (before, after, own.packet("RO-1")):
        found = verify_packet(packet, expect_key=own.log_key.thumbprint)
        assert found.verified, found.problems
    assert text in before
    assert text not in after
    kinds = [parse_payload(e.payload).event["kind"] for e, _ in _entries(after)]
    assert kinds.count("text_erased") == 1
    for packet in (before, own.packet("RO-1")):
        assert not any("text_erased" in e.payload for e, _ in _entries(packet))


def _entries(packet):
    return parse_packet(packet).entries


def test_a_packet_tells_erased_from_withheld(own):
    """And neither from a text that was lost: of that only the whole log knows."""
    before = verify_packet(own.packet("RO-9"))
    hidden = [(8, "customer.contact"), (8, "customer.name"), (8, "vehicle.plate")]
    assert [(t.seq, t.path) for t in before.texts] == hidden
    assert {t.state for t in before.texts} == {"withheld"}
    assert NOT_TOLD in before.notes
    seq = erase(own, "customer.name").seq
    report = verify_packet(own.packet("RO-9"))
    (erased,) = [t for t in report.texts if t.state == "erased"]
    said = parse_payload(next(iter(own.store.rows(seq))).entry.payload)
    assert erased == SealedText(
        8, "customer.name", "erased", seq, said.recorded_at, "asked by letter"
    )
    assert report.to_json()["texts"][1] == {
        "seq": 8,
        "path": "customer.name",
        "state": "erased",
        "erased_by": seq,
        "erased_at": said.recorded_at,
        "reason": "asked by letter",
    }
    (line,) = [line for line in report.story if line.startswith("Erased")]
    start = f"Erased from entry 8, as entry {seq} says, recorded (as claimed) at "
    at, _, rest = line.removeprefix(start).partition(": ")
    assert (datetime.fromisoformat(at), at[-6:]) == (
        datetime.fromisoformat(said.recorded_at),
        "+01:00",  # as the order's own times
    )
    assert rest == "customer.name. Reason: asked by letter"
    assert (
        "Withheld here from entry 8: customer.contact, vehicle.plate." in report.story
    )
    step = own_steps(steps_of(parse_packet(own.packet("RO-9"))))[0]
    assert undisclosed(step) == (
        f"customer.name (erased, as entry {seq} says); "
        "customer.contact, vehicle.plate (kept back, or never written down)"
    )
    own.store._db.execute("delete from disclosure where seq = 8")
    lost = verify_packet(own.packet("RO-9"))
    assert lost.texts == report.texts
    shown = verify_packet(own.packet("RO-1", reveal=["*"]))
    assert [t.path for t in shown.texts] == ["vehicle.plate"]
    assert NOT_TOLD in shown.notes


def test_an_erased_text_that_is_given_still_is_a_problem(own):
    with_name = own.packet("RO-9", reveal=["customer.name"])
    erase(own, "customer.name")
    given = json.loads(with_name)["disclosures"]
    after = edited(own.packet("RO-9"), lambda c: c["disclosures"].extend(given))
    (problem,) = verify_packet(after).problems
    assert problem.seq == 8
    assert "erased is given still, at customer.name" in problem.problem


def test_the_erasure_of_another_order_has_no_place_in_a_packet(own):
    """It is told of by nobody, and refused where somebody puts it in."""
    erase(own, "customer.name")
    own.erase("RO-1", paths=["customer.name"], reason="r", passphrase=PASSPHRASE)
    mine, other = own.packet("RO-9"), own.packet("RO-1")
    assert "RO-1" not in mine
    assert "RO-9" not in other

    def steal(content):
        undisclosed = {e["seq"] for e in content["entries"]}
        found = [e for e in json.loads(other)["entries"] if e["seq"] not in undisclosed]
        stolen = [e for e in found if e["payload"]["event"]["kind"] == "text_erased"]
        content["entries"] += stolen

    (problem,) = verify_packet(edited(mine, steal)).problems
    assert problem.problem == "it erases something of repair order RO-1"


def test_log_says_what_was_erased_and_why_signed_by_its_key(own):
    seq, digest, _ = stored(own, "customer.name")
    (row,) = own.store.rows(erase(own, "customer.name").seq)
    assert row.repair_order is None
    said = parse_payload(row.entry.payload)
    assert (said.by, said.key) == ("log", own.log_key.thumbprint)
    event = dict(said.event)
    assert validate_event(event, OWN_KINDS) == []
    assert event["repair_order"] == "RO-9"
    assert event["reason"] == "asked by letter"
    assert event["texts"] == [{"seq": seq, "path": "customer.name", "digest": digest}]


def test_withheld_erased_and_lost_read_differently(own):
    assert states(own) == {"customer.name": "withheld", "customer.contact": "withheld"}
    assert not [note for note in own.verify().notes if "lost" in note], "decoys are not"
    erased_by = erase(own, "customer.name").seq
    assert states(own) == {"customer.name": "erased", "customer.contact": "withheld"}
    own.store._db.execute(
        "delete from disclosure where seq = 8 and length(disclosure) > 22"
    )
    assert states(own) == {"customer.name": "erased", "customer.contact": "lost"}
    lines = [held_line(text) for text in own.show("RO-9").lines[0].texts]
    assert f"erased by entry {erased_by}: customer.name" in lines
    assert any(line.startswith("lost: customer.contact: ") for line in lines)
    report = own.verify()
    assert report.verified, report.problems
    (note,) = [note for note in report.notes if "lost" in note]
    assert note.startswith("withheld texts lost: 1 (entries 8)")
    with pytest.raises(InputError, match=r"nothing is withheld at customer\.contact"):
        erase(own, "customer.contact")


def test_recording_again_does_not_bring_it_back(own, catalogue):
    made = small_record("RO-9")
    opening = {**made.events[0], "customer": {"name": NAME, "contact": CONTACT}}
    record = replace(made, events=(opening, *made.events[1:]))
    erase(own, "customer.name")
    again = own.record(
        record, judge(catalogue, record), passphrase=PASSPHRASE, unproven_reason="test"
    )
    assert again.written == 0
    assert states(own)["customer.name"] == "erased"


def test_erased_text_that_comes_back_is_a_problem(own):
    row = stored(own, "customer.name")
    erase(own, "customer.name")
    with own.store.transaction():
        own.store.add_disclosures([row])
    (problem,) = own.verify().problems
    assert problem.seq == row[0]
    assert "is kept still, at customer.name" in problem.problem


def test_amended_text_goes_with_the_path_it_corrects(own, catalogue):
    opening = {**small_record().events[0], "customer": {"name": "Vanishing Too"}}
    amendment = {
        "kind": "amendment",
        "at": "2026-03-02T10:00:00+01:00",
        "by": "mechanic-1",
        "corrects": 0,
        "why": "the name was misspelt",
        "event": opening,
    }
    assert validate_event(amendment, OWN_KINDS) == []
    own.append(
        "RO-9",
        [amendment],
        person="mechanic-1",
        signer=own.signer("mechanic-1", PASSPHRASE),
    )
    gone = erase(own, "customer.name")
    assert [path for _, path in gone.texts] == ["customer.name", "event.customer.name"]
    assert own.verify().verified


def test_asking_twice_or_for_nothing_is_one_clear_error(own):
    seq = erase(own, "customer.name").seq
    size = own.verify().entries
    with pytest.raises(InputError, match=f"erased already, by entry {seq}"):
        erase(own, "customer.name", "customer.contact")
    with pytest.raises(InputError, match=r"nothing is withheld at complaint") as caught:
        erase(own, "complaint")
    assert caught.value.what_to_do == "withheld are customer.contact"
    with pytest.raises(InputError, match="it is empty"):
        erase(own, "customer.contact", reason="")
    with pytest.raises(InputError, match="no path"):
        erase(own)
    with pytest.raises(InputError, match="no repair order"):
        own.erase("RO-8", paths=["x.y"], reason="r", passphrase=PASSPHRASE)
    assert own.verify().entries == size, "nothing was written"
    assert states(own)["customer.contact"] == "withheld"


def test_reader_in_the_way_is_one_clear_error_and_asking_again_scrubs(own):
    parts = pieces(own)
    own.store._db.execute("pragma busy_timeout = 10")
    reader = sqlite3.connect(own.store.path)
    reader.execute("begin")
    reader.execute("select count(*) from disclosure").fetchone()
    with pytest.raises(LogError, match="traces of it may lie") as caught:
        erase(own, "customer.name")
    assert "same command again" in caught.value.what_to_do
    assert states(own)["customer.name"] == "erased"
    reader.close()
    with pytest.raises(InputError, match="erased already"):
        erase(own, "customer.name")
    left = file_bytes(own.store.path)
    assert not [part for part in parts if part in left]


@pytest.mark.parametrize(
    ("place", "when", "done"),
    [
        ("erase_disclosures", "before", False),
        ("erase_disclosures", "after", False),
        ("scrub", "before", True),
    ],
)
def test_killed_between_it_is_whole_or_not_at_all(own, place, when, done):
    path = own.store.path
    size = own.verify().entries
    parts = pieces(own)
    own.close()
    ended = run_killed(
        path, lambda log: erase(log, "customer.name"), place, after=when == "after"
    )
    assert ended == -signal.SIGKILL
    with Ledger.open(path) as again:
        report = again.verify()
        assert report.verified, report.problems
        assert report.entries == size + done
        assert states(again)["customer.name"] == ("erased" if done else "withheld")
        if done:  # the scrubbing that was left undone is done when asked again
            with pytest.raises(InputError, match="erased already"):
                erase(again, "customer.name")
        else:
            erase(again, "customer.name")
        left = file_bytes(path)
        assert not [part for part in parts if part in left]


def test_only_the_logs_key_can_say_that_a_text_was_erased(own):
    _, digest, _ = stored(own, "customer.name")
    event = {
        "kind": "text_erased",
        "at": "2026-03-02T10:00:00+01:00",
        "by": "mechanic-1",
        "repair_order": "RO-9",
        "texts": [{"seq": 8, "path": "customer.name", "digest": digest}],
        "reason": "no order of the shop",
    }
    own.append(
        "RO-9",
        [event],
        person="mechanic-1",
        signer=own.signer("mechanic-1", PASSPHRASE),
    )
    own.store._db.execute("delete from disclosure where digest = ?", (digest,))
    assert "erased" not in states(own).values()
    assert any("lost: 1" in note for note in own.verify().notes)


def test_erasure_of_no_text_is_a_problem(own):
    event = {
        "kind": "text_erased",
        "at": "2026-03-02T10:00:00+01:00",
        "by": "log",
        "repair_order": "RO-9",
        "texts": [{"seq": 8, "path": "customer.name", "digest": "A" * 43}],
        "reason": "made up",
    }
    own.write_own(event, log_key=own.log_signer(PASSPHRASE))
    (problem,) = own.verify().problems
    assert "no entry withholds" in problem.problem


def test_erasure_under_another_name_is_a_problem(own):
    seq, digest, _ = stored(own, "customer.name")
    event = {
        "kind": "text_erased",
        "at": "2026-03-02T10:00:00+01:00",
        "by": "log",
        "repair_order": "RO-9",
        "texts": [{"seq": seq, "path": "customer.contact", "digest": digest}],
        "reason": "made up",
    }
    own.store._db.execute("delete from disclosure where digest = ?", (digest,))
    own.write_own(event, log_key=own.log_signer(PASSPHRASE))
    (problem,) = own.verify().problems
    assert "a text at customer.contact that no entry withholds" in problem.problem


def test_two_values_sealed_under_one_name_are_found_in_the_log(own, monkeypatch):
    """Whoever signs could seal them so; every check of the log refuses."""
    real = disclosure.make
    monkeypatch.setattr(disclosure, "make", lambda _, v, salt: real("name", v, salt))
    signer = own.signer("mechanic-1", PASSPHRASE)
    opening = small_record().events[0]
    customer = {"name": "First (invented)", "contact": "Second (invented)"}
    (seq,) = own.append(
        "RO-9", [{**opening, "customer": customer}], person="mechanic-1", signer=signer
    )
    (problem,) = own.verify().problems
    assert (problem.seq, problem.problem) == (
        seq,
        "a disclosure gives 'name' in place of 'customer.contact'",
    )


def test_command(own):
    arguments = ["RO-9", "--path", "customer.name", "--path", "customer.contact"]
    arguments += ["--reason", "asked by letter", "--log", str(own.store.path)]
    own.close()
    env = {"AUDITKIT_PASSPHRASE": PASSPHRASE.decode()}
    done = CliRunner().invoke(erase_command, arguments, env=env)
    assert done.exit_code == 0, done.output
    assert "erased from RO-9, as entry 11 says" in done.output
    assert "customer.name of entry 8" in done.output
    again = CliRunner().invoke(erase_command, arguments, env=env)
    assert isinstance(again.exception, InputError)
    with Ledger.open(own.store.path) as log:
        assert set(states(log).values()) == {"erased"}
