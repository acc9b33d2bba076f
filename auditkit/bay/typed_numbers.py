"""Numbers with units as a person types them. Pure."""

from __future__ import annotations

import re

from auditkit.errors import InputError

BOUNDS = {"above": "above", "over": "above", "below": "below", "under": "below"}
"""Words before a number that only bounds a value -> the member that holds it."""
_OVER_RANGE = re.compile(r"\.?o\.?l\.?|overload|open", re.IGNORECASE)


def amount(text: str, option: str) -> dict[str, str]:
    """Return ``12.0 A``, ``over 40 Mohm`` or ``below 0.1 ohm`` as a record has it.

    Raises InputError, naming the option, for a number that is written otherwise.
    """
    words = text.split(" ", 2)
    bound = BOUNDS[words.pop(0)] if words[0] in BOUNDS else "value"
    number, _, unit = " ".join(words).partition(" ")
    if _OVER_RANGE.fullmatch(number) and option == "--reading":
        raise InputError(
            f"{text!r} is a display over its range",
            where=option,
            what_to_do='write the end of its range, such as "above 40 Mohm"',
        )
    return {bound: digits(number, option), "unit": unit.strip()}


def digits(number: str, option: str) -> str:
    """Return a number; InputError where a comma or a bare point stands in it."""
    before, comma, after = number.partition(",")
    if comma and (before.lstrip("-") + after).isdecimal():
        what_to_do = f"write it with a point: {before}.{after}"
        if len(after) == 3:  # a group of thousands
            what_to_do += f", or without the comma: {before}{after}"
        raise InputError(
            f"the number {number!r} has a comma", where=option, what_to_do=what_to_do
        )
    if re.fullmatch(r"-?\.\d+", number):
        raise InputError(
            f"the number {number!r} has nothing before its point",
            where=option,
            what_to_do=f"write {number.replace('.', '0.')}",
        )
    return number
