"""Shop rules: is the vehicle that answers the one that was written down?

Each finding is a question for a person, with the two values side by side, and no
accusation: a module may have been replaced, or a digit mistyped.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.plugin import (
    Parameters,
    Problem,
    Question,
    RepairOrder,
    Rule,
    Severity,
    hookimpl,
    readout_of,
    readouts_of,
    rule,
    vin,
)


@rule("vin-differs", question=Question.SAME_VEHICLE)
def vin_differs(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a VIN read from the vehicle that is not the one written down.

    What it checks
    Each VIN that a readout gives (service 09 InfoType 02) equals the VIN of the opening
    and that of the readout before it.

    Why it matters
    A pass of another vehicle proves nothing about this one.

    Example
    Written 0ZZTB1A18CA000123, read 0ZZTB1A1XCA000124.

    What to do
    Compare both with the plate on the vehicle. Amend a mistyped VIN; record why where a
    module came from another vehicle; capture a new readout otherwise.
    """
    expected = order.vehicle("vin")
    for event, readout in readouts_of(order):
        if readout.vin is None:
            continue
        if expected and readout.vin != expected:
            yield Problem(
                f"the VIN read is {readout.vin}; before it stood {expected}: is this "
                "the same vehicle?",
                "compare both with the vehicle's plate, then amend or capture again",
                event.index,
            )
        expected = expected or readout.vin


@rule("vin-not-read", question=Question.SAME_VEHICLE, severity=Severity.ADVISORY)
def vin_not_read(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a repair whose readouts after it give no VIN.

    What it checks
    At least one readout after the repair gives the VIN.

    Why it matters
    Without it, that the readout is of this vehicle is the shop's word.

    Example
    Only services 03 and 06 were captured after the repair.

    What to do
    Capture service 09 InfoType 02 too. A vehicle built before it was asked for gives
    none: then compare calibration ids and counters.
    """
    repair = order.last_repair
    if repair is None:
        return
    after = order.after(repair.index, "readout")
    if after and all(readout_of(e).vin is None for e in after):
        yield Problem(
            "no readout after the repair gives the VIN",
            "read the VIN that the vehicle itself gives, where it has one (service 09 "
            "InfoType 02)",
            after[-1].index,
        )


@rule(
    "vin-check-digit-differs",
    question=Question.SAME_VEHICLE,
    severity=Severity.ADVISORY,
)
def check_digit(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a written VIN whose position 9 is not its check digit.

    What it checks
    Position 9 of the VIN written in the opening against 49 CFR 565.15(c).

    Why it matters
    It finds a mistyped character. The check digit is obligatory in the U.S. and Canada
    only, so for a vehicle of another market this is no more than a note.

    Example
    W0L000051T2123456: position 9 is 1, the check digit would be 5.

    What to do
    Compare with the vehicle's plate; amend the opening where it was mistyped.
    """
    text = order.vehicle("vin")
    if order.opening and vin.is_well_formed(text) and not vin.has_check_digit(text):
        yield Problem(
            f"position 9 of VIN {text} is {text[8]}; the check digit would be "
            f"{vin.check_digit(text)} (obligatory in the U.S. and Canada only)",
            "compare the VIN with the vehicle's plate",
            order.opening.index,
        )


@rule("model-year-differs", question=Question.SAME_VEHICLE, severity=Severity.ADVISORY)
def model_year(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a model year that is not the one of the VIN.

    What it checks
    The model year of the opening against positions 7 and 10 of its VIN (49 CFR
    565.15(b)), where the VIN has its check digit.

    Why it matters
    What an inspection asks depends on the model year.

    Example
    Written 2010, the VIN says 2012.

    What to do
    Amend the one that was mistyped.
    """
    text, year = order.vehicle("vin"), order.vehicle("model_year")
    told = vin.model_year(text) if vin.has_check_digit(text) else None
    if order.opening and told is not None and year and str(told) != year:
        yield Problem(
            f"the model year written is {year}; the VIN says {told}",
            "amend the one that was mistyped",
            order.opening.index,
        )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (
        vin_differs,
        vin_not_read,
        check_digit,
        model_year,
    )
