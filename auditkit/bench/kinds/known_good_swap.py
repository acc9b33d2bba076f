"""Known-good swap: whether a fault follows the part to another place.

The part and a known-good one of the same kind are exchanged (a coil with that of the
next cylinder). *Faulty*: the fault is gone from the old place and seen at the part's
new one, or comes back with the part when both are swapped back; where it stays away
then, it went by what was done and not with the part. *Good*: it stays at the
old place with the good part in it, and is not seen at the part's new one. A fault that
is merely gone shows that something in the act healed it, such as a connector that
moved. Common practice, no published source; how many tries show that it is gone is the
rule of three (``auditkit.bench.counts``).
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

BEFORE = ("seen before swap", "tries before swap")
NEW_PLACE = ("seen at new place of part", "tries at new place of part")
OLD_PLACE = ("seen at old place of part", "tries at old place of part")
BACK = ("seen after swap back", "tries after swap back")
_ASKED = (BEFORE, NEW_PLACE, OLD_PLACE)

_RULE = (
    "seen k times of n before the swap, at least twice; faulty where it is then not "
    "seen in 3 n/k tries at the old place, and at least twice at the part's new place "
    "or after the swap back (not where it stays away for 3 n/k then); good where it is "
    "seen at least twice at the old place and not in 3 n/k tries at the new one (rule "
    "of three, 95 %); else inconclusive"
)


def _tries(readings: Readings) -> tuple[Tries, Tries, Tries]:
    found = []
    for names in _ASKED:
        counted = counts.tries_of(readings, *names)
        if counted is None:  # all are asked for
            raise InputError(f"{names[0]} is missing", what_to_do="give it")
        found.append(counted)
    before, new, old = found
    return before, new, old


def _compute(readings: Readings) -> Computation:
    before, new, old = _tries(readings)
    back = counts.tries_of(readings, *BACK)
    follows = before.gone_in(old)
    outcome, why, settles = BenchOutcome.INCONCLUSIVE, "", ""
    risk = 0.0
    if not before.is_seen:
        why = "before the swap it was not seen twice, so there was nothing to follow"
        settles = "find the conditions in which it comes, then swap"
    elif follows and back is not None and before.gone_in(back):
        why = (
            "it stayed away when the part was put back: something in the act healed it"
        )
        settles = "see whether it comes again, and look at what was moved with the part"
    elif follows and (new.is_seen or (back is not None and back.is_seen)):
        outcome, risk = BenchOutcome.FAULTY, before.chance_unseen(old.of)
    elif old.is_seen and before.gone_in(new):
        outcome, risk = BenchOutcome.GOOD, before.chance_unseen(new.of)
    elif old.seen and new.seen:
        why = "it is seen at both places: the part is not what makes the difference"
        settles = "look at what both have in common"
    elif old.seen or new.seen:
        why = "it was not seen twice at the one place and never at the other"
        settles = f"try {before.none_needed} times at each place"
    else:
        why = "it is gone from both places: something in the act healed it"
        settles = "swap back once, and see whether it comes again"
    said = f"seen {before} times before the swap, {new} at the part's new place, "
    notes = [f"{said}{old} at its old place with the known-good part"]
    if back is not None:
        notes.append(f"seen {back} times after the swap back")
    result = new.stated(f"{SHARE.name} at the part's new place")
    return Computation(
        (Computed(SHARE, (new.share,)),),
        tuple(notes),
        decided=Decided(outcome, _RULE, result, risk, why, settles),
    )


def _draw(
    readings: Readings, computation: Computation, judged: Computed, limit: Limit | None
) -> ScaleDiagram:
    del computation, judged, limit
    before, new, old = _tries(readings)
    shown = {"before": before, "part's new place": new, "part's old place": old}
    back = counts.tries_of(readings, *BACK)
    return counts.shares_diagram(shown if back is None else {**shown, "back": back})


def _count(name: str, *, required: bool) -> Need:
    return Need(
        name,
        (QuantityKind.RATIO,),
        required=required,
        given=HowKnown.EXACT,
        asked=AskedAs(units=("times",), up_front=True),
    )


KNOWN_GOOD_SWAP = TestKind(
    name="known-good-swap",
    title="Known-good swap: whether the fault follows the part",
    readings=(
        *(_count(name, required=True) for names in _ASKED for name in names),
        *(_count(name, required=False) for name in BACK),
    ),
    conditions=(),
    judges=(SHARE,),
    refuses=(
        "a fault that was not seen twice before the swap",
        "a fault that is merely gone after a new part was fitted",
        "a limit: counts decide by their own rule",
    ),
    source="the rule of three; the rule itself is common practice",
    compute=_compute,
    needs_limit=False,
    draw=_draw,
)
