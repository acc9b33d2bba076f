"""The table of methods by part and fault. Its content is common practice."""

import json
from importlib.resources import files

import pytest

from auditkit.bench import KINDS
from auditkit.bench.methods import methods, methods_for
from auditkit.obd import code_table

SYSTEMS = set(
    json.loads(
        (files("auditkit_schemas") / "event-diagnosis-1.schema.json").read_text()
    )["properties"]["suspect_parts"]["items"]["properties"]["system"]["enum"]
) - {"other"}

JOBS = [
    "P0401",
    "P0128",
    "P0113",
    "P0301",
    "P0171",
    "P0420",
    "P0442",
    "P0456",
    "P0455",
    "P0446",
    "P0441",
    "P0496",
    "P0135",
    "P0133",
    "P0335",
    "P0340",
    "P0507",
    "P0562",
    "P2002",
    "P2463",
    "P0299",
    "P0700",
    "P0741",
    "U0100",
    "C0035",
    "P0101",
    "P0122",
    "P0016",
    "P0325",
    "P0A80",
    "P20EE",
    "P203F",
]
"""The everyday jobs of a shop, from memory."""


@pytest.mark.parametrize("code", JOBS)
def test_every_everyday_job_has_a_method_of_its_own(code):
    row = code_table.row_of(code)
    found = methods_for(code, (row.system, *row.plausible, *code_table.ANYWHERE))
    assert code in found[0].codes
    assert {m.system for m in found} >= {row.system, *code_table.ANYWHERE}
    named = [code in m.codes for m in found]
    assert named == sorted(named, reverse=True)
    for method in found:
        if code in method.codes:
            assert row.explains(method.system), (method.part, row.system)


def test_every_method_names_what_there_is():
    assert {m.kind for m in methods()} == set(KINDS)
    assert {m.system for m in methods()} == SYSTEMS
    rows = [(m.part, m.kind) for m in methods()]
    assert len(rows) == len(set(rows))
    for method in methods():
        assert method.reads
        assert method.instrument
        choices = [n.name for n in KINDS[method.kind].readings if n.asked.one_of]
        assert {*method.quantities} <= {*choices}
        assert bool(method.quantities) == bool(choices), method.part
        for code in method.codes:
            assert code_table.row_of(code).explains(method.system), (method.part, code)


def test_a_code_without_a_test_of_its_own_gets_those_of_its_systems():
    found = methods_for("P0000", ("cooling", "wiring"))
    assert [m.system for m in found] == sorted(m.system for m in found)
    assert {m.system for m in found} == {"cooling", "wiring"}
    assert not methods_for("P0000", ())
