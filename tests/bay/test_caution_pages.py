"""A form and its cautions lead to each other, or say why that is no help: no loop."""

import json
import re
from datetime import UTC, datetime, timedelta
from html import unescape
from importlib.resources import files
from urllib.parse import parse_qs, urlsplit

import pytest
from bay_desk import Tablet, desk_over, order_path
from conftest import PASSPHRASE

from auditkit.log.ledger import Ledger
from auditkit.plugin.loading import load_canon

EVENTS = json.loads((files("auditkit_demo") / "RO-1001.json").read_text())["events"]
RAW = next(e["raw"] for e in EVENTS if e["kind"] == "readout")
COLD = RAW.replace("04 43 01 04 01", "04 43 01 01 28").replace(
    "04 4A 01 04 01", "04 4A 01 01 28"
)
OPENING = {
    "raw": COLD,
    "tool": "text adapter (invented)",
    "vehicle.odometer.value": "184210",
    "vehicle.odometer.unit": "km",
    "vehicle.description": "delivery van, 2.0 litre",
    "complaint": "engine lamp is on",
}
DIAGNOSIS = {
    "code.P0128": "look",
    "suspect_parts.0.id": "thermostat",
    "suspect_parts.0.name": "thermostat",
    "suspect_parts.0.system": "cooling",
    "suspect_parts.0.where.0": "engine-bay",
    "reasoning": "the coolant stays too cold",
}
OPENS = {
    "setup": "removed",
    "of": "old",
    "readings.temperature.value": "71",
    "readings.temperature.unit": "degC",
    "conditions.event": "opens",
    "conditions.approach": "rising",
}
SAID = {"degC": "25", "kPa": "0", "min": "90"}
"""An answer that is safe, by the unit in which a caution asks."""


class Wall:
    def __init__(self):
        self.now = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)

    def __call__(self):
        return self.now


@pytest.fixture
def wall():
    return Wall()


@pytest.fixture
def desk(tmp_path, wall):
    path = tmp_path / "shop.auditlog"
    Ledger.create(
        path,
        shop="Example Yard Garage",
        person="boss-1",
        passphrase=PASSPHRASE,
        clock=wall,
    ).close()
    with desk_over(path, PASSPHRASE, load_canon(), clock=wall) as made:
        yield made


@pytest.fixture
def tablet(desk):
    made = Tablet(desk)
    made.sign_in("boss-1", PASSPHRASE.decode())
    fields = {**OPENING, "order": "RO-1"}
    assert made.fill("/new-order", fields=fields).status_code == 303
    answer = made.fill(order_path("RO-1", "add", "diagnosis"), fields=DIAGNOSIS)
    assert answer.status_code == 303, text_of(answer.text)
    return made


def text_of(page):
    return unescape(" ".join(re.sub(r"<[^>]+>", " ", page).split()))


def told(page):
    return text_of(page.split('role="alert"')[-1].split("</div>")[0])


def kinds(desk):
    return [line.event["kind"] for line in desk.standing("RO-1").logged.lines]


def answers_to(desk, name):
    """Return the least that a caution takes as an answer to all that it asks."""
    found = {}
    for asked in desk.catalogue.cautions[name].preconditions:
        key = f"preconditions.{asked.name}"
        if asked.possible:
            unit = str(asked.possible[0].unit)
            found |= {f"{key}.value": SAID[unit], f"{key}.unit": unit}
        else:
            found[key] = "seen and so: kept clear, the cap off in two stages"
    return found


def acknowledge(tablet, desk, wall, path):
    """Acknowledge cautions page by page; return which, and where they led to."""
    named = []
    add = order_path("RO-1", "add", "caution")
    while urlsplit(path).path == add:
        answer = tablet.get(path)
        if answer.status_code == 303:
            path = answer.headers["location"]
            continue
        hidden = tablet.hidden(path)
        named.append(hidden["caution"])
        wall.now += timedelta(minutes=1)
        data = {**hidden, **answers_to(desk, hidden["caution"]), "read": "yes"}
        answer = tablet.post(add, data=data)
        assert answer.status_code == 303, told(answer.text)
        path = answer.headers["location"]
        assert len(named) < 9, named
    return named, path


def test_a_reading_leads_to_exactly_the_caution_it_calls_for_and_back(
    tablet, desk, wall
):
    path = order_path("RO-1", "add", "bench_test")
    first = order_path("RO-1", "add", "caution")
    form = f"{path}?part=thermostat&method=switching-point&setup=removed"
    before = first + "?kind=bench_test&part=thermostat&setup=removed"
    due = before + "&method=switching-point"
    page = tablet.seen(due)
    assert re.search(r"<p>(One more follows|\d more follow) this one\.</p>", page)
    _, led = acknowledge(tablet, desk, wall, due)
    assert urlsplit(led).path == path, "as far as is known before it is read"
    sent = tablet.fill(path, form, fields=OPENS)
    assert sent.status_code == 303, told(sent.text)
    asked = parse_qs(urlsplit(sent.headers["location"]).query)
    assert asked["caution"] == ["hot-exhaust"]
    assert (asked["kind"], asked["part"]) == (["bench_test"], ["thermostat"])
    named, led = acknowledge(tablet, desk, wall, sent.headers["location"])
    assert named == ["hot-exhaust"]
    assert urlsplit(led).path == path
    assert 'name="readings.temperature.value" value="71"' in tablet.seen(led)
    done = tablet.fill(path, led, fields=OPENS)
    assert "since=" in done.headers.get("location", ""), told(done.text)
    assert kinds(desk)[-2:] == ["caution", "bench_test"]


