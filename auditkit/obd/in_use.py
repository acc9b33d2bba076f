"""In-use performance counters (service 09 InfoTypes 08 and 0B), Annex G Table G.8.

A monitor's numerator counts the driving cycles in which it ran, its denominator those
in which it should have. Each rises at most once a driving cycle (13 CCR 1968.2
(d)(4.2) and (4.3), from memory) and survives a clear of codes ((d)(5), from memory).
A numerator above its denominator is normal data.
"""

from __future__ import annotations

from dataclasses import dataclass

from auditkit.obd.services import MalformedError

SPARK, COMPRESSION = 0x08, 0x0B

IGNITION = "IGNCNTR"
"""The counter of ignition cycles."""
_BOTH = ("OBDCOND", IGNITION)


def _pairs(*monitors: str) -> tuple[str, ...]:
    names = (
        m.rstrip("12") + part + m[-1] * m[-1].isdigit()
        for m in monitors
        for part in ("COMP", "COND")
    )
    return (*_BOTH, *names)


_SPARK = _pairs("CAT1", "CAT2", "O2S1", "O2S2", "EGR", "AIR", "EVAP", "SO2S1", "SO2S2")
_COMPRESSION = _pairs("HCCAT", "NCAT", "NADS", "PM", "EGS", "EGR", "BP", "FUEL")
_WORD = 0xFFFF

_MIDS = {
    "CATCOMP1": ("21",),
    "CATCOMP2": ("22",),
    "O2SCOMP1": ("01", "02", "03", "04"),
    "O2SCOMP2": ("05", "06", "07", "08"),
    "EGRCOMP": ("31", "32", "33", "34", "35", "36", "37", "38"),
    "AIRCOMP": ("71", "72", "73", "74"),
    "EVAPCOMP": ("39", "3A", "3B", "3C", "3D"),
    "SO2SCOMP1": ("02", "03", "04"),
    "SO2SCOMP2": ("06", "07", "08"),
    "HCCATCOMP": ("21", "22"),
    "NCATCOMP": ("98", "99"),
    "NADSCOMP": ("90", "91"),
    "PMCOMP": ("B0", "B1", "B2", "B3"),
    "EGSCOMP": ("01", "02", "03", "04", "05", "06", "07", "08"),
    "BPCOMP": ("85", "86"),
    "FUELCOMP": ("81", "82", "83", "84"),
}
"""Numerator -> the monitor ids whose run it counts; made from the names."""


@dataclass(frozen=True, slots=True)
class Counter:
    """One in-use counter of one responder, by its name in the standard."""

    responder: str
    name: str
    count: int


def counters(responder: str, info: int, body: bytes) -> tuple[Counter, ...]:
    """Return the counters of an answer: a count of items, then 16-bit numbers.

    Items past the named ones (later editions have up to 28) are called ITEM21 and so
    on. Raises ``MalformedError`` where the count does not fit the number of bytes.
    """
    if not body or len(body) != 1 + 2 * body[0]:
        stated = f"{body[0]} counters" if body else "no count of counters"
        raise MalformedError(f"{stated}, and {max(len(body) - 1, 0)} bytes")
    names = _SPARK if info == SPARK else _COMPRESSION
    return tuple(
        Counter(
            responder,
            names[n] if n < len(names) else f"ITEM{n + 1}",
            int.from_bytes(body[1 + 2 * n : 3 + 2 * n]),
        )
        for n in range(body[0])
    )


def numerators(mids: frozenset[str]) -> frozenset[str]:
    """Return the names of the counters that count runs of any of these monitors."""
    return frozenset(name for name, theirs in _MIDS.items() if mids & {*theirs})


def rise(before: int, after: int) -> int | None:
    """Return by how much a 16-bit counter rose; None where it went back.

    Past 65,535 it begins anew at 0 (from memory), so a small number after one near the
    top is a rise.
    """
    if after >= before:
        return after - before
    risen = after + _WORD + 1 - before
    return risen if risen <= _WORD // 64 else None
