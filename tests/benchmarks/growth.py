"""Prints what the daily work costs beside a log of 1,000, 100,000, 1,000,000 entries.

Run it with ``python tests/benchmarks/growth.py [--sizes N,N,...] [--folder FOLDER]``.
The same work is done in turns beside each log, three times a turn, of which the
quickest counts; what is printed are the medians of the ratios to the smallest log.
Nothing here passes or fails.

The logs are of an invented shop: demo order RO-1001 again and again, each with a VIN,
counts and readings of its own, 13 entries an order, written 100 orders a transaction
without being validated or judged. Each order has its checkpoint, as a shop's have.
Logs that lie in the folder are taken as they are. Left out of what is timed: the start
of Python, opening the key files (always as slow, on purpose) and judging.
"""

from __future__ import annotations

import argparse
import json
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partialmethod
from importlib.resources import files
from itertools import count
from pathlib import Path

from auditkit.log.ledger import Ledger
from auditkit.log.marks import LIVE, SAID, VIN
from auditkit.log.sealing import withhold
from auditkit.log.store import Store
from auditkit.log.verified_state import VerifiedState
from auditkit.log.verify_since import verify_since
from auditkit.obd.vin import check_digit
from auditkit.order.events import RepairOrder
from auditkit.order.judgement import Judgement
from auditkit.order.policy import DEFAULT
from auditkit.order.record import Record
from auditkit.plugin.loading import load_catalogue
from auditkit.proof.keys import PrivateKey
from auditkit.proof.note import Checkpoint, sign_checkpoint

PASSPHRASE = b"a passphrase for benchmarks"
PERSON = "mechanic-1"
TOGETHER = 100  # orders in a transaction
NEW, MOST = 1_000_000, 1 << 24  # numbers of orders that no log holds yet
RECORD = json.loads((files("auditkit_demo") / "RO-1001.json").read_text("utf-8"))
TEXT = json.dumps(RECORD["events"])
OLD_VIN = RECORD["events"][0]["vehicle"]["vin"]


def vin_of(number: int) -> str:
    """Return a VIN of its own, check digit included, for each number below 1,000,000.

    A number above is a vehicle that was here before.
    """
    plain = f"{OLD_VIN[:11]}{number % 1_000_000:06}"
    return plain[:8] + check_digit(plain) + plain[9:]


def events_of(number: int, *, alike: bool = False) -> list[dict]:
    """Return the events of an order whose vehicle, counts and readings are its own.

    With ``alike`` all but the VIN is what every other order holds.
    """
    vin = vin_of(number)
    text = TEXT.replace(OLD_VIN, vin)
    for old, new in zip(_frames(OLD_VIN), _frames(vin), strict=True):
        text = text.replace(old, new)
    if alike:
        return json.loads(text)
    low, middle, high = (f"{number >> bits & 0xFF:02X}" for bits in (0, 8, 16))
    for line in ("41 31 09 12", "41 31 00 26"):  # distance, before and after
        text = text.replace(line, f"41 31 {low} {middle}")
    for line in ("41 4E 0C 1A", "41 4E 00 34"):  # minutes
        text = text.replace(line, f"{line[:-2]}{high}")
    events = json.loads(text)
    for event in events:
        if event["kind"] == "bench_test":
            begun, ended, *_ = event["readings"]
            begun["value"] = f"{15 + number % 600 / 100:.2f}"
            ended["value"] = f"{5 + number // 600 % 600 / 100:.2f}"
    return events


def _frames(vin: str) -> tuple[str, str]:
    """Return the bytes of a VIN in the two frames that hold what differs (ISO 15765-2).

    Beside the frame's number they carry the fourth to tenth character, and the rest.
    """
    return tuple(
        " ".join(f"{ord(c):02X}" for c in part) for part in (vin[3:10], vin[10:])
    )


def build(path: Path, entries: int, *, alike: bool = False) -> None:
    """Write a log of about so many entries; ``alike`` as for ``events_of``."""
    with Ledger.create(
        path, shop="Bench", person=PERSON, passphrase=PASSPHRASE
    ) as ledger:
        signer = ledger.signer(PERSON, PASSPHRASE)
        key = ledger.log_signer(PASSPHRASE)
        orders = entries // (len(RECORD["events"]) + 1)
        for start in range(0, orders, TOGETHER):
            with ledger.writing() as writer:
                for number in range(start, min(start + TOGETHER, orders)):
                    order = f"RO-{number:06}"
                    seqs = [
                        writer.add_sealed(order, withhold(e, DEFAULT), PERSON, signer)
                        for e in events_of(number, alike=alike)
                    ]
                    writer.add(order, VERDICT | {"judged": seqs}, PERSON, signer)
                    head = Checkpoint(
                        ledger.origin, writer.tree.size, writer.tree.root()
                    )
                    ledger.store.add_checkpoint(head.size, sign_checkpoint(head, key))
                writer.finish(key)


