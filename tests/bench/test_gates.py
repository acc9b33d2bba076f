"""What makes a bench test not valid, and how a known-good part is compared.

All cases are invented.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest
from bench_inputs import DAY, each, given, instrument, limit
from hypothesis import given as hypothesis_given
from hypothesis import strategies as st

from auditkit.bench import (
    KINDS,
    Accuracy,
    BenchInput,
    BenchOutcome,
    KnownGood,
    Limit,
)
from auditkit.bench.result import stated
from auditkit.bench.uncertainty import Origin
from auditkit.bench.unchecked import BY_VALUE
from auditkit.order.events import Event
from auditkit.order.typed_test import typed_outcome
from auditkit.text.values import Quantity

METER = instrument("V", "2", "0.001", "0.005")
CLAMP = instrument("A", "200", "0.1", "0.5")
MOST = limit("V", high="0.5")


def drop(volts="0.20 V", meter=METER, **more) -> BenchInput:
    return given(
        {"voltage drop": volts, "load current": "100 A"},
        {"rated current": "100 A"},
        more.pop("instruments", {"meter": meter, "clamp": CLAMP}),
        **{"limit": MOST, **more},
    )


def evaluate(inputs: BenchInput):
    return KINDS["voltage-drop"].evaluate(inputs)


def test_the_same_test_is_good_when_nothing_is_wrong():
    assert evaluate(drop()).outcome is BenchOutcome.GOOD


@pytest.mark.parametrize(
    ("inputs", "said"),
    [
        (
            drop(measured_with={"voltage drop": "scope"}),
            "there is no instrument 'scope'",
        ),
        (
            drop(instruments={"one": METER, "two": METER, "clamp": CLAMP}),
            "not said which instrument",
        ),
        (drop("2.5 V"), "outside the range of meter"),
        (drop("0.2 kPa"), "'kPa' is not a unit of voltage"),
        (drop("0,2 V"), "'0,2' is not a number"),
        (drop("1e99999999 V"), "not a number that can be used"),
        (drop(limit=None), "a value alone is no verdict"),
        (drop(limit=Limit("V", " ", maximum="0.5")), "where it comes from"),
        (drop(limit=Limit("V", "page 1")), "neither a minimum nor a maximum"),
        (drop(limit=limit("V", "0.5", "0.1")), "lies above the maximum"),
        (drop(limit=limit("kPa", high="1")), "judges no quantity in 'kPa'"),
        (drop(limit=limit("V", high="1", of="noise")), "judges no noise"),
        (drop(limit=limit("V", high="low")), "'low' is not a number"),
        (drop(alpha=0.7), "alpha 0.7 is not between"),
    ],
)
def test_not_valid(inputs, said):
    result = evaluate(inputs)
    assert result.outcome is BenchOutcome.NOT_VALID
    assert said in "; ".join(result.reasons)
    assert result.probability is None


STATES_NOTHING = replace(METER, accuracy=Accuracy(), resolution=Fraction(0))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"instruments": {"clamp": CLAMP}}, "no instrument is named that measures"),
        (
            {
                "instruments": {"clamp": CLAMP},
                "measured_with": {"voltage drop": "meter"},
                "unstated": frozenset({"meter"}),
            },
            "meter has no specification",
        ),
        (  # of which nobody knows what it measures
            {"instruments": {"clamp": CLAMP}, "unstated": frozenset({"dial"})},
            "no instrument is named that measures voltage; dial has no specification",
        ),
        ({"meter": replace(METER, due=date(2026, 3, 1))}, "out of calibration"),
        (
            {"meter": replace(METER, calibrated_on=date(2026, 3, 3))},
            "calibrated on 2026-03-03, after the test",
        ),
        (
            {"meter": replace(METER, due=None, calibrated_on=None)},
            "no date of calibration",
        ),
        ({"meter": replace(METER, due=None)}, "only one of its two dates"),
        ({"meter": STATES_NOTHING}, "neither an accuracy nor a resolution"),
    ],
)
@pytest.mark.parametrize(
    ("volts", "outcome"), [("0.20 V", "good"), ("0.60 V", "faulty")]
)
def test_an_instrument_not_in_check_leaves_the_outcome_and_claims_no_uncertainty(
    change, said, volts, outcome
):
    result = evaluate(drop(volts, **change))
    assert result.outcome.value == outcome
    (why,) = result.unchecked
    assert said in why
    assert result.settles
    assert (result.probability, result.components, result.comparison) == (
        None,
        (),
        None,
    )
    assert "no uncertainty claimed" in str(result.result)
    assert "+/-" not in str(result.result)
    assert evaluate(drop(volts)).unchecked == ()


@pytest.mark.parametrize(
    "change",
    [
        {"instruments": {"clamp": CLAMP}},
        {"meter": replace(METER, due=date(2026, 3, 1))},
        {"meter": STATES_NOTHING},
    ],
)
def test_a_value_by_an_instrument_not_in_check_is_held_against_its_limit_as_it_stands(
    change,
):
    """At most 0.5 V, ends included; in check, the meter leaves 0.50 and 0.501 open.

    A value typed without a method is decided so: whoever also tells the method, and
    what the data sheet of a lapsed meter says, must not end below that.
    """
    values = ("0.499", "0.50", "0.5", "0.501", "0.51", "0.6")
    found = {v: evaluate(drop(f"{v} V", **change)) for v in values}
    typed = {
        v: typed_outcome(
            Event(
                0,
                {
                    "result": {"value": v, "unit": "V"},
                    "instruments": [{"id": "meter"}],
                    "limit": {"maximum": "0.5", "unit": "V", "source": "invented"},
                },
            )
        )
        for v in values
    }
    assert {v: one.outcome.value for v, one in found.items()} == typed
    assert set(typed.values()) == {"good", "faulty"}
    assert {one.decision_rule for one in found.values()} == {BY_VALUE}
    in_check = {v: evaluate(drop(f"{v} V")).outcome.value for v in values}
    assert in_check["0.50"] == in_check["0.501"] == "inconclusive"


def test_what_makes_a_result_meaningless_is_told_beside_what_was_not_in_check():
    late = replace(METER, due=date(2026, 3, 1))
    result = evaluate(drop("2.5 V", meter=late))
    assert result.outcome is BenchOutcome.NOT_VALID
    assert "outside the range of meter" in result.reasons[0]
    assert "out of calibration" in result.unchecked[0]


def test_all_that_is_missing_is_said_at_once():
    result = evaluate(given({}, {}, {}, limit=MOST))
    assert result.reasons == (
        "voltage drop is missing",
        "load current is missing",
        "rated current is missing",
    )


def test_calibration_counts_on_its_first_and_last_day():
    today = replace(METER, calibrated_on=DAY, due=DAY)
    assert evaluate(drop(meter=today)).outcome is BenchOutcome.GOOD


def test_words_are_chosen_from_a_list():
    inputs = given(
        {"resistance": "6.0 ohm"},
        {"winding temperature": "20 degC", "conductor": "gold"},
        {},
    )
    reasons = KINDS["winding"].evaluate(inputs).reasons
    assert "conductor: 'gold' is not copper or other" in reasons
    text = replace(inputs, conditions={"winding temperature": "warm"})
    reasons = KINDS["winding"].evaluate(text).reasons
    assert "winding temperature: 'warm' is no value with a unit" in reasons
    assert "conductor is missing; write copper or other" in reasons


@pytest.mark.parametrize(
    ("volts", "outcome"),
    [
        ("5 V", BenchOutcome.FAULTY),
        ("2 V", BenchOutcome.FAULTY),
        ("1 V", BenchOutcome.INCONCLUSIVE),
        ("0 V", BenchOutcome.INCONCLUSIVE),
    ],
)
def test_a_coarse_meter_decides_what_is_clear(volts, outcome):
    # +/- 1 V, a step of 1 V, at most 0.5 V: u = hypot(1/sqrt 3, 1/sqrt 12) = 0.645 V,
    # so that 1.645 u is 1.06 V; by hand. JCGM 106:2012 asks no more.
    coarse = instrument("V", "20", "1", "1")
    assert evaluate(drop(volts, meter=coarse)).outcome is outcome


def test_a_reading_far_beyond_is_faulty_however_wide_its_uncertainty():
    # 5000 ohm against 9 to 11: +/- 1 % of 5000 is wider than the band, and no matter.
    meter = instrument(
        "ohm", "10000", "1", "0", accuracy=Accuracy(percent_of_reading=Fraction(1))
    )
    inputs = given(
        {"resistance": "5000 ohm"},
        {"winding temperature": "20 degC", "conductor": "copper"},
        {"meter": meter, "thermometer": instrument("degC", "50", "0.1", "1")},
        limit=limit("ohm", "9", "11"),
    )
    assert KINDS["winding"].evaluate(inputs).outcome is BenchOutcome.FAULTY


def test_repeats_are_averaged_and_their_scatter_counted():
    # Mean by hand; the scatter stands among the components, with 3 degrees of freedom.
    inputs = drop()
    repeats = {**inputs.readings, "voltage drop": each("0.20 0.22 0.21 0.21 V")}
    result = evaluate(replace(inputs, readings=repeats))
    assert float(result.result.value.text) == pytest.approx(0.21, abs=1e-4)
    scatter = [c for c in result.components if c.origin is Origin.REPEAT]
    assert [c.dof for c in scatter] == [3]
    assert result.effective_dof > 3


@pytest.mark.parametrize("volts", ["0.10 0.30 V", "0.30 0.10 V", "0.20 0.20 V"])
def test_an_instruments_error_is_taken_at_the_mean_of_repeats(volts):
    # +/- 10 % of 0.20 V, and a step of 1 mV: hypot(0.02/sqrt 3, 0.001/sqrt 12) V.
    tenth = Accuracy(percent_of_reading=Fraction(10))
    inputs = drop(meter=replace(METER, accuracy=tenth))
    repeats = {**inputs.readings, "voltage drop": each(volts)}
    result = evaluate(replace(inputs, readings=repeats))
    assert float(result.result.value.text) == pytest.approx(0.2, abs=1e-3)
    found = {c.name: c.standard_uncertainty for c in result.components}
    assert found["specification of meter"] == pytest.approx(0.02 / 3**0.5, rel=1e-9)
    assert found["voltage drop by meter"] == pytest.approx(0.001 / 12**0.5, rel=1e-9)


def good(volts: str, part="the same relay of a sister vehicle") -> KnownGood:
    readings = {"voltage drop": each(volts)[0], "load current": each("100 A")[0]}
    return KnownGood(part, readings)


def test_a_known_good_part_shows_a_difference_and_no_limit():
    result = evaluate(drop("0.60 V", limit=None, known_good=good("0.20 V")))
    assert result.outcome is BenchOutcome.INCONCLUSIVE
    assert "there is no limit" in result.reasons[0]
    assert "limit with its source" in result.settles[0]
    compared = result.comparison
    assert compared.differs
    assert compared.text.startswith("differs from the known-good part (the same relay")
    assert "out of specification" not in compared.text
    assert float(compared.difference.value.text) == pytest.approx(0.4, abs=1e-3)
    # The 5 mV of the one meter cancel; a step of 1 mV each, of 0.1 A of 100 A on each
    # drop, and the 0.5 A of the one clamp on their difference; by hand.
    step, amps, clamp = 0.001 / 12**0.5, 0.1 / 12**0.5 / 100, 0.5 / 3**0.5 / 100
    parts = [step, step, 0.6 * amps, 0.2 * amps, 0.4 * clamp]
    wanted = 0.4 / (2 * sum(p**2 for p in parts) ** 0.5)
    assert compared.normalised_error == pytest.approx(wanted, rel=0.01)


def test_two_parts_that_agree():
    result = evaluate(drop("0.2005 V", known_good=good("0.20 V")))
    assert not result.comparison.differs
    assert "does not differ measurably" in result.comparison.text
    assert result.outcome is BenchOutcome.GOOD


def test_a_known_good_part_measured_otherwise_is_not_compared():
    result = evaluate(drop(known_good=good("0.20 kPa")))
    assert result.outcome is BenchOutcome.GOOD
    assert result.comparison is None
    assert any("no comparison" in note and "kPa" in note for note in result.notes)
    unloaded = KnownGood("spare", {**good("0.2 V").readings, "load current": ()})
    assert evaluate(drop(known_good=unloaded)).comparison is None


def test_a_known_good_part_whose_test_fails_is_not_compared():
    dead = KnownGood("spare", {**good("0.2 V").readings, "load current": each("0 A")})
    result = evaluate(drop(known_good=dead))
    assert result.comparison is None
    assert any("no load current" in note for note in result.notes)


def test_a_set_is_not_compared_point_by_point():
    members = {"reading of each member": each("5 6 7 ohm")}
    meter = instrument("ohm", "20", "0.001", "0.001")
    most = limit("%", "-90", "90", "deviation from the median")
    inputs = given(members, {}, {"meter": meter}, limit=most)
    inputs = replace(inputs, readings=members, known_good=KnownGood("x", members))
    result = KINDS["balance"].evaluate(inputs)
    assert result.comparison is None
    assert any("one uncertain value of each" in note for note in result.notes)


def test_an_instrument_of_another_reference_is_refused():
    gauge = instrument("psi (gauge)", "300", "0.1", "0.5")
    members = {"reading of each member": each("50 51 52 psi (absolute)")}
    inputs = given({}, {}, {"gauge": gauge}, limit=limit("%", low="75"))
    named = {"reading of each member": "gauge"}
    inputs = replace(inputs, readings=members, measured_with=named)
    result = KINDS["balance"].evaluate(inputs)
    assert "the instrument shows psi (gauge)" in result.reasons[0]


@pytest.mark.parametrize(
    ("value", "u", "texts"),
    [
        (11.896163, 0.0671622, ("11.896", "0.067", "0.134")),
        (-0.0004, 0.03, ("0.000", "0.030", "0.060")),
        (123456.0, 420.0, ("123460", "420", "840")),
        (2.5, 0.0, ("2.5", "0.0", "0.0")),
    ],
)
def test_digits_follow_the_uncertainty(value, u, texts):
    # GUM 7.2.6: two digits of the uncertainty, and the value to the same place.
    said = stated("r", value, u, "ohm")
    got = (said.value, said.standard_uncertainty, said.expanded_uncertainty)
    assert tuple(q.text for q in got) == texts


JUNK = st.builds(
    Quantity,
    st.sampled_from(["0", "-1", "1e30", "1e99", "nan", "", "x", "12.5"]),
    st.sampled_from(["V", "kPa", "psig", "degF", "L", "sccm", "x", ""]),
)
FAIR = st.decimals("0.01", 200, places=2).map(str)
EXTREME = st.sampled_from(["0", "-0.01", "-300", "1e30", "-1e30", "1e-30", "273.15"])
SYMBOLS = {
    "pressure": "kPa",
    "temperature": "degC",
    "temperature difference": "K",
    "time": "s",
    "volume": "L",
    "volume flow": "L/min",
    "ratio": "1",
    "resistance": "ohm",
    "voltage": "V",
    "current": "A",
    "length": "mm",
    "torque": "N m",
    "frequency": "Hz",
    "mass flow": "g/s",
    "mass": "g",
    "angle": "deg",
    "rotational speed": "rpm",
    "speed": "km/h",
}


def values(need, numbers):
    """Draw a value, a word or a series that a need asks for."""
    if need.words:
        return st.sampled_from(need.words)
    value = st.builds(Quantity, numbers, st.just(SYMBOLS[need.kinds[0]]))
    fewest = need.at_least
    return st.lists(value, min_size=fewest, max_size=fewest) if fewest > 1 else value


def drawn(data, kind, numbers, keep) -> BenchInput:
    """Draw inputs of one kind: of its kinds of quantity, each with an instrument."""
    found = {
        need.name: data.draw(values(need, numbers))
        for need in kind.needs
        if need.required or need.name == "pressure reference" or keep(need)
    }
    found |= {f"uncertainty of {n}": Quantity("0.5", "L") for n in found if "vol" in n}
    reads = {n.name for n in kind.readings}
    wide = {"low": -Fraction("1e40"), "accuracy": Accuracy(absolute=Fraction("0.01"))}
    judged = data.draw(st.sampled_from(kind.judges))
    unit = judged.unit.partition(" (")[0] + " (differential)" * ("(" in judged.unit)
    return BenchInput(
        {name: v for name, v in found.items() if name in reads},
        {name: v for name, v in found.items() if name not in reads},
        {
            u: instrument(u, "1e40", "0.01", "0", **wide)
            for u in SYMBOLS.values()
            if u != "K"
        },
        DAY,
        Limit(unit, "invented", data.draw(numbers), None, judged.name),
    )


def check(result) -> None:
    assert result.outcome in BenchOutcome
    if result.outcome is BenchOutcome.NOT_VALID:
        assert result.reasons
    else:
        assert result.result is not None
        if result.unchecked:
            assert result.probability is None
            assert not result.components
        elif result.probability is None:  # only a bound is known, or too few tries
            assert result.outcome is BenchOutcome.INCONCLUSIVE
            is_bound = result.result.value.bound or result.result.is_open
            assert is_bound or result.reasons
        else:
            assert 0 <= result.probability <= 1
        assert result.decision_rule


@hypothesis_given(st.sampled_from(sorted(KINDS)), st.data())
def test_fair_numbers_never_raise(name, data):
    kind = KINDS[name]
    check(kind.evaluate(drawn(data, kind, FAIR, lambda _: data.draw(st.booleans()))))


@hypothesis_given(st.sampled_from(sorted(KINDS)), st.data())
def test_extreme_numbers_never_raise(name, data):
    kind, numbers = KINDS[name], FAIR | EXTREME
    check(kind.evaluate(drawn(data, kind, numbers, lambda _: data.draw(st.booleans()))))


@hypothesis_given(st.sampled_from(sorted(KINDS)), st.data())
def test_junk_never_raises(name, data):
    kind = KINDS[name]
    inputs = drawn(data, kind, FAIR, lambda _: True)
    place = data.draw(st.sampled_from([n.name for n in kind.needs]))
    if place in inputs.readings:
        readings = {**inputs.readings, place: data.draw(JUNK)}
        check(kind.evaluate(replace(inputs, readings=readings)))
    else:
        junk = data.draw(JUNK | st.text(max_size=3))
        conditions = {**inputs.conditions, place: junk}
        check(kind.evaluate(replace(inputs, conditions=conditions)))


@pytest.mark.parametrize(
    ("changed", "hint"),
    [
        ({"instruments": {"clamp": CLAMP}}, "name the instrument that read voltage"),
        ({"volts": "25 V"}, "'above 2 V'"),
    ],
)
def test_what_to_do_fits_its_cause(changed, hint):
    found = KINDS["voltage-drop"].evaluate(
        drop(**changed, limit=limit("V", high="0.5"))
    )
    is_read = "instruments" in changed
    assert (found.outcome is BenchOutcome.NOT_VALID) is not is_read
    assert hint in found.settles[0]


def test_what_is_missing_or_misspelt_is_asked_for():
    found = KINDS["winding"].evaluate(given({}, {"conductor": "Coper"}, {}))
    assert "give resistance, a resistance" in found.settles
    assert "write 'copper'" in found.settles
    assert found.settles[-1] == "write 'copper'"
    old = replace(instrument("ohm", "40", "0.1", "0.2"), due=date(2026, 1, 1))
    late = given({"resistance": "3 ohm"}, {}, {"meter": old}, limit=limit("ohm", "1"))
    result = KINDS["direct-reading"].evaluate(late)
    assert "test again with an instrument that is in calibration" in result.settles
