"""Packets of folders become rows of a collection, once, whatever else lies there."""

import json

import duckdb
import pytest


@pytest.fixture(scope="session")
def week(tmp_path_factory):
    """Return the folder of the demo's week: five packets, logs, keys, checkpoints."""
    from auditkit.cli import main

    folder = tmp_path_factory.mktemp("demo") / "week"
    with pytest.raises(SystemExit):
        main(["demo", "--into", str(folder)])
    return folder


def asked(path, sql):
    with duckdb.connect(str(path), read_only=True) as opened:
        return opened.execute(sql).fetchall()


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
