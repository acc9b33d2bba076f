"""Generated pairs with their truth: a substituted vehicle is asked about, and which.

Every kind of substitution changes one thing that a vehicle keeps; an honest pair
changes none of them, whatever else happens between its readouts.
"""

import random

import pytest
from vehicles import Vehicle, counted

from auditkit.order.events import RepairOrder
from auditkit.plugin.loading import load_catalogue

CATALOGUE = load_catalogue()
RULES = [
    rule
    for rule in CATALOGUE.rules
    if rule.check.__module__.split(".")[-1].startswith("vehicle_")
]
IGNITION = 1
"""Its place among the counters: what was driven was started."""
FAULTY = Vehicle(confirmed=(0x0442,), status="8107E500")
KINDS = {
    "vin": (lambda v: v.but(vin="0ZZTB1A1XCA000124"), "vin-differs"),
    "calibration": (
        lambda v: v.but(calibration="DEMO-ENG-0002", cvn="16E062BE"),
        "calibration-changed-without-reprogramming",
    ),
    "number": (lambda v: v.but(cvn="16E062BE"), "calibration-changed-by-halves"),
    "responders": (lambda v: v.but(responders=("7E8", "7E9")), "responders-differ"),
    "map": (lambda v: v.but(map_00="BE3FA813"), "vehicle-marks-differ"),
    "standard": (lambda v: v.but(standard=6), "vehicle-marks-differ"),
    "fuel": (lambda v: v.but(fuel=4), "vehicle-marks-differ"),
    "ignition": (lambda v: v.but(status="000FC300"), "vehicle-marks-differ"),
    "odometer": (lambda v: v.but(odometer=500_000), "count-went-back"),
    "counter": (
        lambda v: v.but(counters=counted(v.counters, 1, -9)),
        "count-went-back",
    ),
    "minutes": (
        lambda v: v.but(minutes=0, distance=90),
        "counts-since-clear-contradict",
    ),
}


def driven(source: random.Random) -> Vehicle:
    """Return the faulty vehicle after an honest repair, a clear and a drive."""
    far = source.randrange(20, 900)
    after = FAULTY.cleared().but(
        tests={(0x3C, 0x81, 0xFD): (source.randrange(1, 400), 0, 400)},
        status=source.choice(["0007E500", "0007E504", "0007E5A1"]),
        warm_ups=source.randrange(1, 20),
        distance=far,
        minutes=far + source.randrange(5, 90),
        odometer=FAULTY.odometer + 10 * far + source.randrange(10),
        pending=source.choice([(), (0x0455,)]),
    )
    for place in range(16):
        rise = source.randrange(int(place == IGNITION), 4)
        after = after.but(counters=counted(after.counters, place, rise))
    return after


def asked(before: Vehicle, after: Vehicle) -> set[str]:
    def readout(car: Vehicle, at: str) -> dict:
        return {"kind": "readout", "at": at, "captured": at, "raw": car.readout()}

    events = [
        {
            "kind": "opening",
            "vehicle": {
                "vin": before.vin,
                "model_year": 2012,
                "ignition": "spark",
                "odometer": {"value": "120345", "unit": "km"},
            },
        },
        readout(before, "2026-03-04T08:10:00+01:00"),
        {"kind": "repair", "at": "2026-03-04T09:00:00+01:00", "action": "replaced"},
        readout(after, "2026-03-05T08:00:00+01:00"),
    ]
    order = RepairOrder.fold("RO-1", events)
    found = {r.name: r.check(order, CATALOGUE.parameters(r)) for r in RULES}
    return {name for name, problems in found.items() if list(problems)}


def test_an_honest_pair_is_asked_nothing():
    source = random.Random(4)
    for _ in range(200):
        assert asked(FAULTY, driven(source)) == set()


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_of_substitution_is_asked_about(kind):
    change, rule = KINDS[kind]
    source = random.Random(kind)
    for _ in range(20):
        assert rule in asked(FAULTY, change(driven(source)))


def test_two_vehicles_of_one_model_differ_in_what_is_their_own():
    """The nearest substitute: the same model and calibration, driven farther."""
    source = random.Random(12)
    other = driven(source).but(vin="0ZZTB1A15CA000130", odometer=2_000_000)
    assert asked(FAULTY, other) == {"vin-differs"}
