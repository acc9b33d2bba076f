"""A manager's choices: instruments and how strict the shop is, in the files of both."""

import json
import tomllib
from html import unescape
from importlib.resources import files

import pytest
from bay_desk import Tablet, desk_over
from conftest import PASSPHRASE

from auditkit.bay.pages import choices_view
from auditkit.bay.pages.desk import KeptBeside
from auditkit.log.ledger import Ledger
from auditkit.order.findings import Verdict
from auditkit.order.instruments import parse_register
from auditkit.order.policy_choices import policy_text
from auditkit.plugin.loading import load_canon
from auditkit.proof.role import Role

GAUGE = {
    "id": "gauge-9",
    "description": "hand pump with gauge (invented)",
    "unit": "kPa (gauge)",
    "low": "0",
    "high": "100",
    "resolution": "0,5",
    "percent_of_span": "1",
    "on": "2026-01-15",
    "due": "2027-01-15",
}
RULES = load_canon()
USUAL = {
    "least": "vouched",
    "number.hours": str(RULES.rule("times-out-of-order").parameters["hours"]),
    "number.days": str(RULES.rule("instrument-out-of-calibration").parameters["days"]),
}


@pytest.fixture
def shop(tmp_path):
    """Return a function that opens the shop's bay, and signs its manager in."""
    path = tmp_path / "shop.auditlog"
    with Ledger.create(
        path, shop="Example Yard Garage", person="boss-1", passphrase=PASSPHRASE
    ) as ledger:
        ledger.enrol("tech-a", passphrase=PASSPHRASE, role=Role.TECHNICIAN)
    return path


@pytest.fixture
def desk(shop):
    with desk_over(shop, PASSPHRASE, RULES) as made:
        yield made


@pytest.fixture
def manager(desk):
    made = Tablet(desk)
    made.sign_in("boss-1", PASSPHRASE.decode())
    return made


def send(tablet, act, **fields):
    """Send one of the forms of the shop's page, as its page has it."""
    page = tablet.seen("/shop")
    token = page.partition('name="form_token" value="')[2].partition('"')[0]
    return tablet.post(f"/shop/{act}", data={"form_token": token, **fields})


def told(answer):
    return unescape(answer.text.partition('id="told">')[2].partition("</p>")[0])


def test_an_instrument_is_registered_in_the_file_and_counts_at_once(
    manager, desk, shop
):
    assert "None is registered" in manager.seen("/shop")
    assert send(manager, "instrument", **GAUGE).status_code == 303
    kept = parse_register((shop.parent / "instruments.json").read_text())
    assert kept == desk.register
    assert kept["gauge-9"].data["resolution"] == "0.5"  # a comma, as it was typed
    assert "gauge-9: hand pump with gauge (invented): in calibration" in manager.seen(
        "/shop"
    )
    later = {"id": "gauge-9", "on": "2027-01-10", "due": "2028-01-10"}
    assert send(manager, "calibration", **later).status_code == 303
    kept = parse_register((shop.parent / "instruments.json").read_text())
    assert [c["on"] for c in kept["gauge-9"].data["calibrations"]] == [
        "2026-01-15",
        "2027-01-10",
    ]


@pytest.mark.parametrize(
    ("wrong", "where", "words"),
    [
        ({"low": ""}, "low", "Lowest value of its range: no answer"),
        ({"unit": "stones"}, "unit", "stones"),
        ({"high": "much"}, "high", "write a number, such as 0.5"),
        ({"low": "100", "high": "0"}, "high", "its range ends below where it begins"),
        ({"due": "2026-13-45"}, "due", "is no day"),
        ({"due": "2025-01-01"}, "due", "it would end before it was made"),
        ({"due": ""}, "due", "no answer"),
        ({"id": "../x y"}, "id", "letters"),
    ],
)
def test_what_does_not_fit_is_told_at_its_answer_and_nothing_is_written(
    manager, desk, wrong, where, words
):
    answer = send(manager, "instrument", **{**GAUGE, **wrong})
    assert answer.status_code == 422
    assert words in told(answer)
    field = answer.text.partition(f'id="instrument-{where}"')[2].partition(">")[0]
    assert 'aria-invalid="true"' in field
    assert f'value="{GAUGE["description"]}"' in answer.text  # what was typed stays
    assert desk.register == {}
    assert not desk.kept.register.exists()


