"""What a responder is, by its CAN id, and what it was asked and answered. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from auditkit.obd.transcript import UNKNOWN

if TYPE_CHECKING:
    from auditkit.obd.readout import Readout

# ISO 15765-4:2005 Table 3 recommends these two; the rest is the maker's.
_NAMES = {"7E8": "engine module", "7E9": "transmission module"}
SERVICES = {
    "01": "live data",
    "02": "freeze frame",
    "03": "stored codes",
    "06": "self-tests (mode $06)",
    "07": "pending codes",
    "09": "vehicle information",
    "0A": "permanent codes",
    "19": "codes with their status",
}
"""Services that a readout is looked at for, in plain words."""

UNREAD = "answered, could not be read"
"""Said of an answer that was given, and of which nothing could be taken."""


def module_name(readout: Readout, responder: str) -> str:
    """Return what a module is: by its own name, by its id, else as a module."""
    own = dict(readout.module_names).get(responder)
    if own is None or responder == UNKNOWN:
        return module_in_words(responder)
    return f"{own} {responder}"


def module_in_words(responder: str) -> str:
    """Return what a module is, where nothing is known of it but its id."""
    if responder == UNKNOWN:
        return "a module that the text does not name"
    return f"{_NAMES.get(responder, 'module')} {responder}"


def answered(readout: Readout, responder: str) -> str:
    """Return in words what a module answered, readably or not, refused, and left.

    Silent is it on what another module answered: nobody can tell a service that was not
    asked from one that no module answered.
    """
    told = [
        f"{name} {word}"
        for name, word in (
            (_listed(s for who, s in readout.answered if who == responder), "answered"),
            (_listed(s for who, s in readout.refused if who == responder), "refused"),
            (_listed(s for who, s in readout.unread if who == responder), UNREAD),
            (_listed(_silent(readout, responder)), "not answered, others did"),
        )
        if name
    ]
    return "; ".join(told) or "nothing answered"


def why_not_given(readout: Readout, service: str) -> str:
    """Return in words why nobody's answer to a service can be read; else who refused.

    Empty where it was answered and nobody refused it (7F).
    """
    refused = sorted(who for who, said in readout.refused if said == service)
    named = [who for who in refused if who != UNKNOWN]
    by = f"refused by {', '.join(named)}" if named else "refused"
    if service in readout.reported:
        return by if refused else ""
    if service in {said for _, said in readout.unread}:
        return f"{UNREAD}; {by}" if refused else UNREAD
    return by if refused else "not asked or not answered"


def _silent(readout: Readout, responder: str) -> set[str]:
    told = (*readout.answered, *readout.refused, *readout.unread)
    own = {s for who, s in told if who == responder}
    return {s for _, s in readout.answered} - own


def _listed(services: Iterable[str]) -> str:
    return ", ".join(sorted(set(services)))
