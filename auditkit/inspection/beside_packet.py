"""What a vehicle says today, held against what the shop read at the hand-over. Pure.

A station has the vehicle, and perhaps the repair's packet. Is it that vehicle, is a
repaired fault back, did its counts go on, or was it cleared in between? Nothing here
decides an inspection, and no line accuses anybody.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditkit.inspection.codes_again import Repaired, codes_again
from auditkit.inspection.counts_since import cleared_since, counts_since
from auditkit.inspection.same_vehicle import same_vehicle
from auditkit.inspection.standing import SaidBeside, Standing
from auditkit.obd import Readout
from auditkit.obd.fingerprint import fingerprint

if TYPE_CHECKING:
    from auditkit.proof.check_report import JudgedHere

_ORDER = tuple(Standing)
_READ = "read the vehicle yourself, now, with its engine running"


@dataclass(frozen=True, slots=True)
class HandOver:
    """What the shop read last, and for which codes it repaired.

    ``vin`` is what the repair order says. ``texts`` are the order's readouts that are
    not typed, each with its place in words. ``is_typed`` says that this one was typed,
    and ``is_after`` is false where the shop read nothing after the repair. ``judged``
    is what the packet's evidence says here; None for a repair record: nobody signed it.
    """

    repair_order: str
    place: str
    readout: Readout
    repaired: tuple[Repaired, ...]
    vin: str | None = None
    texts: tuple[tuple[str, str], ...] = ()
    is_after: bool = True
    is_typed: bool = False
    judged: JudgedHere | None = None


@dataclass(frozen=True, slots=True)
class BesidePacket:
    """What a station reads today beside a repair's packet: the gravest line answers."""

    hand_over: HandOver
    lines: tuple[SaidBeside, ...]

    @property
    def answer(self) -> Standing:
        """The answer: what the gravest line says."""
        given = {line.standing for line in self.lines}
        return next(one for one in _ORDER if one in given)

    def to_json(self) -> dict[str, object]:
        """Return it as ``readiness --format json`` prints it."""
        judged = self.hand_over.judged
        return {
            "repair_order": self.hand_over.repair_order,
            "verdict": None if judged is None else judged.verdict,
            "signed_verdict": None if judged is None else judged.signed,
            "hand_over": self.hand_over.place,
            "repaired": [code for code, _ in self.hand_over.repaired],
            "answer": self.answer.value,
            "lines": [
                {
                    "answer": line.standing.value,
                    "text": line.text,
                    "what_to_do": line.what_to_do,
                }
                for line in self.lines
            ],
        }


def beside_packet(
    then: HandOver, now: Readout, *, raw: str = "", is_typed: bool = False
) -> BesidePacket:
    """Return how today's readout stands to what the shop read at the hand-over.

    ``raw`` is today's text; ``is_typed`` says that it was typed off a display. Where it
    equals a readout that the shop took before the hand-over, it speaks for nothing, and
    a fault that it reports is a question alone.
    """
    typed = is_typed or then.is_typed
    lines = [*same_vehicle(then.readout, now, then.vin, is_typed=typed)]
    if not any(line.standing is Standing.OTHER_VEHICLE for line in lines):
        if (older := _older_readout(then, raw)) is not None:
            lines = [older, *_were_it_of_today(then, now, is_typed=is_typed)]
        else:
            lines += _about_the_repair(then, now, raw=raw, is_typed=is_typed)
    ordered = sorted(lines, key=lambda line: _ORDER.index(line.standing))
    return BesidePacket(then, tuple(ordered))


def _about_the_repair(
    then: HandOver, now: Readout, *, raw: str, is_typed: bool
) -> Iterator[SaidBeside]:
    yield from _copied(then, raw)
    if not then.is_after:
        yield SaidBeside(
            Standing.UNDECIDED,
            "the shop read nothing after the repair: this is held against what it read "
            "last before it",
            "ask the shop for a readout after the repair",
        )
    if not then.repaired:
        yield SaidBeside(
            Standing.UNDECIDED,
            "the packet tells of no fault code for which a part was worked on",
            "ask the shop what was repaired",
        )
    cleared = list(cleared_since(then.readout, now))
    yield from cleared
    yield from _codes(then, now, is_typed=is_typed)
    yield from counts_since(then.readout, now, is_cleared=bool(cleared))


def _codes(then: HandOver, now: Readout, *, is_typed: bool) -> Iterator[SaidBeside]:
    repaired = then.repaired
    if is_typed or then.is_typed:  # a display's name of a module is not its id
        repaired = tuple(
            (code, tuple(who for who in witnesses if who in now.responders))
            for code, witnesses in repaired
        )
    yield from codes_again(repaired, then.readout, now, is_typed=is_typed)


def _were_it_of_today(
    then: HandOver, now: Readout, *, is_typed: bool
) -> Iterator[SaidBeside]:
    """Yield what a file that may be an older readout would say against the repair.

    What the shop wrote after it may be what is not of the vehicle.
    """
    said = _codes(then, now, is_typed=is_typed)
    if back := [line.text for line in said if line.standing is Standing.BACK]:
        text = f"if it is of today all the same, it says: {'; '.join(back)}"
        yield SaidBeside(Standing.ASK, text, _READ)


def _older_readout(then: HandOver, raw: str) -> SaidBeside | None:
    """Return the line of a readout that the shop took before the hand-over, or None.

    Without live values a short readout may honestly be that of two moments.
    """
    now = fingerprint(raw)
    same = [place for place, text in then.texts if fingerprint(text).said == now.said]
    if not raw or not now.live or not same or then.place in same:
        return None
    return SaidBeside(
        Standing.COPIED,
        f"every answer, live values and counts too, is that of the shop's {same[0]}: "
        "today's file is that readout, from before the hand-over, and says nothing for "
        "or against the repair, or nothing ran since it was read",
        _READ,
    )


def _copied(then: HandOver, raw: str) -> Iterator[SaidBeside]:
    """Yield that today's answers, or its live values, are those of the shop's."""
    now = fingerprint(raw)
    for place, text in then.texts if raw else ():
        was = fingerprint(text)
        if was.said == now.said:
            standing, what = Standing.COPIED, "every answer"
        elif now.live and was.live == now.live:
            standing, what = Standing.ASK, "every live and counting value"
        else:
            continue
        why = "nothing ran since, or today's file is that readout once more"
        if place != then.place:  # codes, counts and tests are then those of that day
            why = (
                "today's file may be that readout once more, from before the "
                "hand-over: then nothing here is of today"
            )
        said = f"{what} is that of the shop's {place}: {why}"
        yield SaidBeside(standing, said, _READ)
