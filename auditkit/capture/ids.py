"""CAN ids of OBD (ISO 15765-4:2005 clause 6.3, Tables 3 to 5), as upper-case hex.

11-bit ids have three digits, 29-bit ids eight.
"""

from __future__ import annotations

import re

FUNCTIONAL = 0x7DF
FUNCTIONAL_EXTENDED = 0x18DB33F1

_TESTER = re.compile(r"7DF|7E[0-7]|18DB33F1|18DA(?!F1)[0-9A-F]{2}F1")
_RESPONDER = re.compile(r"7E[89A-F]|18DAF1[0-9A-F]{2}")
_SHORT = 3


def id_text(can_id: int, *, extended: bool) -> str:
    """Return an id as text."""
    return f"{can_id:0{8 if extended else _SHORT}X}"


def is_tester(name: str) -> bool:
    """Return whether a tool asks with this id, one module or all."""
    return _TESTER.fullmatch(name) is not None


def is_responder(name: str) -> bool:
    """Return whether a module answers with this id."""
    return _RESPONDER.fullmatch(name) is not None


def physical(responder: str) -> int:
    """Return the id that reaches the module which answers with ``responder``."""
    if len(responder) == _SHORT:
        return int(responder, 16) - 8
    return int(f"18DA{responder[6:]}F1", 16)
