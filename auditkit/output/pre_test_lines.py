"""The record before an inspection as lines of text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from auditkit.inspection.heard import Heard
from auditkit.inspection.jurisdiction import InspectionAnswer
from auditkit.inspection.pre_test import DEFERS
from auditkit.obd.monitors import monitors_in_words
from auditkit.obd.transcript import UNKNOWN
from auditkit.output.beside_lines import beside_lines, not_of_today
from auditkit.text.display_text import first_large

if TYPE_CHECKING:
    from auditkit.inspection.module_record import ModuleRecord
    from auditkit.inspection.pre_test import PreTest, RuleResult

SAID = {
    InspectionAnswer.ACCEPT: "accept",
    InspectionAnswer.NOT_READY: "reject as not ready",
    InspectionAnswer.FAIL: "fail",
    InspectionAnswer.NOT_SUBJECT: "not subject to this test",
    InspectionAnswer.OTHER_TEST: "send to another test",
    InspectionAnswer.UNDECIDED: "undecided",
}
_WOULD = {
    InspectionAnswer.ACCEPT: "would be accepted",
    InspectionAnswer.NOT_READY: "would be rejected as not ready",
    InspectionAnswer.FAIL: "would fail",
    InspectionAnswer.NOT_SUBJECT: "is not subject to this test",
    InspectionAnswer.OTHER_TEST: "would be sent to another test",
    InspectionAnswer.UNDECIDED: "cannot be answered yet",
}
_HELPS = {
    InspectionAnswer.FAIL: "put right what makes it fail, then read the vehicle again",
    InspectionAnswer.NOT_READY: "drive until its monitors are complete, then read it "
    "again; 'auditkit why-not-run FILE' says what drive would help",
}
"""What helps against an answer, whatever else would have to be known."""
_MARKS = {InspectionAnswer.ACCEPT: "  ", InspectionAnswer.UNDECIDED: "? "}
_READINGS = {  # a reading's name in the rules -> as people read it
    "flexibility used": "with the allowance that a state may grant",
    "flexibility not used": "without the allowance that a state may grant",
}
FROM_THE_READOUT = "no rule: what the readout itself shows"
"""Stands where a rule has its clause, on what is seen beside any rule."""
_HEARD = frozenset(state.value for state in Heard)
_LOOKED = {"not-looked": "nobody looked"}


def pre_test_lines(found: PreTest) -> list[str]:
    """Return the answers and what made them, what to do, all reasons, the record."""
    rules = [list(g) for _, g in groupby(found.results, key=lambda r: r.rules)]
    lines = [first] if (first := not_of_today(found.beside)) else []
    for results in rules:
        lines += [answer_line(results)]
        lines += [f"    because {one}" for one in decisive(results)]
    to_do = what_helps(found, with_options=True)
    lines += [f"    what to do: {one}" for one in to_do]
    if found.beside is not None:
        lines += beside_lines(found.beside)
    for result in found.results:
        lines += _why(result)
    lines += record_lines(found)
    return [*lines, DEFERS]


def what_helps(found: PreTest, *, with_options: bool = False) -> tuple[str, ...]:
    """Return what to do, each once: what answers ask for, then what would decide.

    For who typed a command ``with_options`` of it.
    """
    answers = {result.answer for result in found.results}
    asked = [text for answer, text in _HELPS.items() if answer in answers]
    for result in found.results:
        asked += result.what_to_do(with_options=with_options)
    return tuple(dict.fromkeys(asked))


def answer_line(results: Sequence[RuleResult]) -> str:
    """Return the answer of all readings of one jurisdiction's rules in one line."""
    title, answers = results[0].title, list(dict.fromkeys(r.answer for r in results))
    if len(answers) > 1:
        either = ", or ".join(SAID[answer] for answer in answers)
        return f"{title}: it hangs on how the rule is read: {either}. Ask the station."
    said = f"{title}: {_WOULD[answers[0]]}"
    if any(result.can_fall for result in results):
        said += " at best: something is undecided"
    if len(results) == 1:
        return f"{said}."
    many = "both" if len(results) == 2 else f"all {len(results)}"
    return f"{said}, by {many} interpretations of the rule."


def decisive(results: Sequence[RuleResult]) -> tuple[str, ...]:
    """Return what makes it fail, or not ready, under one reading or more; each once."""
    weighed = {InspectionAnswer.FAIL, InspectionAnswer.NOT_READY}
    return tuple(
        dict.fromkeys(
            reason.text
            for result in results
            for reason in result.reasons
            if reason.answer is result.answer and result.answer in weighed
        )
    )


def reading_name(result: RuleResult) -> str:
    """Return a reading's name as people read it."""
    return _READINGS.get(result.reading, result.reading or "no reading")


