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
