"""Intermittent faults and known-good swaps, by counts. All cases invented.

The rules are common practice, no published source; their numbers are checked in
``test_counts``.
"""

import pytest
from bench_inputs import each, given, limit
from bench_kinds import evaluate

from auditkit.bench import KINDS, BenchOutcome, KnownGood

FAULTY, GOOD = BenchOutcome.FAULTY, BenchOutcome.GOOD
OPEN, NOT_VALID = BenchOutcome.INCONCLUSIVE, BenchOutcome.NOT_VALID


def counted(pairs, places):
    """Return counts such as ``{"with": (3, 10)}`` as readings by their names."""
    found = {}
    for name, (seen, of) in pairs.items():
        one, two = places[name]
        found |= {one: f"{seen} times", two: f"{of} times"}
    return found


STIMULUS = {
    name: (f"seen {name} stimulus", f"tries {name} stimulus")
    for name in ("with", "without")
}
REPAIR = {"before": ("seen before repair", "tries before repair")}
SWAP = {
    "before": ("seen before swap", "tries before swap"),
    "new": ("seen at new place of part", "tries at new place of part"),
    "old": ("seen at old place of part", "tries at old place of part"),
    "back": ("seen after swap back", "tries after swap back"),
}


def wiggled(pairs, before=None, same="wiggle", **more):
    conditions = {"stimulus": "wiggle"}
    if before:
        conditions |= counted({"before": before}, REPAIR)
        conditions |= {"stimulus before repair": same} if same else {}
    return given(counted(pairs, STIMULUS), conditions, {}, **more)


def intermittent(*arguments, **more):
    return evaluate("intermittent", wiggled(*arguments, **more))


@pytest.mark.parametrize(
    ("pairs", "outcome", "said"),
    [
        ({"with": (3, 10), "without": (0, 10)}, FAULTY, ""),
        ({"with": (2, 10), "without": (0, 10)}, FAULTY, ""),
        ({"with": (1, 10), "without": (0, 10)}, OPEN, "seen once is chance"),
        ({"with": (0, 10), "without": (0, 10)}, OPEN, "shows nothing of a part"),
        ({"with": (3, 10), "without": (1, 10)}, OPEN, "seen without wiggle too"),
        ({"with": (3, 10), "without": (0, 9)}, OPEN, "not tried without wiggle as"),
        ({"with": (3, 10)}, OPEN, "not tried without wiggle"),
        ({"with": (11, 10), "without": (0, 10)}, NOT_VALID, "cannot be"),
        ({"with": (0, 0), "without": (0, 10)}, NOT_VALID, "cannot be"),
        ({"with": (2.5, 10), "without": (0, 10)}, NOT_VALID, "2.5 times is no count"),
    ],
)
def test_what_comes_with_a_stimulus(pairs, outcome, said):
    found = intermittent(pairs)
    assert found.outcome is outcome
    assert said in "".join(found.reasons)
    assert bool(found.settles) is (outcome is OPEN)


@pytest.mark.parametrize(
    ("pairs", "before", "same", "outcome", "said"),
    [
        ({"with": (0, 10)}, (3, 10), "wiggle", GOOD, ""),
        ({"with": (0, 9)}, (3, 10), "wiggle", OPEN, "10 are needed"),
        ({"with": (0, 10)}, (3, 10), "tap", OPEN, "stimulus before the repair too"),
        ({"with": (0, 10)}, (3, 10), None, OPEN, "stimulus before the repair too"),
        ({"with": (0, 99)}, (1, 10), "wiggle", OPEN, "it was not shown"),
        ({"with": (1, 10)}, (3, 10), "wiggle", OPEN, "seen once"),
        ({"with": (2, 10), "without": (0, 10)}, (3, 10), "wiggle", FAULTY, ""),
    ],
)
def test_what_is_gone_after_a_repair(pairs, before, same, outcome, said):
    found = intermittent(pairs, before, same)
    assert found.outcome is outcome
    assert said in "".join(found.reasons)


