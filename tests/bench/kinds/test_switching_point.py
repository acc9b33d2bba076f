"""The value at which something happens. All cases invented."""

import math

import numpy as np
import pytest
from bench_inputs import each, given, instrument, limit
from bench_kinds import evaluate

from auditkit.bench import KINDS, BenchOutcome
from auditkit.bench.readings import Readings
from auditkit.bench.uncertainty import uncertainty_of, value_of

BATH = instrument("degC", "150", "0.1", "1")
OPENS = {"event": "opens", "approach": "rising"}
STAMPED = limit("degC", "86", "90")


def opening(temperatures, conditions=OPENS, **more):
    """Return the input of a thermostat in a stirred bath."""
    texts = each(temperatures) if isinstance(temperatures, str) else temperatures
    more = {"limit": STAMPED, **more}
    return given({"temperature": texts}, conditions, {"bath": BATH}, **more)


def opened(*arguments, **more):
    return evaluate("switching-point", opening(*arguments, **more))


@pytest.mark.parametrize(
    ("read", "outcome"),
    [
        ("88.0 88.2 87.9 degC", BenchOutcome.GOOD),
        ("58.0 58.4 58.2 degC", BenchOutcome.FAULTY),
        ("86.4 86.2 86.3 degC", BenchOutcome.INCONCLUSIVE),
        ("75.0 92.0 84.0 degC", BenchOutcome.INCONCLUSIVE),  # it scatters
        ("88.0 degC", BenchOutcome.NOT_VALID),
    ],
)
def test_a_thermostat_in_a_bath(read, outcome):
    found = opened(read)
    assert found.outcome is outcome
    assert found.result.value.unit == "degC"


def test_a_part_that_never_switches_is_a_reading_beyond_the_end():
    never = given(
        {"temperature": "above 110 degC"}, OPENS, {"bath": BATH}, limit=STAMPED
    )
    found = evaluate("switching-point", never)
    assert found.outcome is BenchOutcome.FAULTY
    assert found.result.value.bound == "above"
    cold = given({"temperature": "below 20 degC"}, OPENS, {"bath": BATH}, limit=STAMPED)
    assert evaluate("switching-point", cold).outcome is BenchOutcome.FAULTY


@pytest.mark.parametrize(("approach", "moved"), [("rising", -0.25), ("falling", 0.25)])
@pytest.mark.parametrize("shared", [True, False])
def test_a_relay_by_steps_against_drawn_events(approach, moved, shared):
    # JCGM 101: 0.5 V steps from anywhere, the meter's error shared or each reading's.
    numbers = [7.35, 7.65, 7.45, 7.55, 7.5, 7.5, 7.4, 7.6, 7.5, 7.5]
    spread = float(np.std(numbers, ddof=1))
    meter = instrument("V", "20", "0.05", "0.1" if shared else "0")
    rng, n = np.random.default_rng(11), 100_000
    drawn = 7.5 + moved + rng.uniform(-0.25, 0.25, n)
    drawn += rng.normal(0, spread / math.sqrt(10), n)
    drawn += rng.uniform(-0.1, 0.1, n) if shared else 0.0
    drawn += rng.uniform(-0.025, 0.025, n)
    inputs = given(
        {"voltage": each(" ".join(map(str, numbers)) + " V")},
        {"event": "pulls in", "approach": approach, "step": "0.5 V"},
        {"meter": meter},
    )
    kind = KINDS["switching-point"]
    (value,) = kind.compute(Readings(kind.needs, inputs)).named("voltage").values
    assert value_of(value) == pytest.approx(float(np.mean(drawn)), abs=0.003)
    # the factor of few readings (10) is 1.2 of the scatter, a twentieth of all
    assert uncertainty_of(value) == pytest.approx(float(np.std(drawn)), rel=0.03)


def test_a_step_in_another_unit_is_refused():
    for step, said in (("0.5 V", "no step of a temperature"), ("1 degF", "")):
        found = opened("88.0 88.2 87.9 degC", {**OPENS, "step": step})
        assert (found.outcome is BenchOutcome.NOT_VALID) is bool(said)
        assert said in "".join(found.reasons)


def test_what_has_to_be_said():
    for lacking in OPENS:
        given_ = {name: word for name, word in OPENS.items() if name != lacking}
        found = opened("88.0 88.2 degC", given_)
        assert found.outcome is BenchOutcome.NOT_VALID
        assert found.reasons[0].startswith(f"{lacking} is missing; write ")


def test_a_response_time_is_a_value_at_which_something_happens():
    # A slow sensor, at most 100 ms: common practice, no published source.
    timer = instrument("ms", "5000", "1", "5")
    found = evaluate(
        "switching-point",
        given(
            {"time": each("520 540 530 ms")},
            {"event": "responds", "approach": "rising"},
            {"timer": timer},
            limit=limit("ms", high="100"),
        ),
    )
    assert found.outcome is BenchOutcome.FAULTY


def test_the_picture_shows_every_event_and_the_limit():
    inputs = opening("88.0 88.2 87.9 degC")
    kind = KINDS["switching-point"]
    drawn = kind.diagram(inputs, kind.evaluate(inputs))
    (chart,) = drawn.charts
    assert [p.value for p in chart.series[0].points] == pytest.approx([88, 88.2, 87.9])
    assert chart.limits == {"minimum": 86, "maximum": 90}
    assert chart.levels[0].value == pytest.approx(88.0333, abs=1e-3)
    assert drawn.along.members == 3
