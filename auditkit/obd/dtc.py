"""Two bytes -> the text of a fault code (ISO 15031-5:2006 clause 6.3.1)."""

from __future__ import annotations

from dataclasses import dataclass

_LETTERS = "PCBU"


def code_text(high: int, low: int) -> str | None:
    """Return the code as text, as ``P0442``; None for the filler 0000."""
    if not high and not low:
        return None
    return f"{_LETTERS[high >> 6]}{high >> 4 & 3}{high & 0x0F:X}{low:02X}"


def code_texts(data: bytes) -> tuple[str, ...]:
    """Return the codes of a run of byte pairs, filler left out, in order."""
    pairs = zip(data[::2], data[1::2], strict=True)
    return tuple(text for pair in pairs if (text := code_text(*pair)) is not None)


@dataclass(frozen=True, slots=True)
class Code:
    """One fault code of one responder: ``confirmed``, ``pending`` or ``permanent``."""

    text: str
    responder: str
    kind: str
