"""Prints how fast the bay answers eight tablets at once, beside a log of many entries.

Run it with ``python tests/benchmarks/bay.py [--entries N] [--seconds S] [--tablets T]
[--pause P] [--folder FOLDER]``; nothing here passes or fails. The log is the one of
``growth.py``; a log of that size that lies in the folder is taken as it is, and grows.

``auditkit bay`` runs as its own process. The tablets are threads of this one, each with
its own connection and person's sign-in, and no pause between touches unless one is
asked for: so what is printed holds the client's own work too, on the same cores. Each
opens an order of another vehicle, names a suspect, and then records clear after clear
until the order has some twelve entries, and opens the next. Before each form it loads
its page, keeps three drafts, and asks twice whether the order has news.

A form is answered when its redirect is there: it was judged, signed, and is durable.
"""

from __future__ import annotations

import argparse
import http.client
import os
import re
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partialmethod
from itertools import count
from pathlib import Path
from urllib.parse import urlencode

from growth import MOST, NEW, PASSPHRASE, PERSON, build, events_of

from auditkit.log.ledger import Ledger
from auditkit.proof.keys import PrivateKey

HERE = "127.0.0.1"
STEPS = 12  # entries of an order before the next is opened
FORM = "application/x-www-form-urlencoded"
OPENING = {
    "tool": "text adapter (invented)",
    "vehicle.odometer.unit": "km",
    "vehicle.description": "delivery van, 2.0 litre",
    "complaint": "engine lamp is on",
}
STEP = {
    "diagnosis": {
        "codes.0": "P0401",
        "suspect_parts.0.name": "EGR valve",
        "suspect_parts.0.system": "egr",
        "suspect_parts.0.where.0": "engine-bay",
        "reasoning": "EGR flow below its limit",
    },
    "code_clear": {"tool": "text adapter (invented)"},
}


class Tablet:
    """A browser's connection; ``took`` is what was asked -> the seconds of each."""

    def __init__(self, port: int) -> None:
        self._made = http.client.HTTPConnection(HERE, port, timeout=60)
        self.took: dict[str, list[float]] = defaultdict(list)
        self._cookies: dict[str, str] = {}
        self._token = ""

    def ask(
        self, what: str, method: str, path: str, fields: dict | None = None
    ) -> tuple[int, str, str]:
        """Return status, where it leads, and the text of an answer."""
        cookies = "; ".join(f"{n}={v}" for n, v in self._cookies.items())
        body = None
        if fields is not None:
            body = urlencode({"form_token": self._token, **fields})
        begun = time.perf_counter()
        for _ in range(2):
            try:
                self._made.request(
                    method, path, body, {"Cookie": cookies, "Content-Type": FORM}
                )
                answer = self._made.getresponse()
                text = answer.read().decode()
                break
            except ConnectionError:
                self._made.close()  # idle for too long: a browser asks again too
        else:
            raise ConnectionError(path)
        self.took[what].append(time.perf_counter() - begun)
        for line in answer.headers.get_all("Set-Cookie") or ():
            name, _, value = line.partition(";")[0].partition("=")
            self._cookies[name] = value
        if found := re.search(r'name="form_token" value="([0-9a-f]+)"', text):
            self._token = found[1]
        return answer.status, answer.headers.get("Location", ""), text

    def sign_in(self) -> None:
        word = {"person": PERSON, "passphrase": PASSPHRASE.decode()}
        status, _, text = self.ask("sign-in", "POST", "/sign-in", word)
        if status != HTTP_SEE_OTHER:
            raise ConnectionError(text)
        self.ask("page", "GET", "/orders")


HTTP_SEE_OTHER = 303


def opening(number: int) -> dict[str, str]:
    """Return what opens an order of a vehicle with VIN and counts of its own."""
    raw = next(e["raw"] for e in events_of(number) if e["kind"] == "readout")
    odometer = str(100_000 + number % 800_000)
    return {**OPENING, "raw": raw, "vehicle.odometer.value": odometer}


