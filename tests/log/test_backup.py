"""A backup holds all that was acknowledged before it, and verifies."""

import shutil
import time

import pytest
from appending import appending
from conftest import PASSPHRASE, close_order, judge, small_record

from auditkit.errors import InputError, LogError, VerificationError
from auditkit.log import attachments, key_files
from auditkit.log.attachments import Attachments
from auditkit.log.backup import back_up
from auditkit.log.ledger import Ledger
from auditkit.log.verify_log import verify_file


def test_a_backup_holds_all_entries_and_attachments(closed, tmp_path):
    path = closed.store.path
    digest = Attachments(path).put(b"bytes of a picture")
    to = tmp_path / "kept" / "copy.auditlog"
    to.parent.mkdir()
    made = back_up(path, to)
    assert made.report.entries == closed.store.head()[0]
    assert made.attachments == 1
    assert Attachments(to).get(digest) == b"bytes of a picture"
    assert sorted(f.name for f in to.parent.iterdir()) == [
        "copy.auditlog",
        attachments.folder_of(to).name,
    ]
    with Ledger.open(to) as copy:
        assert [*copy.store.rows()] == [*closed.store.rows()]
        assert copy.store.disclosures() == closed.store.disclosures()
    assert not key_files.folder_of(to).exists()
    assert (to.stat().st_mode & 0o777) == (path.stat().st_mode & 0o777)


def test_a_file_copied_while_it_is_open_may_miss_entries_a_backup_does_not(
    closed, catalogue, tmp_path
):
    """What ``cp`` takes of an open file is what stood in it at the last checkpoint."""
    close_order(closed, catalogue, "RO-3")
    size = closed.store.head()[0]
    copied = tmp_path / "copied.auditlog"
    shutil.copy(closed.store.path, copied)
    try:
        held = verify_file(copied).entries
    except LogError:
        held = 0
    assert held < size
    made = back_up(closed.store.path, tmp_path / "backed up.auditlog")
    assert made.report.entries == size


def test_a_copied_open_file_put_back_is_refused_for_signing(
    closed, catalogue, tmp_path
):
    closed.store._db.execute("pragma wal_checkpoint(truncate)")
    early = tmp_path / "early.auditlog"
    record = small_record("RO-7")
    closed.record(
        record,
        judge(catalogue, record),
        passphrase=PASSPHRASE,
        unproven_reason="test",
    )
    shutil.copy(closed.store.path, early)  # the write-ahead log is left out
    path = closed.store.path
    closed.close()
    early.replace(path)
    with (
        Ledger.open(path) as put_back,
        pytest.raises(LogError, match="an older copy of the log lies here"),
    ):
        put_back.enrol("tech-b", passphrase=PASSPHRASE)


def test_a_backup_while_another_program_writes(ledger, tmp_path):
    path = ledger.store.path
    writer = appending(path, PASSPHRASE, 100_000)
    writer.ready()
    acknowledged = set(writer.first(3))
    made = []
    for number in range(4):
        acknowledged |= set(writer.first(1))
        known = max(acknowledged)
        made.append((known, back_up(path, tmp_path / f"{number}.auditlog")))
        time.sleep(0.05)
    writer.process.kill()
    writer.end()
    for known, backup in made:
        report = verify_file(backup.path)
        assert report.verified, report.problems
        assert report.entries > known, "acknowledged before, so it is in the backup"


@pytest.mark.parametrize("what", ["file", "attachments"])
def test_a_backup_is_never_written_over(closed, tmp_path, what):
    to = tmp_path / "copy.auditlog"
    taken = to if what == "file" else attachments.folder_of(to)
    taken.mkdir()
    with pytest.raises(InputError, match="exists already") as caught:
        back_up(closed.store.path, to)
    assert caught.value.where == str(taken)
    assert [*taken.iterdir()] == []


def test_a_log_that_does_not_verify_is_not_called_backed_up(closed, tmp_path):
    path = closed.store.path
    db = closed.store._db
    guards = db.execute("select name, sql from sqlite_schema where type = 'trigger'")
    for name, sql in guards.fetchall():
        db.execute(f"drop trigger {name}")
        if name == "entry_no_update":
            db.execute("update entry set signature = x'00' where seq = 3")
        db.execute(sql)
    to = tmp_path / "copy.auditlog"
    with pytest.raises(VerificationError, match="no backup: entry 3") as caught:
        back_up(path, to)
    assert (caught.value.where, bool(caught.value.what_to_do)) == (str(path), True)
    assert not [*tmp_path.glob("copy*")]


def test_an_older_copy_is_not_called_backed_up(closed, catalogue, tmp_path):
    path = closed.store.path
    old = back_up(path, tmp_path / "old.auditlog").path
    record = small_record("RO-7")
    closed.record(
        record, judge(catalogue, record), passphrase=PASSPHRASE, unproven_reason="t"
    )
    closed.close()
    old.replace(path)
    with pytest.raises(LogError, match="an older copy of the log lies here") as caught:
        back_up(path, tmp_path / "copy.auditlog")
    assert "auditkit succeed" in caught.value.what_to_do
    assert not [*tmp_path.glob("copy*")]


def test_a_backup_that_was_stopped_is_made_by_the_same_call(
    closed, tmp_path, monkeypatch
):
    class Killed(BaseException):
        pass

    def killed(*_, **__):
        raise Killed

    to = tmp_path / "copy.auditlog"
    with monkeypatch.context() as patch:
        patch.setattr("auditkit.log.backup.verify_file", killed)
        patch.setattr("shutil.rmtree", lambda *_, **__: None)
        with pytest.raises(Killed):
            back_up(closed.store.path, to)
    assert [f.name for f in tmp_path.glob("copy*")] == ["copy.auditlog.part"]
    assert back_up(closed.store.path, to).report.verified
    assert [f.name for f in tmp_path.glob("copy*")] == ["copy.auditlog"]


def test_backup_on_the_command_line(closed, run, tmp_path):
    to = tmp_path / "copy.auditlog"
    status, out, err = run("backup", "--log", str(closed.store.path), str(to))
    size = closed.store.head()[0]
    assert (status, err) == (0, "")
    assert out == (
        f"{to}: {size} entries and 0 attachments copied, and the copy verified; the "
        "private keys are not in it\n"
    )
    status, _, err = run("backup", "--log", str(closed.store.path), str(to))
    assert status == 2
    assert "exists already" in err
    gone = tmp_path / "no folder" / "copy.auditlog"
    status, _, err = run("backup", "--log", str(closed.store.path), str(gone))
    assert status == 2
    assert str(gone.parent) in err
