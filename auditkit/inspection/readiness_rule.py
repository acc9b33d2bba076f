"""Readiness as one reading of a jurisdiction's rule asks it. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from auditkit.inspection.heard import engine_modules, worst
from auditkit.inspection.jurisdiction import Allowance, Jurisdiction, RuleReading
from auditkit.inspection.reasons import NOT_READY, A, Case, Reason, undecided
from auditkit.obd.monitors import CONTINUOUS, monitors_in_words


def readiness_reasons(
    case: Case, rules: Jurisdiction, reading: RuleReading
) -> Iterator[Reason]:
    """Yield what a reading says of the monitors, and of an earlier visit."""
    if reading.always is not None:
        text = "whatever readiness says, another test is made"
        yield Reason(reading.always, text, reading.source)
        return
    if not (reading.allowances or reading.required) or case.vehicle.conflict:
        return  # a conflict is told by whoever asks whether the readout is sound
    found = list(_monitors(case, reading))
    found += _retest(case, rules)
    second = rules.second_not_ready
    for reason in found:
        if reason.answer is not A.NOT_READY or second is None:
            yield reason
        elif NOT_READY in case.seen.earlier:
            text = f"{reason.text}; and so it was at an earlier visit"
            yield Reason(second.answer, text, second.source)
        else:
            told = f"a second visit like this ends in {second.answer}: {second.source}"
            yield Reason(reason.answer, f"{reason.text}; {told}", reason.source)


def _monitors(case: Case, reading: RuleReading) -> Iterator[Reason]:
    states = worst(case.readout)
    if not engine_modules(case.readout):
        yield _nothing(case, reading)
        return
    waiting = [name for name, done in states.items() if not done]
    if asked := [name for name in waiting if name in reading.required]:
        text = f"not complete: {monitors_in_words(asked)}, which has to be in any case"
        yield Reason(reading.beyond, text, reading.source)
        return
    row = _row(case, reading)
    if row is None:
        year, ignition = case.vehicle.model_year, case.vehicle.ignition
        if ignition is None:
            text = "the ignition is not known"
            yield undecided(
                text, "find out which ignition it has", reading.source, "--ignition"
            )
            return
        text = f"no row is known for {ignition} ignition of model year {year}"
        yield undecided(text, "ask the station", reading.source)
        return
    counting = [n for n in waiting if row.continuous or n not in CONTINUOUS]
    if not counting:
        ignored = f" ({monitors_in_words(waiting)} does not count)" if waiting else ""
        text = f"every supported monitor is complete{ignored}"
        yield Reason(A.ACCEPT, text, reading.source)
        return
    beyond = [name for name in counting if name not in row.monitors]
    named = monitors_in_words(sorted(row.monitors))
    most = f"at most {row.count} of any" if row.count else "none"
    text = f"not complete: {monitors_in_words(counting)}; allowed: "
    text += f"only {named}" if named else most
    fits = not beyond if named else len(counting) <= row.count
    yield Reason(A.ACCEPT if fits else reading.beyond, text, reading.source)


def _nothing(case: Case, reading: RuleReading) -> Reason:
    """Return what it means that no monitor of an engine is supported."""
    only = monitors_in_words(worst(case.readout))
    text = "no monitor of an engine is supported by any module that answered"
    text += f" (only {only})" if only else ""
    if case.readout.mil and reading.unsupported_counts:
        text += "; not supported counts like not complete"
        return Reason(reading.beyond, text, reading.source)
    again = (
        "read the readiness of the engine module again (PIDs 00, 01), engine running"
    )
    if case.is_typed:
        again = "type the monitors of the engine module as displayed"
    if not case.readout.monitors:
        return undecided("readiness was not read", again, reading.source)
    return undecided(f"{text}: nothing was evaluated", again, reading.source)


def _row(case: Case, reading: RuleReading) -> Allowance | None:
    year = case.vehicle.model_year
    rows = (
        row
        for row in reading.allowances
        if year is not None
        and row.first_year <= year <= row.last_year
        and row.ignition in {"any", case.vehicle.ignition}
    )
    return next(rows, None)


def _retest(case: Case, rules: Jurisdiction) -> Iterator[Reason]:
    waiting = [name for name, done in worst(case.readout).items() if not done]
    for code in sorted(case.seen.earlier - {NOT_READY}):
        for rule in rules.retests:
            if not any(first <= code <= last for first, last in rule.codes):
                continue
            asked = [name for name in waiting if name in rule.monitors]
            if asked:
                text = f"failed with {code} before, and not complete: "
                text += monitors_in_words(asked)
                yield Reason(rule.answer, text, rule.source)
