"""A bench test's page: fitting methods, instruments, earlier limits, a hold timer."""

import json
import re
from datetime import UTC, datetime, timedelta
from html import unescape
from importlib.resources import files

import pytest
from bay_desk import Tablet, desk_over, order_path
from conftest import PASSPHRASE

from auditkit.bay import earlier_limits
from auditkit.bay.one_step import Form
from auditkit.bay.pages.sign_in_view import COOKIE
from auditkit.log.ledger import Ledger
from auditkit.order.instruments import parse_register
from auditkit.plugin.loading import load_canon

EVENTS = json.loads((files("auditkit_demo") / "RO-1001.json").read_text())["events"]
RAW = next(e["raw"] for e in EVENTS if e["kind"] == "readout")
TEST = next(e for e in EVENTS if e["kind"] == "bench_test")
OPENING = {
    "raw": RAW,
    "tool": "text adapter (invented)",
    "vehicle.odometer.value": "184210",
    "vehicle.odometer.unit": "km",
    "vehicle.description": "delivery van, 2.0 litre",
    "complaint": "engine lamp is on",
}
DIAGNOSIS = {
    "code.P0401": "look",
    "suspect_parts.0.name": "EGR valve",
    "suspect_parts.0.system": "egr",
    "suspect_parts.0.where.0": "engine-bay",
    "reasoning": "EGR flow below its limit",
}
FORM = "?part=egr-valve&method=seal-hold"
HOLD = "readings.hold time"


class Wall:
    def __init__(self):
        self.now = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)

    def __call__(self):
        return self.now


@pytest.fixture(scope="module")
def wall():
    return Wall()


@pytest.fixture(scope="module")
def desk(tmp_path_factory, wall):
    path = tmp_path_factory.mktemp("bay") / "shop.auditlog"
    Ledger.create(
        path,
        shop="Example Yard Garage",
        person="boss-1",
        passphrase=PASSPHRASE,
        clock=wall,
    ).close()
    register = parse_register((files("auditkit_demo") / "instruments.json").read_text())
    with desk_over(
        path, PASSPHRASE, load_canon(), register=register, clock=wall
    ) as made:
        yield made


@pytest.fixture(scope="module")
def tablet(desk):
    made = Tablet(desk)
    made.sign_in("boss-1", PASSPHRASE.decode())
    for order in ("RO-1", "RO-2", "RO-3"):
        fields = {**OPENING, "order": order}
        assert made.fill("/new-order", fields=fields).status_code == 303
        path = order_path(order, "add", "diagnosis")
        answer = made.fill(path, fields=DIAGNOSIS)
        assert answer.status_code == 303
    return made


def bench(order):
    return order_path(order, "add", "bench_test")


def test_methods_that_fit_the_part_and_its_code_come_first(tablet):
    page = tablet.seen(bench("RO-1"))
    method = page[page.index('name="method"') :]
    assert 'name="part" value="egr-valve" checked' in page  # there is no other
    named = re.findall(r'<option value="([^"]+)"[^>]*>([^<]+)<', method)
    assert named[0][0] == "seal-hold"
    assert "vacuum that its diaphragm holds" in named[0][1]
    assert len(named) > 6  # the others are there all the same


def test_instruments_stand_with_their_calibration_and_their_units_first(tablet, desk):
    hidden = tablet.hidden(bench("RO-1") + FORM)
    page = tablet.post(
        bench("RO-1"),
        data={
            **hidden,
            "part": "egr-valve",
            "method": "seal-hold",
            "more": "instruments",
        },
    ).text
    state = desk.register["gauge-3"].state(datetime(2026, 3, 2, tzinfo=UTC).date())
    assert f"(gauge-3): {state}" in page
    start = page[page.index('name="readings.start pressure.unit"') :]
    units = re.findall(r'<option value="([^"]+)"', start)
    assert units[0] == desk.register["gauge-3"].data["unit"]


