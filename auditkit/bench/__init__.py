"""Bench tests: readings -> results with their uncertainty, held against a limit.

``TestKind.evaluate`` takes a ``BenchInput`` and returns a ``BenchResult``: *faulty*,
*good*, *inconclusive* or *not-valid*. No I/O. A limit always comes from outside, with
its source; none is built in.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from auditkit.bench.decision import BenchOutcome
from auditkit.bench.inputs import BenchInput, KnownGood, Limit, Need
from auditkit.bench.instrument import Accuracy, Instrument
from auditkit.bench.kind import TestKind
from auditkit.bench.kinds.balance import BALANCE
from auditkit.bench.kinds.direct_reading import DIRECT_READING
from auditkit.bench.kinds.flow_at_pressure import FLOW_AT_PRESSURE
from auditkit.bench.kinds.intermittent import INTERMITTENT
from auditkit.bench.kinds.known_good_swap import KNOWN_GOOD_SWAP
from auditkit.bench.kinds.linear_transfer import LINEAR_TRANSFER
from auditkit.bench.kinds.seal_hold import SEAL_HOLD
from auditkit.bench.kinds.stored_energy import STORED_ENERGY
from auditkit.bench.kinds.switching_point import SWITCHING_POINT
from auditkit.bench.kinds.temperature_sensor import TEMPERATURE_SENSOR
from auditkit.bench.kinds.voltage_drop import VOLTAGE_DROP
from auditkit.bench.kinds.winding import WINDING
from auditkit.bench.result import BenchResult, KnownGoodComparison, StatedQuantity

__all__ = [
    "KINDS",
    "Accuracy",
    "BenchInput",
    "BenchOutcome",
    "BenchResult",
    "Instrument",
    "KnownGood",
    "KnownGoodComparison",
    "Limit",
    "Need",
    "StatedQuantity",
    "TestKind",
    "builtin_kinds",
]


def builtin_kinds() -> tuple[TestKind, ...]:
    """Return the kinds of bench test that the core brings."""
    return (
        SEAL_HOLD,
        FLOW_AT_PRESSURE,
        WINDING,
        VOLTAGE_DROP,
        TEMPERATURE_SENSOR,
        LINEAR_TRANSFER,
        BALANCE,
        STORED_ENERGY,
        DIRECT_READING,
        SWITCHING_POINT,
        INTERMITTENT,
        KNOWN_GOOD_SWAP,
    )


KINDS: Mapping[str, TestKind] = MappingProxyType({k.name: k for k in builtin_kinds()})
"""Name -> kind."""
