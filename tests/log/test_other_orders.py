"""What the log holds of the same vehicle under another number, when an order is judged.

The orders are the demo's, invented; RO-1001 is proven in itself.
"""

import json
import re
from pathlib import Path

import pytest

PENDING = "> 07\n7E8 02 47 00 00 00 00 00 00"
DISTANCE = re.compile("(7E8 04 41 31 ..) ..")
PENDING_AGAIN = "> 07\n7E8 04 47 01 04 01 00 00 00"


@pytest.fixture
def shop(run):
    """Return a function that runs a command beside a new log."""
    assert run("init", "--shop", "S", "--person", "mechanic-1", "--log", "l.auditlog")
    record = json.loads(Path("RO-1001.json").read_text("utf-8"))

    def call(*arguments):
        return run(*arguments, "--log", "l.auditlog")

    def write(number, events):
        text = json.dumps({**record, "repair_order": number, "events": events})
        Path(f"{number}.json").write_text(text, "utf-8")
        return f"{number}.json"

    call.record, call.write = record, write
    return call


def adverse(record, minutes):
    """Return opening and last readout, in which the code is pending again."""
    opening = record["events"][0]
    (*_, last) = (e for e in record["events"] if e["kind"] == "readout")
    assert PENDING in last["raw"]
    raw = last["raw"].replace(PENDING, PENDING_AGAIN)
    assert DISTANCE.search(raw)
    later = {**last, "raw": DISTANCE.sub(r"\1 7F", raw)}  # it drove on
    for name in ("at", "captured"):
        hour, minute = later[name][11:13], int(later[name][14:16]) + minutes
        later[name] = f"{later[name][:11]}{hour}:{minute:02}{later[name][16:]}"
    return [opening, later]


def findings(out, rule):
    return [f for f in json.loads(out)["findings"] if f["rule"] == rule]


def test_an_adverse_readout_under_another_number_contradicts(shop):
    status, out, _ = shop("check", "RO-1001.json", "--format", "json")
    assert (status, json.loads(out)["verdict"]) == (0, "proven")
    other = shop.write("RO-9", adverse(shop.record, 1))
    status, _, err = shop("record", other, "--keep-open")
    assert status == 0, err
    status, out, _ = shop("check", "RO-1001.json", "--format", "json")
    assert (status, json.loads(out)["verdict"]) == (1, "contradicted")
    (found,) = findings(out, "fault-back-in-another-order")
    assert "P0401 (pending) is back after the repair" in found["message"]
    assert "repair order RO-9 of the same vehicle" in found["message"]
    status, out, _ = shop("record", "RO-1001.json")
    assert (status, "RO-9" in out) == (1, True)


def test_records_that_are_judged_together_are_held_against_each_other(shop, run):
    other = shop.write("RO-9", adverse(shop.record, 1))
    status, out, _ = run("check", "RO-1001.json", other, "--format", "json")
    assert status == 1
    verdicts = {one["repair_order"]: one["verdict"] for one in json.loads(out)}
    assert verdicts["RO-1001"] == "contradicted"


def test_what_came_after_an_order_was_closed_is_no_fault_of_it(shop):
    assert shop("record", "RO-1001.json")[0] == 0
    other = shop.write("RO-9", adverse(shop.record, 1))
    assert shop("record", other, "--keep-open")[0] == 0
    status, out, _ = shop("check", "RO-1001.json", "--format", "json")
    assert (status, json.loads(out)["verdict"]) == (0, "vouched")


def test_another_vehicle_is_not_looked_at(shop):
    opening, readout = adverse(shop.record, 1)
    vin = opening["vehicle"]["vin"]
    opening = {**opening, "vehicle": {**opening["vehicle"], "vin": vin[:-1] + "9"}}
    tail = " ".join(f"{ord(c):02X}" for c in vin[-3:])
    other_tail = " ".join(f"{ord(c):02X}" for c in vin[-3:-1] + "9")
    assert tail in readout["raw"]
    readout = {**readout, "raw": readout["raw"].replace(tail, other_tail)}
    assert shop("record", shop.write("RO-9", [opening, readout]), "--keep-open")[0] == 0
    status, out, _ = shop("check", "RO-1001.json", "--format", "json")
    assert (status, json.loads(out)["verdict"]) == (0, "proven")


