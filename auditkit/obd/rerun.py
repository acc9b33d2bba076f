"""Did a monitor run again between two readouts? Grades of evidence, strongest first.

The reasoning: a clear empties test results (ISO 15031-5:2006 7.4.1), so values after a
clear are new; in-use counters survive a clear and rise when the monitor runs; PID 01
turns a monitor from not complete to complete when it runs, and PID 41 says that it ran
in this driving cycle. Equal words prove nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from auditkit.obd import in_use
from auditkit.obd.comparison import clear_reasons
from auditkit.obd.monitors import (
    COMPRESSION_ONLY,
    SINCE_CLEAR,
    monitor_in_words,
    this_cycle,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from auditkit.obd.readout import Readout
    from auditkit.obd.services import SelfTest


class Grade(StrEnum):
    """How well it is shown that a monitor ran again; the order is the strength."""

    RESULTS_AFTER_CLEAR = "results-after-clear"
    COUNTER_ROSE = "counter-rose"
    READINESS_COMPLETED = "readiness-completed"
    RESULTS_CHANGED = "results-changed"
    ONLY_TYPED = "only-typed"
    NONE = "none"

    def meets(self, least: Grade) -> bool:
        """Return whether this is at least as strong as ``least``."""
        order = list(Grade)
        return order.index(self) <= order.index(least)


_MONITORS = {
    "catalyst": range(0x21, 0x25),
    "heated-catalyst": range(0x61, 0x65),
    "evaporative-system": range(0x39, 0x3E),
    "secondary-air": range(0x71, 0x75),
    "oxygen-sensor": range(0x01, 0x11),
    "oxygen-sensor-heater": range(0x41, 0x51),
    "egr-vvt": range(0x31, 0x39),
    "nmhc-catalyst": range(0x21, 0x25),
    "nox-aftertreatment": (0x90, 0x91, 0x98, 0x99),
    "boost-pressure": range(0x85, 0x87),
    "exhaust-gas-sensor": range(0x01, 0x11),
    "particulate-filter": range(0xB0, 0xB4),
    "misfire": range(0xA1, 0xAE),
    "fuel-system": range(0x81, 0x85),
}
"""PID 01 monitor -> monitor ids of service 06; made from the names.

Misfire (on spark ignition) and fuel system always read complete, so they never turn.
"""
MISFIRE_MIDS = frozenset(f"{mid:02X}" for mid in _MONITORS["misfire"])
"""Monitor ids of misfire: A1 in general, A2 and up of cylinder 1 and up."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """One grade of evidence with what shows it in words."""

    grade: Grade
    why: str


def monitors_of(mids: Iterable[str]) -> frozenset[str]:
    """Return the PID 01 monitors to which monitor ids (two hex digits) belong."""
    numbers = {int(mid, 16) for mid in mids}
    return frozenset(n for n, theirs in _MONITORS.items() if numbers & {*theirs})


def evidence(
    before: Readout, after: Readout, mids: frozenset[str]
) -> tuple[Evidence, ...]:
    """Return what shows that a monitor of ``mids`` ran after ``before``.

    Strongest first; empty where nothing shows it.
    """
    found = [
        *_after_clear(before, after, mids),
        *_counters(before, after, mids),
        *_readiness(before, after, mids),
        *_changed(before, after, mids),
    ]
    order = list(Grade)
    return tuple(sorted(found, key=lambda e: order.index(e.grade)))


def _after_clear(
    before: Readout, after: Readout, mids: frozenset[str]
) -> Iterable[Evidence]:
    have = [t for t in after.self_tests if t.mid in mids and t.outcome != "not-run"]
    if not have:
        return
    reasons = list(clear_reasons(before, after))
    old = {t.place: t.outcome for t in before.self_tests if t.mid in mids}
    filled = [t for t in have if old.get(t.place) == "not-run"]
    if filled:
        names = ", ".join(f"{t.mid}/{t.tid}" for t in filled)
        reasons.insert(0, f"{names} was all zero and now has a result")
    if reasons:
        yield Evidence(Grade.RESULTS_AFTER_CLEAR, "; ".join(reasons))


def _counters(
    before: Readout, after: Readout, mids: frozenset[str]
) -> Iterable[Evidence]:
    old = {(c.responder, c.name): c.count for c in before.counters}
    for counter in after.counters:
        if counter.name not in in_use.numerators(mids):
            continue
        was = old.get((counter.responder, counter.name))
        risen = None if was is None else in_use.rise(was, counter.count)
        if risen:
            told = f"{counter.name} of {counter.responder}: {was} to {counter.count}"
            yield Evidence(Grade.COUNTER_ROSE, told)


def _readiness(
    before: Readout, after: Readout, mids: frozenset[str]
) -> Iterable[Evidence]:
    names = monitors_of(mids)
    waiting = {
        (m.responder, m.monitor)
        for m in before.monitors
        if m.cycle == SINCE_CLEAR and m.supported and m.complete is False
    }
    for m in after.monitors:
        turned = m.cycle == SINCE_CLEAR and m.supported and m.complete
        if turned and m.monitor in names and (m.responder, m.monitor) in waiting:
            name = monitor_in_words(m.monitor)
            told = f"{name} of {m.responder}: not complete to complete"
            yield Evidence(Grade.READINESS_COMPLETED, told)


def _changed(
    before: Readout, after: Readout, mids: frozenset[str]
) -> Iterable[Evidence]:
    old = {t.place: t.words for t in before.self_tests}
    for t in after.self_tests:
        was = old.get(t.place)
        if t.mid not in mids or was is None or t.outcome == "not-run":
            continue
        if any(was) and was != t.words:
            told = f"{t.mid}/{t.tid} of {t.responder}: the result changed"
            if _is_complete_now(after, t):
                now = f"{told}, and its monitor is complete in this driving cycle"
                yield Evidence(Grade.READINESS_COMPLETED, now)
            else:
                yield Evidence(Grade.RESULTS_CHANGED, told)


def _is_complete_now(readout: Readout, test: SelfTest) -> bool:
    """Return whether PID 41 says that the monitor of a test ran in this cycle.

    Of a monitor that always reads complete it says nothing: fuel system, and misfire on
    spark ignition (ISO 15031-5:2006 B.2).
    """
    own = {m.monitor for m in readout.monitors if m.responder == test.responder}
    always = {"fuel-system"} if own & COMPRESSION_ONLY else {"fuel-system", "misfire"}
    names = monitors_of((test.mid,)) - always
    return any(
        who == test.responder and now.supported and now.complete is True
        for (who, name), now in this_cycle(readout.monitors).items()
        if name in names
    )


def why_waiting(readout: Readout, mids: frozenset[str]) -> tuple[str, ...]:
    """Return what PID 41 says of monitors of ``mids`` that have not run.

    Enabled and not complete: it still can run in this cycle.
    """
    names, today = monitors_of(mids), this_cycle(readout.monitors)
    told: list[str] = []
    for m in readout.monitors:
        now = today.get((m.responder, m.monitor))
        asked = m.cycle == SINCE_CLEAR and m.supported and m.monitor in names
        if not asked or now is None:
            continue
        name = monitor_in_words(m.monitor)
        if not now.supported:
            told.append(
                f"{name} of {m.responder} is disabled for the rest of this "
                "driving cycle: driving on does not run it, a new cycle may"
            )
        elif now.complete is False:
            told.append(f"{name} of {m.responder} can still run in this cycle")
    return tuple(told)
