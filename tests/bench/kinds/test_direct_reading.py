"""Direct readings against a limit. All cases invented but where a source is named."""

import math

import numpy as np
import pytest
from bench_inputs import each, given, instrument, limit
from bench_kinds import evaluate
from scipy import stats

from auditkit.bench import KINDS, BenchOutcome, KnownGood
from auditkit.bench.kinds.quantities import QUANTITIES
from auditkit.bench.units import UNITS

OHMS = instrument("ohm", "40000000", "0.1", "0.2")
COLD = {"least part temperature": "15 degC", "greatest part temperature": "25 degC"}


def read(readings, conditions=None, meter=OHMS, **more):
    return evaluate(
        "direct-reading",
        given(readings, conditions or {}, {"meter": meter}, **more),
    )


@pytest.mark.parametrize("name", QUANTITIES)
def test_every_quantity_is_read_and_judged_in_every_unit(name):
    kind = QUANTITIES[name].kind
    for unit in (u for u in UNITS.values() if u.kind is kind):
        symbol = f"{unit.symbol} (gauge)" if name == "pressure" else unit.symbol
        meter = instrument(symbol, "100", "0.1", "0.2")
        for number, outcome in (
            ("10.0", BenchOutcome.FAULTY),
            ("30.0", BenchOutcome.GOOD),
            ("20.1", BenchOutcome.INCONCLUSIVE),
        ):
            result = read(
                {name: f"{number} {symbol}"},
                meter=meter,
                limit=limit(symbol, low="20"),
            )
            assert result.outcome is outcome, (name, symbol)
            assert result.result is not None
            assert result.result.value.unit == symbol


def test_a_reading_near_its_limit_by_jcgm_106():
    # JCGM 106:2012, a voltage regulator of -5.47 V, u 0.05 V, at most -5.40 V: 0.92
    # (inputs and printed value from memory; the digits by scipy).
    half = 0.05 * math.sqrt(3)
    meter = instrument("V", "10", "0", f"{half:.18f}", low=-10)
    result = read({"voltage": "-5.47 V"}, meter=meter, limit=limit("V", high="-5.40"))
    assert result.probability == pytest.approx(stats.norm.cdf(1.4), abs=1e-9)
    assert result.probability == pytest.approx(0.92, abs=0.005)
    assert result.outcome is BenchOutcome.INCONCLUSIVE


@pytest.mark.parametrize(
    ("shown", "bounds", "outcome"),
    [
        ("above 40 Mohm", {"high": "20"}, BenchOutcome.FAULTY),  # an open winding
        ("above 40 Mohm", {"low": "1000000"}, BenchOutcome.GOOD),  # insulation
        ("above 40 Mohm", {"low": "50000000"}, BenchOutcome.INCONCLUSIVE),
        ("below 0.5 ohm", {"low": "11"}, BenchOutcome.FAULTY),  # a short
        ("below 0.5 ohm", {"high": "2"}, BenchOutcome.GOOD),
        ("below 0.5 ohm", {"high": "0.4"}, BenchOutcome.INCONCLUSIVE),
    ],
)
def test_beyond_the_range_of_the_meter(shown, bounds, outcome):
    result = read({"resistance": shown}, limit=limit("ohm", **bounds))
    assert result.outcome is outcome


def test_an_open_part_asks_for_the_leads():
    result = read({"resistance": "above 40 Mohm"}, limit=limit("ohm", high="20"))
    assert any("leads were not shorted" in note for note in result.notes)
    both = {"resistance": "above 40 Mohm", "lead resistance": "0.2 ohm"}
    result = read(both, limit=limit("ohm", high="20"))
    assert result.outcome is BenchOutcome.FAULTY
    assert not any("shorted" in note for note in result.notes)


