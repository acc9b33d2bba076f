"""Intermittent fault: how often it was seen with a stimulus, and how often without.

Wiggle, tap, spray, heat, load. *Faulty*: seen at least twice with the stimulus and not
once in as many tries without. *Good*, after a repair: not once in 3 n/k tries with the
same stimulus with which it had been seen k times of n. Once is inconclusive, and never
seen shows nothing, whatever the code history. The rule is common practice, no published
source; its second half is the rule of three (``auditkit.bench.counts``).
"""

from __future__ import annotations

from auditkit.bench import counts
from auditkit.bench.computed import Computation, Computed, Decided, Judged
from auditkit.bench.counts import Tries
from auditkit.bench.decision import BenchOutcome
from auditkit.bench.diagram import ScaleDiagram
from auditkit.bench.inputs import AskedAs, HowKnown, Limit, Need
from auditkit.bench.kind import TestKind
from auditkit.bench.readings import Readings
from auditkit.bench.units import QuantityKind
from auditkit.errors import InputError

SHARE = Judged("share of tries in which it was seen", QuantityKind.RATIO, "%")

STIMULI = ("wiggle", "tap", "spray", "heat", "cold", "load", "vibration", "pressure")
WITH = ("seen with stimulus", "tries with stimulus")
WITHOUT = ("seen without stimulus", "tries without stimulus")
BEFORE = ("seen before repair", "tries before repair")
_STIMULUS, _SAME = "stimulus", "stimulus before repair"
_SAMPLE = "sample time"


def _compute(readings: Readings) -> Computation:
    found = counts.tries_of(readings, *WITH)
    if found is None:  # both are asked for
        raise InputError(f"{WITH[0]} is missing", what_to_do="give it")
    without = counts.tries_of(readings, *WITHOUT)
    before = counts.tries_of(readings, *BEFORE)
    outcome, reason, settles = _verdict(readings, found, without, before)
    said = f"seen {found} times with {readings.word(_STIMULUS)}"
    notes = [said if without is None else f"{said}, {without} without"]
    if before is not None:
        notes.append(f"before the repair seen {before} times")
    sampled = readings.written(_SAMPLE)
    notes.append(
        f"a dropout shorter than {sampled[0]} is not seen"
        if sampled
        else "it is not said how short a dropout would have been seen"
    )
    risk = 0.0
    if outcome is BenchOutcome.FAULTY and without is not None:
        risk = counts.chance_of_contrast(found.of, without.of)
    if outcome is BenchOutcome.GOOD and before is not None:
        risk = before.chance_unseen(found.of)
    result = found.stated(f"{SHARE.name} with {readings.word(_STIMULUS)}")
    return Computation(
        (Computed(SHARE, (found.share,)),),
        tuple(notes),
        decided=Decided(outcome, _rule(risk), result, risk, reason, settles),
    )


_Verdict = tuple[BenchOutcome, str, str]
"""The outcome, why it is none, and what would settle it."""


def _verdict(
    readings: Readings, found: Tries, without: Tries | None, before: Tries | None
) -> _Verdict:
    stimulus, open_ = readings.word(_STIMULUS), BenchOutcome.INCONCLUSIVE
    if found.is_seen:
        return _of_seen(stimulus, found, without)
    if found.seen:
        return open_, "seen once is chance", f"go on with {stimulus} until seen twice"
    if before is None:
        why = "a fault that was not seen shows nothing of a part"
        return open_, why, "find the stimulus with which it comes; look at wiring"
    if readings.word(_SAME) != stimulus:
        why = f"it is not said that {stimulus} was the stimulus before the repair too"
        return open_, why, f"give the condition {_SAME!r}, and use the same"
    return _of_gone(found, before)


def _of_seen(stimulus: str, found: Tries, without: Tries | None) -> _Verdict:
    if without is None or without.of < found.of:
        why = f"it was not tried without {stimulus} as often as with it"
        return BenchOutcome.INCONCLUSIVE, why, f"try {found.of} times without"
    if without.seen:
        why = f"it is seen without {stimulus} too, which then shows no cause"
        return BenchOutcome.INCONCLUSIVE, why, "find what it comes with"
    return BenchOutcome.FAULTY, "", ""


def _of_gone(found: Tries, before: Tries) -> _Verdict:
    if not before.is_seen:
        why = "before the repair it was not seen twice, so it was not shown"
        what_to_do = "road test it, or read the vehicle's own self-test"
        return BenchOutcome.INCONCLUSIVE, why, what_to_do
    if not before.gone_in(found):
        why = f"{found.of} tries are too few: {before.none_needed} are needed"
        more = f"try {before.none_needed - found.of} times more"
        return BenchOutcome.INCONCLUSIVE, why, more
    return BenchOutcome.GOOD, "", ""


def _rule(risk: float) -> str:
    told = f"; the chance of this by accident is {100 * risk:.2g} % at most"
    return (
        "faulty where it was seen at least twice with the stimulus and never in as "
        "many tries without; good where after a repair it was not seen in 3 n/k tries "
        "with the same stimulus, seen k times of n before (rule of three, 95 %); else "
        f"inconclusive{told if risk else ''}"
    )


def _draw(
    readings: Readings, computation: Computation, judged: Computed, limit: Limit | None
) -> ScaleDiagram:
    del computation, judged, limit
    shown = {
        f"with {readings.word(_STIMULUS)}": WITH,
        "without": WITHOUT,
        "before the repair": BEFORE,
    }
    found = {n: counts.tries_of(readings, *names) for n, names in shown.items()}
    return counts.shares_diagram({n: t for n, t in found.items() if t is not None})


_TIMES = ("times",)
_EARLIER = "Before the repair"


def _count(name: str, asked: AskedAs, *, required: bool = False) -> Need:
    kinds = (QuantityKind.RATIO,)
    return Need(name, kinds, required=required, given=HowKnown.EXACT, asked=asked)


INTERMITTENT = TestKind(
    name="intermittent",
    title="Intermittent fault by counts",
    readings=(
        *(_count(name, AskedAs(units=_TIMES), required=True) for name in WITH),
        *(_count(name, AskedAs(units=_TIMES, up_front=True)) for name in WITHOUT),
    ),
    conditions=(
        Need(_STIMULUS, words=STIMULI),
        *(_count(name, AskedAs(units=_TIMES, group=_EARLIER)) for name in BEFORE),
        Need(_SAME, required=False, words=STIMULI, asked=AskedAs(group=_EARLIER)),
        Need(_SAMPLE, (QuantityKind.TIME,), required=False, given=HowKnown.EXACT),
    ),
    judges=(SHARE,),
    refuses=(
        "a fault that was seen once, or never",
        "another stimulus after the repair than before it",
        "a limit: counts decide by their own rule",
    ),
    source="Wilson 1927 and the rule of three; the rule itself is common practice",
    compute=_compute,
    needs_limit=False,
    draw=_draw,
)
