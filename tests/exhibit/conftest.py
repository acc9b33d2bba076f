"""Packets of the demo's orders and of an odd one, and their exhibits."""

from datetime import UTC, datetime, timedelta
from importlib.resources import files

import pytest
from conftest import PASSPHRASE, BlockingRules, forced, small_record
from exhibits import CATALOGUE, close, key_file, odd_events, odd_record, pages_of

from auditkit.log.ledger import Ledger
from auditkit.order.record import parse_record
from auditkit.plugin.loading import load_catalogue


@pytest.fixture(scope="session")
def packets(tmp_path_factory):
    """Packets of the demo's orders, judged by the shop rules, and of the odd one.

    Each event of the demo is recorded when it happened, so that nothing is late.
    """
    path = tmp_path_factory.mktemp("exhibit") / "shop.auditlog"
    made = {}
    clock = {"now": datetime(2026, 3, 2, tzinfo=UTC)}
    with Ledger.create(
        path,
        shop="Example Yard Garage (invented)",
        person="mechanic-1",
        passphrase=PASSPHRASE,
        clock=lambda: clock["now"],
    ) as log:
        signer = log.signer("mechanic-1", PASSPHRASE)
        for order in ("RO-1001", "RO-1002", "RO-1003"):
            source = files("auditkit_demo") / f"{order}.json"
            record = parse_record(source.read_bytes(), CATALOGUE)
            for event in record.events:
                clock["now"] = datetime.fromisoformat(str(event["at"]))
                log.append(order, [event], person="mechanic-1", signer=signer)
            clock["now"] += timedelta(minutes=10)
            close(log, CATALOGUE, record)
            made[order] = log.packet(order).encode()
        clock["now"] = datetime.now(UTC)
        close(log, load_catalogue({"tests": BlockingRules}), odd_record())
        made["RO-ODD"] = log.packet("RO-ODD").encode()
        made["named"] = log.packet("RO-ODD", reveal=["customer.name"]).encode()
    return made


@pytest.fixture(scope="session")
def packet(packets):
    return packets["RO-1001"]


@pytest.fixture(scope="session")
def pdf(packet):
    return pages_of(packet, CATALOGUE)


@pytest.fixture(scope="session")
def forged(tmp_path_factory):
    """The log and the packet of an order whose signed events are odd."""
    path = tmp_path_factory.mktemp("forged") / "shop.auditlog"
    record = small_record("RO-9")
    events = [dict(record.events[0]), *odd_events()]
    verdict = {
        "kind": "verdict",
        "at": "2026-03-02T10:00:00+01:00",
        "by": "mechanic-1",
        "verdict": "proven",
        "findings": [],
        "rules": [],
        "policy_sha256": "0" * 64,
        "statement": ["Repair order RO-9 is proven."],
    }
    with Ledger.create(
        path, shop="Stranger (invented)", person="mechanic-1", passphrase=PASSPHRASE
    ) as log:
        signer = log.signer("mechanic-1", PASSPHRASE)
        seqs = forced(log, "RO-9", events, "mechanic-1", signer)
        forced(log, "RO-9", [{**verdict, "judged": seqs}], "mechanic-1", signer)
        # an order of its own brings the checkpoint that covers them
        close(log, load_catalogue({"tests": BlockingRules}), small_record("RO-8"))
        return path, log.packet("RO-9").encode()


@pytest.fixture(scope="session", autouse=True)
def remembered():
    """Make each packet's pages once; that they are the same twice is tested apart."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("auditkit.exhibit.check_pdf.exhibit_pdf", pages_of)
        yield


@pytest.fixture(scope="session")
def keys():
    return key_file()
