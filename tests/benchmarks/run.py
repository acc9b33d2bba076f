"""Prints the table of speeds as ratios to floors taken in the same run.

Run it with ``python tests/benchmarks/run.py [--quick]``. A ratio of 1.00 means as
fast as the floor; nothing here passes or fails. Each pair is measured in turns,
several times, and the median of the ratios is shown. Growth with the size of the log is
``growth.py``'s.

The floors are the least that a log of signed events could do, and leave out what this
one does besides. Appending and importing: parse, sign, hash, insert, commit; not the
schema that the event must fit, the root of the tree that each entry states, the
subtrees and look-ups kept beside it, the index by repair order, and the reading back of
what was inserted. The quick check: read and hash; not the chain, the tree, the
checkpoints and the files beside the log. The full check: Ed25519 alone, over as many
processes; not the form of each payload, the chain, the root of each entry, the subtrees
and look-ups, and reading the file. Its entries are bench tests: a readout costs more,
since its marks are made anew of its answers.

Why importing in batches misses its reach, by profile of an event's time: signing 18 %,
parsing 13 %, and inserting, hashing and committing 8 % are the floor's too. The event's
schema takes 19 %, its canonical text 8 %, the root that it states and the tree 3 %, its
leaf 4 %, look-ups and reading back 4 %; what its readings are known by in another order
takes 5 %, timed alone (a profile makes more of many small calls); what is left is
spread over making and checking each entry. The full check misses its reach by reading
each payload (7 % of the time, signatures being 67 %), what readings are known by (4 %,
timed alone), the file's rows (4 %) and looking for marks (3 %). The quick check hashes
as often again for the tree as the floor does, and looks for the leaf hash before in
each payload.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import sqlite3
import statistics
import struct
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

from auditkit.log.ledger import Ledger
from auditkit.log.store import Store
from auditkit.log.verified_state import VerifiedState
from auditkit.log.verify_since import verify_since
from auditkit.obd import decode, services
from auditkit.order.event_kinds import OWN_KINDS
from auditkit.order.schema import validate_event
from auditkit.proof.entry import Entry, Payload, sign
from auditkit.proof.keys import PrivateKey

EVENT = {
    "kind": "bench_test",
    "at": "2026-03-02T09:30:00+01:00",
    "by": "mechanic-1",
    "part": "egr-valve",
    "test": "vacuum hold",
    "result": {"name": "vacuum after 60 s", "value": "8.5", "unit": "inHg"},
    "readings": [
        {"name": f"vacuum after {n} s", "value": f"{18 - n / 6:.1f}", "unit": "inHg"}
        for n in range(0, 60, 10)
    ],
    "conditions": {"air temperature": {"value": "21", "unit": "degC"}},
    "instruments": [{"id": "gauge-1", "description": "vacuum gauge 0 to 30 inHg"}],
    "limit": {"minimum": "15", "unit": "inHg", "source": "invented for this run"},
}
TEXT = json.dumps(EVENT)


def seconds(work) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def ratio(name: str, reach: str, floor, work, *, rounds: int) -> None:
    """Print floor time / work time, the median over paired rounds."""
    pairs = [(seconds(floor), seconds(work)) for _ in range(rounds)]
    ratios = sorted(f / w for f, w in pairs)
    low, middle, high = ratios[0], statistics.median(ratios), ratios[-1]
    print(f"{name:<46} {reach:>8} {middle:7.2f}   {low:.2f} to {high:.2f}", flush=True)


def payload(seq: int, key: PrivateKey, prev: str | None) -> Payload:
    stamp = datetime.now(UTC).isoformat(timespec="milliseconds")
    return Payload(
        by="mechanic-1",
        event=json.loads(TEXT),
        key=key.public.thumbprint,
        log="floor",
        prev=prev,
        recorded_at=stamp,
        repair_order="RO-1",
        root="0" * 64,
        seq=seq,
    )


def floor_db(path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(path, isolation_level=None)
    db.execute("pragma journal_mode = wal")
    db.execute("pragma synchronous = full")
    db.execute(
        "create table entry (seq integer primary key, header text, payload text,"
        " signature blob, leaf blob, repair_order text, kind text) strict"
    )
    return db


INSERT = "insert into entry values (?, ?, ?, ?, ?, ?, ?)"


def floor_rows(count: int, key: PrivateKey) -> list[tuple]:
    """Parse, sign, hash: nothing else."""
    rows = []
    prepared = FLOOR_TEXT
    for _ in range(count):
        value = json.loads(TEXT)
        message = prepared
        signature = key.sign(message)
        leaf = hashlib.sha256(b"\0" + message + signature).digest()
        rows.append(
            (None, "h", prepared.decode(), signature, leaf, "RO-1", value["kind"])
        )
    return rows


_KEY = PrivateKey.generate()
FLOOR_TEXT = sign(payload(0, _KEY, None), _KEY).payload.encode()


def appends(folder: Path, count: int, rounds: int) -> None:
    db = floor_db(folder / "floor.db")  # kept open, as the log is

    def durable_floor() -> None:
        for _ in range(count):
            rows = floor_rows(1, _KEY)
            db.execute("begin immediate")
            db.executemany(INSERT, rows)
            db.execute("commit")

    ledger = Ledger.create(
        folder / "a.log", shop="Bench", person="mechanic-1", passphrase=b"pass"
    )
    signer = ledger.signer("mechanic-1", b"pass")

    def one(events: list[dict]) -> None:
        for event in events:
            if validate_event(event, OWN_KINDS):
                raise AssertionError(event)
        ledger.append("RO-1", events, person="mechanic-1", signer=signer)

    def durable() -> None:
        for _ in range(count):
            one([json.loads(TEXT)])

    ratio("append one event, durable", ">= 0.75", durable_floor, durable, rounds=rounds)

    def batch_floor() -> None:
        for _ in range(10):
            rows = floor_rows(count, _KEY)
            db.execute("begin immediate")
            db.executemany(INSERT, rows)
            db.execute("commit")

    def batch() -> None:
        for _ in range(10):
            one([json.loads(TEXT) for _ in range(count)])

    ratio(f"import in batches of {count}", ">= 0.70", batch_floor, batch, rounds=rounds)
    ledger.close()
    db.close()


JOBS: list[tuple[bytes, bytes]] = []  # processes that are forked find them ready


def _verify_range(raw: bytes, start: int, stop: int) -> None:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    key = Ed25519PublicKey.from_public_bytes(raw)
    for signature, message in JOBS[start:stop]:
        key.verify(signature, message)


def verification(folder: Path, count: int, rounds: int) -> None:
    path = folder / "v.log"
    with Ledger.create(
        path, shop="Bench", person="mechanic-1", passphrase=b"pass"
    ) as ledger:
        signer = ledger.signer("mechanic-1", b"pass")
        for _ in range(count // 500):
            events = [json.loads(TEXT) for _ in range(500)]
            ledger.append("RO-1", events, person="mechanic-1", signer=signer)

    def read_floor() -> None:
        db = sqlite3.connect(path)
        for row in db.execute("select header, payload, signature, leaf from entry"):
            hashlib.sha256(b"\0" + row[0].encode() + row[1].encode() + row[2]).digest()
        db.close()

    def verify(*, signatures: bool) -> None:
        with Ledger.open(path) as ledger:
            report = ledger.verify(signatures=signatures)
        if not report.verified:
            raise AssertionError(report.problems)

    ratio(
        f"verify {count} entries, chain and tree only",
        ">= 0.65",
        read_floor,
        lambda: verify(signatures=False),
        rounds=rounds,
    )
    store = Store.open(path)
    entries: list[Entry] = [row.entry for row in store.rows() if row.repair_order]
    store.close()
    raw = signer.public.raw
    JOBS[:] = [(e.signature, e.signing_input) for e in entries]
    cores = os.cpu_count() or 1
    part = len(JOBS) // (4 * cores) + 1

    def bare_floor() -> None:
        with ProcessPoolExecutor(cores) as pool:
            parts = range(0, len(JOBS), part)
            done = [pool.submit(_verify_range, raw, at, at + part) for at in parts]
            for found in done:
                found.result()

    ratio(
        f"verify every signature, {cores} cores",
        ">= 0.80",
        bare_floor,
        lambda: verify(signatures=True),
        rounds=rounds,
    )
    again(folder, path, count, rounds)


def again(folder: Path, path: Path, count: int, rounds: int) -> None:
    """Verify what is new in a log, beside a log of about as many entries alone."""
    alone = folder / "alone.log"
    new = count // 10
    with Ledger.create(
        alone, shop="Bench", person="mechanic-1", passphrase=b"pass"
    ) as ledger:
        state = _grown(path, 0)
        events = [json.loads(TEXT) for _ in range(new)]
        signer = ledger.signer("mechanic-1", b"pass")
        ledger.append("RO-1", events, person="mechanic-1", signer=signer)
    _grown(path, new)

    def verify_new() -> None:
        store = Store.open(path)
        report = verify_since(store, state).report
        store.close()
        if not report.verified or report.entries - report.since != new:
            raise AssertionError(report.problems)

    def verify_alone() -> None:
        store = Store.open(alone)
        report = verify_since(store, None).report
        store.close()
        if not report.verified:
            raise AssertionError(report.problems)

    pairs = [(seconds(verify_alone), seconds(verify_new)) for _ in range(rounds * 3)]
    times = statistics.median(w / f for f, w in pairs)
    name = f"verify {new} new of {count}, times those alone"
    print(f"{name:<46} {'<= 1.5':>8} {times:7.2f}")


def _grown(path: Path, number: int) -> VerifiedState | None:
    """Append events to a log; without any, verify it and return what is to be kept."""
    with Ledger.open(path) as ledger:
        if number == 0:
            return verify_since(ledger.store, None).state
        signer = ledger.signer("mechanic-1", b"pass")
        events = [json.loads(TEXT) for _ in range(number)]
        ledger.append("RO-1", events, person="mechanic-1", signer=signer)
    return None


def decoding(count: int, rounds: int) -> None:
    """Service 06 records, beside a bare loop of unpack and multiply."""
    steps = [Decimal("0.01")] * 256
    record = struct.Struct(">BBBHHH")
    source = random.Random(6)
    messages = [
        b"".join(
            record.pack(
                0x3C, 0x81 + n, 0x17, *(source.randrange(1 << 16) for _ in "vlh")
            )
            for n in range(100)
        )
        for _ in range(count // 100)
    ]

    def floor() -> None:
        for body in messages:
            for _, _, scale, value, low, high in record.iter_unpack(body):
                step = steps[scale]
                _ = (value * step, low * step, high * step)

    def payloads() -> None:
        for body in messages:
            found, refused = services.self_tests("7E8", body)
            if refused or len(found) != 100:
                raise AssertionError(refused)

    # One text holds one readout: 100 records, as many as a vehicle gives at most.
    texts = ["\n".join(hex_frames(b"\x46" + body)) for body in messages]

    def whole() -> None:
        decode.cache_clear()
        for text in texts:
            if len(decode(text).self_tests) != 100:
                raise AssertionError(text)

    ratio(
        f"decode {count} service 06 records, payloads",
        "-",
        floor,
        payloads,
        rounds=rounds,
    )
    ratio(
        f"decode {count} service 06 records, from text",
        "-",
        floor,
        whole,
        rounds=rounds,
    )


def hex_frames(payload: bytes) -> list[str]:
    """Return a long message as lines of frames (ISO 15765-2)."""
    first = bytes([0x10 | len(payload) >> 8, len(payload) & 0xFF]) + payload[:6]
    rest = [
        bytes([0x20 | n & 0xF]) + payload[at : at + 7]
        for n, at in enumerate(range(6, len(payload), 7), start=1)
    ]
    return [f"7E8 {f.ljust(8, bytes(1)).hex(' ').upper()}" for f in (first, *rest)]


def start_up(rounds: int) -> None:
    def run(*args: str) -> None:
        subprocess.run([sys.executable, *args], check=True, capture_output=True)

    pairs = [
        (
            seconds(lambda: run("-c", "pass")),
            seconds(lambda: run("-m", "auditkit", "--help")),
        )
        for _ in range(rounds * 3)
    ]
    times = statistics.median(w / f for f, w in pairs)
    print(f"{'auditkit --help, times python -c pass':<46} {'<= 6':>8} {times:7.2f}")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true", help="a tenth of the work")
    quick = parser.parse_args().quick
    count, entries, rounds = (100, 1_000, 3) if quick else (500, 10_000, 5)
    print(
        f"python {sys.version.split()[0]}, sqlite {sqlite3.sqlite_version}, "
        f"{os.cpu_count()} cores, entry payload {len(FLOOR_TEXT)} bytes"
    )
    print(f"{'work':<46} {'reach':>8} {'ratio':>7}   lowest to highest")
    with tempfile.TemporaryDirectory() as folder:
        appends(Path(folder), count, rounds)
        verification(Path(folder), entries, rounds)
    decoding(entries * 10, rounds)
    start_up(rounds)


if __name__ == "__main__":
    main()
