"""What the commands tell is whole, true, told once, and says what can still be done."""

import json

import pytest


@pytest.fixture
def log(run):
    assert (
        run("init", "--shop", "Example Yard Garage", "--person", "mechanic-1")[0] == 0
    )
    return run


def test_a_record_that_is_kept_open_is_told_what_it_lacks(log):
    status, out, _ = log("record", "RO-1005.json", "--keep-open")
    lines = out.splitlines()
    assert status == 0
    assert lines[0] == "RO-1005.json: RO-1005: open: entries 2 to 14 written"
    assert lines[1].startswith("RO-1005.json: unproven, waiting: ")
    place = lines.index(
        "RO-1005.json: no-monitor-result: the self-test for P0302 has not run: value "
        "and limits are zero"
    )
    assert lines[place + 1] == (
        "    what to do: drive until the monitor has run, then capture again"
    )
    _, out, _ = log("record", "RO-1002.json", "--keep-open", "--format", "json")
    told = {found["rule"] for found in json.loads(out)["findings"]}
    assert "part-not-shown-at-fault" in told
