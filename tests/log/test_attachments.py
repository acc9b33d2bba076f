"""Pictures beside the log: kept, lost, altered, erased; and what is elsewhere."""

import json
from pathlib import Path

import pytest
from conftest import PASSPHRASE, judge, small_record
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

from auditkit.errors import InputError, KeyProblem, LogError
from auditkit.log.attachments import Attachments
from auditkit.log.ledger import Ledger


@pytest.fixture
def write(ledger, catalogue):
    def write(order_id, *events, pictures=()):
        record = record_of(order_id, *events, pictures=pictures)
        judged = judge(catalogue, record)
        return ledger.record(
            record, judged, passphrase=PASSPHRASE, unproven_reason="a test"
        )

    return write


@pytest.fixture
def own(ledger, write):
    """Return a log with one picture."""
    write("RO-1", kept(), pictures=[PICTURE])
    return ledger


def erase(ledger, *attachments, order="RO-1", paths=()):
    return ledger.erase(
        order,
        paths=paths,
        attachments=attachments,
        reason="asked by letter",
        passphrase=PASSPHRASE,
    )


def attached_line(ledger, order="RO-1"):
    (line,) = [e for e in ledger.show(order).lines if e.attachment]
    return line


def test_a_picture_lies_beside_the_log_under_its_digest(own):
    folder = own.store.path.with_name("shop.auditlog.attachments")
    (file,) = folder.iterdir()
    assert (file.name, file.read_bytes()) == (DIGEST, PICTURE)
    assert folder.stat().st_mode & 0o777 == 0o700
    assert file.stat().st_mode & 0o777 == 0o600
    assert attached_line(own).attachment.state == "kept"
    report = own.verify()
    assert report.verified
    assert not [n for n in report.notes if "attachment" in n]


def test_the_same_picture_is_kept_once(own, write):
    write("RO-2", kept(), pictures=[PICTURE])
    assert own.attachments.names() == {DIGEST}
    write("RO-3", kept())  # the bytes are here already
    assert own.verify().verified


def test_a_picture_without_its_bytes_is_not_recorded(ledger, write):
    size = ledger.store.head()[0]
    with pytest.raises(InputError, match=f"bytes of attachment {DIGEST}"):
        write("RO-1", kept())
    with pytest.raises(InputError, match=f"bytes of attachment {DIGEST}"):
        write("RO-1", kept(), pictures=[OTHER])
    assert ledger.store.head()[0] == size
    assert not ledger.attachments.folder.exists()


def test_a_lost_picture_is_noted_and_may_be_put_back(own):
    file = own.attachments.folder / DIGEST
    file.unlink()
    report = own.verify()
    seq = attached_line(own).seq
    assert report.verified
    assert any(f"attachments lost: 1 (entries {seq})" in n for n in report.notes)
    assert attached_line(own).attachment.state == "lost"
    file.write_bytes(PICTURE)
    assert not [n for n in own.verify().notes if "attachment" in n]


@pytest.mark.parametrize("altered", [PICTURE[:-1], PICTURE + b"\0", b"", OTHER])
@pytest.mark.parametrize("signatures", [True, False])
def test_an_altered_picture_is_a_problem(own, altered, signatures):
    (own.attachments.folder / DIGEST).write_bytes(altered)
    report = own.verify(signatures=signatures)
    (problem,) = report.problems
    assert not report.verified
    assert problem.seq == attached_line(own).seq
    assert f"attachment {DIGEST} was altered" in problem.problem


def test_without_signatures_what_was_not_looked_for_is_named(ledger, write):
    write("RO-1", attachment(sha256="0" * 64, media_type="text/csv", size=9))
    (note,) = [n for n in ledger.verify(signatures=False).notes if "attachment" in n]
    assert "was not looked for" in note


def test_another_size_than_was_signed_is_a_problem(own, write):
    write("RO-2", {**kept(OTHER), "size": 5}, pictures=[OTHER])
    (problem,) = own.verify().problems
    assert f"{len(OTHER)} bytes, not 5" in problem.problem


