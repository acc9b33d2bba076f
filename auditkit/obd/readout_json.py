"""The readout as ``decode --format json`` prints it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.obd import dtc, scaling, uds
from auditkit.obd.code_table import row_of
from auditkit.obd.monitors import SINCE_CLEAR, THIS_CYCLE, Monitor, mid_name, tid_name
from auditkit.obd.responders import UNREAD

if TYPE_CHECKING:
    from decimal import Decimal

    from auditkit.obd.dtc import Code
    from auditkit.obd.parameters import Value
    from auditkit.obd.readout import Readout
    from auditkit.obd.services import SelfTest


def readout_json(readout: Readout) -> dict[str, object]:
    """Return the readout as ``decode --format json`` prints it."""
    return {
        "responders": list(readout.responders),
        "vin": readout.vin,
        "codes": {
            "confirmed": _texts(readout.confirmed),
            "pending": _texts(readout.pending),
            "permanent": _texts(readout.permanent),
        },
        "code_details": [
            {
                "code": c.text,
                "kind": c.kind,
                "responder": c.responder,
                "system": dtc.system(c.text),
                "origin": dtc.origin(c.text),
                "meaning": row_of(c.text).meaning,
            }
            for c in readout.codes
        ],
        "lamps": [
            {"responder": who, "on": on, "counts_codes": dict(readout.counts).get(who)}
            for who, on in readout.mil
        ],
        "services": [
            {"responder": who, "service": service, "answer": said}
            for said, pairs in (
                ("answered", readout.answered),
                ("refused", readout.refused),
                (UNREAD, readout.unread),
            )
            for who, service in sorted(pairs)
        ],
        "statuses": [
            {
                "responder": s.responder,
                "code": s.text,
                "status": f"{s.status:02X}",
                "bits": list(uds.bit_names(s.status, uds.STATUS)),
            }
            for s in readout.statuses
        ],
        "monitors": _monitors_json(readout.monitors, SINCE_CLEAR),
        "this_cycle": _monitors_json(readout.monitors, THIS_CYCLE),
        "self_tests": [_self_test_json(test) for test in readout.self_tests],
        "older_tests": [
            {
                "responder": t.responder,
                "tid": t.tid,
                "component": t.component,
                "raw_value": t.raw_value,
                "raw_limit": t.raw_limit,
                "limit_is": "minimum" if t.is_minimum else "maximum",
                "outcome": t.outcome and t.outcome.value,
                "sign_decides": t.sign_decides,
            }
            for t in readout.older_tests
        ],
        "values": [_value_json(value) for value in readout.values],
        "counters": [
            {"responder": c.responder, "name": c.name, "count": c.count}
            for c in readout.counters
        ],
        "problems": [
            {"line": p.line, "responder": p.responder, "problem": p.problem}
            for p in readout.problems
        ],
    }


def _texts(codes: tuple[Code, ...]) -> list[str]:
    return list(dict.fromkeys(code.text for code in codes))


def _monitors_json(found: tuple[Monitor, ...], cycle: str) -> list[dict[str, object]]:
    return [
        {
            "responder": one.responder,
            "monitor": one.monitor,
            "supported": one.supported,
            "complete": one.complete,
        }
        for one in found
        if one.cycle == cycle
    ]


def _decimal_text(value: Decimal | None) -> str | None:
    return None if value is None else format(value, "f")


def _value_json(value: Value) -> dict[str, object]:
    return {
        "responder": value.responder,
        "service": value.service,
        "id": value.id,
        "frame": value.frame,
        "name": value.name,
        "value": _decimal_text(value.value),
        "unit": value.unit,
        "meaning": value.meaning,
        "source": value.source,
    }


def _self_test_json(test: SelfTest) -> dict[str, object]:
    return {
        "responder": test.responder,
        "mid": test.mid,
        "tid": test.tid,
        "uasid": test.uasid,
        "value": _decimal_text(test.value),
        "minimum": _decimal_text(test.minimum),
        "maximum": _decimal_text(test.maximum),
        "unit": test.unit,
        "outcome": test.outcome.value,
        "monitor": mid_name(int(test.mid, 16)),
        "test": tid_name(int(test.tid, 16)),
        "source": scaling.source(int(test.uasid, 16)),
        "raw_value": test.raw_value,
        "raw_minimum": test.raw_minimum,
        "raw_maximum": test.raw_maximum,
    }
