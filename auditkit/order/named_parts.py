"""What the diagnoses of an order say of the parts that its steps name. Pure.

Each diagnosis counts in each of its versions: what another one, or an amendment, names
adds to what was said before and takes nothing away.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from auditkit.obd.code_table import row_of
from auditkit.order.events import Event
from auditkit.order.once import once

if TYPE_CHECKING:
    from auditkit.order.events import RepairOrder
    from auditkit.text.values import Json


@dataclass(frozen=True, slots=True)
class Named:
    """What the diagnoses say of a step's part; ``is_placed``: before the step."""

    systems: frozenset[str] = frozenset()
    codes: frozenset[str] = frozenset()
    places: frozenset[str] = frozenset()
    is_placed: bool = False


def named_of(order: RepairOrder, step: Event) -> Named:
    """Return what all diagnoses say of a step's part, in all their versions."""
    suspects = _suspects(order)
    parts = {v["part"] for v in versions(step) if isinstance(v.get("part"), str)}
    said = [one for part in parts for one in suspects.get(str(part), ())]
    return Named(
        frozenset(one.system for one in said),
        frozenset(code for one in said for code in one.codes),
        frozenset(where for one in said for where in one.where),
        any(one.where and one.event < step.index for one in said),
    )


class _Suspect(NamedTuple):
    """What a diagnosis says of a part, and where that was said."""

    event: int
    system: str
    codes: tuple[str, ...]
    where: tuple[str, ...]


@once
def _suspects(order: RepairOrder) -> Mapping[str, Sequence[_Suspect]]:
    """Return by part what every diagnosis says of it, in each of its versions."""
    found: dict[str, list[_Suspect]] = {}
    for said in _diagnoses(order):
        for part in said.items("suspect_parts"):
            one = Event(said.index, part)
            codes = one.texts("codes") or said.texts("codes")
            found.setdefault(one.text("id"), []).append(
                _Suspect(
                    said.index,
                    one.text("system"),
                    tuple(code for code in codes if _is_code(code)),
                    one.texts("where"),
                )
            )
    return found


def _diagnoses(order: RepairOrder) -> Iterator[Event]:
    """Yield each diagnosis in each of its versions, where it was said."""
    for event in order.events:
        if event.kind == "amendment":
            yield Event(event.index, event.object("event"))
        elif event.recorded is not None:
            yield Event(event.index, event.recorded)
        elif event.kind == "diagnosis":
            yield event


def versions(event: Event) -> Iterator[Mapping[str, Json]]:
    """Yield an event as it stands and, where it was amended, as it was recorded."""
    yield event.data
    if event.recorded is not None:
        yield event.recorded


def _is_code(code: str) -> bool:
    try:
        row_of(code)
    except ValueError:
        return False
    return True
