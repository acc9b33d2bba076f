"""The table of codes: each code has a row, no row is dead, the narrowest decides."""

import pytest

from auditkit.obd import code_table, dtc
from auditkit.obd.code_table import (
    Place,
    monitors_of,
    place_of,
    related,
    row_of,
    soonest_of,
    watch_of,
)
from auditkit.text.tables import table_text

ALL = [
    text
    for high in range(256)
    for low in range(256)
    if (text := dtc.code_text(high, low)) is not None
]


def test_every_code_has_a_row_and_no_row_is_dead():
    assert len(ALL) == 65_535, "every code but the filler"
    found = {row_of(code) for code in ALL}
    assert found | {row_of("P0000")} == set(code_table.rows())


@pytest.mark.parametrize(
    ("code", "system"),
    [  # SAE J2012 filled the letters A to F later, with other systems: public list
        ("P0440", "evap"),
        ("P044A", "egr"),
        ("P044F", "secondary-air"),
        ("P0459", "evap"),
        ("P045B", "egr"),
        ("P0487", "egr"),
        ("P048C", "exhaust"),
        ("P020A", "fuel"),
        ("P0401", "egr"),
        ("P0128", "cooling"),
        ("P0335", "valve-timing"),
        ("U0100", "network"),
        ("U3000", "network"),
        ("P1234", "maker"),
        ("C0035", "brakes"),
        ("B0012", "restraint"),
    ],
)
def test_the_narrowest_range_decides(code, system):
    assert row_of(code).system == system


def test_how_soon_a_test_can_have_run_is_known_of_few():
    """From memory; what is not known is claimed of nobody."""
    known = [code for code in ALL if soonest_of(code)]
    assert known == ["P0128", "P0420", "P0421", "P0422", "P0430", "P0431", "P0432"]
    assert all(soonest_of(code).source for code in known)
    assert all(0 < soonest_of(code).minutes < 5 for code in known)


NEWER = """
[[row]]
codes = ["P0401"]
meaning = "a row that asks more"
system = "egr"
rule_out = ["exhaust"]
meaning_from = "this test"
since = "2027-01-01"

[[row]]
codes = ["P0442"]
meaning = "a row of today"
system = "evap"
meaning_from = "this test"

[[soonest]]
codes = ["P0401"]
minutes = 4
why = "this test"
source = "this test"
since = "2027-01-01"
"""


@pytest.fixture
def newer(monkeypatch):
    """Let the table have rows that ask more than before, since 2027."""
    text = table_text("auditkit.obd", "code_table.toml")
    caches = (code_table._table, code_table._row_of, code_table._has_places)
    monkeypatch.setattr(code_table, "table_text", lambda *_: text + NEWER)
    for cache in caches:
        cache.cache_clear()
    yield
    for cache in caches:
        cache.cache_clear()


@pytest.mark.usefixtures("newer")
@pytest.mark.parametrize(
    ("day", "counts"),
    [("2026-12-31", False), ("2027-01-01", True), ("2030-05-05", True), ("", True)],
)
def test_a_row_counts_from_its_day_on(day, counts):
    assert (row_of("P0401", day).rule_out == ("exhaust",)) is counts
    assert (soonest_of("P0401", day) is not None) is counts
    assert row_of("P0442", day).meaning == "a row of today"


def test_wiring_and_the_module_are_plausible_for_every_code():
    for row in code_table.rows():
        assert row.explains("wiring")
        assert row.explains("control-module")
    assert row_of("P0401").explains("vacuum")
    assert not row_of("P0401").explains("restraint")


@pytest.mark.parametrize(
    ("code", "monitors", "place"),
    [  # ISO 15031-5:2006 Annex D, Table D.1, through public transcriptions
        ("P0420", {"21"}, Place(bank=1)),
        ("P0430", {"22"}, Place(bank=2)),
        ("P0133", {"01"}, Place(bank=1, sensor=1)),
        ("P0139", {"02"}, Place(bank=1, sensor=2)),
        ("P0153", {"05"}, Place(bank=2, sensor=1)),
        ("P0135", {"41"}, Place(bank=1, sensor=1)),
        ("P0161", {"46"}, Place(bank=2, sensor=2)),
        ("P0171", {"81"}, Place(bank=1)),
        ("P0175", {"82"}, Place(bank=2)),
        ("P0301", {"A2"}, Place(cylinder=1)),
        ("P0312", {"AD"}, Place(cylinder=12)),
        ("P0671", set(), Place(cylinder=1)),
        ("P0682", set(), Place(cylinder=12)),
        ("P0290", set(), Place(cylinder=10)),
        ("P027A", set(), Place()),
        ("P0345", set(), Place(bank=2)),
        ("P0018", set(), Place(bank=2)),
        ("P0401", {"31", "32", "33", "34"}, Place()),
        ("P0442", {"39", "3A", "3B", "3C", "3D"}, Place()),
        ("P0128", set(), Place()),
        ("P2195", set(), Place()),  # which sensor it is, this table does not say
    ],
)
def test_monitors_are_those_of_the_codes_own_place(code, monitors, place):
    assert monitors_of(code) == monitors
    assert place_of(code) == place


def test_a_code_of_another_place_is_another_fault():
    assert related("P0301", "P0300")
    assert related("P0300", "P0301")
    assert not related("P0301", "P0302")
    assert not related("P0420", "P0430")
    assert not related("P0671", "P0672")
    assert related("P0442", "P0455")
    assert not related("P0442", "P044A")


def test_every_title_names_a_way_in_which_its_row_is_watched():
    table = code_table._table()
    assert len(table.titles) > 190
    for number, watch in table.titles.items():
        code = dtc.code_text(number >> 8, number & 0xFF)
        assert watch in row_of(code).watch, code


@pytest.mark.parametrize(
    ("code", "watch"),
    [
        ("P0401", "M"),
        ("P0403", "C"),
        ("P0128", "R"),
        ("P0117", "C"),
        ("P0238", "C"),  # boost sensor A, circuit high (SAE J2012, from memory)
        ("P0480", "C"),  # fan 1, control circuit
        ("P0171", "F"),
        ("P0300", "X"),
        ("B0012", "N"),
    ],
)
def test_titles_tell_circuit_from_range_and_function(code, watch):
    assert watch_of(code) == watch


def test_places_stand_in_the_rows_of_their_codes():
    for number, (place, monitors) in code_table._table().places.items():
        row = row_of(dtc.code_text(number >> 8, number & 0xFF))
        assert monitors <= row.monitors or not row.monitors, place
        assert place != Place()


@pytest.mark.parametrize("text", ["", "P", "P04", "X0401", "P4401", "P04G1"])
def test_what_is_no_code_is_refused(text):
    with pytest.raises(ValueError, match=r"fault code|invalid literal"):
        row_of(text)


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("EGR flow (p0401)", {"P0401"}),
        ("P0401-13, U0100", {"P0401", "U0100"}),
        ("P04011 XP0401 P4401 B1S1 cabin fan", set()),
    ],
)
def test_a_code_is_named_as_a_word(text, codes):
    assert dtc.codes_in(text) == codes
