"""Pictures in a packet: each is held against the digest that was signed."""

import hashlib
import json
from dataclasses import replace
from pathlib import Path

import pytest
from conftest import PASSPHRASE, judge
from photo import (
    DIGEST,
    OTHER,
    OTHER_DIGEST,
    PICTURE,
    attachment,
    kept,
    photo,
    record_of,
)

from auditkit.errors import InputError, LogError
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.packet import format_packet, parse_packet

OTHERWISE = "not the one that its digest names"
ELSEWHERE = attachment(sha256="0" * 64, media_type="text/csv", size=9)


@pytest.fixture
def own(ledger, catalogue):
    """Return a log with an order of two pictures and a file that is elsewhere."""
    events = (kept(), kept(OTHER), kept(), ELSEWHERE)
    record = record_of("RO-1", *events, pictures=[PICTURE, OTHER])
    judged = judge(catalogue, record)
    ledger.record(record, judged, passphrase=PASSPHRASE, unproven_reason="a test")
    return ledger


def seqs(ledger):
    lines = ledger.show("RO-1").lines
    return {e.attachment.sha256: e.seq for e in lines if e.attachment}


def notes(report):
    found = [n for n in report.notes if "attachments" in n or "pictures" in n]
    return [n.partition(";")[0] for n in found]


def test_a_packet_carries_each_picture_once(own):
    made = own.packet("RO-1", with_attachments=True)
    expected = sorted([(DIGEST, PICTURE), (OTHER_DIGEST, OTHER)])
    assert list(parse_packet(made).attachments) == expected
    report = verify_packet(made)
    assert report.verified
    assert notes(report) == [
        "pictures in this packet, as their digests say: 2",
        f"attachments not in this packet: 1 (entries {seqs(own)['0' * 64]})",
    ]


def test_a_packet_carries_none_unless_asked(own):
    made = own.packet("RO-1")
    assert parse_packet(made).attachments == ()
    report = verify_packet(made)
    assert report.verified
    (said,) = notes(report)
    assert said.startswith("attachments not in this packet: 3 (entries ")


def test_it_is_json_that_any_library_writes_alike(own):
    made = own.packet("RO-1", with_attachments=True)
    given = json.loads(made)["attachments"]
    assert [sorted(item) for item in given] == [["data", "sha256"]] * 2
    end = json.dumps({"attachments": given}, indent=2)[2:]
    assert made.endswith(f",\n{end}\n")


def tampered(own, change):
    packet = parse_packet(own.packet("RO-1", with_attachments=True))
    changed = replace(packet, attachments=tuple(change(list(packet.attachments))))
    return verify_packet(format_packet(changed))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            lambda a: [(a[0][0], a[0][1][:-1]), a[1]],
            "not the one that its digest names",
        ),
        (lambda a: [(a[0][0], a[1][1]), a[1]], "not the one that its digest names"),
        (lambda a: [(a[0][0], b""), a[1]], "not the one that its digest names"),
        (lambda a: [("x", PICTURE), *a], "not in order"),
        (lambda a: a[::-1], "not in order"),
        (lambda a: [a[0], *a], "not in order"),
    ],
)
def test_a_picture_that_was_changed_is_found(own, change, said):
    report = tampered(own, change)
    assert not report.verified
    assert any(said in problem.problem for problem in report.problems)


def test_a_picture_of_another_order_is_found(own):
    third = photo(1, 33)
    stray = parse_packet(own.packet("RO-1", with_attachments=True))
    digest = hashlib.sha256(third).hexdigest()
    files = tuple(sorted([*stray.attachments, (digest, third)]))
    report = verify_packet(format_packet(replace(stray, attachments=files)))
    (problem,) = report.problems
    assert "is named by no entry of the packet" in problem.problem


def test_a_size_that_was_signed_otherwise_is_found(ledger, catalogue):
    record = record_of("RO-1", {**kept(), "size": 5}, pictures=[PICTURE])
    judged = judge(catalogue, record)
    ledger.record(record, judged, passphrase=PASSPHRASE, unproven_reason="a test")
    told = (
        f"entry {seqs(ledger)[DIGEST]}: its attachment has {len(PICTURE)} bytes, not 5"
    )
    with pytest.raises(LogError, match=told):
        ledger.packet("RO-1", with_attachments=True)


