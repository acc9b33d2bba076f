"""An older copy is never signed on from; a lost or old key ends in a new name."""

import re
import shutil

import pytest
from conftest import PASSPHRASE, close_order, forced, small_record
from unguarded import unguarded

from auditkit.cli import main
from auditkit.errors import KeyProblem, LogError, VerificationError
from auditkit.log import key_files, newest_checkpoint
from auditkit.log.ledger import Ledger
from auditkit.log.succession import next_origin, succeed
from auditkit.log.verify_log import verify_file
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.role import Role

OTHER = b"another passphrase for tests"


@pytest.fixture
def path(closed):
    return closed.store.path


@pytest.fixture
def backup(closed, path, tmp_path, catalogue):
    """Return a copy of the log file alone, made before a third order was closed."""
    copy = tmp_path / "backup"
    closed.store.scrub()
    shutil.copy(path, copy)
    close_order(closed, catalogue, "RO-3")
    closed.close()
    return copy


def put_back(backup, path):
    for end in ("", "-wal", "-shm"):
        path.with_name(path.name + end).unlink(missing_ok=True)
    shutil.copy(backup, path)


def test_an_old_backup_put_back_signs_nothing(backup, path, catalogue):
    packet = None
    with Ledger.open(path) as whole:
        packet = whole.packet("RO-3")
    put_back(backup, path)
    before = path.read_bytes()
    with Ledger.open(path) as restored:
        report = restored.verify()
        assert report.verified, "a shorter log is sound in itself"
        (note,) = [n for n in report.notes if "older copy" in n]
        assert "signed a checkpoint over 11 entries" in note
        calls = (
            lambda: close_order(restored, catalogue, "RO-4"),
            lambda: restored.append(
                "RO-9",
                small_record().events,
                person="mechanic-1",
                signer=restored.signer("mechanic-1", PASSPHRASE),
            ),
            lambda: restored.enrol("tech-a", passphrase=PASSPHRASE),
            lambda: restored.revoke("mechanic-1", reason="r", passphrase=PASSPHRASE),
            lambda: restored.rotate("mechanic-1", reason="r", passphrase=PASSPHRASE),
            lambda: restored.erase(
                "RO-1", paths=["customer.name"], reason="r", passphrase=PASSPHRASE
            ),
        )
        for call in calls:
            with pytest.raises(LogError, match="has signed 11 already") as caught:
                call()
            assert "auditkit succeed " in caught.value.what_to_do
        assert restored.packet("RO-1"), "what it holds can still be proven"
    with Ledger.open(path) as again:
        assert again.store.head()[0] == 8
    assert path.read_bytes() == before
    assert verify_packet(packet).verified, "a packet of what is lost still holds"


def test_another_history_of_the_same_size_signs_nothing(backup, path, catalogue):
    put_back(backup, path)
    kept = key_files.folder_of(path) / "newest.checkpoint"
    known = kept.read_text()
    kept.unlink()
    with Ledger.open(path) as forked:
        close_order(forked, catalogue, "RO-4")
    kept.write_text(known)
    with (
        Ledger.open(path) as forked,
        pytest.raises(LogError, match="not those that its key has signed"),
    ):
        close_order(forked, catalogue, "RO-5")


def test_the_newest_copy_put_back_goes_on(closed, path, tmp_path, catalogue):
    closed.store.scrub()
    shutil.copy(path, tmp_path / "copy")
    closed.close()
    put_back(tmp_path / "copy", path)
    with Ledger.open(path) as same:
        close_order(same, catalogue, "RO-3")
        assert same.verify().verified


def test_the_note_of_the_newest_must_be_one(closed, path, catalogue):
    (key_files.folder_of(path) / "newest.checkpoint").write_text("x\n")
    with (
        Ledger.open(path) as ledger,
        pytest.raises(LogError, match="not a checkpoint that this log's key signed"),
    ):
        close_order(ledger, catalogue, "RO-3")
    assert newest_checkpoint.recall(path.parent, closed.origin, closed.log_key) is None


def test_after_a_loss_the_log_goes_on_under_a_new_name(
    backup, path, catalogue, tmp_path
):
    put_back(backup, path)
    new = tmp_path / "second.auditlog"
    done = succeed(path, new, reason="the disk broke", passphrase=PASSPHRASE)
    assert (done.held, done.lost, done.closed) == (8, 3, None)
    assert (done.is_same_key, done.people, done.without_key) == (
        True,
        ("mechanic-1",),
        (),
    )
    with Ledger.open(new) as after, Ledger.open(path) as old:
        assert re.fullmatch(rf"{old.origin}/2-[0-9a-f]{{8}}", after.origin)
        assert after.origin == done.origin
        assert after.shop == old.shop
        close_order(after, catalogue, "RO-4")
        report = after.verify(expect_key=old.log_key.thumbprint)
        assert report.verified, report.problems
        told = next(line for line in report.notes if "continues" in line)
        assert f"continues {old.origin} after its first 8 entries: the disk" in told
        assert "had signed after those are lost" in told
        packet = verify_packet(after.packet("RO-4"))
        assert packet.verified
        assert told in packet.notes


