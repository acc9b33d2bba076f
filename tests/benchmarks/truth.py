"""Prints the measure of the verdict: honest jobs, bogus records, rules needed.

Run it with ``python tests/benchmarks/truth.py [--every N] [--families]``: every Nth
bogus record, all of them unless told; a row for each class of lies, or each family.
Nothing here passes or fails; ``tests/truth`` does.
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

import truth.families  # noqa: E402
import truth.lone_families  # noqa: E402
import truth.signed_families  # noqa: E402, F401  all three fill the table of families
from truth.bogus import (  # noqa: E402
    FAMILIES,
    Draft,
    all_bogus,
    lacking,
    made,
    only_by,
)
from truth.jobs import CATALOGUE, FILE, JOBS, WAYS  # noqa: E402

from auditkit.order.findings import Severity, Verdict  # noqa: E402

PROVEN = sum(
    job.get("expect", {}).get("raw", FILE["defaults"]["raw"]) == "proven"
    for job in JOBS.values()
)
VERDICTS = ("contradicted", "unproven", "vouched", "proven")
DECIDING = [r.name for r in CATALOGUE.rules if r.severity is Severity.BLOCKING]


def honest() -> Iterator[str]:
    """Yield how many jobs come out as expected, by the way that they were done."""
    for way in WAYS:
        good = 0
        for name, job in JOBS.items():
            verdict = Draft(name, way).judged().verdict
            good += verdict == job.get("expect", {}).get(way, FILE["defaults"][way])
        yield f"{way:12} {good} of {len(JOBS)}"


def judged(each: tuple[str, object, str]) -> tuple[str, str, str] | None:
    """Return family, verdict and the rule that alone stops a bogus record, if any."""
    name, variant, job = each
    bogus = made(FAMILIES[name], variant, job)
    if bogus is None:
        return None
    return name, str(bogus.draft.judged().verdict), only_by(bogus)


def lost(rule: str) -> int:
    """Return how many honest jobs are no longer proven without a rule."""
    bare = lacking(CATALOGUE, rule)
    verdicts = [bare.judge(Draft(name).order).verdict for name in JOBS]
    return PROVEN - verdicts.count(Verdict.PROVEN)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--families", action="store_true", help="a row for each family")
    given = parser.parse_args()
    sys.stdout.write("Honest as expected\n" + "\n".join(honest()) + "\n\n")
    asked = [(one.name, variant, job) for one, variant, job in all_bogus()]
    table: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    needed: Counter[str] = Counter()
    with ProcessPoolExecutor() as pool:
        for found in pool.map(judged, asked[:: given.every], chunksize=40):
            if found is not None:
                name, verdict, rule = found
                one = FAMILIES[name]
                row = name.replace("_", " ") if given.families else one.kind
                table[row, one.where][verdict] += 1
                needed[rule] += 1
        missed = list(pool.map(lost, DECIDING))
    heads = ("caught in", "records", *VERDICTS)
    sys.stdout.write(f"{'Bogus':64}{''.join(f'{head:>14}' for head in heads)}\n")
    totals: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    for (_, where), counts in table.items():
        totals["all", where] += counts
    for (row, where), counts in (*table.items(), *totals.items()):
        numbers = (counts.total(), *(counts[verdict] for verdict in VERDICTS))
        cells = "".join(f"{cell:>14}" for cell in (where, *numbers))
        sys.stdout.write(f"{row:64}{cells}\n")
    sys.stdout.write("\nWithout one rule: bogus records come out, honest jobs do not\n")
    for rule, gone in zip(DECIDING, missed, strict=True):
        sys.stdout.write(f"{rule:48}{needed[rule]:6}{gone:6}\n")


if __name__ == "__main__":
    main()