def test_any_caution_can_be_chosen_with_the_step_that_it_is_for(tablet, desk, wall):
    add = order_path("RO-1", "add", "caution")
    page = tablet.seen(add)
    for name, caution in desk.catalogue.cautions.items():
        assert f'<option value="{name}">{name}: {caution.hazard}' in page, name
    assert 'value="thermostat"' in page
    chosen = f"{add}?caution=rotating&kind=repair&part=thermostat"
    named, led = acknowledge(tablet, desk, wall, chosen)
    assert named == ["rotating"]
    assert led == order_path("RO-1", "add", "repair") + "?part=thermostat"
    event = desk.standing("RO-1").logged.lines[-1].event
    assert event["step"] == {"kind": "repair", "part": "thermostat"}


def test_a_repair_form_opened_before_its_cautions_is_recorded_after_them(
    tablet, desk, wall
):
    path = order_path("RO-1", "add", "repair")
    form = f"{path}?part=thermostat"
    opened = tablet.hidden(form)
    wall.now += timedelta(minutes=2)
    said = {"part": "thermostat", "action": "replaced", "codes.0": "P0128"}
    sent = tablet.post(path, data={**opened, **said})
    named, led = acknowledge(tablet, desk, wall, sent.headers["location"])
    assert len(named) > 1
    page = tablet.seen(led)
    assert "when its last caution was acknowledged" in page
    wall.now += timedelta(minutes=20)
    done = tablet.fill(path, led, fields=said)
    assert "since=" in done.headers.get("location", ""), told(done.text)
    last = [line.event for line in desk.standing("RO-1").logged.lines][-2:]
    assert [one["kind"] for one in last] == ["caution", "repair"]
    assert last[1]["started"] == last[0]["at"] > opened["opened"]


def test_work_begun_before_its_cautions_is_told_at_the_form(tablet, desk, wall):
    path = order_path("RO-1", "add", "repair")
    form = f"{path}?part=thermostat"
    wall.now += timedelta(hours=2)
    said = {"part": "thermostat", "action": "replaced", "codes.0": "P0128"}
    said["started"] = "2026-03-02T09:00:00Z"
    before = kinds(desk)
    sent = tablet.fill(path, form, fields=said)
    assert sent.status_code == 422
    assert "hot-coolant" in told(sent.text)
    assert "the work began 09:00" in told(sent.text)
    assert kinds(desk) == before
    assert 'name="unacknowledged" value="yes"' in sent.text
    done = tablet.fill(path, form, fields={**said, "unacknowledged": "yes"})
    assert "since=" in done.headers.get("location", ""), told(done.text)
    assert kinds(desk) == [*before, "repair"]


def test_cautions_that_lapsed_since_are_told_once_and_read_again(tablet, desk, wall):
    path = order_path("RO-1", "add", "bench_test")
    form = f"{path}?part=thermostat&method=switching-point"
    sent = tablet.fill(path, form, fields=OPENS)
    named, led = acknowledge(tablet, desk, wall, sent.headers["location"])
    wall.now += timedelta(hours=3)
    late = tablet.fill(path, led, fields=OPENS)
    assert late.status_code == 422
    assert "they were acknowledged, and yet" in told(late.text)
    assert all(name in told(late.text) for name in named)
    names = "form_token", "once", "opened", "part", "method", "sent_to_cautions"
    hidden = dict(
        re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)">', late.text)
    )
    kept = {name: hidden[name] for name in names if name in hidden}
    again = tablet.post(path, data={**kept, **OPENS})
    assert again.status_code == 303, told(again.text)
    assert "/add/caution?" in again.headers["location"]


def test_who_did_not_say_how_a_part_was_tested_is_told_why_so_much_is_asked(
    tablet, desk, wall
):
    path = order_path("RO-1", "add", "bench_test")
    form = f"{path}?part=thermostat&method=switching-point"
    said = {name: text for name, text in OPENS.items() if name != "setup"}
    led = tablet.fill(path, form, fields=said).headers["location"]
    page = tablet.seen(led)
    assert "so the cautions of every way are asked" in page
    back = unescape(re.search(r'<a href="([^"]+)">Say how it was tested', page)[1])
    assert 'name="readings.temperature.value" value="71"' in tablet.seen(back)
    led = tablet.fill(path, form, fields=OPENS).headers["location"]
    assert "Say how it was tested" not in tablet.seen(led)