def test_an_instrument_is_registered_once_and_only_one_that_is_is_calibrated(manager):
    send(manager, "instrument", **GAUGE)
    again = send(manager, "instrument", **GAUGE)
    assert "is registered already" in told(again)
    dates = {"on": "2026-01-15", "due": "2027-01-15"}
    other = send(manager, "calibration", id="gauge-8", **dates)
    assert "no instrument 'gauge-8' is registered" in told(other)


def test_what_somebody_wrote_into_the_file_meanwhile_stays(manager, shop):
    demo = (files("auditkit_demo") / "instruments.json").read_text()
    (shop.parent / "instruments.json").write_text(demo)
    assert send(manager, "instrument", **GAUGE).status_code == 303
    kept = parse_register((shop.parent / "instruments.json").read_text())
    assert set(kept) == {*parse_register(demo), "gauge-9"}


def test_a_register_that_is_a_table_is_left_to_who_keeps_it(manager, desk, shop):
    desk.kept = KeptBeside(shop.parent / "instruments.csv", desk.kept.policy)
    answer = send(manager, "instrument", **GAUGE)
    assert "kept as a table, in instruments.csv" in told(answer)


def test_a_disk_that_is_full_is_told_and_leaves_the_file_as_it_was(
    manager, desk, shop, monkeypatch
):
    send(manager, "instrument", **GAUGE)
    before = (shop.parent / "instruments.json").read_text()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(choices_view, "put_text", full)
    answer = send(manager, "instrument", **{**GAUGE, "id": "gauge-10"})
    assert "No space left on device" in told(answer)
    assert (shop.parent / "instruments.json").read_text() == before
    assert set(desk.register) == {"gauge-9"}


def test_how_strict_the_shop_is_is_chosen_in_words_and_counts_at_once(
    manager, desk, shop
):
    known = desk.policy
    fields = {**USUAL, "least": "proven", "left.hazards-met": "yes"}
    answer = send(manager, "policy", **{**fields, "number.hours": "48"})
    assert answer.status_code == 303, told(answer)
    text = (shop.parent / "policy.toml").read_text()
    kept = tomllib.loads(text)
    assert kept["least"] == "proven"
    assert kept["not_asked"] == ["hazards-met"]
    assert kept["rules"] == {"times-out-of-order": {"parameters": {"hours": 48}}}
    assert (desk.policy.least, desk.policy != known) == (Verdict.PROVEN, True)
    page = manager.seen("/shop")
    assert "proven: all rests on what the vehicle and instruments showed" in page
    assert 'name="left.hazards-met" value="yes" checked' in page
    assert send(manager, "policy", **USUAL).status_code == 303  # and back
    assert (shop.parent / "policy.toml").read_text() == policy_text()


@pytest.mark.parametrize("number", ["", "0", "-3", "many", "1000000", "9" * 5000, "١٢"])
def test_a_number_is_one(manager, desk, shop, number):
    answer = send(manager, "policy", **{**USUAL, "number.hours": number})
    assert answer.status_code == 422
    assert "This is no number from 1 to 100000" in told(answer)
    assert not (shop.parent / "policy.toml").exists()


def test_a_policy_that_says_more_is_left_to_who_wrote_it(manager, desk, shop):
    own = f'{policy_text()}\n[rules.vin-check-digit-differs]\nseverity = "blocking"\n'
    (shop.parent / "policy.toml").write_text(own)
    answer = send(manager, "policy", **USUAL)
    assert "says more than is asked here" in told(answer)
    assert (shop.parent / "policy.toml").read_text() == own


@pytest.mark.parametrize("act", ["instrument", "calibration", "policy"])
def test_nobody_but_a_manager_chooses(desk, shop, act):
    made = Tablet(desk, "192.0.2.51")
    made.sign_in("tech-a", PASSPHRASE.decode())
    page = made.seen("/shop")
    assert f"/shop/{act}" not in page
    assert send(made, act, **GAUGE, **USUAL).status_code == 403
    assert json.dumps([*shop.parent.glob("*.json"), *shop.parent.glob("*.toml")]) == (
        "[]"
    )
