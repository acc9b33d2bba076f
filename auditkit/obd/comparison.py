"""Two readouts of one vehicle, side by side: what changed between them. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING

from auditkit.obd.monitors import SINCE_CLEAR, monitor_in_words
from auditkit.obd.parameters import DISTANCE, MINUTES, ODOMETER, WARM_UPS
from auditkit.obd.responders import UNREAD
from auditkit.obd.scaling import number, scaled

if TYPE_CHECKING:
    from collections.abc import Iterable

    from auditkit.obd.dtc import Code
    from auditkit.obd.readout import Readout
    from auditkit.obd.services import SelfTest
    from auditkit.obd.transcript import TranscriptProblem

SINCE_CLEARED = (
    (WARM_UPS, "warm-ups since codes were cleared"),
    (DISTANCE, "distance since codes were cleared, km"),
    (MINUTES, "engine run time since codes were cleared, min"),
)
"""Counts that a clear sets to zero (ISO 15031-5:2006 7.4.1)."""


@dataclass(frozen=True, slots=True)
class TestChange:
    """One self-test in both readouts; None where it is absent from one."""

    place: tuple[str, str, str]
    before: SelfTest | None
    after: SelfTest | None

    @property
    def changed(self) -> bool:
        """Whether value or limits differ: equal words prove nothing either way."""
        if self.before is None or self.after is None:
            return self.before is not self.after
        return self.before.words != self.after.words


class Unread(StrEnum):
    """Why a module's list of codes was not read again."""

    REFUSED = "refused"
    UNREADABLE = UNREAD
    SILENT = "no answer"
    """Another module answered the same service."""
    NOBODY = "not asked, or not answered by any module"
    """The text of a readout does not tell these two apart."""


@dataclass(frozen=True, slots=True)
class UnreadCode:
    """A code of before whose list its module did not give in the second readout."""

    code: Code
    why: Unread


@dataclass(frozen=True, slots=True)
class Change:
    """One named thing in both readouts, as text; None where one does not give it."""

    name: str
    before: str | None
    after: str | None


@dataclass(frozen=True, slots=True)
class ReadoutComparison:
    """What two readouts say of the same vehicle, before and after.

    ``cleared`` gives the reasons for which codes must have been cleared between the
    two, as the vehicle's own counts show; empty where nothing shows it. A code is
    ``gone`` where its module gave the list again that had held it (03, 07, 0A, or 19
    where that had told it), and the code does not stand in it; else it is ``unread``.
    ``problems`` are what could not be read, each with "before" or "after".
    """

    tests: tuple[TestChange, ...]
    gone: tuple[Code, ...]
    unread: tuple[UnreadCode, ...]
    come: tuple[Code, ...]
    stayed: tuple[Code, ...]
    readiness: tuple[Change, ...]
    counters: tuple[Change, ...]
    counts: tuple[Change, ...]
    identity: tuple[Change, ...]
    cleared: tuple[str, ...]
    problems: tuple[tuple[str, TranscriptProblem], ...] = ()

    def to_json(self) -> dict[str, object]:
        """Return the comparison as ``compare --format json`` prints it."""
        return {
            "self_tests": [_test_json(change) for change in self.tests],
            "codes": {
                "gone": [_code_json(c) for c in self.gone],
                "come": [_code_json(c) for c in self.come],
                "stayed": [_code_json(c) for c in self.stayed],
                "not_read": [
                    {**_code_json(u.code), "why": u.why.value} for u in self.unread
                ],
            },
            "readiness": [_change_json(c) for c in self.readiness],
            "counters": [_change_json(c) for c in self.counters],
            "counts": [_change_json(c) for c in self.counts],
            "identity": [_change_json(c) for c in self.identity],
            "cleared_between": list(self.cleared),
            "problems": [
                {
                    "readout": side,
                    "line": one.line,
                    "responder": one.responder,
                    "problem": one.problem,
                }
                for side, one in self.problems
            ],
        }


def margin(test: SelfTest) -> Decimal | None:
    """Return how far inside its limits a value lies, as a share of the allowed band.

    0 at a limit, 0.5 in the middle of two limits, negative outside. With one limit it
    is the distance to that limit as a share of the limit itself, in its unit (in raw
    words where the scaling is unknown). None where the test has not run, has no limit,
    has a band of no width, or has limits that no value can meet.
    """
    if test.outcome not in {"passed", "failed"}:
        return None
    uasid = int(test.uasid, 16)
    here, low, high = (_amount(word, uasid) for word in test.words)
    if test.has_minimum and test.has_maximum:
        room, band = min(here - low, high - here), high - low
    elif test.has_maximum:
        room, band = high - here, abs(high)
    elif test.has_minimum:
        room, band = here - low, abs(low)
    else:
        return None
    return None if not band else (room / band).quantize(Decimal("0.001"))


def _amount(word: int, uasid: int) -> Decimal:
    value = scaled(word, uasid)
    return Decimal(number(word, uasid)) if value is None else value


def clear_reasons(before: Readout, after: Readout) -> tuple[str, ...]:
    """Return what shows that codes were cleared after ``before`` was captured."""
    reasons = ["a clear is answered within the readout"] if after.cleared else []
    for identifier, name in SINCE_CLEARED:
        old, new = before.value(identifier), after.value(identifier)
        if old is not None and new is not None and new < old:
            reasons.append(f"{name}: fell from {old:f} to {new:f}")
    ran = {t.place for t in before.self_tests if t.outcome != "not-run"}
    empty = [t.place for t in after.self_tests if t.outcome == "not-run"]
    emptied = sorted("/".join(place[1:]) for place in empty if place in ran)
    if emptied:
        reasons.append(f"self-tests became all zero: {', '.join(emptied)}")
    return tuple(reasons)


