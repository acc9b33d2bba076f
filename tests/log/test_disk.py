"""What lies beside a log: no pipe is waited for, and rights of others are told."""

import os
import warnings
from pathlib import Path

import pytest
from conftest import PASSPHRASE

from auditkit.cli import main
from auditkit.errors import LogError
from auditkit.log import key_files
from auditkit.log.attachments import Attachments
from auditkit.log.disk import MAX_BESIDE, OpenToOthers, read_beside
from auditkit.log.ledger import Ledger

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pipes and rights of POSIX")


def in_its_place(path):
    path.unlink()
    os.mkfifo(path)


def test_a_pipe_in_place_of_the_log_is_refused(ledger):
    ledger.close()
    in_its_place(ledger.store.path)
    with pytest.raises(LogError, match="there is no log here"):
        Ledger.open(ledger.store.path)


@pytest.mark.parametrize("name", ["log.p12", "mechanic-1.p12"])
def test_a_pipe_in_place_of_a_key_is_refused(ledger, name):
    in_its_place(ledger.keys / name)
    with pytest.raises(LogError, match="no file but a pipe") as caught:
        key_files.load(ledger.keys, name.removesuffix(".p12"), PASSPHRASE)
    assert (caught.value.where, bool(caught.value.what_to_do)) == (
        str(ledger.keys / name),
        True,
    )


def test_a_pipe_in_place_of_the_newest_checkpoint_is_refused(ledger):
    (found,) = ledger.keys.glob("*.checkpoint")
    in_its_place(found)
    with pytest.raises(LogError, match="no file but a pipe"):
        ledger.enrol("tech-b", passphrase=PASSPHRASE)
    assert ledger.store.head()[0] == 2


def test_a_pipe_in_place_of_a_picture_is_refused(ledger):
    beside = Attachments(ledger.store.path)
    digest = beside.put(b"bytes of a picture")
    in_its_place(beside.folder / digest)
    with pytest.raises(LogError, match="no file but a pipe"):
        beside.get(digest)
    with pytest.raises(LogError, match="could not be read or written"):
        beside.erase(digest)


def test_a_device_and_a_boundless_file_are_refused(tmp_path):
    with pytest.raises(LogError, match="pipe or a device"):
        read_beside(Path("/dev/zero"))
    long = tmp_path / "long"
    with long.open("wb") as file:
        file.truncate(MAX_BESIDE + 1)
    with pytest.raises(LogError, match="longer than"):
        read_beside(long)


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o660])
def test_rights_wider_than_the_owners_are_warned_of(ledger, mode, capsys, monkeypatch):
    file = ledger.keys / "mechanic-1.p12"
    file.chmod(mode)
    with pytest.warns(OpenToOthers, match=f"mode {mode:04o}.*chmod 600"):
        key_files.load(ledger.keys, "mechanic-1", PASSPHRASE)
    (ledger.keys / "log.p12").chmod(mode)
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", PASSPHRASE.decode())
    log = str(ledger.store.path)
    with pytest.raises(SystemExit) as ended, warnings.catch_warnings():
        warnings.simplefilter("default")
        main(["key", "enrol", "tech-b", "--log", log])
    assert ended.value.code == 0
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith(
        f"auditkit: {ledger.keys / 'log.p12'}: others than its owner"
    )
