"""A collection's file is one writer's, of one version, and reaches nothing else."""

import os
import random
import subprocess
import sys
import time
from importlib.metadata import version
from pathlib import Path

import duckdb
import pytest
from collections_made import asked, collected, written
from made_logs import MadeLog, demo_events

from auditkit.errors import InputError
from auditkit.fleet import collection_file
from auditkit.fleet.collection_file import opened
from auditkit.fleet.tables_held import TablesHeld
from auditkit.fleet.terms import Terms, begin
from auditkit.proof.packet import MAX_PACKET

HOLD = """
import sys, time
from pathlib import Path
from auditkit.fleet.collection_file import opened
with opened(Path(sys.argv[1]), writes=True):
    print("held", flush=True)
    time.sleep(60)
"""


@pytest.fixture
def packets(tmp_path):
    log = MadeLog(1)
    log.close("RO-1", demo_events())
    return written(tmp_path / "in", [log.packet("RO-1")])


def test_a_second_process_is_told_who_holds_the_file(run, packets, tmp_path):
    into = tmp_path / "fleet.duckdb"
    run("collect", packets, "--into", into)
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(into)], stdout=subprocess.PIPE, text=True
    )
    try:
        assert holder.stdout.readline() == "held\n"
        start = time.monotonic()
        status, out, err = run("collect", packets, "--into", into)
        assert time.monotonic() - start < 30
    finally:
        holder.kill()
        holder.wait()
        holder.stdout.close()
    assert (status, out) == (2, "")
    assert f"another process holds this collection (process {holder.pid})" in err
    assert run("collect", packets, "--into", into)[0] == 0


@pytest.mark.parametrize("data", [b"no database", b"", b"SQLite format 3\x00" * 400])
def test_another_file_is_not_written_over(run, packets, tmp_path, data):
    into = tmp_path / "mine.txt"
    into.write_bytes(data)
    status, _, err = run("collect", packets, "--into", into)
    assert (status, into.read_bytes()) == (2, data)
    assert ("this is no collection" if data else "this file is empty") in err
    assert ("or one that is not there yet" in err) == bool(data)


def test_of_an_empty_file_an_audit_asks_for_another(run, tmp_path):
    (tmp_path / "empty").touch()
    status, _, err = run("audit", tmp_path / "empty")
    assert status == 2
    assert "this file is empty; name a file that 'auditkit collect' made" in err


def test_another_database_is_refused(run, packets, tmp_path):
    into = tmp_path / "fleet.duckdb"
    with duckdb.connect(str(into)) as other:
        other.execute("CREATE TABLE mine (x INTEGER)")
    status, _, err = run("collect", packets, "--into", into)
    assert status == 2
    assert "a database, and no collection" in err
    assert asked(into, "SHOW TABLES") == [("mine",)]


def test_a_collection_of_another_version_is_refused(run, packets, tmp_path):
    into = tmp_path / "fleet.duckdb"
    run("collect", packets, "--into", into)
    held = into.read_bytes()
    for change in (
        "UPDATE collection SET format = 'auditkit/collection@0'",
        "ALTER TABLE event ADD COLUMN more INTEGER",
        "DROP TABLE stretch",
        "ALTER TABLE repair_order ALTER odometer_m TYPE VARCHAR",
        "CREATE VIEW more AS SELECT 1 AS one",
        "INSERT INTO collection SELECT * FROM collection",
        "DELETE FROM collection",
    ):
        into.write_bytes(held)
        with duckdb.connect(str(into)) as other:
            other.execute(change)
        status, _, err = run("collect", packets, "--into", into)
        assert (status, "another version" in err) == (2, True), change


def test_a_folder_that_is_not_there_is_told(run, packets, tmp_path):
    status, _, err = run("collect", packets, "--into", tmp_path / "no" / "x.duckdb")
    assert status == 2
    assert "there is no such folder" in err
    status, _, err = run("collect", tmp_path / "none", "--into", tmp_path / "x.duckdb")
    assert status == 2
    assert "there is no such folder or file" in err
    assert not (tmp_path / "x.duckdb").exists()


