"""The resistance of test leads, taken off what was read through them. Pure."""

from __future__ import annotations

from auditkit.bench.readings import Readings
from auditkit.bench.uncertainty import Uncertain, value_of
from auditkit.errors import InputError

LEADS = "lead resistance"
MOST_LEADS = 0.5
"""ohm; common practice, no published source."""
_MOST_SHARE = 0.1


def without_leads(
    readings: Readings, resistance: Uncertain, notes: list[str]
) -> Uncertain:
    """Return a resistance without that of the leads, where it was read; notes say so.

    Raises InputError where the leads have more than 0.5 ohm and more than a tenth of
    what was read (our choice): they were measured, not the part.
    """
    if not readings.has(LEADS):
        return resistance
    leads = readings.one(LEADS)
    if value_of(leads) > max(MOST_LEADS, _MOST_SHARE * value_of(resistance)):
        raise InputError(
            f"the leads have {value_of(leads):g} ohm of {value_of(resistance):g} read",
            what_to_do="take sound leads, short them, and read both again",
        )
    if value_of(leads) > MOST_LEADS:
        notes.append(f"the leads have more than {MOST_LEADS:g} ohm: look at them")
    found: Uncertain = resistance - leads
    return found
