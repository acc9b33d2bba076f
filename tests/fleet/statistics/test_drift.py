"""Control charts, held against the NIST/SEMATECH handbook's examples."""

import pytest

from auditkit.fleet.statistics.drift import ewma, individuals

# NIST/SEMATECH e-Handbook 6.3.2.2 and 6.3.2.4; the values are from memory.
FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)
TWENTY = (52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *FLOW)


def test_individuals_of_the_handbook():
    chart = individuals(FLOW)
    assert chart.middle == pytest.approx(50.81)
    # 1.8778 is the mean moving range that the handbook prints (from memory)
    assert (chart.high - chart.middle) * 1.128 / 3 == pytest.approx(1.8778, abs=1e-4)
    assert (chart.low, chart.high) == pytest.approx((45.8159102, 55.8040898))
    assert chart.outside == ()


def test_averages_of_the_handbook():
    chart = ewma(TWENTY, 50, 2.0539)
    # the handbook prints 52.5884 and 47.4115 (from memory)
    assert chart.high == pytest.approx(52.5884, abs=1e-4)
    assert chart.low == pytest.approx(47.4115, abs=1e-4)
    assert chart.values[-1] == pytest.approx(51.99, abs=0.005)
    assert chart.outside == ()


def test_a_slow_drift_is_seen_by_the_averages():
    values = [50 + 0.25 * n + (0.5 if n % 2 else -0.5) for n in range(20)]
    assert ewma(values, 50, 1.0).outside
    assert not individuals([50 + (0.5 if n % 2 else -0.5) for n in range(20)]).outside
    with pytest.raises(ValueError, match="two values"):
        individuals([1.0])
