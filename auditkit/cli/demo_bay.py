"""``demo --bay``: the invented shop's pages, with an order half done, to be tried.

The order is RO-1001 of the demo's week, as far as its diagnosis, as if it had been
begun an hour ago.
"""

from __future__ import annotations

import importlib
import json
import secrets
from datetime import datetime, timedelta
from importlib.resources import files
from typing import TYPE_CHECKING

from auditkit.cli import common
from auditkit.cli.bay import missing, serve_here
from auditkit.errors import InputError
from auditkit.log.ledger import Ledger
from auditkit.log.open_log import now
from auditkit.order.instruments import parse_register
from auditkit.order.policy import DEFAULT
from auditkit.plugin.loading import load_plugins
from auditkit.proof.role import Role

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from auditkit.text.values import Json

_ORDER = "RO-1001"
_LAST = "diagnosis"
_AGO = timedelta(hours=1)
_MANAGER = "mechanic-1"
_OTHERS = {"tech-a": Role.TECHNICIAN, "eyes-1": Role.ONLOOKER}
_TIMES = ("at", "captured")


def refuse_taken(port: int) -> None:
    """Raise InputError where another program listens at a port of this computer."""
    from auditkit.bay.addresses import LOOPBACK, listening

    with listening(LOOPBACK, port):
        pass


def serve_demo(folder: Path, port: int) -> None:
    """Begin the invented shop's log in a folder, and serve its bay until stopped.

    Raises InputError where a library of the bay is not installed, or the port is taken.
    """
    try:
        from auditkit.bay.serve import desk_of
        from auditkit.capture.interface import need_can, simulated_cables
    except ModuleNotFoundError as error:
        raise missing(error) from error
    word = "-".join(secrets.token_hex(2) for _ in range(3))
    log = folder / "shop.auditlog"
    _begin(log, word.encode())
    try:
        need_can()
        cables = list(simulated_cables())
    except InputError:
        cables = []  # without python-can the page reads files and pasted text
    with Ledger.open(log) as ledger:
        log_key = ledger.log_signer(word.encode())
    register = files("auditkit_demo") / "instruments.json"
    with desk_of(
        log,
        log_key=log_key,
        catalogue=load_plugins().catalogue,
        policy=DEFAULT,
        register=parse_register(register.read_bytes()),
        cables=cables,
    ) as desk:
        serve_here(
            desk,
            port,
            f"Sign in as tech-a, who records; {_MANAGER}, who manages; or eyes-1, who "
            f"looks. Passphrase of each, and of the log's key: {word}",
            f"{_ORDER} is half done: its suspect is named, and not tested yet.",
            *([_drive_takes_time()] if cables else []),
            f"The files are in {folder}; throw them away afterwards.",
        )
    common.say("The demo has stopped.")


def _drive_takes_time() -> str:
    vehicle = importlib.import_module("auditkit_demo.vehicle")
    return (
        "Its vehicle, read after its monitors ran, says that it ran for "
        f"{vehicle.MINUTES_DRIVEN} minutes and {vehicle.KM_DRIVEN} km since its codes "
        "were cleared: read sooner than that after the clear is recorded, it is not "
        "believed."
    )


def _begin(log: Path, word: bytes) -> None:
    """Write the shop's log: its people, and an order as far as its diagnosis."""
    events = list(_moved(now().astimezone() - _AGO))
    clock = {"now": datetime.fromisoformat(str(events[0]["at"]))}
    with Ledger.create(
        log,
        shop="Example Yard Garage (invented)",
        person=_MANAGER,
        passphrase=word,
        clock=lambda: clock["now"],
    ) as ledger:
        for person, role in _OTHERS.items():
            ledger.enrol(person, passphrase=word, role=role)
        for event in events:
            clock["now"] = datetime.fromisoformat(str(event["at"]))
            signer = ledger.signer(str(event["by"]), word)
            ledger.append(_ORDER, [event], person=str(event["by"]), signer=signer)


def _moved(begins: datetime) -> Iterator[dict[str, Json]]:
    """Yield the order's first events as if it had begun then, by tech-a's hand."""
    source = (files("auditkit_demo") / f"{_ORDER}.json").read_text("utf-8")
    events = json.loads(source)["events"]
    moved = begins - datetime.fromisoformat(events[0]["at"])
    for event in events:
        told = {
            name: (datetime.fromisoformat(event[name]) + moved)
            .astimezone(begins.tzinfo)
            .isoformat(timespec="seconds")
            for name in _TIMES
            if name in event
        }
        yield {**event, **told, "by": "tech-a"}
        if event["kind"] == _LAST:
            return
