"""Whoever reads judges again: what a shop signed is compared, never believed."""

import copy
import functools
import json
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from unittest.mock import patch

import pytest
from click.testing import CliRunner
from conftest import PASSPHRASE, forced
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from auditkit.cli import main
from auditkit.cli.verify import verify_command
from auditkit.log.ledger import Ledger
from auditkit.order.events import Event, RepairOrder
from auditkit.order.findings import Verdict
from auditkit.order.policy import parse_policy
from auditkit.order.record import Record, parse_record
from auditkit.order.verdict_event import verdict_event
from auditkit.plugin.loading import load_catalogue
from auditkit.proof.packet import parse_packet
from auditkit.reader.file_kind import GivenFile
from auditkit.reader.judge_again import judge_again
from auditkit.reader.page.answer import Kind, answer_to
from auditkit.reader.page.draw import answer_node
from auditkit.reader.page.markup import to_json
from auditkit.reader.page.tell import story_nodes
from auditkit.reader.read_packet import check_file, expectations
from auditkit.reader.receipt_story import story_of
from auditkit.reader.steps import steps_of

DEMO = Path(__file__).parents[2] / "demo"
CATALOGUE = load_catalogue()


def record_of(name):
    path = DEMO / f"{name}.json"
    return parse_record(path.read_bytes(), CATALOGUE, where=str(path))


def packet(tmp_path, record, *, verdict=None, withhold=()):
    """Return a packet of a record, closed with the verdict that the shop likes."""
    policy = parse_policy(
        f'format = "auditkit/policy@1"\nwithhold = {json.dumps(list(withhold))}\n'
    )
    order = RepairOrder.fold(record.repair_order, record.events)
    honest = CATALOGUE.judge(order, policy)
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


def test_the_checker_page_tells_what_is_judged_too(tmp_path):
    lie = read(packet(tmp_path, record_of("RO-1003"), verdict=Verdict.PROVEN))
    answer = answer_to(lie, compared="you gave")
    assert answer.kind is Kind.FAILS
    assert answer.word == "More was signed than the evidence shows."
    assert "43 characters" not in " ".join(answer.what_to_do)
    alone = answer_to(lie, compared="")
    assert alone.kind is Kind.FAILS
    assert alone.word.endswith("; who made the record was not checked.")
    assert "43 characters" in " ".join(alone.what_to_do), "a stranger may have signed"
    assert answer.says.startswith("Judged here: RO-1003 is contradicted: ")
    headings = [heading for heading, _ in answer.judged]
    assert headings == ["What speaks against the repair", "What is shown"]
    told = [line for _, lines in answer.judged for line in lines]
    assert tuple(told) == lie.judged.lines[-len(told) :]
    drawn = str(to_json(answer_node(answer, lie)))
    assert "The shop signed proven; the evidence in this packet says contr" in drawn


@pytest.mark.parametrize(
    ("verdict", "kind", "word"),
    [
        ("proven", Kind.HOLDS, "The record holds."),
        (
            "vouched",
            Kind.ALONE,
            "The record holds; the repair is vouched for, not proven.",
        ),
        ("unproven", Kind.ALONE, "The record holds; the repair is not proven."),
        ("contradicted", Kind.FAILS, "The evidence speaks against the repair."),
    ],
)
def test_only_what_is_proven_has_a_green_answer(tmp_path, verdict, kind, word):
    report = read(packet(tmp_path, record_of("RO-1003")))
    judged = replace(report.judged, verdict=verdict, agrees=True)
    answer = answer_to(replace(report, judged=judged), compared="you gave")
    assert (answer.kind, answer.word) == (kind, word)
    alone = answer_to(replace(report, judged=judged), compared="")
    assert alone.kind is (kind if kind is Kind.FAILS else Kind.ALONE)


def test_what_was_signed_honestly_agrees(tmp_path):
    path = packet(tmp_path, record_of("RO-1003"))
    report = read(path)
    answer = answer_to(report, compared="you gave")
    assert answer.kind is Kind.FAILS, "a repair that failed has no green answer"
    assert answer.word == "The evidence speaks against the repair."
    assert answer.says.startswith("Judged here: RO-1003 is contradicted: ")
    assert answer.says.endswith("The shop signed contradicted: that agrees.")
    assert report.is_enough(), "the shop signed what the evidence says"
    assert not report.is_enough("vouched")
    assert CliRunner().invoke(verify_command, [str(path)]).exit_code == 0
    strict = [str(path), "--least", "vouched"]
    assert CliRunner().invoke(verify_command, strict).exit_code == 1


@pytest.mark.parametrize("corrected", [False, True])
def test_a_shop_that_is_not_the_logs_is_told(tmp_path, corrected):
    record = record_of("RO-1003")
    own, other = "Example Yard Garage", "Example Field Garage (invented)"
    opening = {**record.events[0], "shop": own}
    amendment = {"kind": "amendment", "at": record.events[-1]["at"], "corrects": 0}
    amendment |= {"by": "mechanic-1", "why": "x", "event": {**opening, "shop": other}}
    more = [amendment] if corrected else []
    first = opening if corrected else {**opening, "shop": other}
    events = (first, *record.events[1:], *more)
    path = packet(tmp_path, replace(record, events=events))
    told = f"the record names the shop {other!r}; the log is of {own!r}"
    assert told in read(path).judged.lines
    story = story_of(steps_of(parse_packet(path.read_bytes())))
    assert dict(story.about)["Shop"] == f"{own} (the record names {other})"


