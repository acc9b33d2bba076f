"""A collection judged by other rules, policy or keys is made anew, whole or not."""

import pytest
from collections_made import asked, content, written
from made_logs import OTHER_VIN, MadeLog, demo_events

POLICY = 'format = "auditkit/policy@1"\nnot_asked = ["fault-gone"]\n'


@pytest.fixture
def held(run, tmp_path):
    """Return a collection of two orders and of two histories of another log."""
    log, forked = MadeLog(1), MadeLog(2)
    log.close("RO-1", demo_events())
    log.close("RO-2", demo_events(vin=OTHER_VIN))
    other = forked.fork()
    forked.close("RO-1", demo_events())
    other.close("RO-9", demo_events(days=1))
    packets = [log.packet("RO-1"), log.packet("RO-2")]
    packets += [forked.packet("RO-1"), other.packet("RO-9")]
    folder, into = written(tmp_path / "in", packets), tmp_path / "fleet.duckdb"
    assert run("collect", folder, "--into", into)[0] == 1
    (tmp_path / "policy.toml").write_text(POLICY)
    return folder, into, tmp_path / "policy.toml"


def test_another_policy_is_refused_with_what_to_do(run, held):
    folder, into, policy = held
    before = content(into)
    status, _, err = run("collect", folder, "--into", into, "--policy", policy)
    assert status == 2
    assert "judged by another policy" in err
    assert "--rebuild" in err
    assert content(into) == before


def test_a_rebuilt_collection_is_what_a_new_one_would_be(run, held, tmp_path):
    folder, into, policy = held
    rebuilt = run("collect", "--rebuild", "--into", into, "--policy", policy)
    new = tmp_path / "new.duckdb"
    fresh = run("collect", folder, "--into", new, "--policy", policy)
    status, out, err = fresh
    assert rebuilt == (status, out.replace(str(new), str(into)), err)
    assert content(into) == content(new)
    assert not list(tmp_path.glob("*.rebuild*"))
    verdicts = asked(into, "SELECT DISTINCT verdict FROM repair_order")
    assert verdicts == [("unproven",)], "fault-gone must be asked"


def test_packets_that_are_gone_are_named_and_nothing_changes(run, held):
    folder, into, policy = held
    before = content(into)
    (folder / "001.json").unlink()
    status, out, err = run("collect", "--rebuild", "--into", into, "--policy", policy)
    assert (status, out) == (2, "")
    assert "1 of its packets is gone" in err
    assert "001.json" in err
    assert "000.json" not in err
    assert content(into) == before
    assert not list(into.parent.glob("*.rebuild*"))


def test_packets_that_were_moved_are_found_where_they_lie(run, held, tmp_path):
    folder, into, policy = held
    folder.rename(tmp_path / "moved")
    status, _, err = run("collect", "--rebuild", "--into", into, "--policy", policy)
    assert status == 2
    assert "2 of its packets are gone" in err, "a fork's two packets are kept"
    moved = tmp_path / "moved"
    again = run("collect", moved, "--rebuild", "--into", into, "--policy", policy)
    assert again[0] == 1
    (moved / "002.json").unlink()
    (moved / "003.json").unlink()
    status, _, _ = run("collect", "--rebuild", "--into", into)
    assert status == 1, "the fork stays proven, its packets are in the collection"
    assert len(asked(into, "SELECT 1 FROM kept_packet")) == 2


def test_a_moved_packet_that_is_seen_again_is_looked_for_there(run, held, tmp_path):
    folder, into, policy = held
    folder.rename(tmp_path / "moved")
    run("collect", tmp_path / "moved", "--into", into)
    assert run("collect", "--rebuild", "--into", into, "--policy", policy)[0] == 1


def test_packets_are_found_again_from_another_folder(run, held, tmp_path, monkeypatch):
    _, _, policy = held
    assert run("collect", "in", "--into", "other.duckdb")[0] == 1
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    into = tmp_path / "other.duckdb"
    assert run("collect", "--rebuild", "--into", into, "--policy", policy)[0] == 1


def test_nothing_to_rebuild_is_refused(run, tmp_path):
    status, _, err = run("collect", "--rebuild", "--into", tmp_path / "none.duckdb")
    assert status == 2
    assert "no such collection" in err
    assert run("collect", "--into", tmp_path / "none.duckdb")[0] == 2
    assert not (tmp_path / "none.duckdb").exists()