def test_a_digest_alone_is_kept_elsewhere(ledger, write):
    write("RO-1", attachment(sha256="0" * 64, media_type="text/csv", size=9))
    report = ledger.verify()
    assert report.verified
    assert any("attachments kept elsewhere: 1" in n for n in report.notes)
    assert attached_line(ledger).attachment.state == "elsewhere"
    with pytest.raises(InputError, match="no attachment begins"):
        erase(ledger, "0" * 64)


def test_a_file_that_no_entry_names_is_noted(own):
    own.attachments.put(OTHER)
    (own.attachments.folder / "notes.txt").write_text("not ours")
    notes = own.verify().notes
    assert any("files beside the log that no entry names: 1" in n for n in notes)


def test_an_erased_picture_is_gone_and_the_log_says_so(own):
    file = own.attachments.folder / DIGEST
    held = file.open("rb")  # what was written over it can be read here still
    done = erase(own, DIGEST[:8])
    assert done.attachments == (DIGEST,)
    assert not file.exists()
    with held:
        assert held.read() == bytes(len(PICTURE))
    report = own.verify()
    assert report.verified
    assert any("attachments erased, as the log says: 1" in n for n in report.notes)
    line = attached_line(own)
    assert (line.attachment.state, line.attachment.erased_by) == ("erased", done.seq)


def test_text_and_picture_go_in_one_entry(own):
    done = erase(own, DIGEST, paths=["customer.name"])
    assert (len(done.texts), done.attachments) == (1, (DIGEST,))
    assert own.verify().verified


def test_an_erased_picture_that_lies_there_is_a_problem_until_it_is_erased_again(own):
    seq = erase(own, DIGEST).seq
    own.attachments.put(PICTURE)  # as from a backup
    (problem,) = own.verify().problems
    assert f"which entry {seq} erased, lies beside the log still" in problem.problem
    assert "'auditkit erase' for it once more" in " ".join(own.verify().lines("x"))
    with pytest.raises(InputError, match=f"erased already, by entry {seq}"):
        erase(own, DIGEST)
    assert own.verify().verified


def test_an_erased_picture_that_was_put_back_goes_when_the_log_is_next_written(
    own, write
):
    erase(own, DIGEST)
    own.attachments.put(PICTURE)  # as from a backup
    with Ledger.open(own.store.path) as log:
        log.revoke("mechanic-1", reason="a", passphrase=PASSPHRASE, is_last=True)
    assert not own.attachments.names()
    assert own.verify().verified


def test_an_erased_picture_does_not_come_back(own, write):
    seq = erase(own, DIGEST).seq
    with pytest.raises(InputError, match=f"was erased by entry {seq}"):
        write("RO-2", kept(), pictures=[PICTURE])
    assert not own.attachments.names()
    write("RO-1", kept(), kept(OTHER), pictures=[PICTURE, OTHER])  # it goes on
    assert own.attachments.names() == {OTHER_DIGEST}


def test_erasing_for_one_order_erases_for_all(own, write):
    write("RO-2", kept(), pictures=[PICTURE])
    erase(own, DIGEST, order="RO-2")
    assert attached_line(own, "RO-1").attachment.state == "erased"


@pytest.mark.parametrize(
    ("start", "said"),
    [
        ("f" * 8, "no attachment begins"),
        (DIGEST[:7], "no attachment begins"),
        ("", "no"),
    ],
)
def test_which_picture_to_erase_must_be_clear(own, start, said):
    with pytest.raises(InputError, match=said):
        erase(own, start)
    with pytest.raises(
        InputError, match="no path and no attachment says what to erase"
    ):
        erase(own)
    assert own.attachments.names() == {DIGEST}


def test_an_amendment_names_its_picture_too(ledger, write):
    amendment = {
        "kind": "amendment",
        "at": "2026-03-02T11:00:00+01:00",
        "by": "mechanic-1",
        "corrects": 2,
        "why": "the wrong photograph",
        "event": kept(OTHER),
    }
    write("RO-1", kept(), amendment, pictures=[PICTURE, OTHER])
    assert ledger.attachments.names() == {DIGEST, OTHER_DIGEST}
    assert not [n for n in ledger.verify().notes if "beside" in n]
    erase(ledger, OTHER_DIGEST)
    assert ledger.attachments.names() == {DIGEST}


