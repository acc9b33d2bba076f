"""``status``: the argument first, the next step, then what happened."""

import json
from pathlib import Path

import pytest


@pytest.fixture
def log(run):
    assert (
        run("init", "--shop", "Example Yard Garage", "--person", "mechanic-1")[0] == 0
    )
    return run


def begun(log, events, order="RO-1001"):
    record = json.loads(Path(f"{order}.json").read_text())
    record["events"] = record["events"][:events]
    Path("begun.json").write_text(json.dumps(record))
    assert log("record", "begun.json", "--keep-open")[0] == 0


def test_status_says_what_is_shown_then_what_is_next_then_what_happened(log):
    begun(log, 6)
    status, out, err = log("status", "RO-1001")
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert lines[0].startswith(
        "RO-1001: delivery van, 2.0 litre, spark ignition: open;"
    )
    fault = lines.index(
        "P0401 (engine module 7E8; exhaust gas recirculation flow, or its control):"
    )
    (step,) = [n for n, line in enumerate(lines) if line.startswith("Next: ")]
    happened = lines.index("What happened, the newest first:")
    assert fault < step < happened
    assert lines[step + 1].startswith("    auditkit add RO-1001 caution --before bench")
    seqs = [line.split()[0] for line in lines[happened + 1 : -1]]
    assert seqs == ["7", "6", "5", "4", "3", "2"]
    assert " · 2026-03-02 08:40:00 +01:00 · recorded " in lines[happened + 4]


def test_what_happened_is_told_in_words_and_ids_only_where_they_are_typed(log):
    begun(log, 8)
    lines = log("status", "RO-1001")[1].splitlines()
    told = " / ".join(lines[lines.index("What happened, the newest first:") + 1 :])
    for words in (
        "repair: EGR valve replaced",
        "bench test: EGR valve (seal hold, pressure or vacuum): faulty",
        "caution: hot surfaces, acknowledged before bench test of EGR valve: surface",
        "suspects EGR valve (egr-valve);",
    ):
        assert words in told
    assert told.count("egr-valve") == 1, "by this id a command names it"
    assert not [one for one in ("seal-hold", "hot-exhaust") if one in told]
    assert "EGR valve (seal hold" in log("show", "RO-1001")[1]


def test_who_has_a_screen_alone_is_told_how_a_readout_is_typed(log):
    begun(log, 1)
    lines = log("status", "RO-1001")[1].splitlines()
    step = lines.index("Next: Read the vehicle: the proof begins with what it says.")
    assert lines[step + 1 : step + 3] == [
        "    auditkit add RO-1001 readout --raw FILE",
        "    with a screen alone, type what it shows: auditkit add RO-1001 readout",
    ]
    begun(log, 2)
    assert "with a screen alone" not in log("status", "RO-1001")[1], "it was read"


def test_status_in_json_has_every_question_as_it_stands(log):
    begun(log, 3)
    status, out, _ = log("status", "RO-1001", "--format", "json")
    found = json.loads(out)
    assert status == 0
    assert (found["closed"], found["so_far"]) == (None, "unproven")
    (fault,) = found["faults"]
    stands = {q["question"]: q["stands"] for q in fault["questions"]}
    assert stands["part-at-fault"] == "not-shown"
    assert stands["test-passed"] == "later"
    assert fault["suspects"] == [
        {"part": "egr-valve", "name": "EGR valve", "state": "untested"}
    ]
    assert found["next_step"]["kind"] == "caution"
    assert found["next_step"]["then"]["kind"] == "bench_test"
    assert [line["kind"] for line in found["happened"]] == [
        *("opening", "readout", "diagnosis")
    ]


def test_status_without_an_order_lists_what_is_open_or_waits(log):
    _, out, _ = log("status")
    assert out == "No order is open. 'auditkit open ORDER' begins one.\n"
    begun(log, 2)
    log("record", "RO-1005.json", "--unproven", "it waits for its test")
    log("record", "RO-1004.json")
    status, out, _ = log("status")
    lines = out.splitlines()
    assert (status, lines[0]) == (0, "2 orders open or waiting:")
    assert [line.split()[0] for line in lines[1:]] == ["RO-1001", "RO-1005"]
    assert lines[1].endswith("set it aside with a reason and who agreed.")
    found = json.loads(log("status", "--format", "json")[1])
    assert [one["repair_order"] for one in found] == ["RO-1001", "RO-1005"]
    assert found[1]["state"].startswith("closed as unproven; it waits")


def test_status_of_an_order_that_is_not_there_names_those_that_are(log):
    begun(log, 2)
    status, _, err = log("status", "RO-101")
    assert status == 2
    assert "did you mean RO-1001?" in err


def test_what_is_withheld_or_erased_is_told_beside_its_entry(log):
    begun(log, 3)
    opened = log("status", "RO-1001")[1].splitlines()[-2]
    assert opened.startswith("    2 · ")
    assert opened.endswith(" (2 withheld)")
    reason = ("--reason", "asked for")
    assert log("erase", "RO-1001", "--path", "customer.name", *reason)[0] == 0
    *_, opened, gone, _ = log("status", "RO-1001")[1].splitlines()
    assert opened.endswith(" (1 withheld)")
    assert gone == "       erased by entry 5: customer.name"
    found = json.loads(log("status", "RO-1001", "--format", "json")[1])
    assert found["happened"][0]["texts"]["customer.name"] == "erased"


def test_a_closed_order_says_what_is_handed_out_and_a_waiting_one_what_waits(log):
    assert log("record", "RO-1001.json")[0] == 0
    lines = log("status", "RO-1001")[1].splitlines()
    at = lines.index("Hand to the customer:")
    assert lines[at + 1] == "    auditkit packet RO-1001 --out RO-1001.packet.json"
    assert lines[at + 2].startswith("    auditkit receipt RO-1001.packet.json --out ")
    assert at < lines.index("What happened, the newest first:")
    assert log("record", "RO-1005.json", "--unproven", "a test")[0] == 0
    out = log("status", "RO-1005")[1]
    assert "verdict: unproven, closed all the same: a test\n" in out
    assert "Next: " in out
    assert "Hand to" not in out
