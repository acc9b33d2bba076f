"""A caution as lines of text, as it is read before its step."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from auditkit.order.cautions import Caution


def caution_lines(caution: Caution) -> list[str]:
    """Return a caution as it is shown, and how it is acknowledged."""
    twice = (
        ["Confirm it a second time at the part."]
        if caution.signal_word == "DANGER"
        else []
    )
    asked = [
        f"  {name}{f' in {unit}' if unit else ''}"
        for name, unit in caution.preconditions.items()
    ]
    return [
        caution.text,
        f"Basis: {caution.basis}",
        "Record before the step:",
        *asked,
        *twice,
        f"It lapses after {caution.lapses_after} minutes and at the end of the day.",
        f"{caution.id} version {caution.version}, SHA-256 {caution.sha256}",
    ]
