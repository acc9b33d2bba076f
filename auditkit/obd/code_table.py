"""What the trade knows of a fault code, by range: system, monitors, hazards.

The table, with its sources, is ``code_table.toml``. The narrowest range that holds a
code decides, since SAE J2012 filled later letters with other systems: P044A, of
exhaust gas recirculation, stands among the evaporative codes P0440 to P0459.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from auditkit.text.tables import table_text

LETTERS = "PCBU"  # SAE J2012: the two highest bits of a code, in this order
ANYWHERE = ("wiring", "control-module")
"""Systems that may honestly cause any code."""


@dataclass(frozen=True, slots=True)
class CodeRange:
    """What is known of a range of codes; see the head of ``code_table.toml``.

    ``monitors`` are ids of service 06, ``shown_in`` identifiers of service 01, both as
    two hexadecimal digits. ``parts`` are everyday parts by system.
    """

    codes: tuple[str, ...]
    meaning: str
    meaning_from: str
    system: str
    plausible: tuple[str, ...]
    parts: tuple[tuple[str, tuple[str, ...]], ...]
    rule_out: tuple[str, ...]
    watch: tuple[str, ...]
    monitors: frozenset[str]
    readiness: str
    shown_in: tuple[str, ...]
    hazards: tuple[str, ...]
    since: str

    def everyday_parts(self, system: str) -> tuple[str, ...] | None:
        """Return the parts of a system that are everyday here; None: not named."""
        return dict(self.parts).get(system)

    def explains(self, system: str) -> bool:
        """Return whether a part of this system may honestly cause such a code."""
        return system in (self.system, *self.plausible, *ANYWHERE)


@dataclass(frozen=True, slots=True)
class Place:
    """Where a code's number says that its fault is; None where it does not say."""

    bank: int | None = None
    sensor: int | None = None
    cylinder: int | None = None

    def may_be(self, other: Place) -> bool:
        """Return whether nothing says that this is another place than ``other``."""
        pairs = (
            (self.bank, other.bank),
            (self.sensor, other.sensor),
            (self.cylinder, other.cylinder),
        )
        return all(one is None or two is None or one == two for one, two in pairs)


@dataclass(frozen=True, slots=True)
class Soonest:
    """How soon after a clear a code's test can have run, and from where that is known.

    ``minutes`` of engine run (PID 4E), as few as any vehicle needs.
    """

    minutes: int
    why: str
    source: str
    since: str = ""


@dataclass(frozen=True, slots=True)
class _Table:
    rows: tuple[CodeRange, ...]
    ranges: tuple[tuple[int, int, int], ...]  # first, last, row; narrowest first
    places: Mapping[int, tuple[Place, frozenset[str]]]
    titles: Mapping[int, str]  # code -> its one way of being watched
    soonest: Mapping[int, Soonest]


def number_of(code: str) -> int:
    """Return the 16 bits of a code such as P0401 (SAE J2012), without failure type.

    Raises ValueError where it is not such a code.
    """
    letter, digits = code[:1], code[1:5]
    if letter not in LETTERS or not letter or len(digits) != 4:
        raise ValueError(f"{code!r} is not a fault code")
    if int(digits[0], 16) > 3:  # two bits
        raise ValueError(f"{code!r} is not a fault code")
    return LETTERS.index(letter) << 14 | int(digits, 16)


@lru_cache(maxsize=1)
def _table() -> _Table:
    text = table_text("auditkit.obd", "code_table.toml")
    data = tomllib.loads(text)
    rows = tuple(_row(item) for item in data["row"])
    ranges = [
        (*_ends(codes), place) for place, row in enumerate(rows) for codes in row.codes
    ]
    ranges.sort(key=lambda found: (found[1] - found[0], found[2]))
    places = {
        number: (
            Place(item.get("bank"), item.get("sensor"), item.get("cylinder")),
            frozenset(item.get("monitors", ())),
        )
        for item in data["place"]
        for number in _numbers(item["codes"])
    }
    titles = {
        number: watch
        for watch, codes in data["titles"].items()
        for number in _numbers(codes)
    }
    soonest = {
        number: Soonest(
            int(item["minutes"]), item["why"], item["source"], item.get("since", "")
        )
        for item in data["soonest"]
        for number in _numbers(item["codes"])
    }
    return _Table(rows, tuple(ranges), places, titles, soonest)


