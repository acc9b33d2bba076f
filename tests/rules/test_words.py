"""What some rules say, word for word: each number has its unit."""

from pathlib import Path

import pytest
from case_files import Bases, read_cases

from auditkit.order.events import RepairOrder
from auditkit.order.findings import Shown
from auditkit.plugin.loading import load_catalogue

HERE = Path(__file__).parent
CATALOGUE = load_catalogue()


def said(text, rule, tmp_path):
    """Return what a rule says, problems and what is shown, of a case's record."""
    path = tmp_path / "case.toml"
    path.write_text(text, encoding="utf-8")
    ((case,), _) = read_cases(path, Bases(HERE / "bases"), ("pass", "fail")).values()
    record = case.record
    order = RepairOrder.fold(record["repair_order"], record["events"])
    found = CATALOGUE.rule(rule)
    told = found.check(order, CATALOGUE.parameters(found))
    return [one.sentence if isinstance(one, Shown) else one.message for one in told]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            'remove = ["readout-after.raw.0130", "readout-after.raw.0908"]',
            "P0443: no count shows driving; 2 starts are asked",
        ),
        (
            (
                'set.readout-after.raw.0130 = "7E8 03 41 30 01 AA AA AA AA"\n'
                'remove = ["readout-after.raw.0908"]'
            ),
            "P0443: warm-ups since the clear: 1; 2 starts are asked",
        ),
    ],
)
def test_driving_is_told_with_since_what(change, words, tmp_path):
    text = (
        '[[pass]]\nname = "x"\nbase = "purge-valve-bench-tested"\n'
        'set.diagnosis.codes.0 = "P0443"\n'
        f'set.diagnosis.suspect_parts.0.codes.0 = "P0443"\n{change}\n'
    )
    assert words in said(text, "not-watched-and-measured", tmp_path)


def test_a_count_of_the_vehicle_is_told_before_and_after(tmp_path):
    text = (
        '[[pass]]\nname = "x"\nbase = "purge-valve"\n'
        'remove = ["readout-after.raw.0908", "readout-after.raw.01A6"]\n'
    )
    (told,) = said(text, "vehicle-not-identified", tmp_path)
    assert told.endswith(
        "its count of minutes of engine run since codes were cleared began anew: "
        "3000 min before, 90 min after"
    )


def test_a_typed_display_between_the_limits_is_told_to_decide_nothing(tmp_path):
    text = (
        '[[pass]]\nname = "x"\nbase = "egr-valve"\n'
        'remove = ["bench_test.result.value"]\n'
        'add.bench_test.result.above = "16"\nadd.bench_test.limit.maximum = "20"\n'
    )
    (told,) = said(text, "bench-test-shows-no-fault", tmp_path)
    beside = "above 16 inHg, minimum 15.0 and maximum 20 inHg"
    assert told == f"the bench test of egr-valve decides nothing: {beside}"


def test_a_typed_result_in_a_unit_of_another_kind_is_told_with_both(tmp_path):
    text = (
        '[[pass]]\nname = "x"\nbase = "egr-valve"\nset.bench_test.limit.unit = "ohm"\n'
    )
    (told,) = said(text, "part-not-shown-at-fault", tmp_path)
    assert told.endswith(": it is in inHg, its limit in ohm")
