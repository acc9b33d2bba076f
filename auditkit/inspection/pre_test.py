"""The record before an inspection: what a station would see, and what its rules answer.

The station's own procedure decides; this only shows what the rules, as far as they were
read, would answer. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass

from auditkit.errors import InputError
from auditkit.inspection.beside_packet import BesidePacket
from auditkit.inspection.conditions import condition_reasons
from auditkit.inspection.heard import Heard, counted, heard, listed, since_clear
from auditkit.inspection.jurisdiction import (
    InspectionAnswer,
    Jurisdiction,
    RuleReading,
    RuleSource,
)
from auditkit.inspection.module_record import ModuleRecord, module_record
from auditkit.inspection.pre_test_marks import PRE_TEST_FORMAT
from auditkit.inspection.readiness_rule import readiness_reasons
from auditkit.inspection.reasons import A, Case, Lamp, Reason, undecided
from auditkit.inspection.scope import scope_reasons
from auditkit.inspection.sound import unsound
from auditkit.inspection.vehicle import vin_differs, vin_marks
from auditkit.obd import Readout
from auditkit.obd.comparison import changed, compare
from auditkit.obd.monitors import CONTINUOUS, monitors_in_words
from auditkit.obd.responders import module_name

DEFERS = (
    "The inspection station's own procedure decides. The answer here rests on the "
    "published texts that stand beside each line, and on nothing beyond them."
)
_ORDER = (A.FAIL, A.NOT_READY, A.OTHER_TEST, A.UNDECIDED)


@dataclass(frozen=True, slots=True)
class Taken:
    """Where a readout was taken: the file and its digest, when, with what."""

    place: str
    sha256: str
    captured: str = ""
    tool: str = ""
    protocol: str = ""


@dataclass(frozen=True, slots=True)
class RuleResult:
    """The answer of one reading of a jurisdiction's rules, with all reasons.

    ``can_fall`` says that something undecided stands beside an answer that is no
    failure yet.
    """

    rules: str
    title: str
    reading: str
    source: RuleSource
    answer: InspectionAnswer
    reasons: tuple[Reason, ...]
    note: str = ""

    @property
    def can_fall(self) -> bool:
        """Whether what is undecided could make this a failure."""
        held = self.answer in {A.NOT_READY, A.OTHER_TEST}
        return held and any(reason.answer is A.UNDECIDED for reason in self.reasons)

    def what_to_do(self, *, with_options: bool = False) -> tuple[str, ...]:
        """Return what would decide, each once; for who typed a command with options."""
        told = (r.told_to_do if with_options else r.what_to_do for r in self.reasons)
        return tuple(dict.fromkeys(filter(None, told)))


@dataclass(frozen=True, slots=True)
class PreTest:
    """The record: where the readout is from, what each module said, what rules answer.

    ``marks`` are what a station would notice, and what decides nothing by itself.
    ``only`` is the one reading that was asked for, whatever the day. ``beside`` is how
    the vehicle stands to a repair, where its packet was given.
    """

    taken: Taken
    case: Case
    modules: tuple[ModuleRecord, ...]
    marks: tuple[str, ...]
    results: tuple[RuleResult, ...]
    only: str | None = None
    beside: BesidePacket | None = None

    def to_json(self) -> dict[str, object]:
        """Return the record as ``readiness --format json`` prints it."""
        case, vehicle = self.case, self.case.vehicle
        return {
            "format": PRE_TEST_FORMAT,
            "taken": asdict(self.taken),
            "day": case.day.isoformat(),
            "day_known": case.day_known,
            "only_reading": self.only,
            "vehicle": {
                "model_year": vehicle.model_year,
                "ignition": vehicle.ignition,
                "vin_read": case.readout.vin,
                "vin_written": vehicle.vin,
                "vin_differs": vin_differs(case.readout, vehicle.vin),
                "gvwr_lb": vehicle.gvwr_lb,
                "first_used": vehicle.first_used and vehicle.first_used.isoformat(),
                "odometer": vehicle.odometer,
                "known": list(vehicle.said),
            },
            "seen": {
                "lamp": case.seen.bulb.value,
                "lamp_running": case.seen.running.value,
                "connector": case.seen.connector.value,
                "earlier": sorted(case.seen.earlier),
            },
            "modules": [module.to_json() for module in self.modules],
            "marks": list(self.marks),
            "beside": None if self.beside is None else self.beside.to_json(),
            "answers": [
                {
                    "rules": r.rules,
                    "reading": r.reading,
                    "answer": r.answer.value,
                    "can_fall": r.can_fall,
                    "source": str(r.source),
                    "reasons": [
                        {
                            "answer": reason.answer.value,
                            "reason": reason.text,
                            "source": reason.source and str(reason.source),
                            "what_to_do": reason.told_to_do,
                        }
                        for reason in r.reasons
                    ],
                }
                for r in self.results
            ],
            "note": DEFERS,
        }


def pre_test(
    taken: Taken,
    case: Case,
    jurisdictions: Sequence[Jurisdiction],
    only: str | None = None,
) -> PreTest:
    """Return the record, with what each reading of each jurisdiction answers.

    ``only`` names the one reading that is asked; InputError where none is called so.
    """
    results = [r for rules in jurisdictions for r in _results(case, rules, only)]
    return PreTest(
        taken=taken,
        case=case,
        modules=tuple(module_record(case, who) for who in case.modules),
        marks=tuple(_marks(case)),
        results=tuple(results),
        only=only,
    )


def _results(case: Case, rules: Jurisdiction, only: str | None) -> Iterator[RuleResult]:
    names = [reading.name for reading in rules.readings]
    if only is not None and only not in names:
        told = ", ".join(f'"{name}"' for name in names)
        raise InputError(
            f"no interpretation of the rules {rules.name} is called {only!r}",
            where="--reading",
            what_to_do=f"give one of {told}",
        )
    asked: list[RuleReading | None] = [
        reading
        for reading in rules.readings
        if only == reading.name or (only is None and reading.span.holds(case.day))
    ]
    for reading in asked or [None]:
        yield _result(case, rules, reading)


def _result(case: Case, rules: Jurisdiction, reading: RuleReading | None) -> RuleResult:
    reasons = list(scope_reasons(case, rules))
    if out := [r for r in reasons if r.answer is A.NOT_SUBJECT]:
        reasons, answer = out, A.NOT_SUBJECT
    else:
        reasons += unsound(case) if rules.reads_vehicle else ()
        reasons += condition_reasons(case, rules)
        if reading is not None:
            reasons += readiness_reasons(case, rules, reading)
        else:
            text = "no reading of the readiness rule is known for this day"
            asked = "name the day of the inspection, or which reading is asked"
            reasons.append(undecided(text, asked, None, "--date or --reading"))
        given = {reason.answer for reason in reasons}
        answer = next((a for a in _ORDER if a in given), A.ACCEPT)
    return RuleResult(
        rules.name,
        rules.title,
        "" if reading is None else reading.name,
        rules.scope.source if reading is None else reading.source,
        answer,
        tuple(dict.fromkeys(reasons)),
        rules.note,
    )


def _marks(case: Case) -> Iterator[str]:
    """Yield what a station would notice beside the conditions of its rules."""
    readout = case.readout
    yield from vin_marks(readout, case.vehicle.vin)
    if case.earlier:
        yield from _changed(case.earlier[-1], readout)
    for who in case.modules:
        count, own = counted(readout, who), listed(readout, "confirmed", who)
        is_read = heard(readout, who, "03", is_typed=case.is_typed) is Heard.READ
        if count is not None and is_read and count != len(own):
            more = "more are listed than counted" if len(own) > count else "list short"
            yield (
                f"{module_name(readout, who)} counts {count} stored codes and lists "
                f"{len(own)} ({more}): read again until they agree"
            )
    if pending := listed(readout, "pending"):
        yield f"pending: {', '.join(pending)}; the rules here name no pending code"
    waits = [
        m.monitor
        for m in since_clear(readout)
        if not m.complete and m.monitor in CONTINUOUS
    ]
    if waits and case.vehicle.ignition == "spark":
        yield (
            f"{monitors_in_words(waits)} not complete: on spark ignition these are "
            "always complete (ISO 15031-5:2006 B.2)"
        )
    if case.seen.running in {Lamp.LIT, Lamp.FLASHING} and _lamp_is_off(readout):
        yield (
            f"the lamp was {case.seen.running} with the engine running, and no module "
            "commands it on"
        )
    if case.is_typed:
        yield "typed from a display by a person: a station reads the vehicle itself"


def _changed(before: Readout, readout: Readout) -> Iterator[str]:
    """Yield what a vehicle keeps, and differs from the readout before this one."""
    found = compare(before, readout)
    for change in changed(found.identity):
        yield (
            f"{change.name}: {change.after}, and {change.before} in the readout before "
            "it; a vehicle keeps this unless a module or its software was changed"
        )
    for change in changed(found.counters):
        if int(change.after or 0) < int(change.before or 0):
            yield (
                f"{change.name}: {change.after}, less than {change.before} before: a "
                "clear leaves it, and only a full one begins anew (from memory)"
            )


def _lamp_is_off(readout: Readout) -> bool:
    return bool(readout.mil) and not any(on for _, on in readout.mil)
