"""What was typed into a correction, a caution or a closing is there after a reload."""

import json
import re
from datetime import timedelta
from html import unescape
from importlib.resources import files

import pytest
from bay_desk import Tablet, new_desk, order_path
from conftest import PASSPHRASE

from auditkit.bay.pages import caution_view

EVENTS = json.loads((files("auditkit_demo") / "RO-1001.json").read_text())["events"]
RAW = next(e["raw"] for e in EVENTS if e["kind"] == "readout")
OPENING = {
    "order": "RO-1",
    "raw": RAW,
    "tool": "text adapter (invented)",
    "vehicle.odometer.value": "184210",
    "vehicle.odometer.unit": "km",
    "vehicle.description": "delivery van, 2.0 litre",
    "complaint": "engine lamp is on",
}
CAUTION = order_path("RO-1", "add", "caution")


@pytest.fixture
def desk(tmp_path):
    with new_desk(tmp_path, PASSPHRASE) as made:
        yield made


@pytest.fixture
def tablet(desk):
    made = Tablet(desk)
    made.sign_in("boss-1", PASSPHRASE.decode())
    assert made.fill("/new-order", fields=OPENING).status_code == 303
    return made


def keep(tablet, path, kind, **typed):
    """Type into the form of a page, as the page keeps it; return what it sent."""
    page = tablet.seen(path)
    assert f'hx-post="{order_path("RO-1", "draft", kind)}"' in page
    fields = {**tablet.hidden(path), **typed}
    answer = tablet.post(order_path("RO-1", "draft", kind), data=fields)
    assert answer.text.startswith("Draft kept")
    return fields


def test_a_correction_comes_back_and_only_in_its_own_form(tablet, desk):
    entries = [line.seq for line in desk.standing("RO-1").logged.lines]
    opening, readout = entries
    path = order_path("RO-1", "correct", str(opening))
    typed = {"why": "a digit twice", "event.vehicle.odometer.value": "18421"}
    typed |= {"event.vehicle.odometer.unit": "km", "event.complaint": ""}
    page = unescape(tablet.seen(path))
    written = re.findall(r'name="(event\.[^"]+)" value="([^"]*)"', page)
    ticked = re.findall(r'name="(event\.[^"]+)" value="([^"]*)" checked', page)
    sent = keep(tablet, path, "amendment", **{**dict(written), **dict(ticked), **typed})
    again = tablet.seen(path)
    assert "a digit twice" in again
    assert 'value="18421"' in again
    assert "engine lamp is on" not in again.partition("<h2>")[2].partition("</form>")[0]
    assert tablet.hidden(path)["once"] == sent["once"]  # recorded once, come what may
    assert "a digit twice" not in tablet.seen(
        order_path("RO-1", "correct", str(readout))
    )
    answer = tablet.post(path, data={**sent, "event.complaint": "lamp on"})
    assert answer.status_code == 303, answer.text
    assert desk.drafts.of("boss-1") == ()


def correction(tablet, path, **typed):
    """Return what a page sends that corrects an entry, with answers typed anew."""
    page = unescape(tablet.seen(path)).partition("<h2>")[2]
    written = re.findall(r'name="(event\.[^"]+)" value="([^"]*)"', page)
    ticked = re.findall(r'name="(event\.[^"]+)" value="([^"]*)" checked', page)
    long = re.findall(r'name="(event\.[^"]+)"[^>]*>([^<]*)</textarea>', page)
    unit = {"event.vehicle.odometer.unit": "km"}
    fields = {**dict(written), **dict(ticked), **dict(long), **unit}
    return {**tablet.hidden(path), **fields, "why": "a slip", **typed}


def test_a_second_correction_of_a_step_takes_none_of_the_first_back(tablet, desk):
    """One after the other, and from a page that was opened before the first."""
    path = order_path("RO-1", "correct", str(desk.standing("RO-1").logged.lines[0].seq))
    other = Tablet(desk, "192.0.2.51")
    other.sign_in("boss-1", PASSPHRASE.decode())
    early = correction(other, path, **{"event.vehicle.description": "van, 1.6 litre"})
    first = correction(tablet, path, **{"event.complaint": "lamp on since Monday"})
    assert tablet.post(path, data=first).status_code == 303
    newest = desk.newest_entry("RO-1")

    asked = other.post(path, data=early)
    assert asked.status_code == 422
    assert "corrected meanwhile, by boss-1: complaint: " in asked.text
    assert 'value="van, 1.6 litre"' in asked.text
    assert ">lamp on since Monday</textarea>" in asked.text
    again = tablet.post(path, data=first)  # its answer was lost: no correction anew
    assert (again.status_code, desk.newest_entry("RO-1")) == (303, newest)
    changed = tablet.post(path, data={**first, "event.complaint": "lamp on today"})
    assert (changed.status_code, desk.newest_entry("RO-1")) == (422, newest)

    second = correction(tablet, path, **{"event.vehicle.description": "van, 1.6 litre"})
    assert second["event.complaint"] == "lamp on since Monday"
    assert tablet.post(path, data=second).status_code == 303
    opening = desk.standing("RO-1").so_far.order.opening
    assert opening.text("complaint") == "lamp on since Monday"
    assert opening.object("vehicle")["description"] == "van, 1.6 litre"


