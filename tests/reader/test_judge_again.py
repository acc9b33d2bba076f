"""Whoever reads judges again: what a shop signed is compared, never believed."""

import json
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from conftest import PASSPHRASE

from auditkit.cli.verify import verify_command
from auditkit.log.ledger import Ledger
from auditkit.order.events import RepairOrder
from auditkit.order.findings import Verdict
from auditkit.order.record import Record, parse_record
from auditkit.plugin.loading import load_catalogue
from auditkit.reader.file_kind import GivenFile
from auditkit.reader.read_packet import check_file, expectations

DEMO = Path(__file__).parents[2] / "demo"
CATALOGUE = load_catalogue()


def record_of(name):
    path = DEMO / f"{name}.json"
    return parse_record(path.read_bytes(), CATALOGUE, where=str(path))


def packet(tmp_path, record, *, verdict=None):
    """Return a packet of a record, closed with the verdict that the shop likes."""
    honest = CATALOGUE.judge(RepairOrder.fold(record.repair_order, record.events))
    last = max(datetime.fromisoformat(str(e["at"])) for e in record.events)
    ticks = iter(range(1, 10_000))
    clock = lambda: last + timedelta(seconds=next(ticks))  # noqa: E731
    signed = honest
    if verdict is not None:
        faults = tuple((fault, verdict) for fault, _ in honest.faults)
        signed = replace(
            honest, verdict=verdict, findings=(), answers=(), faults=faults
        )
    with Ledger.create(
        tmp_path / "shop.auditlog",
        shop="Example Yard Garage",
        person="mechanic-1",
        passphrase=PASSPHRASE,
        clock=clock,
    ) as ledger:
        ledger.record(record, signed, passphrase=PASSPHRASE, unproven_reason="as it is")
        path = tmp_path / "packet.json"
        path.write_text(ledger.packet(record.repair_order))
    return path


def read(path):
    return check_file(GivenFile(str(path), path.read_bytes()), expectations())


def test_a_lie_that_was_signed_is_told_before_anything_else(tmp_path):
    """The eight patched lines: a contradicted order, closed as proven."""
    path = packet(tmp_path, record_of("RO-1003"), verdict=Verdict.PROVEN)
    report = read(path)
    assert report.verified, "nothing was altered"
    assert report.judged.verdict == "contradicted"
    assert report.judged.signed == "proven"
    assert not report.is_enough()
    first, second = report.lines("packet.json")[:2]
    assert first.startswith("packet.json: judged here: contradicted")
    assert second.strip() == (
        "the shop signed proven; the evidence in this packet says contradicted"
    )
    done = CliRunner().invoke(verify_command, [str(path), "--format", "json"])
    assert done.exit_code == 1
    found = json.loads(done.stdout)
    assert (found["verified"], found["verdict"], found["signed_verdict"]) == (
        True,
        "contradicted",
        "proven",
    )
    assert {a["answer"] for a in found["answers"]} >= {"against", "shown"}


def test_what_was_signed_honestly_agrees(tmp_path):
    path = packet(tmp_path, record_of("RO-1003"))
    report = read(path)
    assert report.is_enough(), "the shop signed what the evidence says"
    assert not report.is_enough("vouched")
    assert CliRunner().invoke(verify_command, [str(path)]).exit_code == 0
    strict = [str(path), "--least", "vouched"]
    assert CliRunner().invoke(verify_command, strict).exit_code == 1


def test_a_folder_counts_what_was_judged_here(tmp_path):
    path = packet(tmp_path, record_of("RO-1003"), verdict=Verdict.PROVEN)
    folder = tmp_path / "packets"
    folder.mkdir()
    path.rename(folder / "one.json")
    done = CliRunner().invoke(verify_command, [str(folder)])
    assert done.exit_code == 1
    assert "its shop signed proven; the evidence says contradicted" in done.stdout
    assert "1 contradicted" in done.stdout


def test_a_reader_judges_by_a_policy_of_its_own(tmp_path):
    path = packet(tmp_path, record_of("RO-1001"))
    policy = tmp_path / "reader.toml"
    policy.write_text(
        'format = "auditkit/policy@1"\nnot_asked = ["part-at-fault", "test-passed"]\n'
    )
    done = CliRunner().invoke(verify_command, [str(path), "--policy", str(policy)])
    assert "judged here: unproven" in done.stdout.splitlines()[0]


@pytest.mark.parametrize("place", range(3))
def test_an_event_that_no_schema_accepts_closes_every_question(tmp_path, place):
    """An adverse event in a form that this reader cannot take: nothing is shown."""
    record = record_of("RO-1001")
    events = [dict(event) for event in record.events]
    adverse = {
        "kind": "road_test",
        "at": events[-1]["at"],
        "by": "mechanic-1",
        "stalled": "twice on the hill",
    }
    events.insert(len(events) - place, adverse)
    path = packet(tmp_path, Record(record.repair_order, tuple(events)))
    report = read(path)
    assert report.verified
    assert report.judged.verdict == "unproven"
    assert {a["answer"] for a in report.judged.found["answers"]} <= {
        "not-shown",
        "against",
    }
    assert any("is not read here" in line for line in report.judged.lines)
