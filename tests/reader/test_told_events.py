"""What was typed, and what was answered, as a stranger reads it. All invented."""

import json
from importlib.resources import files

import pytest

from auditkit.bench import KINDS
from auditkit.order.events import Event, RepairOrder
from auditkit.reader.before_after import measures
from auditkit.reader.blocks import Facts, Items, Paragraph, Table
from auditkit.reader.story import Known, tell

ORDER = json.loads((files("auditkit_demo") / "RO-1004.json").read_text("utf-8"))
AT_TOP = "Its signed statement stands at the top."
TYPED = [e for e in ORDER["events"] if e["kind"] == "readout"]


def told(event):
    title, blocks = tell(Event(0, event), Known(str, KINDS))
    facts = {f.name: f.value for b in blocks if isinstance(b, Facts) for f in b.rows}
    rows = [row for b in blocks if isinstance(b, Table) for row in b.rows]
    return title, facts, rows


@pytest.mark.parametrize(
    ("kind", "member", "name"),
    [
        ("log_opened", "log_key", "Fingerprint of the log's key"),
        ("person_enrolled", "key", "Fingerprint of the person's key"),
        ("log_closed", "log_key", "Fingerprint of the log's key"),
    ],
)
def test_a_public_key_is_told_by_its_fingerprint(kind, member, name):
    """RFC 8037 appendix A.3: this key's thumbprint is published there."""
    event = {"kind": kind, member: "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"}
    assert told(event)[1] == {name: "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k"}
    assert told({"kind": kind, member: "no key"})[1] == {name: "no key"}


def test_a_verdict_that_another_followed_is_told_with_its_own_statement():
    """Only the last one's stands at the top of a page."""
    event = {"kind": "verdict", "statement": ["It was contradicted."]}
    for stated, said in (
        (("It was contradicted.",), [Paragraph(AT_TOP)]),
        (("It is proven.",), [Items(("It was contradicted.",))]),
    ):
        _, blocks = tell(Event(0, event), Known(str, KINDS, stated=stated))
        assert blocks[-1:] == said
        assert (Paragraph(AT_TOP) in blocks) is (said == [Paragraph(AT_TOP)])


def test_each_typed_member_is_told_and_no_digest_of_nothing():
    title, facts, rows = told(TYPED[-1])
    assert title == "The vehicle's display was typed off"
    assert facts["Module 7E8: stored codes"] == "none"
    assert facts["Module 7E8: engine lamp is on"] == "no"
    assert facts["Module 7E8: not shown by this display"] == "permanent"
    assert facts["Count since codes were cleared: minutes"] == "44 min"
    assert facts["VIN, as displayed"] == "0ZZTB1A1XCA000141"
    assert not [name for name in facts if "SHA-256" in name]
    (row,) = rows
    assert row[0] == "7E8 41/81: heater of the oxygen sensor, bank 1 sensor 1"
    assert row[1:] == ("1.12 A", "0.40 A", "2.20 A")


@pytest.mark.parametrize(
    "typed",
    [
        {"modules": 7},
        {"modules": [7, {"self_tests": [7]}, {"module": None, "strange": {"a": 1}}]},
        {"counts": 7, "strange": "told"},
        {"modules": [{"module": "7E8", "self_tests": [{"strange": "told"}]}]},
    ],
)
def test_whatever_a_stranger_typed_is_told(typed):
    title, facts, rows = told({**TYPED[0], "typed": typed})
    assert title == "The vehicle's display was typed off"
    said = json.dumps([facts, rows])
    if "told" in json.dumps(typed):
        assert "told" in said
    if "modules" in typed and typed["modules"] != 7:
        assert "7" in said


def facts_of(event, **known):
    _, blocks = tell(Event(0, event), Known(lambda n: f"entry {n}", KINDS, **known))
    return {f.name: f.value for b in blocks if isinstance(b, Facts) for f in b.rows}


def test_members_are_told_in_words():
    part = {"id": "egr-valve", "name": "EGR valve", "system": "egr"}
    part |= {"codes": ["P0401"], "where": ["engine-bay"], "strange": "told"}
    aside = {"codes": ["P0442"], "reason": "declined", "agreed_by": "Customer One"}
    said = facts_of(
        {"kind": "diagnosis", "suspect_parts": [part], "set_aside": [aside]}
    )
    assert said["Suspected"] == (
        "EGR valve (egr-valve), of the system egr, for P0401; it sits in the engine "
        "bay; strange: told"
    )
    assert said["Set aside"] == "P0442: the repair was declined, agreed by Customer One"
    repair = {"kind": "repair", "part": "egr-valve", "action": "replaced"}
    repair |= {"old_part": "returned-to-customer", "started": "2026-03-02T08:00:00Z"}
    said = facts_of(repair, local=lambda time: time.replace("T", " at "))
    assert said["What became of the old part"] == "given back to the customer"
    assert said["Work began"] == "2026-03-02 at 08:00:00Z"
    photo = {"kind": "attachment", "sha256": "0" * 64, "of": 3, "shows": "a display"}
    said = facts_of(photo | {"media_type": "image/png", "size": 7, "kept": True})
    assert said == {
        "What it shows": "a display",
        "Belongs to": "entry 3",
        "SHA-256 of the file": "0" * 64,
        "Kind of file": "image/png",
        "Size in bytes": "7",
        "Its bytes are kept beside the log": "yes",
    }


@pytest.mark.parametrize("odd", [7, "x", [7], [{}], {"a": 1}, None])
def test_whatever_a_member_is_it_is_told(odd):
    for kind in ("diagnosis", "repair", "attachment", "caution"):
        for member in ("set_aside", "old_part", "of", "shows", "step"):
            assert isinstance(facts_of({"kind": kind, member: odd}), dict)


def test_what_was_not_measured_is_not_called_unread():
    events = json.loads((files("auditkit_demo") / "RO-1001.json").read_text("utf-8"))
    found = measures(RepairOrder.fold("", events["events"]), KINDS)
    none = {m.name.partition(" ")[0]: m.none for m in found}
    assert none == {"Self-test": "not read", "Bench": "not measured"}


ANSWER = {
    "question": "part-at-fault",
    "subject": "part:coil-1",
    "answer": "not-shown",
    "strength": None,
    "because": ["nobody measured it"],
    "what_to_do": ["measure it"],
    "events": [4],
}


def test_signed_answers_are_told_by_question():
    verdict = {"kind": "verdict", "faults": [{"fault": "P0301@7E8", "verdict": "x"}]}
    _, _, rows = told({**verdict, "answers": [ANSWER]})
    assert rows == [
        ("P0301, engine module 7E8", "x"),
        (
            *("part faulty before the repair", "coil-1", "not shown"),
            "nobody measured it; what to do: measure it",
            "4",
        ),
    ]


@pytest.mark.parametrize("odd", [7, [7], [{}], [{**ANSWER, "strange": "told"}], None])
def test_signed_answers_of_another_form_are_told_too(odd):
    _, facts, rows = told({"kind": "verdict", "answers": odd, "faults": odd})
    assert rows == []
    assert {"Answers", "Faults"} <= set(facts)


@pytest.mark.parametrize("odd", [7, None, True, [], {}, [None], [-1], "x"])
def test_no_signed_answer_fails(odd):
    for member in ANSWER:
        _, _, rows = told({"kind": "verdict", "answers": [{**ANSWER, member: odd}]})
        assert len(rows) == 1, member
