"""All cores, or a cluster's workers, give what one process gives, in the same order."""

import subprocess
import sys
from hashlib import sha256

import pytest
from collections_made import collected, content, written
from deadly_files import killing, killing_there, other_rules
from made_logs import OTHER_VIN, VIN, MadeLog, demo_events
from sampling import count

from auditkit.errors import InputError
from auditkit.fleet import cluster, pool
from auditkit.fleet.collecting import HowCollected, collect
from auditkit.fleet.judging import FoundFile, Judged, Refused
from auditkit.fleet.pool import KILLED, chunks, judged_here, judged_in_processes
from auditkit.order.policy import DEFAULT


@pytest.fixture(scope="module")
def packets():
    """Return the packets of two logs of which one is forked, with junk among them."""
    made = ["{}", b"\xff\xfe", ""]
    for number in (1, 2):
        log = MadeLog(number)
        for n in range(8):
            events = demo_events(vin=(VIN, OTHER_VIN)[n % 2], days=n)
            log.close(f"RO-{n}", events[: 4 + n % 3])
            made.append(log.packet(f"RO-{n}"))
    other = log.fork()
    log.close("RO-8", demo_events(days=9)[:3])
    other.close("RO-9", demo_events(days=9)[:4])
    made += [log.packet("RO-8"), other.packet("RO-9"), made[5].replace("tool", "toil")]
    return made


@pytest.fixture
def small_chunks(monkeypatch):
    monkeypatch.setattr(pool, "CHUNK_FILES", 3)


def found_files(texts):
    data = [t if isinstance(t, bytes) else t.encode() for t in texts]
    return [FoundFile(f"{n}", sha256(d).digest(), d) for n, d in enumerate(data)]


def test_chunks_keep_files_in_order_and_bounded():
    files = [FoundFile(str(n), b"", bytes(n * 100_000)) for n in range(120)]
    made = list(chunks(iter(files)))
    assert [file for chunk in made for file in chunk] == files
    assert max(map(len, made)) <= pool.CHUNK_FILES
    for chunk in made:
        assert sum(len(f.data) for f in chunk[:-1]) < pool.CHUNK_BYTES


@pytest.mark.usefixtures("small_chunks")
def test_processes_give_what_one_gives(packets):
    files = found_files(packets)
    alone = list(judged_here(files))
    assert list(judged_in_processes(iter(files), DEFAULT, 2)) == alone
    assert sum(isinstance(one, Judged) for one in alone) == 18
    assert sum(isinstance(one, Refused) for one in alone) == 4


@pytest.mark.usefixtures("small_chunks")
def test_a_file_that_kills_its_process_is_refused_by_name(packets, monkeypatch):
    files = found_files([*packets[:9], "kill", *packets[9:]])
    expected = list(judged_here(files))
    expected[9] = Refused("9", KILLED, "", files[9].sha256, 4)
    monkeypatch.setattr(pool, "judged_files", killing)
    assert list(judged_in_processes(iter(files), DEFAULT, 2)) == expected


def test_a_script_that_starts_itself_again_is_told_so(packets, tmp_path):
    folder = written(tmp_path / "in", packets * 2)
    into, script = tmp_path / "fleet.duckdb", tmp_path / "script.py"
    script.write_text(
        "from pathlib import Path\n"
        "from auditkit.fleet.collecting import collect\n"
        f"collect([Path({str(folder)!r})], Path({str(into)!r}))\n"
    )
    ran = subprocess.run(
        [sys.executable, script], check=False, capture_output=True, text=True
    )
    assert ran.returncode == 1
    assert ran.stderr.count("AuditkitError: ") == 1
    assert 'if __name__ == "__main__":' in ran.stderr.splitlines()[-1]
    assert not into.exists(), "nothing was taken in"


@pytest.fixture(scope="module")
def address():
    """Return the address of a cluster of processes on this computer."""
    import dask
    from distributed import LocalCluster

    # One dead worker is enough to blame a task; by default it is tried four times.
    dask.config.set({"distributed.scheduler.allowed-failures": 0})
    made = LocalCluster(
        n_workers=count(2, 2, 2),
        threads_per_worker=1,
        processes=True,
        dashboard_address=None,
        host="127.0.0.1",
    )
    with made:
        yield made.scheduler_address


