"""A shop's own policy and register lie beside its log, and are taken from there."""

import json
from pathlib import Path

import pytest

from auditkit.order.findings import Verdict
from auditkit.order.policy import DEFAULT, parse_policy
from auditkit.order.policy_choices import MAY_BE_LEFT, NUMBERS, policy_text
from auditkit.plugin.loading import load_canon

STRICT = policy_text(Verdict.PROVEN)


@pytest.fixture
def shop(run):
    """Return what runs a command in a shop whose log lies in a folder of its own."""
    Path("office").mkdir()
    log = ("--log", "office/shop.auditlog")
    name = ("--shop", "Example Yard Garage (invented)", "--person", "mechanic-1")
    assert run("init", *name, *log)[0] == 0
    assert not Path("office/policy.toml").exists(), "nobody was asked"
    return lambda *arguments: run(*arguments, *log)


def test_the_policy_beside_the_log_is_taken_and_said(shop, run):
    assert run("check", "RO-1001.json")[0] == 0
    Path("office/policy.toml").write_text(STRICT)
    for command in ("record", "check"):
        status, out, err = shop(command, "RO-1004.json", "--format", "json")
        assert status == 1
        assert json.loads(out)["verdict"] == "vouched"
        assert err == (
            "office/policy.toml beside the log is taken (--policy names another)\n"
        )
    Path("office/usual.toml").write_text(policy_text())
    status, _, err = shop("record", "RO-1004.json", "--policy", "office/usual.toml")
    assert (status, err) == (0, "")
    for command in (("status", "RO-1004"), ("close", "RO-1004")):
        assert "policy.toml beside the log" in shop(*command)[2]


def test_the_usual_policy_is_taken_and_nothing_is_said_of_it(shop):
    Path("office/policy.toml").write_text(policy_text())
    assert shop("check", "RO-1004.json")[::2] == (0, "")
    assert shop("record", "RO-1004.json")[::2] == (0, "")


def test_a_step_of_the_bay_takes_it_and_says_nothing_of_it(shop):
    odometer = ("--odometer", "1200 km", "--complaint", "It idles badly.")
    van = ("--vehicle", "delivery van", "--customer", "Customer One (invented)")
    Path("office/policy.toml").write_text(STRICT)
    more = ("--set", "vehicle.model_year=2012", "--set", "vehicle.ignition=spark")
    status, _, err = shop("open", "RO-7", *van, *odometer, *more)
    assert (status, err) == (0, "")
    assert "policy.toml beside the log is taken" in shop("status", "RO-7")[2]
    Path("office/policy.toml").write_text("least = 1")
    said = ("--part", "egr-valve", "--set", "action=cleaned")
    status, _, err = shop("add", "RO-7", "repair", *said)
    assert (status, "office/policy.toml" in err) == (2, True), "it is taken"


def test_a_reader_never_takes_it(shop, run):
    assert shop("record", "RO-1004.json")[0] == 0
    packet = "office/packet.json"
    assert shop("packet", "RO-1004", "--out", packet)[0] == 0
    Path("office/policy.toml").write_text("no policy at all")
    status, _, err = run("verify", packet)
    assert (status, err) == (0, "")


def test_one_that_cannot_be_read_is_an_error_with_its_place(shop):
    Path("office/policy.toml").write_text("least = 1")
    status, _, err = shop("record", "RO-1004.json")
    assert status == 2
    assert "office/policy.toml" in err


def test_one_register_lies_there_and_not_two(shop, run):
    Path("office/instruments.csv").write_text(
        "id;description;unit;low;high;resolution;on;due\n"
        "gauge-1;gauge (invented);kPa;0;100;0.1;2026-01-02;2027-01-02\n"
    )
    said = "no register of instruments lies beside the log"
    assert said in run("instruments", "--log", "x/none.auditlog")[2]
    status, _, err = shop("record", "RO-1004.json")
    assert status == 0
    assert shop("instruments", "--on", "2026-05-05")[:2] == (
        0,
        "gauge-1  in calibration until 2027-01-02  gauge (invented)\n",
    )
    assert "instruments.csv beside the log is taken (--instruments names" in err
    Path("office/instruments.json").write_text("{}")
    status, _, err = shop("record", "RO-1004.json")
    assert status == 2
    assert "office/instruments.json: instruments.csv lies there too" in err


def test_the_usual_answers_make_the_usual_policy():
    assert parse_policy(policy_text()).sha256 == DEFAULT.sha256


def test_each_number_that_is_asked_for_is_one_that_a_rule_takes():
    rules = {rule.name: rule.parameters for rule in load_canon().rules}
    for asked in NUMBERS:
        assert isinstance(rules[asked.rule][asked.parameter], int)
    numbers = dict.fromkeys(NUMBERS, 12)
    policy = parse_policy(policy_text(Verdict.PROVEN, MAY_BE_LEFT, numbers))
    assert policy.not_asked == MAY_BE_LEFT
    for asked in NUMBERS:
        assert policy.setting(asked.rule).parameters == {asked.parameter: 12}


def test_a_packet_tells_what_a_policy_left_in_clear(shop):
    text = 'format = "auditkit/policy@1"\nwithhold = ["opening.customer.contact"]\n'
    Path("office/policy.toml").write_text(text)
    assert shop("record", "RO-1001.json")[0] == 0
    status, told, _ = shop("packet", "RO-1001", "--out", "RO-1001.packet.json")
    assert status == 0
    assert "it discloses customer.name\n" in told
