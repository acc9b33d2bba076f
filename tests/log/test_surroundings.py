"""Clock, disk and rights around a log: what may harm it is told."""

import os
import tempfile
import warnings
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from conftest import PASSPHRASE

from auditkit.log.ledger import Ledger
from auditkit.log.surroundings import (
    _SHARED,
    Surroundings,
    clock_back,
    file_system,
    on_share,
)
from auditkit.log.verify_log import verify_file

# Lines as proc(5) shows them, and two more.
MOUNTS = """\
36 35 98:0 /mnt1 /mnt2 rw,noatime master:1 - ext3 /dev/root rw,errors=continue
22 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw
61 22 0:51 / /srv/shop rw,relatime shared:30 - nfs4 server:/shop rw,vers=4.2
62 22 0:52 / /srv/the\\040bay rw - cifs //server/bay rw
63 61 8:2 / /srv/shop/disk rw - xfs /dev/sdb1 rw
"""
NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/home/shop.auditlog", "ext4"),
        ("/mnt2/shop.auditlog", "ext3"),
        ("/srv/shop/shop.auditlog", "nfs4"),
        ("/srv/shopping/shop.auditlog", "ext4"),
        ("/srv/the bay/shop.auditlog", "cifs"),
        ("/srv/shop/disk/shop.auditlog", "xfs"),
    ],
)
def test_the_file_system_of_a_path(path, kind):
    assert file_system(Path(path), MOUNTS) == kind


def test_a_log_on_a_share_is_warned_of(ledger, tmp_path, monkeypatch):
    assert on_share(ledger.store.path) == "", "this test runs on a share"
    mounts = tmp_path / "mountinfo"
    place = str(ledger.store.path.parent.absolute()).replace(" ", "\\040")
    mounts.write_text(f"1 1 0:1 / {place} rw - nfs4 server:/shop rw\n")
    monkeypatch.setattr("auditkit.log.surroundings._MOUNTS", mounts)
    assert {"nfs", "nfs4", "cifs", "smb3", "fuse.sshfs"} <= _SHARED
    with (
        Ledger.open(ledger.store.path) as again,
        pytest.warns(Surroundings, match=r"network share \(nfs4\).*auditkit backup"),
    ):
        again.enrol("tech-b", passphrase=PASSPHRASE)
        assert again.ring.active("tech-b") is not None


def test_a_clock_that_went_back_is_warned_of_once_and_named_by_verify(ledger):
    path = ledger.store.path
    ledger.close()
    early = datetime.now(UTC) - timedelta(days=400)
    with Ledger.open(path, clock=lambda: early) as back:
        with pytest.warns(Surroundings, match="set the clock right") as told:
            back.enrol("tech-b", passphrase=PASSPHRASE)
            back.enrol("tech-c", passphrase=PASSPHRASE)
        assert len(told) == 1
        report = back.verify()
    assert report.verified
    assert any("the clock went back before entries 2" in n for n in report.notes)


@pytest.mark.parametrize(
    ("recorded", "is_back"),
    [
        ("2026-03-02T08:59:59.999+00:00", False),
        ("2026-03-02T09:00:00.000+00:00", False),
        ("2026-03-02T09:00:00.001+00:00", True),
        ("2026-03-02T10:00:00.000+01:00", False),
        ("2026-03-02T09:30:00.000", False),
        ("not a time", False),
    ],
)
def test_when_the_clock_is_back(recorded, is_back):
    assert bool(clock_back(NOW, recorded)) == is_back


@pytest.mark.skipif(os.name != "posix", reason="rights of POSIX")
@pytest.mark.parametrize("folder_mode", [0o555, 0o777])
def test_a_log_that_may_only_be_read_is_read_and_nothing_is_left(closed, folder_mode):
    """Whoever reads is another person than the owner, with no right to the keys."""
    path = closed.store.path
    closed.close()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "given"
        folder.mkdir()
        copy = folder / path.name
        copy.write_bytes(path.read_bytes())
        copy.chmod(0o444)
        (folder / f"{path.name}.keys").mkdir(mode=0o700)
        Path(place).chmod(0o755)
        folder.chmod(folder_mode)
        is_root = os.geteuid() == 0
        if is_root:
            os.seteuid(65534)
        try:
            report = verify_file(copy)
            with Ledger.open(copy) as ledger:
                assert ledger.show("RO-1").verdict is not None
            left = sorted(f.name for f in folder.iterdir())
        finally:
            if is_root:
                os.seteuid(0)
            folder.chmod(0o755)
        assert report.verified, report.problems
        assert left == [path.name, f"{path.name}.keys"]


def test_nothing_around_a_usual_log_is_warned_of(ledger):
    with warnings.catch_warnings(), Ledger.open(ledger.store.path) as again:
        warnings.simplefilter("error")
        again.enrol("tech-b", passphrase=PASSPHRASE)
