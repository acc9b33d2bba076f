"""Proves that a vehicle repair was verified, to people who need not trust the shop.

Start with ``parse_record`` and ``load_catalogue().judge`` (what does a repair record
prove?), ``Ledger`` (the signed log), ``verify_packet`` (is this evidence sound?) and
``decode`` (what did the vehicle say?). A plugin imports ``auditkit.plugin`` instead.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from auditkit.errors import AuditkitError
    from auditkit.log.ledger import Ledger
    from auditkit.obd import Readout, decode
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.events import Event, RepairOrder
    from auditkit.order.findings import Finding, Severity, Verdict
    from auditkit.order.judgement import Judgement
    from auditkit.order.policy import Policy, parse_policy
    from auditkit.order.record import Record, parse_record
    from auditkit.order.rule import Rule
    from auditkit.plugin.loading import load_catalogue
    from auditkit.proof.check_packet import verify_packet
    from auditkit.proof.check_report import CheckReport
    from auditkit.proof.role import Role
    from auditkit.text.values import Quantity

__all__ = [
    "AuditkitError",
    "Catalogue",
    "CheckReport",
    "Event",
    "Finding",
    "Judgement",
    "Ledger",
    "Policy",
    "Quantity",
    "Readout",
    "Record",
    "RepairOrder",
    "Role",
    "Rule",
    "Severity",
    "Verdict",
    "decode",
    "load_catalogue",
    "parse_policy",
    "parse_record",
    "verify_packet",
]

_HOMES = {
    "AuditkitError": "errors",
    "Catalogue": "order.catalogue",
    "Event": "order.events",
    "Finding": "order.findings",
    "Judgement": "order.judgement",
    "Ledger": "log.ledger",
    "Policy": "order.policy",
    "Quantity": "text.values",
    "Readout": "obd",
    "Record": "order.record",
    "RepairOrder": "order.events",
    "CheckReport": "proof.check_report",
    "Role": "proof.role",
    "Rule": "order.rule",
    "Severity": "order.findings",
    "Verdict": "order.findings",
    "decode": "obd",
    "load_catalogue": "plugin.loading",
    "parse_policy": "order.policy",
    "parse_record": "order.record",
    "verify_packet": "proof.check_packet",
}


def __getattr__(name: str) -> object:
    """Import a public name when it is first asked for: start-up stays quick."""
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module 'auditkit' has no attribute {name!r}")
    return getattr(importlib.import_module(f"auditkit.{home}"), name)