def work(
    tablet: Tablet, vehicles: Iterator[int], name: str, until: float, pause: float
) -> None:
    """Record order after order until a time of ``perf_counter``."""
    for order in (f"{name}-{n}" for n in count(1)):
        opened = {"order": order, **opening(next(vehicles))}
        record(tablet, "/new-order", opened)
        for step in range(1, STEPS):
            if time.perf_counter() >= until:
                return
            kind = "diagnosis" if step == 1 else "code_clear"
            page = tablet.ask("page", "GET", f"/orders/{order}")[2]
            entry = re.search(r"argument\?entry=(\d+)", page)
            for _ in range(2):
                where = f"/orders/{order}/argument?entry={entry[1] if entry else 0}"
                tablet.ask("news", "GET", where)
            path = f"/orders/{order}/add/{kind}"
            once = f"{order}-{step}"
            tablet.ask("page", "GET", path)
            for _ in range(3):
                draft = f"/orders/{order}/draft/{kind}"
                tablet.ask("draft", "POST", draft, {"once": once, **STEP[kind]})
                time.sleep(pause)
            record(tablet, path, {"once": once, **STEP[kind]})


def record(tablet: Tablet, path: str, fields: dict) -> None:
    fields = {"once": f"{fields.get('order')}-0", **fields}
    status, _, text = tablet.ask("form", "POST", path, fields)
    if status != HTTP_SEE_OTHER:
        told = re.sub(r"<[^>]+>", " ", text)
        raise ConnectionError(f"{path}: {status}: {' '.join(told.split())[:600]}")


def megabytes(process: int) -> str:
    """Return the resident memory of a process, where the system tells it so."""
    status = Path(f"/proc/{process}/status")
    if not status.exists():
        return "unknown"
    kilobytes = int(re.search(r"VmRSS:\s+(\d+)", status.read_text())[1])
    return f"{kilobytes / 1024:.1f} MB"


def processor(process: int) -> float:
    """Return the processor seconds that a process has used, 0 where nothing says so."""
    stat = Path(f"/proc/{process}/stat")
    if not stat.exists():
        return 0
    fields = stat.read_text().rpartition(")")[2].split()
    return sum(map(int, fields[11:13])) / os.sysconf("SC_CLK_TCK")


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


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--entries", type=int, default=1000)
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--tablets", type=int, default=8)
    parser.add_argument("--pause", type=float, default=0, help="s after each draft")
    parser.add_argument("--folder", type=Path)
    asked = parser.parse_args()
    PrivateKey.to_pkcs12 = partialmethod(PrivateKey.to_pkcs12, kdf_rounds=1000)
    with tempfile.TemporaryDirectory() as made:
        log = (asked.folder or Path(made)) / f"{asked.entries}.auditlog"
        if not log.exists():
            build(log, asked.entries)
        bay, port = started(log)
        try:
            measure(log, bay, port, asked)
        finally:
            bay.terminate()
            bay.wait()


def measure(log: Path, bay: subprocess.Popen, port: int, asked) -> None:
    tablets = [Tablet(port) for _ in range(asked.tablets)]
    for tablet in tablets:
        tablet.sign_in()
        tablet.took.clear()
    before, size = megabytes(bay.pid), _size(log)
    begun = time.perf_counter()
    run = f"B{time.time_ns() // 1_000_000 % 10**9}"
    vehicles = count(NEW + time.time_ns() // 10_000_000 % (MOST - NEW))
    used, until = processor(bay.pid), begun + asked.seconds
    with ThreadPoolExecutor(asked.tablets) as threads:
        working = [
            threads.submit(work, tablet, vehicles, f"{run}-{n}", until, asked.pause)
            for n, tablet in enumerate(tablets)
        ]
        for one in working:
            one.result()
    took = time.perf_counter() - begun
    used = processor(bay.pid) - used
    after = megabytes(bay.pid)
    written = _size(log) - size
    print(
        f"{asked.tablets} tablets beside a log of {size:,} entries, {took:.0f} s, "
        f"{asked.pause:g} s between touches; {written:,} entries written"
    )
    print(f"{'asked':<10}{'times':>8}{'a second':>10}{'p50 ms':>10}{'p99 ms':>10}")
    total = 0
    for what in ("form", "draft", "page", "news"):
        each = sorted(1000 * s for tablet in tablets for s in tablet.took[what])
        total += len(each)
        p99 = each[min(len(each) - 1, len(each) * 99 // 100)]
        rate = len(each) / took
        print(
            f"{what:<10}{len(each):>8,}{rate:>10.1f}"
            f"{statistics.median(each):>10.1f}{p99:>10.1f}"
        )
    print(f"{'all':<10}{total:>8,}{total / took:>10.1f}")
    print(f"processor time of the bay: {used:.1f} s, {1000 * used / total:.1f} ms each")
    print(f"memory of the bay: {before} before, {after} after")


def _size(log: Path) -> int:
    with Ledger.open(log) as ledger:
        return ledger.store.head()[0]


if __name__ == "__main__":
    main()
