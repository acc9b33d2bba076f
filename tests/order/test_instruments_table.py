"""A register kept as a table (RFC 4180), read as the register that it means."""

import json
from importlib.resources import files

import pytest

from auditkit.errors import InputError
from auditkit.order.instruments import parse_register
from auditkit.order.instruments_table import parse_table

TABLE = """\
id,description,unit,low,high,resolution,absolute,on,due,certificate
gauge-1,"a gauge, hand-held (invented)",kPa (gauge),0,700,5,7,2025-01-10,2026-01-10,A-1
gauge-1,,,,,,,2026-01-09,2027-01-09,A-2
meter-1,a meter (invented),V,0,20,0.01,0.05,,,
"""
IN_WORDS = """\
Instrument;What it is;Unit;From;To;Smallest step;Error;Calibrated on;Due;Certificate
gauge-1;a gauge, hand-held (invented);kPa (gauge);0;700;5;7;10.01.2025;10.01.2026;A-1
gauge-1;;;;;;;09.01.2026;09.01.2027;A-2
meter-1;a meter (invented);V;0;20;0,01;0,05;;;
"""
MEANT = {
    "format": "auditkit/instruments@1",
    "instruments": [
        {
            "id": "gauge-1",
            "description": "a gauge, hand-held (invented)",
            "unit": "kPa (gauge)",
            "low": "0",
            "high": "700",
            "resolution": "5",
            "absolute": "7",
            "calibrations": [
                {"on": "2025-01-10", "due": "2026-01-10", "certificate": "A-1"},
                {"on": "2026-01-09", "due": "2027-01-09", "certificate": "A-2"},
            ],
        },
        {
            "id": "meter-1",
            "description": "a meter (invented)",
            "unit": "V",
            "low": "0",
            "high": "20",
            "resolution": "0.01",
            "absolute": "0.05",
            "calibrations": [],
        },
    ],
}


@pytest.mark.parametrize(
    "text",
    [
        TABLE,
        "\ufeff" + TABLE.replace("\n", "\r\n"),
        TABLE.replace(",", ";").replace("gauge; hand", "gauge, hand"),
        TABLE + ",,,,,,,,,\n\n",
        TABLE.replace(",", "\t").replace("gauge\t hand", "gauge, hand"),
        IN_WORDS,
        IN_WORDS.replace("\n", ";;\n"),
    ],
    ids=[
        "comma",
        "as a spreadsheet saves it",
        "semicolon",
        "empty rows",
        "tab",
        "words",
        "too wide",
    ],
)
def test_a_table_means_a_register(text):
    assert parse_table(text) == parse_register(json.dumps(MEANT))


def test_the_demos_register_as_a_table_is_the_same_register():
    told = json.loads((files("auditkit_demo") / "instruments.json").read_text())
    known = parse_register(json.dumps(told))
    names = dict.fromkeys(n for one in told["instruments"] for n in one)
    names.pop("calibrations")
    columns = [*names, "on", "due", "certificate", "u", "k"]
    rows = [",".join(columns)]
    for one in told["instruments"]:
        for made in one["calibrations"]:
            cells = {**one, **made}
            rows.append(",".join(f'"{cells.get(c, "")}"' for c in columns))
    assert parse_table("\n".join(rows)) == known


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "does not name the columns id, description, unit"),
        ("id,unit\n", "does not name the columns description"),
        ("id,Instrument,unit\n", "the columns 'id' and 'Instrument' say the same"),
        (
            TABLE.replace("gauge-1,,,", "gauge-1,another,,"),
            "row 3, column 'description': description of",
        ),
        (TABLE.replace("gauge, hand", 'gauge"x hand'), "no table of values"),
        (TABLE + "a,b\n", "row 5: it has 2 cells, and the first row 10"),
        (TABLE.replace("2027-01-09", "soon"), "row 3, column 'due'"),
        (TABLE.replace("meter-1", ""), "row 4, column 'id'"),
        (TABLE.replace("V,0,20", "V,0,much"), "row 4, column 'high'"),
        (TABLE.replace("0.01", '"0,01"'), "row 4, column 'resolution'"),
        (TABLE.replace(",unit,", ",units,"), "row 1: no column is called 'units'"),
        (TABLE.partition("\n")[0], "instruments"),
    ],
)
def test_what_does_not_fit_is_one_error_that_names_the_place(text, told):
    with pytest.raises(InputError) as error:
        parse_table(text, where="shop.csv")
    assert told in str(error.value)
    assert "shop.csv" in str(error.value)
