"""Displays over range, open and short circuits, all lost, nothing lost, no flow.

All cases are invented; the distances (1.645 u) are worked out by hand beside each.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from bench_inputs import GAUGE, each, given, instrument, limit, q
from hypothesis import given as hypothesis_given
from hypothesis import strategies as st

from auditkit.bench import KINDS, Accuracy, BenchOutcome, KnownGood
from auditkit.bench.decision import decide
from auditkit.bench.one_sided import joint_side, side_of_result

OHMS = instrument(
    "ohm",
    "40000000",
    "1",
    "0",
    accuracy=Accuracy(percent_of_reading=Fraction(1), digits=Fraction(2)),
)
FINE = instrument("degC", "110", "0.001", "0.002")
TITLE = "resistance at reference temperature"


def winding(reading: str, low=None, high=None, unit="ohm", **more):
    """Return the result of a copper winding at 20 degC, held against limits."""
    inputs = given(
        {"resistance": reading, **more.pop("readings", {})},
        {"winding temperature": "20 degC", "conductor": "copper"},
        {"meter": more.pop("meter", OHMS), "thermometer": FINE},
        limit=limit(unit, low, high, TITLE),
        **more,
    )
    return KINDS["winding"].evaluate(inputs)


@pytest.mark.parametrize(
    ("reading", "limits", "outcome"),
    [
        # An open winding; u of 40 Mohm is 1 %/sqrt 3 = 0.23 Mohm, 1.645 u = 0.38 Mohm.
        ("above 40 Mohm", ("9", "15", "ohm"), BenchOutcome.FAULTY),
        ("above 40 Mohm", (None, "15", "ohm"), BenchOutcome.FAULTY),
        ("above 40 Mohm", (None, "39.6", "Mohm"), BenchOutcome.FAULTY),
        ("above 40 Mohm", (None, "39.7", "Mohm"), BenchOutcome.INCONCLUSIVE),
        ("above 40 Mohm", (None, "50", "Mohm"), BenchOutcome.INCONCLUSIVE),
        # Insulation: at least 1 Mohm is shown, at least 39.7 or 100 is not.
        ("above 40 Mohm", ("1", None, "Mohm"), BenchOutcome.GOOD),
        ("above 40 Mohm", ("39.6", None, "Mohm"), BenchOutcome.GOOD),
        ("above 40 Mohm", ("39.7", None, "Mohm"), BenchOutcome.INCONCLUSIVE),
        ("above 40 Mohm", ("100", None, "Mohm"), BenchOutcome.INCONCLUSIVE),
        # A short: u of 5 ohm is hypot(2.05/sqrt 3, 1/sqrt 12) = 1.22, 1.645 u = 2.0 ohm
        ("below 5 ohm", ("9", "15", "ohm"), BenchOutcome.FAULTY),
        ("below 5 ohm", ("6", None, "ohm"), BenchOutcome.INCONCLUSIVE),
        ("below 5 ohm", ("1", None, "ohm"), BenchOutcome.INCONCLUSIVE),
        ("below 5 ohm", (None, "8", "ohm"), BenchOutcome.GOOD),
        ("below 5 ohm", (None, "6", "ohm"), BenchOutcome.INCONCLUSIVE),
        ("below 5 ohm", (None, "2", "ohm"), BenchOutcome.INCONCLUSIVE),
    ],
)
def test_a_bound_decides_where_its_end_does(reading, limits, outcome):
    result = winding(reading, *limits)
    assert result.outcome is outcome
    assert result.result.value.bound == reading.split(" ")[0]
    assert f" {reading.split(' ')[0]} " in str(result.result)
    if outcome is BenchOutcome.INCONCLUSIVE:
        assert result.probability is None
        assert "read what was beyond its range on a range" in result.settles[0]
    else:
        sure = result.probability
        assert sure >= 0.95 if outcome is BenchOutcome.GOOD else sure <= 0.05


@hypothesis_given(
    st.floats(-100, 100), st.floats(1e-3, 50), st.floats(-100, 100), st.booleans()
)
def test_a_bound_is_mirrored_for_below(value, u, level, is_minimum):
    one = {"minimum": level} if is_minimum else {"maximum": level}
    two = {"maximum": -level} if is_minimum else {"minimum": -level}
    above = decide(value, u, known="above", **one)
    below = decide(-value, u, known="below", **two)
    assert (above.outcome, above.probability) == (below.outcome, below.probability)
    # and as much has to be shown as of a value
    plain = decide(value, u, **one).outcome
    wrong = BenchOutcome.FAULTY if is_minimum else BenchOutcome.GOOD
    assert above.outcome is (BenchOutcome.INCONCLUSIVE if plain is wrong else plain)


@hypothesis_given(st.floats(-100, 100), st.floats(1e-3, 50), st.floats(-100, 100))
def test_what_moves_both_ways_decides_nothing(value, u, level):
    for limits in ({"minimum": level}, {"maximum": level}):
        assert decide(value, u, known="neither", **limits).outcome is (
            BenchOutcome.INCONCLUSIVE
        )


def test_bounds_are_turned_and_joined():
    assert [side_of_result("above", s) for s in (2.0, -2.0, 0.0)] == [
        "above",
        "below",
        "",
    ]
    assert joint_side(["", "above", "above"]) == "above"
    assert joint_side(["above", "below"]) == "neither"
    assert joint_side([]) == ""


def test_lead_resistance_below_a_step_leaves_the_rest_above():
    # 12 ohm less something below 1 ohm: above 11 ohm, u = hypot(1.23, 1.20) = 1.7 ohm.
    result = winding("12 ohm", None, "5", readings={"lead resistance": "below 1 ohm"})
    assert str(result.result).startswith(f"{TITLE} above 11.0")
    assert result.outcome is BenchOutcome.FAULTY


def test_a_short_reads_no_more_than_its_leads():
    # 0.2 less 0.2 ohm is none: against at least 9 ohm a fault.
    meter = instrument("ohm", "400", "0.1", "0.2")
    lead = {"lead resistance": "0.2 ohm", "supply voltage": "13.5 V"}
    inputs = given(
        {"resistance": "0.2 ohm", **lead},
        {"winding temperature": "20 degC", "conductor": "copper"},
        {"meter": meter, "thermometer": FINE, "v": instrument("V", "20", "0.1", "0.1")},
        limit=limit("ohm", "9", "15"),
    )
    result = KINDS["winding"].evaluate(inputs)
    assert result.outcome is BenchOutcome.FAULTY
    assert any("no expected current" in note for note in result.notes)


def test_repeats_over_range_are_one_bound_and_mixed_ones_are_none():
    bounds = [q("above 40 Mohm"), q("above 4 Mohm")]
    inputs = given(
        {"resistance": bounds},
        {"winding temperature": "20 degC", "conductor": "copper"},
        {"meter": OHMS, "thermometer": FINE},
        limit=limit("ohm", "9", "15"),
    )
    result = KINDS["winding"].evaluate(inputs)
    assert float(result.result.value.text) == pytest.approx(4e6, rel=0.01)
    assert result.outcome is BenchOutcome.FAULTY
    mixed = replace(inputs, readings={"resistance": [bounds[0], q("12 ohm")]})
    result = KINDS["winding"].evaluate(mixed)
    assert result.outcome is BenchOutcome.NOT_VALID
    assert "some readings lie beyond the range" in result.reasons[0]


def test_a_stated_condition_is_a_value():
    inputs = given(
        {"voltage drop": "0.2 V", "load current": "10 A"},
        {"rated current": "above 10 A"},
        {"v": instrument("V", "20", "0.01", "0.01"), "a": CLAMP},
        limit=limit("V", high="0.5"),
    )
    result = KINDS["voltage-drop"].evaluate(inputs)
    assert result.outcome is BenchOutcome.NOT_VALID
    assert "above 10 A is no value" in result.reasons[0]


CLAMP = instrument("A", "100", "0.1", "0.5")


@pytest.mark.parametrize(
    ("volts", "amps", "outcome"),
    [
        ("above 2 V", "10 A", BenchOutcome.FAULTY),
        ("below 0.1 V", "10 A", BenchOutcome.GOOD),
        ("0.2 V", "above 10 A", BenchOutcome.GOOD),
        ("1.5 V", "above 10 A", BenchOutcome.INCONCLUSIVE),
        ("0.2 V", "below 10 A", BenchOutcome.NOT_VALID),
        ("above 2 V", "above 10 A", BenchOutcome.INCONCLUSIVE),
    ],
)
def test_a_drop_and_its_load(volts, amps, outcome):
    inputs = given(
        {"voltage drop": volts, "load current": amps},
        {"rated current": "10 A"},
        {"v": instrument("V", "20", "0.01", "0.01"), "a": CLAMP},
        limit=limit("V", high="0.5"),
    )
    result = KINDS["voltage-drop"].evaluate(inputs)
    assert result.outcome is outcome
    if volts.startswith("above") and amps.startswith("above"):
        assert str(result.result).endswith("a reading beyond its range moves it")


def members(numbers: list[str], of="lowest to highest", limits=("75", None)):
    """Return the result of a compression test of a set."""
    inputs = given(
        {"reading of each member": [q(f"{n} psi") for n in numbers]},
        {"pressure reference": "gauge"},
        {"gauge": instrument("psi (gauge)", "300", "1", "3")},
        limit=limit("%", *limits, of),
    )
    return KINDS["balance"].evaluate(inputs)


@pytest.mark.parametrize(
    ("numbers", "bound", "outcome"),
    [
        (["170", "168", "below 20", "171"], "below", BenchOutcome.FAULTY),
        (["170", "168", "169", "above 300"], "below", BenchOutcome.FAULTY),
        (["170", "168", "below 169", "171"], "below", BenchOutcome.INCONCLUSIVE),
        # the highest of them falls, or the lowest rises: to where is not known
        (["120", "121", "below 169", "122"], "", BenchOutcome.INCONCLUSIVE),
        (["170", "168", "above 150", "171"], "", BenchOutcome.INCONCLUSIVE),
    ],
)
def test_one_bounded_member_of_a_set(numbers, bound, outcome):
    result = members(numbers)
    assert result.outcome is outcome
    assert result.result.value.bound == bound


@hypothesis_given(
    st.lists(st.integers(50, 250), min_size=3, max_size=6),
    st.data(),
    st.sampled_from(["above", "below"]),
    st.fractions(0, 3),
)
def test_bounds_of_a_set_hold_for_every_value_beyond_them(numbers, data, side, far):
    # Whatever the member really reads beyond its bound, ratio and deviations of the
    # exact set lie on the side that was said.
    place = data.draw(st.integers(0, len(numbers) - 1))
    texts = [str(n) for n in numbers]
    shown = [*texts[:place], f"{side} {texts[place]}", *texts[place + 1 :]]
    real = [float(n) for n in numbers]
    real[place] *= float(1 + far) if side == "above" else 1 / float(1 + far)
    ordered = sorted(real)
    middle = (ordered[(len(real) - 1) // 2] + ordered[len(real) // 2]) / 2
    exact = {
        "lowest to highest": [100 * ordered[0] / ordered[-1]],
        "deviation from the median": [100 * (m / middle - 1) for m in real],
    }
    for of, values in exact.items():
        result = members(shown, of, ("-90", "900"))
        found = [s for s in (result.result, *result.others) if s.name.startswith(of)]
        by_name = {s.name: s for s in found}
        for number, value in enumerate(values, 1):
            name = f"{of}, member {number}" if len(values) > 1 else of
            if name not in by_name:
                continue
            said = by_name[name]
            end, step = float(said.value.text), float(said.expanded_uncertainty.text)
            if said.is_open:
                continue
            if said.value.bound == "above":
                assert value >= end - step / 10
            elif said.value.bound == "below":
                assert value <= end + step / 10
            else:
                assert value == pytest.approx(end, abs=step / 10)


def sensor(ohms: str, curve: dict[str, str], limits=("-2", "2")):
    """Return the result of a sensor whose first reading is as given, at 20 degC."""
    second = {"beta": "3588 ohm", "IEC 60751": "119.40 ohm"}[curve["curve"]]
    inputs = given(
        {
            "sensor resistance": [q(ohms), q(second)],
            "bath temperature": each("20.0 50.0 degC"),
        },
        curve,
        {
            "meter": instrument("ohm", "40000000", "0.01", "0.05"),
            "thermometer": instrument("degC", "110", "0.1", "0.2"),
        },
        limit=limit("K", *limits),
    )
    return KINDS["temperature-sensor"].evaluate(inputs)


BETA = {"curve": "beta", "resistance at 25 celsius": "10 kohm", "beta": "3950 K"}
PLATINUM = {"curve": "IEC 60751", "resistance at 0 celsius": "100 ohm"}


@pytest.mark.parametrize(
    ("ohms", "curve", "bound"),
    [
        ("above 40 Mohm", BETA, "below"),  # falls with temperature: an open one is cold
        ("below 0.1 ohm", BETA, "above"),
        ("above 40 Mohm", PLATINUM, "above"),
        ("below 0.1 ohm", PLATINUM, "below"),
        ("5000 ohm", PLATINUM, "above"),  # beyond the table, read as a value
    ],
)
def test_an_open_or_shorted_sensor_is_faulty(ohms, curve, bound):
    result = sensor(ohms, curve)
    assert result.outcome is BenchOutcome.FAULTY
    assert result.result.value.bound == bound
    zero = sensor("0.0 ohm", curve)
    assert zero.outcome is BenchOutcome.NOT_VALID
    assert "write a short as below" in zero.reasons[0]


def hold(start: str, end: str, limits):
    """Return the result of a hold of 120 s in 40 L, +/- 0.3 inH2O, 20 degC."""
    inputs = given(
        {
            "start pressure": f"{start} inH2O",
            "end pressure": f"{end} inH2O",
            "hold time": "120 s",
        },
        {
            "pressure reference": "gauge",
            "start temperature": "20 degC",
            "end temperature": "20 degC",
            "barometer": "1013.25 hPa",
            "vapour volume": "40 L",
            "uncertainty of vapour volume": "0.2 L",
        },
        {"gauge": GAUGE, "thermometer": FINE},
        limit=limits,
    )
    return KINDS["seal-hold"].evaluate(inputs)


MOST_MM = limit("mm", high="0.5", of="equivalent diameter")


def test_all_lost_is_at_least_the_hole_that_loses_all():
    # 14 inH2O are lost through 0.04 in, coefficient 0.6, in 74.4 s; in 120 s through
    # 0.0315 in; at 0.7 through 0.0292 in or 0.74 mm (computed with scipy's quad).
    result = hold("14.0", "0.0", MOST_MM)
    assert result.outcome is BenchOutcome.FAULTY
    assert result.result.value.bound == "above"
    assert float(result.result.value.text) == pytest.approx(0.74, rel=0.12)
    assert any("everything was lost" in note for note in result.notes)
    larger = hold("14.0", "0.0", limit("mm", high="2", of="equivalent diameter"))
    assert larger.outcome is BenchOutcome.INCONCLUSIVE
    leak = hold("14.0", "0.0", limit("Pa m3/s", high="5"))
    assert leak.outcome is BenchOutcome.INCONCLUSIVE
    leak = hold("14.0", "0.0", limit("Pa m3/s", high="0.5"))
    assert leak.outcome is BenchOutcome.FAULTY
    assert leak.result.value.bound == "above"


def test_nothing_lost_is_at_most_the_hole_that_could_hide(end="14.0"):
    result = hold("14.0", end, MOST_MM)
    assert result.outcome is BenchOutcome.GOOD
    assert result.result.value.bound == "below"
    tiny = hold("14.0", end, limit("mm", high="0.01", of="equivalent diameter"))
    assert tiny.outcome is BenchOutcome.INCONCLUSIVE
    assert hold("14.0", end, limit("Pa m3/s", high="0.5")).outcome is BenchOutcome.GOOD


def test_too_little_pressure_tells_neither():
    result = hold("0.2", "0.1", MOST_MM)
    assert result.outcome is BenchOutcome.NOT_VALID
    assert "too little pressure" in result.reasons[0]


def test_an_end_pressure_below_the_first_mark():
    result = hold("14.0", "below 0.5", limit("inH2O", "8", of="end pressure"))
    assert result.outcome is BenchOutcome.FAULTY
    assert result.result.value.bound == "below"
    loss = hold("14.0", "below 0.5", limit("inH2O", high="6", of="pressure loss"))
    assert (loss.outcome, loss.result.value.bound) == (BenchOutcome.FAULTY, "above")


def flow(litres: str, blank: str, limits):
    """Return the result of nitrogen at 3.5 kPa, +/- 0.01 L/min."""
    inputs = given(
        {
            "flow": f"{litres} L/min",
            "blank flow": f"{blank} L/min",
            "inlet pressure": "3.5 kPa (gauge)",
        },
        {
            "gas temperature": "20 degC",
            "barometer": "101.325 kPa",
            "gas": "nitrogen",
            "standard temperature": "20 degC",
        },
        {
            "meter": instrument("L/min", "2", "0.01", "0.01"),
            "gauge": instrument("kPa (gauge)", "10", "0.01", "0.03"),
            "thermometer": FINE,
        },
        limit=limits,
    )
    return KINDS["flow-at-pressure"].evaluate(inputs)


@pytest.mark.parametrize(
    ("litres", "blank", "bound", "outcome"),
    [
        ("0.20", "0.20", "below", BenchOutcome.GOOD),
        ("0.19", "0.20", "below", BenchOutcome.GOOD),
        ("below 0.05", "0.00", "below", BenchOutcome.GOOD),
        ("above 2.00", "0.20", "above", BenchOutcome.FAULTY),
        ("above 0.30", "0.20", "above", BenchOutcome.INCONCLUSIVE),
        ("0.10", "below 0.05", "above", BenchOutcome.INCONCLUSIVE),
    ],
)
def test_a_flow_of_which_one_side_is_known(litres, blank, bound, outcome):
    # 0.7107 L/min belong to 0.020 in.
    most = limit("in", high="0.020", of="effective leak diameter")
    result = flow(litres, blank, most)
    assert result.outcome is outcome
    assert result.result.value.bound == bound


def test_a_known_good_part_that_reads_a_value_differs_from_an_open_one():
    good = KnownGood("the coil of a sister vehicle", {"resistance": q("12 ohm")})
    result = winding("above 40 Mohm", None, "15", known_good=good)
    assert result.comparison.differs
    assert "above" in str(result.comparison.difference)
    other = KnownGood("spare", {"resistance": q("above 40 Mohm")})
    result = winding("12 ohm", None, "15", known_good=other)
    assert result.comparison.difference.value.bound == "below"
    assert result.comparison.differs
    both = winding("above 40 Mohm", None, "15", known_good=other)
    assert both.comparison is None
    assert any("leaves the difference open" in note for note in both.notes)
