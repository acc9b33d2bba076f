"""Under pseudonyms a collection names no vehicle and no person, and joins them."""

import hashlib
import hmac

import pytest
from collections_made import asked, collected, content, written
from made_logs import CUSTOMER, OTHER_VIN, PERSON, PLATE, VIN, MadeLog, demo_events

from auditkit.errors import InputError
from auditkit.fleet.collecting import HowCollected
from auditkit.fleet.pseudonyms import parse_key
from auditkit.fleet.terms import Terms

KEY = bytes(range(32))


@pytest.fixture
def pseudonymous(run, tmp_path):
    """Return a function that collects two visits of a vehicle and one of another."""
    log = MadeLog(1)
    for name, vin, days in (
        ("RO-1", VIN, 0),
        ("RO-2", OTHER_VIN, 1),
        ("RO-3", VIN, 40),
    ):
        log.close(name, demo_events(vin=vin, days=days))
    told = ("name", "contact", "plate")
    folder = written(
        tmp_path / "in", [log.packet(f"RO-{n}", reveal=told) for n in (1, 2, 3)]
    )
    into = tmp_path / "fleet.duckdb"

    def call(key=KEY, *more):
        (tmp_path / "key").write_bytes(key)
        given = ("--pseudonymous", tmp_path / "key") if key else ()
        return into, run("collect", folder, "--into", into, *given, *more)

    return call


def test_no_vin_name_plate_or_person_is_left(pseudonymous):
    into, (status, _, _) = pseudonymous()
    assert status == 0
    text = repr(content(into))
    raw = into.read_bytes()
    for secret in (VIN, OTHER_VIN, CUSTOMER, PLATE, PERSON):
        assert secret not in text
        assert secret.encode() not in raw
    assert "vehicle " in repr(asked(into, "SELECT because FROM answer"))


def test_no_name_of_a_customer_changes_what_was_found(tmp_path):
    found = {}
    for called in (CUSTOMER, "proven", "e", "P0401", "7E8"):
        log, events = MadeLog(1), demo_events()
        events[0]["customer"]["name"] = called
        log.close("RO-1", events)
        how = HowCollected(Terms(pseudonyms=parse_key(KEY)))
        packets = [log.packet("RO-1", reveal=("name",))]
        into, done = collected(tmp_path / called, packets, how)
        assert done.added == 1
        asks = "SELECT code, module, verdict, fault_group FROM fault ORDER BY ALL"
        found[called] = asked(into, asks)
    usual = found[CUSTOMER]
    assert [name for name in found if found[name] != usual] == []


def test_no_order_number_and_no_sentence_names_vehicle_or_person(tmp_path):
    log, events = MadeLog(1), demo_events()
    for event in events:
        if "raw" in event:
            event["tool"] = f"tool of {PERSON} at {VIN.lower()}, {PLATE.lower()}"
    log.close(f"RO-{VIN.lower()}", events)
    how = HowCollected(Terms(pseudonyms=parse_key(KEY)))
    packets = [log.packet(f"RO-{VIN.lower()}", reveal=("plate",))]
    into, _ = collected(tmp_path, packets, how)
    text = repr(content(into)).lower()
    for secret in (VIN, PERSON, PLATE):
        assert secret.lower() not in text
    ((number, tool),) = asked(
        into,
        "SELECT order_no, min(tool) FROM repair_order "
        "JOIN readout USING (order_id) GROUP BY ALL",
    )
    assert number.startswith("RO-vehicle ")
    assert tool.startswith("tool of person ")


def test_a_pseudonym_is_the_hmac_of_the_vin(pseudonymous):
    """Held against the standard library's HMAC (RFC 2104)."""
    into, _ = pseudonymous()
    said = f"auditkit/collection@1 vin\n{VIN}".encode()
    expected = hmac.new(KEY, said, hashlib.sha256).hexdigest()
    visits = asked(into, "SELECT vin FROM repair_order ORDER BY order_no")
    assert visits[0] == visits[2] == (expected,)
    assert visits[1] != visits[0]
    read = asked(into, "SELECT count(DISTINCT vin_read) FROM readout")
    assert read == [(2,)]
    assert asked(into, "SELECT DISTINCT vin_is_from_vehicle FROM repair_order") == [
        (True,)
    ]


def test_another_key_or_none_is_refused(pseudonymous):
    pseudonymous()
    for key, said in ((KEY[::-1], "another key"), (b"", "it holds pseudonyms")):
        into, (status, _, err) = pseudonymous(key)
        assert status == 2
        assert said in err
    assert asked(into, "SELECT count(*) FROM run") == [(1,)]


def test_a_collection_of_names_takes_no_pseudonyms(pseudonymous):
    pseudonymous(b"")
    _, (status, _, err) = pseudonymous()
    assert status == 2
    assert "it holds names and VINs" in err


def test_a_short_key_is_refused():
    with pytest.raises(InputError, match="31 bytes"):
        parse_key(bytes(31), where="key")
