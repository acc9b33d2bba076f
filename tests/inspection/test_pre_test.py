"""Inspection rules against their published texts (sources stand in inspection.toml)."""

import pytest
from vehicles import Vehicle as Car

from auditkit.errors import InputError
from auditkit.inspection.jurisdiction import jurisdiction_of
from auditkit.inspection.pre_test import Vehicle, ignition_of, pre_test
from auditkit.obd import decode
from auditkit.plugin import hookimpl
from auditkit.plugin.loading import load_catalogue

RULES = {j.name: j for j in load_catalogue().jurisdictions}
READY = Car()
LAMP = Car(status="8107E500", confirmed=(0x0442,))


def answers(car, rules, year=2012, ignition="spark", lamp="lit"):
    read = decode(car.readout())
    found = pre_test(read, RULES[rules], Vehicle(year, ignition), lamp_seen=lamp)
    return [r.answer.value for r in found.results]


def waiting(count):
    """Return a car with ``count`` of its monitors not complete (byte D of PID 01)."""
    bits = [1, 4, 32, 64, 128][:count]
    return READY.but(status=f"0007E5{sum(bits):02X}")


@pytest.mark.parametrize(
    ("car", "lamp", "fails"),
    [
        (READY, "lit", False),
        (READY, "dark", True),  # 40 CFR 85.2207(b)
        (LAMP, "lit", True),  # 40 CFR 85.2207(c)
        (READY.but(confirmed=(0x0442,)), "lit", False),  # a code without the lamp
    ],
)
def test_federal_pass_and_fail(car, lamp, fails):
    # 40 CFR 85.2207, whole text read: readiness is not in it.
    assert ("fail" in answers(car, "federal", lamp=lamp)) is fails


@pytest.mark.parametrize(
    ("year", "count", "answer"),
    [
        (1996, 2, "accept"),  # two or fewer unset, 1996-2000: EPA420-R-01-015,
        (1996, 3, "reject-as-not-ready"),  # numbers cited through a service manual
        (2000, 2, "accept"),
        (2001, 2, "reject-as-not-ready"),
        (2001, 1, "accept"),
        (2012, 0, "accept"),
    ],
)
def test_federal_readiness(year, count, answer):
    used, unused = answers(waiting(count), "federal", year)
    assert used == answer
    assert unused == ("reject-as-not-ready" if count else "accept")


@pytest.mark.parametrize(
    ("year", "ignition", "status", "regulation", "table"),
    [
        (1998, "spark", "0007E501", "fail", "accept"),  # any one
        (1998, "spark", "0007E505", "fail", "fail"),
        (2012, "spark", "0007E504", "fail", "accept"),  # evaporative only
        (2012, "spark", "0007E501", "fail", "fail"),
        (2012, "spark", "0017E500", "fail", "accept"),  # continuous ones are ignored
        (2003, "compression", "000FC301", "fail", "fail"),  # none
        (2012, "compression", "000FC341", "fail", "accept"),  # the named pair
        (2012, "compression", "000FC380", "fail", "fail"),
        (2012, "spark", "0007E500", "accept", "accept"),
    ],
)
def test_california_shows_both_readings(year, ignition, status, regulation, table):
    found = answers(READY.but(status=status), "california", year, ignition)
    assert found == [regulation, table]


@pytest.mark.parametrize(
    ("year", "warm_ups", "distance", "answer"),
    [
        (2009, 0, 0, "accept"),  # counted from model year 2010
        (2010, 14, 400, "fail"),
        (2010, 15, 321, "fail"),  # 200 miles are 321.87 km
        (2010, 15, 322, "accept"),
        (2010, None, 400, "undecided"),
    ],
)
def test_california_permanent_codes_and_their_exemption(
    year, warm_ups, distance, answer
):
    car = READY.but(permanent=(0x0442,), warm_ups=warm_ups, distance=distance)
    assert set(answers(car, "california", year)) == {answer}


def test_california_fails_a_reported_code_without_the_lamp():
    # 16 CCR 3340.42.2, before the amendment of 2025.
    assert set(answers(READY.but(confirmed=(0x0442,)), "california")) == {"fail"}


def test_what_was_not_read_or_looked_at_is_never_a_pass():
    assert set(answers(READY, "federal", lamp="not-looked")) == {"undecided"}
    read = decode("7E8 02 43 00")
    found = pre_test(read, RULES["federal"], Vehicle(2012, "spark"), lamp_seen="lit")
    assert {r.answer.value for r in found.results} == {"undecided"}
    assert set(answers(READY, "federal", 1990)) == {"undecided"}


def test_ignition_comes_from_pid_01():
    assert ignition_of(decode(READY.readout())) == "spark"
    diesel = READY.but(status="000FC300", fuel=0x01)
    assert ignition_of(decode(diesel.readout())) == "compression"
    assert ignition_of(decode("7E8 02 43 00")) is None


def test_two_modules_merge_to_the_worse():
    text = "7E8 06 41 01 00 07 E5 00\n7E9 06 41 01 00 04 01 01"
    read = decode(text)
    found = pre_test(read, RULES["federal"], Vehicle(2012, "spark"), lamp_seen="lit")
    assert found.incomplete == ("catalyst",)


def test_a_plugin_may_add_a_jurisdiction_and_bad_data_names_it():
    data = {
        "name": "island",
        "title": "An invented island",
        "first_year": 2000,
        "not_ready": "fail",
        "lamp": {"section": "1", "dated": "2020", "known": "invented"},
        "bulb": {"section": "2", "dated": "2020", "known": "invented"},
        "reading": [
            {
                "name": "only",
                "section": "3",
                "dated": "2020",
                "known": "invented",
                "allowance": [{"ignition": "any", "first_year": 2000, "count": 0}],
            }
        ],
    }

    class Island:
        @staticmethod
        @hookimpl
        def jurisdictions():
            return [jurisdiction_of(data)]

    found = load_catalogue({"island": Island}).jurisdictions
    assert [j.name for j in found] == ["island"]
    del data["reading"]
    with pytest.raises(InputError, match="island"):
        jurisdiction_of(data)
