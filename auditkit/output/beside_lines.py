"""How a vehicle stands to a repair that was handed over, as lines of text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.inspection.standing import Standing

if TYPE_CHECKING:
    from auditkit.inspection.beside_packet import BesidePacket

STANDS = {
    Standing.OTHER_VEHICLE: "this is another vehicle than the packet's",
    Standing.COPIED: "this is a readout that the shop took, or nothing ran since",
    Standing.BACK: "a fault that was repaired is back",
    Standing.CLEARED: "codes were cleared since the hand-over, and the readout says "
    "nothing for or against the repair yet",
    Standing.ASK: "something has to be asked first",
    Standing.UNDECIDED: "cannot be answered yet",
    Standing.HOLDS: "as far as this readout shows, the repair holds",
}
SHORT = {
    Standing.OTHER_VEHICLE: "another vehicle",
    Standing.COPIED: "no readout of today",
    Standing.BACK: "speaks against the repair",
    Standing.CLEARED: "cleared since",
    Standing.ASK: "to be asked",
    Standing.UNDECIDED: "not known",
    Standing.HOLDS: "agrees",
}
"""What one line says, in a cell of a table."""
_MARKS = {Standing.HOLDS: "  ", Standing.UNDECIDED: "? ", Standing.ASK: "? "}
_WHOSE = (
    "The packet's signatures hold in themselves; whose key it is, 'auditkit verify "
    "PACKET --key FINGERPRINT' compares."
)
_UNSIGNED = (
    "A repair record is signed by nobody, and is not judged here: ask the shop for the "
    "packet."
)


def beside_answer(found: BesidePacket) -> str:
    """Return the answer in one line."""
    order = found.hand_over.repair_order
    return f"Beside the repair of {order}: {STANDS[found.answer]}."


def not_of_today(found: BesidePacket | None) -> str:
    """Return what comes before any answer of a readout that a shop took; else ''."""
    if found is None or found.answer is not Standing.COPIED:
        return ""
    return (
        "This file is not known to be of today: it says what the shop's own readout "
        "says, and so does every answer below."
    )


def verdict_lines(found: BesidePacket) -> list[str]:
    """Return the packet's verdict as it is judged here, and what its signatures show.

    Of a repair record that it has neither.
    """
    judged = found.hand_over.judged
    if judged is None:
        return [_UNSIGNED]
    return [f"The packet, judged here: {judged.said}; {judged.compared}.", _WHOSE]


def beside_lines(found: BesidePacket) -> list[str]:
    """Return the answer, then what to do, then why."""
    to_do = dict.fromkeys(line.what_to_do for line in found.lines if line.what_to_do)
    return [
        beside_answer(found),
        *(f"    what to do: {one}" for one in to_do),
        f"    held against: {found.hand_over.place}",
        *(f"    {line}" for line in verdict_lines(found)),
        *(f"    {_MARKS.get(said.standing, '! ')}{said.text}" for said in found.lines),
    ]
