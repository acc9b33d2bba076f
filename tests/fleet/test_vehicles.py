"""A register of vehicles: periods in view, and what is refused."""

from datetime import datetime

import pytest

from auditkit.errors import InputError
from auditkit.fleet.vehicles import InView, parse_vehicles


def at(text):
    return datetime.fromisoformat(text)


def test_the_last_day_is_in_view():
    (found,) = parse_vehicles("vin,from,to\nabc1,2026-01-01,2026-01-31\n")
    assert found == InView("ABC1", at("2026-01-01"), at("2026-02-01"))


@pytest.mark.parametrize(
    "text",
    [
        "VIN\nABC1\n\n",
        "vin;from;to\nABC1;;\n",
        "\ufeffTo\tVIN\n\t ABC1 \n",
    ],
)
def test_dates_may_be_left_out(text):
    assert parse_vehicles(text) == (InView("ABC1"),)


def test_a_vehicle_may_come_back_into_view():
    text = "vin,from,to\nA,2026-03-01,\nA,,2026-02-28\n"
    assert [one.until for one in parse_vehicles(text)] == [None, at("2026-03-01")]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "row 1: the first row is not 'vin,from,to'"),
        ("plate\nA", "row 1: the first row is not"),
        ("vin,vin\nA,B", "row 1: the first row is not"),
        ("vin,owner\nA,B", "row 1: the first row is not"),
        ("vin\n", "this register names no vehicle"),
        ("vin,from\nA", "row 2: it has 1 cells, and the first row 2"),
        ("vin,from\n,2026-01-01", "row 2: there is no VIN"),
        ("vin,from\nA,01.02.2026", "row 2: '01.02.2026' is no date"),
        ("vin,from\nA,20260102", "row 2: '20260102' is no date"),
        ("vin,from\nA,2026-02-30", "row 2: '2026-02-30' is no date"),
        ("vin,to\nA,9999-12-31", "row 2: '9999-12-31' is no date of a vehicle"),
        ("vin,from,to\nA,2026-02-01,2026-01-01", "row 2: 'to' lies before 'from'"),
        (
            "vin,from,to\nA,,2026-02-01\nA,2026-02-01,",
            "row 3: two periods of vehicle A",
        ),
        ("vin\nA\nA", "row 3: two periods of vehicle A overlap"),
        ('vin\n"A', "this is no table of values"),
    ],
)
def test_what_is_no_register_is_refused(text, told):
    with pytest.raises(InputError) as error:
        parse_vehicles(text, where="fleet.csv")
    assert told in str(error.value)
    assert str(error.value).startswith("fleet.csv")