def test_a_known_good_part_is_asked_reading_by_reading_beside_it(tablet):
    path = bench("RO-1")
    hidden = tablet.hidden(path + FORM)
    page = tablet.post(path, data={**hidden, "good": "yes"}).text
    own = page.index('name="readings.start pressure.value"')
    good = page.index('name="known_good.readings.start pressure.value"')
    after = page.index('name="readings.end pressure.value"')
    assert own < good < after
    assert page.count('name="known_good.part"') == 1
    assert page.count('name="known_good.readings.end pressure.value"') == 1
    alone = tablet.seen(bench("RO-3") + FORM)
    assert "known_good." not in alone
    assert "A known-good part beside it" in alone


def test_a_limit_used_before_is_offered_with_its_order_and_taken_by_one_tap(
    tablet, desk
):
    assert "Take at least" not in tablet.seen(bench("RO-2") + FORM)
    test = {**TEST, "part": "egr-valve", "at": "2026-03-02T08:00:00+00:00"}
    test |= {"by": "boss-1", "instruments": []}
    hands = desk.hands(desk.sign_ins.find(tablet.cookies[COOKIE]))
    form = Form("earlier", [test], unacknowledged=True)
    desk.writer.take("RO-1", form, hands).result()
    page = tablet.seen(bench("RO-2") + FORM)
    limit = TEST["limit"]
    assert f"Take at least {limit['minimum']} {limit['unit']}" in page
    assert "Used for this part on RO-1, 2026-03-02, delivery van, 2.0 litre" in page
    value = re.search(r'name="take" value="([^"]+)"', page)[1]
    hidden = tablet.hidden(bench("RO-2") + FORM)
    taken = tablet.post(bench("RO-2"), data={**hidden, "take": value}).text
    assert f'name="limit.minimum" value="{limit["minimum"]}"' in taken
    assert limit["source"] in unescape(taken)
    # Nothing of it is offered for another part, another method, or on its own order.
    assert "Take at least" not in tablet.seen(bench("RO-1") + FORM)
    other = "?part=vacuum-hose&method=seal-hold"
    assert "Take at least" not in tablet.seen(bench("RO-2") + other)


def test_an_order_is_read_for_its_limit_once_until_it_grows(tablet, desk, monkeypatch):
    read, last_test = [], earlier_limits.last_test

    def told(log, name, part, method):
        read.append(name)
        return last_test(log, name, part, method)

    monkeypatch.setattr(earlier_limits, "last_test", told)
    monkeypatch.setattr(desk, "limits", earlier_limits.EarlierLimits())
    for _ in range(2):
        assert "Take at least 15.0 inHg" in tablet.seen(bench("RO-2") + FORM)
    cleared = order_path("RO-1", "add", "code_clear")
    assert tablet.fill(cleared, tool="a tool (invented)").status_code == 303
    assert "Take at least 15.0 inHg" in tablet.seen(bench("RO-2") + FORM)
    assert read == ["RO-1"]
    (found,) = desk.standing("RO-1").so_far.order.of("bench_test")
    place, test = found.index, found.data
    amendment = {
        "kind": "amendment",
        "at": "2026-03-02T08:00:00+00:00",
        "by": "boss-1",
        "corrects": place,
        "why": "the page says another number",
        "event": {**test, "limit": {**test["limit"], "minimum": "16.5"}},
    }
    hands = desk.hands(desk.sign_ins.find(tablet.cookies[COOKIE]))
    desk.writer.take("RO-1", Form("corrected", [amendment]), hands).result()
    for _ in range(2):
        assert "Take at least 16.5 inHg" in tablet.seen(bench("RO-2") + FORM)
    assert read == ["RO-1", "RO-1"]


