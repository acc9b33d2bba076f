"""The diagnosis's page: codes as read, set aside, suspects in their order."""

import json
import re
import zlib
from importlib.resources import files

import pytest
from bay_desk import Tablet, new_desk, order_path
from conftest import PASSPHRASE

from auditkit.bay.diagnosis_answers import moved, row_numbers, with_part
from auditkit.bay.plausible_parts import expects, plausible_parts

EVENTS = json.loads((files("auditkit_demo") / "RO-1001.json").read_text())["events"]
RAW = next(e["raw"] for e in EVENTS if e["kind"] == "readout")
# The transmission answers with P0740 too.
TWO = RAW.replace("7E9 02 43 00 AA AA", "7E9 04 43 01 07 40")
OPENING = {
    "raw": RAW,
    "tool": "text adapter (invented)",
    "vehicle.odometer.value": "184210",
    "vehicle.odometer.unit": "km",
    "vehicle.description": "delivery van, 2.0 litre",
    "complaint": "engine lamp is on",
}
VALVE = {
    "suspect_parts.0.name": "EGR valve",
    "suspect_parts.0.system": "egr",
    "suspect_parts.0.where.0": "engine-bay",
    "reasoning": "EGR flow below its limit",
}


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    with new_desk(tmp_path_factory.mktemp("bay"), PASSPHRASE) as made:
        yield made


@pytest.fixture(scope="module")
def tablet(desk):
    made = Tablet(desk)
    made.sign_in("boss-1", PASSPHRASE.decode())
    return made


@pytest.fixture
def order(tablet, request):
    name = f"RO-{zlib.crc32(request.node.name.encode())}"
    raw = TWO if "aside" in request.node.name else RAW
    answer = tablet.fill("/new-order", fields={**OPENING, "order": name, "raw": raw})
    assert answer.status_code == 303, answer.text
    return name


def sent(tablet, order, **fields):
    path = order_path(order, "add", "diagnosis")
    return tablet.post(path, data={**tablet.hidden(path), **fields})


def last(desk, order):
    return desk.standing(order).logged.lines[-1].event


def text_of(page):
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def test_codes_are_chosen_as_they_were_read_with_everyday_causes(desk, tablet, order):
    page = tablet.seen(order_path(order, "add", "diagnosis"))
    assert 'name="code.P0401" value="look" checked' in page
    assert "exhaust gas recirculation valve" in page
    answer = sent(tablet, order, **{"code.P0401": "look", **VALVE})
    assert answer.status_code == 303, text_of(answer.text)
    assert last(desk, order)["codes"] == ["P0401"]
    assert last(desk, order)["suspect_parts"][0]["where"] == ["engine-bay"]


def test_a_code_is_set_aside_with_a_reason_and_who_agreed(desk, tablet, order):
    page = tablet.seen(order_path(order, "add", "diagnosis"))
    assert 'name="code.P0740"' in page
    chosen = {"code.P0401": "look", "code.P0740": "aside", **VALVE}
    short = sent(tablet, order, **chosen)
    assert short.status_code == 422
    assert 'id="wrong-f-aside-P0740-reason"' in short.text
    whole = {
        **chosen,
        "aside.P0740.reason": "declined",
        "aside.P0740.agreed_by": "customer",
    }
    answer = sent(tablet, order, **whole)
    assert answer.status_code == 303, text_of(answer.text)
    (aside,) = last(desk, order)["set_aside"]
    assert aside == {"codes": ["P0740"], "reason": "declined", "agreed_by": "customer"}


def test_everything_set_aside_asks_for_no_suspect(desk, tablet, order):
    reason = {"reason": "known-history", "agreed_by": "customer"}
    aside = {
        f"aside.{code}.{name}": text
        for code in ("P0401", "P0740")
        for name, text in reason.items()
    }
    answer = sent(
        tablet,
        order,
        **{"code.P0401": "aside", "code.P0740": "aside", "reasoning": "old", **aside},
    )
    assert answer.status_code == 303, text_of(answer.text)
    assert last(desk, order)["codes"] == last(desk, order)["suspect_parts"] == []
    (row,) = last(desk, order)["set_aside"]
    assert sorted(row["codes"]) == ["P0401", "P0740"]  # one reason, one row


