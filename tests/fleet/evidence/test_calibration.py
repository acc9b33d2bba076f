"""Instruments: in calibration when used, and steady."""

from datetime import date, timedelta

import pytest
from bench_rows import Benches, cells
from made_collection import Made
from statsmodels.stats.proportion import proportion_confint

from auditkit.fleet.evidence.calibration import calibration
from auditkit.fleet.evidence.drifting import drifting
from auditkit.fleet.settings import Settings

CALIBRATED = date(2026, 1, 10)


def _use(made, order, used_on, **values):
    row = {
        "log_id": 1,
        "instrument": "gauge-1",
        "order_id": order,
        "has_specification": True,
        "calibrated_on": CALIBRATED,
        "due": CALIBRATED + timedelta(days=365),
        "certificate": "C-1",
        "used_on": used_on,
    }
    made.insert("instrument", **row | values)


def test_uses_within_and_outside_a_calibration():
    made = Made()
    order = made.order("Shop 1")
    last = CALIBRATED + timedelta(days=365)
    for _ in range(28):
        _use(made, order, CALIBRATED)
    _use(made, order, last)
    _use(made, order, last + timedelta(days=3))
    _use(made, order, CALIBRATED - timedelta(days=1))
    _use(made, order, CALIBRATED, due=None)
    _use(made, order, CALIBRATED, has_specification=False)
    part = calibration(made.ask(), Settings())
    (row,) = cells(part)
    assert (row["uses"], row["within"], row["outside"]) == (33, 29, 2)
    assert (row["undated"], row["unstated"]) == (1, 1)
    low, high = proportion_confint(29, 33, method="wilson")
    assert (row["low"], row["high"]) == pytest.approx((100 * low, 100 * high))
    (asked,) = part.asked
    assert asked.measured == {"outside": 2, "uses": 33, "days at most": 3}
    assert "gauge-1, used 2027-01-13, due 2027-01-10" in asked.to_open[0].because


def test_a_published_interval():
    # Newcombe 1998, Statistics in Medicine 17:857, table I (from memory): 81 of 263
    made = Made()
    order = made.order("Shop 1")
    for number in range(263):
        _use(made, order, CALIBRATED, has_specification=number < 81)
    (row,) = cells(calibration(made.ask(), Settings()))
    assert (row["low"], row["high"]) == pytest.approx((25.53, 36.62), abs=0.005)


def test_due_dates_that_move_under_one_certificate():
    made = Made()
    order = made.order("Shop 1")
    _use(made, order, CALIBRATED)
    _use(made, order, CALIBRATED, due=CALIBRATED + timedelta(days=500))
    _use(made, order, CALIBRATED, certificate="C-2", due=CALIBRATED)
    part = calibration(made.ask(), Settings())
    (moved,) = cells(part, table=len(part.section.tables) - 1)
    assert (moved["certificate"], moved["due"]) == ("C-1", "2027-01-10, 2027-05-25")


def test_no_instrument_at_all():
    part = calibration(Made().ask(), Settings())
    assert part.section.sentences == ("No bench test names an instrument.",)


@pytest.mark.parametrize(("slope", "asks"), [(0.0, 0), (0.1, 1)])
def test_an_instrument_that_drifts(slope, asks):
    made = Benches()
    for number in range(24):
        text = f"{10 + slope * number + (0.1 if number % 2 else -0.1):.2f}"
        made.test("Shop 1", ("resistance", text), of_part="known-good")
        made.test("Shop 1", ("resistance", str(number)))  # faulty parts do not count
    part = drifting(made.ask(), Settings())
    assert len(part.asked) == len(part.section.charts) == asks
    (row,) = cells(part)
    assert row["readings"] == 24


def test_nineteen_readings_say_nothing():
    made = Benches()
    for number in range(19):
        made.test("Shop 1", ("resistance", str(number)), of_part="known-good")
    part = drifting(made.ask(), Settings())
    assert not part.asked
    assert not part.section.tables
