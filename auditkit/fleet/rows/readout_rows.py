"""The readouts of an order and the self-tests in them, as rows. Pure."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from auditkit.fleet.rows.values import Cell, Row, finite, moment, number
from auditkit.obd import isotp
from auditkit.order.self_test_evidence import readout_of, typed_result
from auditkit.order.typed_readout import typed_tests
from auditkit.text.values import Json, quantity

if TYPE_CHECKING:
    from decimal import Decimal

    from auditkit.obd import Readout
    from auditkit.order.events import Event, RepairOrder

# Service and id of answers that mark this vehicle or this moment (SAE J1979, ISO
# 14229-1, from memory): VIN, calibrations, counters; distances, times, odometer.
_MARKS = tuple(
    bytes.fromhex(text)
    for text in (
        *("4902", "4904", "4906", "4908", "490a", "490b", "490d"),
        *("62f190", "62f802", "62f804", "62f806"),
        *("411f", "4121", "4130", "4131", "414d", "414e", "41a6"),
    )
)
# Minutes with the lamp on, and since a clear: they stand still where nothing runs.
_MINUTES = (b"\x41\x4d", b"\x41\x4e")
_FILLERS = frozenset({0x00, 0x55, 0xAA, 0xFF})


def readout_rows(order: RepairOrder, seqs: Sequence[int]) -> Iterator[Row]:
    """Yield a row for each readout; ``seqs`` are the entries of the order's events."""
    for event in order.of("readout"):
        found, raw = readout_of(event), event.text("raw")
        row: dict[str, Cell] = {
            "seq": seqs[event.index],
            "captured": moment(event.text("captured")),
            "tool": event.text("tool") or None,
            "protocol": event.text("protocol") or None,
            "is_typed": not raw,
            "vin_read": found.vin,
        }
        if raw:
            row["answered_sha256"] = bytes.fromhex(event.said)
            row |= _less_marks(raw)
        yield row


def _less_marks(raw: str) -> dict[str, Cell]:
    """Return the digest of what neither marks the vehicle nor the moment.

    ``minutes`` are its running times as they were sent, if any is not zero;
    ``varying_bits`` is at most what that holds: eight for each byte that is no filler
    and has not come before in the same answer.
    """
    answers, _ = isotp.messages_in(raw)
    kept = [m for m in answers if not m.data.startswith(_MARKS)]
    lines = sorted({f"{m.responder} {m.data.hex()}" for m in kept})
    bits = sum(8 * len(set(m.data[2:]) - _FILLERS) for m in kept)
    digest = hashlib.sha256("\n".join(lines).encode(errors="surrogatepass")).digest()
    ran = {f"{m.responder} {m.data.hex()}" for m in answers if _has_run(m.data)}
    return {
        "less_marks_sha256": digest,
        "varying_bits": float(bits),
        "minutes": "; ".join(sorted(ran)) or None,
    }


def _has_run(data: bytes) -> bool:
    return data.startswith(_MINUTES) and any(data[2:])


def self_test_rows(order: RepairOrder, seqs: Sequence[int]) -> Iterator[Row]:
    """Yield a row for each result of the vehicle's own self-tests, read or typed."""
    for event in order.of("readout"):
        seq = seqs[event.index]
        yield from ({"seq": seq, **row} for row in _read(readout_of(event)))
        yield from ({"seq": seq, **_typed(test)} for test in typed_tests(event))
    for event in order.of("self_test"):
        yield {"seq": seqs[event.index], **_typed(event)}


def _read(readout: Readout) -> Iterator[Row]:
    for test in readout.self_tests:
        yield {
            "module": test.responder,
            "monitor": test.mid,
            "test": test.tid,
            "value": _float(test.value),
            "low": _float(test.minimum) if test.has_minimum else None,
            "high": _float(test.maximum) if test.has_maximum else None,
            "unit": test.unit,
            "outcome": str(test.outcome),
            "is_typed": False,
        }


def _typed(event: Event) -> Row:
    value = quantity(event.data.get("value"))
    return {
        "module": event.text("module"),
        "monitor": event.text("mid") or event.text("monitor"),
        "test": event.text("tid"),
        "value": _number(event.data.get("value")),
        "low": _number(event.data.get("minimum")),
        "high": _number(event.data.get("maximum")),
        "unit": value.unit if value else None,
        "outcome": typed_result(event) or None,
        "is_typed": True,
    }


def _float(value: Decimal | None) -> float | None:
    return None if value is None else finite(float(value))


def _number(value: Json) -> float | None:
    found = quantity(value)
    return None if found is None else number(found.text)