def test_the_rule_and_its_risk_stand_beside_the_answer():
    found = intermittent({"with": (3, 10), "without": (0, 10)})
    assert "rule of three" in found.decision_rule
    assert 0.09 < found.alpha < 0.11
    assert "9.5 % at most" in found.decision_rule
    assert found.result.value.unit == "%"
    gone = intermittent({"with": (0, 10)}, (3, 10))
    assert gone.alpha == pytest.approx(0.7**10)


def test_a_limit_or_a_good_part_is_said_not_to_count():
    good = KnownGood("other", {})
    found = intermittent(
        {"with": (3, 10), "without": (0, 10)},
        limit=limit("%", high="50"),
        known_good=good,
    )
    assert found.outcome is FAULTY
    assert found.limit is None
    said = [note for note in found.notes if "was not used" in note]
    assert len(said) == 2


@pytest.mark.parametrize(
    ("pairs", "outcome", "said"),
    [
        ({"before": (4, 10), "new": (5, 10), "old": (0, 10)}, FAULTY, ""),
        ({"before": (4, 10), "new": (0, 10), "old": (4, 10)}, GOOD, ""),
        ({"before": (4, 10), "new": (0, 10), "old": (0, 10)}, OPEN, "healed it"),
        ({"before": (4, 10), "new": (0, 5), "old": (4, 10)}, OPEN, "not seen twice"),
        ({"before": (4, 10), "new": (3, 10), "old": (3, 10)}, OPEN, "both places"),
        ({"before": (1, 10), "new": (3, 10), "old": (0, 30)}, OPEN, "before the swap"),
        (
            {"before": (4, 10), "new": (0, 10), "old": (0, 10), "back": (3, 10)},
            FAULTY,
            "",
        ),
        (
            {"before": (4, 10), "new": (5, 10), "old": (0, 10), "back": (0, 10)},
            OPEN,
            "stayed away when the part was put back",
        ),
        (
            {"before": (4, 10), "new": (5, 10), "old": (0, 10), "back": (0, 5)},
            FAULTY,
            "",
        ),
    ],
)
def test_a_known_good_swap(pairs, outcome, said):
    found = evaluate("known-good-swap", given(counted(pairs, SWAP), {}, {}))
    assert found.outcome is outcome
    assert said in "".join(found.reasons)
    assert bool(found.settles) is (outcome is OPEN)


def test_half_a_count_is_not_valid():
    readings = counted({"before": (4, 10), "new": (5, 10), "old": (0, 10)}, SWAP)
    readings["seen after swap back"] = "3 times"
    found = evaluate("known-good-swap", given(readings, {}, {}))
    assert found.outcome is NOT_VALID
    assert "tries after swap back is missing" in found.reasons[0]


@pytest.mark.parametrize(
    ("seen", "said"),
    [
        ("100 %", "100 % is no count"),
        ("-1 times", "-1 times is no count"),
        (each("1 3 times"), "given more than once"),
    ],
)
def test_what_is_no_count_is_not_valid(seen, said):
    inputs = wiggled({"with": (3, 10), "without": (0, 10)})
    readings = {**inputs.readings, "seen with stimulus": seen}
    found = evaluate("intermittent", given(readings, {"stimulus": "wiggle"}, {}))
    assert found.outcome is NOT_VALID
    assert said in found.reasons[0]


def test_their_pictures_show_each_count_and_what_it_leaves_open():
    inputs = wiggled({"with": (3, 10), "without": (0, 10)})
    kind = KINDS["intermittent"]
    drawn = kind.diagram(inputs, kind.evaluate(inputs))
    assert [item.name for item in drawn.items] == [
        "with wiggle: 3 of 10",
        "without: 0 of 10",
    ]
    assert drawn.items[1].known == "below"
    assert drawn.items[1].value == pytest.approx(25.9)  # 1 - 0.05^(1/10)
