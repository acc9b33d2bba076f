"""A verdict on very many events: it fits into an entry, and leaves out no answer.

A record holds 2,000 events at most; a bench test takes a line of the statement each, so
that 400 of them are too many already.
"""

import copy
import json

import pytest
from truth.bogus import Draft
from truth.jobs import CATALOGUE

from auditkit.errors import InputError
from auditkit.order.events import RepairOrder
from auditkit.order.in_brief import brief_findings, brief_lines
from auditkit.order.schema import validate_event
from auditkit.order.statement import statement
from auditkit.order.verdict_event import verdict_event
from auditkit.proof.entry import MAX_ENTRY

JOB = "1: EGR valve leaks"


def with_many(kind, number, change=lambda event, n: event):
    """Return a job's events, one of a kind repeated so often, each a little changed."""
    events = Draft(JOB).events
    place = next(n for n, e in enumerate(events) if e["kind"] == kind)
    more = [change(copy.deepcopy(events[place]), n) for n in range(number)]
    return [*events[: place + 1], *more, *events[place + 1 :]]


def noted(event, number):
    return event | {"note": f"reading {number}"}


def measured(event, number):
    event["readings"][1]["value"] = f"{number / 100:.2f}"
    return event


def unread(event, number):
    return event | {"text_sha256": f"{number:064x}"}


def closed(events):
    order = RepairOrder.fold("RO-1", events)
    judged = CATALOGUE.judge(order)
    seqs = [100_000 + n for n in range(len(events))]
    made = verdict_event(order, judged, seqs, "mechanic-1", "a test")
    return order, judged, made | {"at": events[-1]["at"]}


@pytest.mark.parametrize(
    ("kind", "number", "change"),
    [
        ("bench_test", 400, noted),
        ("bench_test", 400, measured),
        ("caution", 2000, unread),
    ],
)
def test_a_verdict_on_many_events_fits_and_holds_every_answer(kind, number, change):
    order, judged, made = closed(with_many(kind, number, change))
    assert len(json.dumps(made)) < MAX_ENTRY - 2000
    assert validate_event(json.loads(json.dumps(made)), CATALOGUE.events) == []
    assert made["verdict"] == judged.verdict
    asked = [(a["question"], a["subject"], a["answer"]) for a in made["answers"]]
    assert asked == [(a.question, a.subject, a.state) for a in judged.answers]
    assert [f["fault"] for f in made["faults"]] == [f.subject for f, _ in judged.faults]
    whole = statement(order, judged)
    assert made["statement"][:2] == list(whole[:2])
    assert made["statement"][-2:] == list(whole[-2:])
    rules = {(f.rule, f.severity) for f in judged.findings}
    assert {(f["rule"], f["severity"]) for f in made["findings"]} == rules
    assert len(made["judged"]) == len(order.events)


def test_what_is_left_out_is_counted():
    _, judged, made = closed(with_many("caution", 2000, unread))
    (counted,) = [
        f
        for f in made["findings"]
        if f["rule"] == "caution-text-differs" and f["event"] is None
    ]
    told = [f for f in made["findings"] if f["rule"] == "caution-text-differs"]
    whole = [f for f in judged.findings if f.rule == "caution-text-differs"]
    left = len(whole) - (len(told) - 1)
    assert counted["message"] == f"and {left} more such findings"
    assert len(whole) > 1000


def test_what_fits_is_told_whole():
    order, judged, made = closed(Draft(JOB).events)
    assert made["findings"] == [
        f.to_json() | {"contradicts": f.contradicts, "subject": f.subject}
        for f in judged.findings
    ]
    assert made["answers"] == [a.to_json() for a in judged.answers]
    assert made["statement"] == list(statement(order, judged))


def test_equal_lines_are_one_that_is_counted():
    lines = ["a", "b", "a", "c", "a"]
    assert brief_lines(lines, None, "repairs") == lines
    assert brief_lines(lines, 2, "repairs") == [
        "a (3 times)",
        "b",
        "And 1 more repairs: the record holds each.",
    ]
    assert brief_lines(["x" * 9999], 1, "repairs")[0].endswith("xxx ...")


def test_findings_of_another_severity_or_subject_are_not_counted_away():
    _, judged, _ = closed(Draft(JOB).events)
    every = brief_findings(judged.findings, 1)
    kinds = {(f.rule, f.severity, f.question, f.subject) for f in judged.findings}
    assert {(f.rule, f.severity, f.question, f.subject) for f in every} == kinds


def test_what_fits_in_no_way_is_one_error_that_says_what_to_do():
    events = Draft(JOB).events
    order = RepairOrder.fold("RO-1", events)
    with pytest.raises(InputError, match=r"takes \d+ bytes in brief") as caught:
        verdict_event(order, CATALOGUE.judge(order), range(10_000), "a", None)
    assert "a repair order of its own that names this one" in caught.value.what_to_do
