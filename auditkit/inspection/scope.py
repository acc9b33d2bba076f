"""Whether a vehicle is subject to a jurisdiction's test on a day. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from auditkit.inspection.jurisdiction import Jurisdiction
from auditkit.inspection.reasons import A, Case, Reason, undecided
from auditkit.inspection.vehicle import ELECTRIC


def scope_reasons(case: Case, rules: Jurisdiction) -> Iterator[Reason]:
    """Yield why a vehicle is not subject, or why that cannot be told."""
    scope, vehicle = rules.scope, case.vehicle
    if case.day >= rules.span.ended:
        text = f"these rules ended on {rules.span.ended}"
        yield Reason(A.NOT_SUBJECT, text, scope.source)
    elif case.day < rules.span.effective:
        text = f"these rules began on {rules.span.effective}; none is known before"
        yield undecided(text, "ask the station", scope.source)
    if vehicle.ignition == ELECTRIC and not vehicle.conflict:
        if not scope.electric:
            text = "a vehicle without a combustion engine"
            yield Reason(A.NOT_SUBJECT, text, scope.source)
        return
    yield from _first_used(case, rules) if scope.first_used else _years(case, rules)
    most = scope.most_gvwr_lb
    if most is not None and vehicle.gvwr_lb is not None and vehicle.gvwr_lb > most:
        text = (
            f"{vehicle.gvwr_lb} lb gross weight rating; the rule reaches to {most} lb"
        )
        yield Reason(A.NOT_SUBJECT, text, scope.source)


def _first_used(case: Case, rules: Jurisdiction) -> Iterator[Reason]:
    """Yield by the day of first use; a model year near to it does not tell."""
    scope, vehicle = rules.scope, case.vehicle
    firsts = [
        first
        for name, first in scope.first_used.items()
        if vehicle.conflict or vehicle.ignition in {None, name}
    ]
    if not firsts:
        text = f"{vehicle.ignition} ignition is not tested"
        yield Reason(A.NOT_SUBJECT, text, scope.source)
        return
    day, year = vehicle.first_used, vehicle.model_year
    is_before = day is not None and day < min(firsts)
    if is_before or (day is None and year is not None and year < min(firsts).year - 1):
        text = f"first used before {min(firsts)}, or of an older model year"
        yield Reason(A.NOT_SUBJECT, text, scope.source)
    elif day is None and (year is None or year <= max(firsts).year):
        text = f"whether it was first used before {max(firsts)} is not known"
        yield undecided(
            text, "find out the day of first use", scope.source, "--first-used"
        )
    elif day is not None and day < max(firsts):
        text = f"first used on {day}: whether it is subject hangs on the ignition"
        yield undecided(
            text, "find out which ignition it has", scope.source, "--ignition"
        )


def _years(case: Case, rules: Jurisdiction) -> Iterator[Reason]:
    scope, vehicle = rules.scope, case.vehicle
    year, ignition = vehicle.model_year, vehicle.ignition
    if year is None:
        text = "the model year is not known"
        yield undecided(text, "find out the model year", scope.source, "--model-year")
        return
    certain = None if vehicle.conflict else ignition
    firsts = [
        first for name, first in scope.first_year.items() if certain in {None, name}
    ]
    if not firsts:
        yield Reason(A.NOT_SUBJECT, f"{certain} ignition is not tested", scope.source)
    elif year < min(firsts):
        text = f"model year {year}; the rule begins with {min(firsts)}"
        yield Reason(A.NOT_SUBJECT, text, scope.source)
    elif year < max(firsts):
        text = f"model year {year}: whether it is subject hangs on the ignition"
        yield undecided(
            text, "find out which ignition it has", scope.source, "--ignition"
        )
    age = case.day.year - year
    if scope.oldest is not None and age > scope.oldest:
        text = f"{age} years old; the rule ends at {scope.oldest}"
        yield Reason(A.NOT_SUBJECT, text, scope.source)
    elif scope.youngest is not None and age < scope.youngest:
        text = f"{age} years old; the rule begins at {scope.youngest}"
        yield Reason(A.NOT_SUBJECT, text, scope.source)
    for doubt in rules.doubts:
        fits = doubt.ignition in {"any", ignition}
        if fits and doubt.first_year <= year <= doubt.last_year:
            yield undecided(doubt.text, "ask the station", doubt.source)
