"""A shop signs a bogus record as it likes, and gives the packet to its reader.

All these logs are copies of one, begun once: the keys are the same, so their packets
are histories of one log. All invented.
"""

import shutil
import tempfile
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache, partialmethod
from pathlib import Path
from unittest.mock import patch

from auditkit.log.ledger import Ledger
from auditkit.log.sealing import Writer, withhold
from auditkit.order.catalogue import Catalogue
from auditkit.order.events import RepairOrder
from auditkit.order.policy import DEFAULT, Policy
from auditkit.order.verdict_event import verdict_event
from auditkit.proof.keys import PrivateKey
from truth.jobs import CATALOGUE, START

PERSON, PASSPHRASE = "mechanic-1", b"a passphrase for tests"
CHEAP = partialmethod(PrivateKey.to_pkcs12, kdf_rounds=1000)


@dataclass(frozen=True)
class Signing:
    """How a shop signs a record.

    It judges by ``policy`` and ``catalogue``; ``patch`` changes the verdict event
    before it is signed. ``erase`` are withheld paths whose text is erased afterwards;
    ``earlier`` are the events of an order of the day before, in the same log.
    """

    policy: Policy = DEFAULT
    catalogue: Catalogue = CATALOGUE
    patch: Callable[[dict], dict] = dict
    erase: tuple[str, ...] = ()
    earlier: tuple[dict, ...] = ()


@lru_cache(maxsize=1)
def _begun() -> tuple[tempfile.TemporaryDirectory, PrivateKey, PrivateKey]:
    """Return the folder of a log that was just begun, its key and the person's."""
    folder = tempfile.TemporaryDirectory()
    keys = PrivateKey.generate(), PrivateKey.generate()
    with patch.object(PrivateKey, "to_pkcs12", CHEAP):
        Ledger.create(
            Path(folder.name) / "shop.auditlog",
            shop="Example Yard Garage (invented)",
            person=PERSON,
            passphrase=PASSPHRASE,
            log_key=keys[0],
            person_key=keys[1],
            clock=lambda: START,
        ).close()
    return folder, *keys


@contextmanager
def signed(order: RepairOrder, signing: Signing):
    """Yield a log in which an order is closed, each event recorded when it was done."""
    folder, log_key, key = _begun()
    with tempfile.TemporaryDirectory() as place:
        shutil.copytree(folder.name, place, dirs_exist_ok=True)
        clock = [START]
        with Ledger.open(
            Path(place) / "shop.auditlog", clock=lambda: clock[0]
        ) as ledger:
            tree = ledger.tree.frontier()
            writer = Writer(ledger.store, ledger.origin, lambda: clock[0], tree)
            with ledger.store.transaction():
                if signing.earlier:
                    first = RepairOrder.fold("RO-0", signing.earlier)
                    _close(writer, clock, first, Signing(), key)
                _close(writer, clock, order, signing, key)
                writer.finish(log_key)
            if signing.erase:
                ledger.erase(
                    order.id,
                    paths=signing.erase,
                    reason="asked for (invented)",
                    passphrase=PASSPHRASE,
                )
            yield ledger


def _close(writer, clock, order: RepairOrder, signing: Signing, key) -> None:
    def sealed(event: dict) -> int:
        done = datetime.fromisoformat(event["at"]) + timedelta(minutes=1)
        clock[0] = max(clock[0], done)
        given = withhold(event, signing.policy)
        return writer.add_sealed(order.id, given, PERSON, key)

    written = [e.recorded if e.recorded is not None else e.data for e in order.events]
    seqs = [sealed(dict(event)) for event in written]
    judged = signing.catalogue.judge(order, signing.policy)
    verdict = verdict_event(order, judged, seqs, PERSON, "as it is")
    verdict["at"] = (clock[0] + timedelta(minutes=1)).isoformat()
    sealed(signing.patch(verdict))


def packet_of(order: RepairOrder, signing: Signing) -> str:
    """Return the packet of an order that a shop signed as it likes."""
    with signed(order, signing) as ledger:
        return ledger.packet(order.id)
