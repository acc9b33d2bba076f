"""How rules are found and run, and what becomes of one that crashes."""

import importlib
import pkgutil
import types
from importlib.resources import files

import pytest

from auditkit.errors import InputError
from auditkit.order.events import RepairOrder
from auditkit.order.findings import Lacking, Problem, Severity, Shown, Verdict
from auditkit.order.policy import DEFAULT, parse_policy
from auditkit.order.questions import Question, State
from auditkit.order.record import parse_record
from auditkit.order.rule import rule
from auditkit.order.statement import statement
from auditkit.order.strength import Strength
from auditkit.plugin import hookimpl
from auditkit.plugin.loading import CANON, load_catalogue

PAGE = """Finds {0}.

    What it checks
    Nothing of worth.

    Why it matters
    It does not.

    Example
    None.

    What to do
    Do nothing.
    """
SHIPPED = {
    found.name: importlib.import_module(f"{CANON}.{found.name}")
    for found in pkgutil.iter_modules(importlib.import_module(CANON).__path__)
}


def beside(**plugins):
    """Return what auditkit ships, with some plugins beside it."""
    return load_catalogue({**SHIPPED, **plugins})


def demo(order_id="RO-1001"):
    """Return an order of the demo, RO-1001 being one that is proven."""
    raw = (files("auditkit_demo") / f"{order_id}.json").read_bytes()
    record = parse_record(raw, beside(), where=order_id)
    return RepairOrder.fold(record.repair_order, record.events)


ORDER = demo()


def make(name, problems, **how):
    def check(order, parameters):
        if isinstance(problems, Exception):
            raise problems
        return [p(order, parameters) if callable(p) else p for p in problems]

    check.__doc__ = PAGE.format(name)
    return rule(name, **how)(check)


def plugin(*rules):
    module = types.ModuleType("plugin")
    module.rules = hookimpl(lambda: rules, specname="rules")
    return module


MISSING = Problem("it is missing", "add it", 1)
BROKEN = Problem("it is still broken", "mend it", 0, contradicts=True)


def test_an_objection_counts_by_its_severity():
    found = beside(p=plugin(make("quiet", []))).judge(ORDER)
    assert (found.verdict, found.findings) == (Verdict.PROVEN, ())
    advisory = make("mild", [MISSING], severity=Severity.ADVISORY)
    assert beside(p=plugin(advisory)).judge(ORDER).verdict == "proven"
    blocking = beside(p=plugin(make("missing", [MISSING])))
    assert blocking.judge(ORDER).verdict == "unproven"
    both = plugin(make("missing", [MISSING]), make("broken", [BROKEN]))
    assert beside(p=both).judge(ORDER).verdict == "contradicted"


def test_crashing_rule_blocks_is_named_and_stops_nothing():
    rules = plugin(make("crashes", RuntimeError("boom")), make("missing", [MISSING]))
    judged = beside(**{"shop-rules": rules}).judge(ORDER)
    assert judged.verdict == "unproven"
    crash, other = sorted(judged.findings, key=lambda f: f.rule)
    assert "shop-rules" in crash.message
    assert "RuntimeError: boom" in crash.message
    assert crash.severity is Severity.BLOCKING
    assert other.rule == "missing"


def test_crash_of_an_advisory_rule_blocks_too():
    rules = plugin(make("crashes", KeyError("x"), severity=Severity.ADVISORY))
    assert beside(p=rules).judge(ORDER).verdict == "unproven"


def test_order_of_plugins_changes_nothing():
    a, b = plugin(make("a-rule", [MISSING])), plugin(make("b-rule", [BROKEN]))
    first = beside(x=a, y=b).judge(ORDER)
    second = beside(y=a, x=b).judge(ORDER)
    assert first == second


def test_no_rule_at_all_proves_nothing():
    policy = parse_policy('format = "auditkit/policy@1"\n[rules.quiet]\nrun = false\n')
    judged = load_catalogue({"p": plugin(make("quiet", []))}).judge(ORDER, policy)
    assert judged.verdict == "unproven"
    assert {found.state for found in judged.answers} == {State.NOT_SHOWN}
    assert {found.question for found in judged.answers} == set(Question)
    assert all("nothing shows it" in found.message for found in judged.findings)


def answer(judged, question):
    (found,) = (one for one in judged.answers if one.question == question)
    return found


