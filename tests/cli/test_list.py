"""``list`` looks for repair orders by number, VIN, day and whether they are open."""

import json

import pytest
from conftest import PASSPHRASE, small_record

from auditkit.log.ledger import Ledger

OTHER_VIN = "1ABCD23EFGH456789"


@pytest.fixture
def log(closed):
    """Return the path of a log: two closed orders, then an open one and 21 more."""
    signer = closed.signer("mechanic-1", PASSPHRASE)

    def opened(order_id, day, **vehicle):
        event = dict(small_record().events[0])
        event["at"] = f"{day}T08:00:00+01:00"
        event["vehicle"] = {**event["vehicle"], **vehicle}
        closed.append(order_id, [event], person="mechanic-1", signer=signer)

    opened("RO-3", "2026-03-03", vin=OTHER_VIN)
    for number in range(21):
        opened(f"W-{number:02}", "2026-03-04")
    return closed.store.path


def test_the_search(run, log):
    def ids(*asked):
        status, out, err = run("list", *asked, "--log", log, "--format", "json")
        assert status == (0 if json.loads(out) else 1)
        return [line["id"] for line in json.loads(out)], "--all" in err

    newest = [f"W-{number:02}" for number in range(1, 21)]
    assert ids() == (newest, True)
    assert ids("--all") == (["RO-1", "RO-2", "RO-3", "W-00", *newest], False)
    assert ids("RO-") == (["RO-1", "RO-2", "RO-3"], False)
    assert ids("RO-2") == (["RO-2"], False)
    assert ids("--vin", OTHER_VIN.lower()) == (["RO-3"], False)
    assert ids("--vin", OTHER_VIN[-6:].lower()) == (["RO-3"], False)
    assert ids("--vin", " 6789") == (["RO-3"], False)
    assert ids("--vin", OTHER_VIN[:8]) == ([], False)  # how it begins tells no vehicle
    assert ids("--day", "2026-03-03") == (["RO-3"], False)
    assert ids("--day", "2026-03-02") == (["RO-1", "RO-2"], False)
    assert ids("--day", "2026-03-04", "W-1") == (
        [f"W-{n}" for n in range(10, 20)],
        False,
    )
    assert ids("--open", "R") == (["RO-3"], False)
    assert ids("--open", "--day", "2026-03-02") == ([], False)
    assert ids("RO%") == ([], False)


def test_what_is_found_nowhere_or_asked_wrongly_is_said(run, log):
    status, out, _ = run("list", "X", "--log", log)
    assert (status, "no repair order fits" in out) == (1, True)
    status, out, _ = run("list", "--log", log)
    assert status == 0
    status, _, err = run("list", "--day", "yesterday", "--log", log)
    assert status == 2
    assert "'yesterday' is no date; write year, month and day" in err
    status, _, err = run("list", "--vin", "789", "--log", log)
    assert status == 2
    assert "--vin: '789' is too short" in err
    assert "give the last 4 characters at least" in err


def test_what_waits_for_a_later_readout_is_open_and_marked(run):
    run("init", "--shop", "Example Yard Garage", "--person", "mechanic-1")
    for name in ("RO-1002.json", "RO-1005.json"):
        assert run("record", name, "--unproven", "a test")[0] == 0
    status, out, _ = run("list", "--open")
    assert status == 0
    assert [line.split("  ")[:2] for line in out.splitlines()] == [
        ["RO-1005", "unproven, waiting"]
    ]


def test_a_vin_that_was_only_read_is_found_too(run, closed):
    raw = "7E8 10 14 49 02 01 31 41 42\n7E8 21 43 44 32 33 45 46 47\n"
    raw += "7E8 22 48 34 35 36 37 38 39\n"
    event = {
        "kind": "readout",
        "at": "2026-03-05T08:00:00+01:00",
        "by": "mechanic-1",
        "captured": "2026-03-05T08:00:00+01:00",
        "tool": "tool 0",
        "raw": raw,
    }
    signer = closed.signer("mechanic-1", PASSPHRASE)
    closed.append("RO-3", [event], person="mechanic-1", signer=signer)
    with Ledger.open(closed.store.path) as ledger:
        assert [line.id for line in ledger.orders(vin=OTHER_VIN)] == ["RO-3"]
