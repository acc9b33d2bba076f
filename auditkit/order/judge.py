"""Judging a repair order: the rules speak, the core answers. Pure.

A rule that crashes leaves its questions not shown and stops no other rule; one that
raises InputError cannot use a parameter of the policy, and nothing is decided. The
answer does not depend on the order of the plugins. What contradicts counts, however
little the policy makes of the rule, and however new the rule is; what else a rule finds
of steps that were recorded before it asked for them is told, and counts for nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.order.answers import Heard, answers_of, subjects
from auditkit.order.event_strength import strengths
from auditkit.order.event_text import names_of_parts
from auditkit.order.findings import (
    Finding,
    Lacking,
    Problem,
    Said,
    Severity,
    Shown,
    Verdict,
)
from auditkit.order.judgement import Judgement, PartJudgement, RuleRun
from auditkit.order.photographs import not_counted
from auditkit.order.questions import Answer, Question, State
from auditkit.order.verdicts import fault_verdicts, order_verdict
from auditkit.text.display_text import plural

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.events import RepairOrder
    from auditkit.order.policy import Policy
    from auditkit.order.rule import Rule

_NAMED = 3  # rules that a line names
EVERY = frozenset(Question)


@dataclass(frozen=True, slots=True)
class _Spoken:
    """What one rule said of one of its questions."""

    rule: Rule
    severity: Severity
    question: str
    said: Said


def judge(catalogue: Catalogue, order: RepairOrder, policy: Policy) -> Judgement:
    """Return the answers, the findings and the verdict of an order under a policy."""
    running = _running(catalogue, policy)
    spoken = [one for rule in running for one in _heard(catalogue, order, rule, policy)]
    answers, findings = _answered(catalogue, order, policy, spoken, EVERY)
    findings += tuple(not_counted(order))
    verdict = order_verdict(order, answers)
    own = [f for f in findings if f.question not in EVERY]
    if any(f.severity is Severity.BLOCKING for f in own):
        worst = any(f.contradicts for f in own)
        verdict = min(
            verdict,
            Verdict.CONTRADICTED if worst else Verdict.UNPROVEN,
            key=list(Verdict)[::-1].index,
        )
    return Judgement(
        order_id=order.id,
        verdict=verdict,
        findings=findings,
        rules=tuple(
            RuleRun(r.name, r.version, policy.setting(r.name).severity or r.severity)
            for r in running
        ),
        policy=policy,
        catalogue=catalogue,
        elsewhere=frozenset(order.elsewhere),
        departures=_departures(catalogue, policy),
        answers=answers,
        faults=fault_verdicts(order, answers),
        part_names=names_of_parts(order.events),
    )


def judge_some(
    catalogue: Catalogue,
    order: RepairOrder,
    policy: Policy,
    questions: AbstractSet[Question],
) -> PartJudgement:
    """Return what ``judge`` says of some questions; few rules are run for them."""
    spoken = [
        one
        for rule in _running(catalogue, policy)
        if _may_speak(catalogue, rule, questions)
        for one in _heard(catalogue, order, rule, policy)
        if one.question in questions
    ]
    answers, findings = _answered(catalogue, order, policy, spoken, questions)
    return PartJudgement(findings, answers)


def _running(catalogue: Catalogue, policy: Policy) -> list[Rule]:
    for name in policy.rules:
        catalogue.rule(name)
    return [rule for rule in catalogue.rules if policy.setting(rule.name).run]


def _answered(
    catalogue: Catalogue,
    order: RepairOrder,
    policy: Policy,
    spoken: Sequence[_Spoken],
    questions: AbstractSet[Question],
) -> tuple[tuple[Answer, ...], tuple[Finding, ...]]:
    """Return the answers to questions, and what was found, from what rules said."""
    shown = {
        (one.question, subject)
        for one in spoken
        if isinstance(one.said, Shown)
        for subject in _subjects(order, one)
    }
    findings = tuple(
        sorted(_findings(order, spoken, shown), key=lambda found: found.order)
    )
    heard = {
        question: Heard(
            [
                one.said
                for one in spoken
                if one.question == question and isinstance(one.said, Shown)
            ],
            [found for found in findings if found.question == question],
        )
        for question in Question
        if question in questions
    }
    weighed = strengths(order, catalogue, policy)
    answers = answers_of(order, heard, lambda place: weighed[place], policy.not_asked)
    return answers, findings + _unsaid(answers, findings)


def _may_speak(
    catalogue: Catalogue, rule: Rule, questions: AbstractSet[Question]
) -> bool:
    """Return whether a rule may speak of questions: the canon keeps to its own."""
    is_of_canon = rule.name in catalogue.canon
    return not is_of_canon or any(one in questions for one in rule.questions)


def _subjects(order: RepairOrder, one: _Spoken) -> Sequence[str]:
    if one.said.subject or one.question not in EVERY:
        return (one.said.subject,)
    return subjects(order, Question(one.question))


def _asked(order: RepairOrder, question: str) -> Sequence[str] | None:
    """Return of what a core question is asked; None for a shop's own question."""
    return subjects(order, Question(question)) if question in EVERY else None


