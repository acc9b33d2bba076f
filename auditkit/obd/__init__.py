"""Vehicle bytes -> values, after ISO 15031-5 (SAE J1979) over ISO 15765-4. No I/O.

``decode`` takes a captured text and returns a ``Readout``. The stages, each its own
module: transcript, isotp, services, answers, decoding, and the tables scaling,
monitors, dtc, vin.
"""

from __future__ import annotations

from auditkit.obd.decoding import decode
from auditkit.obd.dtc import Code
from auditkit.obd.in_use import Counter
from auditkit.obd.monitors import Monitor
from auditkit.obd.parameters import Value
from auditkit.obd.readout import Readout
from auditkit.obd.scaling import SelfTestOutcome
from auditkit.obd.services import SelfTest
from auditkit.obd.transcript import TranscriptProblem

__all__ = [
    "Code",
    "Counter",
    "Monitor",
    "Readout",
    "SelfTest",
    "SelfTestOutcome",
    "TranscriptProblem",
    "Value",
    "decode",
]
