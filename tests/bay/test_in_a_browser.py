"""The bay's pages as a technician uses them: whole repairs, and what comes between."""

import io
import time
from importlib.resources import files
from importlib.util import find_spec

import page_hosts
import pypdf
import pytest
from bay_hands import Fox, Keys, Touch
from bay_repairs import (
    SEND,
    close,
    diagnosis,
    egr_valve_until_read,
    not_run_yet,
    opening,
    read_file,
    readouts,
    send,
    sensor_heater,
    step,
)
from bay_server import Bay, Clock
from conftest import CHROMIUM, PASSPHRASE
from wcag import judged

from auditkit.bay.pages import caution_view
from auditkit.log.ledger import Ledger
from auditkit.order.instruments import parse_register
from auditkit.plugin.loading import load_canon
from auditkit.proof.role import Role

needs_chromium = pytest.mark.skipif(
    not (CHROMIUM and find_spec("playwright")),
    reason="playwright or chromium is absent",
)
needs_firefox = pytest.mark.skipif(
    not page_hosts.HAS_FIREFOX, reason="marionette_driver or firefox is absent"
)
TABLET = {"width": 1180, "height": 820}
PHONE = {"width": 390, "height": 844}


@pytest.fixture
def bay(tmp_path):
    """Return a bay of a new log: what one order read is nothing that another read."""
    path = tmp_path / "shop.auditlog"
    clock = Clock("2026-03-02T07:05:00+00:00")
    with Ledger.create(
        path,
        shop="Example Yard Garage",
        person="boss-1",
        passphrase=PASSPHRASE,
        clock=clock,
    ) as ledger:
        ledger.enrol("tech-a", passphrase=PASSPHRASE, role=Role.TECHNICIAN)
    register = parse_register((files("auditkit_demo") / "instruments.json").read_text())
    made = Bay(path, clock, PASSPHRASE, load_canon(), register=register)
    made.start()
    yield made
    made.stop()


@pytest.fixture
def file(tmp_path):
    """Return the file in which a tool puts its readouts."""
    return tmp_path / "readout.txt"


@pytest.fixture
def quick(monkeypatch):
    """Let a caution's text be read in a second."""
    monkeypatch.setattr(caution_view, "_LONGEST", 1)


@pytest.fixture
def touch(browser, bay):
    """Return a function that signs a technician in at a new tablet or phone."""
    opened = []

    def at(view=TABLET, hands=Touch, **more):
        context = browser.new_context(viewport=view, has_touch=True, **more)
        opened.append(context)
        made = hands(bay.url, context.new_page())
        made.sign_in("tech-a", PASSPHRASE.decode())
        return made

    yield at
    for context in opened:
        context.close()


def told(name, hands):
    print(f"{name}: {hands.taps} taps, {hands.keys} keys")


# Whole repairs


HANDS = {
    "tablet": (TABLET, Touch),
    "phone": (PHONE, Touch),
    "keyboard": (TABLET, Keys),
}


@needs_chromium
@pytest.mark.usefixtures("quick")
@pytest.mark.parametrize("way", HANDS)
def test_a_repair_is_recorded_until_it_is_proven(way, touch, bay, file):
    hands = touch(*HANDS[way])
    egr_valve_until_read(hands, bay.clock, "RO-1", file)
    step(hands, bay.clock, hours=20)
    read_file(hands, file, readouts("RO-1001")[1]["raw"])
    assert "it is proven" in hands.words("#next")
    assert "closed as proven" in close(hands, bay.clock)
    told(f"P0401, {way}", hands)
    assert hands.faults == []
    # The readout says it: the vehicle's number, year and how it ignites.
    for said in ("0ZZTB1A18CA000123", "2012", "P0401", "spark"):
        assert said not in hands.typed
    assert hands.taps <= 70
    assert hands.keys <= 325


@needs_firefox
@pytest.mark.usefixtures("quick")
def test_a_repair_is_recorded_in_firefox(bay, file):
    with page_hosts.firefox() as driver:
        hands = Fox(bay.url, driver)
        hands.sign_in("tech-a", PASSPHRASE.decode())
        egr_valve_until_read(hands, bay.clock, "RO-1", file)
        step(hands, bay.clock, hours=20)
        read_file(hands, file, readouts("RO-1001")[1]["raw"])
        assert "closed as proven" in close(hands, bay.clock)
        told("P0401, Firefox", hands)


@needs_chromium
@pytest.mark.usefixtures("quick")
def test_a_display_alone_is_typed_until_it_is_vouched(touch, bay):
    hands = touch()
    sensor_heater(hands, bay.clock, "RO-1")
    assert "closed as vouched" in close(hands, bay.clock)
    told("P0135, display only", hands)
    assert hands.faults == []
    assert hands.taps <= 95
    assert hands.keys <= 500


