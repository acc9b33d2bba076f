"""What an entry can be found by, made of what was signed in it. Pure.

=========  ===========================================================================
kind       value
=========  ===========================================================================
``vin``    a VIN that an opening states, or a readout (read or typed)
``day``    the date, as written, of an opening, a readout or a repair: YYYY-MM-DD
``said``   SHA-256 of a readout's answers (``auditkit.obd.fingerprint``)
``live``   SHA-256 of its live and counting values: equal in a copy
``alike``  SHA-256 of typed values that hardly coincide (``auditkit.order.value_marks``)
``file``   SHA-256 of a file that an attachment names
``waits``  nothing: of a verdict that lacks only what a later readout can show
=========  ===========================================================================

What was withheld leaves no mark, so that erasing it leaves none either.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from auditkit.obd.fingerprint import fingerprint
from auditkit.order.questions import verdict_waits
from auditkit.order.value_marks import value_marks
from auditkit.proof.attached import attached_file

if TYPE_CHECKING:
    from auditkit.text.values import Json

VIN, DAY, SAID, LIVE, FILE = "vin", "day", "said", "live", "file"
WAITS = "waits"
ALIKE = "alike"
_DATED = frozenset({"opening", "readout", "repair"})
_DATE = 10  # characters of a date (RFC 3339)


def marks_of(event: Mapping[str, Json]) -> Iterator[tuple[str, str]]:
    """Yield kind and value of each mark of a repair order's event, as it is signed."""
    kind = event.get("kind")
    if kind == "amendment":
        corrected = event.get("event")
        if isinstance(corrected, dict) and corrected.get("kind") != "amendment":
            yield from marks_of(corrected)
        return
    if named := attached_file(event):
        yield FILE, named.sha256
    if kind in _DATED and isinstance(at := event.get("at"), str):
        yield DAY, at[:_DATE]
    if kind == "verdict" and verdict_waits(event):
        yield WAITS, ""
    yield from ((ALIKE, mark.sha256) for mark in value_marks(event))
    if kind == "opening":
        yield from _vin(event.get("vehicle"))
    elif kind == "readout":
        yield from _vin(event.get("typed"))
        if isinstance(raw := event.get("raw"), str):
            found = fingerprint(raw)
            yield from ((VIN, vin) for vin in found.vins)
            yield SAID, found.said
            if found.live:
                yield LIVE, found.live


def _vin(holder: Json) -> Iterator[tuple[str, str]]:
    if isinstance(holder, dict) and isinstance(vin := holder.get("vin"), str):
        yield VIN, vin