def _why(result: RuleResult) -> Iterator[str]:
    yield f"{result.title}, {reading_name(result)}: {SAID[result.answer]}"
    yield f"    rests on {result.source}"
    for reason in result.reasons:
        mark = _MARKS.get(reason.answer, "! ")
        basis = reason.source.section if reason.source else FROM_THE_READOUT
        yield f"    {mark}{reason.text} [{basis}]"
    if result.note:
        yield f"    note: {result.note}"


def record_lines(found: PreTest) -> Iterator[str]:
    """Yield the record: where from, the vehicle, what was seen, each module, marks."""
    yield "The record:"
    yield from (f"  {name}: {text}" for name, text in facts(found))
    for module in found.modules:
        yield f"  {first_large(module.name)}:"
        yield from (f"    {name}: {text}" for name, text in module_facts(module))
    if not found.modules:
        yield "  No module answered."
    yield from (f"  mark: {mark}" for mark in found.marks)


def facts(found: PreTest) -> Iterator[tuple[str, str]]:
    """Yield name and text of what the record says of the vehicle and the readout."""
    taken, case = found.taken, found.case
    yield "readout", taken.place
    yield "SHA-256 of the file", taken.sha256
    yield "captured", taken.captured or "the text does not tell"
    if taken.tool:
        yield "tool", taken.tool
    yield "protocol", taken.protocol or _by_ids(found)
    yield "answered for the day", f"{case.day.isoformat()}, {case.day_known}"
    if found.only is not None:
        told = "given with --reading: asked alone, whatever the day"
        yield "interpretation of the rules", f"{found.only}, {told}"
    yield "vehicle", "; ".join(case.vehicle.said)
    yield "VIN in the data", case.readout.vin or "not read"
    yield "VIN of the vehicle", case.vehicle.vin or "not given"
    weight = case.vehicle.gvwr_lb
    yield "weight rating", f"{weight} lb" if weight is not None else "not given"
    used = case.vehicle.first_used
    yield "first used", used.isoformat() if used is not None else "not given"
    yield "odometer, as a person read it", case.vehicle.odometer or "not given"
    seen = case.seen
    for name, value in (
        ("lamp, key on and engine off", str(seen.bulb)),
        ("lamp, engine running", str(seen.running)),
        ("connector", str(seen.connector)),
    ):
        yield name, _LOOKED.get(value, value)
    earlier = ", ".join(sorted(seen.earlier))
    yield "earlier visits", f"ended in {earlier}" if earlier else "none told"


def module_facts(module: ModuleRecord) -> Iterator[tuple[str, str]]:
    """Yield name and text of what one module said; "none" only where it said so."""
    heard = dict(module.heard)
    state = heard["lamp"].value
    lamp = {True: "commanded ON", False: "commanded off", None: state}
    yield "engine lamp", lamp[module.lamp]
    if module.counted is not None:
        yield "stored codes that it counts", f"{module.counted}"
    codes = dict(module.codes)
    for kind in ("stored", "pending", "permanent"):
        if kind in codes:
            yield f"{kind} codes", ", ".join(codes[kind]) or "none"
        else:
            yield f"{kind} codes", heard[f"{kind} codes"].value
    yield from _readiness(module, heard["readiness"])
    yield "calibrations", ", ".join(module.calibration_ids) or "not read"
    numbers = ", ".join(module.calibration_numbers)
    yield "calibration verification numbers", numbers or "not read"
    if module.map:
        yield "map of PIDs 01 to 20", module.map
    unread: dict[str, list[str]] = {}
    for name, text in module.values:
        if text in _HEARD:
            unread.setdefault(text, []).append(name)
        else:
            yield name, text
    yield from ((text, ", ".join(names)) for text, names in unread.items())


def _readiness(module: ModuleRecord, state: Heard) -> Iterator[tuple[str, str]]:
    if state is not Heard.READ:
        yield "readiness", state.value
    elif not module.monitors:
        yield "readiness", "no monitor is supported"
    else:
        done = [name for name, is_done in module.monitors if is_done]
        left = [name for name, is_done in module.monitors if not is_done]
        yield "monitors complete", monitors_in_words(done) or "none"
        yield "monitors NOT complete", monitors_in_words(left) or "none"


def _by_ids(found: PreTest) -> str:
    """Return what the modules' ids tell of the protocol (ISO 15765-4:2005 6.3)."""
    lengths = {len(who) for who in found.case.modules if who != UNKNOWN}
    names = {3: "CAN, 11 bit ids", 8: "CAN, 29 bit ids", 2: "a bus before CAN"}
    told = [names[length] for length in sorted(lengths & names.keys())]
    return f"{' and '.join(told)}, by the ids" if told else "the text does not tell"
