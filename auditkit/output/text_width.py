"""How much room a text takes in a picture, before any viewer has drawn it.

A viewer takes the sans-serif font that it has. The widths are those of DejaVu Sans, the
widest of the common ones, rounded up to a few classes (measured).
"""

from __future__ import annotations

from collections.abc import Iterator

FONT = 12
"""Size of the letters of a picture, in px."""
_CLASSES = (
    (0.32, " ',.IJijl"),
    (0.41, "!()-/:;[\\]frt|"),
    (0.6, '"*?FL_`cksvxyz'),
    (0.65, "$0123456789EKPSTYabdeghnopqu{}"),
    (0.7, "ABCRVXZ"),
    (0.8, "&DGHNOQU"),
)
_WIDEST = 1.0
_EM = {letter: width for width, letters in _CLASSES for letter in letters}
_CUT = "..."


def width(said: str) -> float:
    """Return the px that a line of text takes at most."""
    return FONT * sum(_EM.get(letter, _WIDEST) for letter in said)


def wrapped(said: str, room: float, most: int = 2) -> list[str]:
    """Return a text in ``most`` lines that fit ``room`` px; the rest is cut."""
    lines = list(_lines(said, room))
    if len(lines) > most:
        kept = lines[most - 1]
        while kept and width(kept + _CUT) > room:
            kept = kept[:-1]
        lines = [*lines[: most - 1], kept + _CUT]
    return lines or [""]


def _lines(said: str, room: float) -> Iterator[str]:
    line = ""
    for word in _words(said, room):
        longer = f"{line} {word}" if line else word
        if line and width(longer) > room:
            yield line
            longer = word
        line = longer
    if line:
        yield line


def _words(said: str, room: float) -> Iterator[str]:
    """Yield the words, those wider than the room in pieces."""
    for word in said.split():
        piece = ""
        for letter in word:
            if piece and width(piece + letter) > room:
                yield piece
                piece = ""
            piece += letter
        yield piece
