"""A caution as data: what is not whole is refused by name. Invented cautions."""

import hashlib

import pytest

from auditkit.errors import InputError
from auditkit.order.caution_table import caution_of
from auditkit.order.cautions import StepKind

LIFT = {
    "id": "raised-vehicle",
    "version": 2,
    "signal_word": "WARNING",
    "hazard": "vehicle falls",
    "text": "WARNING: a raised vehicle falls. This invented text reminds only.",
    "basis": "invented",
    "lapses_after": 30,
    "covers": "vehicle",
    "called": {"in_steps": ["repair"], "systems": ["exhaust"]},
    "precondition": [
        {"name": "stands", "ask": "which stands carry it"},
        {
            "name": "mass",
            "ask": "mass of the vehicle",
            "possible": [{"unit": "kg", "low": "300", "high": "20000"}],
            "stop": [
                {
                    "above": "3500",
                    "unit": "kg",
                    "limit_of": "invented",
                    "unless": "stands",
                }
            ],
        },
    ],
}


def with_mass(**change):
    """Return the caution's data with another precondition about the mass."""
    stands, mass = LIFT["precondition"]
    return {**LIFT, "precondition": [stands, {**mass, **change}]}


def stop(**change):
    return {"above": "3500", "unit": "kg", "limit_of": "invented", **change}


def test_a_whole_table_is_a_caution():
    caution = caution_of(LIFT)
    assert caution.sha256 == hashlib.sha256(LIFT["text"].encode()).hexdigest()
    assert caution.covers_vehicle
    assert caution.calls.in_steps == {StepKind.REPAIR}
    stands, mass = caution.preconditions
    assert (stands.possible, mass.units) == ((), "kg")
    assert str(mass.stops[0]) == "above 3500 kg"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"text": None}, "text is not plain text"),
        ({"text": "two\nlines"}, "text is not plain text on one line"),
        ({"text": ""}, "text is not plain text"),
        ({"signal_word": "Danger"}, "not one of DANGER, WARNING, CAUTION, NOTICE"),
        ({"version": "1"}, "version is not a whole number above 0"),
        ({"lapses_after": 0}, "lapses_after is not a whole number above 0"),
        ({"covers": "shop"}, "covers 'shop' is not one of part, vehicle"),
        ({"ends_when_engine_runs": "yes"}, "is neither true nor false"),
        ({"called": {}}, "names no step"),
        ({"called": ["repair"]}, "called is not a table"),
        ({"called": {"in_steps": "repair"}}, "in_steps is not a list of texts"),
        ({"called": {"in_steps": ["engine_off"]}}, "'engine_off'"),
        ({"precondition": {}}, "precondition is not a list of tables"),
    ],
)
def test_data_that_is_not_whole_is_refused_by_name(change, said):
    with pytest.raises(InputError, match=said) as caught:
        caution_of({**LIFT, **change})
    assert caught.value.where == "raised-vehicle"
    assert "cautions.toml" in caught.value.what_to_do


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"name": "stands"}, "two preconditions have one name"),
        ({"possible": []}, "has a stop and no possible values"),
        ({"possible": [{"unit": "kgs", "low": "1", "high": "2"}]}, "'kgs'"),
        ({"possible": [{"unit": "kg", "low": "9", "high": "2"}]}, "nothing lies"),
        ({"stop": [stop(unit="V")]}, "never met by a value in another kind of unit"),
        ({"stop": [stop(below="1")]}, "above or below"),
        ({"stop": [{"above": "rating", "limit_of": "x"}]}, "no precondition 'rating'"),
        ({"stop": [stop(unless="gloves")]}, "no precondition 'gloves'"),
        ({"instead": "mass"}, "no precondition 'mass' asks for a sentence"),
    ],
)
def test_a_precondition_that_could_never_be_judged_is_refused(change, said):
    with pytest.raises(InputError, match=said):
        caution_of(with_mass(**change))


@pytest.mark.parametrize("name", sorted(LIFT))
def test_a_member_that_lacks_is_named(name):
    with pytest.raises(InputError, match=f"'{name}' is missing"):
        caution_of({n: v for n, v in LIFT.items() if n != name})
