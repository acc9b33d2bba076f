"""Prints the measure of the verdict: honest jobs, bogus records, rules needed.

Run it with ``python tests/benchmarks/truth.py [--every N]``: every Nth bogus record,
all of them unless told. Nothing here passes or fails; ``tests/truth`` does.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path[:0] = [
    str(Path(__file__).parents[1]),
    str(Path(__file__).parents[1] / "support"),
]

import truth.families  # noqa: E402, F401  fills the table of families
from truth.bogus import FAMILIES, all_bogus, made  # noqa: E402
from truth.jobs import CATALOGUE, FILE, JOBS, PICTURES, WAYS, record  # noqa: E402

from auditkit.order.events import RepairOrder  # noqa: E402
from auditkit.order.findings import Verdict  # noqa: E402
from auditkit.order.policy import Policy, parse_policy  # noqa: E402

PROVEN = sum(
    job.get("expect", {}).get("raw", FILE["defaults"]["raw"]) == "proven"
    for job in JOBS.values()
)
VERDICTS = ("contradicted", "unproven", "vouched", "proven")


def honest() -> Iterator[str]:
    """Yield how many jobs come out as expected, by the way that they were done."""
    for way in WAYS:
        good = 0
        for name, job in JOBS.items():
            made_of = record(name, way)
            order = RepairOrder.fold("RO-1", made_of["events"], pictures=PICTURES)
            verdict = CATALOGUE.judge(order).verdict
            good += verdict == job.get("expect", {}).get(way, FILE["defaults"][way])
        yield f"{way:12} {good} of {len(JOBS)}"


def judged(
    each: tuple[str, object, str],
) -> tuple[str, str, str, tuple[str, ...]] | None:
    """Return family, verdict and the rules that object to a bogus record."""
    name, variant, job = each
    bogus = made(FAMILIES[name], variant, job)
    if bogus is None:
        return None
    found = bogus.draft.judged()
    rules = tuple(sorted({f.rule for f in found.blocking}))
    alone = ""
    if len(rules) == 1 and not bogus.family.typed:
        alone = str(bogus.draft.judged(without(rules[0])).verdict)
    told = (*rules, alone) if alone == "proven" else ()
    return bogus.family.kind, name, str(found.verdict), told


def without(name: str) -> Policy:
    """Return a policy that leaves out one rule."""
    text = f'format = "auditkit/policy@1"\n[rules."{name}"]\nrun = false\n'
    return parse_policy(text)


def lost(rule: str) -> int:
    """Return how many honest jobs are no longer proven without a rule."""
    orders = [
        RepairOrder.fold("RO-1", record(name)["events"], pictures=PICTURES)
        for name in JOBS
    ]
    verdicts = [CATALOGUE.judge(order, without(rule)).verdict for order in orders]
    return PROVEN - verdicts.count(Verdict.PROVEN)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1)
    every = parser.parse_args().every
    sys.stdout.write("Honest as expected\n" + "\n".join(honest()) + "\n\n")
    asked = [(one.name, variant, job) for one, variant, job in all_bogus()][::every]
    table: dict[str, Counter[str]] = defaultdict(Counter)
    needed: Counter[str] = Counter()
    with ProcessPoolExecutor() as pool:
        for found in pool.map(judged, asked, chunksize=40):
            if found is not None:
                kind, _, verdict, told = found
                table[kind][verdict] += 1
                needed.update(told[:1])
        missed = list(pool.map(lost, (rule.name for rule in CATALOGUE.rules)))
    sys.stdout.write(f"{'Bogus':64}{''.join(f'{v:>14}' for v in VERDICTS)}\n")
    for kind, counts in sorted(table.items()):
        row = "".join(f"{counts[verdict]:14}" for verdict in VERDICTS)
        sys.stdout.write(f"{kind:64}{row}\n")
    whole = sum(table.values(), Counter())
    row = "".join(f"{whole[verdict]:14}" for verdict in VERDICTS)
    sys.stdout.write(f"{f'all {whole.total()}':64}{row}\n\n")
    sys.stdout.write("Without one rule: bogus records proven, honest jobs lost\n")
    for rule, gone in zip(CATALOGUE.rules, missed, strict=True):
        sys.stdout.write(f"{rule.name:48}{needed[rule.name]:6}{gone:6}\n")


if __name__ == "__main__":
    main()
