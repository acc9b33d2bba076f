"""The clock that a tool writes beside its lines. All readouts invented."""

from datetime import datetime, timedelta

import pytest

from auditkit.obd.clock import tool_clock, went_back

CAPTURED = datetime.fromisoformat("2026-03-02T08:10:00+01:00")
LINE = "7E8 02 43 00 AA AA AA AA AA"


@pytest.mark.parametrize(
    ("stamp", "minutes"),
    [
        # 2026-03-02T07:10:00Z by GNU date: date -u -d @1772435400
        ("(1772435400.000000) can0", 0),
        ("(1772435340.5) can0", 0.991667),
        ("2026-03-02 08:10:00", 0),
        ("2026-03-02T07:10:00Z", 0),
        ("2026-03-02T02:10:00-05:00", 0),
        ("[2026-03-01 08:10:00]", 1440),
        ("8:05:00", 5),
        ("08:15:00.250", -5),
        ("23:50:00", 500),
        ("  [20:09:00]", -719),
    ],
)
def test_how_far_it_is_behind(stamp, minutes):
    found = tool_clock(f"> 03\n{stamp} {LINE}\n", CAPTURED)
    assert found.behind(CAPTURED) / timedelta(minutes=1) == pytest.approx(
        minutes, abs=0.01
    )


@pytest.mark.parametrize(
    "text",
    [
        "",
        f"> 03\n{LINE}\n",
        f"(000.120) can0 {LINE}",
        f"12.250 {LINE}",
        f"2026-02-31 08:10:00 {LINE}",
        f"25:10:00 {LINE}",
        f"# captured 2026-03-02 08:10:00\n{LINE}",
    ],
)
def test_no_clock(text):
    assert tool_clock(text, CAPTURED) is None


def test_how_long_it_ran():
    text = f"08:00:00 {LINE}\n{LINE}\n08:20:30 {LINE}\n"
    assert tool_clock(text, CAPTURED).ran == timedelta(minutes=20, seconds=30)


def test_it_runs_past_midnight():
    text = f"23:59:30 {LINE}\n00:00:30 {LINE}\n"
    assert tool_clock(text, CAPTURED).ran == timedelta(minutes=1)


@pytest.mark.parametrize(
    ("stamps", "told"),
    [
        (("2026-03-02 08:10:00", "2026-03-02 08:00:00"), ""),
        (("2026-03-02 08:10:00", "2026-03-02 07:59:59"), "2026-03-02 07:59:59"),
        (("(1772435400)", "(1772434799)"), "1772434799"),
        (("23:59:30", "00:00:30"), ""),
        (("2026-03-02 08:10:00", "2026-02-31 08:10:00"), ""),
        (("2026-03-02 08:10:00", "2026-03-02T07:10:00Z"), ""),
    ],
)
def test_a_line_stamped_before_the_line_above_it(stamps, told):
    """By more than ten minutes; without a day it may have passed midnight."""
    text = "\n".join(f"{stamp} {LINE}" for stamp in stamps)
    assert went_back(text, CAPTURED, timedelta(minutes=10)) == told
