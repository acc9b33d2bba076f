"""What the customer keeps at the hand-over is held against a packet shown later."""

import base64
import dataclasses
import json
import shutil

import pytest
from conftest import PASSPHRASE, close_order, judge, small_record
from web_corpus import packet_text

from auditkit.errors import InputError, VerificationError
from auditkit.log.ledger import Ledger
from auditkit.order.events import RepairOrder
from auditkit.order.policy import parse_policy
from auditkit.order.verdict_event import verdict_event
from auditkit.proof.check_packet import format_packet, parse_packet, verify_packet
from auditkit.proof.check_report import Unmet
from auditkit.proof.receipt import (
    digest_of_entries,
    digest_of_lines,
    format_receipt,
    parse_receipt,
)
from auditkit.reader.hold_receipt import compare_with_receipt, receipt_of
from auditkit.reader.page.packet_page import packet_page
from auditkit.reader.read_packet import (
    MENDED,
    GivenFile,
    check_file,
    expectations,
)
from auditkit.reader.receipt_story import story_of
from auditkit.reader.steps import steps_of

OTHER = digest_of_lines(["other"])


@pytest.fixture
def packet(closed):
    return closed.packet("RO-1")


@pytest.fixture
def receipt(packet):
    return receipt_of(packet)


@pytest.fixture
def text(receipt):
    return format_receipt(receipt)


def compared(packet, text):
    return compare_with_receipt(verify_packet(packet), text)


def problems(packet, text):
    return compared(packet, text).problems


def told(packet, text):
    """Return what a reader is told, line by line."""
    wanted = expectations(receipt=GivenFile("r.txt", text.encode()))
    return check_file(GivenFile("p.json", packet.encode()), wanted).lines("p.json")


def log_of(folder, shop="Example Yard Garage"):
    folder.mkdir()
    return Ledger.create(
        folder / "shop.auditlog",
        shop=shop,
        person="mechanic-1",
        passphrase=PASSPHRASE,
    )


def test_a_receipt_says_what_the_packet_and_its_checkpoint_say(closed, packet, receipt):
    content = json.loads(packet)
    origin, size, root = content["checkpoint"].split("\n")[:3]
    assert (receipt.origin, str(receipt.size), receipt.root) == (origin, size, root)
    assert receipt.repair_order == "RO-1"
    assert receipt.log_key == closed.log_key.thumbprint
    assert receipt.statement == digest_of_lines(content["statement"])
    read = parse_packet(packet)
    own = {e["seq"] for e in content["entries"] if e["payload"]["repair_order"]}
    leaves = [entry.leaf for entry, _ in read.entries if entry.seq in own]
    assert receipt.entries == digest_of_entries(leaves)
    assert receipt.story == digest_of_lines(story_of(steps_of(read)).lines)


def test_what_the_paper_says_is_told_again_with_the_packet(packet, text):
    lines = told(packet, text)
    place = lines.index(
        "    what the receipt's paper has to say, as this packet tells it:"
    )
    assert lines[place + 1 : place + 4] == [
        "    | Shop: Example Yard Garage",
        "    | Vehicle: delivery van, 2012",
        "    | VIN: 0ZZTB1A18CA000123",
    ]
    (agrees,) = [line for line in lines if "the receipt agrees" in line]
    assert "the order, its steps, its verdict and what it says was done" in agrees
    signed = next(n for n, line in enumerate(lines) if "signed under log key" in line)
    assert lines.index(agrees) == signed + 1, "what was asked is told before the rest"


def test_a_changed_byte_is_refused_or_disagrees(packet, text):
    raw = text.encode()
    silent = []
    for place in range(0, len(raw), 3):
        changed = bytearray(raw)
        changed[place] ^= 1
        try:
            found = problems(packet, changed.decode())
        except InputError:
            continue
        if not found:
            silent.append(place)
    assert silent == []
    assert problems(packet, text) == ()


def test_a_packet_that_does_not_verify_makes_no_receipt_and_is_held_against_none(
    packet, text
):
    content = json.loads(packet)
    content["statement"][0] = "Repair order RO-1 is proven."
    lie = packet_text(content)
    with pytest.raises(VerificationError, match="not the one that was signed"):
        receipt_of(lie)
    with pytest.raises(VerificationError):
        problems(lie, text)
    with pytest.raises(InputError):
        receipt_of("{}")


