"""The rules and tables that a shop judged by, held against this reader's own. Pure.

What the shop signed of them is its word. By it a reader only learns what it cannot
judge, or what differs; nothing is shown by it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from auditkit.order.events import Event, RepairOrder
from auditkit.order.findings import Finding, Severity
from auditkit.order.judged_by import WORDS, digests, rule_sha256
from auditkit.order.questions import Question, State
from auditkit.order.verdicts import fault_verdicts, least, order_verdict

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.judgement import Judgement

RULE = "rule-not-here"
"""What a finding is called on a rule that this reader lacks."""
_WHAT_TO_DO = "read it with the version of auditkit that wrote it, or a newer one"
_KNOWN = frozenset(Question)


@dataclass(frozen=True, slots=True)
class NotHere:
    """A rule of the shop's that this reader lacks, or has older, and what it answers.

    ``questions`` are those that are not judged here without it.
    """

    line: str
    questions: frozenset[str]


def not_here(signed: Event, catalogue: Catalogue) -> Iterator[NotHere]:
    """Yield each rule of the shop's canon that this reader lacks, or has older."""
    for name, version, said in _listed(signed):
        asked = frozenset(said.texts("questions"))
        if name in catalogue.canon:
            own = catalogue.rule(name)
            if version > own.version:
                yield NotHere(
                    f"not judged here: the shop's rule {name} is of version {version}, "
                    f"this reader's of {own.version}",
                    (asked | frozenset(map(str, own.questions))) & _KNOWN,
                )
        elif asked and said.text("severity") != Severity.ADVISORY:
            # What only advises decides nothing, so nothing is missing without it.
            yield NotHere(
                f"not judged here: this reader has no rule {name}, version {version}, "
                "of the shop's",
                asked & _KNOWN,
            )


def differing(signed: Event, catalogue: Catalogue) -> Iterator[str]:
    """Yield which of the shop's rules and tables are not those of this reader.

    A rule of another version is another rule; those of the same version and another
    source are told, all in one line.
    """
    others = []
    for name, version, said in _listed(signed):
        digest = said.text("sha256")
        if name not in catalogue.canon or not digest:
            continue
        own = catalogue.rule(name)
        if own.version == version and rule_sha256(own) != digest:
            others.append(f"{name}, version {version}")
    if len(others) == 1:
        yield f"the shop's rule {others[0]}, is not the one that this reader has"
    elif others:
        yield (
            f"{len(others)} of the shop's rules are not those that this reader has: "
            + "; ".join(others)
        )
    judged_by = signed.object("judged_by")
    own_digests = digests(catalogue)
    for name, words in WORDS.items():
        signed_digest = judged_by.get(name)
        if isinstance(signed_digest, str) and signed_digest != own_digests[name]:
            yield f"the shop's {words} are not those that this reader has"


def _listed(signed: Event) -> Iterator[tuple[str, int, Event]]:
    for item in signed.items("rules"):
        name, version = item.get("name"), item.get("version")
        if isinstance(name, str) and type(version) is int:
            yield name, version, Event(signed.index, item)


def without_answers(
    order: RepairOrder, judgement: Judgement, missing: Sequence[NotHere]
) -> Judgement:
    """Return a judgement in which what is not judged here is not shown."""
    told = {
        question: tuple(one.line for one in missing if question in one.questions)
        for question in {q for one in missing for q in one.questions}
    }
    answers = tuple(
        replace(
            found,
            state=State.NOT_SHOWN,
            strength=None,
            because=told[found.question],
            what_to_do=(_WHAT_TO_DO,),
            events=(),
        )
        if found.question in told and found.state is not State.AGAINST
        else found
        for found in judgement.answers
    )
    findings = tuple(
        Finding(RULE, Severity.BLOCKING, one.line, None, _WHAT_TO_DO, question=question)
        for one in missing
        for question in sorted(one.questions)
    )
    now = {fault.subject: verdict for fault, verdict in fault_verdicts(order, answers)}
    faults = tuple(
        (fault, None if said is None else least([said, now.get(fault.subject) or said]))
        for fault, said in judgement.faults
    )
    return replace(
        judgement,
        answers=answers,
        findings=(*findings, *judgement.findings),
        faults=faults,
        verdict=least([order_verdict(order, answers), judgement.verdict]),
    )