def test_only_what_auditkit_ships_shows_unless_the_policy_names_the_rule():
    order = demo("RO-1002")
    shown = Shown("seen by us", (1,))
    rules = plugin(make("shows", [shown], question=Question.PART_AT_FAULT))
    judged = beside(p=rules).judge(order)
    assert answer(judged, Question.PART_AT_FAULT).state is State.NOT_SHOWN
    policy = parse_policy('format = "auditkit/policy@1"\n[rules.shows]\nrun = true\n')
    found = answer(beside(p=rules).judge(order, policy), Question.PART_AT_FAULT)
    assert (found.state, found.strength) == (State.SHOWN, Strength.VEHICLE)
    assert "seen by us" in found.because


def test_a_plugins_objection_to_a_question_leaves_it_not_shown():
    rules = plugin(make("objects", [MISSING], question=Question.FAULT_GONE))
    judged = beside(p=rules).judge(ORDER)
    found = answer(judged, Question.FAULT_GONE)
    assert (found.state, found.because) == (State.NOT_SHOWN, ("it is missing",))
    assert judged.verdict == "unproven"
    others = [one for one in judged.answers if one is not found]
    assert {one.state for one in others} == {State.SHOWN}


def test_what_lacks_in_one_way_is_not_told_where_another_shows_it():
    lacking = Lacking("no such way here", "go another way")
    rules = plugin(make("lacks", [lacking], question=Question.PART_AT_FAULT))
    assert beside(p=rules).judge(ORDER).findings == ()
    told = {f.message for f in beside(p=rules).judge(demo("RO-1002")).findings}
    assert "no such way here" in told


def test_the_weakest_event_cited_is_the_strength_of_a_sentence():
    policy = parse_policy('format = "auditkit/policy@1"\n[rules.shows]\nrun = true\n')
    for events, strength in (
        ((1,), Strength.VEHICLE),
        ((1, 6), Strength.MEASURED),
        ((1, 0), Strength.WORD),
        ((), Strength.WORD),
    ):
        only = make("shows", [Shown("so it is", events)], question=Question.TEST_PASSED)
        catalogue = load_catalogue({"p": plugin(only)})
        found = answer(catalogue.judge(ORDER, policy), Question.TEST_PASSED)
        assert found.strength.rank == strength.rank, events


def test_what_a_policy_does_not_ask_is_never_proven():
    for question in Question:
        text = f'format = "auditkit/policy@1"\nnot_asked = ["{question}"]\n'
        judged = beside().judge(ORDER, parse_policy(text))
        must = question in {"test-passed", "fault-gone", "same-vehicle"}
        assert judged.verdict == ("unproven" if must else "vouched"), question
        assert judged.departures == (f"not asked: {question.phrase}",)
        told = statement(ORDER, judged)
        said = f"Judged by the shop's own policy: not asked: {question.phrase}."
        assert said in told


def test_what_speaks_against_the_repair_counts_where_it_is_not_asked():
    order, text = demo("RO-1003"), 'format = "auditkit/policy@1"\nnot_asked = ["{}"]\n'
    against = {
        a.question for a in beside().judge(order).answers if a.state == "against"
    }
    assert "fault-gone" in against
    for question in against:
        judged = beside().judge(order, parse_policy(text.format(question)))
        assert judged.verdict == "contradicted", question
        assert not judged.is_enough


def test_least_says_what_is_enough():
    order, text = demo("RO-1004"), 'format = "auditkit/policy@1"\nleast = "{}"\n'
    for least, is_enough in (("vouched", True), ("proven", False)):
        judged = beside().judge(order, parse_policy(text.format(least)))
        assert (judged.verdict, judged.is_enough) == ("vouched", is_enough)
    assert not beside().judge(demo("RO-1005")).is_enough
    assert beside().judge(demo("RO-1005")).is_waiting


def test_policy_sets_severity_and_parameters():
    def seen(_order, parameters):
        return Problem(f"limit {parameters['limit']}", "x")

    rules = plugin(make("limited", [seen], parameters={"limit": "1", "kept": "2"}))
    text = (
        'format = "auditkit/policy@1"\n[rules.limited]\nseverity = "advisory"\n'
        '[rules.limited.parameters]\nlimit = "9"\n'
    )
    judged = beside(p=rules).judge(ORDER, parse_policy(text))
    assert judged.findings[0].message == "limit 9"
    assert judged.verdict == "proven"
    assert judged.policy.sha256 != DEFAULT.sha256


