"""The entries of a packet as steps of a story, disclosed texts put back.

For a packet that verified: nothing is checked here. Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditkit.order.event_text import names_of_parts
from auditkit.order.events import Event
from auditkit.proof import disclosure
from auditkit.proof.entry import parse_payload
from auditkit.text.moment import local_times

if TYPE_CHECKING:
    from auditkit.proof.entry import Payload
    from auditkit.proof.packet import Packet
    from auditkit.reader.story import Entries
    from auditkit.text.values import Json


@dataclass(frozen=True, slots=True)
class Step:
    """One entry: what was signed, with disclosed members put back.

    ``hidden`` are the paths whose digests stay undisclosed, withheld or decoys;
    ``erased`` those whose texts the log says were erased, each with the entry.
    """

    payload: Payload
    event: Event
    hidden: tuple[str, ...]
    erased: tuple[tuple[str, int], ...] = ()


def steps_of(packet: Packet, read: Sequence[Payload] = ()) -> tuple[Step, ...]:
    """Return the entries of a packet in their order, the log's own among them.

    ``read`` is what they say, each in its turn, where somebody has read them already.
    """
    given: dict[int, list[str]] = {}
    for seq, text in packet.disclosures:
        given.setdefault(seq, []).append(text)
    payloads = read or [parse_payload(signed.payload) for signed, _ in packet.entries]
    gone = dict(pair for payload in payloads for pair in _erased(payload))
    steps: list[Step] = []
    for payload in payloads:
        texts = given.get(payload.seq, ())
        event, hidden = disclosure.reveal(payload.event, payload.withheld, texts)
        erased = [(p, gone[payload.seq, p]) for p in hidden if (payload.seq, p) in gone]
        kept = tuple(p for p in hidden if (payload.seq, p) not in gone)
        steps.append(Step(payload, Event(0, event), kept, tuple(erased)))
    return tuple(steps)


def _erased(payload: Payload) -> Iterator[tuple[tuple[Json, Json], int]]:
    """Yield (entry, path) of each text that an entry of the log says was erased."""
    texts = payload.event.get("texts")
    if payload.event.get("kind") == "text_erased" and isinstance(texts, list):
        for item in texts:
            if isinstance(item, dict):
                yield (item.get("seq"), item.get("path")), payload.seq


def own_steps(steps: Sequence[Step]) -> tuple[Step, ...]:
    """Return the repair order's entries, without the log's own; the verdict is last."""
    return tuple(s for s in steps if s.payload.repair_order is not None)


def log_shop(steps: Sequence[Step]) -> str:
    """Return the name of the shop that opened the log; empty where nothing says it."""
    opened = [s.event.text("shop") for s in steps if s.event.kind == "log_opened"]
    return opened[-1] if opened else ""


def other_shops(steps: Sequence[Step]) -> tuple[str, ...]:
    """Return the shops that the record names and that the log is not of.

    As its opening was recorded, and as amendments corrected it.
    """
    own = log_shop(steps)
    openings = [
        Event(0, s.event.object("event")) if s.event.kind == "amendment" else s.event
        for s in own_steps(steps)
    ]
    named = (e.text("shop") for e in openings if e.kind == "opening")
    return tuple(dict.fromkeys(name for name in named if name and name != own))


def last_statement(steps: Sequence[Step]) -> tuple[str, ...]:
    """Return the statement of the order's last verdict; none where there is none."""
    verdicts = [s.event for s in own_steps(steps) if s.event.kind == "verdict"]
    return verdicts[-1].texts("statement") if verdicts else ()


def entry_names(steps: Sequence[Step]) -> Entries:
    """Return what names the entry at a place among the order's events, from 0."""
    judged = _judged(steps)

    def entry_at(place: int) -> str:
        if 0 <= place < len(judged):
            return f"entry {judged[place].payload.seq}"
        return f"event {place}, which is not there"

    return entry_at


def local_of(steps: Sequence[Step]) -> Callable[[str], str]:
    """Return what writes a time for people, at the offset of the order's own times."""
    return local_times(step.event.text("at") for step in own_steps(steps))


def part_names(steps: Sequence[Step]) -> Mapping[str, str]:
    """Return the names of the parts that diagnoses suspect, by id."""
    return names_of_parts(step.event for step in own_steps(steps))


def corrections(steps: Sequence[Step]) -> Mapping[int, int]:
    """Return which entry was corrected later: its number -> the correcting one's."""
    judged = _judged(steps)
    found: dict[int, int] = {}
    for step in judged:
        place = step.event.data.get("corrects")
        if isinstance(place, int) and 0 <= place < len(judged):
            found[judged[place].payload.seq] = step.payload.seq
    return found


def undisclosed(step: Step) -> str:
    """Return in words which members of an entry stay undisclosed; empty if none."""
    erased = [f"{path} (erased, as entry {seq} says)" for path, seq in step.erased]
    hidden = f"{', '.join(step.hidden)} (kept back, or never written down)"
    return "; ".join([*erased, *([hidden] if step.hidden else [])])


def _judged(steps: Sequence[Step]) -> list[Step]:
    """Return what a verdict judges; "corrects" counts these from 0."""
    return [s for s in own_steps(steps) if s.event.kind != "verdict"]