def compare(before: Readout, after: Readout) -> ReadoutComparison:
    """Return what changed from ``before`` to ``after``."""
    old = {t.place: t for t in before.self_tests}
    new = {t.place: t for t in after.self_tests}
    absent = [c for c in before.codes if c not in after.codes]
    unread = {c: why for c in absent if (why := _why_unread(c, before, after))}
    return ReadoutComparison(
        tests=tuple(
            TestChange(place, old.get(place), new.get(place))
            for place in sorted({*old, *new})
        ),
        gone=tuple(c for c in absent if c not in unread),
        unread=tuple(UnreadCode(c, why) for c, why in unread.items()),
        come=tuple(c for c in after.codes if c not in before.codes),
        stayed=tuple(c for c in after.codes if c in before.codes),
        readiness=_changes(_readiness(before), _readiness(after)),
        counters=_changes(_counters(before), _counters(after)),
        counts=_changes(_counts(before), _counts(after)),
        identity=_changes(identity(before), identity(after)),
        cleared=clear_reasons(before, after),
        problems=(
            *(("before", problem) for problem in before.problems),
            *(("after", problem) for problem in after.problems),
        ),
    )


_SERVICES = {"confirmed": "03", "pending": "07", "permanent": "0A"}


def _why_unread(code: Code, before: Readout, after: Readout) -> Unread | None:
    """Return why the list that had held a code was not read again; None if it was."""
    who, service = code.responder, _SERVICES[code.kind]
    if not before.has_answered(who, service) and before.has_answered(who, "19"):
        service = "19"
    if after.has_answered(who, service):
        return None
    if (who, service) in after.refused:
        return Unread.REFUSED
    if (who, service) in after.unread:
        return Unread.UNREADABLE
    others = (*after.answered, *after.refused, *after.unread)
    return Unread.SILENT if service in {s for _, s in others} else Unread.NOBODY


def identity(readout: Readout) -> dict[str, str]:
    """Return what tells one vehicle from another, by name; absent where not read."""
    found = {"VIN": readout.vin or ""}
    found["responders"] = " ".join(readout.responders)
    for who, text in readout.calibration_ids:
        _join(found, f"calibration ids of {who}", text)
    for who, text in readout.cvns:
        _join(found, f"calibration verification numbers of {who}", text)
    for who, text in readout.module_names:
        _join(found, f"module name of {who}", text)
    for item in readout.parameters:
        if int(item.id, 16) % 0x20 == 0:
            found[f"support map {item.service}/{item.id} of {item.responder}"] = (
                item.data
            )
        elif (item.service, item.id) == ("01", "5F"):  # SAE J1979-DA, from memory
            found[f"emission requirement of {item.responder}"] = item.data
    for value in readout.values:
        if value.service == "01" and value.id in {"1C", "51", "13", "1D"}:
            found[f"{value.name} of {value.responder}"] = str(value.meaning)
    for one in readout.monitors:
        if one.cycle == SINCE_CLEAR and one.supported:
            _join(found, f"monitors of {one.responder}", one.monitor)
    return {name: text for name, text in found.items() if text}


def _join(found: dict[str, str], name: str, text: str) -> None:
    found[name] = f"{found[name]} {text}" if name in found else text


def _readiness(readout: Readout) -> dict[str, str]:
    return {
        f"{monitor_in_words(m.monitor)} of {m.responder}": "complete"
        if m.complete
        else "not complete"
        for m in readout.monitors
        if m.supported and m.cycle == SINCE_CLEAR
    }


def _counters(readout: Readout) -> dict[str, str]:
    return {f"{c.name} of {c.responder}": str(c.count) for c in readout.counters}


def _counts(readout: Readout) -> dict[str, str]:
    named = (
        *SINCE_CLEARED,
        (ODOMETER, "odometer, km"),
        ("21", "distance with the lamp on, km"),
    )
    values = ((name, readout.value(identifier)) for identifier, name in named)
    return {name: f"{value:f}" for name, value in values if value is not None}


def _changes(before: dict[str, str], after: dict[str, str]) -> tuple[Change, ...]:
    return tuple(
        Change(name, before.get(name), after.get(name))
        for name in dict.fromkeys([*before, *after])
    )


def _code_json(code: Code) -> dict[str, object]:
    return {"code": code.text, "kind": code.kind, "responder": code.responder}


def _change_json(change: Change) -> dict[str, object]:
    return {"name": change.name, "before": change.before, "after": change.after}


def _test_json(change: TestChange) -> dict[str, object]:
    responder, mid, tid = change.place
    return {
        "responder": responder,
        "mid": mid,
        "tid": tid,
        "changed": change.changed,
        "before": _side(change.before),
        "after": _side(change.after),
    }


def _side(test: SelfTest | None) -> dict[str, object] | None:
    if test is None:
        return None
    share = margin(test)
    return {
        "value": _text(test.value),
        "minimum": _text(test.minimum),
        "maximum": _text(test.maximum),
        "unit": test.unit,
        "outcome": test.outcome.value,
        "margin": None if share is None else f"{share:f}",
        "raw_value": test.raw_value,
        "raw_minimum": test.raw_minimum,
        "raw_maximum": test.raw_maximum,
    }


def _text(value: Decimal | None) -> str | None:
    return None if value is None else f"{value:f}"


def changed(changes: Iterable[Change]) -> tuple[Change, ...]:
    """Return those that both readouts give and that differ."""
    return tuple(
        c
        for c in changes
        if c.before is not None and c.after is not None and c.before != c.after
    )
