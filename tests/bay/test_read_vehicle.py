"""A readout of an order out of a file: its text, or a CAN log of whatever length."""

from importlib.resources import files

import pytest

from auditkit.bay.read_vehicle import raw_text
from auditkit.errors import InputError
from auditkit.obd.decoding import LIMIT

RAW = (files("auditkit_demo") / "readout.txt").read_text()


def candump(others):
    """Return the demo's readout as a CAN log, with frames of other ids after it."""
    lines = [line.split() for line in RAW.splitlines() if line[:1] not in {"", "#"}]
    frames = [
        f"7DF#{len(words[1]) // 2:02X}{words[1]}".ljust(20, "0")
        if words[0] == ">"
        else f"{words[0]}#{''.join(words[1:])}"
        for words in lines
    ] + ["1A0#0011223344556677"] * others
    told = (f"({1000 + i / 20:.6f}) can0 {one}\n" for i, one in enumerate(frames))
    return "".join(told).encode()


@pytest.mark.parametrize("others", [0, 40_000], ids=["short", "over a megabyte"])
def test_a_can_log_is_read_however_much_else_is_in_it(others):
    data = candump(others)
    assert (len(data) > LIMIT) == bool(others)
    text, found = raw_text(data, "drive.log")
    assert found.vin == "0ZZTB1A18CA000123"
    assert [code.text for code in found.confirmed] == ["P0401"]
    assert len(text) < LIMIT


def test_a_text_that_is_too_long_is_told_by_its_file():
    with pytest.raises(InputError, match="longer than") as told:
        raw_text(RAW.encode() * 2000, "readout.txt")
    assert told.value.where == "readout.txt"
