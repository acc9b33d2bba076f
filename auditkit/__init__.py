"""Proves that a vehicle repair was verified, to people who need not trust the shop.

Start with ``parse_record`` and ``load_catalogue().judge`` (what does a repair record
prove?), ``Ledger`` (the signed log), ``verify_packet`` (is this evidence sound?) and
``decode`` (what did the vehicle say?). A plugin needs ``hookimpl``, ``rule``,
``Problem``, ``Severity`` and ``RepairOrder``.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from auditkit.catalogue import Catalogue, Judgement, load_catalogue
    from auditkit.check_report import Report
    from auditkit.errors import AuditkitError
    from auditkit.events import Event, RepairOrder
    from auditkit.findings import Finding, Problem, Severity, Verdict
    from auditkit.hookspecs import hookimpl
    from auditkit.ledger import Ledger
    from auditkit.obd import Readout, decode
    from auditkit.packet import verify_packet
    from auditkit.policy import Policy, parse_policy
    from auditkit.record import Record, parse_record
    from auditkit.rule import Rule, rule
    from auditkit.values import Quantity

__all__ = [
    "AuditkitError",
    "Catalogue",
    "Event",
    "Finding",
    "Judgement",
    "Ledger",
    "Policy",
    "Problem",
    "Quantity",
    "Readout",
    "Record",
    "RepairOrder",
    "Report",
    "Rule",
    "Severity",
    "Verdict",
    "decode",
    "hookimpl",
    "load_catalogue",
    "parse_policy",
    "parse_record",
    "rule",
    "verify_packet",
]

_HOMES = {
    "AuditkitError": "errors",
    "Catalogue": "catalogue",
    "Event": "events",
    "Finding": "findings",
    "Judgement": "catalogue",
    "Ledger": "ledger",
    "Policy": "policy",
    "Problem": "findings",
    "Quantity": "values",
    "Readout": "obd",
    "Record": "record",
    "RepairOrder": "events",
    "Report": "check_report",
    "Rule": "rule",
    "Severity": "findings",
    "Verdict": "findings",
    "decode": "obd",
    "hookimpl": "hookspecs",
    "load_catalogue": "catalogue",
    "parse_policy": "policy",
    "parse_record": "record",
    "rule": "rule",
    "verify_packet": "packet",
}


def __getattr__(name: str) -> object:
    """Import a public name when it is first asked for: start-up stays quick."""
    home = _HOMES.get(name)
    if home is None:
        message = f"module 'auditkit' has no attribute {name!r}"
        raise AttributeError(message)
    return getattr(importlib.import_module(f"auditkit.{home}"), name)
