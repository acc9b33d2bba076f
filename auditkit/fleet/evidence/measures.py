"""The measures of evidence, in the order in which they are told."""

from __future__ import annotations

from collections.abc import Callable

from auditkit.fleet.evidence.at_once import at_once
from auditkit.fleet.evidence.calibration import calibration
from auditkit.fleet.evidence.copied_readouts import copied_readouts
from auditkit.fleet.evidence.cut_short import cut_short
from auditkit.fleet.evidence.digits import last_digits
from auditkit.fleet.evidence.drifting import drifting
from auditkit.fleet.evidence.equal_records import equal_records
from auditkit.fleet.evidence.late_tests import late_tests
from auditkit.fleet.evidence.lateness import lateness
from auditkit.fleet.evidence.near_limit import near_limits
from auditkit.fleet.evidence.odometers import odometers
from auditkit.fleet.evidence.orders_against import orders_against
from auditkit.fleet.evidence.repeats_alike import repeats_alike
from auditkit.fleet.evidence.shared_certificates import shared_certificates
from auditkit.fleet.evidence.strengths import strengths
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.settings import Settings

MEASURES: tuple[Callable[[Ask, Settings], Part], ...] = (
    strengths,
    lateness,
    late_tests,
    calibration,
    drifting,
    near_limits,
    last_digits,
    repeats_alike,
    equal_records,
    copied_readouts,
    odometers,
    at_once,
    shared_certificates,
    cut_short,
    orders_against,
)
