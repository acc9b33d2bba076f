"""What a form begins with, and what an empty answer stands for."""

from dataclasses import replace
from importlib.resources import files

import pytest
from conftest import small_record

from auditkit.bay.field import Field, FieldKind
from auditkit.bay.fields import fields_of
from auditkit.bay.left_empty import OWN, begun_with, stands_for, unit_of_limit
from auditkit.order.events import RepairOrder
from auditkit.order.instruments import parse_register
from auditkit.plugin.loading import load_canon

AT = "2026-03-02T10:00:00+01:00"
READ = {"kind": "readout", "at": AT, "by": "mechanic-1", "tool": "adapter", "raw": ""}


def order_with(*events):
    record = small_record()
    return RepairOrder.fold("RO-1", [*record.events, *events])


def choice(name, *values, **more):
    words = tuple((value, value) for value in values)
    return Field((name,), name, kind=FieldKind.CHOICE, choices=words, **more)


def test_what_there_is_but_one_of_is_chosen_where_it_is_needed():
    row = Field((), "code", kind=FieldKind.CHOICE, choices=(("P0401", "P0401"),))
    codes = Field(("codes",), "codes", kind=FieldKind.LIST, fields=(row,))
    one = choice("part", "egr-valve", required=True)
    assert begun_with([one], {}) == {"part": "egr-valve"}
    assert begun_with([choice("part", "a", "b", required=True)], {}) == {}
    method = choice("method", "seal-hold", "flow", "direct-reading")
    assert begun_with([method], {}) == {}
    assert begun_with([replace(method, ahead=2)], {}) == {"method": "seal-hold"}
    assert begun_with([choice("part", "egr-valve"), codes], {}) == {}


@pytest.mark.parametrize(
    ("read", "begun"),
    [
        ("", ["thermometer-1"]),
        ("18.0 inHg (vacuum)", ["gauge-3", "thermometer-1"]),
        ("1.8 kPa (gauge)", ["gauge-7", "thermometer-1"]),
        ("18.0 inHg", ["thermometer-1"]),
        ("120 kPa (absolute)", ["thermometer-1"]),
    ],
)
def test_an_instrument_that_alone_shows_what_was_read_is_chosen(read, begun):
    """A gauge that shows another kind of pressure is none of those that could be it."""
    kind = load_canon().bench_tests["seal-hold"]
    fields = fields_of("bench_test", load_canon(), {"method": kind.name})
    register = parse_register((files("auditkit_demo") / "instruments.json").read_text())
    found = begun_with(fields, register, {"readings.start pressure": read})
    assert [found[f"instruments.{n}.id"] for n in range(len(found))] == begun


@pytest.mark.parametrize(
    ("answers", "unit"),
    [
        ({"limit.minimum": "15"}, ""),
        ({"readings.end pressure": "6.5 inHg vac"}, ""),
        ({"limit.minimum": "15", "readings.end pressure": "6.5 inHg vac"}, "inHg"),
        ({"limit.maximum": "15", "readings.end pressure": "6.5 kPa"}, "kPa"),
        ({"limit.maximum": "15", "readings.end pressure": "6.5 furlongs"}, ""),
    ],
)
def test_a_limit_is_in_the_unit_of_what_was_read(answers, unit):
    fields = fields_of("bench_test", load_canon(), {"method": "seal-hold"})
    (asked,) = [field for field in fields if field.key == "limit.unit"]
    of = {"limit.of": "end pressure"}
    assert unit_of_limit(asked, {**answers, **of}) == unit


def test_an_empty_answer_stands_for_what_the_order_holds():
    assert stands_for("code_clear", order_with(), "") == {}
    found = stands_for("code_clear", order_with(READ), "")
    assert (found["tool"].value, found["tool"].words) == ("adapter", "adapter")
    # The bay's own cable never clears: nobody is made to say that it did.
    own = {**READ, "tool": f"{OWN}can0"}
    assert stands_for("code_clear", order_with(own), "") == {}
    found = stands_for("code_clear", order_with(READ, own), "")
    assert found["tool"].value == "adapter"
    road = {
        "kind": "caution",
        "at": "2026-03-02T10:50:00+01:00",
        "by": "mechanic-1",
        "caution": "road",
        "step": {"kind": "road_test"},
    }
    assert stands_for("road_test", order_with(READ), "") == {}
    found = stands_for("road_test", order_with(READ, road), "")
    assert found["start"].value == road["at"]
    assert "10:50" in found["start"].words


def test_a_repair_began_when_its_form_was_opened():
    assert stands_for("repair", order_with(), "") == {}
    assert stands_for("repair", order_with(), AT)["started"].value == AT


def test_a_repair_began_after_the_cautions_that_its_form_led_to():
    later, before = "2026-03-02T10:05:00+01:00", "2026-03-02T09:55:00+01:00"
    seen = {
        "kind": "caution",
        "at": before,
        "by": "mechanic-1",
        "caution": "hot-exhaust",
        "step": {"kind": "repair", "part": "egr-valve"},
        "second_confirmation": {"at": later, "by": "mechanic-1"},
    }
    whose = {"part": "egr-valve", "by": "mechanic-1"}

    def began(*events, **said):
        found = stands_for("repair", order_with(*events), AT, **{**whose, **said})
        return found["started"].value

    assert began(seen) == later
    assert began({**seen, "second_confirmation": {"at": before}}) == AT
    assert began(seen, part="another") == AT
    assert began(seen, by="mechanic-2") == AT
    assert began({**seen, "step": {"kind": "bench_test"}}) == AT
