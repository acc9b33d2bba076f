"""The story of a repair order as a customer's receipt prints it, in plain words.

What the paper says and a packet says again later, line by line: the receipt's code
carries the SHA-256 of these lines. Told is what was signed, and nothing judged; the
bench tests are computed by the kinds that auditkit ships, so that every reader tells
the same. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from auditkit.bench import KINDS
from auditkit.order.choice_words import in_words
from auditkit.order.event_text import value_text
from auditkit.order.events import Event, RepairOrder
from auditkit.proof.attached import attached_file
from auditkit.reader.before_after import Measure, Reading, measures
from auditkit.reader.steps import (
    local_of,
    log_shop,
    other_shops,
    own_steps,
    part_names,
)
from auditkit.text.display_text import plural, printable
from auditkit.text.moment import clock_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from auditkit.reader.steps import Step

MOST_VALUES = 12
"""Values before and after that are told one by one."""
_NOT_TOLD = "not disclosed"


@dataclass(frozen=True, slots=True)
class PartWorkedOn:
    """One repair in words; ``old_part`` is empty where none came off."""

    name: str
    number: str
    work: str
    when: str
    old_part: str


@dataclass(frozen=True, slots=True)
class PictureShown:
    """A picture that an entry names by its SHA-256 (hex), and what it shows."""

    seq: int
    shows: str
    sha256: str
    event: Event


@dataclass(frozen=True, slots=True)
class ReceiptStory:
    """What the receipt tells of an order, beside its statement.

    ``about`` are names and what is so called, ``values`` what was measured before and
    after the repair, ``more_values`` how many more the packet holds.
    """

    about: tuple[tuple[str, str], ...]
    parts: tuple[PartWorkedOn, ...]
    values: tuple[Measure, ...]
    more_values: int
    pictures: tuple[PictureShown, ...]

    @property
    def lines(self) -> tuple[str, ...]:
        """All of it, a line for each thing: what the receipt's digest is taken over."""
        told = [
            *(f"{name}: {said}" for name, said in self.about),
            *(f"Work: {part_text(part)}" for part in self.parts),
            *(f"Value: {value_text_of(value)}" for value in self.values),
        ]
        if self.more_values:
            many = plural(self.more_values, "more value", "more values")
            told.append(f"Values: {many} in the packet")
        told += [f"Picture: {picture_text(picture)}" for picture in self.pictures]
        return tuple(map(_one_line, told))


def part_text(part: PartWorkedOn) -> str:
    """Return a repair on one line."""
    said = f"{part.name}, number {part.number}: {part.work}; {part.when}"
    return f"{said}; old part: {part.old_part}" if part.old_part else said


def value_text_of(value: Measure) -> str:
    """Return what was measured before and after, with its limits, on one line."""
    before, after = (reading_text(r, value) for r in (value.before, value.after))
    return f"{value.name}: before {before}; after {after}; {value.limit}"


def reading_text(reading: Reading | None, value: Measure) -> str:
    """Return one value with what was said of it; that there is none, else."""
    if reading is None:
        return value.none
    return f"{reading.text}, {reading.outcome}" if reading.outcome else reading.text


def picture_text(picture: PictureShown) -> str:
    """Return a picture's line: its entry, what it shows, its SHA-256."""
    return f"entry {picture.seq}, {picture.shows}, SHA-256 {picture.sha256}"


def story_of(steps: Sequence[Step]) -> ReceiptStory:
    """Return the story that entries tell: an order's, with the log's own among them."""
    own = own_steps(steps)
    local = local_of(steps)

    def when(text: str) -> str:
        return clock_text(local(text))

    order = RepairOrder.fold("", [dict(step.event.data) for step in own])
    values = sorted(measures(order, KINDS), key=_weight)
    return ReceiptStory(
        about=tuple(_about(order, steps, when)),
        parts=tuple(_worked_on(order, part_names(steps), when)),
        values=tuple(values[:MOST_VALUES]),
        more_values=len(values[MOST_VALUES:]),
        pictures=tuple(_pictures(own)),
    )


def _weight(value: Measure) -> tuple[bool, bool]:
    """Return what puts a measured part first, then what had failed before."""
    had_failed = value.before is not None and value.before.outcome == "failed"
    return value.none != "not measured", not had_failed


def _about(
    order: RepairOrder, steps: Sequence[Step], when: Callable[[str], str]
) -> Iterator[tuple[str, str]]:
    shop, others = log_shop(steps), other_shops(steps)
    if others:
        shop += f" (the record names {', '.join(others)})"
    yield "Shop", shop or _NOT_TOLD
    opening = order.opening or Event(0, {})
    vehicle = opening.object("vehicle")
    what = [str(vehicle[n]) for n in ("description", "model_year") if n in vehicle]
    yield "Vehicle", ", ".join(what) or _NOT_TOLD
    yield "VIN", str(vehicle.get("vin", _NOT_TOLD))
    yield "Odometer when it came in", value_text(vehicle.get("odometer", _NOT_TOLD))
    yield "Came in", when(opening.text("at")) or _NOT_TOLD
    days = dict.fromkeys(when(e.text("at"))[:10] for e in order.of("repair"))
    yield "Repaired on", ", ".join(days) or "no repair is recorded"
    yield "Complaint", opening.text("complaint") or _NOT_TOLD


def _worked_on(
    order: RepairOrder, names: Mapping[str, str], when: Callable[[str], str]
) -> Iterator[PartWorkedOn]:
    for event in order.of("repair"):
        codes = ", ".join(event.texts("codes"))
        work = str(in_words("action", event.text("action")))
        work += f" for {codes}" if codes else ""
        if beside := event.text("renewed_with"):
            work += f", renewed together with {names.get(beside, beside)}"
        was_replaced = event.text("action") == "replaced"
        old = str(in_words("old_part", event.text("old_part")))
        yield PartWorkedOn(
            name=names.get(event.text("part"), event.text("part")),
            number=event.text("part_number") or "not recorded",
            work=f"{work}, by {event.text('by')}",
            when=when(event.text("at")),
            old_part=old or ("not recorded" if was_replaced else ""),
        )


def _pictures(own: Sequence[Step]) -> Iterator[PictureShown]:
    for step in own:
        named = attached_file(step.event.data)
        if named is None:
            continue
        of = step.event
        if of.kind == "amendment":
            of = Event(0, of.object("event"))
        shows = of.text("shows") or "what it shows is not disclosed"
        yield PictureShown(step.payload.seq, shows, named.sha256, step.event)


def _one_line(text: str) -> str:
    return printable(" ".join(text.split("\n")))