@needs_chromium
@pytest.mark.usefixtures("quick")
def test_an_order_that_waits_is_completed_by_a_second_readout(touch, bay, file):
    hands = touch()
    after = readouts("RO-1001")[1]["raw"]
    egr_valve_until_read(hands, bay.clock, "RO-1", file)
    step(hands, bay.clock, minutes=10)
    read_file(hands, file, not_run_yet(after))
    hands.visit("/orders/RO-1/close")
    assert "waits" in hands.words("#now")
    if hands.has("#reason"):
        hands.write("reason", "the customer drives until its test has run")
    send(hands)
    hands.visit("/orders")
    assert "Waiting for a later readout" in hands.words("#main")
    bay.clock.pass_(hours=44)
    hands.press('a[href="/orders/RO-1"]')
    hands.press("#next summary", leads=False)  # the customer drove it meanwhile
    hands.press('#next a[href$="/add/readout"]')
    read_file(hands, file, after)
    assert "closed as proven" in close(hands, bay.clock)
    told("P0401, waiting, then read again", hands)
    assert hands.faults == []


# What comes between


@needs_chromium
def test_what_is_typed_shows_what_it_comes_to(opened):
    opened.visit("/orders/RO-1/add/bench_test?part=egr-valve&method=seal-hold")
    until(opened, lambda: "Still asked: Start pressure" in opened.words("#look"))
    opened.amount("readings.start pressure", "18.0", "inHg")
    until(opened, lambda: "Still asked: End pressure" in opened.words("#look"))
    until(opened, lambda: "Draft kept" in opened.words(".kept"))
    # Whether a display was over its range is asked where it may have been.
    assert opened.has('[name="readings.start pressure.bound"]')
    opened.visit(DRIVE)
    assert not opened.has('[name="distance.bound"]')


@pytest.fixture
def opened(touch, bay):
    """Return a technician's tablet with an order open."""
    hands = touch()
    vehicle = {"vin": "0ZZTB1A1XCA000141", "odometer": "118900", "ignition": "spark"}
    opening(hands, "RO-1", "lamp is on", **vehicle, description="estate car")
    return hands


def until(hands, is_so):
    hands.until(is_so, "it did not come")


CLEAR = "/orders/RO-1/add/code_clear"
DRIVE = "/orders/RO-1/add/road_test"


@needs_chromium
def test_tablets_see_each_others_steps_and_keep_what_is_typed(opened, touch):
    other, third = touch(PHONE), touch()
    other.visit("/orders/RO-1")
    third.visit(DRIVE)
    third.unfold("#happened")
    third.write("conditions", "steady 80 km/h")
    opened.visit(CLEAR)
    opened.write("tool", "text adapter")
    send(opened)
    before = time.monotonic()
    news = "clearing of codes"
    for hands in (other, third):
        until(hands, lambda hands=hands: news in hands.words("#happened"))
    assert time.monotonic() - before < 2
    assert third.value('[name="conditions"]') == "steady 80 km/h"
    assert third.run("return document.activeElement.name;") == "conditions"
    assert other.faults == third.faults == []


@needs_chromium
def test_a_draft_outlives_a_reload_and_a_restart(opened, bay):
    opened.visit(DRIVE)
    opened.write("conditions", "steady 80 km/h")
    until(opened, lambda: "Draft kept" in opened.words(".kept"))
    opened.visit(DRIVE)
    assert opened.value('[name="conditions"]') == "steady 80 km/h"
    bay.stop()
    bay.start()
    opened.sign_in("tech-a", PASSPHRASE.decode())
    opened.visit(DRIVE)
    assert opened.value('[name="conditions"]') == "steady 80 km/h"


@needs_chromium
def test_a_form_stays_while_nothing_answers_and_is_recorded_once(opened, bay):
    opened.visit(CLEAR)
    opened.write("tool", "text adapter")
    bay.stop()
    opened.press(SEND, leads=False)
    until(opened, lambda: "does not answer" in opened.words("#server"))
    assert opened.value('[name="tool"]') == "text adapter"
    bay.start()
    # Its sessions are gone with it: the page asks to sign in, and the form stays.
    until(opened, lambda: "sign in" in opened.words("#server"))
    unlock(opened, "a wrong passphrase")
    until(opened, lambda: "opens no key" in opened.words("#server"))
    unlock(opened, PASSPHRASE.decode())
    until(opened, lambda: "Signed in" in opened.words("#server"))
    assert opened.value('[name="tool"]') == "text adapter"
    send(opened)
    kinds = [line.event["kind"] for line in bay.desk.standing("RO-1").logged.lines]
    assert kinds == ["opening", "code_clear"]


