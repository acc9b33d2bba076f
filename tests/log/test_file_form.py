"""The log's file has the form of this version and no more, or it is refused by name."""

import shutil
import sqlite3
from contextlib import closing

import pytest
from conftest import close_order
from unguarded import unguarded

from auditkit.errors import LogError
from auditkit.log import file_form
from auditkit.log.ledger import Ledger
from auditkit.log.store import Store

HARMFUL = {
    "an entry that is acknowledged is dropped": (
        "trigger",
        "drops_entries",
        (
            "create trigger drops_entries before insert on entry when new.seq >= 8"
            " begin select raise(ignore); end"
        ),
    ),
    "an entry is changed after it was written": (
        "trigger",
        "changes_entries",
        (
            "create trigger changes_entries after insert on entry when new.seq >= 8"
            " begin insert or replace into entry values (new.seq, new.header, '{}',"
            " new.signature, new.leaf, new.repair_order, new.kind); end"
        ),
    ),
    "a customer's text is dropped": (
        "trigger",
        "drops_texts",
        (
            "create trigger drops_texts after insert on disclosure begin"
            " delete from disclosure where seq = new.seq and digest = new.digest; end"
        ),
    ),
    "a checkpoint is dropped": (
        "trigger",
        "drops_checkpoints",
        (
            "create trigger drops_checkpoints before insert on checkpoint"
            " begin select raise(ignore); end"
        ),
    ),
    "checkpoints are a view over others": (
        "table",
        "others",
        (
            "alter table checkpoint rename to others;"
            " create view checkpoint as select * from others;"
            " create trigger eats instead of insert on checkpoint begin select 1; end"
        ),
    ),
}


def altered(closed, path, statements):
    closed.store._db.execute("vacuum into ?", (str(path),))
    shutil.copytree(closed.keys, path.with_name(f"{path.name}.keys"))
    with closing(sqlite3.connect(path)) as db, db:
        db.executescript(statements)
    return path


def lines(path):
    """Return what lies in the tables of a log, whatever its form."""
    with closing(sqlite3.connect(path)) as db:
        return [
            db.execute(f"select count(*) from {table}").fetchone()
            for table in ("entry", "checkpoint", "disclosure")
        ]


@pytest.mark.parametrize("harm", HARMFUL)
def test_harmful_triggers_and_views_are_refused_by_name(closed, tmp_path, harm, run):
    kind, name, statement = HARMFUL[harm]
    path = altered(closed, tmp_path / "prepared.auditlog", statement)
    with pytest.raises(
        LogError, match=f"the {kind} '{name}'.* has no place in it"
    ) as caught:
        Ledger.open(path)
    assert "restore it" in caught.value.what_to_do
    before = lines(path)
    for command in (("record", "RO-1001.json"), ("list",), ("checkpoint",)):
        status, _, err = run(*command, "--log", path)
        assert (status, name in err) == (2, True), err
    status, _, err = run("verify", path)
    assert (status, name in err) == (2, True), err
    assert lines(path) == before


@pytest.mark.parametrize("harm", list(HARMFUL)[:4])
def test_what_does_not_read_back_is_not_written(
    closed, tmp_path, catalogue, harm, monkeypatch
):
    """Where the form is not looked at, for once: every insert is read back too."""
    monkeypatch.setattr(file_form, "refuse_other", lambda *_: None)
    path = altered(closed, tmp_path / "prepared.auditlog", HARMFUL[harm][2])
    before = lines(path)
    with (
        Ledger.open(path) as ledger,
        pytest.raises(LogError, match="does not read back as it was written"),
    ):
        close_order(ledger, catalogue, "RO-3")
    assert lines(path) == before


def test_a_trigger_that_comes_while_the_log_is_open_is_refused(closed, catalogue):
    path = closed.store.path
    with closing(sqlite3.connect(path)) as db, db:
        db.execute(HARMFUL["an entry that is acknowledged is dropped"][2])
    before = lines(path)
    with pytest.raises(LogError, match="the trigger 'drops_entries' on 'entry' has"):
        close_order(closed, catalogue, "RO-3")
    assert lines(path) == before
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("drop trigger drops_entries")
    assert close_order(closed, catalogue, "RO-3").written == 3


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("drop trigger entry_no_update", "the trigger 'entry_no_update' is missing"),
        ("drop index entry_order", "the index 'entry_order' is missing"),
        ("drop table mark", "the table 'mark' is missing"),
        ("create table more (x)", "the table 'more' has no place in it"),
        ("create view v as select 1", "the view 'v' has no place in it"),
        (
            "create index i on entry (kind)",
            "the index 'i' on 'entry' has no place in it",
        ),
        ("alter table entry add column more text", "the table 'entry' is another"),
        (
            (
                "drop trigger entry_no_delete; create trigger entry_no_delete before"
                " delete on entry begin select 1; end"
            ),
            "the trigger 'entry_no_delete' is another",
        ),
    ],
)
def test_any_other_form_is_refused(closed, tmp_path, statement, said):
    path = altered(closed, tmp_path / "other.auditlog", statement)
    with pytest.raises(LogError, match=said):
        Store.open(path)


@pytest.mark.parametrize(("version", "age"), [(1, "an earlier"), (3, "a later")])
def test_a_file_of_another_version_is_refused_with_its_reason(
    closed, tmp_path, run, version, age
):
    change = f"pragma user_version = {version}"
    path = altered(closed, tmp_path / "other.auditlog", change)
    status, _, err = run("verify", path)
    assert status == 2
    assert f"was written by {age} version of auditkit" in err
    assert f"has version {version}, this one reads and writes version 2" in err


def test_a_log_whose_triggers_were_put_back_opens(closed):
    with unguarded(closed.store._db):
        pass
    Store.open(closed.store.path).close()


def test_the_file_and_its_copy_are_their_owner_s_alone(closed, tmp_path):
    copy = tmp_path / "copy.auditlog"
    closed.store.copy_to(copy)
    for path in (closed.store.path, copy):
        beside = [path, *path.parent.glob(f"{path.name}-*")]
        assert [p for p in beside if p.stat().st_mode & 0o077] == []


def test_a_log_in_no_folder_is_refused_with_what_to_do(tmp_path):
    with pytest.raises(LogError, match="No such file or directory") as caught:
        Store.create(tmp_path / "none" / "shop.auditlog")
    assert caught.value.what_to_do
