"""Prints how fast packets are verified and judged, beside bare signature verification.

Run it with ``python tests/benchmarks/packets.py [--quick]``; nothing here passes or
fails. What is measured:

* Packets of twenty entries of a repair order, made from an invented order of the demo:
  its events, its bench test again and again, and the verdict. Each also carries the
  entries that open the log and enrol the person, and its checkpoint: 23 signatures.
  Every shop has its own log and keys, and makes its packets at one go, so that they
  share those two entries and the checkpoint. No other signature stands in two packets,
  and no readout has the text of another: none is answered from memory.
* Many packets: ``verify_packets`` over files on all cores, processes started within
  the time measured, beside bare Ed25519 verification of as many signatures in as many
  processes: every signature of every packet, also those that packets share. The bare
  run has its keys and messages ready in memory; a tenth of them, ten times over. The
  line below it counts each signature once, however many packets share it.
* Many packets judged: the same packets, verified and then judged by the rules that
  auditkit ships, beside the same bare run. What that leaves out is named below.
* One packet: ``verify_packet`` in this process with every memory of earlier packets
  cleared, beside the bare verification of its own 23 signatures, in processor time.
* One packet judged: what judging it takes beside verifying it, in this process, in
  processor time: the demo's order as it is, and one of 2,000 entries, on which the
  same repair was tried again every day. Growth is the second over the first, an entry.

The bare run leaves out everything but signatures: reading and parsing files, proofs,
schemas, decoding readouts, computing bench tests, the rules, words. That is why judging
misses its reach. By profile, of judging a packet of twenty entries some 45 % is its
eight bench tests (each is computed once: exact fractions, and uncertainties by the
GUM), 16 % which cautions its steps call for and what they ask, 6 % decoding its two
readouts, 4 % schemas; the rest is spread over the rules and their words. Of a bench
test, half is its readings with the errors of their instruments, a seventh whether they
can be used; the rest is spread over decision, budget and words. Without any bench test
the packet would take five times as long as its signatures, or more: no single piece
of work stands between judging and its reach.

Each pair is measured in turns, and the median of the ratios is shown. On a machine that
does other work too, the ratio of processor times is the steadier one.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import cache, partial
from importlib.resources import files
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from run import seconds

from auditkit.log import packet_maker
from auditkit.log.ledger import Ledger
from auditkit.obd import clock, decoding, fingerprint, isotp, transcript
from auditkit.order.catalogue import CORE
from auditkit.order.events import RepairOrder
from auditkit.order.record import Record, parse_record
from auditkit.plugin.loading import load_catalogue
from auditkit.proof import check_packet, ed25519, entry, keys, merkle, note
from auditkit.proof.check_report import CheckReport
from auditkit.proof.entry import LOG_SIGNER, Entry, Payload
from auditkit.proof.keys import PrivateKey
from auditkit.reader.many_packets import verify_packets
from auditkit.reader.read_packet import Expectations, checked_and_judged

OWN, MANY = 20, 2000
ORDERS = 200  # of one shop
TURNS = 10
MODEL = "MODEL-ORDER"
Job = tuple[bytes, bytes, bytes]  # raw key, signature, message


@dataclass
class Prepared:
    """What processes that are forked find ready."""

    jobs: list[Job]


PREPARED = Prepared([])
JUDGE = partial(checked_and_judged, wanted=Expectations())


def demo_events() -> list[dict]:
    """Return the demo's first order; its readouts name the order that they are of."""
    source = files("auditkit_demo") / "RO-1001.json"
    events = parse_record(source.read_bytes(), CORE, where="RO-1001.json").events
    return [
        {**event, "raw": f"{event['raw']}\n# {MODEL}"} if "raw" in event else event
        for event in events
    ]


def tested_often() -> list[dict]:
    """Return the order with its bench test as often as makes twenty entries."""
    events = demo_events()
    test = next(event for event in events if event["kind"] == "bench_test")
    place = events.index(test)
    events[place:place] = [test] * (OWN - 1 - len(events))
    return events


