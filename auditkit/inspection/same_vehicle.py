"""Whether today's readout is of the vehicle that the shop handed over. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from auditkit.inspection.standing import SaidBeside, Standing
from auditkit.obd import Readout
from auditkit.obd.comparison import changed, compare
from auditkit.obd.responders import module_in_words
from auditkit.text.display_text import plural

_APART = frozenset({"VIN", "responders"})  # each told by itself
_ASK_CHANGE = (
    "ask whether a module or its software was changed since; where nobody changed any, "
    "read again: these may be another vehicle's answers"
)


def same_vehicle(
    then: Readout, now: Readout, vin: str | None, *, is_typed: bool = False
) -> Iterator[SaidBeside]:
    """Yield what tells the vehicle of today from that of the hand-over, or the same.

    ``vin`` is what the repair order says, where the readout gave none. With
    ``is_typed`` one of the two was typed: a person names modules as a display does, and
    types the monitors that matter.
    """
    yield from _vin(then.vin or vin, now.vin)
    gone = [who for who in then.responders if who not in now.responders]
    if gone and not is_typed:
        names = ", ".join(map(module_in_words, gone))
        yield SaidBeside(
            Standing.UNDECIDED,
            f"answered at the hand-over and not today: {names}",
            "turn the key on (engine running), and read again",
        )
    marks = [
        mark
        for mark in compare(then, now).identity
        if mark.name not in _APART
        and not (is_typed and mark.name.startswith("monitors of "))
    ]
    differ = changed(marks)
    for mark in differ:
        yield SaidBeside(
            Standing.ASK,
            f"{mark.name}: {mark.after}, and {mark.before} at the hand-over; a vehicle "
            "keeps this unless a module or its software was changed",
            _ASK_CHANGE,
        )
    equal = sum(mark.before == mark.after for mark in marks)
    if equal and not differ:
        many = plural(equal, "mark", "marks")
        yield SaidBeside(
            Standing.HOLDS,
            f"{many} of the vehicle (calibrations, what it can be asked) as at the "
            "hand-over",
        )
    unread = [m.name for m in marks if m.after is None and "calibration" in m.name]
    if unread:
        yield SaidBeside(
            Standing.HOLDS,
            f"read at the hand-over and not today: {', '.join(unread)}",
            "read service 09, ids 04 and 06, to compare them",
        )


def _vin(then: str | None, now: str | None) -> Iterator[SaidBeside]:
    if now is None:
        told = "the vehicle gave no VIN today"
        told += f"; the packet is of {then}" if then else ", and the packet tells none"
        yield SaidBeside(
            Standing.UNDECIDED,
            told,
            "read it (service 09, id 02); where the vehicle has none, compare plates",
        )
    elif then is None:
        yield SaidBeside(
            Standing.UNDECIDED,
            f"the vehicle gave VIN {now}; the packet tells none",
            "ask the shop for a packet that discloses the VIN",
        )
    elif then != now:
        yield SaidBeside(
            Standing.OTHER_VEHICLE,
            f"the vehicle gave VIN {now}, and the packet is of {then}",
            "ask for the packet of this vehicle; where the plate says what the packet "
            "says, ask which module was changed, or whether this was read from it",
        )
    else:
        yield SaidBeside(Standing.HOLDS, f"VIN {now}, as at the hand-over")
