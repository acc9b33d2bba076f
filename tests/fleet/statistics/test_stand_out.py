"""Many tests at once: the example of Benjamini and Hochberg, and statsmodels."""

import numpy as np
import pytest
from statsmodels.stats.multitest import multipletests

from auditkit.fleet.statistics.stand_out import adjusted_tails, standing_out

# Benjamini & Hochberg 1995, JRSS B 57:289, their example (from memory)
TAILS = (
    *(0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344),
    *(0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0),
)


def test_the_published_example_rejects_four():
    assert sum(standing_out(TAILS, 0.05)) == 4
    assert adjusted_tails(TAILS)[:5] == pytest.approx(
        [0.0015, 0.003, 0.0095, 0.035625, 0.0603]
    )


def test_it_is_that_of_statsmodels():
    tails = [float(p) for p in np.random.default_rng(1).uniform(size=50) ** 3]
    told = multipletests(tails, 0.01, method="fdr_bh")
    assert standing_out(tails, 0.01) == list(told[0])
    assert adjusted_tails(tails) == pytest.approx(list(told[1]))
    assert adjusted_tails([]) == []
    with pytest.raises(ValueError, match="between 0 and 1"):
        adjusted_tails([0.2, float("nan")])