def test_the_logs_own_shop_is_no_matter(tmp_path):
    record = record_of("RO-1003")
    opening = {**record.events[0], "shop": "Example Yard Garage"}
    path = packet(tmp_path, replace(record, events=(opening, *record.events[1:])))
    assert not any("names the shop" in line for line in read(path).judged.lines)
    story = story_of(steps_of(parse_packet(path.read_bytes())))
    assert dict(story.about)["Shop"] == "Example Yard Garage"


def test_a_folder_counts_what_was_judged_here(tmp_path):
    path = packet(tmp_path, record_of("RO-1003"), verdict=Verdict.PROVEN)
    folder = tmp_path / "packets"
    folder.mkdir()
    path.rename(folder / "one.json")
    done = CliRunner().invoke(verify_command, [str(folder)])
    assert done.exit_code == 1
    assert "its shop signed proven; the evidence says contradicted" in done.stdout
    assert "1 contradicted" in done.stdout


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        (
            ["Repair order RO-1003 is proven."],
            "the statement that the shop signed does not begin with its contradicted",
        ),
        (
            ["Repair order RO-1003 is contradicted by nobody: it is proven in full."],
            "the statement that the shop signed does not begin with its contradicted",
        ),
        (
            [
                "Repair order RO-1003 is contradicted.",
                "Repair of P0442 (engine module 7E8; its meaning): proven.",
            ],
            (
                "the shop signed proven for 'P0442' in its statement; the evidence in "
                "this packet says contradicted"
            ),
        ),
    ],
)
def test_a_statement_that_says_more_than_the_evidence_is_told(
    tmp_path, statement, told
):
    """The verdict was signed as it is; what a person reads first was not."""

    def stated(*given):
        return {**verdict_event(*given), "statement": statement}

    folder = tmp_path / "packets"
    folder.mkdir()
    with patch("auditkit.log.recording.verdict_event", stated):
        path = packet(tmp_path, record_of("RO-1003")).rename(folder / "one.json")
    report = read(path)
    assert (report.verified, report.judged.agrees) == (True, False)
    signed = "the shop signed contradicted, and beside it more than that"
    assert report.judged.compared == signed
    assert report.judged.told[0] == told
    assert CliRunner().invoke(verify_command, [str(path)]).exit_code == 1
    many = CliRunner().invoke(verify_command, [str(folder)])
    assert many.exit_code == 1
    assert "its shop signed contradicted, and beside it more than that" in many.stdout


def test_words_of_its_own_that_a_shop_signs_stand_apart(tmp_path):
    """In the terminal and on the checker page."""
    own = "The vehicle maker confirmed this repair: proven."

    def stated(*given):
        event = verdict_event(*given)
        return {**event, "statement": [*event["statement"], own]}

    with patch("auditkit.log.recording.verdict_event", stated):
        report = read(packet(tmp_path, record_of("RO-1003")))
    nodes = story_nodes(report.packet, report, CATALOGUE.bench_tests)
    for told in (report.lines("p.json"), [str(to_json(node)) for node in nodes]):
        text = "\n".join(told).lower()
        heads = ("the shop signed this too, which is not found", "besides what is told")
        apart, besides = map(text.index, heads)
        assert apart < text.index(own.lower()) < besides
        assert apart < besides < text.index("fuel filler cap was replaced by")


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


def forged(tmp_path, events):
    """Return a packet whose events were sealed past the schema, signed as vouched."""
    verdict = {
        "kind": "verdict",
        "at": "2026-03-02T18:00:00+01:00",
        "by": "mechanic-1",
        "verdict": "vouched",
        "findings": [],
        "rules": [],
        "policy_sha256": "0" * 64,
        "statement": ["Repair order RO-F is vouched."],
    }
    other = record_of("RO-1003")
    judged = CATALOGUE.judge(RepairOrder.fold(other.repair_order, other.events))
    with Ledger.create(
        tmp_path / "forged.auditlog",
        shop="Stranger (invented)",
        person="mechanic-1",
        passphrase=PASSPHRASE,
    ) as ledger:
        signer = ledger.signer("mechanic-1", PASSPHRASE)
        seqs = forced(ledger, "RO-F", events, "mechanic-1", signer)
        forced(ledger, "RO-F", [{**verdict, "judged": seqs}], "mechanic-1", signer)
        # an order of its own brings the checkpoint that covers them
        ledger.record(other, judged, passphrase=PASSPHRASE, unproven_reason="as it is")
        path = tmp_path / "forged.packet.json"
        path.write_text(ledger.packet("RO-F"))
    return path


