"""The one next step of an order: what is missing first, and what shows it. Pure.

In this order: what speaks against the repair; the fault reported by the vehicle; parts
suspected for it; the first of them tested; worked on; measured again; codes cleared;
the drive; the readout after it; every other code; closing. A caution that the step
calls for comes before it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from auditkit.bay.after_repair import after_repair
from auditkit.bay.before_repair import before_repair
from auditkit.bay.cautions_due import due_before, due_before_test
from auditkit.bay.due_step import Rank, Step, from_answer, listed
from auditkit.bay.so_far import FaultSoFar, SoFar
from auditkit.order.events import RepairOrder
from auditkit.order.questions import Question, State
from auditkit.order.self_test_evidence import readout_of
from auditkit.text.values import Json


def next_step(found: SoFar, *, at: str, by: str) -> Step:
    """Return the next step of an order, where ``by`` takes it at a time (RFC 3339)."""
    steps = [s for one in found.faults if (s := fault_step(found, one))]
    steps += _order_steps(found)
    first = min(steps, key=lambda step: step.rank, default=_close(found))
    return with_caution(found, first, at=at, by=by)


def fault_step(found: SoFar, one: FaultSoFar) -> Step | None:
    """Return the next step for one fault, None where nothing is to be done for it."""
    if one.fault.set_aside is not None or not one.is_named:
        return None
    against = [a for a in one.asked if a.answer.state is State.AGAINST]
    if one.is_open:
        step = before_repair(found, one)
        if against:
            why = against[0].answer.because[0]
            step = replace(
                step,
                rank=Rank.CONTRADICTION,
                sentence=f"The repair did not heal {one.fault.code}: {why}. "
                f"{step.sentence}",
            )
        return step
    if against:
        return from_answer(Rank.CONTRADICTION, against[0])
    return next(after_repair(found, one), None)


def _order_steps(found: SoFar) -> Iterator[Step]:
    order = found.order
    if not order.of("readout"):
        yield Step(
            Rank.FAULT_KNOWN,
            "readout",
            "",
            "Read the vehicle: the proof begins with what it says.",
            ("readout", "--raw", "FILE"),
        )
    others = [one.fault.code for one in found.faults if not one.is_named]
    if others:
        is_first = len(others) == len(found.faults)
        yield Step(
            Rank.SUSPECTS if is_first else Rank.OTHERS,
            "diagnosis",
            others[0],
            f"{listed(others)} {'are' if others[1:] else 'is'} reported and not "
            "spoken of: name the parts that may be the cause, or set it aside with a "
            "reason and who agreed.",
            ("diagnosis",),
        )
    for asked in found.asked:
        question = Question(asked.answer.question)
        if asked.answer.state is State.AGAINST:
            yield from_answer(Rank.CONTRADICTION, asked)
        elif (
            question in {Question.SAME_VEHICLE, Question.NOTHING_ELSE}
            and asked.answer.state in {State.NOT_SHOWN, State.WAITING}
            and not asked.later
            and not (question is Question.NOTHING_ELSE and others)
            and order.of("readout")
        ):
            if question is Question.SAME_VEHICLE and _keeps_a_copy(order):
                step = from_answer(Rank.CONTRADICTION, asked)
                yield replace(step, kind="close", arguments=())
                continue
            rank = Rank.READOUT if question is Question.SAME_VEHICLE else Rank.OTHERS
            step = from_answer(rank, asked)
            is_pictured = question is Question.SAME_VEHICLE and _is_nameless(found)
            yield _photograph(step) if is_pictured else step
        elif (
            question is Question.ORDER_OF_TIME and asked.answer.state is State.NOT_SHOWN
        ):
            yield from_answer(Rank.OTHERS, asked)


def _keeps_a_copy(order: RepairOrder) -> bool:
    """Return whether a readout is another order's: no later readout undoes that."""
    return any(
        not order.elsewhere.keys().isdisjoint((event.said, event.live))
        for event in order.of("readout")
    )


def _is_nameless(found: SoFar) -> bool:
    """Return whether the vehicle was read before and after, and gives no VIN."""
    order, repair = found.order, found.order.last_repair
    read = order.of("readout")
    if repair is None or not (order.before(repair.index, "readout") and read):
        return False
    is_after = read[-1].index > repair.index
    return is_after and not any(readout_of(event).vin for event in read)


def _photograph(step: Step) -> Step:
    """Return a step as the photograph that names a vehicle which has no VIN to say."""
    return replace(
        step,
        kind="attachment",
        arguments=(
            *("attachment", "FILE", "--of", "ENTRY"),
            *("--shows", "plate and VIN of the vehicle"),
        ),
    )


def _close(found: SoFar) -> Step:
    judgement = found.judgement
    if judgement.is_enough:
        said = f"Nothing is missing: it is {judgement.verdict}. Close it."
        if weak := {Question(a.question).phrase for a in judgement.rests_on_word}:
            names = listed(q.phrase for q in Question if q.phrase in weak)
            said += f" For proven, more would be needed of: {names}."
        return Step(Rank.CLOSE, "close", "", said, ())
    open_ = [
        a
        for a in judgement.answers
        if a.state in {State.NOT_SHOWN, State.WAITING, State.AGAINST}
    ]
    why = f": {open_[0].because[0]}" if open_ else ""
    return Step(
        Rank.CLOSE,
        "close",
        "",
        f"What is missing cannot be shown any more{why}. Close it with a reason: "
        "--unproven REASON."
        if found.order.last_repair is not None
        else "Nothing was repaired. Close it with a reason: --unproven REASON.",
        (),
    )


def with_caution(found: SoFar, step: Step, *, at: str, by: str) -> Step:
    """Return the caution that comes before a step, or the step where none is due."""
    event: dict[str, Json] = {"kind": step.kind, "at": at, "by": by}
    if step.kind == "bench_test":
        event |= {"part": step.subject, "test": "", "setup": ""}
        if "--method" in step.arguments:
            event["method"] = step.arguments[step.arguments.index("--method") + 1]
        due = due_before_test(found.order, event, found.judgement)
    elif step.kind == "repair":
        event |= {"part": step.subject, "action": "replaced"}
        due = due_before(found.order, event, found.judgement)
    elif step.kind == "road_test":
        due = due_before(found.order, event, found.judgement)
    else:
        return step
    also = tuple(one for one in due if one.setups)
    always = [one for one in due if not one.setups]
    if not always:
        return replace(step, also=also)
    part = "" if step.kind == "road_test" else step.subject
    named = [f"{one.caution.signal_word}, {one.caution.hazard}" for one in always]
    name = found.judgement.part_names.get(part, part)
    lone = (always[0].caution.id,) if len(always) == 1 else ()
    return Step(
        step.rank,
        "caution",
        always[0].caution.id,
        f"Before the {_WORK[step.kind]}{f' of {name}' if name else ''}, read and "
        f"acknowledge: {'; '.join(named)}.",
        (
            *("caution", *lone, "--before", step.kind),
            *(("--part", part) if part else ()),
            *(("--method", str(event["method"])) if "method" in event else ()),
        ),
        then=replace(step, also=also),
        also=also,
    )


_WORK = {"bench_test": "bench test", "repair": "repair", "road_test": "drive"}
