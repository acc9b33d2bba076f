"""Last digits of a shop's readings against those of peers with the same resolution.

Not against equal shares of all ten digits: honest gauges favour some, and people round.
The idea of digits as a screen: Mosimann, Wiseman and Edelman 1995, Accountability in
Research 4:31 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

_FIRST_TABLES = 1_999
_MORE_TABLES = 99_999
_SEED = 1995


@dataclass(frozen=True, slots=True)
class Homogeneity:
    """Pearson's chi-square of two rows of counts.

    ``freedom`` is one less than the digits that occur; ``effect`` is sqrt(chi2 / N);
    ``is_drawn`` says that some expected count is below 5, so that ``tail`` is from
    tables drawn with the same margins (always the same ones) instead of the chi-square
    distribution.
    """

    chi_square: float
    freedom: int
    tail: float
    effect: float
    is_drawn: bool


def homogeneity(one: Sequence[int], others: Sequence[int]) -> Homogeneity:
    """Ask whether two rows of counts come from one distribution.

    Raises ValueError where a row is empty of counts: there is nothing to compare.
    """
    import numpy as np
    from scipy import special

    if not sum(one) or not sum(others):
        raise ValueError("a row without any count cannot be compared")
    table = np.array([one, others], float)
    table = table[:, table.sum(axis=0) > 0]
    total = float(table.sum())
    expected = np.outer(table.sum(axis=1), table.sum(axis=0)) / total
    found = float(((table - expected) ** 2 / expected).sum())
    freedom = table.shape[1] - 1
    effect = math.sqrt(found / total)
    if not freedom:
        return Homogeneity(0.0, 0, 1.0, 0.0, is_drawn=False)
    if float(expected.min()) >= 5:
        tail = float(special.chdtrc(freedom, found))
        return Homogeneity(found, freedom, tail, effect, is_drawn=False)
    rows = [int(n) for n in table.sum(axis=1)]
    columns = [int(n) for n in table.sum(axis=0)]
    tail = _drawn(rows, columns, found, _FIRST_TABLES)
    if tail < 0.02:
        tail = _drawn(rows, columns, found, _MORE_TABLES)
    return Homogeneity(found, freedom, tail, effect, is_drawn=True)


def _drawn(rows: list[int], columns: list[int], found: float, tables: int) -> float:
    """Return the share of tables with these margins that differ at least as much."""
    import numpy as np

    expected = np.outer(rows, columns) / sum(rows)
    draws = np.random.default_rng(_SEED)
    first = draws.multivariate_hypergeometric(columns, rows[0], size=tables)
    second = np.asarray(columns) - first
    distance = ((first - expected[0]) ** 2 / expected[0]).sum(axis=1) + (
        (second - expected[1]) ** 2 / expected[1]
    ).sum(axis=1)
    return (1 + int((distance >= found * (1 - 1e-12)).sum())) / (tables + 1)
