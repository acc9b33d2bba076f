"""What a packet's raw text says, decoded again for the reader's page."""

import pytest

from auditkit.reader.blocks import Facts
from auditkit.reader.vehicle_said import vehicle_said


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        # ISO 15031-5:2006 Table 146: a count of codes, then two bytes each.
        ("7E8 04 43 01 04 01", "P0401 (7E8)"),
        ("7E8 02 43 00", "none"),
        ("7E8 04 43 02 04 01", "answered, could not be read"),
        # ISO 15765-2:2004: a single frame states its length.
        ("7E8 05 43 02 04 01", "answered, could not be read"),
        ("", "not asked or not answered"),
        # ISO 14230-3 (from memory): 7F, the service, and 12, not supported.
        ("7E8 03 7F 03 12", "refused by 7E8"),
        ("7E8 03 7F 03 12\n7E9 02 43 00", "none; refused by 7E8"),
        ("7E8 03 7F 03 12\n7E9 04 43 01 07 00", "P0700 (7E9); refused by 7E8"),
        (
            "7E8 03 7F 03 12\n7E9 04 43 02 04 01",
            "answered, could not be read; refused by 7E8",
        ),
        ("7F 03 12", "refused"),
    ],
)
def test_codes_are_none_only_where_that_was_answered(answer, said):
    facts = [one for one in vehicle_said(f"> 03\n{answer}\n") if isinstance(one, Facts)]
    told = {fact.name: fact.value for one in facts for fact in one.rows}
    assert told["Stored fault codes"] == said


def told_of(raw):
    facts = [one for one in vehicle_said(raw) if isinstance(one, Facts)]
    return {fact.name: fact.value for one in facts for fact in one.rows}


def test_lamp_status_clear_and_counts_are_told_as_the_terminal_does():
    """SAE J1979-DA, from memory: bit 7 of A is the lamp; 30 counts warm-ups.

    ISO 14229-1, from memory: status 2F is failed, pending, confirmed, and since clear.
    """
    raw = (
        "> 0101\n7E8 06 41 01 81 07 E5 00\n> 0130\n7E8 03 41 30 07\n"
        "> 1902FF\n7E8 07 59 02 FF 04 01 00 2F\n> 04\n7E8 01 44\n"
    )
    told = told_of(raw)
    assert told["Engine lamp"] == "ON (7E8)"
    counted = "warm-ups since codes were cleared: 7 count (7E8)"
    assert told["Counted by the vehicle"] == counted
    assert told["Status of P0401-00 (7E8)"].startswith("2F: ")
    assert "confirmed" in told["Status of P0401-00 (7E8)"]
    assert told["Within this readout"] == "a module answers that it cleared"
    short = told_of("> 0101\n7E8 06 41 01 00 07 E5 00\n")
    assert short["Engine lamp"] == "off (7E8)"
    assert told_of("> 03\n7E8 02 43 00\n")["Engine lamp"] == "not read"
    assert not {"Within this readout", "Counted by the vehicle"} & short.keys()
