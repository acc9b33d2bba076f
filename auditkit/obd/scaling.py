"""Raw words -> values with units, and pass or fail (ISO 15031-5:2006 Annex E).

Value = raw x resolution + offset, in exact decimal arithmetic. Ids 01-7F are
unsigned, 80-FE two's complement. Pressures are given in kPa whatever they are
measured against.
"""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum

_TABLE = """
01 1 raw|02 0.1 raw|03 0.01 raw|04 0.001 raw|05 0.0000305 raw|06 0.000305 raw
07 0.25 rpm|08 0.01 km/h|09 1 km/h|0A 0.122 mV|0B 0.001 V|0C 0.01 V
0D 0.00390625 mA|0E 0.001 A|0F 0.01 A|10 1 ms|11 100 ms|12 1 s|13 1 mohm
14 1 ohm|15 1 kohm|16 0.1 degC -40|17 0.01 kPa|18 0.0117 kPa|19 0.079 kPa
1A 1 kPa|1B 10 kPa|1C 0.01 deg|1D 0.5 deg|1E 0.0000305 lambda|1F 0.05 A/F
20 0.0039062 ratio|21 1 mHz|22 1 Hz|23 1 kHz|24 1 counts|25 1 km|26 0.1 mV/ms
27 0.01 g/s|28 1 g/s|29 0.25 Pa/s|2A 0.001 kg/h|2B 1 switches|2C 0.01 g/cyl
2D 0.01 mg/stroke|2E 1 false/true|2F 0.01 %|30 0.001526 %|31 0.001 L
32 0.0000305 inch|33 0.00024414 lambda|34 1 min|35 10 ms|36 0.01 g|37 0.1 g
38 1 g|39 0.01 % -327.68
3A 0.001 g|3B 0.0001 g|3C 0.1 us|3D 0.01 mA|3E 0.00006103516 mm2|3F 0.01 L
40 1 ppm|41 0.01 uA
81 1 raw|82 0.1 raw|83 0.01 raw|84 0.001 raw|85 0.0000305 raw|86 0.000305 raw
8A 0.122 mV|8B 0.001 V|8C 0.01 V|8D 0.00390625 mA|8E 0.001 A|90 1 ms
96 0.1 degC|9C 0.01 deg|9D 0.5 deg|A8 1 g/s|A9 0.25 Pa/s|AF 0.01 %
B0 0.003052 %|B1 2 mV/s|FD 0.001 kPa|FE 0.25 Pa
87 1 ppm|99 0.1 kPa|AD 0.01 mg/stroke|AE 0.1 mg/stroke|FC 0.01 kPa|8F 1 us
FB 10 kPa
"""
"""Id, resolution, unit, offset: ISO Annex E Tables E.1-E.79; then ids of later
editions, known from one or two public tables only (3A-41, 87-FB at the end)."""


def _rows() -> dict[int, tuple[Decimal, str, Decimal]]:
    cells = [cell.split() for cell in _TABLE.replace("\n", "|").split("|") if cell]
    return {
        int(uasid, 16): (Decimal(step), unit, Decimal(offset[0] if offset else 0))
        for uasid, step, unit, *offset in cells
    }


SCALINGS = _rows()
"""Unit and scaling id -> resolution, unit, offset."""

_SIGNED = 0x80
_HALF = 0x8000
_WHOLE = 0x10000


class SelfTestOutcome(StrEnum):
    """What the vehicle's own test says of itself."""

    PASSED = "passed"
    FAILED = "failed"
    NOT_RUN = "not-run"
    NOT_JUDGED = "not-judged"
    """Its limits are crossed: no value can meet both."""
    NO_LIMIT = "no-limit"
    """It gave a value and no limit: nothing that it could have failed."""


def number(word: int, uasid: int) -> int:
    """Return the signed or unsigned number that a raw word stands for."""
    return word - _WHOLE if uasid >= _SIGNED and word >= _HALF else word


def scaled(word: int, uasid: int) -> Decimal | None:
    """Return the value of a raw word in its unit; None for an unknown scaling."""
    row = SCALINGS.get(uasid)
    return None if row is None else number(word, uasid) * row[0] + row[2]


def unit(uasid: int) -> str | None:
    """Return the unit of a unit and scaling id; None for an unknown one."""
    row = SCALINGS.get(uasid)
    return None if row is None else row[1]


_TWO_TABLES = frozenset({0x3C, 0x41, 0xFC})
_PUBLIC = "a public table of later ids"


def source(uasid: int) -> str:
    """Return where the row of a unit and scaling id comes from."""
    if uasid not in SCALINGS:
        return "unknown id: raw words only"
    if uasid in _TWO_TABLES:
        return f"{_PUBLIC}, seen twice"
    later = 0x3A <= uasid <= 0x41 or uasid in {0x87, 0x8F, 0x99, 0xAD, 0xAE, 0xFB}
    return f"{_PUBLIC}, seen once" if later else "ISO 15031-5:2006 Annex E"


def is_no_minimum(word: int, uasid: int) -> bool:
    """Return whether a minimum is the least possible word: no lower limit."""
    return word == (_HALF if uasid >= _SIGNED else 0)


def is_no_maximum(word: int, uasid: int) -> bool:
    """Return whether a maximum is the greatest possible word: no upper limit."""
    return word == (_HALF - 1 if uasid >= _SIGNED else _WHOLE - 1)


def outcome(value: int, minimum: int, maximum: int, uasid: int) -> SelfTestOutcome:
    """Return pass, fail or not run, from raw words (ISO 15031-5:2006 clause 7.6.1).

    All three words 0000: not completed since the last clear. Else both limits are
    inclusive (Tables 164-166), after sign extension. Every scaling is increasing, so
    an unknown one does not hide the outcome. A minimum above the maximum is no limit
    that a value could meet, and a value with no limit on either side could not have
    failed: neither is judged.
    """
    if value == minimum == maximum == 0:
        return SelfTestOutcome.NOT_RUN
    low, here, high = (number(w, uasid) for w in (minimum, value, maximum))
    if low > high:
        return SelfTestOutcome.NOT_JUDGED
    if is_no_minimum(minimum, uasid) and is_no_maximum(maximum, uasid):
        return SelfTestOutcome.NO_LIMIT
    return SelfTestOutcome.PASSED if low <= here <= high else SelfTestOutcome.FAILED