def test_nothing_else_is_reached_through_a_collection(tmp_path):
    secret = tmp_path / "secret.csv"
    secret.write_text("a\n1\n")
    with opened(tmp_path / "x.duckdb", writes=True) as connection:
        for reaching in (
            f"SELECT * FROM read_csv('{secret}')",
            f"SELECT * FROM '{secret}'",
            f"COPY (SELECT 1) TO '{tmp_path / 'out.csv'}'",
            f"ATTACH '{tmp_path / 'y.duckdb'}'",
            "INSTALL httpfs",
            "SET enable_external_access = true",
            "SET memory_limit = '100GB'",
        ):
            with pytest.raises(duckdb.Error):
                connection.execute(reaching)
        ((limit,),) = connection.execute(
            "SELECT value FROM duckdb_settings() WHERE name = 'memory_limit'"
        ).fetchall()
    assert limit == "96.0 MiB"
    assert {path.name for path in tmp_path.iterdir()} == {"secret.csv", "x.duckdb"}


def test_a_packet_of_the_greatest_length_can_be_kept_whole(tmp_path):
    with opened(tmp_path / "x.duckdb", writes=True) as connection:
        tables = TablesHeld(connection)
        begin(tables, Terms())
        content = random.Random(1).randbytes(MAX_PACKET)
        tables.add("kept_packet", [{"packet_id": 1, "content": content}])
        ((length,),) = tables.ask("SELECT octet_length(content) FROM kept_packet")
    assert length == MAX_PACKET


def test_without_its_libraries_the_extra_is_named(run, packets, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    status, _, err = run("collect", packets, "--into", tmp_path / "x.duckdb")
    assert status == 2
    assert "pip install 'auditkit[fleet]'" in err


def test_the_version_that_wrote_it_is_kept(tmp_path):
    log = MadeLog(1)
    log.close("RO-1", demo_events())
    into, _ = collected(tmp_path, [log.packet("RO-1")])
    expected = f"auditkit {version('auditkit')}"
    assert asked(into, "SELECT program FROM collection") == [(expected,)]
    assert asked(into, "SELECT program, finished > started FROM run") == [
        (expected, True)
    ]


def test_a_damaged_file_is_told(run, packets, tmp_path):
    into = tmp_path / "fleet.duckdb"
    run("collect", packets, "--into", into)
    data = bytearray(into.read_bytes())
    data[100] ^= 1
    into.write_bytes(data)
    status, _, err = run("collect", packets, "--into", into)
    assert status == 2
    assert "this file is damaged" in err


def test_a_file_that_was_cut_short_is_damaged(run, packets, tmp_path):
    """No disk has to be looked at, and no memory."""
    into = tmp_path / "fleet.duckdb"
    run("collect", packets, "--into", into)
    os.truncate(into, into.stat().st_size * 2 // 5)
    for command in (("collect", packets, "--into", into), ("audit", into)):
        status, out, err = run(*command)
        assert (status, out) == (2, "")
        assert err.startswith(f"auditkit: {into}: this file is damaged; take a copy")


def test_a_newer_file_is_told():
    """The words are DuckDB's, from memory: no newer version is at hand to write one."""
    said = "Trying to read a database file with version number 9999, but we can only "
    said += "read versions between 64 and 999"
    found = collection_file._unusable(Path("x"), said, writes=True)
    assert isinstance(found, InputError)
    assert "update the library duckdb" in found.what_to_do


FULL = """
import resource, signal, sys
sys.dont_write_bytecode = True  # a file of it that is cut short would be used later
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), int(sys.argv[1])))
from auditkit.cli import main
main(sys.argv[2:])
"""


@pytest.mark.parametrize(
    ("is_begun", "most"), [(False, 5000), (False, 100_000), (True, 5000)]
)
def test_a_full_disk_is_told_and_the_run_goes_on_later(
    run, packets, tmp_path, is_begun, most
):
    into = tmp_path / "fleet.duckdb"
    if is_begun:
        other = MadeLog(2)
        other.close("RO-1", demo_events())
        run(
            "collect", written(tmp_path / "one", [other.packet("RO-1")]), "--into", into
        )
    asked_for = ["collect", str(packets), "--into", str(into)]
    ended = subprocess.run(
        [sys.executable, "-c", FULL, str(most), *asked_for],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (ended.returncode, ended.stdout) == (2, "")
    assert ended.stderr.startswith(f"auditkit: {into}: it cannot be written")
    assert "Traceback" not in ended.stderr
    assert into.exists() == is_begun
    status, out, _ = run("collect", packets, "--into", into)
    assert status == 0
    assert out.startswith("1 packet taken in")
    assert not list(tmp_path.glob("*.part*"))
