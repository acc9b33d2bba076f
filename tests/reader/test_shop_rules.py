"""A reader whose rules are older or newer than the shop's, or edited, says so."""

import hashlib
from dataclasses import replace
from datetime import datetime, timedelta
from importlib.resources import files
from unittest.mock import patch

import pytest
from conftest import PASSPHRASE

from auditkit.log.ledger import Ledger
from auditkit.order import judged_by
from auditkit.order.events import Event, RepairOrder
from auditkit.order.findings import Problem
from auditkit.order.record import parse_record
from auditkit.order.rule import rule
from auditkit.plugin.loading import load_catalogue
from auditkit.proof.packet import parse_packet
from auditkit.reader.judge_again import judge_again
from auditkit.reader.shop_rules import RULE, differing, not_here
from auditkit.reader.steps import steps_of

CATALOGUE = load_catalogue()
PAGE = """Finds what nobody asked for then.

    What it checks
    Nothing of worth.

    Why it matters
    It does not.

    Example
    None.

    What to do
    Do nothing.
    """


def with_rules(*rules, canon=None):
    """Return a reader's catalogue with these rules; all of its canon unless told."""
    names = frozenset(r.name for r in rules)
    makers = {name: CATALOGUE.makers.get(name, "newer") for name in names}
    kept = names if canon is None else canon
    return replace(CATALOGUE, rules=rules, makers=makers, canon=kept)


def newer(*said, since):
    def check(order, parameters):
        return said

    check.__doc__ = PAGE
    made = rule("asked-later", question="order-of-time", since=since)(check)
    return with_rules(*CATALOGUE.rules, made)


def changed(name, **how):
    """Return a reader's catalogue in which one rule differs."""
    return with_rules(
        *(replace(r, **how) if r.name == name else r for r in CATALOGUE.rules)
    )


@pytest.fixture(scope="module")
def packet(tmp_path_factory):
    """Return the packet of an order that a shop with CATALOGUE recorded late."""
    folder = tmp_path_factory.mktemp("shop")
    raw = (files("auditkit_demo") / "RO-1001.json").read_bytes()
    record = parse_record(raw, CATALOGUE, where="RO-1001")
    last = datetime.fromisoformat(record.events[-1]["at"])
    with Ledger.create(
        folder / "shop.auditlog",
        shop="Example Yard Garage",
        person="mechanic-1",
        passphrase=PASSPHRASE,
        clock=lambda: last + timedelta(minutes=1),
    ) as ledger:
        late = [last.isoformat()] * len(record.events)
        order = RepairOrder.fold("RO-1001", record.events, recorded=late)
        judged = CATALOGUE.judge(order)
        ledger.record(record, judged, passphrase=PASSPHRASE, unproven_reason="late")
        return parse_packet(ledger.packet("RO-1001"))


def signed(packet):
    return steps_of(packet)[-1].event


def answers(judgement):
    return {(a.question, a.subject): a for a in judgement.answers}


def test_the_verdict_keeps_versions_and_digests(packet):
    """Held against the files themselves, by hashlib."""
    event = signed(packet)
    (found,) = [r for r in event.items("rules") if r["name"] == "evidence-amended"]
    source = (files("auditkit_plugins") / "amendments.py").read_bytes()
    assert found["sha256"] == hashlib.sha256(source).hexdigest()
    assert found["questions"] == ["order-of-time"]
    assert found["version"] == CATALOGUE.rule("evidence-amended").version
    table = (files("auditkit.obd") / "code_table.toml").read_bytes()
    codes = hashlib.sha256(table).hexdigest()
    assert event.object("judged_by")["codes"] == codes
    assert set(event.object("judged_by")) == set(judged_by.WORDS)
    assert {r["name"] for r in event.items("rules")} == CATALOGUE.canon


def test_the_same_release_has_nothing_to_say(packet):
    assert list(differing(signed(packet), CATALOGUE)) == []
    assert list(not_here(signed(packet), CATALOGUE)) == []


@pytest.mark.parametrize("how", ["lacks it", "has it older"])
def test_an_older_reader_does_not_judge_what_it_lacks(packet, how):
    """By the same evidence; the shop's rule may ask what this reader does not."""
    name, version = "evidence-amended", CATALOGUE.rule("evidence-amended").version
    older = changed(name, version=version - 1)
    if how == "lacks it":
        older = with_rules(*(r for r in CATALOGUE.rules if r.name != name))
    now, _ = judge_again(packet, CATALOGUE)
    found, told = judge_again(packet, older)
    for key, answer in answers(found).items():
        if key[0] == "order-of-time":
            assert (answer.state, answer.strength) == ("not-shown", None)
            assert answer.because[0].startswith("not judged here: ")
            assert name in answer.because[0]
        else:
            assert answer == answers(now)[key]
    assert (now.verdict, found.verdict) == ("vouched", "unproven")
    assert [v for _, v in found.faults] == ["unproven"]
    assert RULE in {f.rule for f in found.blocking}
    assert any(line.startswith("not judged here: ") for line in told.lines)