def test_a_copy_is_known_by_its_live_values_whatever_else_was_changed(shop):
    """Another VIN in it, other codes: what lives and counts is what it was."""
    assert shop("record", "RO-1001.json")[0] == 0
    events = json.loads(json.dumps(shop.record["events"]))
    vin = events[0]["vehicle"]["vin"]
    tail, other = (
        " ".join(f"{ord(c):02X}" for c in text) for text in (vin[-3:], vin[-3:-1] + "9")
    )
    events[0]["vehicle"]["vin"] = vin[:-1] + "9"
    for event in events:
        if event["kind"] == "readout":
            event["raw"] = event["raw"].replace(tail, other)
    shop.write("RO-9", events)
    status, out, _ = shop("check", "RO-9.json", "--format", "json")
    assert status == 1
    found = findings(out, "readout-of-another-order")
    assert found
    assert all("all live and counting values" in f["message"] for f in found)
    assert all("RO-1001" in f["message"] for f in found)


def test_whose_readout_it_was_first_is_not_held_up_by_a_copy(shop):
    """Both are open: the copy is told of, and the first goes on, writing it again."""
    assert shop("record", "RO-1001.json", "--keep-open")[0] == 0
    shop.write("RO-9", shop.record["events"])
    assert shop("record", "RO-9.json", "--keep-open")[0] == 0
    once_more = next(e for e in shop.record["events"] if e["kind"] == "readout")
    more = shop.write("RO-1001", [*shop.record["events"], once_more])
    status, out, err = shop("record", more, "--keep-open", "--format", "json")
    assert status == 0, err
    assert not findings(out, "readout-of-another-order")
    status, out, _ = shop("check", "RO-9.json", "--format", "json")
    (first, *_) = findings(out, "readout-of-another-order")
    assert "answer for answer one of repair order RO-1001" in first["message"]
    assert first["what_to_do"].endswith("in a new repair order")


TYPED = "RO-1004.json"
OF_ANOTHER_CAR = {"vin": "0ZZTB1A18CA000123", "odometer": "88211"}


def typed_again(number, *, vin="", odometer=""):
    """Return the demo's typed order under another number, and as of another car."""
    record = json.loads(Path(TYPED).read_text("utf-8"))
    for event in record["events"]:
        if event["kind"] == "opening" and vin:
            event["vehicle"]["vin"] = vin
            event["vehicle"]["odometer"] = {"value": odometer, "unit": "km"}
        elif event["kind"] == "readout" and vin:
            event["typed"]["vin"] = vin
    Path(f"{number}.json").write_text(
        json.dumps({**record, "repair_order": number}), "utf-8"
    )
    return f"{number}.json"


def test_typed_values_of_another_car_are_known_as_a_copy(shop, run):
    """Of the two displays the first holds seven digits, the second four."""
    copy = typed_again("RO-9", **OF_ANOTHER_CAR)
    status, out, _ = run("check", copy, "--format", "json")
    assert (status, json.loads(out)["verdict"]) == (0, "vouched")
    status, out, _ = run("check", TYPED, copy, "--format", "json")
    assert status == 1
    for one, other in zip(json.loads(out), ("RO-9", "RO-1004"), strict=True):
        (found,) = findings(json.dumps(one), "values-of-another-order")
        assert "values of the readout are all those of one of" in found["message"]
        assert found["message"].count(other) == 1
        (told,) = findings(json.dumps(one), "values-also-in-another-order")
        assert told["severity"] == "advisory"
        assert one["verdict"] == "unproven"
    assert shop("record", TYPED)[0] == 0
    status, out, _ = shop("check", copy, "--format", "json")
    assert (status, json.loads(out)["verdict"]) == (1, "unproven")
    assert len(findings(out, "values-of-another-order")) == 1