def unlock(hands, passphrase):
    hands.page.fill("#unlock-passphrase", passphrase)
    hands.press("#unlock button", leads=False)


@needs_chromium
def test_a_page_that_is_locked_meanwhile_keeps_what_was_typed(opened, touch, bay):
    opened.visit(DRIVE)
    opened.write("conditions", "steady 80 km/h")
    context = opened.page.context
    beside = context.new_page()
    beside.goto(f"{bay.url}/orders")
    beside.click("header form button")
    opened.press(SEND, leads=False)
    until(opened, lambda: "sign in" in opened.words("#server"))
    assert opened.value('[name="conditions"]') == "steady 80 km/h"
    unlock(opened, PASSPHRASE.decode())
    until(opened, lambda: "Signed in" in opened.words("#server"))
    opened.amount("distance", "12", "km")
    opened.write("start", "07:01")
    opened.press(SEND)
    # It was taken in: the drive began before anybody acknowledged its cautions.
    told = opened.words("#now")
    assert "calls for cautions that are not in force" in told
    assert "the work began 07:01" in told
    assert opened.value('[name="conditions"]') == "steady 80 km/h"


@needs_chromium
def test_two_taps_on_send_record_one_event(opened, bay):
    opened.visit(CLEAR)
    opened.write("tool", "text adapter")
    opened.run(
        "const send = document.querySelector('.now form button.main');"
        "send.click(); send.click(); send.click();"
    )
    until(opened, lambda: opened.has(".said"))
    kinds = [line.event["kind"] for line in bay.desk.standing("RO-1").logged.lines]
    assert kinds == ["opening", "code_clear"]


@needs_chromium
def test_what_is_amiss_takes_the_focus_and_leads_to_its_field(opened):
    opened.visit(CLEAR)
    opened.press(SEND)
    until(opened, lambda: opened.has(".amiss:focus"))
    opened.press(".amiss a", leads=False)
    assert opened.run("return location.hash;") == "#f-tool"
    assert opened.path().startswith(CLEAR)
    opened.write("tool", "text adapter")
    send(opened)
    until(opened, lambda: opened.has(".said:focus"))
    assert opened.path() == "/orders/RO-1?since=4"


@needs_chromium
def test_a_caution_is_read_before_it_is_agreed_to(opened):
    opened.visit("/orders/RO-1/add/caution?kind=road_test")
    button = opened.page.locator("button[name=read]")
    began = time.monotonic()
    assert button.is_disabled()
    left = opened.words("#reading")
    until(opened, lambda: opened.words("#reading") not in {left, ""})
    until(opened, button.is_enabled)
    assert 10 < time.monotonic() - began < 20
    assert opened.words("#reading") == ""


# Every page


PAGES = (
    "/orders",
    "/orders?find=RO-none",
    "/new-order",
    "/orders/RO-1",
    "/orders/RO-1/add/caution?kind=road_test",
    "/orders/RO-1/add/diagnosis",
    "/orders/RO-1/add/bench_test",
    "/orders/RO-1/add/bench_test?part=egr-valve&method=seal-hold",
    "/orders/RO-1/add/bench_test?part=egr-valve&method=",
    "/orders/RO-1/add/repair?part=egr-valve",
    "/orders/RO-1/add/code_clear",
    "/orders/RO-1/add/road_test",
    "/orders/RO-1/add/readout?way=file",
    "/orders/RO-1/add/readout?way=live",
    "/orders/RO-1/add/readout?way=typed",
    "/orders/RO-1/add/attachment",
    "/orders/RO-1/correct/3",
    "/orders/RO-1/close",
    "/shop",
)
WIDTHS = (320, 390, 800, 1280)


@needs_chromium
def test_every_page_fits_and_is_usable_by_everyone(touch, bay, file):
    hands = touch()
    file.write_text(readouts("RO-1001")[0]["raw"])
    vehicle = {"odometer": "184210", "description": "van, 2.0 litre, spark"}
    opening(hands, "RO-1", "lamp is on", file, **vehicle)
    step(hands, bay.clock, minutes=20)
    diagnosis(hands, "EGR valve", "egr", "flow below its limit, passages clear")
    amiss = {}
    for path in (*PAGES, "/sign-in"):
        hands.visit(path)
        found = too_wide(hands)
        hands.run(
            "for (const one of document.querySelectorAll('details')) one.open = true;"
        )
        found += [*too_wide(hands), *broken_words(hands), *judged(hands.page)[1]]
        if found:
            amiss[path] = found
    assert amiss == {}
    assert hands.faults == []
    # What is planted is found.
    hands.run("document.querySelector('label[for=passphrase]').remove();")
    hands.run("document.querySelector('h1').style.width = '900px';")
    assert {one.partition(":")[0] for one in judged(hands.page)[1]} == {
        "label",
        "label-title-only",
    }
    assert too_wide(hands)[0].endswith("at 320")
    hands.run("document.querySelector('button').style.width = '2rem';")
    assert broken_words(hands)


