"""Whether a readout can be judged at all: damaged, doubled or contradicting answers.

Whatever is found here never ends in accept, and hides no failure that is certain. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator

from auditkit.inspection.heard import (
    STATUS_PID,
    Heard,
    engine_modules,
    heard,
    since_clear,
)
from auditkit.inspection.reasons import Case, Reason, undecided
from auditkit.obd.monitors import CONTINUOUS
from auditkit.obd.parameters import DISTANCE, WARM_UPS
from auditkit.obd.responders import module_in_words

AGAIN = "read the vehicle again: readiness, codes and VIN (services 01, 03, 07, 0A, 09)"
_MOST = 3  # problems of the text that are told one by one


def unsound(case: Case) -> Iterator[Reason]:
    """Yield what keeps the readout from being judged."""
    readout = case.readout
    if not readout.responders and not readout.requests:
        yield undecided("the readout is empty: nothing was asked", AGAIN)
        return
    for problem in [p for p in readout.problems if p.line][:_MOST]:
        yield undecided(f"line {problem.line}: {problem.problem}", AGAIN)
    more = sum(1 for p in readout.problems if p.line) - _MOST
    if more > 0:
        yield undecided(f"and {more} more that cannot be read", AGAIN)
    if readout.cleared:
        text = "codes were cleared within this readout: what stands before is gone"
        yield undecided(text, AGAIN)
    if case.vehicle.conflict:
        text = f"the ignition is not certain: {case.vehicle.conflict}"
        yield undecided(
            text, "look at the vehicle, and read its readiness again (PID 01)"
        )
    yield from _silent(case)
    yield from _ready_at_once(case)


def _silent(case: Case) -> Iterator[Reason]:
    for who in case.modules:
        state = heard(case.readout, who, STATUS_PID, is_typed=case.is_typed)
        if state not in {Heard.READ, Heard.LACKS}:
            yield undecided(
                f"lamp and readiness (PID 01) of {module_in_words(who)}: {state}",
                "type its lamp and monitors as displayed"
                if case.is_typed
                else f"read the readiness of {who} again (PIDs 00, 01), engine running",
            )


def _ready_at_once(case: Case) -> Iterator[Reason]:
    """Yield where a module says that all has run, and that nothing was driven.

    Common practice, no published source.
    """
    for who in engine_modules(case.readout):
        own = [m for m in since_clear(case.readout) if m.responder == who]
        slow = [m for m in own if m.monitor not in CONTINUOUS]
        counts = [
            v.value
            for v in case.readout.values
            if (v.responder, v.service) == (who, "01") and v.id in {WARM_UPS, DISTANCE}
        ]
        if len(slow) > 1 and counts == [0, 0] and all(m.complete for m in slow):
            yield undecided(
                f"{module_in_words(who)} says that every monitor is complete, and that "
                "there was no warm-up and no distance since the clear",
                "drive, and read it again; ask why where it stays so",
            )
