"""A limit is crossed by more than a bad part: what a test read has to be of it.

That a low supply reads like a bad part, and how parts and their quantities are called,
is common practice, no published source; 10.5 V is code D of ISO 16750-2, from memory.
"""

import pytest
from truth.jobs import event

from auditkit.order.bears_on_part import (
    less_of_part,
    named_otherwise,
    not_of_part,
    quantity_of_another,
    read_elsewhere,
)
from auditkit.order.events import RepairOrder


def order_of(test, *earlier, name="injector of cylinder 3", system="fuel"):
    """Return an order with a part and its last bench test, and that test."""
    suspect = {"id": "part", "name": name, "system": system}
    found = event("diagnosis", "08:00", codes=["P0300"], suspect_parts=[suspect])
    last = event("bench_test", "09:00", part="part", **test)
    work = event("repair", "10:00", part="part", action="replaced")
    order = RepairOrder.fold("RO-1", [found, *earlier, last, work])
    return order, order.events[-2]


def read(name, *values, unit="A"):
    return [{"name": name, "value": value, "unit": unit} for value in values]


def direct(name, volts, **more):
    supply = {"supply voltage": {"value": volts, "unit": "V"}} if volts else {}
    conditions = supply | more.pop("conditions", {})
    readings = read(name, "6.0")
    return {
        "method": "direct-reading",
        "readings": readings,
        "conditions": conditions,
        **more,
    }


@pytest.mark.parametrize(
    ("test", "shows_nothing"),
    [
        (direct("current", "7.9"), True),
        (direct("pressure", "10.4"), True),
        (direct("current", "10.5"), False),
        (direct("current", "27.1"), False),
        (direct("current", "5.0"), False),
        (direct("current", ""), False),
        (direct("resistance", "7.9"), False),
        (direct("current", "9.6", setup="cranking"), False),
        (
            direct(
                "current",
                "7.9",
                conditions={"least supply voltage": {"value": "7", "unit": "V"}},
            ),
            False,
        ),
    ],
)
def test_what_a_supply_drives_is_read_on_a_good_one(test, shows_nothing):
    assert bool(not_of_part(*order_of(test))) is shows_nothing


def balance(*values, which=("cylinder 1", "cylinder 2", "cylinder 3", "cylinder 4")):
    readings = read("reading of each member", *values, unit="mL")
    for reading, name in zip(readings, which, strict=False):
        reading["which"] = name
    return {"method": "balance", "readings": readings}


@pytest.mark.parametrize(
    ("test", "name", "shows_nothing", "shows_less"),
    [
        (balance("301", "299", "195", "300"), "injector of cylinder 3", False, False),
        (balance("301", "195", "299", "300"), "injector of cylinder 3", True, False),
        (balance("301", "420", "299", "300"), "injector of cylinder 3", True, False),
        (balance("301", "195", "299", "300"), "injectors", False, False),
        (
            balance("301", "195", "299", "300", which=()),
            "injector of cylinder 3",
            False,
            True,
        ),
        (
            balance("301", "195", "299", "300", which=("1", "2")),
            "injector of cylinder 3",
            False,
            True,
        ),
        (balance("301", "195", "299", "300", which=()), "injectors", False, False),
        (
            balance("301", "195", "299", "300", which=["cylinder 3"] * 4),
            "injector of cylinder 3",
            False,
            True,
        ),
        (balance("301", "195", "299", which="203"), "injector 03", False, False),
        (balance("301", "195", "299", "300", which="2334"), "injector 3", True, True),
        (balance("301", "195", "199", "300", which="2334"), "injector 3", False, True),
        (balance("301", "195", "299", "300", which="2344"), "injector 3", False, True),
    ],
)
def test_the_one_that_stands_out_is_the_part(test, name, shows_nothing, shows_less):
    order, last = order_of(test, name=name)
    assert bool(not_of_part(order, last)) is shows_nothing
    assert bool(less_of_part(order, last)) is shows_less


@pytest.mark.parametrize(
    ("name", "which", "is_elsewhere"),
    [
        ("glow plug of cylinder 2", "cylinder 3", True),
        ("glow plug of cylinder 2", "Cyl. 2", False),
        ("glow plug of cylinder 2", "pin 3", False),
        ("glow plug of cylinder 2", "cylinders 1 to 4", False),
        ("glow plug", "cylinder 3", False),
        ("front sensor of bank 1", "bank 2", True),
    ],
)
def test_a_reading_is_of_the_place_that_its_part_is_at(name, which, is_elsewhere):
    test = direct("current", "")
    test["readings"][0]["which"] = which
    assert bool(not_of_part(*order_of(test, name=name))) is is_elsewhere


