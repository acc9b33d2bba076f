"""What a readout's raw text says, decoded again: codes, lamps, counts, self-tests.

Pure. Words as ``auditkit show`` and ``auditkit decode`` use them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.obd import decode
from auditkit.obd.monitors import mid_name, monitor_in_words
from auditkit.obd.parameters import DISTANCE, MINUTES, ODOMETER, WARM_UPS
from auditkit.obd.responders import why_not_given
from auditkit.obd.uds import STATUS, bit_names
from auditkit.reader.blocks import Block, Fact, Facts, Items, Paragraph, Table

if TYPE_CHECKING:
    from auditkit.obd import Readout, SelfTest

_COUNTS = frozenset({WARM_UPS, DISTANCE, MINUTES, ODOMETER})
_HEAD = ("Self-test", "Value", "Minimum", "Maximum", "Unit", "Outcome")
_OLD_HEAD = ("Test (before CAN)", "Raw value", "Raw limit", "Outcome")


def vehicle_said(raw: str) -> list[Block]:
    """Return what the vehicle said in ``raw``, decoded anew."""
    readout = decode(raw)
    blocks: list[Block] = [Facts(tuple(_codes(readout)))]
    if readout.self_tests:
        blocks.append(
            Paragraph("The vehicle's own tests, as it reported them:", "strong")
        )
        blocks.append(Table(_HEAD, tuple(_row(t) for t in readout.self_tests)))
    older = tuple(
        (
            f"{t.tid} component {t.component} of {t.responder}",
            str(t.raw_value),
            f"{'at least' if t.is_minimum else 'at most'} {t.raw_limit}",
            _older_outcome(t.outcome, sign_decides=t.sign_decides),
        )
        for t in readout.older_tests
    )
    if older:
        blocks.append(Table(_OLD_HEAD, older))
    problems = tuple(
        f"{f'line {p.line}' if p.line else 'the whole text'}: {p.problem}"
        for p in readout.problems
    )
    if problems:
        blocks.append(Paragraph("What could not be read:", "strong"))
        blocks.append(Items(problems))
    blocks.append(Paragraph("The raw text itself is in the packet.", "small"))
    return blocks


def _codes(readout: Readout) -> list[Fact]:
    facts = [
        Fact("Responders", ", ".join(readout.responders) or "none"),
        Fact("VIN, read from the vehicle", readout.vin or "not read"),
    ]
    for name, service, codes in (
        ("Stored", "03", readout.confirmed),
        ("Pending", "07", readout.pending),
        ("Permanent", "0A", readout.permanent),
    ):
        said = ", ".join(f"{c.text} ({c.responder})" for c in codes)
        if service in readout.reported:
            said = said or "none"
        told = (said, why_not_given(readout, service))
        facts.append(Fact(f"{name} fault codes", "; ".join(filter(None, told))))
    for status in readout.statuses:
        bits = ", ".join(bit_names(status.status, STATUS)) or "no bit set"
        name = f"Status of {status.text} ({status.responder})"
        facts.append(Fact(name, f"{status.status:02X}: {bits}"))
    lamps = "; ".join(f"{'ON' if lit else 'off'} ({who})" for who, lit in readout.mil)
    facts.append(Fact("Engine lamp", lamps or "not read"))
    if readout.cleared:
        facts.append(Fact("Within this readout", "a module answers that it cleared"))
    counts = [v for v in readout.values if v.service == "01" and v.id in _COUNTS]
    said = "; ".join(f"{value} ({value.responder})" for value in counts)
    if said:
        facts.append(Fact("Counted by the vehicle", said))
    ready = [m for m in readout.monitors if m.supported and m.cycle == "since-clear"]
    for complete, name in ((True, "complete"), (False, "NOT complete")):
        said = ", ".join(
            f"{monitor_in_words(m.monitor)} ({m.responder})"
            for m in ready
            if m.complete is complete
        )
        if said:
            facts.append(Fact(f"Monitors since codes were cleared, {name}", said))
    return facts


_OUTCOMES: dict[str, str] = {
    "not-run": "has not run: value and limits are all zero",
    "not-judged": "cannot be judged: its limits are crossed",
    "no-limit": "no limit given",
}


def _row(test: SelfTest) -> tuple[str, ...]:
    monitor = mid_name(int(test.mid, 16)) or "no public name"
    name = f"{test.responder} {test.mid}/{test.tid}: {monitor}"
    outcome = _OUTCOMES.get(test.outcome, str(test.outcome))
    if test.value is None:
        words = tuple(str(word) for word in test.words)
        return name, *words, "raw, scaling unknown", outcome
    low = f"{test.minimum:f}" if test.has_minimum else "none"
    high = f"{test.maximum:f}" if test.has_maximum else "none"
    return name, f"{test.value:f}", low, high, str(test.unit), outcome


def _older_outcome(outcome: str | None, *, sign_decides: bool) -> str:
    said = outcome or "all zero: whether it ran is not known"
    if outcome and sign_decides:
        said += ", read as unsigned words; read as signed ones it is the other way"
    return said
