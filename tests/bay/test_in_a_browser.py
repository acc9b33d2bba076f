"""The bay's pages as a technician uses them: whole repairs, and what comes between."""

from importlib.resources import files
from importlib.util import find_spec

import page_hosts
import pytest
from bay_hands import Fox, Keys, Touch
from bay_repairs import close, egr_valve_until_read, read_file, readouts, step
from bay_server import Bay, Clock
from conftest import CHROMIUM, PASSPHRASE

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
