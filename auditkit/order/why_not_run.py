"""Why a monitor has not run: which conditions are met, which not. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING

from auditkit.obd import decode, enabling
from auditkit.obd.monitors import SINCE_CLEAR, this_cycle
from auditkit.order.events import Event, RepairOrder
from auditkit.order.self_test_evidence import readout_of
from auditkit.text.values import quantity

if TYPE_CHECKING:
    from auditkit.obd import Readout
    from auditkit.obd.enabling import Requirement


@dataclass(frozen=True, slots=True)
class Waiting:
    """One monitor that is not complete, and what published texts ask for.

    ``cycle`` is what PID 41 says of the present driving cycle, empty if not read.
    """

    monitor: str
    responders: tuple[str, ...]
    cycle: str
    requirements: tuple[Requirement, ...]


@dataclass(frozen=True, slots=True)
class WhyNotRun:
    """All waiting monitors, and the quantities that are known.

    ``is_typed`` says that a person typed the monitors from a display.
    """

    waiting: tuple[Waiting, ...]
    values: Mapping[str, Decimal]
    read: bool
    is_typed: bool = False

    def to_json(self) -> dict[str, object]:
        """Return the reasons as ``why-not-run --format json`` prints them."""
        return {
            "read": self.read,
            "typed": self.is_typed,
            "known": {name: f"{value:f}" for name, value in self.values.items()},
            "waiting": [
                {
                    "monitor": w.monitor,
                    "responders": list(w.responders),
                    "this_cycle": w.cycle,
                    "requirements": [
                        {
                            "name": r.name,
                            "source": r.source,
                            "known": r.known,
                            "drive": r.drive,
                            "conditions": [
                                {"condition": c.text, "met": c.met(self.values)}
                                for c in r.conditions
                            ],
                        }
                        for r in w.requirements
                    ],
                }
                for w in self.waiting
            ],
            "note": enabling.DEFERS,
        }


def reasons_of(readout: Readout, driven: Mapping[str, Decimal]) -> WhyNotRun:
    """Return why monitors of a readout are not complete.

    ``driven`` holds what a road test recorded; it counts before what the readout says.
    """
    values = enabling.with_difference({**enabling.values_of(readout), **driven})
    found: dict[str, list[str]] = {}
    cycle: dict[str, str] = {}
    today = this_cycle(readout.monitors)
    for one in readout.monitors:
        if one.cycle == SINCE_CLEAR and one.supported and not one.complete:
            found.setdefault(one.monitor, []).append(one.responder)
            now = today.get((one.responder, one.monitor))
            if now is not None and not now.supported:
                cycle[one.monitor] = (
                    "disabled for the rest of this driving cycle: driving on does not "
                    "run it"
                )
            elif now is not None:
                cycle.setdefault(one.monitor, "enabled: it can still run in this cycle")
    return WhyNotRun(
        tuple(
            Waiting(name, tuple(who), cycle.get(name, ""), enabling.requirements(name))
            for name, who in found.items()
        ),
        values,
        any(m.cycle == SINCE_CLEAR for m in readout.monitors),
    )


def reasons_of_order(order: RepairOrder) -> WhyNotRun:
    """Return the reasons from the last readout and the last road test of an order."""
    readouts, drives = order.of("readout"), order.of("road_test")
    last = readout_of(readouts[-1]) if readouts else decode("")
    found = reasons_of(last, driven_conditions(drives[-1]) if drives else {})
    return replace(found, is_typed=bool(readouts) and not readouts[-1].text("raw"))


_TO = {
    "degC": (Decimal(1), Decimal(0)),
    "degF": (Decimal(5) / Decimal(9), Decimal(-160) / Decimal(9)),
    "%": (Decimal(1), Decimal(0)),
    "h": (Decimal(1), Decimal(0)),
    "m": (Decimal(1), Decimal(0)),
    "ft": (Decimal("0.3048"), Decimal(0)),
    "s": (Decimal(1), Decimal(0)),
    "min": (Decimal(60), Decimal(0)),
}
"""Unit of a road test -> factor and offset to degC, %, h, m or s (NIST SP 811)."""


def driven_conditions(event: Event) -> dict[str, Decimal]:
    """Return the conditions that a road test recorded, in the units of ``enabling``."""
    found: dict[str, Decimal] = {}
    for name, value in event.object("enabling").items():
        read = quantity(value)
        if read is not None and read.unit in _TO:
            factor, offset = _TO[read.unit]
            found[name] = (read.value * factor + offset).quantize(Decimal("0.1"))
    return found
