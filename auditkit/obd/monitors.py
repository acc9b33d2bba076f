"""Names of monitors and tests; PID 01 / 41 bits (ISO 15031-5:2006 Annexes B and D)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

SINCE_CLEAR = "since-clear"
THIS_CYCLE = "this-cycle"

CONTINUOUS = ("misfire", "fuel-system", "components")
"""Monitors that run all the time; on spark ignition they are always complete."""
_SPARK = (
    "catalyst",
    "heated-catalyst",
    "evaporative-system",
    "secondary-air",
    "refrigerant-or-particulate-filter",
    "oxygen-sensor",
    "oxygen-sensor-heater",
    "egr-vvt",
)
_COMPRESSION = (
    "nmhc-catalyst",
    "nox-aftertreatment",
    None,
    "boost-pressure",
    None,
    "exhaust-gas-sensor",
    "particulate-filter",
    "egr-vvt",
)
COMPRESSION_ONLY = frozenset(_COMPRESSION) - {None, *_SPARK}
"""Monitors that PID 01 names on compression ignition alone."""
SPARK_ONLY = frozenset(_SPARK) - {None, *_COMPRESSION}
"""Monitors that PID 01 names on spark ignition alone."""
_WORDS = {
    "components": "comprehensive components",
    "refrigerant-or-particulate-filter": "A/C refrigerant or particulate filter",
    "egr-vvt": "EGR and/or VVT",
    "nmhc-catalyst": "NMHC catalyst",
    "nox-aftertreatment": "NOx or SCR aftertreatment",
}
"""What a monitor is called (Tables B.2 and B.3), where its id does not say it."""
_MIL, _COMPRESSION_BIT = 0x80, 0x08

_MIDS = (
    (0x01, 0x10, "oxygen sensor {b}"),
    (0x21, 0x24, "catalyst bank {n}"),
    (0x31, 0x34, "EGR bank {n}"),
    (0x35, 0x38, "VVT bank {n}"),
    (0x39, 0x39, "evaporative system, cap off or 0.150 in"),
    (0x3A, 0x3A, "evaporative system, 0.090 in"),
    (0x3B, 0x3B, "evaporative system, 0.040 in"),
    (0x3C, 0x3C, "evaporative system, 0.020 in"),
    (0x3D, 0x3D, "purge flow"),
    (0x41, 0x50, "oxygen sensor heater {b}"),
    (0x61, 0x64, "heated catalyst bank {n}"),
    (0x71, 0x74, "secondary air {n}"),
    (0x81, 0x84, "fuel system bank {n}"),
    (0x85, 0x86, "boost pressure {n}"),
    (0x90, 0x91, "NOx adsorber {n}"),
    (0x98, 0x99, "NOx or SCR catalyst {n}"),
    (0xA1, 0xA1, "misfire, general"),
    (0xA2, 0xAD, "misfire, cylinder {n}"),
    (0xB0, 0xB3, "particulate filter {n}"),
    (0xE1, 0xFF, "maker-specific"),
)
_TIDS = (
    "rich-to-lean threshold voltage",
    "lean-to-rich threshold voltage",
    "low voltage for switch time",
    "high voltage for switch time",
    "rich-to-lean switch time",
    "lean-to-rich switch time",
    "least sensor voltage in the test",
    "greatest sensor voltage in the test",
    "time between transitions",
    "sensor period",
    "misfires, weighted mean of ten cycles",
    "misfires, last or current cycle",
)


@dataclass(frozen=True, slots=True)
class Monitor:
    """One monitor of one responder; ``complete`` is None where it is unsupported.

    ``cycle`` says which question it answers: complete since codes were cleared
    (PID 01), or in this driving cycle (PID 41, where supported means still enabled).
    """

    responder: str
    monitor: str
    supported: bool
    complete: bool | None
    cycle: str = SINCE_CLEAR


def _plain(name: str) -> str:
    return "".join(letter for letter in name.lower() if letter.isalnum())


_ALL = tuple(n for n in (*CONTINUOUS, *_SPARK, *_COMPRESSION) if n is not None)


def monitor_in_words(name: str) -> str:
    """Return what a monitor is called where people read it.

    ``egr-vvt`` is "EGR and/or VVT". A name that is none of PID 01, typed from a
    display, stays as it is.
    """
    return _WORDS.get(name, name.replace("-", " ") if name in _ALL else name)


def monitors_in_words(names: Iterable[str]) -> str:
    """Return what monitors are called, in one line."""
    return ", ".join(map(monitor_in_words, names))


_NAMED = {
    **{_plain(monitor_in_words(name)): name for name in _ALL},
    **{_plain(name): name for name in _ALL},
}


def monitor_named(text: str) -> str:
    """Return the monitor that a display names, whatever its case, spaces and dashes.

    It may be named by its id, or as it is called here. The text itself where it names
    none of PID 01.
    """
    return _NAMED.get(_plain(text), text)


def is_monitor(name: str) -> bool:
    """Return whether this is the name of a monitor of PID 01, as it is written here."""
    return name in _NAMED.values()


def monitor_names(*, compression: bool | None = None) -> tuple[str, ...]:
    """Return the monitors of PID 01 by how the engine ignites; None: all of both."""
    spark = () if compression else _SPARK
    other = () if compression is False else _COMPRESSION
    return tuple(dict.fromkeys(n for n in (*CONTINUOUS, *spark, *other) if n))


def mid_names() -> tuple[tuple[str, str], ...]:
    """Return each monitor id that stands for something, in hex, with what for."""
    named = ((f"{mid:02X}", mid_name(mid)) for mid in range(0x100))
    return tuple((mid, name) for mid, name in named if name is not None)


def is_compression(data: bytes) -> bool:
    """Return whether PID 01 tells of compression ignition (byte B bit 3)."""
    return bool(data[1] & _COMPRESSION_BIT)


def mil(data: bytes) -> bool:
    """Return whether PID 01 says that the lamp is commanded on (byte A bit 7)."""
    return bool(data[0] & _MIL)


def monitors(
    responder: str, data: bytes, cycle: str, *, compression: bool
) -> tuple[Monitor, ...]:
    """Return the monitors in the four bytes of PID 01 or 41 (Tables B.2 and B.46)."""
    _, b, c, d = data
    names = _COMPRESSION if compression else _SPARK
    bits = [(name, b >> i & 1, b >> i + 4 & 1) for i, name in enumerate(CONTINUOUS)]
    bits += [(n, c >> i & 1, d >> i & 1) for i, n in enumerate(names) if n is not None]
    return tuple(
        Monitor(responder, name, bool(has), not waits if has else None, cycle)
        for name, has, waits in bits
    )


def this_cycle(found: Iterable[Monitor]) -> dict[tuple[str, str], Monitor]:
    """Return what PID 41 says of each monitor, by (responder, monitor) (Table B.46).

    ``supported`` there means still enabled. Supported in PID 01 and not enabled in PID
    41: disabled for the rest of this driving cycle, for a reason that driving on does
    not remove, such as soak, temperature or altitude.
    """
    return {(m.responder, m.monitor): m for m in found if m.cycle == THIS_CYCLE}


def mid_name(mid: int) -> str | None:
    """Return what a monitor id stands for (Table D.1); None where it is reserved."""
    for first, last, text in _MIDS:
        if first <= mid <= last:
            place = mid - first
            bank = f"bank {place // 4 + 1} sensor {place % 4 + 1}"
            return text.format(n=place + 1, b=bank)
    return None


def tid_name(tid: int) -> str | None:
    """Return what a test id stands for (Table 161); None where reserved or a maker's.

    A maker's test id (80-FE) has a meaning in published service information only.
    """
    return _TIDS[tid - 1] if 1 <= tid <= len(_TIDS) else None