def test_what_speaks_against_it_stays_against_it(packet):
    against = Problem("it was not so", "ask", contradicts=True)
    reader = newer(against, since="")
    reader = replace(
        reader, rules=tuple(r for r in reader.rules if r.name != "evidence-amended")
    )
    reader = replace(reader, canon=frozenset(r.name for r in reader.rules))
    found, _ = judge_again(packet, reader)
    assert answers(found)["order-of-time", "order"].state == "against"
    assert found.verdict == "contradicted"


def test_a_shop_rule_of_a_plugin_closes_nothing(packet):
    event = signed(packet)
    rules = [{"name": "hose-too-old", "version": 3, "severity": "blocking"}]
    shop = Event(0, {**event.data, "rules": [*event.items("rules"), *rules]})
    assert list(not_here(shop, CATALOGUE)) == []


def test_an_older_reader_misses_nothing_where_a_rule_only_advises(packet):
    (name,) = [r.name for r in CATALOGUE.rules if r.name == "no-repair-recorded"]
    assert CATALOGUE.rule(name).severity == "advisory"
    older = with_rules(*(r for r in CATALOGUE.rules if r.name != name))
    assert list(not_here(signed(packet), older)) == []
    (now, _), (found, _) = judge_again(packet, CATALOGUE), judge_again(packet, older)
    assert (found.verdict, found.answers) == (now.verdict, now.answers)


@pytest.mark.parametrize(
    "rules", [7, [7], [{}], [{"name": 7, "version": 1}], [{"name": "x", "version": ""}]]
)
def test_whatever_stands_there_is_no_traceback(rules):
    event = Event(0, {"rules": rules, "judged_by": rules})
    assert (list(not_here(event, CATALOGUE)), list(differing(event, CATALOGUE))) == (
        [],
        [],
    )


def test_an_unknown_question_is_named_and_closes_none(packet):
    item = {"name": "a-new-one", "version": 1, "questions": ["is-it-blue"]}
    (found,) = not_here(Event(0, {"rules": [item]}), CATALOGUE)
    assert "a-new-one" in found.line
    assert found.questions == frozenset()


MISSING = Problem("nobody wrote it down", "write it down")


def test_a_newer_rule_is_told_and_counts_for_nothing(packet):
    now, _ = judge_again(packet, CATALOGUE)
    found, told = judge_again(packet, newer(MISSING, since="2026-03-04"))
    assert found.answers == now.answers
    assert (found.verdict, told.agrees) == (now.verdict, True)
    line = "asked-later: newer knowledge, asked since 2026-03-04: nobody wrote it down"
    assert line in told.lines


@pytest.mark.parametrize("since", ["", "2026-03-03"])
def test_a_rule_counts_from_its_day_on(packet, since):
    found, _ = judge_again(packet, newer(MISSING, since=since))
    assert answers(found)["order-of-time", "order"].state == "not-shown"


def test_a_step_counts_by_when_it_was_recorded(packet):
    """Its own time, 2 March, is a claim; the log had it on the 3rd."""
    first = Problem("the opening lacks something", "write it down", 0)
    found, _ = judge_again(packet, newer(first, since="2026-03-03"))
    assert answers(found)["order-of-time", "order"].state == "not-shown"


def test_newer_knowledge_that_contradicts_counts(packet):
    against = Problem("it cannot be", "ask", contradicts=True)
    found, told = judge_again(packet, newer(against, since="2030-01-01"))
    assert found.verdict == "contradicted"
    assert not told.agrees, "exit status 1"


def test_an_edited_rule_of_the_same_version_is_told(packet):
    """The shop's amendments.py was edited: its digest is another one."""
    event = signed(packet)
    rules = [
        {**r, "sha256": "0" * 64} if r["name"] == "evidence-amended" else r
        for r in event.items("rules")
    ]
    edited = Event(0, {**event.data, "rules": rules})
    version = CATALOGUE.rule("evidence-amended").version
    (line,) = differing(edited, CATALOGUE)
    assert line == (
        f"the shop's rule evidence-amended, version {version}, is not the one that "
        "this reader has"
    )


def test_many_edited_rules_are_told_in_one_line(packet):
    event = signed(packet)
    rules = [{**rule, "sha256": "0" * 64} for rule in event.items("rules")]
    (line,) = differing(Event(0, {**event.data, "rules": rules}), CATALOGUE)
    assert line.startswith(f"{len(rules)} of the shop's rules are not those that")
    version = CATALOGUE.rule("evidence-amended").version
    assert f"; evidence-amended, version {version}; " in line


@pytest.mark.parametrize("name", judged_by.WORDS)
def test_other_tables_are_told(packet, name):
    event = signed(packet)
    other = {**event.object("judged_by"), name: "0" * 64}
    (line,) = differing(Event(0, {**event.data, "judged_by": other}), CATALOGUE)
    assert judged_by.WORDS[name] in line


def test_line_ends_make_no_other_digest():
    text = "one\ntwo\n"
    found = []
    for ends in ("\n", "\r\n"):
        judged_by._of_text.cache_clear()
        with patch.object(
            judged_by, "table_text", lambda *_, e=ends: text.replace("\n", e)
        ):
            found.append(judged_by._of_text("any", "text"))
    judged_by._of_text.cache_clear()
    assert found == [hashlib.sha256(text.encode()).hexdigest()] * 2