def test_what_comes_late_of_a_form_that_is_recorded_leads_nobody_back_to_it(
    tablet, desk
):
    """A page keeps what is typed 0.4 s after the last key: it may be sent first."""
    sent = tablet.hidden("/new-order")
    again = {**sent, **OPENING, "order": "RO-2", "is_so": "yes"}
    assert tablet.post("/new-order", data=again).status_code == 303
    tablet.post("/new-order/draft", data=again)
    assert desk.drafts.of("boss-1") == ()
    fresh = tablet.get("/new-order")
    assert fresh.status_code == 200
    assert 'value="RO-2"' not in fresh.text
    path = order_path("RO-2", "add", "code_clear")
    fields = {**tablet.hidden(path), "tool": "a tool (invented)"}
    assert tablet.post(path, data=fields).status_code == 303
    tablet.post(order_path("RO-2", "draft", "code_clear"), data=fields)
    assert tablet.get(path).status_code == 200


def test_what_a_caution_asked_comes_back_for_that_caution_alone(tablet, desk):
    hot = f"{CAUTION}?kind=road_test&caution=hot-exhaust"
    sent = keep(
        tablet,
        hot,
        "caution",
        **{
            "preconditions.surface temperature.value": "34",
            "preconditions.surface temperature.unit": "degC",
        },
    )
    assert 'value="34"' in tablet.seen(hot)
    assert tablet.hidden(hot)["once"] == sent["once"]
    other = f"{CAUTION}?kind=repair&caution=hot-exhaust"
    assert 'value="34"' not in tablet.seen(other)
    answer = tablet.post(CAUTION, data={**sent, "read": "yes"})
    assert answer.status_code == 303, answer.text
    assert desk.drafts.of("boss-1") == ()


def test_what_was_measured_longer_ago_is_measured_again(tablet, monkeypatch):
    hot = f"{CAUTION}?kind=road_test&caution=hot-exhaust"
    typed = {"preconditions.surface temperature.value": "34"}
    keep(tablet, hot, "caution", **typed)
    assert 'value="34"' in tablet.seen(hot)
    monkeypatch.setattr(caution_view, "_FRESH", timedelta(microseconds=1))
    assert 'value="34"' not in tablet.seen(hot)


def test_why_an_order_is_closed_comes_back_and_a_new_line_in_it_is_no_fault(
    tablet, desk
):
    path = order_path("RO-1", "close")
    sent = keep(tablet, path, "close", reason="the customer\r\nfetched it ")
    page = unescape(tablet.seen(path))
    assert "the customer\nfetched it" in page
    answer = tablet.post(path, data=sent)
    assert answer.status_code == 303, answer.text
    last = desk.standing("RO-1").logged.lines[-1]
    assert "the customer fetched it" in last.event.values()
    assert (last.form, desk.drafts.of("boss-1")) == (sent["once"], ())


def test_the_same_closing_sent_again_closes_once_whatever_came_after_it(tablet, desk):
    path = order_path("RO-1", "close")
    fields = {**tablet.hidden(path), "reason": "fetched unrepaired"}
    first = tablet.post(path, data=fields)
    closed = desk.newest_entry("RO-1")
    tablet.fill(order_path("RO-1", "add", "code_clear"), tool="a tool (invented)")
    reopened = desk.newest_entry("RO-1")
    again = tablet.post(path, data=fields)
    assert again.headers["location"] == first.headers["location"]
    assert re.search(rf"since={closed}$", again.headers["location"])
    assert desk.newest_entry("RO-1") == reopened > closed


def test_what_is_signed_by_closing_is_what_the_page_showed(tablet, desk):
    """Another tablet records, or closes, between the page and its button."""
    path = order_path("RO-1", "close")
    fields = {**tablet.hidden(path), "reason": "fetched unrepaired"}
    tablet.fill(order_path("RO-1", "add", "code_clear"), tool="a tool (invented)")
    newest = desk.newest_entry("RO-1")
    asked = tablet.post(path, data=fields)
    assert asked.status_code == 422
    assert "the order went on after this page was opened" in asked.text
    assert ">fetched unrepaired</textarea>" in asked.text
    assert desk.newest_entry("RO-1") == newest
    now = {**fields, **tablet.hidden(path)}
    other = {**now, "once": "another-form", "reason": "it was left here"}
    assert tablet.post(path, data=now).status_code == 303
    closed = desk.newest_entry("RO-1")
    assert tablet.post(path, data=other).status_code == 422
    assert desk.newest_entry("RO-1") == closed > newest
