"""kill -9, four writers at once, a full disk: nothing acknowledged is lost."""

import os
import resource
import signal
import subprocess
import sys
import time

import pytest
from conftest import PASSPHRASE

from auditkit.log.ledger import Ledger

# A writer that appends events one after the other and prints the sequence number
# of each after it was acknowledged.
WRITER = """
import sys, pathlib
from auditkit.log.ledger import Ledger
from auditkit.errors import AuditkitError
event = {"kind": "code_clear", "at": "2026-03-02T09:00:00+01:00", "by": "owner",
         "tool": "x" * 400}
with Ledger.open(pathlib.Path(sys.argv[1])) as ledger:
    signer = ledger.signer("owner", sys.argv[3].encode())
    print("ready", flush=True)
    for _ in range(int(sys.argv[2])):
        try:
            (seq,) = ledger.append("RO-1", [event], person="owner", signer=signer)
        except AuditkitError as error:
            print("error:", error, flush=True)
            sys.exit(2)
        print(seq, flush=True)
"""

KILLS = int(os.environ.get("AUDITKIT_KILLS", "200"))


def start(path, count, **how):
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, path, str(count), PASSPHRASE.decode()],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        **how,
    )


@pytest.fixture
def path(ledger):
    return ledger._store.path


def test_kill_during_append_loses_nothing_acknowledged(path, ledger):
    acknowledged: set[int] = set()
    for round_number in range(KILLS):
        writer = start(path, 100_000)
        assert writer.stdout.readline() == "ready\n", writer.stderr.read()
        time.sleep(0.002 + (round_number % 10) * 0.002)
        writer.send_signal(signal.SIGKILL)
        out, _ = writer.communicate()
        # The last line may be cut off by the kill: it was not acknowledged.
        whole = out[: out.rfind("\n") + 1].split()
        acknowledged |= {int(word) for word in whole}
    report = ledger.verify()
    assert report.verified, report.problems
    assert len(acknowledged) > KILLS
    assert acknowledged <= set(range(2, report.entries))


def test_four_writers_keep_one_chain(path, ledger):
    count = 150
    writers = [start(path, count) for _ in range(4)]
    given: list[int] = []
    for writer in writers:
        out, error = writer.communicate(timeout=120)
        assert writer.returncode == 0, error
        given += [int(word) for word in out.split()[1:]]
    assert sorted(given) == list(range(2, 2 + 4 * count)), "no gap, none twice"
    report = ledger.verify()
    assert report.verified, report.problems
    assert report.entries == 2 + 4 * count


def test_full_disk_is_one_clear_error_and_loses_nothing(path, ledger):
    def small_files() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))

    writer = start(path, 100_000, preexec_fn=small_files)
    out, error = writer.communicate(timeout=120)
    assert writer.returncode == 2, error
    assert "Traceback" not in error
    lines = out.splitlines()
    assert lines[-1].startswith("error:")
    assert "disk is full" in lines[-1]
    assert "what was acknowledged is safe" in lines[-1]
    acknowledged = {int(word) for word in lines[1:-1]}
    assert len(acknowledged) > 10
    report = ledger.verify()
    assert report.verified, report.problems
    assert acknowledged <= set(range(2, report.entries))


def test_ledger_opens_after_a_kill(path):
    writer = start(path, 100_000)
    writer.stdout.readline()
    time.sleep(0.05)
    writer.kill()
    writer.communicate()
    with Ledger.open(path) as again:
        assert again.verify().verified
