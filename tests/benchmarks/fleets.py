"""Prints which planted shops an audit asks about, and how many others, over fleets.

Run it with ``python tests/benchmarks/fleets.py [--fleets N] [--first SEED]``; nothing
here passes or fails. Each fleet is 60 invented shops (``tests/support/fleets.py``) in
which one invents 60, 25 or 10 of 100 readings, one copies 25, 10 or 5 of 100 bench
tests word for word, one has three readouts of other vehicles, one repeats its readings
without any spread, one writes half of all down a day late, and two have 2.5 times the
comebacks. Settings are the defaults, chosen before and on other fleets than seeds from
1001 on: look at lower seeds while changing something, and at those once.

The last columns are of an earlier trial of the same screens, on 60 other fleets of
another generator of the same description; a star marks what differs from it by more
than twice the sampling error of both. A fleet took 12 s of one core's time where this
was written: 20 minutes for 100.
"""

from __future__ import annotations

import argparse
import math
import sys
import time
from collections import defaultdict
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

from fleet_trial import SCREENS, TWO_OF_THREE, plan, trial

SHARES = (0.6, 0.25, 0.1)
COPIED = {0.6: 0.25, 0.25: 0.1, 0.1: 0.05}
EARLIER = {
    "just beyond a limit": (1.0, 1.0, 0.55),
    "last digits": (1.0, 0.78, 0.07),
    "written down late": (1.0, 0.65, 0.0),
    TWO_OF_THREE: (1.0, 0.95, 0.07),
    "equal records": (1.0, 1.0, 1.0),
}
"""Share found in the earlier trial; 60 fleets, of equal records 40."""
OUTCOMES = {"more comebacks, look": (0.64, 0.16), "more comebacks, watch": (0.88, 1.7)}
"""Share found, and false alarms an audit, in the earlier trial of 100 fleets."""


def _differs(found: float, n: int, earlier: float, of: int) -> bool:
    both = (found * n + earlier * of) / (n + of)
    spread = math.sqrt(max(both * (1 - both), 1e-9) * (1 / n + 1 / of))
    return abs(found - earlier) > 2 * spread + 1e-9


def _cell(found: float, others: float) -> str:
    return f"{100 * found:>6.0f} % {others:>6.2f}"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--fleets", type=int, default=100)
    parser.add_argument("--first", type=int, default=1001)
    asked = parser.parse_args()
    began = time.process_time()
    sums: dict[tuple[str, float], list[int]] = defaultdict(lambda: [0, 0, 0])
    for seed in range(asked.first, asked.first + asked.fleets):
        for share in SHARES:
            planned = plan(share, COPIED[share])
            told = trial(seed, planned, with_outcomes=share == SHARES[0])
            for name, one in told.items():
                kept = sums[name, share]
                for place, number in enumerate((one.found, one.planted, one.others)):
                    kept[place] += number
        sys.stderr.write(f"\r{seed - asked.first + 1} of {asked.fleets} fleets")
    seconds = time.process_time() - began
    n = asked.fleets
    sys.stderr.write("\r")
    print(f"{n} fleets from seed {asked.first}, {seconds / n:.1f} s of a core each")
    print("share found, and honest shops asked about in one audit\n")
    heads = "".join(f"{100 * s:>9.0f} in 100" for s in SHARES)
    print(f"{'screen':<28}{heads}   earlier")
    for name in (*SCREENS, "late shop", TWO_OF_THREE):
        cells, marks = "", ""
        for place, share in enumerate(SHARES):
            found, planted, others = sums[name, share]
            cells += f" {_cell(found / planted, others / n)}"
            if name in EARLIER:
                of = 40 if name == "equal records" else 60
                star = _differs(found / planted, planted, EARLIER[name][place], of)
                marks += f"{100 * EARLIER[name][place]:>5.0f} %{'*' if star else ' '}"
        print(f"{name:<28}{cells}  {marks}")
    for name, (earlier, false) in OUTCOMES.items():
        found, planted, others = sums[name, SHARES[0]]
        star = "*" if _differs(found / planted, planted, earlier, 200) else " "
        cell = _cell(found / planted, others / n)
        print(f"{name:<28} {cell}{'':32}{100 * earlier:>5.0f} %{star} {false:.2f}")


if __name__ == "__main__":
    main()