def _row(item: Mapping[str, object]) -> CodeRange:
    def texts(name: str) -> tuple[str, ...]:
        found = item.get(name, [])
        return tuple(map(str, found)) if isinstance(found, list) else ()

    named = item.get("parts", {})
    parts = named.items() if isinstance(named, dict) else ()
    return CodeRange(
        codes=texts("codes"),
        meaning=str(item["meaning"]),
        meaning_from=str(item["meaning_from"]),
        system=str(item["system"]),
        plausible=texts("plausible"),
        parts=tuple((str(system), tuple(map(str, own))) for system, own in parts),
        rule_out=texts("rule_out"),
        watch=texts("watch"),
        monitors=frozenset(texts("monitors")),
        readiness=str(item.get("readiness", "")),
        shown_in=texts("shown_in"),
        hazards=texts("hazards"),
        since=str(item.get("since", "")),
    )


def _ends(codes: str) -> tuple[int, int]:
    low, _, high = codes.partition("-")
    return number_of(low), number_of(high or low)


def _numbers(codes: Iterable[str]) -> Iterable[int]:
    for low, high in map(_ends, codes):
        yield from range(low, high + 1)


def rows() -> tuple[CodeRange, ...]:
    """Return the whole table."""
    return _table().rows


def row_of(code: str, day: str = "") -> CodeRange:
    """Return what is known of a code: every code of SAE J2012 has a row.

    ``day`` (RFC 3339) is when a step was recorded: rows that came ``since`` ask nothing
    of it.
    """
    number = number_of(code)
    return _row_of(number, day)


@lru_cache(maxsize=4096)
def _row_of(number: int, day: str) -> CodeRange:
    table = _table()
    place = next(
        row
        for low, high, row in table.ranges
        if low <= number <= high and not (day and table.rows[row].since > day)
    )
    return table.rows[place]


def soonest_of(code: str, day: str = "") -> Soonest | None:
    """Return how soon after a clear a code's test can have run; None if not known.

    ``day`` as for ``row_of``.
    """
    found = _table().soonest.get(number_of(code))
    return None if found is None or (day and found.since > day) else found


def place_of(code: str) -> Place:
    """Return where the code's number says that the fault is."""
    return _table().places.get(number_of(code), (Place(), frozenset()))[0]


def monitors_of(code: str) -> frozenset[str]:
    """Return the monitor ids of a code: of its place where it has one, else its row's.

    Where a row's monitors are those of several places and the code's number does not
    say which, none is its own.
    """
    _, own = _table().places.get(number_of(code), (Place(), frozenset[str]()))
    row = row_of(code)
    if own:
        return own
    return frozenset() if _has_places(row) else row.monitors


@lru_cache(maxsize=256)
def _has_places(row: CodeRange) -> bool:
    placed = (monitors for _, monitors in _table().places.values())
    return "A1" not in row.monitors and any(row.monitors & each for each in placed)


def watch_of(code: str) -> str:
    """Return how the vehicle watches for a code (the table says which); or nothing."""
    row = row_of(code)
    titled = _table().titles.get(number_of(code))
    if titled is not None:
        return titled
    return "C" if "C" in row.watch else "".join(row.watch[:1])


def related(code: str, other: str) -> bool:
    """Return whether a fault code speaks of the same row and place as another."""
    if code == other:
        return True
    return row_of(code) == row_of(other) and place_of(code).may_be(place_of(other))
