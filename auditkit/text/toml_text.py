"""TOML that a person wrote: read, or refused with its place. Pure."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from auditkit.errors import InputError
from auditkit.text.values import MAX_DEPTH

_PLACE = re.compile(r"line (\d+), column (\d+)")


def toml_table(text: str, *, where: str = "") -> dict[str, Any]:
    """Return what a TOML text says; InputError, with its place, where it is none."""
    if text.startswith("\ufeff"):
        raise InputError(
            "it starts with a byte-order mark",
            where=where,
            what_to_do="save it as UTF-8 without one (without BOM)",
        )
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        # The library's words differ between versions of Python; the place does not.
        found = _PLACE.search(str(error))
        place = f" at line {found[1]} column {found[2]}" if found else " at its end"
        raise InputError(
            f"this is not TOML: it cannot be read{place}",
            where=where,
            what_to_do="correct that place",
        ) from error
    except (ValueError, RecursionError) as error:  # digits or levels without end
        raise too_much(where) from error


def too_much(where: str) -> InputError:
    """Return the error for numbers, or levels, without end."""
    return InputError(
        f"a number is outside ±(2^53-1), or it nests deeper than {MAX_DEPTH}",
        where=where,
        what_to_do="write a smaller number, or write it flatter",
    )
