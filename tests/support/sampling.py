"""How much of a long test runs: a seeded sample of it, or all.

A sample is drawn by AUDITKIT_SEED, or else by the seed that stands here; Hypothesis
draws its examples by the same. It is printed when the tests begin: the same seed runs
the same again. AUDITKIT_TESTS=all runs every case, text, kill and life there is; where
CI is not set, as beside the work itself, a sample is a sixth as large.
"""

import os
import random
from collections.abc import Sequence
from typing import TypeVar

Case = TypeVar("Case")

SEED = os.environ.get("AUDITKIT_SEED", "2026-03-02")  # any text
AMOUNT = os.environ.get("AUDITKIT_TESTS", "sample")
if AMOUNT not in {"sample", "all"}:
    message = f"AUDITKIT_TESTS is 'sample' or 'all', not {AMOUNT!r}"
    raise ValueError(message)
ALL = AMOUNT == "all"
CI = bool(os.environ.get("CI"))


def count(sample: int, whole: int, share: int = 6) -> int:
    """Return how often something is done: a part of a sample where CI is not set."""
    return whole if ALL else sample if CI else -(-sample // share)


def chance(what: str) -> random.Random:
    """Return the source of randomness of what is named."""
    return random.Random(f"{SEED} {what}")


def sampled(
    cases: Sequence[Case], number: int, what: str, share: int = 6
) -> Sequence[Case]:
    """Return ``number`` of the cases in their order, a sixth of it, or all."""
    if ALL:
        return cases
    some = count(number, len(cases), share)
    places = sorted(chance(what).sample(range(len(cases)), some))
    return [cases[place] for place in places]