def test_suspects_stand_in_the_order_that_is_chosen(desk, tablet, order):
    rows = {
        "code.P0401": "look",
        **VALVE,
        "suspect_parts.1.name": "vacuum hose",
        "suspect_parts.1.system": "vacuum",
    }
    drawn = sent(tablet, order, **rows, move="up:1")
    assert drawn.status_code == 200
    first = re.search(r'name="suspect_parts.0.name" value="([^"]+)"', drawn.text)[1]
    assert first == "vacuum hose"
    more = sent(tablet, order, **rows, part="egr:exhaust gas recirculation valve")
    names = re.findall(r'name="suspect_parts.\d.name" value="([^"]+)"', more.text)
    assert names == ["EGR valve", "vacuum hose", "exhaust gas recirculation valve"]
    assert desk.standing(order).logged.lines[-1].event["kind"] == "readout"


def test_a_later_diagnosis_begins_with_what_is_open_and_says_the_order(
    desk, tablet, order
):
    hose = {"suspect_parts.1.name": "vacuum hose", "suspect_parts.1.system": "vacuum"}
    sent(tablet, order, **{"code.P0401": "look", **VALVE, **hose})
    page = tablet.seen(order_path(order, "add", "diagnosis"))
    assert 'name="suspect_parts.0.id" value="egr-valve"' in page
    assert 'value="engine-bay" checked' in page  # where it sits is asked once
    turned = {
        "code.P0401": "look",
        "reasoning": "the hose is split",
        "suspect_parts.0.id": "vacuum-hose",
        "suspect_parts.0.name": "vacuum hose",
        "suspect_parts.0.system": "vacuum",
        "suspect_parts.1.id": "egr-valve",
        "suspect_parts.1.name": "EGR valve",
        "suspect_parts.1.system": "egr",
    }
    assert sent(tablet, order, **turned).status_code == 303
    (fault,) = desk.standing(order).so_far.faults
    assert [s.part.id for s in fault.suspects] == ["vacuum-hose", "egr-valve"]


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"codes": "P0402"}, "No readout reports P0402; reported: P0401"),
        ({"suspect_parts.0.system": "brakes"}, "does not expect its system for P0401"),
    ],
)
def test_a_code_or_part_from_nowhere_is_asked_about_at_once(
    desk, tablet, order, more, said
):
    chosen = {"code.P0401": "look", **VALVE, **more}
    asked = sent(tablet, order, **chosen)
    assert asked.status_code == 200
    assert said in text_of(asked.text)
    assert sent(tablet, order, **chosen, is_so="yes").status_code == 303


def test_a_reason_with_its_source_answers_what_the_table_does_not_expect(tablet, order):
    why = {
        "suspect_parts.0.system": "brakes",
        "suspect_parts.0.why": "its vacuum feeds both",
        "suspect_parts.0.why_source": "invented service information, page 3",
    }
    chosen = {"code.P0401": "look", **VALVE, **why}
    assert sent(tablet, order, **chosen).status_code == 303


def test_moving_and_leaving_out_lose_no_other_answer():
    said = {"reasoning": "x"}
    for name in ("a", "b", "c"):
        said = with_part(said, "egr", name, {"where.0": name})
    for what, names in (
        ("up:2", "acb"),
        ("down:0", "bac"),
        ("up:0", "abc"),
        ("down:2", "abc"),
        ("drop:1", "ac"),
        ("sideways:1", "abc"),
        ("up:9", "abc"),
    ):
        made = moved(said, what)
        rows = row_numbers(made)
        assert "".join(made[f"suspect_parts.{n}.name"] for n in rows) == names, what
        assert "".join(made[f"suspect_parts.{n}.where.0"] for n in rows) == names
        assert made["reasoning"] == "x"


@pytest.mark.parametrize("code", ["P0401", "P0420", "P0301", "P0128", "B0001", "U0100"])
def test_what_is_offered_is_what_the_table_expects(code):
    """By the table of fault codes: no everyday name is of a system that it excludes."""
    for system, name in plausible_parts(code):
        assert name
        assert expects(system, [code]), (code, system, name)
