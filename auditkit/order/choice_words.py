"""What the choices of an event's members mean, in words that fit into a sentence. Pure.

A record is written with short choices, such as ``dash-column-or-seat``; people read
these. A choice that is not here (a plugin's) is read without its hyphens.
"""

from __future__ import annotations

from collections.abc import Mapping

from auditkit.text.values import Json

SETUPS = {
    "removed": "off the vehicle",
    "engine-off": "on the vehicle, engine off",
    "cranking": "on the vehicle, while the engine was cranked",
    "running": "on the vehicle, engine running",
}
TESTED_PARTS = {
    "old": "the old part",
    "new": "the new part",
    "known-good": "a known-good part",
}
PLACES = {
    "engine-bay": "in the engine bay",
    "below": "below the vehicle",
    "dash-column-or-seat": "in the dash, the steering column or a seat",
    "orange-cables-in-reach": "within reach of orange (high-voltage) cables",
    "elsewhere": "at another place on the vehicle",
}
REASONS = {
    "declined": "the repair was declined",
    "not-repaired-here": "not repaired here",
    "known-history": "known from before",
    "maker-says-ignore": "the vehicle maker says to ignore it",
    "watched": "it is watched",
    "made-by-a-test": "made by a test",
    "other-order": "repaired under another order",
}
ACTIONS = {
    "replaced": "replaced",
    "repaired": "repaired",
    "adjusted": "adjusted",
    "cleaned": "cleaned",
    "reprogrammed": "reprogrammed",
    "relearned": "relearned",
    "regenerated": "regenerated",
}
OLD_PARTS = {
    "kept": "the shop keeps it",
    "returned-to-customer": "given back to the customer",
    "returned-to-supplier": "sent back to the supplier",
    "scrapped": "scrapped",
}
STEPS = {
    "relearn": "values were learned anew",
    "regeneration": "the filter was regenerated",
    "fluid-service": "a fluid was changed or filled up",
    "adaptation": "a part was adapted to its module",
}
STATES = {
    "complete": "complete",
    "not-complete": "not complete",
    "not-supported": "not supported",
}
OUTCOMES = {"passed": "passed", "failed": "failed", "not-run": "has not run"}
ROLES = {"technician": "technician", "manager": "manager", "onlooker": "onlooker"}
IGNITIONS = {"spark": "spark", "compression": "compression"}

WORK = {
    **{setup: f"a test {words}" for setup, words in SETUPS.items()},
    "cranking": "a test on the vehicle while the engine is cranked",
    "repair": "a repair",
    "programming": "programming a module",
    "relearning": "learning values anew",
    "regeneration": "regenerating a filter",
    "road": "a drive",
}
"""What kind of work a step is (``StepKind``)."""

CHOICES: Mapping[str, Mapping[str, str]] = {
    "action": ACTIONS,
    "ignition": IGNITIONS,
    "of": TESTED_PARTS,
    "old_part": OLD_PARTS,
    "outcome": OUTCOMES,
    "reason": REASONS,
    "role": ROLES,
    "setup": SETUPS,
    "state": STATES,
    "step": STEPS,
    "where": PLACES,
}
"""By the member's name. A system is read as it is named."""


def in_words(name: str, value: Json) -> Json:
    """Return the value of a member in words where it is a choice, or a list of such."""
    if isinstance(value, list):
        return [in_words(name, one) for one in value]
    if not isinstance(value, str):
        return value
    if name in CHOICES:
        return CHOICES[name].get(value, value.replace("-", " "))
    return value.replace("-", " ") if name == "system" else value