def test_a_picture_taken_out_leaves_a_packet_that_says_so(own):
    report = tampered(own, lambda given: given[:1])
    assert report.verified
    assert any(n.startswith("attachments not in this packet: 2") for n in notes(report))


@pytest.mark.parametrize("data", ["", "AA==", "AB==", "A", "\n", 7])
def test_the_bytes_are_written_in_one_way_only(own, data):
    made = own.packet("RO-1", with_attachments=True)
    value = json.loads(made)
    value["attachments"][0]["data"] = data
    changed = json.dumps(value, indent=2, ensure_ascii=False) + "\n"
    try:
        assert not verify_packet(changed).verified
    except InputError as error:
        assert error.what_to_do


@pytest.mark.parametrize("lose", [Path.unlink, lambda file: file.write_bytes(OTHER)])
def test_a_picture_that_is_lost_or_altered_is_not_packed(own, lose):
    lose(own.attachments.folder / DIGEST)
    with pytest.raises(LogError, match=f"{DIGEST} of entry .* is lost or altered"):
        own.packet("RO-1", with_attachments=True)
    assert own.packet("RO-1")


def states(report):
    return [
        (file["state"], file["erased_by"]) for file in report.to_json()["attachments"]
    ]


def test_a_report_tells_what_became_of_each_file(own):
    carried, elsewhere = ("carried", None), ("elsewhere", None)
    report = verify_packet(own.packet("RO-1", with_attachments=True))
    assert states(report) == [carried, carried, carried, elsewhere]
    assert states(verify_packet(own.packet("RO-1"))) == [elsewhere] * 4
    assert states(tampered(own, lambda given: given[::-1])) == []


def test_an_erased_picture_is_not_packed(own):
    done = own.erase("RO-1", attachments=[DIGEST], reason="r", passphrase=PASSPHRASE)
    made = own.packet("RO-1", with_attachments=True)
    assert parse_packet(made).attachments == ((OTHER_DIGEST, OTHER),)
    report = verify_packet(made)
    assert report.verified
    erased = ("erased", done.seq)
    assert states(report) == [erased, ("carried", None), erased, ("elsewhere", None)]
    assert "attachments erased, as the log says: 1" in notes(report)


def test_an_erased_picture_that_is_given_still_is_found(own):
    before = parse_packet(own.packet("RO-1", with_attachments=True))
    done = own.erase("RO-1", attachments=[DIGEST], reason="r", passphrase=PASSPHRASE)
    after = parse_packet(own.packet("RO-1"))
    report = verify_packet(
        format_packet(replace(after, attachments=before.attachments))
    )
    (problem,) = report.problems
    assert f"that entry {done.seq} erased is given still" in problem.problem


def test_a_packet_that_would_be_too_long_is_refused(own, monkeypatch):
    monkeypatch.setattr("auditkit.log.packet_maker.MAX_PACKET", 20_000)
    with pytest.raises(InputError, match=r"more than 20000 .* leave out --with-att"):
        own.packet("RO-1", with_attachments=True)


def test_the_command_packs_pictures(run):
    assert run("init", "--shop", "S", "--person", "mechanic-1")[0] == 0
    Path("gauge.jpg").write_bytes(photo())
    record = json.loads(Path("RO-1001.json").read_text())
    own = {**attachment(file="gauge.jpg"), "at": "2026-03-03T10:00:00Z"}
    record["events"].append(own)
    Path("own.json").write_text(json.dumps(record))
    assert run("record", "own.json", "--unproven", "a test")[0] == 0
    status, out, _ = run("packet", "RO-1001", "--with-attachments", "--out", "p.json")
    assert (status, "carries 1 picture" in out) == (0, True)
    status, out, _ = run("verify", "p.json")
    assert (status, "pictures in this packet, as their digests say: 1" in out) == (
        0,
        True,
    )
