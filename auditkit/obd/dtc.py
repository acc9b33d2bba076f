"""Two bytes -> the text of a fault code (ISO 15031-5:2006 clause 6.3.1)."""

from __future__ import annotations

import re
from dataclasses import dataclass

_LETTERS = "PCBU"
_FORM = re.compile(f"[{_LETTERS}][0-3][0-9A-F]{{3}}")
_NAMED = re.compile(rf"\b{_FORM.pattern}\b")


def is_code(text: str) -> bool:
    """Return whether a text has the form of a code, such as P0420."""
    return _FORM.fullmatch(text) is not None


def codes_in(text: str) -> frozenset[str]:
    """Return the codes that a text names, each as a word, whatever its case."""
    return frozenset(_NAMED.findall(text.upper()))


def code_text(high: int, low: int) -> str | None:
    """Return the code as text, as ``P0442``; None for the filler 0000."""
    if not high and not low:
        return None
    return f"{_LETTERS[high >> 6]}{high >> 4 & 3}{high & 0x0F:X}{low:02X}"


def code_texts(data: bytes) -> tuple[str, ...]:
    """Return the codes of a run of byte pairs, filler left out, in order."""
    pairs = zip(data[::2], data[1::2], strict=True)
    return tuple(text for pair in pairs if (text := code_text(*pair)) is not None)


_SYSTEMS = {
    "P": "powertrain",
    "C": "chassis",
    "B": "body",
    "U": "network",
}
_STANDARD, _MAKER, _SHARED, _RESERVED = (
    "defined by the standard",
    "the maker's own",
    "shared: P30 to P33 the maker's own, P34 to P39 the standard's (from memory)",
    "reserved",
)


def system(code: str) -> str:
    """Return which part of the vehicle a code's letter stands for (SAE J2012)."""
    return _SYSTEMS[code[0]]


def origin(code: str) -> str:
    """Return who defines a code (SAE J2012, through an encyclopaedia page).

    First digit 0: the standard; 1: the maker; 2: the standard for P, the maker for B, C
    and U; 3: shared for P, the standard for U (from memory), reserved for B and C.
    """
    digit = code[1]
    if digit == "0" or code[:2] in {"P2", "U3"}:
        return _STANDARD
    if digit == "3":
        return _SHARED if code[0] == "P" else _RESERVED
    return _MAKER


@dataclass(frozen=True, slots=True)
class Code:
    """One fault code of one responder: ``confirmed``, ``pending`` or ``permanent``."""

    text: str
    responder: str
    kind: str

    @property
    def list_name(self) -> str:
        """What people call the list that it stands in: ``stored`` for ``confirmed``."""
        return "stored" if self.kind == "confirmed" else self.kind
