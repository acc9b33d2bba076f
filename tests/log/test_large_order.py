"""An order of 2,000 events, the most that a record holds, is closed and verified.

Beside the work itself it has a quarter of them.
"""

import json
from pathlib import Path

from sampling import count

MOST = count(2000, 2000, 4)
LOG = ("--log", "shop.auditlog")


def test_an_order_of_most_events_closes_and_its_packet_verifies(run):
    record = json.loads(Path("RO-1001.json").read_text("utf-8"))
    events = record["events"]
    place = next(n for n, e in enumerate(events) if e["kind"] == "caution")
    for number in range(MOST - len(events)):
        # each of another text than the caution has: a finding for every one of them
        other = {**events[place], "text_sha256": f"{number:064x}"}
        events.insert(place + 1, other)
    assert len(events) == MOST
    Path("RO.json").write_text(json.dumps(record), "utf-8")
    assert run("init", "--shop", "S", "--person", "mechanic-1", *LOG)[0] == 0
    status, out, err = run("record", "RO.json", "--unproven", "a test", *LOG)
    assert (status, err) == (0, ""), err
    assert f"entries 2 to {MOST + 2} written" in out
    assert run("packet", "RO-1001", "--out", "RO.packet.json", *LOG)[0] == 0
    status, out, err = run("verify", "RO.packet.json")
    assert status == 0, out + err
    assert "the shop signed unproven: that agrees" in out
    status, out, _ = run("record", "RO.json", "--unproven", "a test", *LOG)
    assert (status, "nothing written" in out) == (0, True)
