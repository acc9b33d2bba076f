"""A process that is a bay without pages: it records forms and tells each answer.

Forked from a process that has imported auditkit already, as ``appending`` does it.
"""

from __future__ import annotations

from multiprocessing.connection import Connection
from pathlib import Path

from appending import _FORKING, Appending

from auditkit.bay.one_step import Form, Hands
from auditkit.bay.writer import LogWriter
from auditkit.log.ledger import Ledger
from auditkit.plugin.loading import load_catalogue

AT = {"at": "2026-03-02T09:00:00+01:00", "by": "mechanic-1"}
OPENING = {
    "kind": "opening",
    **AT,
    "shop": "Example Yard Garage",
    "vehicle": {
        "vin": "0ZZTB1A18CA000123",
        "model_year": 2012,
        "ignition": "spark",
        "odometer": {"value": "120345", "unit": "km"},
        "description": "delivery van (invented)",
    },
    "customer": {"name": "Customer One (invented)", "contact": "none"},
    "complaint": "lamp on",
}


def form(number: int) -> Form:
    """Return the form of a number: 0 opens the order, others clear codes."""
    event = (
        OPENING if number == 0 else {"kind": "code_clear", **AT, "tool": f"{number}"}
    )
    return Form(f"form-{number}", [event])


def hands(path: Path, passphrase: bytes) -> Hands:
    """Return who records: the first person of a log, without any rule."""
    with Ledger.open(path) as ledger:
        return Hands(
            person="mechanic-1",
            signer=ledger.signer("mechanic-1", passphrase),
            log_key=ledger.log_signer(passphrase),
            catalogue=load_catalogue({}),
        )


def _record(path: Path, passphrase: bytes, first: int, told: Connection) -> None:
    who = hands(path, passphrase)
    with LogWriter(path, who.log_key) as writer:
        told.send("ready")
        for number in range(first, first + 1000):
            sent = [writer.take("RO-1", form(number), who) for _ in range(2)]
            for answer in sent:
                told.send((number, answer.result().seqs))


def bay_writing(path: Path, passphrase: bytes, first: int) -> Appending:
    """Start a process that sends each form from ``first`` on, twice at once."""
    told, tell = _FORKING.Pipe(duplex=False)
    process = _FORKING.Process(target=_record, args=(path, passphrase, first, tell))
    process.start()
    tell.close()
    return Appending(process, told)
