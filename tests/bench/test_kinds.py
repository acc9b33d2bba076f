"""What holds of every kind of bench test. All cases invented."""

from dataclasses import replace
from fractions import Fraction

from bench_inputs import GAUGE, each, limit
from bench_kinds import AT_LEAST_8, FINE, VOLTS, drop, evaluate, hold
from hypothesis import given as hypothesis_given
from hypothesis import strategies as st

from auditkit.bench import KINDS, Accuracy, BenchOutcome, builtin_kinds


def test_kinds_say_what_they_do():
    assert [k.name for k in builtin_kinds()] == list(KINDS)
    assert len(KINDS) == len(builtin_kinds()) > 8
    for kind in KINDS.values():
        assert kind.title
        assert kind.source
        assert kind.refuses
        assert kind.judges
        assert kind.needs
        names = [need.name for need in kind.needs]
        assert len(names) == len(set(names))
        assert all(bool(need.kinds) != bool(need.words) for need in kind.needs)


LADDER = [BenchOutcome.GOOD, BenchOutcome.INCONCLUSIVE, BenchOutcome.FAULTY]


@hypothesis_given(st.lists(st.integers(0, 130), min_size=2, max_size=4))
def test_a_verdict_is_monotone_in_the_reading(tenths):
    outcomes = [
        evaluate("seal-hold", hold(f"{t / 10} inH2O", limit=AT_LEAST_8)).outcome
        for t in sorted(tenths, reverse=True)
    ]
    places = [LADDER.index(outcome) for outcome in outcomes]
    assert places == sorted(places)


@hypothesis_given(st.integers(0, 130), st.fractions(0, 2), st.fractions(0, 20))
def test_a_worse_gauge_never_makes_a_verdict(tenths, error, more):
    def tested(limits: Fraction) -> BenchOutcome:
        gauge = replace(GAUGE, accuracy=Accuracy(absolute=limits))
        inputs = hold(
            f"{tenths / 10} inH2O",
            limit=AT_LEAST_8,
            instruments={"gauge": gauge, "thermometer": FINE},
        )
        return evaluate("seal-hold", inputs).outcome

    sharp, blunt = tested(error), tested(error + more)
    assert blunt in {sharp, BenchOutcome.INCONCLUSIVE, BenchOutcome.NOT_VALID}


@hypothesis_given(
    st.lists(st.integers(190, 210), min_size=2, max_size=5), st.fractions(0, 1)
)
def test_repeats_never_become_surer_by_a_worse_meter(millivolts, more):
    # With Welch-Satterthwaite and few repeats this would not hold.
    def tested(limits: Fraction) -> BenchOutcome:
        meter = replace(VOLTS, accuracy=Accuracy(absolute=limits))
        texts = each(" ".join(f"0.{m}" for m in millivolts) + " V")
        inputs = drop(limit=limit("V", high="0.32"))
        readings = {**inputs.readings, "voltage drop": texts}
        instruments = {**inputs.instruments, "meter": meter}
        changed = replace(inputs, readings=readings, instruments=instruments)
        return evaluate("voltage-drop", changed).outcome

    sharp, blunt = tested(Fraction("0.001")), tested(Fraction("0.001") + more)
    assert blunt in {sharp, BenchOutcome.INCONCLUSIVE, BenchOutcome.NOT_VALID}
