"""How rules are found and run, and what becomes of one that crashes."""

import types

import pytest

from auditkit.errors import InputError
from auditkit.order.events import RepairOrder
from auditkit.order.findings import Finding, Problem, Severity, Verdict, verdict_of
from auditkit.order.policy import DEFAULT, parse_policy
from auditkit.order.rule import rule
from auditkit.order.statement import statement
from auditkit.plugin import hookimpl
from auditkit.plugin.loading import load_catalogue

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
ORDER = RepairOrder("RO-1", ())


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


def test_no_finding_is_proven_and_severity_decides():
    found = load_catalogue({"p": plugin(make("quiet", []))}).judge(ORDER)
    assert (found.verdict, found.findings) == (Verdict.PROVEN, ())
    advisory = make("mild", [MISSING], severity=Severity.ADVISORY)
    assert load_catalogue({"p": plugin(advisory)}).judge(ORDER).verdict == "proven"
    blocking = load_catalogue({"p": plugin(make("missing", [MISSING]))})
    assert blocking.judge(ORDER).verdict == "unproven"
    both = plugin(make("missing", [MISSING]), make("broken", [BROKEN]))
    assert load_catalogue({"p": both}).judge(ORDER).verdict == "contradicted"


def test_crashing_rule_blocks_is_named_and_stops_nothing():
    rules = plugin(make("crashes", RuntimeError("boom")), make("missing", [MISSING]))
    judged = load_catalogue({"shop-rules": rules}).judge(ORDER)
    assert judged.verdict == "unproven"
    crash, other = sorted(judged.findings, key=lambda f: f.rule)
    assert "shop-rules" in crash.message
    assert "RuntimeError: boom" in crash.message
    assert crash.severity is Severity.BLOCKING
    assert other.rule == "missing"


def test_crash_of_an_advisory_rule_blocks_too():
    rules = plugin(make("crashes", KeyError("x"), severity=Severity.ADVISORY))
    assert load_catalogue({"p": rules}).judge(ORDER).verdict == "unproven"


def test_order_of_plugins_changes_nothing():
    a, b = plugin(make("a-rule", [MISSING])), plugin(make("b-rule", [BROKEN]))
    first = load_catalogue({"x": a, "y": b}).judge(ORDER)
    second = load_catalogue({"y": a, "x": b}).judge(ORDER)
    assert first == second


def test_no_rule_at_all_proves_nothing():
    policy = parse_policy('format = "auditkit/policy@1"\n[rules.quiet]\nrun = false\n')
    judged = load_catalogue({"p": plugin(make("quiet", []))}).judge(ORDER, policy)
    assert judged.verdict == "unproven"
    assert "no rule ran" in judged.findings[0].message


def test_policy_sets_severity_and_parameters():
    def seen(_order, parameters):
        return Problem(f"limit {parameters['limit']}", "x")

    rules = plugin(make("limited", [seen], parameters={"limit": "1", "kept": "2"}))
    text = (
        'format = "auditkit/policy@1"\n[rules.limited]\nseverity = "advisory"\n'
        '[rules.limited.parameters]\nlimit = "9"\n'
    )
    judged = load_catalogue({"p": rules}).judge(ORDER, parse_policy(text))
    assert judged.findings[0].message == "limit 9"
    assert judged.verdict == "proven"
    assert judged.policy.sha256 != DEFAULT.sha256


def test_what_contradicts_blocks_whatever_the_policy_says():
    rules = plugin(make("broken", [BROKEN], severity=Severity.ADVISORY))
    text = 'format = "auditkit/policy@1"\n[rules.broken]\nseverity = "advisory"\n'
    judged = load_catalogue({"p": rules}).judge(ORDER, parse_policy(text))
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
    catalogue = load_catalogue({"p": rules})
    judged = catalogue.judge(ORDER, parse_policy(text))
    assert judged.verdict is Verdict.PROVEN
    assert judged.departures == (
        "1 rule (off) did not run",
        "1 rule (mild) counted as advice, but for what contradicts",
        "1 rule (set) ran with other parameters",
    )
    assert statement(ORDER, judged)[1] == (
        "Judged by the shop's own policy: 1 rule (off) did not run; 1 rule (mild) "
        "counted as advice, but for what contradicts; 1 rule (set) ran with other "
        "parameters."
    )
    told = "proven by the shop's own policy: nothing that blocks is missing"
    assert statement(ORDER, judged)[0] == f"Repair order RO-1 is {told}."
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


def test_verdict_needs_a_blocking_contradiction():
    def finding(severity, *, contradicts):
        return Finding("r", severity, "m", None, "f", contradicts)

    assert verdict_of([]) is Verdict.PROVEN
    advisory = finding(Severity.ADVISORY, contradicts=True)
    assert verdict_of([advisory]) is Verdict.PROVEN
    assert (
        verdict_of([advisory, finding(Severity.BLOCKING, contradicts=False)])
        is Verdict.UNPROVEN
    )


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
