"""Packets of folders become rows of a collection, once, whatever else lies there."""

import json
from pathlib import Path

import pytest
from collections_made import asked, collected, content, written
from made_logs import MadeLog, demo_events

from auditkit.fleet import collecting
from auditkit.fleet.collecting import collect


@pytest.fixture(scope="session")
def week(tmp_path_factory):
    """Return the folder of the demo's week: five packets, logs, keys, checkpoints."""
    from auditkit.cli import main

    folder = tmp_path_factory.mktemp("demo") / "week"
    with pytest.raises(SystemExit):
        main(["demo", "--into", str(folder)])
    return folder


def test_the_packets_of_a_week_are_taken_in_once(run, week, tmp_path):
    into = tmp_path / "fleet.duckdb"
    status, out, err = run("collect", week, "--into", into)
    assert (status, err) == (0, "")
    assert out.startswith("5 packets taken in, 0 held already")
    again, out, _ = run("collect", week, "--into", into, "--format", "json")
    done = json.loads(out)
    assert (again, done["taken_in"], done["held_already"]) == (0, 0, 5)
    assert done["holds"] == {
        "packets": 5,
        "repair_orders": 5,
        "logs": 1,
        "entries": 61,
    }


def test_an_order_is_kept_as_verify_judges_it(run, week, tmp_path):
    into = tmp_path / "fleet.duckdb"
    run("collect", week, "--into", into)
    kept = asked(into, "SELECT order_no, verdict FROM repair_order ORDER BY ALL")
    for order_no, verdict in kept:
        path = week / f"{order_no}.packet.json"
        _, out, _ = run("verify", path, "--format", "json")
        assert json.loads(out)["verdict"] == verdict
    assert len(kept) == 5


def carried():
    """Return a packet, a page that carries it, and a PDF to which it is attached."""
    log = MadeLog(1)
    log.close("RO-1", demo_events())
    text = log.packet("RO-1")
    page = f'<!doctype html><script id="packet">{json.dumps(text)}</script>'
    head = f"%PDF-1.7\n%{' ' * 2000}\n1 0 obj <</Type /EmbeddedFile "
    head += f"/Length {len(text.encode())}>>\n"
    pdf = head.encode() + b"stream\n" + text.encode() + b"\nendstream endobj\n"
    return [text, page, pdf]


@pytest.mark.parametrize("turn", [0, 1, 2])
def test_a_packet_is_one_whatever_carries_it(tmp_path, turn):
    files = carried()
    into, done = collected(tmp_path, [*files[turn:], *files[:turn]])
    assert (done.added, done.held_before, done.left_out) == (1, 2, [])
    again = collect([tmp_path / "in"], into)
    assert (again.added, again.held_before) == (0, 3)
    assert len(asked(into, "SELECT 1 FROM wrapping")) == 2


def test_batches_are_bounded_in_number_and_in_bytes(tmp_path, monkeypatch):
    log = MadeLog(1)
    for n in range(7):
        log.close(f"RO-{n}", demo_events(days=n)[:3])
    packets = [log.packet(f"RO-{n}") for n in range(7)]
    whole, _ = collected(tmp_path / "whole", packets)
    loads = []
    load = collecting.Writer.load

    def counted(self, batch):
        loads.append(len(batch))
        return load(self, batch)

    monkeypatch.setattr(collecting.Writer, "load", counted)
    monkeypatch.setattr(collecting, "BATCH", 3)
    by_number, _ = collected(tmp_path / "number", packets)
    assert loads == [3, 3, 1]
    loads.clear()
    monkeypatch.setattr(collecting, "_BATCH_BYTES", 2 * len(packets[0]))
    by_bytes, _ = collected(tmp_path / "bytes", packets)
    assert max(loads) == 2
    assert content(by_number) == content(by_bytes) == content(whole)


def test_what_does_not_verify_is_told_before_what_is_no_packet(tmp_path):
    altered = carried()[0].replace("replaced", "repaired")
    _, done = collected(tmp_path, [altered, "{}", '{"a": 1}', "", b"\xff\xff"])
    assert next(iter(done.by_reason())) == "the packet does not verify"
    first, *_ = [line for line in done.lines() if line.startswith("left out")]
    assert first == "left out, 1: the packet does not verify"


@pytest.mark.parametrize(("files", "left_out"), [((), 0), (("a",), 1)])
def test_where_there_is_no_packet_no_collection_is_made(run, tmp_path, files, left_out):
    folder = written(tmp_path / "none", files)
    status, out, err = run("collect", folder, "--into", "none.duckdb")
    assert status == 2
    assert err == (
        f"auditkit: {folder}: there is no packet here, and no collection was made; "
        "name a folder of packets, or of files that carry them\n"
    )
    assert out.count("left out, 1: this is no packet") == left_out
    assert not list(Path().glob("none.duckdb*"))


def test_what_is_no_packet_is_told_each_time_and_not_held(tmp_path):
    into, done = collected(tmp_path, ["{}", "hello", b"\xff\xff"])
    assert len(done.left_out) == 3
    assert asked(into, "SELECT count(*) FROM packet") == [(0,)]
    assert len(collect([tmp_path / "in"], into).left_out) == 3


def test_a_packet_that_does_not_verify_is_held_with_why(tmp_path):
    text = carried()[0].replace("replaced", "repaired")
    into, done = collected(tmp_path, [text])
    (one,) = done.left_out
    assert one.because == "the packet does not verify"
    assert one.more
    ((why, order_id),) = asked(into, "SELECT refused_because, order_id FROM packet")
    assert (why, order_id) == (one.said, None)
    (again,) = collect([tmp_path / "in"], into).left_out
    assert (again.because, again.more) == (one.because, one.more)
    assert len(asked(into, "SELECT 1 FROM packet")) == 1


def test_a_folder_that_holds_the_collection_itself_is_walked(run, tmp_path):
    folder = written(tmp_path / "in", carried()[:1])
    into = folder / "fleet.duckdb"
    for taken in (1, 0):
        status, out, _ = run("collect", folder, "--into", into)
        assert (status, out[:2]) == (0, f"{taken} ")
        assert "0 left out" in out
