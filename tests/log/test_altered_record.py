"""A record that says an earlier event otherwise than the log is refused before all."""

import json
from pathlib import Path

import pytest

LOG = ("--log", "shop.auditlog")


@pytest.fixture
def shop(run):
    """Return a function that runs commands; its log holds all but two events."""
    assert run("init", "--shop", "S", "--person", "mechanic-1", *LOG)[0] == 0
    record = json.loads(Path("RO-1001.json").read_text("utf-8"))

    def write(events):
        text = json.dumps({**record, "events": events})
        Path("RO.json").write_text(text, "utf-8")

    for event in record["events"]:
        if file := event.get("file"):
            assert Path(file).is_file()
    write(record["events"][:-2])
    assert run("record", "RO.json", "--keep-open", *LOG)[0] == 0
    run.events, run.write = record["events"], write
    return run


def place_of(events, kind):
    return next(n for n, e in enumerate(events) if e["kind"] == kind)


@pytest.mark.parametrize("how", [("--keep-open",), (), ("--unproven", "a test")])
def test_it_is_said_first_where_it_differs_and_what_to_do(shop, how):
    place = place_of(shop.events, "bench_test")
    altered = json.loads(json.dumps(shop.events))
    altered[place]["readings"][1]["value"] = "9.5"
    shop.write(altered)
    size = Path("shop.auditlog").stat().st_size
    status, out, err = shop("record", "RO.json", *how, *LOG)
    assert (status, out) == (2, "")
    assert err.startswith(f"auditkit: RO.json#/events/{place}: ")
    assert "the log holds this event otherwise (entry 8, recorded 20" in err
    assert "'readings' differs" in err
    assert '"amendment", with "corrects": ' + str(place) in err
    assert Path("shop.auditlog").stat().st_size == size
    status, out, err = shop("check", "RO.json", *LOG)
    assert (status, out) == (2, "")
    assert "'readings' differs" in err


def test_the_member_is_named_by_its_path(shop):
    altered = json.loads(json.dumps(shop.events))
    altered[0]["vehicle"]["odometer"]["value"] = "1"
    shop.write(altered)
    _, _, err = shop("record", "RO.json", "--keep-open", *LOG)
    assert err.startswith("auditkit: RO.json#/events/0: ")
    assert "'vehicle.odometer.value' differs" in err


def test_a_record_that_lacks_logged_events_is_refused(shop):
    shop.write(shop.events[:3])
    status, out, err = shop("record", "RO.json", "--keep-open", *LOG)
    assert (status, out) == (2, "")
    assert "the record ends here, and the log holds another event (entry 5" in err
    assert "auditkit show RO-1001" in err


def test_the_amendment_that_it_names_is_taken(shop):
    place = place_of(shop.events, "diagnosis")
    event = shop.events[place]
    amendment = {
        "kind": "amendment",
        "at": shop.events[-1]["at"],
        "by": "mechanic-1",
        "corrects": place,
        "why": "a word was missing",
        "event": {**event, "reasoning": f"{event['reasoning']} (invented)"},
    }
    shop.write([*shop.events, amendment])
    status, _, err = shop("record", "RO.json", "--keep-open", *LOG)
    assert (status, err) == (0, "")


def test_what_is_withheld_or_erased_is_no_difference(shop):
    shop.write(shop.events)
    erased = ("erase", "RO-1001", "--path", "customer.name", "--reason", "asked for")
    assert shop(*erased, *LOG)[0] == 0
    status, _, err = shop("record", "RO.json", "--keep-open", *LOG)
    assert (status, err) == (0, "")
