"""Prints how fast the bay answers eight tablets at once, beside a log of many entries.

Nothing here passes or fails. The log is of the invented shop of ``growth.py``; one that
lies in the folder is taken as it is, and grows. On a quiet machine the whole is

    python tests/benchmarks/bay.py --entries 1000000 --minutes 60 --folder FOLDER

``auditkit bay`` runs as its own process. The tablets are threads of this one, each with
its own connection and person's sign-in, and no pause between touches unless one is
asked for: so what is printed holds the client's own work too, on the same cores. Each
opens an order of another vehicle, names a suspect, tests it on the bench, and goes on
recording until the order has some twelve entries, and opens the next. Before each form
it loads its page, keeps three drafts, and asks twice whether the order has news.

A form is answered when its redirect is there: it was judged, signed, and is durable.
Before that, one tablet works alone, and the processor time of the bay is printed for
each thing that it asks: that does not depend on how busy the machine is. Memory is
printed each minute, with the answers so far; it rises while what the bay remembers
fills up: connections and what they have proven, the orders under way, and the raw texts
of the last 1,024 readouts, which eight tablets at once have read after some 90,000
answers.

Where the time goes: one interpreter does all of it, so an answer waits for those before
it, the p99 of a form for several forms at once. Half of a form's processor time judges
the order, with its step and as if its suspect were replaced now; a fifth reads it back,
an eighth seals and writes, the rest is the page and its way through the server.
"""

from __future__ import annotations

import argparse
import os
import re
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partialmethod
from itertools import count
from pathlib import Path

from growth import MOST, NEW, PASSPHRASE, build, seconds
from tablets import HERE, Tablet, visits

from auditkit.log.ledger import Ledger
from auditkit.proof.keys import PrivateKey

WHAT = ("form", "draft", "page", "news")
ALONE = 60  # forms of the tablet that works alone
MINUTE = 60.0


def megabytes(process: int) -> str:
    """Return the resident memory of a process, where the system tells it so."""
    status = Path(f"/proc/{process}/status")
    if not status.exists():
        return "unknown"
    kilobytes = int(re.search(r"VmRSS:\s+(\d+)", status.read_text())[1])
    return f"{kilobytes / 1024:.1f} MB"


def processor(process: int) -> float:
    """Return the processor seconds that a process has used, 0 where nothing says so."""
    stat = Path(f"/proc/{process}/schedstat")
    return int(stat.read_text().split()[0]) / 1e9 if stat.exists() else 0


def all_threads(process: int) -> float:
    """Return the processor seconds of all threads of a process together."""
    tasks = Path(f"/proc/{process}/task")
    if not tasks.exists():
        return 0
    return sum(processor(int(one.name)) for one in tasks.iterdir())


def started(log: Path) -> tuple[subprocess.Popen, int]:
    """Start the bay of a log; return its process and port once it answers."""
    with socket.create_server((HERE, 0)) as one:
        port = one.getsockname()[1]
    process = subprocess.Popen(
        [sys.executable, "-m", "auditkit", "bay", "--log", log, "--port", str(port)],
        env={**os.environ, "AUDITKIT_PASSPHRASE": PASSPHRASE.decode()},
        stdout=subprocess.DEVNULL,
    )
    while process.poll() is None:
        try:
            socket.create_connection((HERE, port)).close()
        except OSError:
            time.sleep(0.05)
        else:
            return process, port
    raise ConnectionError("the bay did not start")


class Alone(Tablet):
    """A tablet that counts the processor time of the bay for each thing it asks."""

    def __init__(self, port: int, process: int) -> None:
        super().__init__(port)
        self._process = process
        self.used: dict[str, list[float]] = {what: [] for what in WHAT}

    def ask(
        self, what: str, method: str, path: str, fields: dict | None = None
    ) -> tuple[int, str, str]:
        """Ask; nobody else does meanwhile."""
        before = all_threads(self._process)
        found = super().ask(what, method, path, fields)
        self.used.setdefault(what, []).append(all_threads(self._process) - before)
        return found


