"""What rows say of a packet is what its events say, in the units of the world outside.

Factors: inch of mercury and mile by NIST Special Publication 811 (2008), appendix B.8
(conventional inch of mercury 3.386389 kPa, mile 1.609344 km); 0 degC is 273.15 K by the
SI brochure (9th edition, 2.3.1). All from memory.
"""

from datetime import date, datetime
from hashlib import sha256

import pytest
from made_logs import OTHER_VIN, VIN, MadeLog, demo_events

from auditkit.fleet.columns import columns_of
from auditkit.fleet.judging import FoundFile, judged_file
from auditkit.fleet.rows.packet_rows import OF_ORDER
from auditkit.fleet.rows.values import (
    day,
    in_si,
    known_unit,
    metres,
    moment,
    offset_min,
)
from auditkit.fleet.tables import ENUMS


def rows_of(events, **packet):
    log = MadeLog(1)
    log.close("RO-1", events)
    data = log.packet("RO-1", **packet).encode()
    judged = judged_file(FoundFile("p", sha256(data).digest(), data))
    return judged.rows


@pytest.fixture(scope="module")
def rows():
    return rows_of(demo_events())


def test_readings_are_in_si_with_their_limit(rows):
    found = {r["quantity"]: r for r in rows.of_order["bench_reading"]}
    start, end = found["start pressure"], found["end pressure"]
    assert start["value_text"] == "18.0"
    assert start["value_si"] == pytest.approx(18 * 3386.389, rel=1e-6)
    assert "low_si" not in start
    assert end["low_si"] == pytest.approx(15 * 3386.389, rel=1e-6)
    assert (end["high_si"], end["outcome"], end["of_part"]) == (None, "faulty", "old")
    assert end["instrument"] == "gauge-3"
    assert end["resolution"] == 0.5
    assert found["end temperature"]["value_si"] == pytest.approx(19.2 + 273.15)
    assert {r["hold_s"] for r in found.values()} == {60.0}


def test_the_uncertainty_of_a_reading_is_its_instruments(rows):
    """Hand sum: 2 % of 30 inHg and half a step of .5 inHg, both rectangular (GUM)."""
    end = next(
        r for r in rows.of_order["bench_reading"] if r["quantity"] == "end pressure"
    )
    inch = ((0.6 / 3**0.5) ** 2 + (0.5 / 12**0.5) ** 2) ** 0.5
    assert end["u_si"] == pytest.approx(inch * 3386.389, rel=1e-5)


def test_a_limit_on_what_is_computed_stands_at_that():
    events = demo_events()
    test = next(e for e in events if e["kind"] == "bench_test")
    test["limit"] = {"maximum": "0.5", "unit": "kPa", "source": "x (invented)"}
    test["limit"]["of"] = "pressure loss"
    found = rows_of(events).of_order["bench_reading"]
    (loss,) = [row for row in found if row.get("high_si") is not None]
    assert (loss["quantity"], loss["is_computed"]) == ("pressure loss", True)
    assert loss["high_si"] == 500.0
    lost = (18.0 - 6.5) * 3386.389
    assert loss["value_si"] == pytest.approx(lost, rel=0.01), "less what got warmer"
    assert loss["u_si"] > 0
    assert [row["place"] for row in found] == list(range(5))


def test_a_value_that_was_typed_is_a_row_with_its_limit():
    events = demo_events()
    test = next(e for e in events if e["kind"] == "bench_test")
    for name in ("method", "readings", "conditions"):
        del test[name]
    test["result"] = {"name": "resistance", "above": "40", "unit": "Mohm"}
    test["limit"] = {"maximum": "15.0", "unit": "ohm", "source": "invented"}
    (row,) = rows_of(events).of_order["bench_reading"]
    assert (row["quantity"], row["bound"], row["value_text"]) == (
        "resistance",
        "above",
        "40",
    )
    assert row["value_si"] == 40e6
    assert row["high_si"] == 15.0


def test_the_vehicle_its_times_and_its_odometer(rows):
    order = rows.order
    assert (order["vin"], order["vin_state"], rows.vin) == (VIN, "given", VIN)
    assert order["vin_is_from_vehicle"] is True
    assert order["odometer_m"] == 184_210_000
    assert order["opened_at"] == datetime(2026, 3, 2, 7, 5)  # noqa: DTZ001  UTC by design
    assert order["offset_min"] == 60
    assert metres("100", "mi") == 160_934
    assert metres("1", "ft") is None


@pytest.mark.parametrize(
    ("withhold", "state"), [((), "absent"), (("vehicle.vin",), "withheld")]
)
def test_a_vin_that_is_not_told_says_why(withhold, state):
    events = [e for e in demo_events() if e["kind"] != "readout"]
    log = MadeLog(1)
    vin = events[0]["vehicle"].pop("vin")
    if withhold:
        events[0]["vehicle"]["vin"] = vin
    log.add("RO-1", events[0], withhold)
    log.close("RO-1", events[1:])
    data = log.packet("RO-1").encode()
    order = judged_file(FoundFile("p", b"", data)).rows.order
    assert (order["vin"], order["vin_state"]) == (None, state)


def test_a_vin_that_was_read_counts_where_none_was_typed():
    events = demo_events()
    del events[0]["vehicle"]["vin"]
    order = rows_of(events).order
    assert (order["vin"], order["vin_is_from_vehicle"]) == (VIN, True)


