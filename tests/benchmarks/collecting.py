"""Prints what collecting packets costs beside verifying and judging them alone.

Run it with ``python tests/benchmarks/collecting.py [--packets 10000] [--in FOLDER]``;
nothing here passes or fails. Packets are made first, signed in logs of many shops, each
of an invented order of the demo; with ``--in`` they are left in a folder, and taken
from there the next time.

* Collecting: all of ``collect`` in a process of its own (walking, reading, digests,
  judging on all cores, rows, DuckDB), beside ``verify_packets`` with judging over the
  same files, on all cores, in turns. 1.00 would be: the collection costs nothing.
* Again: the same call once more, beside the first: nothing is new, all is read and
  hashed.
* In processor time the start of processes counts in full: below some thousand packets
  it is most of the difference.
* Memory: the most that the collecting process held, with DuckDB, for all packets
  beside for a tenth of them. Its helpers' most is printed too: each judges 50 packets
  at once, whatever their number.

Ratios of one run hold on a busy machine too; the rates do not.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import NamedTuple

from packets import JUDGE, demo_events, line, make_shop, model_order, spent

from auditkit.reader.many_packets import verify_packets

EACH = 250  # packets of a shop
COLLECT = """
import json, resource, sys, time
from pathlib import Path
from auditkit.fleet.collecting import collect

if __name__ == "__main__":
    start = time.perf_counter()
    done = collect([Path(sys.argv[1])], Path(sys.argv[2]))
    spent = time.perf_counter() - start
    used = [
        resource.getrusage(who)
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    ]
    processors = sum(one.ru_utime + one.ru_stime for one in used)
    most = [one.ru_maxrss / 1024 for one in used]
    print(json.dumps([spent, processors, *most]))
"""


def made(folder: Path, number: int) -> None:
    """Make packets in a folder for each shop, where they are not there yet."""
    shops = -(-number // EACH)
    missing = [n for n in range(shops) if not (folder / f"shop-{n:04}").is_dir()]
    with tempfile.TemporaryDirectory() as name:
        model = model_order(Path(name), demo_events())
    parts = [folder / f"shop-{n:04}.part" for n in missing]
    for part in parts:
        part.mkdir(parents=True, exist_ok=True)
    jobs = [(part, n, EACH, model) for part, n in zip(parts, missing, strict=True)]
    with ProcessPoolExecutor() as pool:
        for part, _ in zip(parts, pool.map(make_shop, jobs), strict=True):
            part.rename(part.with_suffix(""))


class Spent(NamedTuple):
    """Seconds, processor seconds of all processes, and MiB: its own, a helper's."""

    wall: float
    processors: float
    own: float = 0
    helper: float = 0


def collected(folder: Path, into: Path) -> Spent:
    """Return what a run spent, the start of its processes with it."""
    run = subprocess.run(
        [sys.executable, "-c", COLLECT, str(folder), str(into)],
        check=True,
        capture_output=True,
        text=True,
    )
    return Spent(*json.loads(run.stdout.splitlines()[-1]))


def verified(paths: list[Path]) -> Spent:
    """Return what packets take to be verified and judged, and no more."""

    def work() -> None:
        if not all(one.verified for one in verify_packets(paths, more_checks=JUDGE)):
            raise AssertionError

    return Spent(*spent(work))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--packets", type=int, default=10_000)
    parser.add_argument("--in", dest="folder", type=Path)
    parser.add_argument("--rounds", type=int, default=2)
    given = parser.parse_args()
    # Beside the packets: they are linked, not copied.
    beside = given.folder and given.folder.parent
    with tempfile.TemporaryDirectory(dir=beside) as name:
        place = Path(name)
        folder = given.folder or place / "packets"
        made(folder, given.packets)
        shops = sorted(folder.glob("shop-*"))[: -(-given.packets // EACH)]
        whole, tenth = place / "whole", place / "tenth"
        for part, some in ((whole, shops), (tenth, shops[: max(1, len(shops) // 10)])):
            part.mkdir()
            for shop in some:
                linked(shop, part / shop.name)
        paths = sorted(whole.glob("*/*.json"))
        print(
            f"python {sys.version.split()[0]}, {os.cpu_count()} cores, {len(paths)} "
            f"packets of {len(shops)} shops"
        )
        print(f"{'work':<56} {'reach':>8} {'ratio':>7}   lowest to highest")
        small = collected(tenth, place / "tenth.duckdb")
        alone, first, again = [], [], []
        for turn in range(given.rounds):
            into = place / f"{turn}.duckdb"
            alone.append(verified(paths))
            first.append(collected(whole, into))
            again.append(collected(whole, into))
        pairs = list(zip(first, alone, strict=True))
        said = "collect, times verify and judge"
        line(said, "-", [f.wall / a.wall for f, a in pairs])
        times = [f.processors / a.processors for f, a in pairs]
        line("  the same, in processor time", "-", times)
        turns = list(zip(again, first, strict=True))
        said = "collect again, times the first"
        line(said, "<= 0.10", [a.wall / f.wall for a, f in turns])
        times = [a.processors / f.processors for a, f in turns]
        line("  the same, in processor time", "<= 0.10", times)
        few = len(list(tenth.glob("*/*.json")))
        said = f"  memory, of {len(paths)} times of {few} packets"
        line(said, "-", [f.own / small.own for f in first])
        rate = len(paths) / min(f.wall for f in first)
        size = (place / "0.duckdb").stat().st_size
        print(
            f"  {rate:.0f} packets a second; at most {max(f.own for f in first):.0f} "
            f"MiB, each helper {max(f.helper for f in first):.0f} MiB; "
            f"{size / len(paths):.0f} bytes a packet in the file"
        )


def linked(shop: Path, into: Path) -> None:
    """Have a shop's packets in another folder too, without a copy."""
    into.mkdir()
    for path in shop.iterdir():
        os.link(path, into / path.name)


if __name__ == "__main__":
    main()
