"""What a reader keeps of a log that was verified, so as to verify only what is new.

It is as good as whoever keeps it: it says which entries were verified, and nobody signs
that. A reader keeps it out of the shop's hands. A state of another log is refused.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

from auditkit.errors import InputError
from auditkit.text.strict_json import canonical, parse
from auditkit.text.values import Json

STATE_FORMAT = "auditkit/verified@1"
_ROOT = re.compile("[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class VerifiedState:
    """How far a log was verified.

    ``size`` entries with this ``root`` (hex) were, at ``verified_at`` (RFC 3339) by the
    reader's clock; ``own`` are the log's own events among them (who may sign, what was
    erased or attested), which are read and proven each time. ``log_key`` is the log
    key's thumbprint (RFC 7638).
    """

    origin: str
    log_key: str
    size: int
    root: str
    own: tuple[int, ...]
    verified_at: str


def format_state(state: VerifiedState) -> str:
    """Return a state as the text of its file."""
    members: dict[str, Json] = {
        "format": STATE_FORMAT,
        "log_key": state.log_key,
        "origin": state.origin,
        "own": list(state.own),
        "root": state.root,
        "size": state.size,
        "verified_at": state.verified_at,
    }
    return canonical(members) + "\n"


def parse_state(text: str | bytes, *, where: str) -> VerifiedState:
    """Return the state in a file's text; refuse what ``format_state`` would not write.

    Raises InputError.
    """
    value = parse(text, where=where)
    raw = text.encode() if isinstance(text, str) else text
    try:
        state = _state(cast("dict[str, Any]", value))
    except (KeyError, TypeError, ValueError):
        state = None
    if state is None or format_state(state).encode() != raw or not _is_sound(state):
        raise InputError(
            "this is no state that 'auditkit verify --since' wrote",
            where=where,
            what_to_do="name its file, or one that does not exist: then all is "
            "verified, and it is written",
        )
    return state


def _state(given: Mapping[str, Any]) -> VerifiedState:
    """Return the state of a file's members: another type is not written back alike."""
    return VerifiedState(
        origin=str(given["origin"]),
        log_key=str(given["log_key"]),
        size=int(given["size"]),
        root=str(given["root"]),
        own=tuple(map(int, given["own"])),
        verified_at=str(given["verified_at"]),
    )


def _is_sound(state: VerifiedState) -> bool:
    own = state.own
    return (
        _ROOT.fullmatch(state.root) is not None
        and own[:1] == (0,)
        and list(own) == sorted(set(own))
        and own[-1] < state.size
    )