@pytest.mark.parametrize(
    "typed", [OTHER_VIN, VIN.lower(), f"{VIN[:8]}-{VIN[8:]} ", "see the file"]
)
def test_a_vin_typed_otherwise_makes_no_second_vehicle(typed):
    events = demo_events()
    events[0]["vehicle"]["vin"] = typed
    rows = rows_of(events)
    assert (rows.vin, rows.order["vin_is_from_vehicle"]) == (VIN, True)


def test_instruments_are_as_they_were_that_day(rows):
    gauge = next(r for r in rows.of_order["instrument"] if r["instrument"] == "gauge-3")
    assert gauge["calibrated_on"] == date(2026, 1, 12)
    assert gauge["used_on"] == date(2026, 3, 2)
    assert gauge["has_specification"] is True


def test_a_readout_is_known_by_what_it_says_and_not_by_its_marks(rows):
    first, last = rows.of_order["readout"]
    other = rows_of(demo_events(vin="0ZZTB1A1XCA000124", days=3))
    assert (
        other.of_order["readout"][0]["less_marks_sha256"]
        == (first["less_marks_sha256"])
    )
    assert other.of_order["readout"][0]["answered_sha256"] != first["answered_sha256"]
    assert first["less_marks_sha256"] != last["less_marks_sha256"]
    assert first["varying_bits"] > 0


def test_self_tests_keep_their_limits(rows):
    found = {(r["seq"], r["monitor"], r["test"]): r for r in rows.of_order["self_test"]}
    failed = found[3, "31", "81"]
    assert (failed["value"], failed["low"], failed["high"]) == (2.14, 3.5, None)
    assert failed["outcome"] == "failed"
    assert {r["is_typed"] for r in found.values()} == {False}


def test_a_fault_says_what_came_of_its_first_repair(rows):
    (fault,) = rows.of_order["fault"]
    assert (fault["code"], fault["module"], fault["kind"]) == ("P0401", "7E8", "stored")
    assert fault["attempts"] == 1
    assert fault["is_addressed"] is True
    assert fault["came_back_here"] is False


def test_rows_have_the_columns_of_their_tables(rows):
    given = {"order_id", "log_id"}
    for table in OF_ORDER:
        names = {name for name, _ in columns_of(table)}
        for row in rows.of_order[table]:
            assert set(row) <= names - given
    for row in rows.events:
        assert set(row) - {"is_own"} <= {name for name, _ in columns_of("event")}


def test_what_rows_say_is_in_the_enumerations(rows):
    columns = {t: dict(columns_of(t)) for t in OF_ORDER}
    for table in OF_ORDER:
        for row in rows.of_order[table]:
            for name, value in row.items():
                if columns[table][name] in ENUMS and value is not None:
                    assert value in ENUMS[columns[table][name]]


@pytest.mark.parametrize(
    "text", ["", "x", "2026-13-01T00:00:00Z", "2026-03-02T08:00:00", "9" * 400]
)
def test_what_is_no_time_is_none(text):
    assert moment(text) is None
    assert offset_min(text) is None
    assert day(text) is None


def test_times_at_the_ends_of_the_calendar_are_none_rather_than_wrong():
    assert moment("9999-12-31T23:59:59-23:59") is None
    assert moment("0001-01-01T00:00:00+23:59") is None
    assert moment("2026-03-02T08:00:00+01:00") == datetime(2026, 3, 2, 7)  # noqa: DTZ001  UTC by design
    assert offset_min("2026-03-02T08:00:00-09:30") == -570


def test_a_number_without_end_is_none():
    assert in_si("1" + "0" * 500, known_unit("kPa")) is None
    assert in_si("5", known_unit("furlong")) is None


class TestTimesOfAFault:
    def test_they_are_its_repairs_and_the_readouts_that_hold_it(self, rows):
        (row,) = rows.of_order["fault"]
        assert row["repaired_at"] == [moment("2026-03-02T10:30:00+01:00")]
        assert row["seen_at"] == [moment("2026-03-02T08:20:00+01:00")]

    def test_a_repair_was_not_done_after_it_was_written_down(self):
        log, events = MadeLog(1), demo_events()
        written = [datetime.fromisoformat(event["at"]) for event in events]
        (repair,) = (e for e in events if e["kind"] == "repair")
        repair["at"] = "2026-03-20T09:00:00+00:00"
        for event, recorded in zip(events, written, strict=True):
            log.add("RO-1", event, recorded=recorded)
        log.verdict("RO-1", repair["at"])
        data = log.packet("RO-1").encode()
        judged = judged_file(FoundFile("p", sha256(data).digest(), data))
        (row,) = judged.rows.of_order["fault"]
        assert row["repaired_at"] == [moment("2026-03-02T10:30:00+01:00")]


@pytest.mark.parametrize(
    ("vin", "typed", "found"),
    [(VIN, 1997, 2012), (VIN[:-1] + "4", 1997, 1997)],
)
def test_a_vin_whose_check_digit_holds_tells_the_model_year(vin, typed, found):
    """Position 10 of the demo's VIN is C: 2012 (49 CFR 565.15, from memory)."""
    events = demo_events("RO-1003", vin=vin)
    events[0]["vehicle"] |= {"vin": vin, "model_year": typed}
    events = [event for event in events if event["kind"] != "readout"]
    assert rows_of(events).order["model_year"] == found


def test_running_times_are_kept_as_they_were_sent(rows):
    before, after = rows.of_order["readout"]
    assert (before["minutes"], after["minutes"]) == ("7E8 414e0c1a", "7E8 414e0034")
