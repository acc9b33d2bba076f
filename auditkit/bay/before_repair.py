"""The next step for a fault until a part is worked on for it. Pure."""

from __future__ import annotations

from auditkit.bay.due_step import (
    Rank,
    Step,
    because,
    from_answer,
    listed,
    name_of,
)
from auditkit.bay.so_far import FaultSoFar, SoFar, Suspect, SuspectState, first_open
from auditkit.bench.methods import methods_for
from auditkit.obd.code_table import row_of
from auditkit.order.event_text import method_in_words
from auditkit.order.questions import Question
from auditkit.text.display_text import first_large


def before_repair(found: SoFar, one: FaultSoFar) -> Step:
    """Return what comes next: the fault read, a suspect named, tested, worked on."""
    code = one.fault.code
    known = one.of(Question.FAULT_KNOWN)
    if not one.is_back and known is not None and known.stands == "not-shown":
        return Step(
            Rank.FAULT_KNOWN,
            "readout",
            code,
            f"Read the vehicle before anything is touched: {because(known)}.",
            ("readout", "--raw", "FILE"),
        )
    suspect = first_open(one.suspects)
    explains = one.of(Question.PART_EXPLAINS)
    if suspect is None:
        tried = [s for s in one.suspects if s.state is not SuspectState.GOOD]
        good = [name_of(s) for s in one.suspects if s.state is SuspectState.GOOD]
        left = f" {listed(good)} tested good: left in place." if good else ""
        which = "another part" if good or tried else "the part"
        return Step(
            Rank.SUSPECTS,
            "diagnosis",
            code,
            f"Name {which} that may cause {code} ({row_of(code).meaning})"
            + ("." if one.is_back else ", or set it aside with a reason.")
            + left,
            ("diagnosis",),
        )
    if explains is not None and explains.stands == "not-shown" and not one.is_back:
        return from_answer(Rank.SUSPECTS, explains)
    proven = one.of(Question.PART_AT_FAULT)
    is_shown = not one.is_back and proven is not None and proven.stands == "shown"
    first = None if is_shown else _rule_out(one, suspect)
    suspect = first or suspect
    part, name = suspect.part.id, name_of(suspect)
    if is_shown or suspect.state is SuspectState.FAULTY:
        return Step(
            Rank.REPAIR,
            "repair",
            part,
            f"{first_large(name)} is shown at fault: repair or replace it.",
            ("repair", "--part", part, "--set", f"codes={code}"),
        )
    method, what = _method(found, code, suspect)
    again = ""
    if suspect.state is SuspectState.UNDECIDED:
        again = "The test so far decides nothing. "
    good = [name_of(s) for s in one.suspects if s.state is SuspectState.GOOD]
    left = f"{first_large(listed(good))} tested good: left in place. " if good else ""
    return Step(
        Rank.PART_AT_FAULT,
        "bench_test",
        part,
        f"{left}{again}Test {name}{' again' * bool(again)} before it is touched"
        + (f", such as: {what}." if method else ".")
        + _no_limit(code, suspect),
        ("bench_test", "--part", part, *(("--method", method) if method else ())),
    )


def _rule_out(one: FaultSoFar, suspect: Suspect) -> Suspect | None:
    """Return the suspect to test before a part of which often no limit is published.

    One of a system that the table says to rule out first; None where there is none.
    """
    row = row_of(one.fault.code)
    is_own = suspect.part.system == row.system
    if not row.rule_out or not is_own or suspect.state is not SuspectState.UNTESTED:
        return None
    for system in row.rule_out:
        of_system = [s for s in one.suspects if s.part.system == system]
        waiting = [
            s
            for s in of_system
            if s.state in {SuspectState.UNTESTED, SuspectState.UNDECIDED}
        ]
        if of_system and len(waiting) == len(of_system):
            return waiting[0]
    return None


def _method(found: SoFar, code: str, suspect: Suspect) -> tuple[str, str]:
    """Return an everyday kind of test of a part for a code, and what it reads.

    Both are empty where none is known. Where the part was tested already, the kind that
    it was tested by.
    """
    known = found.judgement.catalogue.bench_tests
    own = [
        t.text("method")
        for t in found.order.of("bench_test")
        if t.text("part") == suspect.part.id and t.text("method")
    ]
    if own:
        return own[-1], method_in_words(known, own[-1])
    for method in methods_for(code, (suspect.part.system,)):
        if method.system == suspect.part.system and method.kind in known:
            return method.kind, method.reads
    return "", ""


def _no_limit(code: str, suspect: Suspect) -> str:
    """Return what stands for a bench test where nobody publishes a limit."""
    row = row_of(code)
    if not row.rule_out or suspect.part.system != row.system:
        return ""
    return (
        " Where no bench limit is published for it, its own failing self-test counts, "
        f"once parts of these systems are suspected and tested good: "
        f"{listed(row.rule_out)}."
    )