def test_a_copy_of_keys_and_log_needs_the_checkpoint_of_others(
    closed, path, tmp_path, catalogue
):
    """The whole folder put back: only what others hold can tell."""
    old = tmp_path / "old"
    closed.store.scrub()
    shutil.copytree(key_files.folder_of(path), key_files.folder_of(old))
    shutil.copy(path, old)
    close_order(closed, catalogue, "RO-3")
    theirs = closed.checkpoint()
    foreign = theirs.replace(closed.origin, "other.example/log")
    with pytest.raises(VerificationError, match="is not this log's") as refused:
        succeed(path, tmp_path / "x", reason="r", passphrase=PASSPHRASE, lost=foreign)
    assert refused.value.where == str(path)
    with pytest.raises(VerificationError, match="not beyond what the log holds"):
        succeed(path, tmp_path / "x", reason="r", passphrase=PASSPHRASE, lost=theirs)
    done = succeed(
        old, tmp_path / "new", reason="r", passphrase=PASSPHRASE, lost=theirs
    )
    assert (done.held, done.lost, done.closed) == (8, 3, None)


def test_a_tail_that_was_cut_before_closing_is_found_by_who_holds_it(
    backup, path, tmp_path
):
    """The shop forgets its last orders, and closes what is left."""
    with Ledger.open(path) as whole:
        held, size = whole.checkpoint(), whole.store.head()[0]
    put_back(backup, path)
    (key_files.folder_of(path) / "newest.checkpoint").unlink()
    done = succeed(
        path, tmp_path / "second.auditlog", reason="r", passphrase=PASSPHRASE
    )
    assert done.closed is not None
    assert done.closed < size
    assert verify_file(path).verified, "in itself the closed log is sound"
    report = verify_file(path, trust=held)
    assert not report.verified
    with Ledger.open(tmp_path / "second.auditlog") as after:
        told = after.ring.continues()
    assert any(str(done.closed) in line for line in told), "where it says it ended"


def test_a_new_key_on_purpose_closes_the_old_log(closed, path, tmp_path, catalogue):
    closed.enrol("tech-a", passphrase=PASSPHRASE)
    new = tmp_path / "second.auditlog"
    done = succeed(path, new, reason="ten years", passphrase=PASSPHRASE, new_key=True)
    assert (done.is_same_key, done.lost) == (False, 0)
    assert done.people == ("mechanic-1", "tech-a")
    with Ledger.open(path) as old, Ledger.open(new) as after:
        assert old.ring.closed == done.closed == 9
        with pytest.raises(LogError, match="was closed by entry 9"):
            close_order(old, catalogue, "RO-3", by="mechanic-1")
        report = old.verify()
        assert report.verified, report.problems
        assert any("closed by entry 9" in line for line in report.notes)
        assert verify_packet(old.packet("RO-1")).verified
        assert after.ring.active("tech-a") == old.ring.active("tech-a")
        assert {p.role for p in after.people()} == {Role.MANAGER, Role.TECHNICIAN}
        close_order(after, catalogue, "RO-3", by="mechanic-1")
        assert after.verify().verified
    third = succeed(
        new, tmp_path / "third", reason="again", passphrase=PASSPHRASE, new_key=True
    )
    assert third.origin.endswith("/3")


def test_what_follows_the_closing_entry_is_found(closed, path, tmp_path):
    signer = closed.signer("mechanic-1", PASSPHRASE)
    succeed(path, tmp_path / "n", reason="r", passphrase=PASSPHRASE, new_key=True)
    (seq,) = forced(closed, "RO-9", [small_record().events[1]], "mechanic-1", signer)
    (problem,) = closed.verify().problems
    assert (problem.seq, problem.problem) == (seq, "the log was closed by entry 8")