@pytest.mark.parametrize(
    ("change", "said", "unmet"),
    [
        ({"repair_order": "RO-9"}, "it is of repair order 'RO-9'", Unmet.ORDER),
        ({"origin": "other.example/log"}, "it is of the log 'other", Unmet.LOG),
        (
            {"origin": "other.example/log", "log_key": "A" * 43, "size": 99},
            "under another key",
            Unmet.LOG,
        ),
        ({"log_key": "A" * 43}, "has another key: the receipt says", None),
        ({"root": "A" * 43 + "="}, "different roots: the log was forked", None),
        ({"entries": OTHER}, "an entry was left out or put in", None),
        ({"statement": OTHER}, "the verdict's statement is not the receipt's", None),
        ({"story": OTHER}, "the story on its paper is not", Unmet.STORY),
        ({"size": 9}, "is earlier than the receipt's, of size 9", Unmet.OLDER),
    ],
)
def test_each_disagreement_is_told_alone(packet, receipt, change, said, unmet):
    changed = format_receipt(dataclasses.replace(receipt, **change))
    (found,) = problems(packet, changed)
    assert said in found.problem
    assert found.unmet == unmet


def test_a_receipt_of_a_later_day_than_the_packet_is_told_as_just_that(
    closed, packet, catalogue
):
    close_order(closed, catalogue, "RO-3")
    newer = format_receipt(receipt_of(closed.packet("RO-1")))
    lines = told(packet, newer)
    assert lines[0] == (
        "p.json: record NOT verified: older than your checkpoint or receipt"
    )
    assert "ask the shop for a packet made since" in " ".join(lines)
    assert "do not rely on it" not in " ".join(lines)


def test_an_older_receipt_agrees_where_the_packet_reaches_back(closed, text, catalogue):
    close_order(closed, catalogue, "RO-3")
    held = compared(closed.packet("RO-1"), text)
    (problem,) = held.problems
    assert problem.unmet is Unmet.REACH
    assert "does not reach back to the receipt's, of size" in problem.problem
    assert held.agreement is None
    given = parse_receipt(text)
    since = [(given.size, base64.b64decode(given.root))]
    assert problems(closed.packet("RO-1", since=since), text) == ()


def test_a_receipt_of_the_day_of_closing_needs_no_further_word(closed, catalogue):
    """The packet reaches back by itself to the checkpoint of each closing."""
    close_order(closed, catalogue, "RO-4")
    text = format_receipt(receipt_of(closed.packet("RO-4")))
    close_order(closed, catalogue, "RO-5")
    assert problems(closed.packet("RO-4"), text) == ()


def test_a_receipt_of_another_shop_is_told_as_just_that(tmp_path, catalogue, packet):
    with log_of(tmp_path / "other", "Harbour Yard Garage") as log:
        close_order(log, catalogue, "RO-1")
        theirs = format_receipt(receipt_of(log.packet("RO-1")))
    lines = told(packet, theirs)
    assert lines[0] == "p.json: record NOT verified: your receipt is of another log"
    assert "look on the receipt which shop it is of" in " ".join(lines)
    assert "do not rely on it" not in " ".join(lines)
    assert sum("the receipt: " in line for line in lines) == 1


def test_a_receipt_of_another_order_is_told_as_just_that(closed, packet):
    other = format_receipt(receipt_of(closed.packet("RO-2")))
    lines = told(packet, other)
    assert lines[0] == (
        "p.json: record NOT verified: your receipt is of another repair order"
    )
    assert "do not rely on it" not in " ".join(lines)


def test_a_receipt_that_lost_line_ends_is_put_right_and_that_is_said(packet, text):
    lines = told(packet, text.replace("\n", ""))
    assert f"    note: {MENDED}" in lines
    assert any("the receipt agrees" in line for line in lines)
    assert f"    note: {MENDED}" not in told(packet, text)


def test_a_page_tells_an_earlier_verdict_with_its_own_statement(
    tmp_path, catalogue, monkeypatch
):
    """The newest one's stands at the top, and no other's."""
    signed = iter((["It was contradicted."], ["It is proven."]))
    monkeypatch.setattr(
        "auditkit.log.recording.verdict_event",
        lambda *given: {**verdict_event(*given), "statement": next(signed)},
    )
    record = small_record("RO-7")
    with log_of(tmp_path / "a") as log:
        for end in (len(record.events) - 1, len(record.events)):
            part = dataclasses.replace(record, events=record.events[:end])
            judged = judge(catalogue, part)
            log.record(part, judged, passphrase=PASSPHRASE, unproven_reason="a test")
        page = packet_page(log.packet("RO-7"), {})
    shown = page.partition("<script")[0]
    assert shown.count("It was contradicted.") == 1
    assert shown.count("Its signed statement, before a later verdict was signed:") == 1
    assert shown.count("Its signed statement stands at the top.") == 1