def test_a_hold_is_timed_by_the_shops_clock_over_lock_and_reload(tablet, wall, desk):
    path = bench("RO-3")
    hidden = tablet.hidden(path + FORM)
    started = tablet.post(
        path,
        data={
            **hidden,
            "readings.start pressure.value": "18.0",
            "readings.start pressure.unit": "inHg",
            "timer": f"start:{HOLD}",
        },
    )
    assert started.status_code == 200
    assert "since 08:00:00" in started.text
    wall.now += timedelta(seconds=30)
    token = re.search(r'name="form_token" value="([^"]+)"', tablet.seen("/orders"))[1]
    tablet.post("/lock", data={"form_token": token})
    wall.now += timedelta(seconds=31)
    tablet.sign_in("boss-1", PASSPHRASE.decode())
    again = tablet.seen(path + FORM)
    assert "01:01" in again
    assert 'value="18.0"' in again  # what was typed came back too
    runs = re.search(r'hx-get="([^"]+/timer[^"]+)"', again)[1].replace("&amp;", "&")
    assert tablet.get(runs).text == "01:01"
    hidden = tablet.hidden(path + FORM)
    stopped = tablet.post(path, data={**hidden, "timer": f"stop:{HOLD}"}).text
    assert f'name="{HOLD}.value" value="61"' in stopped
    assert 'name="conditions.uncertainty of hold time.value" value="1"' in stopped
    assert tablet.get(runs).text == ""
    kinds = [line.event["kind"] for line in desk.standing("RO-3").logged.lines]
    assert "bench_test" not in kinds  # a tap records nothing


def chosen_unit(page, key):
    """Return what a browser would send of a list of units: its choice, or the first."""
    units = page.partition(f'name="{key}.unit"')[2].partition("</select>")[0]
    chosen = re.search(r'<option value="([^"]+)" selected', units)
    return (chosen or re.search(r'<option value="([^"]+)"', units))[1]


def test_a_reading_keeps_its_unit_when_the_form_is_drawn_anew(tablet):
    """The one thermometer is ticked by itself; the units of the gauges stay first."""
    path, key = bench("RO-3"), "readings.start pressure"
    form = "?part=vacuum-hose&method=seal-hold"
    page = tablet.seen(path + form)
    assert re.search(r'value="thermometer-1"[^>]* checked', page)
    said = {
        **tablet.hidden(path + form),
        f"{key}.value": "20",
        f"{key}.unit": chosen_unit(page, key),
        "instruments.0.id": "thermometer-1",
        "timer": f"start:{HOLD}",
    }
    assert said[f"{key}.unit"] == "inHg (vacuum)"
    assert chosen_unit(tablet.post(path, data=said).text, key) == "inHg (vacuum)"
    assert chosen_unit(tablet.seen(path + form), key) == "inHg (vacuum)"


def test_a_unit_that_no_list_offers_is_not_turned_into_another(tablet):
    path, key = bench("RO-3"), "readings.end pressure"
    hidden = tablet.hidden(path + "?part=vacuum-hose&method=seal-hold")
    said = {f"{key}.value": "20", f"{key}.unit": "psi (absolute)", "more": "conditions"}
    page = tablet.post(path, data={**hidden, **said}).text
    assert chosen_unit(page, key) == "psi (absolute)"


def test_what_is_limited_is_asked_before_its_limit_in_the_unit_of_the_reading(tablet):
    """The gauge of the register shows inHg of vacuum; no limit is written so."""
    page = tablet.seen(bench("RO-3") + "?part=vacuum-hose&method=seal-hold")
    places = [
        page.index(f'name="{name}"')
        for name in (
            "readings.end pressure.value",
            "limit.of",
            "limit.minimum",
            "limit.maximum",
            "limit.unit",
            "limit.source",
        )
    ]
    assert places == sorted(places)
    read = page[page.index('name="readings.end pressure.unit"') :]
    assert re.search(r'<option value="([^"]+)"', read)[1] == "inHg (vacuum)"
    unit = page[places[4] :].partition("</select>")[0]
    assert re.findall(r'<option value="([^"]+)" selected', unit) == ["inHg"]


def test_a_limit_of_something_computed_follows_no_reading(tablet):
    path = bench("RO-3") + "?part=vacuum-hose&method=seal-hold&limit.of=leak rate"
    unit = tablet.seen(path).partition('name="limit.unit"')[2].partition("</select>")[0]
    assert " selected" not in unit


