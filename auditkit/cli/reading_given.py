"""A vehicle's answers as a file or a pipe gives them, as a readout's raw text."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from auditkit.cli import common
from auditkit.errors import InputError
from auditkit.obd import Readout, decode
from auditkit.obd.clock import tool_clock

if TYPE_CHECKING:
    from auditkit.order.events import Event
    from auditkit.text.values import Json

_LOGS = (".log", ".asc", ".blf", ".trc", ".csv", ".mf4", ".gz")
_SHORT, _LONG = 3, 8  # hex digits of an 11-bit and of a 29-bit CAN id
_PROTOCOLS = {
    _SHORT: "ISO 15765-4 CAN, 11 bit",
    _LONG: "ISO 15765-4 CAN, 29 bit",
}


def raw_text(path: Path) -> tuple[str, Readout]:
    """Return the raw text of a readout and what it says; ``-`` is standard input.

    A CAN log that is no text of answers is read as ``capture --from-log`` reads it.
    Raises InputError where no vehicle answers in it.
    """
    if str(path) == "-":
        text, where = sys.stdin.read(), "standard input"
        found = decode(text)
    else:
        where = str(path)
        data = common.read(path)
        text = _text(data, path)
        found = decode(text)
        if not found.responders and path.suffix.lower() in _LOGS:
            from auditkit.capture.logfile import read_log

            text = read_log(data, path.name).text
            found = decode(text)
    if not found.responders:
        raise InputError(
            "no whole answer of a vehicle is in it",
            where=where,
            what_to_do="give the raw text of a readout, as 'auditkit capture' writes "
            "it, or a CAN log",
        )
    return text, found


def _text(data: bytes, path: Path) -> str:
    try:
        return data.decode()
    except UnicodeDecodeError as error:
        if path.suffix.lower() in _LOGS:
            return ""
        raise InputError(
            f"this is not text: byte {error.start} is not UTF-8",
            where=str(path),
            what_to_do="name a text file, saved as UTF-8, or a CAN log",
        ) from error


def protocol_of(found: Readout) -> str:
    """Return the protocol that the responders' ids show; empty where they show none."""
    lengths = {len(who) for who in found.responders}
    return _PROTOCOLS.get(lengths.pop(), "") if len(lengths) == 1 else ""


def readout_known(
    path: Path,
    at: str,
    said: Mapping[str, str | None],
    before: Event | None,
) -> tuple[dict[str, Json], Readout, list[str]]:
    """Return the members of a readout from its file, what it says, and what was taken.

    ``said`` may give captured, tool and protocol; ``before`` is the last readout of the
    order, whose tool and protocol are taken where nothing else says them. The time is
    the text's own clock where that has a day, else ``at``.
    """
    text, found = raw_text(path)
    told: list[str] = []
    captured = said["captured"]
    if captured is None:
        clock = tool_clock(text, datetime.fromisoformat(at))
        captured = at
        if clock is not None and clock.is_dated:
            captured = clock.at.isoformat(timespec="seconds")
            told.append(f"Captured {captured}: by the clock in the text itself")
    tool = said["tool"] or (before.text("tool") if before else "")
    if not tool:
        raise InputError(
            "nothing says what it was read with",
            where="--tool",
            what_to_do="name the tool or adapter in a few words",
        )
    protocol = said["protocol"] or protocol_of(found)
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
    return known, found, told