def test_the_command_line_says_what_to_do_next(
    backup, path, tmp_path, monkeypatch, capsys
):
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", PASSPHRASE.decode())
    put_back(backup, path)

    def call(*words):
        with pytest.raises(SystemExit) as end:
            main([*map(str, words)])
        return end.value.code, *capsys.readouterr()

    status, _, err = call("key", "enrol", "tech-a", "--log", path)
    assert (status, "an older copy of the log lies here" in err) == (2, True)
    new = tmp_path / "second.auditlog"
    status, _, err = call("succeed", path, new)
    assert (status, "Missing option '--reason'" in err) == (2, True)
    status, _, err = call("succeed", path, "--reason", "x")
    assert (status, "Missing argument 'NEW'" in err) == (2, True)
    assert call("init", "--log", new)[0] == 2
    assert not new.exists()
    status, out, _ = call("succeed", path, new, "--reason", "the disk broke")
    assert status == 0
    assert "3 entries are lost; whoever" in out
    assert "could not be closed: write nothing to it any more" in out
    assert "as before" in out


def test_a_lost_log_key_leaves_an_honest_trace(closed, path, tmp_path, catalogue):
    folder = key_files.folder_of(path)
    (folder / "log.p12").unlink()
    new = tmp_path / "second.auditlog"
    with pytest.raises(KeyProblem, match="no private key of 'log'") as caught:
        succeed(path, new, reason="stolen", passphrase=PASSPHRASE)
    assert "--new-key" in caught.value.what_to_do
    assert not new.exists()
    done = succeed(path, new, reason="stolen", passphrase=PASSPHRASE, new_key=True)
    assert (done.closed, done.people, done.is_same_key) == (
        None,
        ("mechanic-1",),
        False,
    )
    with Ledger.open(new) as after:
        close_order(after, catalogue, "RO-3")
        told = verify_packet(after.packet("RO-3")).notes
        assert any("stolen" in line for line in told)


def test_a_forgotten_passphrase_makes_keys_anew(closed, path, tmp_path):
    closed.enrol("tech-a", passphrase=PASSPHRASE)
    new = tmp_path / "second.auditlog"
    with pytest.raises(KeyProblem, match="no person's key opens") as caught:
        succeed(path, new, reason="forgotten", passphrase=OTHER, new_key=True)
    assert "--person" in caught.value.what_to_do
    assert not new.exists()
    done = succeed(
        path,
        new,
        reason="forgotten",
        passphrase=OTHER,
        new_key=True,
        person="mechanic-1",
    )
    assert (done.people, done.without_key) == (
        ("mechanic-1",),
        ("mechanic-1", "tech-a"),
    )
    with Ledger.open(new) as after:
        assert after.ring.active("mechanic-1") != closed.ring.active("mechanic-1")
        after.signer("mechanic-1", OTHER)


@pytest.mark.parametrize("stopped", ["enrol", "close_for"])
def test_a_stopped_call_is_finished_by_the_same_call(
    closed, path, tmp_path, monkeypatch, stopped
):
    closed.enrol("tech-a", passphrase=PASSPHRASE)
    new = tmp_path / "second.auditlog"

    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(Ledger, stopped, stop)
        with pytest.raises(KeyboardInterrupt):
            succeed(path, new, reason="r", passphrase=PASSPHRASE, new_key=True)
    done = succeed(path, new, reason="r", passphrase=PASSPHRASE, new_key=True)
    assert set(done.people) == {"mechanic-1", "tech-a"}
    assert done.closed is not None
    with Ledger.open(new) as after:
        assert after.verify().verified


def test_two_copies_that_go_on_have_two_names(backup, path, tmp_path):
    """No closing entry can forbid it: so it must not make one name's two histories."""
    put_back(backup, path)
    made = [
        succeed(path, tmp_path / name, reason="r", passphrase=PASSPHRASE)
        for name in ("first", "second")
    ]
    assert made[0].origin != made[1].origin
    assert made[0].is_same_key
    assert made[1].is_same_key


def test_the_newest_copy_found_again_after_an_older_one_was_continued_signs_nothing(
    closed, path, tmp_path, catalogue
):
    """The older copy could not be closed: its key had signed more than it held."""
    closed.store.scrub()
    older, newest, new = (tmp_path / name for name in ("older", "newest", "second"))
    shutil.copy(path, older)
    close_order(closed, catalogue, "RO-3")
    closed.store.scrub()
    shutil.copy(path, newest)
    closed.close()
    put_back(older, path)
    done = succeed(path, new, reason="the disk broke", passphrase=PASSPHRASE)
    assert (done.closed, done.lost) == (None, 3)
    with Ledger.open(path) as copy, pytest.raises(LogError, match=done.origin):
        close_order(copy, catalogue, "RO-4")
    put_back(newest, path)
    with Ledger.open(path) as found:
        size = found.store.head()[0]
        for write in (
            lambda: close_order(found, catalogue, "RO-4"),
            lambda: found.enrol("tech-a", passphrase=PASSPHRASE),
        ):
            with pytest.raises(LogError, match="continues this one") as caught:
                write()
            assert done.origin in caught.value.message
            assert "write to that log" in caught.value.what_to_do
        assert found.store.head()[0] == size
        assert found.verify().verified
        assert verify_packet(found.packet("RO-3")).verified, "it can still be proven"
    again = tmp_path / "third"
    with pytest.raises(LogError, match="continues this one") as caught:
        succeed(path, again, reason="r", passphrase=PASSPHRASE)
    assert not again.exists()
    (key_files.folder_of(path) / "continued-by").unlink()  # that log is lost, as said
    assert succeed(path, again, reason="r", passphrase=PASSPHRASE).closed == size
    with Ledger.open(new) as second:
        close_order(second, catalogue, "RO-4")