def judged(number: int, order_id: str) -> tuple[Record, Judgement]:
    record = Record(order_id, tuple(events_of(number)))
    order = RepairOrder.fold(order_id, record.events)
    # Its readouts are those of another order here: whoever judges has to know it.
    elsewhere = dict.fromkeys(order.readouts | order.lives, "another")
    return record, load_catalogue().judge(replace(order, elsewhere=elsewhere))


VERDICT = {
    "kind": "verdict",
    "at": "2026-03-02T12:00:00+01:00",
    "by": PERSON,
    "verdict": "vouched",
    "statement": ["invented for a benchmark"],
}


def works(path: Path, entries: int) -> Iterator[tuple[str, Callable[[], None]]]:
    """Yield each kind of daily work beside a log, from opening it to closing it."""
    middle = f"RO-{entries // 26:06}"
    numbers = count(NEW + time.time_ns() // 10_000_000 % (MOST - NEW))

    def opened(work: Callable[[Ledger], object]) -> Callable[[], None]:
        def run() -> None:
            with Ledger.open(path) as ledger:
                ledger._unlocked.update(keys)
                work(ledger)

        return run

    with Ledger.open(path) as ledger:
        ledger.signer(PERSON, PASSPHRASE)
        ledger.log_signer(PASSPHRASE)
        keys = dict(ledger._unlocked)
        _, judgement = judged(1, "NEW")

    def add(ledger: Ledger) -> None:
        number = next(numbers)
        order_id = f"NEW-{number}"
        record = Record(order_id, tuple(events_of(number)))
        for event in RepairOrder.fold(order_id, record.events).of("readout"):
            ledger.holders(SAID, event.said)
        ledger.record(
            record,
            replace(judgement, order_id=order_id),
            passphrase=PASSPHRASE,
            unproven_reason="a benchmark",
        )

    yield "open", opened(lambda ledger: ledger.origin)
    yield "record an order of 13 entries", opened(add)
    yield "packet of an order in the middle", opened(lambda log: log.packet(middle))
    yield "show it", opened(lambda log: log.show(middle))
    yield "list the newest 20", opened(lambda log: log.orders(most=20))
    yield "list the open ones", opened(lambda log: log.orders(only_open=True))
    yield "who holds this readout", opened(lambda log: log.holders(LIVE, "none"))
    yield "no order of this VIN", opened(lambda log: log.holders(VIN, OLD_VIN[::-1]))
    yield "checkpoint", opened(lambda log: log.checkpoint())
    with Ledger.open(path) as ledger:
        state = verified_but(ledger, 130)
    yield "verify 130 entries that are new", lambda: verify_new(path, state)


def verified_but(ledger: Ledger, new: int) -> VerifiedState:
    """Return the state that a reader would keep who verified all but the newest."""
    size = ledger.store.head()[0] - new
    return VerifiedState(
        origin=ledger.origin,
        log_key=ledger.log_key.thumbprint,
        size=size,
        root=ledger.tree.root(size).hex(),
        own=tuple(row.entry.seq for row in ledger.store.log_rows()),
        verified_at="now",
    )


def verify_new(path: Path, state: VerifiedState) -> None:
    """Check what follows a state; the works before have written some entries more."""
    store = Store.open(path)
    report = verify_since(store, state).report
    store.close()
    if not report.verified or report.since != state.size:
        raise AssertionError(report.problems)


def seconds(work: Callable[[], None]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def least(work: Callable[[], None]) -> float:
    """Return the seconds of the quickest of three: the others waited for a disk."""
    return min(seconds(work) for _ in range(3))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--sizes", default="1000,100000,1000000")
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--rounds", type=int, default=15)
    asked = parser.parse_args()
    sizes = [int(size) for size in asked.sizes.split(",")]
    PrivateKey.to_pkcs12 = partialmethod(PrivateKey.to_pkcs12, kdf_rounds=1000)
    with tempfile.TemporaryDirectory() as made:
        folder = asked.folder or Path(made)
        paths = [folder / f"{size}.auditlog" for size in sizes]
        for path, size in zip(paths, sizes, strict=True):
            if not path.exists():
                took = seconds(lambda p=path, n=size: build(p, n))
                print(f"{path.name}: written in {took:.0f} s", flush=True)
        table = [
            dict(works(path, size)) for path, size in zip(paths, sizes, strict=True)
        ]
        head = "".join(f"{f'{size:,}':>14}" for size in sizes)
        print(f"{'work, times that at the smallest':<36}{head}   ms at the smallest")
        for name in table[0]:
            rounds = [[least(w[name]) for w in table] for _ in range(asked.rounds)]
            ratios = [
                statistics.median(took[n] / took[0] for took in rounds)
                for n in range(len(sizes))
            ]
            said = "".join(f"{ratio:14.2f}" for ratio in ratios)
            first = statistics.median(took[0] for took in rounds)
            print(f"{name:<36}{said}   {1000 * first:.1f}", flush=True)


if __name__ == "__main__":
    main()
