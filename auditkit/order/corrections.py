"""Late corrections: they can take away, never give. Pure.

Before the first step that rests on an event, an amendment replaces it. From then on the
order is judged as it was recorded, after each late amendment, and as it was corrected
last; of each question the least answer counts. What a vehicle sent, or somebody saw it
say or told it to do, is never amended: there every amendment is late.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from auditkit.order.event_text import event_name
from auditkit.order.events import Event, RepairOrder
from auditkit.order.faults import Fault
from auditkit.order.findings import Finding, Severity, Verdict
from auditkit.order.hazards import begins
from auditkit.order.judge import judge, judge_some
from auditkit.order.judgement import PartJudgement
from auditkit.order.questions import Answer, Question, State
from auditkit.order.verdicts import least

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.judgement import Judgement
    from auditkit.order.policy import Policy
    from auditkit.text.values import Json

AS_READ = frozenset({"readout", "self_test", "code_clear"})
"""Kinds of event that are never amended, but in what only describes them."""
_NO_WORK = frozenset(
    {"opening", "diagnosis", "caution", "amendment", "attachment", "handover"}
)
"""Kinds of event before which no caution is acknowledged."""
MOST = 16
"""Most late corrections that are followed one by one: our choice."""
_LEAST_FIRST = (
    State.AGAINST,
    State.NOT_SHOWN,
    State.WAITING,
    State.NOT_ASKED,
    State.SHOWN,
)


@dataclass(frozen=True, slots=True)
class _Stage:
    """The order judged with some of its late amendments, and how that is called."""

    words: str
    judgement: Judgement


def judge_corrected(
    catalogue: Catalogue, order: RepairOrder, policy: Policy
) -> Judgement:
    """Return what the rules say of an order, its late corrections held against it."""
    last = judge(catalogue, order, policy)
    late = late_amendments(order)
    if not late:
        return last
    names = dict.fromkeys(event_name(order.events[_target(order, i)]) for i in late)
    told = f"({', '.join(list(names)[:3])}{', ...' * (len(names) > 3)})"
    cuts = range(len(late)) if len(late) <= MOST else range(1)
    stages = [
        _Stage(
            f"{'as first corrected' if cut else 'as recorded'} {told}",
            judge(catalogue, order.without(late[cut:]), policy),
        )
        for cut in cuts
    ]
    made = _least_of([*stages, _Stage(f"as corrected late {told}", last)])
    return made if len(late) <= MOST else _too_many(made, late)


def judge_part(
    catalogue: Catalogue,
    order: RepairOrder,
    policy: Policy,
    questions: AbstractSet[Question],
) -> PartJudgement:
    """Return what ``judge_corrected`` says of some of the core's questions."""
    if not late_amendments(order):
        return judge_some(catalogue, order, policy, questions)
    whole = judge_corrected(catalogue, order, policy)
    return PartJudgement(
        tuple(one for one in whole.findings if one.question in questions),
        tuple(one for one in whole.answers if one.question in questions),
    )


def late_amendments(order: RepairOrder) -> tuple[int, ...]:
    """Return the places of the amendments that came after a step which rests on it."""
    return tuple(
        event.index
        for event in order.events
        if event.kind == "amendment"
        and (target := _target(order, event.index)) >= 0
        and _is_late(order, event, _first(order.events[target]))
    )


def _target(order: RepairOrder, index: int) -> int:
    """Return the place that an amendment corrects; -1 where it corrects nothing."""
    place = order.events[index].data.get("corrects")
    return place if isinstance(place, int) and 0 <= place < index else -1


def _first(event: Event) -> Event:
    return event if event.recorded is None else Event(event.index, event.recorded)


def _is_late(order: RepairOrder, amendment: Event, first: Event) -> bool:
    """Return whether a step that rests on an event came before its amendment.

    By place in the record or by date, for an amendment the later of its own and of its
    recording, for a repair the earlier of when it started and was finished. On a bench
    test rests the repair of its part, on a road test the readouts after it, on all else
    each repair, and on a caution each step after it too.
    """
    if first.kind in AS_READ:
        return True
    made = amendment.at + timedelta(hours=order.hours_until_recorded(amendment))
    parts = {first.text("part"), amendment.object("event").get("part")}
    since = min(first.at, order.events[first.index].at)
    return any(
        step.index < amendment.index or begins(step) < made
        for step in _versions(order)
        if _rests(step, first, since, parts)
    )


