"""Prints how often bench tests are decided wrongly, and rightly, beside alpha.

Run it with ``python tests/benchmarks/bench_risk.py [--draws N] [--alpha A]``; nothing
here passes or fails. Errors are drawn, 20,000 times a cell unless told otherwise, and
each draw is decided by the software's own rule; ``tests/support/bench_risk.py`` says
what the columns are.
"""

from __future__ import annotations

import argparse
import math
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

from bench_risk import POINTS, grid, rates_of, repeated, spread_of_a_set

from auditkit.bench.decision import cleared_at, decided_at

_COLUMNS = ("false alarm", "false good", "found", "cleared", "all cleared")


def _share(number: float) -> str:
    return f"{'-':>12}" if math.isnan(number) else f"{100 * number:>10.2f} %"


def main() -> None:
    """Print the three tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--draws", type=int, default=20_000)
    parser.add_argument("--alpha", type=float, default=0.05)
    told = parser.parse_args()
    draws, alpha = told.draws, told.alpha
    scatter = math.sqrt(alpha * (1 - alpha) / draws)
    print(f"alpha {alpha:.2%}, {draws} draws a cell, which scatter by {scatter:.2%}")
    for name, distance in (("found", decided_at), ("all cleared", cleared_at)):
        told_of = (f"{distance(alpha, n):.2f} u ({n})" for n in POINTS)
        print(f"distance at which 95 % are {name}: {', '.join(told_of)}")
    print(f"\n{'cell':<36}" + "".join(f"{name:>12}" for name in _COLUMNS))
    for cell in grid():
        found = rates_of(cell, draws, alpha)
        numbers = (
            found.false_alarm,
            found.false_good,
            found.found,
            found.cleared,
            found.all_cleared,
        )
        print(f"{cell!s:<36}" + "".join(map(_share, numbers)), flush=True)
    print(f"\n{'lowest to highest of a set':<36}{'false alarm':>12}{'false good':>12}")
    for members in (3, 4, 6, 8, 12):
        for low in sorted({1, members // 2, members - 1}):
            for u in (0.5, 1, 2, 5):
                name = f"{low} of {members} at the limit, u {u} %"
                both = spread_of_a_set(members, low, u, draws, alpha)
                print(f"{name:<36}" + "".join(map(_share, both)))
    print(f"\n{'mean of few readings, at its limit':<36}{'false alarm':>12}")
    for readings in (2, 3, 5, 10):
        faulty, _ = repeated(readings, 0.0, draws, alpha)
        print(f"{readings:>2} readings{'':<25}" + _share(faulty))


if __name__ == "__main__":
    main()