def test_appended_events_bring_their_pictures(ledger):
    signer = ledger.signer("mechanic-1", PASSPHRASE)
    events = [*small_record("RO-7").events, kept()]
    options = {"person": "mechanic-1", "signer": signer}
    with pytest.raises(InputError, match="bytes of attachment"):
        ledger.append("RO-7", events, **options)
    ledger.append("RO-7", events, pictures={DIGEST: PICTURE}, **options)
    assert ledger.attachments.get(DIGEST) == PICTURE


def test_a_signer_that_is_refused_leaves_no_picture(ledger):
    signer = ledger.signer("mechanic-1", PASSPHRASE)
    ledger.revoke("mechanic-1", reason="a", passphrase=PASSPHRASE, is_last=True)
    options = {"person": "mechanic-1", "signer": signer}
    with pytest.raises(KeyProblem):
        ledger.append("RO-7", [kept()], pictures={DIGEST: PICTURE}, **options)
    assert not ledger.attachments.folder.exists()


def test_a_file_that_cannot_be_written_is_one_clear_error(tmp_path):
    (tmp_path / "x.attachments").write_text("in the way")
    with pytest.raises(LogError) as caught:
        Attachments(tmp_path / "x").put(PICTURE)
    assert caught.value.where
    assert caught.value.what_to_do


def test_bytes_that_were_half_written_are_written_anew(tmp_path):
    kept_here = Attachments(tmp_path / "x")
    kept_here.folder.mkdir()
    (kept_here.folder / f"{DIGEST}.new").write_bytes(PICTURE[:9])
    (kept_here.folder / DIGEST).write_bytes(PICTURE[:9])
    assert kept_here.put(PICTURE) == DIGEST
    assert [p.name for p in kept_here.folder.iterdir()] == [DIGEST]
    assert kept_here.get(DIGEST) == PICTURE


def test_the_command_line_records_shows_verifies_and_erases(run):
    assert run("init", "--shop", "S", "--person", "mechanic-1")[0] == 0
    Path("gauge.jpg").write_bytes(photo())
    record = json.loads(Path("RO-1001.json").read_text())
    record["events"].append(
        {**attachment(file="gauge.jpg"), "at": "2026-03-03T10:00:00Z"}
    )
    Path("own.json").write_text(json.dumps(record))
    assert run("check", "own.json")[0] in {0, 1}
    status, _, err = run("record", "own.json", "--unproven", "a test")
    assert (status, err) == (0, "")
    again, out, _ = run("record", "own.json", "--unproven", "a test")
    assert (again, "nothing written" in out) == (0, True)
    assert f"kept: the bytes of {DIGEST}" in run("show", "RO-1001")[1]
    assert run("erase", "RO-1001", "--attachment", DIGEST[:10], "--reason", "r")[0] == 0
    assert "erased by entry" in run("show", "RO-1001")[1]
    assert run("verify", "shop.auditlog")[0] == 0
    Path("gauge.jpg").write_bytes(b"GIF89a")
    status, _, err = run("record", "own.json")
    assert status == 2
    assert "own.json#/events/" in err
    assert "gauge.jpg: this is neither a JPEG nor a PNG" in err
    Path("gauge.jpg").unlink()
    assert "gauge.jpg: there is no such file" in run("check", "own.json")[2]


def test_a_picture_is_looked_at_again_only_once_its_file_changed(tmp_path):
    kept_here, asked = Attachments(tmp_path / "shop.auditlog"), []

    def say(digest, data):
        asked.append(data)
        return f"{digest} of {len(data)}"

    assert kept_here.said_of(DIGEST, say) is None
    assert kept_here.put(PICTURE) == DIGEST
    first = kept_here.said_of(DIGEST, say)
    assert kept_here.said_of(DIGEST, say) == first
    assert asked == [PICTURE]
    (kept_here.folder / DIGEST).write_bytes(PICTURE[:-1])
    assert kept_here.said_of(DIGEST, say) != first
    assert asked == [PICTURE, PICTURE[:-1]]
    kept_here.erase(DIGEST)
    assert kept_here.said_of(DIGEST, say) is None
