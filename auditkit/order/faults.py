"""The faults of a repair order: addressed, set aside or neither; and what was tried.

A fault is a code, with the modules that reported it as its witnesses. It is addressed
where a diagnosis names it and a part is worked on for it. The repairs for one fault
between two readouts in which it is present are one attempt: questions are asked of
the last attempt, and earlier ones are told.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from auditkit.obd import Readout
from auditkit.obd.transcript import UNKNOWN
from auditkit.order.events import Event, RepairOrder
from auditkit.order.once import once
from auditkit.order.self_test_evidence import readout_of
from auditkit.text.display_text import says_something

# The transmission module asks for the lamp; lost or implausible data of another module.
_POINTS = re.compile(r"P0700|U0[14][0-9A-F]{2}")
_PART_WORK = frozenset({"replaced", "repaired"})
# Ids of engine and transmission module by SAE J1979 (from memory).
_NAMES = {"U0100": "7E8", "U0401": "7E8"} | dict.fromkeys(
    ("P0700", "U0101", "U0402"), "7E9"
)


@dataclass(frozen=True, slots=True)
class SetAside:
    """Why a fault was not repaired here, who agreed, and which diagnosis says so."""

    reason: str
    agreed_by: str
    event: int
    note: str = ""

    @property
    def is_agreed(self) -> bool:
        """Whether anybody is named who agreed."""
        return says_something(self.agreed_by)


@dataclass(frozen=True, slots=True)
class Attempt:
    """Repairs for one fault, by their places, with no sign of the fault between."""

    repairs: tuple[int, ...]

    @property
    def first(self) -> int:
        """Place of its first repair."""
        return self.repairs[0]

    @property
    def last(self) -> int:
        """Place of its last repair."""
        return self.repairs[-1]


@dataclass(frozen=True, slots=True)
class Fault:
    """A code, who reported it, and what was done about it.

    ``witnesses`` are responders, such as 7E8, in the order in which they spoke.
    ``causes`` are ids of the parts that were worked on for it in its last attempt.
    ``points`` is true of a code that only points at another module, whose faults were
    addressed: those answer for it, and it only has to be gone.
    """

    code: str
    witnesses: tuple[str, ...]
    causes: tuple[str, ...]
    attempts: tuple[Attempt, ...]
    set_aside: SetAside | None
    points: bool = False

    @property
    def is_addressed(self) -> bool:
        """Whether a part was worked on for it."""
        return bool(self.attempts)

    @property
    def subject(self) -> str:
        """The fault as answers name it: code and module, the code alone if unknown."""
        who = next((w for w in self.witnesses if w != UNKNOWN), "")
        return f"{self.code}@{who}" if who else self.code

    @property
    def first_repair(self) -> int | None:
        """Place of the first repair that was for it."""
        return self.attempts[0].first if self.attempts else None

    @property
    def last_repair(self) -> int | None:
        """Place of the last repair that was for it."""
        return self.attempts[-1].last if self.attempts else None

    def may_be_of(self, responder: str) -> bool:
        """Return whether a responder reported it, as far as responders are unnamed."""
        unnamed = not self.witnesses or UNKNOWN in self.witnesses
        return unnamed or responder in {UNKNOWN, *self.witnesses}

    def proof_starts(self, order: RepairOrder) -> int | None:
        """Return the place after which evidence speaks of the last attempt.

        The last repair for it or, where codes were cleared after that, the first such
        clear; None where nothing was repaired for it.
        """
        last = self.last_repair
        if last is None:
            return None
        clears = (e.index for e in order.of("code_clear") if e.index > last)
        return next(clears, last)

    def was_cleared(self, order: RepairOrder) -> bool:
        """Return whether codes were cleared after the last attempt."""
        return self.proof_starts(order) != self.last_repair


@once
def faults_of(order: RepairOrder) -> tuple[Fault, ...]:
    """Return every fault that a diagnosis names or sets aside, in that order."""
    aside = dict(_set_aside(order))
    made = [_fault(order, code) for code in dict.fromkeys((*order.codes, *aside))]
    told = [replace(fault, set_aside=aside.get(fault.code)) for fault in made]
    return tuple(_pointing(fault, told) for fault in told)


def _pointing(fault: Fault, all_faults: Sequence[Fault]) -> Fault:
    """Return a code that only points at another module as answered by that module.

    It is so where a fault of the very module that it names is addressed, whether the
    part was suspected for the pointing code too or not.
    """
    if fault.set_aside or not _POINTS.fullmatch(fault.code):
        return fault
    others = [
        other
        for other in all_faults
        if other.attempts
        and not _POINTS.fullmatch(other.code)
        and not set(other.witnesses) & set(fault.witnesses)
        and any(_is_named(fault.code, who) for who in other.witnesses)
    ]
    if not others:
        return fault
    attempts = fault.attempts or others[0].attempts
    return replace(fault, attempts=attempts, points=True)


def _is_named(code: str, responder: str) -> bool:
    """Return whether a pointing code may name the module that answers so."""
    named = _NAMES.get(code)
    return responder == named if named else responder not in _NAMES.values()


@once
def addressed(order: RepairOrder) -> tuple[Fault, ...]:
    """Return the faults for which a part was worked on."""
    return tuple(fault for fault in faults_of(order) if fault.is_addressed)


@once
def causes(order: RepairOrder) -> tuple[str, ...]:
    """Return the ids of all parts that were worked on as causes, each once."""
    return tuple(dict.fromkeys(c for f in addressed(order) for c in f.causes))


@once
def faults_for(order: RepairOrder, part: str) -> tuple[Fault, ...]:
    """Return the addressed faults for which a part was worked on as their cause."""
    return tuple(fault for fault in addressed(order) if part in fault.causes)


def codes_of_repair(order: RepairOrder, repair: Event) -> tuple[str, ...]:
    """Return the codes that a repair was for, as it or the diagnosis before it says.

    A suspect part that names no codes is suspected for all of its diagnosis.
    """
    said = repair.texts("codes")
    if said:
        return said
    found = (
        code
        for place, codes in _suspected(order).get(repair.text("part"), ())
        if place < repair.index
        for code in codes
    )
    return tuple(dict.fromkeys(found))


@once
def _suspected(
    order: RepairOrder,
) -> Mapping[str, Sequence[tuple[int, tuple[str, ...]]]]:
    """Return of each part where a diagnosis suspects it, and for which codes."""
    found: dict[str, list[tuple[int, tuple[str, ...]]]] = {}
    for diagnosis in order.of("diagnosis"):
        for part in diagnosis.items("suspect_parts"):
            suspect = Event(diagnosis.index, part)
            codes = suspect.texts("codes") or diagnosis.texts("codes")
            found.setdefault(suspect.text("id"), []).append((diagnosis.index, codes))
    return found


@once
def _repairs_by_code(order: RepairOrder) -> Mapping[str, Sequence[Event]]:
    found: dict[str, list[Event]] = {}
    for event in order.of("repair"):
        if not is_beside(order, event):
            for code in dict.fromkeys(codes_of_repair(order, event)):
                found.setdefault(code, []).append(event)
    return found


def is_beside(order: RepairOrder, repair: Event) -> bool:
    """Return whether a repair is told and owes no test.

    What is renewed with a part that was worked on (seal, fluid, matched set) and a step
    such as a relearn are done for the part that they name. A suspect of another system
    than that part is no such thing of it, nor is one of which the repair's note does
    not say why it was renewed: it is a cause.
    """
    if _is_step(order, repair):
        return True
    with_part = repair.text("renewed_with")
    if with_part not in _parts(order):
        return False
    own, other = order.suspect(repair.text("part")), order.suspect(with_part)
    if own is None:
        return True
    is_told = says_something(repair.text("note"))
    return is_told and (other is None or own.system == other.system)


def _is_step(order: RepairOrder, repair: Event) -> bool:
    """Return whether a repair is a step: what is replaced or repaired is a part.

    A fluid is replaced in a step, too, unless a diagnosis suspects it itself.
    """
    step, is_work = repair.text("step"), repair.text("action") in _PART_WORK
    is_fluid = step == "fluid-service" and repair.text("part") not in _suspected(order)
    return bool(step) and (is_fluid or not is_work)


@once
def _parts(order: RepairOrder) -> frozenset[str]:
    """Return the parts that were worked on for themselves."""
    return frozenset(
        event.text("part")
        for event in order.of("repair")
        if not event.text("renewed_with") and not _is_step(order, event)
    )


def other_work(order: RepairOrder) -> tuple[Event, ...]:
    """Return the repairs that were for no fault: told, and not judged."""
    named = set(order.codes)
    return tuple(
        event
        for event in order.of("repair")
        if not is_beside(order, event)
        and not named.intersection(codes_of_repair(order, event))
    )


def reporters(readout: Readout, code: str) -> Iterator[str]:
    """Yield the responders that hold a code, of any kind, in a readout."""
    for found in readout.codes:
        if found.text == code:
            yield found.responder


def is_present(readout: Readout, code: str) -> bool:
    """Return whether a code is confirmed or pending in a readout, in any module."""
    return any(c.text == code for c in (*readout.confirmed, *readout.pending))


def _fault(order: RepairOrder, code: str) -> Fault:
    repairs = _repairs_by_code(order).get(code, ())
    attempts = tuple(_attempts(order, code, repairs))
    until = attempts[0].first if attempts else len(order.events)
    before = [readout_of(e) for e in order.before(until, "readout")]
    witnesses = dict.fromkeys(who for r in before for who in reporters(r, code))
    last = set(attempts[-1].repairs) if attempts else set()
    parts = dict.fromkeys(e.text("part") for e in repairs if e.index in last)
    return Fault(code, tuple(witnesses), tuple(parts), attempts, None)


def _attempts(
    order: RepairOrder, code: str, repairs: Iterable[Event]
) -> Iterator[Attempt]:
    current: list[int] = []
    for repair in repairs:
        last = current[-1] if current else repair.index
        seen = order.between(last, repair.index, "readout")
        if any(is_present(readout_of(event), code) for event in seen):
            yield Attempt(tuple(current))
            current = []
        current.append(repair.index)
    if current:
        yield Attempt(tuple(current))


def _set_aside(order: RepairOrder) -> Iterator[tuple[str, SetAside]]:
    for event in order.of("diagnosis"):
        for item in event.items("set_aside"):
            codes = item.get("codes")
            for code in codes if isinstance(codes, list) else ():
                if isinstance(code, str):
                    yield (
                        code,
                        SetAside(
                            str(item.get("reason", "")),
                            str(item.get("agreed_by", "")),
                            event.index,
                            str(item.get("note", "")),
                        ),
                    )
