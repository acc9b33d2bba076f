"""A packet that verified and was judged, as rows of a collection's tables. Pure.

No row has an id yet: those are given by the one who writes the collection.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditkit.fleet.rows.bench_rows import bench_rows, instrument_rows
from auditkit.fleet.rows.fault_rows import answer_rows, fault_rows, part_rows
from auditkit.fleet.rows.log_rows import event_rows, log_row, person_rows
from auditkit.fleet.rows.readout_rows import readout_rows, self_test_rows
from auditkit.fleet.rows.values import Cell, Row, metres, moment, offset_min, whole
from auditkit.obd import vin as vins
from auditkit.obd.fingerprint import fingerprint
from auditkit.order.findings import Verdict
from auditkit.order.questions import Question, State
from auditkit.order.strength import weakest
from auditkit.proof.disclosure import digest
from auditkit.proof.fork import Span, known_spans
from auditkit.reader.steps import own_steps, steps_of
from auditkit.text.base64url import decode64
from auditkit.text.values import quantity

if TYPE_CHECKING:
    from auditkit.order.events import RepairOrder
    from auditkit.proof.check_report import CheckReport
    from auditkit.proof.note import Checkpoint
    from auditkit.proof.packet import Packet
    from auditkit.reader.judge_again import JudgedOrder
    from auditkit.reader.steps import Step
    from auditkit.text.values import Json

OF_ORDER = (
    "fault",
    "answer",
    "part",
    "bench_reading",
    "instrument",
    "self_test",
    "readout",
)
"""The tables whose rows hang on one repair order."""
_SPACING = re.compile(r"[\s-]")
_PRIVATE = {"vehicle": ("plate",), "customer": ("name", "contact")}


@dataclass(frozen=True, slots=True)
class PacketRows:
    """The rows of one packet.

    ``origin`` and ``key_id`` name its log, ``order_no`` its order, ``vin`` its vehicle
    as far as it is told. ``own_seqs`` are the entries of the order, ``disclosed`` the
    digests of what it discloses. ``last_recorded`` is when its last entry says that it
    was recorded. ``spans`` are the hashes of the stretches of the log that it names.
    ``private`` are the names, plates and ways to reach a customer that it discloses.
    """

    origin: str
    key_id: str
    order_no: str
    vin: str | None
    own_seqs: tuple[int, ...]
    disclosed: tuple[bytes, ...]
    checkpoint_size: int
    checkpoint_root: bytes
    log: Row
    packet: Row
    order: Row
    of_order: Mapping[str, tuple[Row, ...]]
    people: tuple[Row, ...]
    events: tuple[Row, ...]
    spans: Mapping[Span, bytes]
    private: tuple[str, ...] = ()


def packet_rows(
    packet: Packet, checkpoint: Checkpoint, report: CheckReport, judged: JudgedOrder
) -> PacketRows:
    """Return the rows of a packet that verified, with its report and its judgement."""
    steps = steps_of(packet, report.payloads)
    own = [s for s in own_steps(steps) if s.event.kind != "verdict"]
    seqs = [step.payload.seq for step in own]
    order, kinds = judged.order, judged.judgement.catalogue.bench_tests
    vehicle = _vehicle(order, own)
    recorded = [moment(step.payload.recorded_at) for step in steps]
    written = [moment(step.payload.recorded_at) for step in own]
    vin = vehicle.get("vin")
    return PacketRows(
        origin=checkpoint.origin,
        key_id=report.log_key,
        order_no=packet.repair_order,
        vin=vin if isinstance(vin, str) else None,
        own_seqs=tuple(step.payload.seq for step in own_steps(steps)),
        disclosed=tuple(decode64(digest(text)) for _, text in packet.disclosures),
        checkpoint_size=checkpoint.size,
        checkpoint_root=checkpoint.root,
        log=log_row(steps),
        packet={
            "entries": len(packet.entries),
            "withheld": sum(len(step.hidden) for step in steps),
            "last_recorded": max((at for at in recorded if at), default=None),
        },
        order={**vehicle, **_times(order, steps), **_judged(judged)},
        of_order={
            "fault": tuple(fault_rows(order, judged.judgement, written)),
            "answer": tuple(answer_rows(judged.judgement)),
            "part": tuple(part_rows(order, kinds)),
            "bench_reading": tuple(bench_rows(order, seqs, kinds)),
            "instrument": tuple(instrument_rows(order)),
            "self_test": tuple(self_test_rows(order, seqs)),
            "readout": tuple(readout_rows(order, seqs)),
        },
        people=tuple(person_rows(steps)),
        events=tuple(event_rows(packet, steps)),
        spans=known_spans(packet, report.payloads),
        private=tuple(_private(own)),
    )


def _vehicle(order: RepairOrder, own: Sequence[Step]) -> dict[str, Cell]:
    """Return what the order says of its vehicle.

    Its VIN is the one that was typed; where the vehicle itself only ever said another,
    that one: a slip of the pen would else make two vehicles of one.
    """
    opening = order.opening
    said = opening.object("vehicle") if opening else {}
    read = [v for e in order.of("readout") for v in fingerprint(e.text("raw")).vins]
    shown = [str(e.object("typed").get("vin") or "") for e in order.of("readout")]
    typed, what = said.get("vin"), said.get("description")
    first = _SPACING.sub("", typed).upper() if isinstance(typed, str) else ""
    if len(set(read)) == 1 and first not in read:
        first = read[0]
    vin = next(filter(None, (first, *read, *shown)), None)
    odometer = quantity(said.get("odometer"))
    return {
        "vin": vin,
        "vin_state": "given" if vin else _state(own, "vehicle.vin"),
        "vin_is_from_vehicle": None if vin is None else vin in read,
        "make": vin[:3] if vin else None,
        "model": what if isinstance(what, str) else None,
        "model_year": _model_year(vin, said),
        "odometer_m": metres(odometer.text, odometer.unit) if odometer else None,
        "odometer_text": str(odometer) if odometer else None,
    }


def _model_year(vin: str | None, said: Mapping[str, Json]) -> int | None:
    """Return what the VIN tells of it where its check digit holds, else what was typed.

    Shops are held against others by the age of their work: it is not theirs to say.
    """
    told = vins.model_year(vin) if vin and vins.has_check_digit(vin) else None
    return told or whole(said.get("model_year"))


def _state(own: Sequence[Step], path: str) -> str:
    """Return why the opening does not say something: withheld, erased, or absent."""
    openings = [step for step in own if step.event.kind == "opening"]
    if any(path == erased for step in openings for erased, _ in step.erased):
        return "erased"
    return "withheld" if any(path in s.hidden for s in openings) else "absent"


def _times(order: RepairOrder, steps: Sequence[Step]) -> dict[str, Cell]:
    opening = order.opening
    opened = opening.text("at") if opening else ""
    repairs = [at for e in order.of("repair") if (at := moment(e.text("at")))]
    closed = [s.event.text("at") for s in own_steps(steps) if s.event.kind == "verdict"]
    return {
        "opened_at": moment(opened),
        "offset_min": offset_min(opened),
        "first_repair_at": min(repairs, default=None),
        "last_repair_at": max(repairs, default=None),
        "closed_at": moment(closed[-1]) if closed else None,
    }


def _judged(judged: JudgedOrder) -> dict[str, Cell]:
    """Return what was judged here, and what the shop signed."""
    judgement, signed = judged.judgement, judged.here.signed
    shown = [
        answer.strength
        for answer in judgement.answers
        if answer.state is State.SHOWN
        and answer.strength is not None
        and answer.question != Question.HAZARDS_MET  # a word by nature
    ]
    return {
        "verdict": str(judgement.verdict),
        "signed_verdict": signed if signed in set(Verdict) else None,
        "is_overstated": not judged.here.agrees,
        "is_waiting": judgement.is_waiting,
        "weakest": str(weakest(shown)) if shown else None,
    }


def _private(own: Sequence[Step]) -> Iterator[str]:
    """Yield the names, plates and ways to reach a customer that entries disclose."""
    for step in own:
        for event in (step.event.data, step.event.object("event")):
            for name, members in _PRIVATE.items():
                said = event.get(name)
                for member in members if isinstance(said, dict) else ():
                    value = said.get(member) if isinstance(said, dict) else None
                    if isinstance(value, str) and value.strip():
                        yield value
