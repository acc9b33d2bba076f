"""A person's passphrase and the log's are two, or one where one person works."""

import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import PASSPHRASE

from auditkit.log import key_files
from auditkit.log.ledger import Ledger

OWN = "a passphrase of tech-a alone"
FORGOTTEN = "key file does not open with this passphrase"


@pytest.fixture
def shop(run, monkeypatch):
    """Return the command line of a shop where tech-a has a passphrase of their own."""
    assert run("init", "--shop", "S", "--person", "lead-1")[0] == 0
    Path("own").write_text(f"{OWN}\n")
    assert run("key", "enrol", "tech-a", "--own-passphrase-file", "own")[0] == 0
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", OWN)
    return run


def told(shop, *arguments):
    status, _, err = shop(*arguments)
    assert status == 2
    return err


RECORD = ("record", "RO-1001.json", "--by", "tech-a")


def test_each_opens_its_own_key(shop, monkeypatch):
    said = told(shop, *RECORD)
    assert "shop.auditlog.keys/log.p12" in said
    assert "AUDITKIT_LOG_PASSPHRASE holds the log key's, where yours is another" in said
    monkeypatch.setenv("AUDITKIT_LOG_PASSPHRASE", PASSPHRASE.decode())
    assert shop(*RECORD)[0] == 0
    assert "shop.auditlog.keys/lead-1.p12" in told(shop, *RECORD[:3], "lead-1")
    assert shop("key", "revoke", "tech-a", "--reason", "left")[0] == 0
    assert shop("verify", "shop.auditlog")[0] == 0


def test_a_wrong_one_for_the_log_is_told_as_that(shop, monkeypatch):
    monkeypatch.setenv("AUDITKIT_LOG_PASSPHRASE", "wrong")
    assert f"shop.auditlog.keys/log.p12: the {FORGOTTEN}" in told(shop, *RECORD)
    with Ledger.open(Path("shop.auditlog")) as ledger:
        assert ledger.store.head()[0] == 3, "nothing was written"


def test_a_forgotten_one_is_replaced_by_a_manager(shop, monkeypatch):
    """By rotation in one turn, or by revocation and enrolment: neither asks for it."""
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", PASSPHRASE.decode())
    Path("new").write_text("another of tech-a\n")
    new = ("--own-passphrase-file", "new")
    assert shop("key", "rotate", "tech-a", "--reason", "forgotten", *new)[0] == 0
    with Ledger.open(Path("shop.auditlog")) as ledger:
        assert ledger.signer("tech-a", b"another of tech-a")
    assert shop("key", "revoke", "tech-a", "--reason", "forgotten again")[0] == 0
    Path("new").write_text("a third of tech-a\n")
    assert shop("key", "enrol", "tech-a", *new)[0] == 0
    with Ledger.open(Path("shop.auditlog")) as ledger:
        assert ledger.signer("tech-a", b"a third of tech-a")
        assert ledger.verify().verified
    assert len(list(Path("shop.auditlog.keys").glob("tech-a~*.p12"))) == 2


def test_a_key_that_waits_under_a_passphrase_typed_then_says_so(shop, monkeypatch):
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", PASSPHRASE.decode())
    key_files.waiting(Path("shop.auditlog.keys"), "tech-a", b"typed then")
    said = told(shop, "key", "rotate", "tech-a", "--reason", "r")
    assert "tech-a~next.p12" in said
    assert "give the passphrase that was typed then, or move the file away" in said


def asked(*arguments, typed):
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "auditkit", *arguments], stdin=theirs,
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
    ) as going:  # fmt: skip
        said = b""
        for word in typed:  # what is typed before it is asked for is thrown away
            while not said.endswith(b": "):
                said += going.stderr.read(1)
            said += b"\n"
            os.write(ours, f"{word}\n".encode())
        said += going.stderr.read()
    os.close(ours)
    os.close(theirs)
    assert going.returncode == 0, said
    return said.decode()


def test_at_a_terminal_each_types_their_own(run, monkeypatch):
    """The person's own, twice, after the manager's; and at ``record`` the log's too."""
    words = ["of the manager", "of the person", "of the person"]
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", words[0])
    assert run("init", "--shop", "S", "--person", "lead-1", "--usual")[0] == 0
    monkeypatch.delenv("AUDITKIT_PASSPHRASE")
    said = asked("key", "enrol", "tech-a", typed=words)
    assert "Passphrase of the log's key" in said
    assert "tech-a types a passphrase of their own (empty for the log's)" in said
    with Ledger.open(Path("shop.auditlog")) as ledger:
        assert ledger.signer("tech-a", b"of the person")
    said = asked(*RECORD, typed=[words[1], words[0]])
    assert "Passphrase of the log's key" in said


def test_a_new_passphrase_is_typed_until_it_is_long_enough(run, monkeypatch):
    monkeypatch.delenv("AUDITKIT_PASSPHRASE", raising=False)
    begin = ("init", "--shop", "S", "--person", "lead-1", "--usual")
    short, good = "1234567", "12345678"
    said = asked(*begin, typed=[short, short, good, good])
    assert said.count("too short, it would be guessed; type 8 characters") == 1
    with Ledger.open(Path("shop.auditlog")) as ledger:
        assert ledger.signer("lead-1", good.encode())
    enrol = ("key", "enrol", "tech-a")
    said = asked(*enrol, typed=[good, short, short, "of tech-a", "of tech-a"])
    assert "too short" in said
    with Ledger.open(Path("shop.auditlog")) as ledger:
        assert ledger.signer("tech-a", b"of tech-a")
