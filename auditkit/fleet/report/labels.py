"""Names beside marks, none on another: what finds no room is told below the picture."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from auditkit.fleet.report import ink
from auditkit.reader.page.markup import Element

ROW = 14.0
_ROOM = 150.0
_REACH = 8.0  # from a mark to its name
_AWAY = (0.0, 14.0, 28.0, 42.0, 56.0, 70.0)


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a diagram lies, in px; ``beside`` is the room for names right of it."""

    left: float
    top: float
    right: float
    bottom: float
    beside: float = 0.0

    @property
    def wide(self) -> float:
        """The width."""
        return self.right - self.left


@dataclass(frozen=True, slots=True)
class _Box:
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: _Box) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


def beside(
    marks: Sequence[tuple[float, float, str]],
    within: Frame,
    taken: Iterable[tuple[float, float]] = (),
) -> tuple[list[Element], list[str]]:
    """Return the names drawn beside their marks, and the names that found no room.

    ``marks`` are (x, y, name); ``taken`` are other marks that no name may cover.
    """
    used = [
        _Box(x - 4, y - 4, x + 4, y + 4)
        for x, y in (*((x, y) for x, y, _ in marks), *taken)
    ]
    drawn: list[Element] = []
    left: list[str] = []
    for x, y, name in sorted(marks, key=lambda m: (m[1], m[0], m[2])):
        if not name:
            continue
        said = ink.cut(name, min(_ROOM, within.wide / 2))
        found = _free(x, y, ink.wide(said), within, used)
        if found is None:
            left.append(name)
            continue
        place, anchor, away = found
        used.append(place)
        at = place.left if anchor == "start" else place.right
        if away:
            drawn.append(ink.line(x, y, at, place.top + ROW / 2, ink.PALE))
        drawn.append(ink.text(at, place.top + ROW - 3, said, anchor))
    return drawn, left


def _free(
    x: float, y: float, wide: float, within: Frame, used: Sequence[_Box]
) -> tuple[_Box, str, float] | None:
    """Return the nearest free place for a name, its anchor, how far it was moved."""
    for away in _AWAY:
        for up in dict.fromkeys((-away, away)):
            reach = _REACH + away / 3
            for anchor, left in (
                ("start", x + reach),
                ("end", x - reach - wide),
            ):
                top = y - ROW / 2 + up
                place = _Box(left, top, left + wide, top + ROW)
                fits = (
                    place.left >= within.left
                    and place.right <= within.right + 20
                    and place.top >= within.top
                    and place.bottom <= within.bottom
                )
                if fits and not any(place.meets(other) for other in used):
                    return place, anchor, away
    return None


def spread(places: Sequence[float], top: float, bottom: float) -> list[float]:
    """Return places moved apart by a row at least, in their order, within the frame."""
    order = sorted(range(len(places)), key=lambda i: (places[i], i))
    moved = [0.0] * len(places)
    free = top
    for i in order:
        moved[i] = max(places[i], free)
        free = moved[i] + ROW
    limit = bottom
    for i in reversed(order):
        moved[i] = min(moved[i], limit)
        limit = moved[i] - ROW
    return moved
