"""What is noted of the times that entries claim. Pure."""

from __future__ import annotations

from collections.abc import Iterable

_SHOWN = 5  # entries that a note names


def clock_notes(recorded: Iterable[tuple[int, str]]) -> tuple[str, ...]:
    """Return a note where the times that entries claim go back.

    All are written in one form (UTC, to the millisecond), so the order of the texts is
    that of the times; a text in another form may be named as well.
    """
    back: list[str] = []
    last = ""
    for seq, claimed in recorded:
        if claimed < last:
            back.append(str(seq))
        last = claimed
    if not back:
        return ()
    more = ", ..." if len(back) > _SHOWN else ""
    where = ", ".join(back[:_SHOWN]) + more
    return (f"the clock went back before entries {where}: these times are claims",)
