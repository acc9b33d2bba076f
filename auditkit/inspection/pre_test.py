"""What an inspection station would see in a readout, and what its rule answers. Pure.

The station's own procedure decides; this only shows what the rule, as far as it was
read, would answer.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from auditkit.inspection.jurisdiction import (
    InspectionAnswer,
    Jurisdiction,
    PermanentRule,
    RuleReading,
    RuleSource,
)
from auditkit.obd import Readout
from auditkit.obd.monitors import SINCE_CLEAR
from auditkit.obd.parameters import DISTANCE, WARM_UPS

DEFERS = (
    "The inspection station's own procedure decides; this shows the rule as far as it "
    "was read."
)


@dataclass(frozen=True, slots=True)
class Vehicle:
    """What a rule asks of the vehicle: model year, and spark or compression."""

    model_year: int
    ignition: str


@dataclass(frozen=True, slots=True)
class Reason:
    """What led to an answer, and the source that it rests on (None: the readout)."""

    answer: InspectionAnswer
    text: str
    source: RuleSource | None


@dataclass(frozen=True, slots=True)
class ReadinessResult:
    """The answer of one reading of a jurisdiction's rule, with all reasons."""

    jurisdiction: str
    reading: str
    source: RuleSource
    answer: InspectionAnswer
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class PreTest:
    """The record before the test: what the vehicle says, and each reading's answer."""

    vehicle: Vehicle
    lamp_commanded: bool | None
    lamp_seen: str
    confirmed: tuple[str, ...]
    pending: tuple[str, ...]
    permanent: tuple[str, ...]
    incomplete: tuple[str, ...]
    complete: tuple[str, ...]
    warm_ups: Decimal | None
    distance: Decimal | None
    results: tuple[ReadinessResult, ...]

    def to_json(self) -> dict[str, object]:
        """Return the record as ``readiness --format json`` prints it."""
        return {
            "model_year": self.vehicle.model_year,
            "ignition": self.vehicle.ignition,
            "lamp_commanded": self.lamp_commanded,
            "lamp_seen": self.lamp_seen,
            "codes": {
                "confirmed": list(self.confirmed),
                "pending": list(self.pending),
                "permanent": list(self.permanent),
            },
            "complete": list(self.complete),
            "not_complete": list(self.incomplete),
            "warm_ups_since_clear": None
            if self.warm_ups is None
            else f"{self.warm_ups:f}",
            "distance_since_clear_km": None
            if self.distance is None
            else f"{self.distance:f}",
            "answers": [
                {
                    "rules": r.jurisdiction,
                    "reading": r.reading,
                    "answer": r.answer.value,
                    "source": str(r.source),
                    "reasons": [
                        {
                            "answer": reason.answer.value,
                            "reason": reason.text,
                            "source": reason.source and str(reason.source),
                        }
                        for reason in r.reasons
                    ],
                }
                for r in self.results
            ],
            "note": DEFERS,
        }


def ignition_of(readout: Readout) -> str | None:
    """Return spark or compression, as the readout's monitors tell; None where none do.

    PID 01 byte B bit 3 decides, not the fuel type (ISO 15031-5:2006 Table B.2).
    """
    names = {m.monitor for m in readout.monitors}
    if not names:
        return None
    return "compression" if "nmhc-catalyst" in names else "spark"


def pre_test(
    readout: Readout, jurisdiction: Jurisdiction, vehicle: Vehicle, *, lamp_seen: str
) -> PreTest:
    """Return what the station would see, and what each reading of the rule answers.

    ``lamp_seen`` is ``lit``, ``dark`` or ``not-looked``: the bulb check is a person's.
    """
    monitors = _worst(readout)
    return PreTest(
        vehicle=vehicle,
        lamp_commanded=any(on for _, on in readout.mil) if readout.mil else None,
        lamp_seen=lamp_seen,
        confirmed=_texts(readout, "confirmed"),
        pending=_texts(readout, "pending"),
        permanent=_texts(readout, "permanent"),
        incomplete=tuple(name for name, done in monitors.items() if not done),
        complete=tuple(name for name, done in monitors.items() if done),
        warm_ups=readout.value(WARM_UPS),
        distance=readout.value(DISTANCE),
        results=tuple(
            _result(readout, jurisdiction, reading, vehicle, lamp_seen)
            for reading in jurisdiction.readings
        ),
    )


def _worst(readout: Readout) -> dict[str, bool]:
    """Return supported monitors: complete only where no responder says otherwise."""
    found: dict[str, bool] = {}
    for one in readout.monitors:
        if one.cycle == SINCE_CLEAR and one.supported:
            done = one.complete is True
            found[one.monitor] = found.get(one.monitor, True) and done
    return found


def _texts(readout: Readout, kind: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(c.text for c in readout.codes if c.kind == kind))


