"""The record before an inspection as lines of text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.inspection.jurisdiction import InspectionAnswer
from auditkit.inspection.pre_test import DEFERS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from auditkit.inspection.jurisdiction import Jurisdiction
    from auditkit.inspection.pre_test import PreTest, ReadinessResult

_SAID = {
    InspectionAnswer.ACCEPT: "accept",
    InspectionAnswer.NOT_READY: "reject as not ready",
    InspectionAnswer.FAIL: "fail",
    InspectionAnswer.UNDECIDED: "undecided: the readout does not hold enough",
}
_WOULD = {
    InspectionAnswer.ACCEPT: "Would be accepted",
    InspectionAnswer.NOT_READY: "Would be rejected as not ready",
    InspectionAnswer.FAIL: "Would fail",
    InspectionAnswer.UNDECIDED: "Cannot be answered: the readout does not hold enough",
}
_MARKS = {InspectionAnswer.ACCEPT: "  ", InspectionAnswer.UNDECIDED: "? "}
_READINGS = {  # a reading's name in the rules -> as people read it
    "flexibility used": "with the allowance that a state may grant",
    "flexibility not used": "without the allowance that a state may grant",
}


def pre_test_lines(rules: Jurisdiction, found: PreTest) -> list[str]:
    """Return each reading's answer first, then why, then what the vehicle says."""
    vehicle = found.vehicle
    lines = [
        _answer(found.results),
        f"{rules.title}; {vehicle.ignition} ignition, model year {vehicle.model_year}:",
    ]
    for result in found.results:
        reading = _READINGS.get(result.reading, result.reading)
        lines.append(f"{reading}: {_SAID[result.answer]}")
        lines.append(f"    rests on {result.source}")
        for reason in result.reasons:
            mark = _MARKS.get(reason.answer, "! ")
            basis = f" [{reason.source.section}]" if reason.source else ""
            lines.append(f"    {mark}{reason.text}{basis}")
    if len({result.answer for result in found.results}) > 1:
        lines.append("The readings differ: ask the station which one it uses.")
    lamp = {True: "on", False: "off", None: "not read"}[found.lamp_commanded]
    seen = found.lamp_seen.replace("-", " ").replace("not looked", "nobody looked")
    lines += [
        "What the vehicle says:",
        f"  lamp commanded {lamp}; in the bulb check: {seen}",
        f"  stored codes: {', '.join(found.confirmed) or 'none'}",
        f"  pending codes: {', '.join(found.pending) or 'none'}",
        f"  permanent codes: {', '.join(found.permanent) or 'none'}",
        f"  monitors complete: {', '.join(found.complete) or 'none'}",
        f"  monitors not complete: {', '.join(found.incomplete) or 'none'}",
        (
            f"  since the last clear: {_count(found.warm_ups, 'warm-ups')}, "
            f"{_count(found.distance, 'km')}"
        ),
        DEFERS,
    ]
    return lines


def _answer(results: Sequence[ReadinessResult]) -> str:
    """Return the answer of all readings of the rule in one line."""
    answers = list(dict.fromkeys(result.answer for result in results))
    if len(answers) > 1:
        either = ", or ".join(_SAID[answer] for answer in answers)
        return f"It hangs on how the rule is read: {either}."
    if len(results) == 1:
        return f"{_WOULD[answers[0]]}."
    many = "both" if len(results) == 2 else f"all {len(results)}"
    return f"{_WOULD[answers[0]]}, under {many} readings of the rule."


def _count(number: object, unit: str) -> str:
    return f"{unit} not read" if number is None else f"{number} {unit}"