def test_leads_are_taken_off_with_the_error_that_both_share():
    both = {"resistance": "14.3 ohm", "lead resistance": "0.3 ohm"}
    result = read(both, limit=limit("ohm", "11", "15"))
    assert result.result.value.text == "14.000"
    # GUM 5.2.2: the limits of error cancel, each rounding stays.
    u = float(result.result.standard_uncertainty.text)
    assert u == pytest.approx(0.1 / math.sqrt(6), abs=0.001)
    wrong = read(
        {"voltage": "5 V", "lead resistance": "0.3 ohm"},
        meter=instrument("V", "20", "0.1", "0.2"),
        limit=limit("V", high="6"),
    )
    assert wrong.outcome is BenchOutcome.NOT_VALID


@pytest.mark.parametrize("shared", [True, False])
def test_the_mean_of_readings_against_drawn_ones(shared):
    # JCGM 101: the meter's error is in common, the part scatters by 2 ohm.
    rng, n = np.random.default_rng(20), 100_000
    common = rng.uniform(-0.2, 0.2, n) if shared else 0.0
    drawn = 200 + rng.normal(0, 2, (8, n)).mean(axis=0) + common
    numbers = 200 + 2 * np.array([-1.4, -0.9, -0.4, -0.1, 0.1, 0.4, 0.9, 1.4]) / 0.91652
    meter = instrument("ohm", "1000", "0.01", "0.2" if shared else "0")
    texts = each(" ".join(f"{x:.4f}" for x in numbers) + " ohm")
    result = read({"resistance": texts}, meter=meter, limit=limit("ohm", high="300"))
    scatter = next(c for c in result.components if c.name.startswith("scatter"))
    u = float(result.result.standard_uncertainty.text)
    plain = math.sqrt(
        u**2 - scatter.standard_uncertainty**2 * (1 - 1 / scatter.widened**2)
    )
    assert plain == pytest.approx(float(np.std(drawn)), rel=0.03)


@pytest.mark.parametrize(
    ("conditions", "said"),
    [
        ({"part temperature": "95 degC", **COLD}, "the limit holds up to 25 degC"),
        ({"part temperature": "50 degF", **COLD}, "the limit holds from 15 degC on"),
        (COLD, "part temperature is missing"),
    ],
)
def test_other_conditions_than_those_of_the_limit(conditions, said):
    result = read({"resistance": "25 ohm"}, conditions, limit=limit("ohm", high="20"))
    assert result.outcome is BenchOutcome.NOT_VALID
    assert said in result.reasons[0]
    assert result.settles


def test_a_part_that_fails_only_hot_is_judged_hot():
    hot = {"part temperature": "95 degC", "least part temperature": "90 degC"}
    found = read({"resistance": "900 ohm"}, hot, limit=limit("ohm", high="800"))
    assert found.outcome is BenchOutcome.FAULTY
    assert "part temperature 95 degC" in found.notes


def test_one_quantity_a_test():
    meters = {"meter": OHMS, "volts": instrument("V", "20", "0.1", "0.2")}
    several = {"resistance": "14 ohm", "voltage": "12 V"}
    test = KINDS["direct-reading"]
    for readings, said in ((several, "in one test"), ({}, "nothing was read")):
        found = test.evaluate(given(readings, {}, meters, limit=limit("ohm", "1")))
        assert found.outcome is BenchOutcome.NOT_VALID
        assert said in found.reasons[0]


def test_without_a_limit_it_says_what_was_read():
    result = read({"resistance": "14.0 ohm"})
    assert result.outcome is BenchOutcome.NOT_VALID
    assert result.result.value.unit == "ohm"
    assert result.reasons == ("there is no limit: a value alone is no verdict",)


def test_a_limit_on_what_was_not_read_is_named():
    result = read({"resistance": "14.0 ohm"}, limit=limit("V", "1"))
    assert "what was computed is resistance" in result.reasons[0]


def test_beside_a_known_good_part():
    good = KnownGood("coil of cylinder 2", {"resistance": each("14.0 ohm")})
    result = read({"resistance": "19.0 ohm"}, known_good=good)
    assert result.comparison.differs
    drawn = KINDS["direct-reading"].diagram(
        given({"resistance": "19.0 ohm"}, {}, {"meter": OHMS}, known_good=good),
        result,
    )
    assert [item.name for item in drawn.items] == ["this part", "known-good part"]
