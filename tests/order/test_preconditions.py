"""What is recorded before a step: possible at all, and within what is called safe.

Checked against the definitions of the units (NIST SP 811) at the borders of the table:
48 degC is 118.4 degF, 10 kPa is 1.4504 psi, 60 V is 0.06 kV.
"""

import pytest

from auditkit.order.cautions import StepKind
from auditkit.order.hazards import Work
from auditkit.order.preconditions import beyond, is_sentence, lacking
from auditkit.plugin.loading import load_catalogue

CAUTIONS = load_catalogue().cautions


def work(*systems, kind=StepKind.REPAIR):
    return Work(
        "repair",
        frozenset({kind}),
        frozenset(systems),
        is_known=True,
        of_rows=frozenset(),
    )


def value(number, unit):
    return {"value": number, "unit": unit}


def judged(name, given, where=None):
    """Return what lacks, and the names of what is beyond its stop."""
    where = where or work()
    caution = CAUTIONS[name]
    return (
        list(lacking(caution, given, where)),
        [one.name for one in beyond(caution, given, where)],
    )


VAPOUR = {
    "ignition sources": "no flame, no heater, lamp of the safe kind",
    "extinguisher": "at the post beside the bay",
}


@pytest.mark.parametrize(
    ("told", "runs"),
    [
        ("extraction of the bay is on", True),
        ("outdoors, a light wind", True),
        ("takes off what rises from the floor", True),
        ("offset fan beside the pump", True),
        ("off, it was too cold in the bay", False),
        ("switched off because of the noise", False),
        ("is off today", False),
        ("out of order since Monday", False),
        ("broken, ordered anew", False),
        ("none, the doors are shut", False),
        ("is not built yet", False),
        ("was not switched on", False),
        ("is noted on the wall: extraction on", True),
    ],
)
def test_ventilation_that_does_not_run_is_none(told, runs):
    lacks, _ = judged("fuel-vapour", {**VAPOUR, "ventilation": told}, work("evap"))
    assert (lacks == []) is runs


HV = {
    "service plug": "out, in the pocket of the technician",
    "lock and tag": "padlock and tag on the plug's seat",
    "time waited": value("12", "min"),
    "wait named by the maker": value("10", "min"),
    "voltage at the parts": value("0.3", "V"),
    "meter": "proved on the 12 V battery before and after",
    "gloves": "class 0, no holes when rolled up",
    "time since gloves were tested": value("40", "d"),
    "second person": "a second technician stands by",
}
LIFTED = {
    "vehicle mass": value("1900", "kg"),
    "lift rating": value("3500", "kg"),
    "locks or stands": "on its locks, shaken before going under",
    "lifting points": "the four points of the maker's drawing",
}


