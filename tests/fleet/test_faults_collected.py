"""Which faults of an order a collection holds: named, and what the vehicle said."""

from collections_made import asked, collected
from made_logs import MadeLog, demo_events

ROWS = """SELECT o.order_no, module, code, CAST(kind AS VARCHAR), fault_group <> '',
    is_addressed, attempts, CAST(fixed_first AS VARCHAR)
    FROM fault JOIN repair_order o USING (order_id) ORDER BY o.order_no, code"""


def test_a_fault_that_a_readout_reports_and_nobody_names_is_there(tmp_path):
    log = MadeLog(1)
    events = demo_events()
    assert [event["kind"] for event in events[:2]] == ["opening", "readout"]
    log.close("RO-1", events)
    log.close("RO-2", events[:2])
    into, _ = collected(tmp_path, [log.packet("RO-1"), log.packet("RO-2")])
    assert asked(into, ROWS) == [
        ("RO-1", "7E8", "P0401", "stored", True, True, 1, "shown"),
        ("RO-2", "7E8", "P0401", "stored", True, False, 0, None),
    ]
