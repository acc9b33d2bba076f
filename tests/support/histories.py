"""What several programs did with one log at once: each call with its begin and end.

The clock is ``time.monotonic_ns``, one for all processes of a machine.
"""

from __future__ import annotations

import multiprocessing
import random
import time
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

from appending import EVENT

from auditkit.log.ledger import Ledger

_FORKING = multiprocessing.get_context("forkserver")


@dataclass(frozen=True)
class Call:
    """One call: what was asked, when, and what was answered.

    ``answer`` are the numbers that an append was given, or else how many entries (of
    the log, of the program's own order) the program was shown.
    """

    program: int
    what: str
    begun: int
    ended: int
    answer: tuple[int, ...]


def _run(  # noqa: PLR0913, PLR0917  what the program needs to begin
    path: Path, passphrase: bytes, program: int, seed: str, calls: int, to: Connection
) -> None:
    chance = random.Random(f"{seed} {program}")
    order = f"RO-{seed}-{program}".replace(" ", "-")
    with Ledger.open(path) as ledger:
        signer = ledger.signer("mechanic-1", passphrase)
        to.send("ready")
        to.recv()
        for number in range(calls):
            what = "append"
            if number:
                what = chance.choice(["append", "append", "size", "leaves", "order"])
            many = chance.randint(1, 3)
            begun = time.monotonic_ns()
            if what == "append":
                answer = ledger.append(
                    order, [EVENT] * many, person="mechanic-1", signer=signer
                )
            elif what == "size":
                answer = (ledger.store.head()[0],)
            elif what == "leaves":
                answer = (len(ledger.store.leaves()),)
            else:
                answer = (len(ledger.show(order).lines),)
            ended = time.monotonic_ns()
            to.send(Call(program, what, begun, ended, tuple(answer)))
    to.send(None)


def history(
    path: Path, passphrase: bytes, programs: int, calls: int, seed: str
) -> list[Call]:
    """Let programs call one log at once; return what each did and was told."""
    running = []
    for program in range(programs):
        here, there = _FORKING.Pipe()
        how = (path, passphrase, program, seed, calls, there)
        process = _FORKING.Process(target=_run, args=how)
        process.start()
        there.close()
        running.append((process, here))
    for _, told in running:
        assert told.recv() == "ready"
    for _, told in running:
        told.send("go")
    made: list[Call] = []
    for process, told in running:
        while (call := told.recv()) is not None:
            made.append(call)
        process.join()
        told.close()
        assert process.exitcode == 0
    return made