class TestOverTLS:
    NAMED = tuple(
        f"distributed.comm.tls.{name}"
        for name in ("ca-file", "client.cert", "client.key")
    )

    def asked(self, address, files=()):
        return list(cluster.judged_on_cluster(iter(files), DEFAULT, address))

    def test_certificates_are_those_of_dasks_own_configuration(self, packets):
        import dask
        from distributed import LocalCluster
        from distributed.security import Security

        made = Security.temporary()
        own = (made.tls_ca_file, made.tls_client_cert, made.tls_client_key)
        files = found_files(packets[:5])
        with (
            LocalCluster(
                n_workers=1,
                processes=False,
                dashboard_address=None,
                host="127.0.0.1",
                protocol="tls",
                security=made,
            ) as there,
            dask.config.set(dict(zip(self.NAMED, own, strict=True))),
        ):
            assert there.scheduler_address.startswith("tls://")
            found = self.asked(there.scheduler_address, files)
        assert found == list(judged_here(files))

    def test_without_one_nobody_is_asked_and_nothing_is_left(self, run, tmp_path):
        folder, into = written(tmp_path / "in", ["{}"]), tmp_path / "fleet.duckdb"
        how = ("--scheduler", "tls://127.0.0.1:1")
        status, _, err = run("collect", folder, "--into", into, *how)
        assert status == 2
        assert "tls://127.0.0.1:1: there is no certificate to reach it with" in err
        assert not into.exists()

    def test_one_that_cannot_be_read_is_told(self):
        import dask

        with (
            dask.config.set(dict.fromkeys(self.NAMED, "none.pem")),
            pytest.raises(InputError, match="names cannot be used"),
        ):
            self.asked("tls://127.0.0.1:1")

    def test_where_tls_is_asked_for_nothing_else_is_tried(self):
        import dask

        with (
            dask.config.set({"distributed.comm.require-encryption": True}),
            pytest.raises(InputError, match="asks for TLS"),
        ):
            self.asked("tcp://127.0.0.1:1")


def test_a_cluster_makes_the_same_collection(run, packets, tmp_path, address):
    into, _ = collected(tmp_path / "here", packets)
    folder = written(tmp_path / "in", packets)
    there = tmp_path / "there.duckdb"
    status, out, err = run("collect", folder, "--into", there, "--scheduler", address)
    assert (status, err) == (1, "")
    assert out.startswith("18 packets taken in")
    assert content(there) == content(into)
    again = run("collect", folder, "--into", there, "--scheduler", address)
    assert again[1].startswith("0 packets taken in, 18 held already")


@pytest.mark.usefixtures("small_chunks")
def test_a_file_that_kills_its_worker_is_refused_by_name(packets, monkeypatch, address):
    files = found_files([*packets[:4], "kill", *packets[4:8]])
    expected = list(judged_here(files))
    expected[4] = Refused("4", KILLED, "", files[4].sha256, 4)
    monkeypatch.setattr(pool, "judged_files", killing)
    monkeypatch.setattr(cluster, "judged_there", killing_there)
    found = cluster.judged_on_cluster(iter(files), DEFAULT, address)
    assert list(found) == expected


def test_a_worker_with_other_rules_is_refused(packets, monkeypatch, tmp_path, address):
    monkeypatch.setattr(cluster, "judged_there", other_rules)

    def judging(files, policy):
        return cluster.judged_on_cluster(files, policy, address)

    with pytest.raises(InputError, match="other rules than auditkit"):
        collect(
            [written(tmp_path / "in", packets)],
            tmp_path / "fleet.duckdb",
            HowCollected(judging=judging),
        )


@pytest.mark.parametrize("bad", ["tcp://127.0.0.1:9", "nothing", "tcp://", "x://y:1"])
def test_a_scheduler_that_is_not_there_is_told(
    run, packets, tmp_path, bad, monkeypatch
):
    monkeypatch.setattr(cluster, "_WAIT", 1)
    folder = written(tmp_path / "in", packets[3:5])
    into = tmp_path / "fleet.duckdb"
    status, _, err = run("collect", folder, "--into", into, "--scheduler", bad)
    assert status == 2
    assert "no scheduler answers there" in err
