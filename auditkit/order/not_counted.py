"""Where a new result of a test is not borne out by what its own module counts. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from auditkit.obd import in_use
from auditkit.obd.monitors import SINCE_CLEAR, monitor_in_words
from auditkit.obd.readout import Readout
from auditkit.obd.rerun import monitors_of
from auditkit.order.events import RepairOrder
from auditkit.order.self_test_evidence import (
    mids_of,
    readout_of,
    readouts_after,
    results_after,
    typed_after,
    typed_result,
)


def not_counted(order: RepairOrder, code: str) -> Iterator[tuple[str, int]]:
    """Yield what a module says against the last passed result of a code, and where.

    Its readiness since the clear says *not complete*; or, while its ignition cycles
    went on since the readout before the repair, no count of completed tests rose.
    """
    passed = [
        (one.event, one.test.responder, one.test.mid)
        for one in results_after(order, code)
        if one.test.outcome == "passed"
    ]
    passed = passed or [
        (event.index, "", event.text("mid"))
        for event in typed_after(order, code)
        if typed_result(event) == "passed"
    ]
    if not passed:
        return
    place, who, _ = passed[-1]
    mids = frozenset(mid for at, _, mid in passed if at == place) & mids_of(order, code)
    last, after = order.last_repair, readouts_after(order)
    if last is None or not after:
        return
    is_apart = order.events[place].kind != "readout"  # typed, as a step of its own
    place = after[-1].index if is_apart else place
    readout = readout_of(order.events[place])
    names = monitors_of(mids)
    for one in readout.monitors:
        is_own = who in {"", one.responder} and one.cycle == SINCE_CLEAR
        if is_own and one.monitor in names and one.complete is False:
            told = f"{monitor_in_words(one.monitor)} of {one.responder}"
            yield f"{told} is not complete", place
    for before in order.before(last.index, "readout")[-1:]:
        if counts := _stood_still(readout_of(before), readout, who, mids):
            yield f"{counts} did not rise while the ignition cycles of {who} did", place


def _stood_still(was: Readout, now: Readout, who: str, mids: frozenset[str]) -> str:
    """Return the counts of completed tests that stayed as they were; empty if one rose.

    None where its module counted no ignition cycle meanwhile.
    """
    old = {c.name: c.count for c in was.counters if c.responder == who}
    new = {c.name: c.count for c in now.counters if c.responder == who}
    risen = {n: in_use.rise(old[n], new[n]) for n in old.keys() & new.keys()}
    own = sorted(in_use.numerators(mids) & risen.keys())
    if not own or not risen.get(in_use.IGNITION) or any(risen[n] for n in own):
        return ""
    return ", ".join(f"{name} ({new[name]})" for name in own)
