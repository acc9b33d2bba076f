"""The verdict in plain words: the answer, then why, then what to do next.

Written into the verdict entry when a repair order is closed, and so signed.
It never holds text that the default policy withholds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.obd import decode
from auditkit.obd.monitors import mid_name
from auditkit.order.events import Event, RepairOrder
from auditkit.order.findings import Verdict
from auditkit.text.display_text import plural, printable
from auditkit.text.values import Json, displayed

if TYPE_CHECKING:
    from auditkit.bench import TestKind
    from auditkit.obd import SelfTest
    from auditkit.order.judgement import Judgement

DEFERS = (
    "This record reminds and computes; the vehicle maker's procedure, local codes "
    "and licensed practice decide."
)
JUDGED_BY = "Judged by the shop's own policy: "
"""The line that says where a policy asks less than the rules begins so."""


def statement(order: RepairOrder, judgement: Judgement) -> tuple[str, ...]:
    """Return the lines that state the verdict and what it rests on."""
    lines = [f"Repair order {order.id} is {verdict_text(judgement)}."]
    if judgement.departures:
        told = "; ".join(judgement.departures)
        lines.append(f"{JUDGED_BY}{told}.")
    if order.codes:
        lines.append(f"Fault codes: {', '.join(order.codes)}.")
    kinds = judgement.catalogue.bench_tests
    lines += [_bench(event, kinds) for event in order.of("bench_test")]
    lines += [_repair(event) for event in order.of("repair")]
    lines += [_corrected(order, event) for event in order.of("amendment")]
    lines += _self_tests(order)
    for finding in judgement.findings:
        lines.append(f"{finding.severity}: {finding.rule}: {finding.message}")
        lines.append(f"  what to do: {finding.what_to_do}")
    lines.append(DEFERS)
    # A receipt holds one line for each.
    return tuple(printable(line.replace("\n", " ")) for line in lines)


def verdict_event(
    order: RepairOrder,
    judgement: Judgement,
    seqs: Sequence[int],
    person: str,
    reason: str | None,
) -> dict[str, Json]:
    """Return the verdict event that closes an order; its time is still to be set."""
    findings: list[Json] = [
        {
            "rule": f.rule,
            "severity": str(f.severity),
            "message": f.message,
            "event": f.event,
            "what_to_do": f.what_to_do,
            "contradicts": f.contradicts,
        }
        for f in judgement.findings
    ]
    rules: list[Json] = [
        {"name": r.name, "version": r.version, "severity": str(r.severity)}
        for r in judgement.rules
    ]
    event: dict[str, Json] = {
        "kind": "verdict",
        "by": person,
        "verdict": str(judgement.verdict),
        "findings": findings,
        "rules": rules,
        "policy_sha256": judgement.policy.sha256,
        "judged": list(seqs),
        "statement": list(statement(order, judgement)),
    }
    if judgement.blocking and reason is not None:
        event["reason"] = reason
    return event


def _bench(event: Event, kinds: Mapping[str, TestKind]) -> str:
    if event.text("method"):
        return (
            f"Bench test of {event.text('part')} ({event.text('method')}) by "
            f"{event.by}: {computed_text(event, kinds)}; {limit_text(event)}."
        )
    result = displayed(dict(event.object("result")))
    shown = str(result) if result else "no measured value"
    return (
        f"Bench test of {event.text('part')} ({event.text('test')}) by {event.by}: "
        f"{shown}; {limit_text(event)}."
    )


def computed_text(event: Event, kinds: Mapping[str, TestKind]) -> str:
    """Return what a computed bench test says, in words.

    ``kinds`` are the kinds of bench test by name: those of a catalogue.
    """
    from auditkit.order.bench_event import result_of

    try:
        found = result_of(event, kinds)
    except InputError as error:
        return f"not computed: {error.message}"
    if found is None:
        return "no method named"
    outcome = found.outcome.value.replace("-", " ")
    return outcome if found.result is None else f"{outcome}: {found.result}"


def limit_text(event: Event) -> str:
    """Return a bench test's limit in words."""
    limit = event.object("limit")
    unit = limit.get("unit", "")
    sides = [
        f"{word} {limit[name]} {unit}"
        for word, name in (("at least", "minimum"), ("at most", "maximum"))
        if name in limit
    ]
    if not sides:
        return "no limit recorded"
    source = limit.get("source")
    said = f" (limit from {source})" if source else " (limit without a source)"
    return f"it should be {' and '.join(sides)}{said}"


