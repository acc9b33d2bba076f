"""However many orders hold the same values, one that is judged costs the same."""

import pytest

from auditkit.log.held_order import held
from auditkit.log.ledger import Ledger
from auditkit.log.sound_rows import SoundRows

WORD = b"a passphrase for tests"
VIN = "0ZZTB1A18CA{:06}"


def events_of(vin):
    """Return an opening, and a bench test whose readings hardly coincide."""
    who = {"at": "2026-03-02T09:00:00+01:00", "by": "mechanic-1"}
    read = [{"value": v, "unit": "ohm"} for v in ("14.37", "15.82", "16.49")]
    return [
        {"kind": "opening", **who, "vehicle": {"vin": vin}},
        {"kind": "bench_test", **who, "of": "old", "part": "p", "readings": read},
    ]


@pytest.fixture
def ledger(tmp_path):
    with Ledger.create(
        tmp_path / "shop.auditlog", shop="S", person="mechanic-1", passphrase=WORD
    ) as made:
        made.keeps_newest = False
        yield made


def fill(ledger, first, last):
    """Record orders of that many vehicles, all with the same bench test."""
    signer = ledger.signer("mechanic-1", WORD)
    for number in range(first, last):
        events = events_of(VIN.format(number))
        ledger.append(f"RO-{number}", events, person="mechanic-1", signer=signer)


@pytest.fixture
def opened(monkeypatch):
    """Return the numbers of the entries that were opened."""
    seen, prove = [], SoundRows.prove

    def told(self, row):
        seen.append(row.entry.seq)
        return prove(self, row)

    monkeypatch.setattr(SoundRows, "prove", told)
    return seen


def test_one_of_those_who_hold_the_same_is_found_however_many_they_are(ledger, opened):
    counts = []
    for first, last in ((0, 4), (4, 300)):
        fill(ledger, first, last)
        opened.clear()
        (told,) = set(held(ledger, f"RO-{last - 1}").order.elsewhere.values())
        assert told == "RO-0"  # who had them first
        counts.append(len(opened))
    assert counts[0] == counts[1] < 12


def test_who_had_them_first_holds_no_copy(ledger):
    fill(ledger, 0, 3)
    assert held(ledger, "RO-0").order.elsewhere == {}


def test_an_order_of_the_same_vehicle_hides_none_of_another(ledger):
    """RO-0 and RO-9 are of one vehicle, which may show the same twice; RO-1 is not."""
    fill(ledger, 0, 1)
    signer = ledger.signer("mechanic-1", WORD)
    ledger.append("RO-9", events_of(VIN.format(0)), person="mechanic-1", signer=signer)
    assert held(ledger, "RO-9").order.elsewhere == {}
    fill(ledger, 1, 2)
    assert set(held(ledger, "RO-9").order.elsewhere.values()) == {"RO-1"}


def test_the_last_visit_of_a_vehicle_is_found_among_many(ledger, opened):
    fill(ledger, 0, 5)
    signer = ledger.signer("mechanic-1", WORD)
    again = events_of(VIN.format(0))
    ledger.append("RO-8", again, person="mechanic-1", signer=signer)
    (line,) = ledger.orders(vin=VIN.format(0), most=1)
    assert line.id == "RO-8"
    assert {line.id for line in ledger.orders(vin=VIN.format(0))} == {"RO-0", "RO-8"}
