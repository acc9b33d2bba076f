"""The demo: it ends as it should, and what it leaves can be checked again."""

import json
from importlib.resources import files

import pytest
from click.testing import CliRunner

from auditkit.cli.demo import RECORDS, demo_command
from auditkit.log.verify_log import verify_file
from auditkit.obd import decode
from auditkit.order.catalogue import CORE
from auditkit.order.record import parse_record
from auditkit.proof.check_packet import verify_packet


@pytest.fixture(scope="module")
def week(tmp_path_factory):
    folder = tmp_path_factory.mktemp("week") / "demo"
    return folder, CliRunner().invoke(demo_command, ["--into", str(folder)])


def test_demo_ends_as_it_should(week):
    folder, result = week
    assert result.exit_code == 0, result.output
    for line in (
        "RO-1001  PROVEN",
        "RO-1002  UNPROVEN",
        "RO-1003  CONTRADICTED",
        "THE LOG HOLDS",
        "entry 7: its signature does not fit",
        "entries were",
    ):
        assert line in result.output
    assert "NOT FOUND" not in result.output
    lines = [x for x in result.output.splitlines() if str(folder) not in x]
    assert max(len(line) for line in lines) <= 88


def test_files_it_leaves(week):
    folder, _ = week
    assert verify_file(folder / "shop.auditlog").verified
    assert not verify_file(folder / "altered.auditlog").verified
    for order_id in RECORDS:
        text = (folder / f"{order_id}.packet.json").read_bytes()
        assert verify_packet(text).verified


@pytest.mark.parametrize("order_id", RECORDS)
def test_records_are_sound(order_id):
    raw = (files("auditkit_demo") / f"{order_id}.json").read_bytes()
    record = parse_record(raw, CORE, where=order_id)
    readouts = [e for e in record.events if e["kind"] == "readout"]
    assert len(readouts) == 2
    for event in readouts:
        found = decode(event["raw"])
        assert found.problems == ()
        assert found.vin == record.events[0]["vehicle"]["vin"]
        assert found.self_tests
    assert "invented" in json.dumps(record.events[0])