def test_a_code_says_the_place_that_no_name_says():
    test = direct("current", "")
    test["readings"][0]["which"] = "cylinder 3"
    suspect = {"id": "part", "name": "injector", "system": "fuel"}
    diagnosis = event("diagnosis", "08:00", codes=["P0202"], suspect_parts=[suspect])
    last = event("bench_test", "09:00", part="part", **test)
    order = RepairOrder.fold("RO-1", [diagnosis, last])
    assert read_elsewhere(order, order.events[1]) == "current was read at cylinder 3"


@pytest.mark.parametrize(
    ("name", "system", "quantity", "is_strange"),
    [
        ("ignition coil of cylinder 1", "ignition", "length", True),
        ("ignition coil of cylinder 1", "ignition", "resistance", False),
        ("spark plug of cylinder 1", "ignition", "length", False),
        ("crankshaft sensor", "ignition", "length", False),
        ("rotor", "ignition", "length", False),
        ("coil", "body", "length", False),
    ],
)
def test_a_gap_is_no_quantity_of_a_coil(name, system, quantity, is_strange):
    order, last = order_of(direct(quantity, ""), name=name, system=system)
    assert bool(quantity_of_another(order, last)) is is_strange


FIRST = event("bench_test", "08:10", part="part", **direct("length", ""))
REPLACED = event("repair", "08:20", part="part", action="replaced")
CLEANED = event("repair", "08:20", part="part", action="cleaned")
OPEN = {"method": "direct-reading", "readings": [{"name": "resistance", "above": "40"}]}


@pytest.mark.parametrize(
    ("earlier", "test", "is_copy"),
    [
        ([FIRST, REPLACED], direct("length", ""), True),
        ([FIRST, CLEANED], direct("length", ""), False),
        ([FIRST], direct("length", ""), False),
        ([REPLACED, FIRST], direct("length", ""), False),
        ([FIRST, REPLACED], direct("current", ""), False),
        (
            [event("bench_test", "08:10", part="part", **OPEN), REPLACED],
            OPEN,
            False,
        ),
    ],
)
def test_a_new_piece_does_not_read_the_digits_of_the_old(earlier, test, is_copy):
    order, last = order_of(test, *earlier)
    assert bool(less_of_part(order, last)) is is_copy


def quick_look(value, unit="ohm", **more):
    result = {"value": value, "unit": unit}
    told = {"test": "quick look", "instruments": [{"id": "meter-1"}], **more}
    return event("bench_test", "08:10", part="part", result=result, **told)


LIMIT = {"minimum": "20", "maximum": "30", "unit": "ohm", "source": "invented"}
COIL = {"method": "winding", "readings": read("resistance", "210", unit="ohm")}


@pytest.mark.parametrize(
    ("earlier", "is_less"),
    [
        (quick_look("25.5"), True),
        (quick_look("0.0255", "kohm"), True),
        (quick_look("205"), False),
        (quick_look("25.5", "V"), False),
        (quick_look("25.5", of="known-good"), False),
        (quick_look("25.5", limit=LIMIT), False),
    ],
)
def test_a_good_reading_without_a_limit_stays_part_of_the_story(earlier, is_less):
    """With a limit of its own it is judged by that."""
    order, last = order_of({**COIL, "limit": LIMIT}, earlier)
    assert bool(less_of_part(order, last)) is is_less


@pytest.mark.parametrize(
    ("name", "system", "is_otherwise"),
    [
        ("catalyst", "wiring", True),
        ("fuel pump", "wiring", True),
        ("generator", "control-module", True),
        ("ground wire of the camshaft sensor", "wiring", False),
        ("lead of the generator", "wiring", False),
        ("engine module", "control-module", False),
        ("Massekabel", "wiring", False),
        ("catalyst", "catalyst", False),
        ("catalyst", "exhaust", False),
    ],
)
def test_what_explains_every_code_is_called_by_its_own_name(name, system, is_otherwise):
    order, _ = order_of(COIL, name=name, system=system)
    assert bool(named_otherwise(order.suspect("part"))) is is_otherwise
