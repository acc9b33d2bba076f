"""Why monitors have not run, as lines of text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.obd.enabling import DEFERS

if TYPE_CHECKING:
    from auditkit.why_not_run import Reasons

_MARKS = {True: "met", False: "NOT met", None: "not known"}


def reason_lines(found: Reasons) -> list[str]:
    """Return which monitors wait, then why, then the drive that would help."""
    if not found.read:
        return ["The readout holds no answer to PID 01: capture it first."]
    if not found.waiting:
        return ["Every supported monitor is complete since codes were cleared."]
    names = ", ".join(w.monitor for w in found.waiting)
    lines = [f"Not complete since codes were cleared: {names}."]
    for waiting in found.waiting:
        lines.append(f"{waiting.monitor} ({', '.join(waiting.responders)}):")
        if waiting.cycle:
            lines.append(f"  this driving cycle: {waiting.cycle}")
        for asked in waiting.requirements:
            lines.append(f"  {asked.name} [{asked.source}; {asked.known}]:")
            for condition in asked.conditions:
                value = found.values.get(condition.name)
                have = "" if value is None else f" (here {value:f})"
                mark = _MARKS[condition.met(found.values)]
                lines.append(f"    {mark:<9}  {condition.text}{have}")
            lines.append(f"    next: {asked.drive}")
    lines.append(DEFERS)
    return lines