def tried_daily() -> list[dict]:
    """Return the order with all of its work done again, each day, to 2,000 entries."""
    first = demo_events()
    events = list(first)
    for days in range(1, MANY // len(first[1:]) + 1):
        text = re.sub(
            r"(\d{4}-\d\d-\d\d)(?=T)",
            lambda day, n=days: str(date.fromisoformat(day[0]) + timedelta(n)),
            json.dumps(first[1:]).replace(MODEL, f"{MODEL} day {days}"),
        )
        events += json.loads(text)
    return events[: MANY - 1]


def model_order(folder: Path, events: list[dict]) -> list[str]:
    """Return event and withheld paths of each entry of a closed order."""
    record = Record(MODEL, tuple(events))
    judgement = load_catalogue().judge(RepairOrder.fold(MODEL, record.events))
    with Ledger.create(
        folder / "model.log", shop="X", person="mechanic-1", passphrase=b"pass"
    ) as ledger:
        ledger.record(record, judgement, passphrase=b"pass", unproven_reason="a model")
        content = json.loads(ledger.packet(MODEL))
    said = [item["payload"] for item in content["entries"][-len(events) - 1 :]]
    kinds = [payload["event"]["kind"] for payload in said]
    if kinds[0] != "opening" or kinds[-1] != "verdict":
        raise AssertionError(kinds)
    return [json.dumps([payload["event"], payload["withheld"]]) for payload in said]


def bare_order(events: list[dict]) -> list[str]:
    """Return the same with a verdict that says no more than it has to."""
    said = {"verdict": "unproven", "judged": [], "statement": ["A model."]}
    verdict = {"kind": "verdict", **{n: events[-1][n] for n in ("at", "by")}, **said}
    return [json.dumps([event, []]) for event in (*events, verdict)]


class Shop:
    """A log in memory, with closed orders after the model's."""

    def __init__(self, number: int) -> None:
        self.origin = f"shop-{number}.example/log"
        self.log, self.person = PrivateKey.generate(), PrivateKey.generate()
        self.made: list[Entry] = []
        self.leaves: list[bytes] = []
        self.tree = merkle.Frontier()
        at = {"at": "2026-03-02T08:00:00.000+00:00", "by": LOG_SIGNER}
        opened = {
            **at,
            "kind": "log_opened",
            "origin": self.origin,
            "shop": f"Shop {number} (invented)",
            "log_key": self.log.public.x,
        }
        enrolled = {
            **at,
            "kind": "person_enrolled",
            "person": "mechanic-1",
            "role": "technician",
            "key": self.person.public.x,
        }
        self.add(None, opened, LOG_SIGNER, self.log)
        self.add(None, enrolled, LOG_SIGNER, self.log)

    def add(
        self,
        order: str | None,
        event: dict,
        by: str,
        key: PrivateKey,
        withheld: Sequence[str] = (),
    ) -> None:
        seq = len(self.made)
        at = datetime.fromisoformat(event["at"]).astimezone(UTC)
        said = Payload(
            by=by,
            event=event,
            key=key.public.thumbprint,
            log=self.origin,
            prev=self.leaves[-1].hex() if seq else None,
            recorded_at=at.isoformat(timespec="milliseconds"),
            repair_order=order,
            root=self.tree.root().hex(),
            seq=seq,
            withheld=tuple(withheld),
        )
        signed = entry.sign(said, key)
        self.made.append(signed)
        self.leaves.append(signed.leaf)
        self.tree.append(signed.leaf)

    def order(self, name: str, model: list[str]) -> None:
        first = len(self.made)
        for text in model:
            event, withheld = json.loads(text.replace(MODEL, name))
            if event["kind"] == "verdict":
                event["judged"] = list(range(first, first + len(model) - 1))
            self.add(name, event, "mechanic-1", self.person, withheld)

    def paths(self) -> list[list[bytes]]:
        """Return every leaf's inclusion path: the tree's levels are made once."""
        paths: list[list[bytes]] = [[] for _ in self.leaves]
        level, width = list(self.leaves), 1
        while len(level) > 1:
            for place, path in enumerate(paths):
                beside = (place // width) ^ 1
                if beside < len(level):
                    path.append(level[beside])
            odd = level[len(level) & ~1 :]
            pairs = zip(level[::2], level[1::2], strict=False)
            level = [merkle.node_hash(a, b) for a, b in pairs] + odd
            width *= 2
        return paths


def make_shop(job: tuple[Path, int, int, list[str]]) -> tuple[list[Path], list[Job]]:
    """Write a shop's packets; return their paths, and the signatures of a tenth."""
    folder, number, orders, model = job
    shop = Shop(number)
    names = [f"RO-{number:03}-{n:04}" for n in range(orders)]
    for name in names:
        shop.order(name, model)
    root = merkle.root(shop.leaves)
    stated = note.Checkpoint(shop.origin, len(shop.leaves), root)
    checkpoint = note.sign_checkpoint(stated, shop.log)
    proven = [
        (signed, note.format_proof(signed.seq, path, checkpoint))
        for signed, path in zip(shop.made, shop.paths(), strict=True)
    ]
    empty = packet_maker.build_packet(
        names[0], [], [], checkpoint, shop.log.public, [], []
    )
    paths, jobs = [], []
    for n, name in enumerate(names):
        own = proven[2 + n * len(model) : 2 + (n + 1) * len(model)]
        verdict = json.loads(own[-1][0].payload)["event"]
        text = check_packet.format_packet(
            replace(
                empty,
                repair_order=name,
                statement=tuple(verdict["statement"]),
                entries=(*proven[:2], *own),
            )
        )
        paths.append(folder / f"{name}.packet.json")
        paths[-1].write_text(text, encoding="utf-8")
        if n % TURNS == 0:
            jobs += signatures(text)
    return paths, jobs


def signatures(text: str) -> list[Job]:
    """Return every signature that verifying a packet needs, the checkpoint's last."""
    read = check_packet.parse_packet(text)
    _, log_key = note.parse_vkey(read.log_key)
    raws = {log_key.thumbprint: log_key.raw}
    jobs = []
    for signed, _ in read.entries:
        said = entry.parse_payload(signed.payload)
        if said.event["kind"] == "person_enrolled":
            key = keys.PublicKey.from_x(said.event["key"])
            raws[key.thumbprint] = key.raw
        jobs.append((raws[said.key], signed.signature, signed.signing_input))
    body, lines = note.split_note(read.checkpoint)
    blob = note.from_base64(lines[0].rpartition(" ")[2])
    jobs.append((log_key.raw, blob[4:], body.encode()))
    return jobs


@cache
def ready(raw: bytes) -> Ed25519PublicKey:
    return Ed25519PublicKey.from_public_bytes(raw)


def bare(jobs: list[Job]) -> None:
    for raw, signature, message in jobs:
        ready(raw).verify(signature, message)


def bare_part(part: tuple[int, int]) -> None:
    bare(PREPARED.jobs[part[0] : part[1]])


def line(name: str, reach: str, ratios: list[float]) -> None:
    middle = statistics.median(ratios)
    span = f"{min(ratios):.2f} to {max(ratios):.2f}"
    print(f"{name:<56} {reach:>8} {middle:7.2f}   {span}", flush=True)


def many(
    paths: list[Path], jobs: list[Job], rounds: int, *, judged: bool = False
) -> None:
    cores = os.cpu_count() or 1
    PREPARED.jobs = jobs
    width = len(jobs) // (4 * cores) + 1
    parts = [(at, at + width) for at in range(0, len(jobs), width)] * TURNS

    def floor() -> None:
        with ProcessPoolExecutor(cores) as pool:
            list(pool.map(bare_part, parts))

    def work() -> None:
        more = JUDGE if judged else None
        found = list(verify_packets(paths, processes=cores, more_checks=more))
        wrong = [outcome for outcome in found if not outcome.verified]
        if judged:
            wrong += [one for one in found if one.verdict != one.signed_verdict]
        if wrong or len(found) != len(paths):
            raise AssertionError(wrong[:1])

    pairs = [(spent(floor), spent(work)) for _ in range(rounds)]
    total = len(jobs) * TURNS
    shared = 3 * (len(paths) - len(paths) // ORDERS)
    name, reach = f"verify {len(paths)} packets, {cores} cores", ">= 0.80"
    if judged:
        name, reach = name.replace("verify", "verify and judge"), ">= 0.30"
    line(f"{name}, {total} signatures", reach, [f[0] / w[0] for f, w in pairs])
    line("  the same, in processor time", "-", [f[1] / w[1] for f, w in pairs])
    distinct = (total - shared) / total
    line(
        "  the same, shared ones once", "-", [f[0] / w[0] * distinct for f, w in pairs]
    )
    rates = sorted(len(paths) / w[0] for _, w in pairs)
    print(f"  packets a second: {rates[0]:.0f} to {rates[-1]:.0f}")


def spent(work) -> tuple[float, float]:
    """Return the seconds and the processor seconds (all processes) of some work."""
    before = os.times()
    wall = seconds(work)
    after = os.times()
    return wall, sum(after[:4]) - sum(before[:4])


def forget() -> None:
    """Clear what is kept in mind between packets, signatures that fitted among it."""
    ed25519._fitted.clear()
    for holder in (
        ed25519,
        entry,
        keys,
        keys.PublicKey,
        note,
        check_packet,
        merkle,
        clock,
        decoding,
        fingerprint,
        isotp,
        transcript,
    ):
        for name in vars(holder):
            if hasattr(member := getattr(holder, name), "cache_clear"):
                member.cache_clear()


def one(paths: list[Path], rounds: int) -> None:
    texts = [path.read_bytes() for path in paths]
    needed = [signatures(text.decode()) for text in texts]
    ratios = []
    for _ in range(rounds):
        for text, jobs in zip(texts, needed, strict=True):
            start = time.process_time()
            bare(jobs)
            floor = time.process_time() - start
            forget()
            start = time.process_time()
            check(text)
            ratios.append((time.process_time() - start) / floor)
    name = f"verify_packet, {OWN} entries, times {len(needed[0])} bare signatures"
    line(name, "< 3", ratios)


def check(text: bytes) -> CheckReport:
    report = check_packet.verify_packet(text)
    if not report.verified:
        raise AssertionError(report.problems)
    return report


def one_judged(folder: Path, rounds: int) -> None:
    """Print what judging one packet takes beside verifying it, and how that grows."""
    each = []
    for events in (demo_events(), tried_daily()):
        (path,), _ = make_shop((folder, len(events), 1, bare_order(events)))
        text, times = path.read_bytes(), []
        for _ in range(rounds):
            forget()
            start = time.process_time()
            report = check(text)
            verified = time.process_time()
            report = JUDGE(report, text)
            judged = time.process_time() - verified
            if report.judged is None:
                raise AssertionError(path)
            times.append((verified - start, judged))
        line(
            f"judge one packet of {len(events) + 1} entries, times verifying it",
            "-",
            [judged / verified for verified, judged in times],
        )
        each.append(statistics.median(j for _, j in times) / (len(events) + 1))
    line(
        "  judging, an entry, the long one times the short one",
        "-",
        [each[1] / each[0]],
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true", help="a tenth of the work")
    quick = parser.parse_args().quick
    shops, rounds = (5, 3) if quick else (50, 3)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        model = model_order(folder, tested_often())
        tasks = [(folder, number, ORDERS, model) for number in range(shops)]
        with ProcessPoolExecutor() as pool:
            made = list(pool.map(make_shop, tasks))
        paths = [path for found, _ in made for path in found]
        jobs = [job for _, found in made for job in found]
        print(
            f"python {sys.version.split()[0]}, {os.cpu_count()} cores, {len(paths)} "
            f"packets of {statistics.median(p.stat().st_size for p in paths):.0f} bytes"
            f" of {shops} shops"
        )
        print(f"{'work':<56} {'reach':>8} {'ratio':>7}   lowest to highest")
        one(paths[:: len(paths) // 20], 5)
        one_judged(folder, 3 * rounds)
        many(paths, jobs, rounds)
        many(paths, jobs, rounds, judged=True)


if __name__ == "__main__":
    main()