def test_a_log_that_was_closed_needs_no_note(closed, path, tmp_path):
    succeed(path, tmp_path / "second", reason="r", passphrase=PASSPHRASE)
    assert not (key_files.folder_of(path) / "continued-by").exists()


def test_a_closed_log_has_one_successor(closed, path, tmp_path):
    first = tmp_path / "first"
    succeed(path, first, reason="r", passphrase=PASSPHRASE)
    with pytest.raises(LogError, match="this log was closed by entry 8"):
        succeed(path, tmp_path / "second", reason="r", passphrase=PASSPHRASE)
    assert not (tmp_path / "second").exists()
    assert succeed(path, first, reason="r", passphrase=PASSPHRASE).closed == 8


def test_an_old_log_that_grew_meanwhile_is_not_closed_at_the_wrong_place(
    closed, path, tmp_path, monkeypatch, catalogue
):
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    new = tmp_path / "n"
    with monkeypatch.context() as patch:
        patch.setattr(Ledger, "close_for", stop)
        with pytest.raises(KeyboardInterrupt):
            succeed(path, new, reason="r", passphrase=PASSPHRASE)
    close_order(closed, catalogue, "RO-3")
    with pytest.raises(LogError, match="the old log grew after this one began"):
        succeed(path, new, reason="r", passphrase=PASSPHRASE)
    assert closed.verify().verified


def test_keys_of_another_log_are_not_taken_for_this_ones(closed, path, tmp_path):
    new = tmp_path / "n"
    succeed(path, new, reason="r", passphrase=PASSPHRASE)
    kept = "newest.checkpoint"
    shutil.copy(key_files.folder_of(path) / kept, key_files.folder_of(new) / kept)
    with Ledger.open(new) as after, pytest.raises(LogError, match="is of another log"):
        after.enrol("tech-z", passphrase=PASSPHRASE)


def test_a_rotation_that_was_stopped_is_finished_first(
    closed, path, tmp_path, monkeypatch
):
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(key_files, "promote", stop)
        with pytest.raises(KeyboardInterrupt):
            closed.rotate("mechanic-1", reason="r", passphrase=PASSPHRASE)
    done = succeed(path, tmp_path / "n", reason="r", passphrase=PASSPHRASE)
    assert (done.people, done.without_key) == (("mechanic-1",), ())


def test_a_checkpoint_that_is_handed_out_is_remembered(
    closed, path, tmp_path, catalogue
):
    """Though its writer was killed before it could note it."""
    closed.store.scrub()
    shutil.copy(path, tmp_path / "backup")
    kept = key_files.folder_of(path) / "newest.checkpoint"
    before = kept.read_text()
    close_order(closed, catalogue, "RO-3")
    kept.write_text(before)
    closed.close()
    with Ledger.open(path) as again:
        assert again.packet("RO-3")
    put_back(tmp_path / "backup", path)
    with Ledger.open(path) as old, pytest.raises(LogError, match="has signed 11"):
        close_order(old, catalogue, "RO-4")


def test_what_is_refused(closed, path, tmp_path, ledger):
    taken = tmp_path / "taken"
    Ledger.create(
        taken, shop="Other", person="mechanic-1", passphrase=PASSPHRASE
    ).close()
    with pytest.raises(LogError, match="continues another log or none"):
        succeed(path, taken, reason="r", passphrase=PASSPHRASE)
    with unguarded(closed.store._db) as db:
        db.execute("update entry set kind = 'x' where seq = 3")
    with pytest.raises(LogError, match="it does not verify"):
        succeed(path, tmp_path / "n", reason="r", passphrase=PASSPHRASE)
    assert not (tmp_path / "n").exists()


@pytest.mark.parametrize(
    ("origin", "after"),
    [
        ("a", "a/2"),
        ("a/2", "a/3"),
        ("a/9", "a/10"),
        ("a/02", "a/02/2"),
        ("a/b", "a/b/2"),
        ("a/2-0123abcd", "a/3"),
    ],
)
def test_names_are_numbered(origin, after):
    assert next_origin(origin) == after
