"""Killed at any moment, a collector has lost nothing that it had committed.

What is there is whole, and the same call goes on to what an undisturbed one makes. A
seeded sample of moments; AUDITKIT_TESTS=all kills many times.
"""

import subprocess
import sys
import time

import duckdb
import pytest
from collections_made import asked, content, written
from made_logs import OTHER_VIN, VIN, MadeLog, demo_events
from sampling import chance, count

from auditkit.fleet.collecting import collect

RUN = """
import sys
from pathlib import Path
from auditkit.fleet import collecting
from auditkit.fleet.writing import Writer
collecting.BATCH = 4
load = Writer.load
total = 0
def told(self, batch):
    global total
    done = load(self, batch)
    total += done.added
    print(total, flush=True)
    return done
Writer.load = told
print("begun", flush=True)
collecting.collect([Path(sys.argv[1])], Path(sys.argv[2]))
print("done", flush=True)
"""
_WHOLE = (
    # A packet's order, its entries and its stretches are there with it.
    """SELECT count(*) FROM packet p ANTI JOIN repair_order o USING (order_id)
    WHERE p.is_verified""",
    """SELECT count(*) FROM (SELECT log_id, unnest(own_seqs) AS seq FROM packet)
    ANTI JOIN event USING (log_id, seq)""",
    """SELECT count(*) FROM packet p ANTI JOIN stretch s ON s.log_id = p.log_id
    AND s.first = 0 AND s.entries = p.checkpoint_size WHERE p.is_verified""",
    *(
        f"SELECT count(*) FROM {table} ANTI JOIN repair_order USING (order_id)"
        for table in ("fault", "answer", "part", "bench_reading", "readout")
    ),
    "SELECT count(*) FROM repair_order ANTI JOIN answer USING (order_id)",
    "SELECT count(*) - count(DISTINCT sha256) FROM packet",
    "SELECT count(*) - count(DISTINCT (log_id, seq, leaf)) FROM event",
    """SELECT count(*) FROM log l JOIN (SELECT log_id, count(DISTINCT seq) AS n
    FROM event GROUP BY log_id) USING (log_id) WHERE l.entries_delivered <> n""",
)


@pytest.fixture(scope="module")
def packets(tmp_path_factory):
    """Return a folder of packets with stages, a fork and a reused number, and junk."""
    made = []
    for number in range(1, 4):
        log = MadeLog(number)
        for n in range(4):
            events = demo_events(vin=(VIN, OTHER_VIN)[n % 2], days=n)
            log.close(f"RO-{n}", events[:4])
            made.append(log.packet(f"RO-{n}"))
        log.close("RO-1", demo_events(vin=OTHER_VIN, days=9)[4:9])
        made.append(log.packet("RO-1", reveal=("name",)))
    other = log.fork()
    log.close("RO-5", demo_events(days=20)[:3])
    other.close("RO-6", demo_events(days=21)[:3])
    made += [log.packet("RO-5"), other.packet("RO-6"), "{}", made[0]]
    chance("crash order").shuffle(made)
    return written(tmp_path_factory.mktemp("crash") / "in", made)


def started(folder, into):
    return subprocess.Popen(
        [sys.executable, "-c", RUN, str(folder), str(into)],
        stdout=subprocess.PIPE,
        text=True,
    )


def whole(into):
    if not into.exists() or not asked(into, "SHOW TABLES"):
        return []
    with duckdb.connect(str(into), read_only=True) as opened:
        return [sql for sql in _WHOLE if opened.execute(sql).fetchall() != [(0,)]]


def test_a_killed_collector_goes_on_to_the_same(packets, tmp_path):
    undisturbed = tmp_path / "undisturbed.duckdb"
    with started(packets, undisturbed) as child:
        assert child.stdout.read().endswith("done\n")
    expected = content(undisturbed)
    assert whole(undisturbed) == []
    moments = chance("kills")
    for number in range(count(1, 60)):
        into = tmp_path / f"{number}.duckdb"
        for _ in range(count(2, 2, 2)):
            before = held(into)
            reported = killed(packets, into, moments)
            print(f"kill {number}: {before} held, {reported} more reported")
            assert whole(into) == []
            assert held(into) >= before + reported, "what was committed is there"
        collect([packets], into)
        assert content(into) == expected
        assert whole(into) == []


def killed(folder, into, moments):
    """Kill a collector some time after a batch; return what it had reported."""
    with started(folder, into) as child:
        begun = moments.randrange(1, 4)
        lines = [child.stdout.readline() for _ in range(begun)]
        time.sleep(moments.uniform(0, 0.2))
        child.kill()
        lines += child.stdout.readlines()
    totals = [int(line) for line in lines if line.strip().isdecimal()]
    return totals[-1] if totals else 0


def held(into):
    if not into.exists() or not asked(into, "SHOW TABLES"):
        return 0
    return asked(into, "SELECT count(*) FROM packet WHERE is_verified")[0][0]