def test_what_contradicts_blocks_whatever_the_policy_says():
    rules = plugin(make("broken", [BROKEN], severity=Severity.ADVISORY))
    text = 'format = "auditkit/policy@1"\n[rules.broken]\nseverity = "advisory"\n'
    judged = beside(p=rules).judge(ORDER, parse_policy(text))
    assert judged.verdict is Verdict.CONTRADICTED
    assert judged.blocking


def test_where_a_policy_asks_less_is_told_in_the_signed_statement():
    rules = plugin(
        make("off", [MISSING]),
        make("mild", [MISSING]),
        make("set", [], parameters={"least": "1"}),
        make("strict", [], severity=Severity.ADVISORY),
        make("same", []),
    )
    text = (
        'format = "auditkit/policy@1"\n[rules.off]\nrun = false\n'
        '[rules.mild]\nseverity = "advisory"\n[rules.strict]\nseverity = "blocking"\n'
        '[rules.set.parameters]\nleast = "0"\n'
    )
    catalogue = beside(p=rules)
    judged = catalogue.judge(ORDER, parse_policy(text))
    assert judged.verdict is Verdict.PROVEN
    said = statement(ORDER, judged)
    assert judged.departures == (
        "1 rule (off) did not run",
        "1 rule (mild) counted as advice, but for what contradicts",
        "1 rule (set) ran with other parameters",
    )
    assert said[2] == (
        "Judged by the shop's own policy: 1 rule (off) did not run; 1 rule (mild) "
        "counted as advice, but for what contradicts; 1 rule (set) ran with other "
        "parameters."
    )
    told = (
        "proven by the shop's own policy: each question by the best evidence that it "
        "asks for"
    )
    assert said[0] == f"Repair order RO-1001 is {told}."
    assert catalogue.judge(ORDER).departures == ()


def test_policy_digest_ignores_comments_only():
    base = 'format = "auditkit/policy@1"\n[rules.x]\nrun = false\n'
    assert parse_policy(base).sha256 == parse_policy("# hi\n" + base).sha256
    other = parse_policy(base.replace("false", "true"))
    assert parse_policy(base).sha256 != other.sha256


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("x = [", "not TOML"),
        ("a = 1", "format"),
        ('format = "auditkit/policy@1"\nrulez = 1', "'rulez' is not a setting"),
        ('format = "auditkit/policy@1"\nrules = 1', "not a table"),
        ('format = "auditkit/policy@1"\nwithhold = "x"', "not a list"),
        ('format = "auditkit/policy@1"\nnot_asked = ["x"]', "list of questions"),
        ('format = "auditkit/policy@1"\nleast = "unproven"', "not known"),
        ('format = "auditkit/policy@1"\n[rules.x]\nseverity = "bad"', "not known"),
        ('format = "auditkit/policy@1"\n[rules.x]\nrun = 1', "true or false"),
        ('format = "auditkit/policy@1"\n[rules.x]\nruns = true', "not a setting"),
    ],
)
def test_bad_policy_is_refused_with_place_and_mend(text, said):
    with pytest.raises(InputError, match=said) as caught:
        parse_policy(text, where="policy.toml")
    assert caught.value.where.startswith("policy.toml")
    assert caught.value.what_to_do


def test_policy_that_names_an_unknown_rule_is_refused():
    policy = parse_policy('format = "auditkit/policy@1"\n[rules.quite]\nrun = false\n')
    with pytest.raises(InputError, match="did you mean quiet"):
        load_catalogue({"p": plugin(make("quiet", []))}).judge(ORDER, policy)


def test_rule_without_a_whole_page_cannot_be_made():
    with pytest.raises(ValueError, match="What to do"):
        rule("bare")(lambda order, parameters: [])
    with pytest.raises(ValueError, match="lower-case"):
        make("Bad_Name", [])


def test_amendment_takes_the_place_of_what_it_corrects():
    def event(kind, **more):
        return {"kind": kind, "at": "2026-03-02T08:00:00Z", "by": "a", **more}

    events = (
        event("code_clear", tool="wrong"),
        event("repair", part="p", action="replaced"),
        event(
            "amendment", corrects=0, why="x", event=event("code_clear", tool="right")
        ),
        event("amendment", corrects=9, why="x", event=event("code_clear", tool="far")),
    )
    order = RepairOrder.fold("RO-1", events)
    assert order.events[0].text("tool") == "right"
    assert order.events[0].amended_by == 2
    assert [e.kind for e in order.events] == [e["kind"] for e in events]
