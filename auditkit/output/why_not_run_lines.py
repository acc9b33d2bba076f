"""Why monitors have not run, as lines of text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.obd.enabling import DEFERS
from auditkit.obd.monitors import monitor_in_words, monitors_in_words

if TYPE_CHECKING:
    from auditkit.obd.enabling import Requirement
    from auditkit.order.why_not_run import WhyNotRun

_MARKS = {True: "met", False: "NOT met", None: "not known"}


def reason_lines(found: WhyNotRun) -> list[str]:
    """Return which monitors wait, then why, then the drive that would help.

    What several monitors ask for is said once.
    """
    if not found.read:
        return ["The readout holds no readiness (PID 01): read it first."]
    how = ", as typed from a display" if found.is_typed else ""
    if not found.waiting:
        return [f"Every supported monitor is complete since codes were cleared{how}."]
    names = monitors_in_words(w.monitor for w in found.waiting)
    lines = [f"Not complete since codes were cleared{how}: {names}."]
    unread = "was not typed" if found.is_typed else "was not read (PID 41)"
    cycles: dict[str, list[str]] = {}
    for waiting in found.waiting:
        name, who = monitor_in_words(waiting.monitor), ", ".join(waiting.responders)
        cycle = waiting.cycle or f"what this driving cycle says {unread}"
        cycles.setdefault(cycle, []).append(f"{name} ({who})")
    lines += [f"  {', '.join(whose)}: {cycle}" for cycle, whose in cycles.items()]
    asking: dict[Requirement, list[str]] = {}
    for waiting in found.waiting:
        for requirement in waiting.requirements:
            asking.setdefault(requirement, []).append(waiting.monitor)
    for requirement, monitors in asking.items():
        every = len(monitors) == len(found.waiting) > 1
        for_whom = "all of them" if every else monitors_in_words(monitors)
        lines.append(f"For {for_whom}: {requirement.name}")
        lines.append(f"  [{requirement.source}; {requirement.known}]")
        for condition in requirement.conditions:
            value = found.values.get(condition.name)
            have = "" if value is None else f" (here {value:f})"
            mark = _MARKS[condition.met(found.values)]
            lines.append(f"  {mark:<9}  {condition.text}{have}")
        lines.append(f"  what to do: {requirement.drive}")
    return [*lines, DEFERS]
