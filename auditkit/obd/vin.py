"""Vehicle identification numbers: form, check digit, model year (49 CFR 565.15)."""

from __future__ import annotations

import re

_FORM = re.compile(r"[0-9A-HJ-NPR-Z]{17}")
_VALUES = dict(
    zip(
        "0123456789ABCDEFGHJKLMNPRSTUVWXYZ",
        "012345678912345678123457923456789",
        strict=True,
    )
)
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
_YEARS = "ABCDEFGHJKLMNPRSTVWXY123456789"
_FIRST_YEAR = 1996
_CHECK_PLACE, _YEAR_PLACE, _ERA_PLACE = 8, 9, 6


def is_well_formed(vin: str) -> bool:
    """Return whether this is 17 digits and letters without I, O and Q (ISO 3779)."""
    return _FORM.fullmatch(vin) is not None


def check_digit(vin: str) -> str:
    """Return the check digit that belongs in position 9 (565.15(c), Tables III-V).

    Position 9 itself has weight 0, so any character of a VIN may stand there.
    """
    total = sum(
        int(_VALUES.get(c, "0")) * w for c, w in zip(vin, _WEIGHTS, strict=True)
    )
    return "0123456789X"[total % 11]


def has_check_digit(vin: str) -> bool:
    """Return whether position 9 holds the check digit of the other sixteen.

    Obligatory in the U.S. and Canada only: elsewhere a wrong one is no fault.
    """
    return is_well_formed(vin) and vin[_CHECK_PLACE] == check_digit(vin)


def model_year(vin: str) -> int | None:
    """Return the model year of position 10; None where that letter means no year.

    A letter in position 7 means 2010 or later, a digit 1980-2009 (565.15(b); the
    digit's half from memory). Holds for cars and light vehicles. A year before 1996
    means that the VIN is not of this scheme: no such vehicle answers to on-board
    diagnostics (40 CFR 86.094-17, from memory).
    """
    if not is_well_formed(vin):
        return None
    place = _YEARS.find(vin[_YEAR_PLACE])
    if place < 0:
        return None
    year = (2010 if vin[_ERA_PLACE].isalpha() else 1980) + place
    return year if year >= _FIRST_YEAR else None