@pytest.mark.parametrize(
    ("name", "given", "lacks", "is_beyond"),
    [
        ("hot-exhaust", {"surface temperature": value("118.4", "degF")}, 0, []),
        (
            "hot-exhaust",
            {"surface temperature": value("118.5", "degF")},
            0,
            ["surface temperature"],
        ),
        ("hot-exhaust", {"surface temperature": value("-300", "degC")}, 1, []),
        ("hot-exhaust", {"surface temperature": value("0", "K")}, 1, []),
        ("hot-exhaust", {"surface temperature": value("34", "kPa")}, 1, []),
        (
            "hot-exhaust",
            {"surface temperature": {"above": "40", "unit": "degC"}},
            0,
            ["surface temperature"],
        ),
        (
            "hot-exhaust",
            {"surface temperature": {"below": "40", "unit": "degC"}},
            0,
            [],
        ),
        ("fuel-pressure", {"residual pressure": value("1.45", "psi")}, 0, []),
        (
            "fuel-pressure",
            {"residual pressure": value("1.46", "psi")},
            0,
            ["residual pressure"],
        ),
        ("fuel-pressure", {"residual pressure": value("101", "kPa (absolute)")}, 1, []),
        ("fuel-pressure", {"fuel circuit": "closed, a relay in the fuse box"}, 0, []),
        ("fuel-pressure", {"fuel circuit": "yes"}, 2, []),
        ("lifted", LIFTED, 0, []),
        ("lifted", {**LIFTED, "vehicle mass": value("0", "kg")}, 1, []),
        (
            "lifted",
            {**LIFTED, "vehicle mass": value("8000", "lb")},
            0,
            ["vehicle mass"],
        ),
        ("lifted", {"not lifted": "on its wheels, from the front"}, 0, []),
        ("high-voltage", HV, 0, []),
        ("high-voltage", {**HV, "time waited": value("9", "min")}, 0, ["time waited"]),
        ("high-voltage", {**HV, "time waited": value("1", "h")}, 0, []),
        (
            "high-voltage",
            {**HV, "voltage at the parts": value("0.061", "kV")},
            0,
            ["voltage at the parts"],
        ),
        (
            "high-voltage",
            {**HV, "time since gloves were tested": value("200", "d")},
            0,
            ["time since gloves were tested"],
        ),
        ("exhaust-gas", {"extraction": "hose on the tailpipe, fan on"}, 0, []),
        (
            "exhaust-gas",
            {
                "extraction": "hose on the tailpipe, fan on",
                "carbon monoxide": value("80", "ppm"),
            },
            0,
            ["carbon monoxide"],
        ),
        ("heavy-load", {"mass": value("24", "kg")}, 0, []),
        ("heavy-load", {"mass": value("140", "kg")}, 0, ["mass"]),
        (
            "heavy-load",
            {
                "mass": value("140", "kg"),
                "lifting device": "gearbox jack with straps",
                "device rating": value("100", "kg"),
            },
            0,
            ["mass"],
        ),
        (
            "hot-regeneration",
            {
                "ground": "gravel, nothing within three metres",
                "watch": "stays beside it, extinguisher there",
                "oil level": "at the middle of the dipstick",
                "soot load": value("38", "g"),
                "highest soot load": value("120", "%"),
            },
            1,
            [],
        ),
    ],
)
def test_values_are_converted_then_judged(name, given, lacks, is_beyond):
    found, over = judged(name, given)
    assert (len(found), over) == (lacks, is_beyond), found


def test_what_is_asked_of_some_systems_only():
    drive = {
        "who watches": "nobody, the tool records alone",
        "driver and vehicle": "licence and plates are in order",
        "brakes": "tried twice at walking pace",
    }
    assert judged("road", drive, work("egr")) == ([], [])
    assert judged("road", drive, work("egr", "brakes"))[0] == [
        "wheel bolts is not recorded"
    ]


def test_the_pressure_for_a_tank_is_not_that_for_a_cap_on_the_bench():
    given = {
        "supply limit": value("7.5", "kPa"),
        "relief": "opens at 8 kPa by its plate",
        "eye protection": "safety glasses are worn",
    }
    removed = work("evap", kind=StepKind.REMOVED)
    tank = work("evap", kind=StepKind.ENGINE_OFF)
    assert judged("pressurised-part", given, removed) == ([], [])
    assert judged("pressurised-part", given, tank) == ([], ["supply limit"])
    vacuum = {**given, "supply limit": value("18", "inHg (vacuum)")}
    assert judged("pressurised-part", vacuum, tank) == ([], [])
    lower = {**given, "supply limit": value("4.5", "kPa")}
    assert judged("pressurised-part", lower, tank) == ([], [])


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("the fan is unplugged", True),
        ("extraction on", True),
        ("换气扇正在运转", True),
        ("yes", False),
        ("all ok", False),
        ("acknowledged", False),
        ("- - - - - - - - -", False),
        ("1 2 3 4 5 6 7 8 9", False),
        ("好", False),
        ("", False),
        (None, False),
        ({"value": "1", "unit": "V"}, False),
    ],
)
def test_a_sentence_is_no_tick(text, says):
    assert is_sentence(text) is says