def _result(
    readout: Readout,
    rules: Jurisdiction,
    reading: RuleReading,
    vehicle: Vehicle,
    lamp_seen: str,
) -> ReadinessResult:
    reasons = [
        *_lamp(readout, rules, lamp_seen),
        *_stored(readout, rules, vehicle),
        *_readiness(readout, rules, reading, vehicle),
    ]
    if vehicle.model_year < rules.first_year:
        text = f"the rule begins with model year {rules.first_year}"
        reasons = [Reason(InspectionAnswer.UNDECIDED, text, reading.source)]
    answers = {reason.answer for reason in reasons}
    order = (
        InspectionAnswer.FAIL,
        InspectionAnswer.NOT_READY,
        InspectionAnswer.UNDECIDED,
    )
    answer = next((a for a in order if a in answers), InspectionAnswer.ACCEPT)
    return ReadinessResult(
        rules.name, reading.name, reading.source, answer, tuple(reasons)
    )


def _lamp(readout: Readout, rules: Jurisdiction, lamp_seen: str) -> list[Reason]:
    if not readout.mil:
        return [
            Reason(
                InspectionAnswer.UNDECIDED, "the readiness was not read (PID 01)", None
            )
        ]
    found = []
    if any(on for _, on in readout.mil):
        text = "the lamp is commanded on"
        found.append(Reason(InspectionAnswer.FAIL, text, rules.lamp))
    else:
        found.append(
            Reason(InspectionAnswer.ACCEPT, "the lamp is not commanded on", rules.lamp)
        )
    if lamp_seen == "dark":
        text = "the lamp did not light in the bulb check"
        found.append(Reason(InspectionAnswer.FAIL, text, rules.bulb))
    elif lamp_seen == "lit":
        found.append(
            Reason(
                InspectionAnswer.ACCEPT, "the lamp lit in the bulb check", rules.bulb
            )
        )
    else:
        text = "the lamp in the bulb check: not looked, so not decided"
        found.append(Reason(InspectionAnswer.UNDECIDED, text, rules.bulb))
    return found


def _stored(readout: Readout, rules: Jurisdiction, vehicle: Vehicle) -> list[Reason]:
    found = []
    confirmed = ", ".join(_texts(readout, "confirmed"))
    if rules.codes is not None:
        if "03" not in readout.reported:
            found.append(
                Reason(InspectionAnswer.UNDECIDED, "service 03 was not read", None)
            )
        elif confirmed:
            text = f"stored codes are reported: {confirmed}"
            found.append(Reason(InspectionAnswer.FAIL, text, rules.codes))
    if rules.permanent is not None:
        found += _permanent(readout, rules.permanent, vehicle)
    return found


def _permanent(readout: Readout, rule: PermanentRule, vehicle: Vehicle) -> list[Reason]:
    codes = ", ".join(_texts(readout, "permanent"))
    if vehicle.model_year < rule.first_year:
        return []
    if "0A" not in readout.reported:
        text = "the permanent codes were not read (service 0A)"
        return [Reason(InspectionAnswer.UNDECIDED, text, rule.source)]
    if not codes:
        return [Reason(InspectionAnswer.ACCEPT, "no permanent code", rule.source)]
    warm, far = readout.value(WARM_UPS), readout.value(DISTANCE)
    need = f"{rule.warm_ups} warm-ups and {rule.distance_km} km since the clear"
    if warm is None or far is None:
        text = f"permanent {codes}; whether {need} exempt was not read (PIDs 30, 31)"
        return [Reason(InspectionAnswer.UNDECIDED, text, rule.source)]
    have = f"{warm:f} warm-ups and {far:f} km"
    if warm >= rule.warm_ups and far >= rule.distance_km:
        text = f"permanent {codes}, exempt: {have}, needed: {need}"
        return [Reason(InspectionAnswer.ACCEPT, text, rule.source)]
    text = f"permanent {codes}, not exempt: {have}, needed: {need}"
    return [Reason(InspectionAnswer.FAIL, text, rule.source)]


_CONTINUOUS = frozenset({"misfire", "fuel-system", "components"})


def _readiness(
    readout: Readout, rules: Jurisdiction, reading: RuleReading, vehicle: Vehicle
) -> list[Reason]:
    allowance = next(
        (
            a
            for a in reading.allowances
            if a.ignition in {vehicle.ignition, "any"}
            and a.first_year <= vehicle.model_year <= a.last_year
        ),
        None,
    )
    if allowance is None:
        text = f"no row for {vehicle.ignition} ignition of {vehicle.model_year}"
        return [Reason(InspectionAnswer.UNDECIDED, text, reading.source)]
    waiting = [
        name
        for name, done in _worst(readout).items()
        if not done and (allowance.continuous or name not in _CONTINUOUS)
    ]
    beyond = [name for name in waiting if name not in allowance.monitors]
    named = ", ".join(sorted(allowance.monitors))
    most = f"at most {allowance.count} of any" if allowance.count else "none"
    allowed = f"only {named}" if named else most
    if not readout.mil:
        return []
    if not waiting:
        return [
            Reason(InspectionAnswer.ACCEPT, "all monitors are complete", reading.source)
        ]
    text = f"not complete: {', '.join(waiting)}; allowed: {allowed}"
    fits = not beyond if named else len(waiting) <= allowance.count
    answer = InspectionAnswer.ACCEPT if fits else rules.not_ready
    return [Reason(answer, text, reading.source)]