def test_an_order_that_went_on_after_the_receipt_is_told_and_agrees(
    tmp_path, catalogue
):
    """A second readout after days, then a second verdict: the receipt is of one."""
    record = small_record("RO-7")
    with log_of(tmp_path / "a") as log:
        for end in (len(record.events) - 1, len(record.events)):
            part = dataclasses.replace(record, events=record.events[:end])
            log.record(
                part,
                judge(catalogue, part),
                passphrase=PASSPHRASE,
                unproven_reason="a test of the log",
            )
            if end < len(record.events):
                kept = format_receipt(receipt_of(log.packet("RO-7")))
        later = log.packet("RO-7")
    held = compared(later, kept)
    assert held.problems == ()
    assert "the order went on after the receipt: 2 entries were written" in held.went_on
    assert any("the order went on after" in line for line in told(later, kept))
    read = parse_packet(later)
    first = next(
        entry.seq for entry, _ in read.entries if '"kind":"verdict"' in entry.payload
    )
    kept_back = tuple(pair for pair in read.entries if pair[0].seq != first)
    shorter = format_packet(dataclasses.replace(read, entries=kept_back))
    assert verify_packet(shorter).verified, "nothing in the packet itself tells"
    (problem,) = problems(shorter, kept)
    assert "an entry was left out or put in" in problem.problem


def test_a_story_that_the_packet_withholds_is_no_accusation(tmp_path, catalogue):
    policy = parse_policy(
        'format = "auditkit/policy@1"\nwithhold = ["opening.complaint"]\n'
    )
    record = small_record("RO-8")
    order = RepairOrder.fold("RO-8", record.events)
    with log_of(tmp_path / "a") as log:
        log.record(
            record,
            catalogue.judge(order, policy),
            passphrase=PASSPHRASE,
            unproven_reason="a test of the log",
        )
        open_, closed = log.packet("RO-8", reveal=["complaint"]), log.packet("RO-8")
    kept = format_receipt(receipt_of(open_))
    assert problems(open_, kept) == ()
    (problem,) = problems(closed, kept)
    assert problem.unmet is Unmet.STORY
    lines = told(closed, kept)
    assert "does not tell what your receipt's paper tells" in lines[0]
    assert "compare your paper with what is told here" in " ".join(lines)
    assert "    | Complaint: not disclosed" in lines
    assert "    | Complaint: lamp on" in told(open_, kept)


def test_a_packet_cannot_reach_back_to_another_history(closed, text):
    given = parse_receipt(text)
    with pytest.raises(VerificationError, match="does not extend the checkpoint of 8"):
        closed.packet("RO-1", since=[(given.size, bytes(32))])
    with pytest.raises(VerificationError, match="does not extend"):
        closed.packet("RO-1", since=[(given.size + 1, base64.b64decode(given.root))])


def test_a_log_written_anew_with_the_same_key_is_caught(tmp_path, catalogue):
    """Copied before the last order, which each then holds: same size, another root."""
    with log_of(tmp_path / "a") as log:
        close_order(log, catalogue, "RO-1")
    shutil.copytree(tmp_path / "a", tmp_path / "b")
    packets = []
    for name in ("a", "b"):
        with Ledger.open(tmp_path / name / "shop.auditlog") as log:
            close_order(log, catalogue, "RO-2")
            packets.append(log.packet("RO-2"))
    kept = format_receipt(receipt_of(packets[0]))
    assert problems(packets[0], kept) == ()
    found = [problem.problem for problem in problems(packets[1], kept)]
    assert "the log was forked" in found[0]
    lines = told(packets[1], kept)
    assert "do not rely on it" in " ".join(lines)
    assert not any("VIN: " in line for line in lines), "it says nothing any more"


def test_a_log_written_anew_and_grown_does_not_agree_for_want_of_a_proof(
    tmp_path, catalogue
):
    """The shop need only leave the consistency proof out: entries tell it all the same.

    Of an order that was recorded anew, which has other times; of another nothing does.
    """
    with log_of(tmp_path / "a"):
        pass
    shutil.copytree(tmp_path / "a", tmp_path / "b")
    with Ledger.open(tmp_path / "a" / "shop.auditlog") as log:
        close_order(log, catalogue, "RO-1")
        kept = format_receipt(receipt_of(log.packet("RO-1")))
    with Ledger.open(tmp_path / "b" / "shop.auditlog") as log:
        close_order(log, catalogue, "RO-1")
        close_order(log, catalogue, "RO-2")
        anew = parse_packet(log.packet("RO-1"))
    assert any(
        "had another root" in p.problem for p in problems(format_packet(anew), kept)
    )
    forged = format_packet(dataclasses.replace(anew, earlier=()))
    assert verify_packet(forged).verified
    found = problems(forged, kept)
    assert found[0].unmet is Unmet.REACH
    assert any("an entry was left out or put in" in p.problem for p in found)
    lines = told(forged, kept)
    assert "record NOT verified" in lines[0]
    assert not any("the receipt agrees" in line for line in lines)
