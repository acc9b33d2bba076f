"""A vehicle's answers in a file, as a readout of an order has them.

Pure, but for CAN logs, which ``auditkit.capture`` reads.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from pathlib import PurePath
from typing import TYPE_CHECKING

from auditkit.errors import DecodeError, InputError
from auditkit.obd import Readout, decode
from auditkit.obd.clock import tool_clock
from auditkit.obd.decoding import LIMIT
from auditkit.obd.monitors import COMPRESSION_ONLY, SPARK_ONLY
from auditkit.obd.parameters import ODOMETER

if TYPE_CHECKING:
    from auditkit.order.events import Event
    from auditkit.text.values import Json

_LOGS = (".log", ".asc", ".blf", ".trc", ".csv", ".mf4", ".gz")
_SHORT, _LONG = 3, 8  # hex digits of an 11-bit and of a 29-bit CAN id
_PROTOCOLS = {
    _SHORT: "ISO 15765-4 CAN, 11 bit",
    _LONG: "ISO 15765-4 CAN, 29 bit",
}


def raw_text(data: bytes, name: str) -> tuple[str, Readout]:
    """Return the raw text of a readout and what it says; ``name`` is the file's.

    A CAN log that is no text of answers is read as ``capture --from-log`` reads it.
    Raises InputError where no vehicle answers in it, or too much.
    """
    is_log = PurePath(name).suffix.lower() in _LOGS
    text = _text(data, name, is_log=is_log)
    if is_log and (len(data) > LIMIT or not decode(text).responders):
        from auditkit.capture.logfile import read_log

        text = read_log(data, PurePath(name).name).text
    try:
        found = decode(text)
    except DecodeError as error:
        raise InputError(
            error.message, where=name, what_to_do=error.what_to_do
        ) from error
    if not found.responders:
        raise InputError(
            "no whole answer of a vehicle is in it",
            where=name,
            what_to_do="give the raw text of a readout, as 'auditkit capture' writes "
            "it, or a CAN log",
        )
    return text, found


def _text(data: bytes, name: str, *, is_log: bool) -> str:
    try:
        return data.decode()
    except UnicodeDecodeError as error:
        if is_log:
            return ""
        raise InputError(
            f"this is not text: byte {error.start} is not UTF-8",
            where=name,
            what_to_do="name a text file, saved as UTF-8, or a CAN log",
        ) from error


def protocol_of(found: Readout) -> str:
    """Return the protocol that the responders' ids show; empty where they show none."""
    lengths = {len(who) for who in found.responders}
    return _PROTOCOLS.get(lengths.pop(), "") if len(lengths) == 1 else ""


def tool_of(said: str | None, before: Event | None = None) -> str:
    """Return what a readout was read with; InputError where nothing says it."""
    tool = said or (before.text("tool") if before else "")
    if not tool:
        raise InputError(
            "nothing says what it was read with",
            where="--tool",
            what_to_do="name the tool or adapter in a few words",
        )
    return tool


def readout_members(
    text: str,
    found: Readout,
    at: str,
    said: Mapping[str, str | None],
    before: Event | None,
) -> tuple[dict[str, Json], list[str]]:
    """Return the members of a readout of a raw text, and what of it was taken.

    ``said`` may give captured, tool and protocol; ``before`` is the last readout of the
    order, whose tool and protocol are taken where nothing else says them. The time is
    the text's own clock where that has a day, else ``at``. Raises InputError where
    nothing says the tool or the protocol.
    """
    told: list[str] = []
    captured = said.get("captured")
    if captured is None:
        clock = tool_clock(text, datetime.fromisoformat(at))
        captured = at
        if clock is not None and clock.is_dated:
            captured = clock.at.isoformat(timespec="seconds")
            told.append(f"Captured {captured}: by the clock in the text itself")
    tool = tool_of(said.get("tool"), before)
    protocol = said.get("protocol") or protocol_of(found)
    protocol = protocol or (before.text("protocol") if before else "")
    if not protocol:
        raise InputError(
            "nothing says by which protocol it was read",
            where="--protocol",
            what_to_do="write it, such as 'ISO 14230-4'",
        )
    known: dict[str, Json] = {
        "captured": captured,
        "tool": tool,
        "protocol": protocol,
        "raw": text,
    }
    return known, told


def of_vehicle(found: Readout) -> Iterator[tuple[str, Json, str]]:
    """Yield what a readout says of the vehicle: member, value, and how it is told."""
    if found.vin is not None:
        yield "vehicle.vin", found.vin, f"VIN {found.vin}: from the readout"
    km = found.value(ODOMETER)
    if km is not None:
        value: Json = {"value": f"{km:f}", "unit": "km"}
        yield "vehicle.odometer", value, f"Odometer {km:f} km: from the readout (A6)"
    if ignition := _ignition(found):
        yield "vehicle.ignition", ignition, f"Ignition {ignition}: from the readout"


def _ignition(found: Readout) -> str:
    """Return the ignition that the supported monitors are of; empty where none say."""
    names = {m.monitor for m in found.monitors if m.supported}
    if names & COMPRESSION_ONLY:
        return "compression"
    return "spark" if names & SPARK_ONLY else ""