def _rests(
    step: Event, first: Event, since: datetime, parts: AbstractSet[Json]
) -> bool:
    """Return whether a step rests on an event that was at ``since``, of its parts."""
    if first.kind == "road_test":
        return step.kind == "readout" and step.index > first.index
    if first.kind == "caution" and step.kind not in {"repair", *_NO_WORK}:
        return step.index > first.index or step.at >= since
    return step.kind == "repair" and (
        first.kind != "bench_test" or step.text("part") in parts
    )


def _versions(order: RepairOrder) -> Iterator[Event]:
    """Yield each event as it was recorded and as amendments made it."""
    for event in order.events:
        yield event
        if event.recorded is not None:
            yield _first(event)


def _least_of(stages: Sequence[_Stage]) -> Judgement:
    last = stages[-1].judgement
    heard: dict[tuple[str, str], list[tuple[str, Answer]]] = {}
    for stage in reversed(stages):  # between equals, as it stands now
        for found in stage.judgement.answers:
            told = heard.setdefault((found.question, found.subject), [])
            told.append((stage.words, found))
    order = list(Question)
    answers = tuple(
        _least(heard[key])
        for key in sorted(heard, key=lambda key: order.index(Question(key[0])))
    )
    return replace(
        last,
        answers=answers,
        findings=tuple(_findings(stages)),
        faults=tuple(_faults(stages)),
        verdict=least(stage.judgement.verdict for stage in stages),
    )


def _least(said: Sequence[tuple[str, Answer]]) -> Answer:
    """Return the least of one question's answers; it says of which text it is."""
    words, found = min(said, key=lambda one: _rank(one[1]))
    if all(_rank(other) == _rank(found) for _, other in said):
        return found
    return replace(found, because=tuple(f"{words}: {why}" for why in found.because))


def _rank(found: Answer) -> tuple[int, int]:
    strength = found.strength.rank if found.strength is not None else 0
    return _LEAST_FIRST.index(found.state), strength


def _findings(stages: Sequence[_Stage]) -> Iterator[Finding]:
    """Yield what was found of any text; what is no longer so says of which it is."""
    last = stages[-1].judgement.findings
    told = set(last)
    for stage in stages[:-1]:
        for found in stage.judgement.findings:
            if found not in told:
                told.add(found)
                yield replace(found, message=f"{stage.words}: {found.message}")
    yield from last


def _faults(stages: Sequence[_Stage]) -> Iterator[tuple[Fault, Verdict | None]]:
    verdicts: dict[str, list[Verdict]] = {}
    faults: dict[str, Fault] = {}
    for stage in stages:
        for fault, verdict in stage.judgement.faults:
            known = verdicts.setdefault(fault.subject, [])
            if verdict is not None:
                known.append(verdict)
            elif known:
                continue  # one that was addressed is not made another by a correction
            faults[fault.subject] = fault
    for subject, fault in faults.items():
        of_fault = verdicts[subject]
        yield fault, least(of_fault) if of_fault else None


def _too_many(made: Judgement, late: Sequence[int]) -> Judgement:
    """Return the judgement of an order whose late corrections are not followed."""
    message = f"{len(late)} corrections came late, more than {MOST}: too many to follow"
    what_to_do = "record a further test or readout instead of corrections"
    answers = tuple(
        replace(
            found,
            state=State.NOT_SHOWN,
            strength=None,
            because=(message,),
            what_to_do=(what_to_do,),
            events=tuple(late),
        )
        if found.question == Question.ORDER_OF_TIME and found.state is not State.AGAINST
        else found
        for found in made.answers
    )
    finding = Finding(
        "corrected-too-often",
        Severity.BLOCKING,
        message,
        late[0],
        what_to_do,
        question=str(Question.ORDER_OF_TIME),
    )
    unproven = least([made.verdict, Verdict.UNPROVEN])
    return replace(
        made,
        answers=answers,
        findings=(finding, *made.findings),
        verdict=unproven,
        faults=tuple(
            (f, None if v is None else least([v, Verdict.UNPROVEN]))
            for f, v in made.faults
        ),
    )
