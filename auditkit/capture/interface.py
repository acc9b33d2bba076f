"""A CAN interface, or the demo's invented vehicle, opened to be read."""

from __future__ import annotations

import importlib
import itertools
import logging
import os
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from auditkit.errors import InputError

if TYPE_CHECKING:
    from auditkit.capture.session import Bus

BITRATE = 500_000
"""Bits a second; OBD on CAN uses 500000 or 250000 (ISO 15765-4)."""
HINT = "check --interface, --channel and --bitrate, the cable, and the ignition"
CAUTION = (
    "Before reading: vehicle stationary and secured, ignition on, as the maker's "
    "procedure says."
)
STATES = {
    "before": "before its repair",
    "cleared": "after its codes were cleared",
    "after": "after its monitors ran",
}
"""States of the invented vehicle, in words."""
_numbers = itertools.count()


@dataclass(frozen=True, slots=True)
class Cable:
    """A way to a vehicle: what it is called, and how it is opened.

    ``extended``: ids of 29 bits are used. ``open`` raises InputError where that fails.
    An invented vehicle says that its engine ran for ``minutes`` since a clear.
    """

    name: str
    open: Callable[[], AbstractContextManager[Bus]]
    extended: bool = False
    minutes: int = 0


def cable_of(named: str, bitrate: int = BITRATE, *, extended: bool = False) -> Cable:
    """Return the cable that is named INTERFACE:CHANNEL, as ``socketcan:can0``.

    Raises InputError where that is not such a name.
    """
    kind, _, channel = named.partition(":")
    if not kind or not channel:
        raise InputError(
            f"{named!r} names no CAN interface with its channel",
            what_to_do="write both, such as socketcan:can0",
        )
    return Cable(named, lambda: opened(kind, channel, bitrate), extended)


def simulated_cables() -> tuple[Cable, ...]:
    """Return the invented vehicle in each of its states."""
    driven = importlib.import_module("auditkit_demo.vehicle").MINUTES_DRIVEN
    return tuple(
        Cable(
            f"the invented vehicle, {words}",
            partial(simulated, state),
            minutes=driven if state == "after" else 0,
        )
        for state, words in STATES.items()
    )


def need_can() -> None:
    """Raise InputError where python-can is not installed."""
    try:
        importlib.import_module("can")
    except ImportError as error:
        raise InputError(
            "reading a vehicle needs python-can",
            what_to_do="in the project's folder: pip install '.[can]'",
        ) from error
    logging.getLogger("can").setLevel(logging.CRITICAL)


@contextmanager
def opened(kind: str, channel: str | None, bitrate: int) -> Iterator[Bus]:
    """Open an interface by python-can's name of its kind, for OBD's ids alone."""
    need_can()
    import can

    wanted = [
        {"can_id": 0x7E8, "can_mask": 0x7F8, "extended": False},
        {"can_id": 0x7DF, "can_mask": 0x7FF, "extended": False},
        {"can_id": 0x18DAF100, "can_mask": 0x1FFFFF00, "extended": True},
        {"can_id": 0x18DB33F1, "can_mask": 0x1FFFFFFF, "extended": True},
    ]
    try:
        bus = can.Bus(
            channel=channel,
            interface=kind,
            bitrate=bitrate,
            can_filters=wanted,
            ignore_config=True,
        )
    except Exception as error:
        # Each interface has a driver of its own, which raises what it likes.
        raise InputError(
            f"the interface could not be opened: {error}", what_to_do=HINT
        ) from error
    with bus:
        yield bus


@contextmanager
def simulated(state: str, *, extended: bool = False) -> Iterator[Bus]:
    """Open a bus to the invented vehicle of the demo, in one of its ``STATES``."""
    need_can()
    import can

    demo = importlib.import_module("auditkit_demo.simulation")
    vehicle = importlib.import_module("auditkit_demo.vehicle")
    channel = f"auditkit-{os.getpid()}-{next(_numbers)}"
    simulation = demo.Simulation(list(vehicle.modules(state)), extended=extended)
    with (
        demo.SimulatedVehicle(channel, simulation),
        can.Bus(interface="virtual", channel=channel) as bus,
    ):
        yield bus