def test_against_what_pressures_are_read_is_folded_where_each_unit_says_it(tablet):
    page = tablet.seen(bench("RO-3") + "?part=vacuum-hose&method=seal-hold")
    folded = page.partition("<summary>What else is known</summary>")[2]
    assert 'name="conditions.pressure reference"' in folded.partition("</details>")[0]
    assert page.count('name="conditions.pressure reference"') == 3  # its choices


def test_instruments_that_read_what_is_asked_come_first_the_rest_is_folded(tablet):
    page = tablet.seen(bench("RO-3") + "?part=vacuum-hose&method=winding")
    ahead, _, folded = page.partition("<summary>Instruments for other quantities")
    assert 'value="thermometer-1"' in ahead
    assert 'value="gauge-3"' in folded.partition("</details>")[0]


THERMOSTAT = {
    **DIAGNOSIS,
    "suspect_parts.0.name": "thermostat",
    "suspect_parts.0.system": "cooling",
    "reasoning": "the engine stays cold, because I measured",
}


def options(page, name):
    """Return the values of a list that opens: those in sight, and the folded ones."""
    listed = page.partition(f'name="{name}"')[2].partition("</select>")[0]
    seen, _, folded = listed.partition("<optgroup")
    return [re.findall(r'<option value="([^"]+)"', part) for part in (seen, folded)]


def test_a_thermostats_form_asks_for_a_temperature(tablet):
    """What its method can read of other parts is folded, units as well."""
    fields = {**OPENING, "order": "RO-4", "raw": "", "vehicle.model_year": "2012"}
    fields |= {"vehicle.ignition": "spark"}
    fields = {k: v for k, v in fields.items() if v}
    assert tablet.fill("/new-order", fields=fields).status_code == 303
    said = {k: v for k, v in THERMOSTAT.items() if k != "code.P0401"}
    said["codes"] = "P0128"
    path = order_path("RO-4", "add", "diagnosis")
    assert tablet.fill(path, fields=said).status_code == 303
    page = tablet.seen(bench("RO-4") + "?part=thermostat&method=switching-point")
    quantities, others = options(page, "readings.how")
    assert (quantities, len(others)) == (["temperature"], 16)
    assert '<option value="temperature" selected>' in page
    assert options(page, "limit.unit")[0] == ["degC", "degF", "K"]
    assert 'name="limit.of"' not in page
    (ticked,) = re.findall(r'name="instruments[^"]*" value="([^"]+)" checked', page)
    assert ticked == "thermometer-1"


def test_a_vacuum_can_be_picked_and_rare_units_are_folded(tablet):
    page = tablet.seen(bench("RO-3") + "?part=vacuum-hose&method=seal-hold")
    seen, folded = options(page, "readings.start pressure.unit")
    assert {"inHg (vacuum)", "kPa (vacuum)", "mbar (vacuum)", "kPa", "psi"} <= {*seen}
    assert "kPa (gauge)" in seen, "an instrument of the shop shows it"
    assert {"inHg at 60 degF", "Torr"} <= {*folded}
    assert not {*seen} & {*folded}
    assert "inHg vacuum</option>" in page
    barometer, _ = options(page, "conditions.barometer.unit")
    assert "inHg (vacuum)" not in barometer


def test_what_an_order_leaves_to_choose_is_not_asked_to_be_written(tablet):
    page = tablet.seen(order_path("RO-1", "add", "repair") + "?part=egr-valve")
    assert 'name="part" value="egr-valve" checked' in page
    assert "write its short name" not in page.partition("What was done")[0]
    assert "write the codes that the work is for" not in page


def test_a_result_in_sight_names_its_part_as_people_do(tablet):
    said = {
        "part": "egr-valve",
        "method": "switching-point",
        "readings.how": "pressure",
        "readings.pressure": "40 kPa (gauge)",
        "conditions.event": "opens",
        "conditions.approach": "rising",
        "limit.minimum": "80",
        "limit.unit": "kPa",
    }
    said |= {"form_token": tablet.hidden(bench("RO-1") + FORM)["form_token"]}
    told = tablet.post(order_path("RO-1", "look", "bench_test"), data=said).text
    assert told.startswith("<p><strong>EGR valve: ")
