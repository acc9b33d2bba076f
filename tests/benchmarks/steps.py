"""Prints what one step of the bay takes, and where it goes.

Run it with ``python tests/benchmarks/steps.py``; nothing here passes or fails. The
invented orders of the demo are recorded event by event, each a form of its own, by one
process that stays, with all rules that auditkit ships: read, judged, sealed under a
checkpoint, judged again, and the next step found. What is measured:

* A step in processor time, the mean and the longest; and beside it the same events
  appended with a checkpoint each, and nothing judged. A page around it is not in it.
* The same steps by a process that starts anew for each, but for its start.
* Where a step's time goes, by profile. The parts overlap in nothing.
"""

from __future__ import annotations

import cProfile
import json
import pstats
import statistics
import tempfile
import time
import warnings
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from importlib.resources import files
from pathlib import Path

from auditkit.bay.known_orders import KnownOrders
from auditkit.bay.one_step import CautionsDueError, Form, Hands, take
from auditkit.log.ledger import Ledger
from auditkit.plugin.loading import load_canon

WORD, PERSON = b"a passphrase for a benchmark", "mechanic-1"
CATALOGUE = load_canon()
NAMES = [f"RO-100{n}" for n in range(1, 6)]
PARTS = {
    "judged as it is": "catalogue.py:judge",
    "judged with a step that is supposed": "catalogue.py:judge_part",
    "read from the log": "held_order.py:held",
    "appended": "recording.py:append",
}


class Clock:
    """A clock that never goes back, set by what happens."""

    now = datetime.fromisoformat("2026-01-01T00:00:00+01:00")

    def __call__(self) -> datetime:
        return self.now

    def see(self, at: str) -> None:
        self.now = max(self.now, datetime.fromisoformat(at) + timedelta(seconds=5))


def steps() -> Iterator[tuple[str, str, dict]]:
    """Yield order, id of a form, and event, in the order of the demo's work."""
    for name in NAMES:
        source = json.loads((files("auditkit_demo") / f"{name}.json").read_text())
        for number, event in enumerate(source["events"]):
            event.pop("file", None)
            yield name, f"{name}-{number}", {**event, "by": PERSON}


def made(folder: Path, clock: Clock) -> tuple[Ledger, Hands]:
    ledger = Ledger.create(
        folder / "bay.log", shop="X", person=PERSON, passphrase=WORD, clock=clock
    )
    ledger.keeps_newest = False  # the writing thread does it after the answer
    signer, log_key = ledger.signer(PERSON, WORD), ledger.log_signer(WORD)
    return ledger, Hands(PERSON, signer, log_key, CATALOGUE)


def one(send: Callable[[Form], object], form: str, event: dict) -> None:
    """Send a form; one whose cautions nobody acknowledged is sent all the same."""
    try:
        send(Form(form, [event]))
    except CautionsDueError:
        send(Form(form, [event], unacknowledged=True))


def judged(*, stays: bool, profile: cProfile.Profile | None = None) -> list[float]:
    """Return the processor time of each step, in ms."""
    clock, times, known = Clock(), [], KnownOrders()
    with tempfile.TemporaryDirectory() as folder:
        ledger, hands = made(Path(folder), clock)
        for order, form, event in steps():
            clock.see(event["at"])
            if not stays:
                ledger.proven.clear()
                known = KnownOrders()

            def send(form: Form, order: str = order, known: KnownOrders = known):
                return take(ledger, order, form, hands, known)

            start = time.process_time()
            if profile is None:
                one(send, form, event)
            else:
                profile.runcall(one, send, form, event)
            times.append((time.process_time() - start) * 1e3)
        ledger.close()
    return times


def appended() -> list[float]:
    """Return the processor time of appending each event alone, in ms."""
    clock, times = Clock(), []
    with tempfile.TemporaryDirectory() as folder:
        ledger, hands = made(Path(folder), clock)
        for order, _, event in steps():
            clock.see(event["at"])
            start = time.process_time()
            ledger.append(
                order,
                [event],
                person=PERSON,
                signer=hands.signer,
                log_key=hands.log_key,
            )
            times.append((time.process_time() - start) * 1e3)
        ledger.close()
    return times


def shares() -> Iterator[str]:
    """Yield which share of a step's time each part of it takes, by profile."""
    profile = cProfile.Profile(time.process_time)
    judged(stays=True, profile=profile)
    found = {
        f"{Path(file).name}:{name}": cumulative
        for (file, _, name), (_, _, _, cumulative, _) in pstats.Stats(
            profile
        ).stats.items()
    }
    whole, told = found["steps.py:one"], 0.0
    for what, name in PARTS.items():
        told += found[name]
        yield f"  {what:<44} {found[name] / whole:7.0%}"
    yield f"  {'the rest':<44} {1 - told / whole:7.0%}"


def main() -> None:
    warnings.simplefilter("ignore")
    judged(stays=True)
    rounds = [(judged(stays=True), judged(stays=False), appended()) for _ in range(3)]
    stays, anew, alone = (
        [min(times) for times in zip(*(r[n] for r in rounds), strict=True)]
        for n in range(3)
    )
    mean = statistics.mean(stays)
    print(f"{f'a step of the bay, {len(stays)} steps':<46} {mean:7.2f} ms")
    print(f"{'  the longest':<46} {max(stays):7.2f} ms")
    print(
        f"{'  nothing known of the steps before':<46} {statistics.mean(anew):7.2f} ms"
    )
    print(f"{'  times appending its event':<46} {mean / statistics.mean(alone):7.2f}")
    for line in shares():
        print(line)


if __name__ == "__main__":
    main()
