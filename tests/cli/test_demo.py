"""The demo: it ends as it should, and what it leaves can be checked again."""

import json
import socket
import tempfile
import threading
from datetime import datetime
from importlib.resources import files

import pytest
from bay_served import Client, free_port, until
from click.testing import CliRunner

from auditkit.bay.serve import BayServer
from auditkit.cli import common
from auditkit.cli.demo import RECORDS, demo_command
from auditkit.errors import InputError
from auditkit.log.ledger import Ledger
from auditkit.log.verify_log import verify_file
from auditkit.order.catalogue import CORE
from auditkit.order.events import Event
from auditkit.order.record import parse_record
from auditkit.order.self_test_evidence import readout_of
from auditkit.order.statement import NO_RECORD_SHOWS
from auditkit.order.typed_readout import typed_tests
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
        "RO-1004  VOUCHED",
        "RO-1005  UNPROVEN, WAITING",
        "THE LOG HOLDS",
        "entry 8: its signature does not fit",
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


def test_its_log_takes_no_more_and_the_demo_says_so(week, run):
    folder, result = week
    assert "Nothing can be added to this log" in result.output
    log = folder / "shop.auditlog"
    status, _, err = run("add", "RO-1005", "road_test", "--log", log)
    assert (status, "does not open with this passphrase" in err) == (2, True)


def test_week_goes_by_its_own_clock(week):
    folder, _ = week
    with Ledger.open(folder / "shop.auditlog") as ledger:
        for order_id in RECORDS:
            order = ledger.show(order_id)
            for line in order.lines:
                at = datetime.fromisoformat(line.event["at"])
                assert datetime.fromisoformat(line.recorded_at) == at
            (time,) = (
                answer
                for answer in order.verdict["answers"]
                if answer["question"] == "order-of-time"
            )
            assert (time["answer"], time["strength"]) == ("shown", "logged")


def test_what_is_shown_says_what_it_rests_on(week):
    _, result = week
    said = " ".join(result.output.split())
    assert "Rests on measurements that only the shop saw: part faulty before" in said
    assert "vouched: it rests on the shop's word for: fault reported before" in said
    waits = "Vehicle's own test run again, vehicle's own test passed (P0301, engine"
    assert f"{waits} module 7E8): waiting, a later readout can show it: " in said
    assert NO_RECORD_SHOWS in said


@pytest.mark.parametrize("order_id", RECORDS)
def test_records_are_sound(order_id):
    raw = (files("auditkit_demo") / f"{order_id}.json").read_bytes()
    record = parse_record(raw, CORE, where=order_id)
    readouts = [e for e in record.events if e["kind"] == "readout"]
    assert len(readouts) == 2
    for event in readouts:
        found = readout_of(Event(0, event))
        assert found.problems == ()
        assert found.vin == record.events[0]["vehicle"]["vin"]
    typed = list(typed_tests(Event(0, readouts[-1])))
    assert bool(typed) != bool(found.self_tests)
    assert "invented" in json.dumps(record.events[0])


def test_the_demos_bay_shows_an_invented_order_half_done(tmp_path, monkeypatch):
    """Signed in as it says, the order is there with what is next, begun an hour ago."""
    folder, seen = tmp_path / "bay", {}
    really = BayServer.serve_at

    def serve_at(self, sockets):
        def client():
            try:
                until(lambda: self.started)
                ask = Client(sockets[0].getsockname()[1])
                ask.sign_in("tech-a", seen["word"]())
                seen["order"] = ask.ask("GET", "/orders/RO-1001")[2]
                seen["shop"] = ask.ask("GET", "/shop")[2]
            finally:
                self.should_exit = True

        asking = threading.Thread(target=client)
        asking.start()
        really(self, sockets)
        asking.join()

    monkeypatch.setattr(BayServer, "serve_at", serve_at)
    told = []
    monkeypatch.setattr(common, "say", told.append)
    seen["word"] = lambda: next(t for t in told if "Passphrase" in t).split()[-1]
    asked = ["--bay", "--into", str(folder), "--port", str(free_port())]
    result = CliRunner().invoke(demo_command, asked)
    assert result.exit_code == 0, (result.output, result.exception)
    assert "all invented" in " ".join(told)
    assert "Before the bench test of EGR valve, read and acknowledge" in seen["order"]
    assert "recorded at once" in seen["order"]
    assert "(invented)" in seen["order"]
    assert "gauge-3" in seen["shop"]
    assert verify_file(folder / "shop.auditlog").verified


def test_a_port_that_is_taken_is_told_before_anything_is_made(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        for more in ([], ["--into", str(tmp_path / "bay")]):
            done = CliRunner().invoke(demo_command, ["--bay", "--port", port, *more])
            assert isinstance(done.exception, InputError), done.output
            assert list(tmp_path.iterdir()) == []