@pytest.mark.parametrize(
    ("kind", "change"),
    [
        ("diagnosis", {"codes": ["P0401", "ZZ99"]}),
        ("diagnosis", {"at": "noon"}),
        ("diagnosis", {"suspect_parts": 7}),
        ("repair", {"at": 7}),
        ("bench_test", {"readings": {"value": []}}),
    ],
)
def test_an_event_sealed_past_the_schema_is_never_a_traceback(tmp_path, kind, change):
    events = [dict(event) for event in record_of("RO-1001").events]
    at = next(n for n, event in enumerate(events) if event["kind"] == kind)
    events[at] |= change
    path = forged(tmp_path, events)
    done = CliRunner().invoke(verify_command, [str(path)])
    assert (done.exit_code, type(done.exception)) == (1, SystemExit)
    first, compared, why = done.stdout.splitlines()[:3]
    assert "judged here: unproven" in first
    assert compared.strip().startswith("the shop signed vouched; the evidence")
    assert "is not read here" in why
    assert not any(": shown" in line for line in done.stdout.splitlines())


_ODD = st.sampled_from(
    ["", "noon", "0", "1/0", "nan", "ZZ99", 7, 0, None, True, [], {}, [{}], [[]]]
)


@pytest.fixture(scope="module")
def honest(tmp_path_factory):
    path = packet(tmp_path_factory.mktemp("honest"), record_of("RO-1001"))
    return parse_packet(path.read_bytes())


def _places(value, path=()):
    for name in value if isinstance(value, dict) else range(len(value)):
        yield (*path, name)
        if isinstance(value[name], dict | list):
            yield from _places(value[name], (*path, name))


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None, max_examples=40)
@given(data=st.data())
def test_whatever_one_member_of_an_event_is_the_packet_is_judged(honest, data):
    steps = list(steps_of(honest))
    own = [n for n, step in enumerate(steps) if step.payload.repair_order]
    at = data.draw(st.sampled_from(own[:-1]))
    event = copy.deepcopy(dict(steps[at].event.data))
    *path, last = data.draw(st.sampled_from(list(_places(event))))
    functools.reduce(lambda value, name: value[name], path, event)[last] = data.draw(
        _ODD
    )
    steps[at] = replace(steps[at], event=Event(0, event))
    with patch("auditkit.reader.judge_again.steps_of", lambda *_: tuple(steps)):
        _, judged = judge_again(honest, CATALOGUE)
    assert judged.verdict in set(Verdict)
    assert not any("judging the packet failed" in line for line in judged.lines)


def test_a_reader_that_fails_all_the_same_says_so(honest):
    """The last resort: a fault of this reader's own shows nothing, and is told."""
    crash = patch(
        "auditkit.reader.judge_again.fault_line", side_effect=[KeyError("x"), "told"]
    )
    with crash:
        _, judged = judge_again(honest, CATALOGUE)
    assert judged.verdict == "unproven"
    assert any("judging the packet failed" in line for line in judged.lines)
    assert "KeyError" not in " ".join(judged.lines), "no interpreter's own words"


@pytest.mark.parametrize("path", ["bench_test.readings", "readout.raw", "repair.part"])
def test_what_rules_read_is_missed_where_it_is_withheld(tmp_path, path):
    """A good bench test that is kept from the reader may speak against the repair."""
    report = read(packet(tmp_path, record_of("RO-1001"), withhold=[path]))
    assert report.verified
    assert report.judged.verdict == "unproven"
    told = f"and rules read it: {path.partition('.')[2]}"
    assert any(line.endswith(told) for line in report.judged.lines)
    assert all(a["answer"] == "not-shown" for a in report.judged.found["answers"])


def test_what_no_rule_reads_may_be_withheld(tmp_path, honest):
    told_only = ["diagnosis.reasoning", "bench_test.note", "repair.note"]
    told_only += ["opening.complaint", "opening.vehicle.plate", "opening.customer"]
    report = read(packet(tmp_path, record_of("RO-1001"), withhold=told_only))
    _, whole = judge_again(honest, CATALOGUE)
    assert report.judged.verdict == whole.verdict == "vouched", "it was recorded late"
    assert report.judged.found["answers"] == whole.found["answers"]


def test_a_verdict_below_what_is_asked_is_named(tmp_path):
    path = packet(tmp_path, record_of("RO-1003"))
    for given_path, named in (
        (path, "RO-1003\n"),
        (path.parent, f"{path} (RO-1003, contradicted)\n"),
    ):
        asked = [str(given_path), "--least", "proven"]
        done = CliRunner().invoke(verify_command, asked)
        said = f"asked: at least proven; below it: {named}"
        assert (done.exit_code, said in done.output) == (1, True), given_path


@pytest.mark.parametrize("option", ["--least", "--policy"])
def test_a_whole_log_is_not_judged(tmp_path, capsys, option):
    packet(tmp_path, record_of("RO-1003"))
    policy = tmp_path / "reader.toml"
    policy.write_text('format = "auditkit/policy@1"\n')
    value = "proven" if option == "--least" else str(policy)
    with pytest.raises(SystemExit) as end:
        main(["verify", str(tmp_path / "shop.auditlog"), option, value])
    out, err = capsys.readouterr()
    assert (end.value.code, out) == (2, "")
    assert err.startswith(f"auditkit: {option}: a log is checked as a whole")
