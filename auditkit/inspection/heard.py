"""What each module was asked and answered, of what an inspection looks at. Pure.

One module never answers for another. A module counts that answered any service with
data; each such module owes PID 01, unless its own map says that it lacks it, and the
codes of services 03, 07 and 0A.
"""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum

from auditkit.obd import Readout
from auditkit.obd.monitors import COMPRESSION_ONLY, CONTINUOUS, SINCE_CLEAR, Monitor
from auditkit.obd.transcript import UNKNOWN

STATUS_PID = "01"
CODE_SERVICES = {"stored": "03", "pending": "07", "permanent": "0A"}
_LISTED_BY_19 = frozenset(CODE_SERVICES.values())
_MAP_BIT = 0x80000000  # PID 01 in the map of PID 00 (ISO 15031-5:2006 Table A.1)


class Heard(StrEnum):
    """What became of one question to one module."""

    READ = "read"
    REFUSED = "refused"
    UNREADABLE = "answered, could not be read"
    SILENT = "asked, no answer"
    NOT_ASKED = "not asked"
    UNKNOWN = "no answer; the text does not tell whether it was asked"
    NOT_TYPED = "not typed"
    LACKS = "not supported, by the module's own map"


def modules(readout: Readout) -> tuple[str, ...]:
    """Return the modules that answered anything, readably or not."""
    every = {who for who, _ in (*readout.answered, *readout.unread)}
    return tuple(sorted(every | {who for who, _ in readout.mil}))


def heard(readout: Readout, who: str, service: str, *, is_typed: bool = False) -> Heard:
    """Return what became of a question: a service of codes, or "01" for its PID 01."""
    if service != STATUS_PID:
        # A report of service 19 by status lists stored and pending codes too.
        by_status = service in {"03", "07"} and who in dict(readout.availability)
        is_read = by_status or readout.has_answered(who, service)
    else:
        is_read = who in dict(readout.mil)
    if is_read or is_typed:
        return Heard.READ if is_read else Heard.NOT_TYPED
    if service == STATUS_PID and lacks_status(readout, who):
        return Heard.LACKS
    if (who, service) in readout.unread:
        return Heard.UNREADABLE
    if (who, service) in readout.refused:
        return Heard.REFUSED
    return _unanswered(readout, service, STATUS_PID if service == "01" else None)


def heard_readiness(readout: Readout, who: str, *, is_typed: bool = False) -> Heard:
    """Return what became of the question for a module's monitors."""
    if any(m.responder == who and m.cycle == SINCE_CLEAR for m in readout.monitors):
        return Heard.READ
    return Heard.NOT_TYPED if is_typed else heard(readout, who, STATUS_PID)


def heard_value(readout: Readout, who: str, pid: str, *, is_typed: bool) -> Heard:
    """Return what became of a question for a PID of service 01."""
    if any((v.responder, v.service, v.id) == (who, "01", pid) for v in readout.values):
        return Heard.READ
    return Heard.NOT_TYPED if is_typed else _unanswered(readout, "01", pid)


def _unanswered(readout: Readout, service: str, pid: str | None) -> Heard:
    if not readout.requests or "" in readout.requests:
        return Heard.UNKNOWN
    asked = (_asks(text, service, pid) for text in readout.requests)
    return Heard.SILENT if any(asked) else Heard.NOT_ASKED


def _asks(request: str, service: str, pid: str | None) -> bool:
    """Return whether a request asks for a service, and a PID of it.

    In SAE J1979-2 (from memory) PIDs are asked by service 22 as F4 and the PID, codes
    by service 19.
    """
    head, rest = request[:2], request[2:]
    if pid is None:
        return head == service or (head == "19" and service in _LISTED_BY_19)
    if head == "22":
        return f"F4{pid}" in _pieces(rest, 4)
    return head == service and pid in _pieces(rest, 2)


def _pieces(digits: str, size: int) -> list[str]:
    return [digits[i : i + size] for i in range(0, len(digits), size)]


def lacks_status(readout: Readout, who: str) -> bool:
    """Return whether a module's own map of PID 00 says that it has no PID 01."""
    own = [p for p in readout.parameters if (p.responder, p.service) == (who, "01")]
    maps = [p.data for p in own if p.id == "00"]
    return bool(maps) and not any(int(text, 16) & _MAP_BIT for text in maps)


def since_clear(readout: Readout) -> Iterator[Monitor]:
    """Yield the supported monitors, and whether each is complete since the clear."""
    for one in readout.monitors:
        if one.cycle == SINCE_CLEAR and one.supported:
            yield one


def engine_modules(readout: Readout) -> tuple[str, ...]:
    """Return the modules with a monitor that does not run all the time.

    A gearbox has none: it has the continuous ones alone, if any.
    """
    found = (m.responder for m in since_clear(readout) if m.monitor not in CONTINUOUS)
    return tuple(dict.fromkeys(found))


def worst(readout: Readout) -> dict[str, bool]:
    """Return each supported monitor: complete where every module with it says so."""
    found: dict[str, bool] = {}
    for one in since_clear(readout):
        done = one.complete is True
        found[one.monitor] = found.get(one.monitor, True) and done
    return found


def ignitions(readout: Readout) -> frozenset[str]:
    """Return spark, compression, or both where engine modules differ.

    PID 01 byte B bit 3 decides, not the fuel type (ISO 15031-5:2006 Table B.2); it
    shows in the names of the monitors.
    """
    engines = engine_modules(readout)
    return frozenset(
        "compression"
        if any(
            m.responder == who and m.monitor in COMPRESSION_ONLY
            for m in readout.monitors
        )
        else "spark"
        for who in engines
    )


def counted(readout: Readout, who: str) -> int | None:
    """Return how many stored codes a module counts; None where it did not say.

    Modules that the text does not name add up.
    """
    found = [count for name, count in readout.counts if name == who]
    if who == UNKNOWN:
        return sum(found) if found else None
    return found[-1] if found else None


def listed(readout: Readout, kind: str, who: str | None = None) -> tuple[str, ...]:
    """Return the codes of a kind (confirmed and so on), of one module or of all."""
    return tuple(
        dict.fromkeys(
            c.text
            for c in readout.codes
            if c.kind == kind and who in {None, c.responder}
        )
    )
