"""Whether a picture counts, wherever it is judged: record, log, packet."""

import json
from importlib.resources import files
from pathlib import Path

import pytest
from conftest import PASSPHRASE
from photo import DIGEST, PICTURE, attachment, photo

from auditkit.cli import main
from auditkit.order.photographs import RULE

RECORD = json.loads((files("auditkit_demo") / "RO-1001.json").read_text("utf-8"))
OPENING = 0


def write(name, order, **named):
    events = [*RECORD["events"]]
    events.append(attachment(at=events[-1]["at"], of=OPENING, **named))
    record = {**RECORD, "repair_order": order, "events": events}
    Path(name).write_text(json.dumps(record))


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """Run the command line beside a log that holds RO-1 with its picture."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", PASSPHRASE.decode())
    Path("plate.jpg").write_bytes(photo())

    def run(*arguments):
        with pytest.raises(SystemExit):
            main(list(arguments))
        return capsys.readouterr().out

    write("RO-1.json", "RO-1", file="plate.jpg")
    run("init", "--shop", "Example Yard Garage", "--person", "mechanic-1")
    run("record", "RO-1.json", "--unproven", "recorded late")
    return run


def why(said):
    found = [f["message"] for f in json.loads(said)["findings"] if f["rule"] == RULE]
    return found[0].partition(": ")[2] if found else ""


def test_a_picture_counts_where_its_bytes_are(run):
    check = ("check", "--format", "json")
    log = ("--log", "shop.auditlog")
    assert why(run(*check, "RO-1.json")) == ""
    named = {"sha256": DIGEST, "media_type": "image/jpeg", "size": len(PICTURE)}
    write("RO-1.json", "RO-1", **named, orientation=6, kept=True)
    assert why(run(*check, "RO-1.json")) == "its bytes are not here"
    assert why(run(*check, "RO-1.json", *log)) == "", "they lie beside the log"


def test_a_picture_of_another_order_is_found_in_the_log(run):
    write("RO-2.json", "RO-2", file="plate.jpg")
    check = ("check", "--format", "json", "RO-2.json")
    assert why(run(*check)) == "", "nobody asked a log"
    said = why(run(*check, "--log", "shop.auditlog"))
    assert said == "repair order RO-1 names the same picture"


def test_a_packet_shows_a_picture_that_it_carries(run):
    verify = ("verify", "--format", "json")
    said = run("packet", "RO-1", "--out", "bare.json")
    assert "1 picture left out: for its reader nothing is photographed" in said
    said = run("packet", "RO-1", "--out", "whole.json", "--with-attachments")
    assert "and carries 1 picture\n" in said
    assert "left out" not in said
    assert why(run(*verify, "bare.json")) == "its bytes are not here"
    assert why(run(*verify, "whole.json")) == ""
