"""A caution as data, and which steps call for it. Invented cautions."""

import hashlib

import pytest

from auditkit.errors import InputError
from auditkit.order.cautions import caution_of, cautions_for
from auditkit.order.events import RepairOrder

LIFT = {
    "id": "raised-vehicle",
    "version": 2,
    "signal_word": "WARNING",
    "hazard": "vehicle falls",
    "text": "WARNING: a raised vehicle falls. This invented text reminds only.",
    "basis": "invented",
    "preconditions": [{"name": "stands"}, {"name": "floor slope", "unit": "deg"}],
    "applies": [
        {"kind": "repair", "systems": ["exhaust"]},
        {"kind": "bench_test", "tests": ["back pressure"]},
        {"kind": "hoist_check"},
    ],
    "lapses_after": 30,
}


def order_of(*events):
    diagnosis = {
        "kind": "diagnosis",
        "suspect_parts": [
            {"id": "silencer", "system": "exhaust"},
            {"id": "canister", "system": "evap"},
        ],
    }
    return RepairOrder.fold("RO-1", (diagnosis, *events))


@pytest.mark.parametrize(
    ("event", "called"),
    [
        ({"kind": "repair", "part": "silencer"}, True),
        ({"kind": "repair", "part": "canister"}, False),
        ({"kind": "repair", "part": "unknown"}, False),
        ({"kind": "bench_test", "part": "canister", "test": "Back pressure"}, True),
        ({"kind": "bench_test", "part": "silencer", "test": "weight"}, False),
        ({"kind": "hoist_check"}, True),
        ({"kind": "road_test"}, False),
    ],
)
def test_a_step_calls_for_it_by_kind_system_and_test(event, called):
    order = order_of(event)
    caution = caution_of(LIFT)
    assert (cautions_for([caution], order, order.events[1]) == (caution,)) is called


def test_what_was_shown_is_known_by_its_digest():
    caution = caution_of(LIFT)
    assert caution.sha256 == hashlib.sha256(LIFT["text"].encode()).hexdigest()
    assert dict(caution.preconditions) == {"stands": "", "floor slope": "deg"}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"text": None}, "text is not plain text"),
        ({"text": "two\nlines"}, "text is not plain text on one line"),
        ({"text": ""}, "text is not plain text"),
        ({"signal_word": "Danger"}, "not one of DANGER, WARNING, CAUTION, NOTICE"),
        ({"version": "1"}, "version is not a whole number above 0"),
        ({"lapses_after": 0}, "lapses_after is not a whole number above 0"),
        ({"applies": []}, "names no step"),
        ({"applies": ["repair"]}, "applies is not a list of tables"),
        ({"applies": [{"kind": "repair", "systems": "egr"}]}, "not a list of texts"),
        ({"preconditions": {}}, "preconditions is not a list of tables"),
    ],
)
def test_data_that_is_not_whole_is_refused_by_name(change, said):
    with pytest.raises(InputError, match=said) as caught:
        caution_of({**LIFT, **change})
    assert caught.value.where == "raised-vehicle"
    assert "cautions.toml" in caught.value.what_to_do


@pytest.mark.parametrize("name", sorted(LIFT))
def test_a_member_that_lacks_is_named(name):
    with pytest.raises(InputError, match=f"'{name}' is missing"):
        caution_of({n: v for n, v in LIFT.items() if n != name})