def verdict_text(judgement: Judgement) -> str:
    """Return the verdict in words; where it is *unproven*, how many findings block."""
    if judgement.verdict is Verdict.PROVEN:
        by = " by the shop's own policy" if judgement.departures else ""
        return f"proven{by}: nothing that blocks is missing"
    if judgement.verdict is Verdict.CONTRADICTED:
        return "contradicted: the evidence says the fault is still there"
    many = plural(len(judgement.blocking), "finding blocks", "findings block")
    return f"unproven: {many}"


_AMOUNT = frozenset({"name", "value", "above", "below", "unit"})


def value_text(value: Json) -> str:
    """Return a value in words: a quantity as its digits and unit."""
    if isinstance(value, list):
        return ", ".join(value_text(item) for item in value) or "none"
    if isinstance(value, dict):
        amount = displayed(value)
        if amount is None:
            pairs = (
                f"{name.replace('_', ' ')} {value_text(item)}"
                for name, item in value.items()
            )
            return ", ".join(pairs) or "none"
        more = {n: v for n, v in value.items() if n not in _AMOUNT}
        named = f"{value_text(value['name'])}: " if "name" in value else ""
        return f"{named}{amount}" + (f" ({value_text(more)})" if more else "")
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)


def _repair(event: Event) -> str:
    return f"{event.text('part')} was {event.text('action')} by {event.by}."


_NAMES = {"code_clear": "clearing of codes", "self_test": "typed self-test"}


def event_name(event: Event) -> str:
    """Return an event's name in words, such as "bench test of egr-valve"."""
    name = _NAMES.get(event.kind, event.kind.replace("_", " "))
    if event.kind == "opening":
        return name
    if which := event.text("part") or event.text("monitor") or event.text("caution"):
        return f"{name} of {which}"
    return f"{name} of {event.text('captured') or event.text('at')}"


def _corrected(order: RepairOrder, amendment: Event) -> str:
    place = amendment.data.get("corrects")
    which = "an event that is not there"
    if isinstance(place, int) and 0 <= place < amendment.index:
        which = event_name(order.events[place])
    return (
        f"Corrected after it was recorded: {which}, by {amendment.by}, because: "
        f"{amendment.text('why')}."
    )


def self_test_text(test: SelfTest) -> str:
    """Return one result of the vehicle's own test in words."""
    monitor = mid_name(int(test.mid, 16)) or "no public name"
    name = f"self-test {test.mid}/{test.tid} ({monitor})"
    if test.outcome == "not-run":
        return f"{name} has not run: value and limits are all zero"
    if test.outcome == "not-judged":
        return f"{name} cannot be judged, its limits are crossed: {numbers_text(test)}"
    return f"{name} {test.outcome}: {numbers_text(test)}"


_PLAIN = {"counts": "count", "switches": "switches", "raw": "raw"}
"""Units that only say what a plain number counts -> the word before the number."""


def amount_text(value: str, unit: str) -> str:
    """Return a value with its unit; a plain number stands after what it counts."""
    return f"{_PLAIN[unit]} {value}" if unit in _PLAIN else f"{value} {unit}"


def numbers_text(test: SelfTest) -> str:
    """Return a self-test's value and limits in words, raw where unscaled."""
    if test.value is None:
        return test.numbers
    value = amount_text(f"{test.value:f}", str(test.unit))
    if not (test.has_minimum or test.has_maximum):
        return f"{value}, no limit is set"
    low = f"{test.minimum:f}" if test.has_minimum else "none"
    high = f"{test.maximum:f}" if test.has_maximum else "none"
    return f"{value}, minimum {low}, maximum {high}"


def _self_tests(order: RepairOrder) -> list[str]:
    start = order.proof_starts
    if start is None:
        return []
    readouts = order.after(start, "readout")
    if not readouts:
        return []
    tests = decode(readouts[-1].text("raw")).self_tests
    return [f"After the repair the vehicle's own {self_test_text(t)}." for t in tests]