def vehicles() -> Iterator[int]:
    """Return numbers of vehicles that another run does not use."""
    return count(NEW + time.time_ns() // 10_000_000 % (MOST - NEW))


def alone(port: int, bay: subprocess.Popen, run: str, *, alike: bool) -> None:
    """Print what each thing costs that one tablet asks, in processor time."""
    tablet = Alone(port, bay.pid)
    tablet.sign_in()
    work = visits(tablet, vehicles(), f"{run}-alone", alike=alike)
    while len(tablet.took["form"]) < ALONE:
        next(work)
    print(f"{'one alone':<12}{'times':>8}{'mean ms':>10}{'median ms':>11}  processor")
    for what in WHAT:
        used = [1000 * one for one in tablet.used[what]]
        mean, median = statistics.mean(used), statistics.median(used)
        print(f"{what:<12}{len(used):>8,}{mean:>10.2f}{median:>11.2f}", flush=True)


def measure(port: int, bay: subprocess.Popen, run: str, asked) -> None:
    """Let the tablets work at once; print how long they waited, minute by minute."""
    tablets = [Tablet(port) for _ in range(asked.tablets)]
    for tablet in tablets:
        tablet.sign_in()
    begun = time.perf_counter()
    until = begun + MINUTE * asked.minutes
    numbers = vehicles()

    def work(number: int) -> None:
        name = f"{run}-{number}"
        for _ in visits(tablets[number], numbers, name, alike=asked.alike):
            if time.perf_counter() >= until:
                return
            time.sleep(asked.pause)

    used = all_threads(bay.pid)
    print(f"memory of the bay: {megabytes(bay.pid)} before", flush=True)
    with ThreadPoolExecutor(asked.tablets) as threads:
        working = [threads.submit(work, number) for number in range(asked.tablets)]
        for minute in count(1):
            at = begun + minute * MINUTE
            while time.perf_counter() < min(at, until):
                time.sleep(0.1)
            if at >= until:
                break
            answers = sum(len(tablet.took[what]) for tablet in tablets for what in WHAT)
            told = f"{megabytes(bay.pid)}, {answers:,} answers"
            print(f"  after {minute} min: {told}", flush=True)
        for one in working:
            one.result()
    took = time.perf_counter() - begun
    used = all_threads(bay.pid) - used
    print(f"memory of the bay: {megabytes(bay.pid)} after", flush=True)
    print(f"{'asked':<12}{'times':>8}{'a second':>10}{'p50 ms':>10}{'p99 ms':>10}")
    total = 0
    for what in WHAT:
        each = sorted(1000 * s for tablet in tablets for s in tablet.took[what])
        total += len(each)
        p99 = each[min(len(each) - 1, len(each) * 99 // 100)]
        print(
            f"{what:<12}{len(each):>8,}{len(each) / took:>10.1f}"
            f"{statistics.median(each):>10.1f}{p99:>10.1f}"
        )
    print(f"{'all':<12}{total:>8,}{total / took:>10.1f}")
    print(f"processor time of the bay: {used:.1f} s, {1000 * used / total:.2f} ms each")


def main() -> None:
    """Build the log if need be, start its bay, and let the tablets work."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--entries", type=int, default=1000, help="of the log")
    parser.add_argument("--minutes", type=float, default=1 / 3, help="of work")
    parser.add_argument("--tablets", type=int, default=8)
    parser.add_argument(
        "--pause", type=float, default=0, help="seconds after each draft"
    )
    parser.add_argument(
        "--alike",
        action="store_true",
        help="every order of the log, and of the tablets, holds the same readings: no "
        "honest shop's, and the worst for whoever looks who else holds them",
    )
    parser.add_argument(
        "--folder", type=Path, help="where the log lies or is made; else it is not kept"
    )
    asked = parser.parse_args()
    PrivateKey.to_pkcs12 = partialmethod(PrivateKey.to_pkcs12, kdf_rounds=1000)
    with tempfile.TemporaryDirectory() as made:
        kind = "-alike" * asked.alike
        log = (asked.folder or Path(made)) / f"{asked.entries}{kind}.auditlog"
        if not log.exists():
            took = seconds(lambda: build(log, asked.entries, alike=asked.alike))
            print(f"{log.name}: written in {took:.0f} s", flush=True)
        before = _size(log)
        bay, port = started(log)
        run = f"B{time.time_ns() // 1_000_000 % 10**9}"
        print(f"{asked.tablets} tablets beside a log of {before:,} entries", flush=True)
        try:
            alone(port, bay, run, alike=asked.alike)
            measure(port, bay, run, asked)
        finally:
            bay.terminate()
            bay.wait()
        print(f"{_size(log) - before:,} entries written")


def _size(log: Path) -> int:
    with Ledger.open(log) as ledger:
        return ledger.store.head()[0]


if __name__ == "__main__":
    main()