def test_two_orders_of_one_visit_may_hold_the_same_typed_values(shop):
    """A warranty job and a paid one: told of each other, and both are closed."""
    assert shop("record", TYPED)[0] == 0
    status, out, err = shop("record", typed_again("RO-9"), "--format", "json")
    assert (status, json.loads(out)["verdict"]) == (0, "vouched"), err
    assert not findings(out, "values-of-another-order")
    assert len(findings(out, "values-also-in-another-order")) == 2
    assert shop("check", TYPED)[0] == 0, "the first is what it was"


def test_who_had_typed_values_first_is_not_held_up_by_a_copy(shop):
    """Both are open: the copy is told of, and the first goes on to its verdict."""
    assert shop("record", TYPED, "--keep-open")[0] == 0
    copy = typed_again("RO-9", **OF_ANOTHER_CAR)
    assert shop("record", copy, "--keep-open")[0] == 0
    status, out, err = shop("record", TYPED, "--format", "json")
    assert (status, json.loads(out)["verdict"]) == (0, "vouched"), err
    assert not findings(out, "values-of-another-order")
    status, out, _ = shop("record", copy, "--format", "json")
    assert (status, json.loads(out)["verdict"]) == (1, "unproven")
    (told,) = findings(out, "values-of-another-order")
    assert "RO-1004" in told["message"]
    assert "only one of the two orders can have them" in told["what_to_do"]


def test_packets_with_one_anothers_typed_values_are_told(shop, run):
    assert shop("record", TYPED)[0] == 0
    copy = typed_again("RO-9", **OF_ANOTHER_CAR)
    assert shop("record", typed_again("RO-8"))[0] == 0
    Path("all").mkdir()
    for number in ("RO-1004", "RO-8"):
        assert shop("packet", number, "--out", f"all/{number}.json")[0] == 0
    status, out, _ = run("verify", "all")
    assert status == 0, out
    assert shop("record", copy, "--unproven", "a test")[0] == 0
    assert shop("packet", "RO-9", "--out", "all/RO-9.json")[0] == 0
    status, out, _ = run("verify", "all")
    assert status == 1
    said = "RO-9.json: RO-9 holds a readout or readings of RO-1004 (all/RO-1004.json)"
    assert said in out
    assert "ask the shop which vehicle it was" in out
    status, out, _ = run("verify", "all", "--format", "json")
    assert json.loads(out)["copies"] == [
        {"path": "all/RO-9.json", "of": "all/RO-1004.json"}
    ]


def with_digits(name, before="1490", value="1.0843"):
    """Let the displays of an order show more digits, and these of two values."""
    record = json.loads(Path(name).read_text("utf-8"))
    first, last = (e["typed"] for e in record["events"] if e["kind"] == "readout")
    first["counts"]["distance"]["value"] = before
    tests = last["modules"][0]["self_tests"]
    for tid, number in (("82", value), ("83", "1.2217"), ("84", "1.30561")):
        tests.append({**tests[0], "tid": tid, "value": {"value": number, "unit": "A"}})
    Path(name).write_text(json.dumps(record), "utf-8")
    return name


def test_a_copy_with_one_value_changed_is_known_in_log_and_folder(shop, run):
    copy = with_digits(typed_again("RO-9", **OF_ANOTHER_CAR), "1573", "1.0844")
    first = with_digits(TYPED)
    assert shop("record", first)[0] == 0
    status, out, _ = shop("check", copy, "--format", "json")
    assert (status, json.loads(out)["verdict"]) == (1, "unproven")
    (found,) = findings(out, "values-of-another-order")
    assert found["message"].startswith(
        "6 of 7 values of the readout are those of one of repair order RO-1004"
    )
    assert shop("record", copy, "--unproven", "a test")[0] == 0
    assert shop("check", first)[0] == 0, "who had them first is free"
    Path("all").mkdir()
    for number in ("RO-1004", "RO-9"):
        assert shop("packet", number, "--out", f"all/{number}.json")[0] == 0
    status, out, _ = run("verify", "all")
    assert status == 1
    said = "RO-9.json: RO-9 holds all values but one of RO-1004 (all/RO-1004.json)"
    assert said in out
