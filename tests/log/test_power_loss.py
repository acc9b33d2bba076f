"""The power goes while a log is written to: nothing acknowledged is lost."""

import shutil

import pytest
import sampling
from appending import EVENT
from conftest import PASSPHRASE
from power_loss import Disk, PowerLost, store_on

from auditkit.log.ledger import Ledger

ROUNDS = sampling.count(25, 1_000)
MOST = 14  # appended in one round


def lose_power(start, folder, seed, synchronous):
    """Append until the power goes; return what was acknowledged, and the new path."""
    chance = sampling.chance(f"power {seed} {synchronous}")
    here, there = folder / f"{seed}" / "before", folder / f"{seed}" / "after"
    shutil.copytree(start, here)
    there.mkdir()
    disk = Disk(f"loses power {folder.name} {seed}")
    acknowledged = []
    store = store_on(here / "shop.auditlog", disk, synchronous=synchronous)
    with Ledger(store) as ledger:
        signer = ledger.signer("mechanic-1", PASSPHRASE)
        disk.left = chance.randrange(120)
        try:
            for _ in range(MOST):
                acknowledged += ledger.append(
                    "RO-1", [EVENT], person="mechanic-1", signer=signer
                )
            disk.left = 0
        except PowerLost:
            pass
        disk.image(there, chance)
        disk.left = -1
    shutil.copytree(here / "shop.auditlog.keys", there / "shop.auditlog.keys")
    return set(acknowledged), there / "shop.auditlog"


@pytest.fixture
def start(ledger):
    ledger.close()
    return ledger.store.path.parent


def test_nothing_acknowledged_is_lost_with_the_power(start, tmp_path_factory):
    folder = tmp_path_factory.mktemp("cut")
    told = 0
    for seed in range(ROUNDS):
        acknowledged, path = lose_power(start, folder, seed, "full")
        with Ledger.open(path) as ledger:
            report = ledger.verify()
            assert report.verified, (seed, report.problems)
            assert acknowledged <= set(range(report.entries)), seed
            ledger.enrol("tech-b", passphrase=PASSPHRASE)
        told += len(acknowledged)
        shutil.rmtree(folder / f"{seed}")
    assert told > ROUNDS


def test_a_disk_that_is_not_waited_for_does_lose(start, tmp_path_factory):
    """The trial can fail: without syncing, what was acknowledged is gone."""
    folder = tmp_path_factory.mktemp("cut")
    lost = 0
    for seed in range(8):
        acknowledged, path = lose_power(start, folder, seed, "off")
        try:
            with Ledger.open(path) as ledger:
                lost += not acknowledged <= set(range(ledger.verify().entries))
        except Exception:  # noqa: BLE001  a file that cannot be read has lost it all
            lost += 1
    assert lost