def _findings(
    order: RepairOrder, spoken: Iterable[_Spoken], shown: set[tuple[str, str]]
) -> Iterable[Finding]:
    for one in spoken:
        said = one.said
        if isinstance(said, Shown):
            continue
        if isinstance(said, Lacking):
            asked = _asked(order, one.question)
            open_subjects = [
                subject
                for subject in _subjects(order, one)
                if (one.question, subject) not in shown
                and (asked is None or subject in asked)
            ]
            if not open_subjects:
                continue
        contradicts = isinstance(said, Problem) and said.contradicts
        newer = _is_newer(order, one.rule, said)
        severity = Severity.ADVISORY if newer else one.severity
        asked = f"newer knowledge, asked since {one.rule.since}: " if newer else ""
        yield Finding(
            one.rule.name,
            Severity.BLOCKING if contradicts else severity,
            asked + said.message,
            said.event,
            said.what_to_do,
            contradicts,
            one.question,
            said.subject,
            said.can_come_later,
            newer,
            isinstance(said, Lacking),
        )


def _is_newer(order: RepairOrder, rule: Rule, said: Problem | Lacking) -> bool:
    """Return whether all that is spoken of was recorded before the rule's ``since``."""
    places = range(len(order.events)) if said.event is None else (said.event,)
    return bool(rule.since) and all(order.day(place) < rule.since for place in places)


def _unsaid(answers: Iterable, findings: Sequence[Finding]) -> tuple[Finding, ...]:  # type: ignore[type-arg]
    """Return a finding for each question that nothing shows and no rule speaks of."""
    told = {(f.question, f.subject) for f in findings}
    return tuple(
        Finding(
            "not-shown",
            Severity.BLOCKING,
            f"nothing shows it: {Question(a.question).asks} ({a.subject})",
            None,
            "record what shows it",
            question=a.question,
            subject=a.subject,
        )
        for a in answers
        if a.state in {State.NOT_SHOWN, State.WAITING}
        and (a.question, a.subject) not in told
        and (a.question, "") not in told
    )


def _heard(
    catalogue: Catalogue, order: RepairOrder, rule: Rule, policy: Policy
) -> Iterator[_Spoken]:
    """Yield what counts of what a rule says: few may show something."""
    may_show = rule.name in catalogue.canon or rule.name in policy.rules
    for one in _spoken(catalogue, order, rule, policy):
        if may_show or not isinstance(one.said, Shown):
            yield one


def _spoken(
    catalogue: Catalogue, order: RepairOrder, rule: Rule, policy: Policy
) -> list[_Spoken]:
    severity = policy.setting(rule.name).severity or rule.severity
    try:
        said = tuple(rule.check(order, catalogue.parameters(rule, policy)))
    except InputError:  # a parameter of the policy that the rule cannot use
        raise
    except Exception as error:  # noqa: BLE001  a plugin may fail in any way
        plugin = catalogue.plugin_of(rule.name)
        message = (
            f"the rule crashed in plugin {plugin!r}: {type(error).__name__}: {error}"
        )
        what_to_do = (
            f"report this to the maker of plugin {plugin!r}; nothing was decided"
        )
        crashed = Problem(message, what_to_do)
        return [
            _Spoken(rule, Severity.BLOCKING, question, crashed)
            for question in rule.questions
        ]
    return [
        _Spoken(rule, severity, one.question or rule.questions[0], one) for one in said
    ]


def _departures(catalogue: Catalogue, policy: Policy) -> tuple[str, ...]:
    """Return in words where a policy asks less than the rules do, or may."""
    settings = [(rule, policy.setting(rule.name)) for rule in catalogue.rules]
    ran = [(rule, setting) for rule, setting in settings if setting.run]
    groups = {
        "did not run": [rule for rule, setting in settings if not setting.run],
        "counted as advice, but for what contradicts": [
            rule
            for rule, setting in ran
            if rule.severity is Severity.BLOCKING
            and setting.severity is Severity.ADVISORY
        ],
        "ran with other parameters": [
            rule for rule, setting in ran if setting.parameters
        ],
    }
    told = [
        f"{_some([rule.name for rule in rules])} {what}"
        for what, rules in groups.items()
        if rules
    ]
    if policy.not_asked:
        told.append(f"not asked: {', '.join(q.phrase for q in policy.not_asked)}")
    return tuple(told)


def _some(names: Sequence[str]) -> str:
    """Return how many rules, and the names of the first."""
    more = ", ..." if len(names) > _NAMED else ""
    named = ", ".join(names[:_NAMED])
    return f"{plural(len(names), 'rule', 'rules')} ({named}{more})"
