"""The tests that fit a fault code. Which parts are everyday is from memory."""

import pytest

from auditkit.bench.methods import methods, methods_for
from auditkit.obd.code_table import ANYWHERE, row_of, rows
from auditkit.output.bench_kinds import method_lines

FOR_ALL = "Systems that are plausible for every code:"
THE_REST = "Of a plausible system only the parts that are everyday for this code"


def listed(code):
    row = row_of(code)
    systems = (row.system, *row.plausible, *ANYWHERE)
    return method_lines(code, row, methods_for(code, systems))


def test_everyday_parts_are_parts_of_the_rows_systems_that_have_a_test():
    known = {}
    for method in methods():
        known.setdefault(method.system, set()).add(method.part)
    named = [(row, system, parts) for row in rows() for system, parts in row.parts]
    assert len(named) > 50
    for row, system, parts in named:
        assert system in (row.system, *row.plausible), row.codes
        assert set(parts) <= known.get(system, set()), (row.codes, system)
        assert len(set(parts)) == len(parts)
        assert parts or system != row.system, row.codes


@pytest.mark.parametrize(
    ("code", "system", "parts"),
    [
        ("P0128", "engine-mechanical", "cylinder (direct-reading)"),
        ("P0171", "evap", "purge valve or vent valve (seal-hold)"),
        ("P0420", "oxygen-sensor", "oxygen sensor (switching-point)"),
    ],
)
def test_of_another_system_only_everyday_parts_are_listed(code, system, parts):
    lines = listed(code)
    assert f"    {system}: {parts}" in lines
    assert any(line.startswith(THE_REST) for line in lines)


def test_a_system_of_which_no_part_with_a_test_is_everyday_is_left_out():
    """A thermostat code is no sign of a throttle body; the cause may be intake yet."""
    lines = listed("P0128")
    assert not any("throttle body" in line for line in lines)
    assert not any(line.startswith("    intake:") for line in lines)
    assert row_of("P0128").explains("intake"), "it orders and cuts, and judges nothing"


def test_a_row_that_names_no_parts_lists_all():
    lines = listed("P2000")
    assert row_of("P2000").parts == ()
    (fuel,) = [line for line in lines if line.startswith("    fuel:")]
    for method in methods():
        assert (method.part in fuel) is (method.system == "fuel")
    assert not any(line.startswith(THE_REST) for line in lines)


def test_in_the_codes_own_system_everyday_parts_come_first_and_the_rest_after():
    lines = listed("P0117")
    own = [line for line in lines[: lines.index(FOR_ALL)] if " [cooling]: " in line]
    assert len(own) == len([m for m in methods() if m.system == "cooling"])
    row = row_of("P0405")
    (parts,) = [parts for system, parts in row.parts if system == row.system]
    lines = [line for line in listed("P0409") if " [egr]: " in line]
    told = [line.partition(" [egr]")[0].strip() for line in lines]
    assert told == [*parts, "exhaust gas recirculation valve"]