def too_wide(hands):
    """Return the widths at which a page is wider than its window."""
    found = []
    for width in WIDTHS:
        hands.page.set_viewport_size({"width": width, "height": 900})
        wide = hands.run("return document.documentElement.scrollWidth;")
        if wide > width:
            found.append(f"{wide} px wide at {width}")
    return found


BROKEN = r"""
    const found = [], all = (what) => document.querySelectorAll(what);
    all("details").forEach((one) => { one.open = true; });
    all(".choice, .button, button, label, legend").forEach((one) => {
      const texts = document.createTreeWalker(one, NodeFilter.SHOW_TEXT);
      while (texts.nextNode()) {
        const text = texts.currentNode;
        for (const word of text.data.matchAll(/[^\s-]+/g)) {
          const place = document.createRange();
          place.setStart(text, word.index);
          place.setEnd(text, word.index + word[0].length);
          const tops = [...place.getClientRects()].map((line) => Math.round(line.top));
          if (new Set(tops).size > 1) found.push(word[0]);
        }
      }
    });
    return found;
"""


def broken_words(hands):
    """Return the words of choices, buttons and labels that are broken at some width."""
    found = []
    for width in (*WIDTHS, 820):
        hands.page.set_viewport_size({"width": width, "height": 900})
        found += [f"{word} is broken at {width}" for word in hands.run(BROKEN)]
    return found


@needs_chromium
def test_an_order_is_printed_without_what_only_a_screen_needs(opened):
    sheets = pypdf.PdfReader(io.BytesIO(opened.page.pdf(format="A4"))).pages
    text = " ".join(" ".join(sheet.extract_text().split()) for sheet in sheets)
    for kept in ("RO-1", "estate car", "Same vehicle", "What happened", "opening"):
        assert kept in text
    for gone in ("lock", "Something else happened", "Correct it", "Passphrase"):
        assert gone not in text


@needs_chromium
@pytest.mark.parametrize("view", [TABLET, PHONE], ids=["tablet", "phone"])
def test_a_bench_test_on_a_phone_is_short_and_its_limit_follows_the_unit(touch, view):
    hands = touch(view)
    vehicle = {"vin": "0ZZTB1A1XCA000141", "odometer": "118900", "ignition": "spark"}
    opening(hands, "RO-1", "lamp is on", **vehicle, description="estate car")
    hands.visit("/orders/RO-1/add/bench_test?part=egr-valve&method=seal-hold")
    # It had 4,900 px on a phone; what is rarely filled is folded.
    assert hands.run("return document.querySelector('.now').offsetHeight;") < 3900
    assert hands.run("return document.documentElement.scrollWidth <= innerWidth;")
    assert hands.value('[name="limit.unit"]') == "inHg"
    hands.choose("readings.end pressure.unit", "psi")
    assert hands.value('[name="limit.unit"]') == "psi"
    hands.choose("limit.unit", "bar")  # chosen by a person: it stays
    hands.choose("readings.end pressure.unit", "kPa")
    assert hands.value('[name="limit.unit"]') == "bar"
    assert hands.faults == []


@needs_chromium
def test_a_typed_readout_on_a_phone_is_short_after_a_live_one(touch, bay, file):
    hands = touch(PHONE)
    file.write_text(readouts("RO-1001")[0]["raw"])
    vehicle = {"odometer": "184210", "description": "van, 2.0 litre, spark"}
    opening(hands, "RO-1", "lamp is on", file, **vehicle)
    hands.visit("/orders/RO-1/add/readout?way=typed")
    # It had 4,800 px: eight monitors, two self-tests and four pictures unfolded.
    assert hands.run("return document.querySelector('.now').offsetHeight;") < 2300
    hands.unfold('[name="typed.modules.0.self_tests.0.value.value"]')
    hands.write("typed.modules.0.self_tests.0.value.value", "214")
    until(hands, lambda: "Draft kept" in hands.words(".kept"))
    hands.visit("/orders/RO-1/add/readout?way=typed")
    assert hands.has('details[open] [name="typed.modules.0.self_tests.0.value.value"]')
    assert hands.has('details:not([open]) [name="typed.modules.0.monitors.0.state"]')
    assert hands.faults == []
