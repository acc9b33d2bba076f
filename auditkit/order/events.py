"""What happens on a repair order: events, and the order they make together.

An event is kept as the JSON object it was written as; ``RepairOrder`` folds the
events of one job (amendments applied) and answers the questions that rules ask.
"""

from __future__ import annotations

import hashlib
from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

from auditkit.obd.fingerprint import fingerprint, live_sha256, said_sha256
from auditkit.order.kept_events import kept_or_new
from auditkit.order.module_names import names_meant
from auditkit.order.once import once
from auditkit.order.value_marks import ValueMark, value_marks
from auditkit.text.values import Json


@dataclass(frozen=True, slots=True)
class SuspectPart:
    """A part that a diagnosis names as the possible cause.

    ``why`` and ``why_source`` say why a part of a system that is not known to cause the
    fault may cause it all the same, and where that is written.
    """

    id: str
    name: str
    system: str
    codes: tuple[str, ...]
    event: int
    why: str = ""
    why_source: str = ""


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened, of one kind, at one time, by one person.

    ``index`` is its place among the order's events, counted from 0 and verdicts
    left out. ``data`` is the whole JSON object. ``amended_by`` is the index of
    the amendment whose corrected text this is, if any, and ``recorded`` the JSON
    object that stood there before any amendment. ``modules`` are the names of modules
    that mean another one of the order (``auditkit.order.module_names``).
    """

    index: int
    data: Mapping[str, Json]
    amended_by: int | None = None
    recorded: Mapping[str, Json] | None = None
    modules: Mapping[str, str] = field(default_factory=dict)
    kept: dict[tuple[object, ...], object] = field(
        init=False, default_factory=dict, repr=False, compare=False
    )

    @property
    def kind(self) -> str:
        """The kind of event, such as ``bench_test``."""
        kind = self.data.get("kind")  # asked more often than all else
        return kind if isinstance(kind, str) else ""

    @property
    def by(self) -> str:
        """Id of the person who did it."""
        return self.text("by")

    @property
    def at(self) -> datetime:
        """When it is said to have happened (RFC 3339): a claim, not a proof."""
        return datetime.fromisoformat(self.text("at"))

    def text(self, name: str) -> str:
        """Return member ``name`` as text; empty where it is absent."""
        value = self.data.get(name)
        return value if isinstance(value, str) else ""

    def sha256(self, name: str) -> str:
        """Return the SHA-256 of text member ``name`` in UTF-8, as hex."""
        return hashlib.sha256(self.text(name).encode()).hexdigest()

    @property
    @once
    def said(self) -> str:
        """SHA-256 of the answers in a readout's raw text, whatever its spelling."""
        return said_sha256(self.text("raw"))

    @property
    def live(self) -> str:
        """SHA-256 of a readout's live and counting values; empty for too few."""
        return live_sha256(self.text("raw"))

    @property
    @once
    def value_marks(self) -> tuple[ValueMark, ...]:
        """What a typed readout's or a bench test's values are known by."""
        return value_marks(self.data)

    def items(self, name: str) -> Iterator[Mapping[str, Json]]:
        """Yield the objects of the array ``name``; none where it is absent."""
        value = self.data.get(name)
        if isinstance(value, list):
            yield from (item for item in value if isinstance(item, dict))

    def object(self, name: str) -> Mapping[str, Json]:
        """Return member ``name`` as an object; empty where it is absent."""
        value = self.data.get(name)
        return value if isinstance(value, dict) else {}

    def texts(self, name: str) -> tuple[str, ...]:
        """Return the texts of the array ``name``."""
        value = self.data.get(name)
        if not isinstance(value, list):
            return ()
        return tuple(item for item in value if isinstance(item, str))


@dataclass(frozen=True, slots=True)
class RepairOrder:
    """The events of one job, in the order they were written, amendments applied.

    ``elsewhere`` tells of other repair orders: the SHA-256 of what a readout says, of
    its live values, of typed values (then of another vehicle's order alone), or of an
    attachment -> the order that holds it. ``others`` are
    other repair orders of the same vehicle, as far as they were written down before
    this one was closed. Both are empty where nobody looked.
    ``recorded`` says for each event when it was recorded (RFC 3339); empty for a record
    that lies in no log yet. ``pictures`` are the attachments whose bytes are here, by
    SHA-256, each with why it is no picture to go by, or nothing
    (``auditkit.order.photographs``). ``signers`` says for each event who signed its
    entry; empty, or shorter, where no log holds it: then whoever did it counts.
    """

    id: str
    events: tuple[Event, ...]
    elsewhere: Mapping[str, str] = field(default_factory=dict)
    recorded: tuple[str, ...] = ()
    pictures: Mapping[str, str] = field(default_factory=dict)
    others: tuple[RepairOrder, ...] = ()
    signers: tuple[str, ...] = ()
    kept: dict[tuple[object, ...], object] = field(
        init=False, default_factory=dict, repr=False, compare=False
    )

    @classmethod
    def fold(  # noqa: PLR0913  what was written, and what is known beside it
        cls,
        order_id: str,
        events: Sequence[Mapping[str, Json]],
        elsewhere: Mapping[str, str] | None = None,
        recorded: Sequence[str] = (),
        *,
        pictures: Mapping[str, str] | None = None,
        left_out: Collection[int] = (),
        signers: Sequence[str] = (),
    ) -> RepairOrder:
        """Fold written events into a repair order; verdicts are left out.

        A corrected event stands at the place of the one it corrects. An amendment that
        points at nothing stays as it is: a rule tells of it. Those at the places
        ``left_out`` correct nothing.
        """
        written = [e for e in events if e.get("kind") != "verdict"]
        folded = [Event(i, data) for i, data in enumerate(written)]
        for event in tuple(folded):
            target = event.data.get("corrects")
            if event.kind != "amendment" or not isinstance(target, int):
                continue
            if event.index in left_out:
                continue
            if 0 <= target < event.index:
                folded[target] = replace(
                    folded[target],
                    data=event.object("event"),
                    amended_by=event.index,
                    recorded=written[target],
                )
        names = names_meant(event.data for event in folded)
        if names:
            folded = [
                replace(e, modules=names) if e.kind == "readout" else e for e in folded
            ]
        return cls(
            order_id,
            tuple(folded),
            elsewhere or {},
            tuple(recorded),
            pictures or {},
            signers=tuple(signers),
        )

    def without(self, amendments: Collection[int]) -> RepairOrder:
        """Return the order as if the amendments at these places corrected nothing.

        An event that stays as it is keeps what was computed of it.
        """
        written = [e.data if e.recorded is None else e.recorded for e in self.events]
        folded = RepairOrder.fold(
            self.id,
            written,
            self.elsewhere,
            self.recorded,
            pictures=self.pictures,
            left_out=amendments,
            signers=self.signers,
        )
        events = tuple(map(kept_or_new, self.events, folded.events))
        return replace(folded, events=events, others=self.others)

    def day(self, place: int | None = None) -> str:
        """Return the day (UTC, RFC 3339 date) by which a step had been recorded.

        Of the event at a place, else of the last of all. Where the record lies in no
        log yet, the day on which it is said to have happened.
        """
        events = self.events if place is None else self.events[place : place + 1]
        times = [e.at for e in events] + [
            datetime.fromisoformat(self.recorded[e.index])
            for e in events
            if e.index < len(self.recorded)
        ]
        last = max((time.astimezone(UTC) for time in times), default=None)
        return "" if last is None else last.date().isoformat()

    def hours_until_recorded(self, event: Event) -> float:
        """Return how long after its time an event was recorded, in hours.

        0 where the record lies in no log yet, or the clock says that it was before.
        """
        if event.index >= len(self.recorded):
            return 0.0
        late = datetime.fromisoformat(self.recorded[event.index]) - event.at
        return max(0.0, late.total_seconds() / 3600)

    @once
    def of(self, *kinds: str) -> tuple[Event, ...]:
        """Return the events of these kinds, in order."""
        found = (e for kind in set(kinds) for e in self._by_kind.get(kind, ()))
        return tuple(sorted(found, key=_place))

    @property
    @once
    def _by_kind(self) -> Mapping[str, Sequence[Event]]:
        found: dict[str, list[Event]] = {}
        for event in self.events:
            found.setdefault(event.kind, []).append(event)
        return found

    @property
    def readouts(self) -> frozenset[str]:
        """SHA-256 of what each readout says, by which a copy is known."""
        return frozenset(e.said for e in self.of("readout") if e.text("raw"))

    @property
    def lives(self) -> frozenset[str]:
        """SHA-256 of each readout's live and counting values, by which too."""
        return frozenset(e.live for e in self.of("readout")) - {""}

    @property
    def alike(self) -> frozenset[str]:
        """SHA-256 of the typed values that are held against other orders'."""
        return frozenset(mark.sha256 for mark in self._value_marks)

    @property
    def _value_marks(self) -> Iterator[ValueMark]:
        return (m for e in self.of("readout", "bench_test") for m in e.value_marks)

    @property
    def vins(self) -> frozenset[str]:
        """Every VIN that the opening states, or a readout, read or typed."""
        stated = [e.object("vehicle").get("vin") for e in self.of("opening")]
        stated += [e.object("typed").get("vin") for e in self.of("readout")]
        read = (
            vin for e in self.of("readout") for vin in fingerprint(e.text("raw")).vins
        )
        return frozenset(read).union(vin for vin in stated if isinstance(vin, str))

    @property
    def attached(self) -> frozenset[str]:
        """SHA-256 of each file that an attachment names."""
        return frozenset(e.text("sha256") for e in self.of("attachment"))

    @property
    def opening(self) -> Event | None:
        """The opening, if it is there."""
        return next(iter(self.of("opening")), None)

    def vehicle(self, name: str) -> str:
        """Return what the opening says of the vehicle, empty where it is silent."""
        value = self.opening and self.opening.object("vehicle").get(name)
        return "" if value is None else str(value)

    @property
    @once
    def is_reprogrammed(self) -> bool:
        """Whether a repair of action "reprogrammed" is recorded."""
        return any(e.text("action") == "reprogrammed" for e in self.of("repair"))

    @property
    @once
    def programs(self) -> tuple[Event, ...]:
        """The reprogrammings of control modules that a diagnosis suspects."""
        return tuple(
            event
            for event in self.of("repair")
            if event.text("action") == "reprogrammed"
            and (suspect := self.suspect(event.text("part"))) is not None
            and suspect.system == "control-module"
        )

    @property
    def has_new_program(self) -> bool:
        """Whether a control module that a diagnosis suspects was reprogrammed."""
        return bool(self.programs)

    @property
    @once
    def codes(self) -> tuple[str, ...]:
        """Fault codes of all diagnoses, each once, in order."""
        codes = [c for e in self.of("diagnosis") for c in e.texts("codes")]
        return tuple(dict.fromkeys(codes))

    @property
    @once
    def suspect_parts(self) -> tuple[SuspectPart, ...]:
        """Suspect parts of all diagnoses, in order."""
        return tuple(
            _suspect(part, event.index)
            for event in self.of("diagnosis")
            for part in event.items("suspect_parts")
        )

    @once
    def suspect(self, part_id: str) -> SuspectPart | None:
        """Return the suspect part with this id, as last described."""
        found = [part for part in self.suspect_parts if part.id == part_id]
        return found[-1] if found else None

    @property
    def last_repair(self) -> Event | None:
        """The last repair, if there is one."""
        repairs = self.of("repair")
        return repairs[-1] if repairs else None

    @property
    @once
    def clear_after_repair(self) -> Event | None:
        """The first clear of codes after the last repair, if there is one."""
        repair = self.last_repair
        clears = () if repair is None else self.after(repair.index, "code_clear")
        return clears[0] if clears else None

    @property
    def proof_starts(self) -> int | None:
        """Index after which evidence speaks of the repaired vehicle.

        The last repair or, where codes were cleared after it, the first such
        clear; None where nothing was repaired.
        """
        start = self.clear_after_repair or self.last_repair
        return None if start is None else start.index

    def before(self, index: int, *kinds: str) -> tuple[Event, ...]:
        """Return the events of these kinds that stand before ``index``."""
        found = self.of(*kinds)
        return found[: bisect_left(found, index, key=_place)]

    def after(self, index: int, *kinds: str) -> tuple[Event, ...]:
        """Return the events of these kinds that stand after ``index``."""
        found = self.of(*kinds)
        return found[bisect_right(found, index, key=_place) :]

    def between(self, first: int, last: int, *kinds: str) -> tuple[Event, ...]:
        """Return the events of these kinds that stand after one place, before another.

        None where ``last`` is not after ``first``.
        """
        found = self.of(*kinds)
        begin = bisect_right(found, first, key=_place)
        return found[begin : bisect_left(found, last, key=_place)]


def _place(event: Event) -> int:
    return event.index


def _suspect(part: Mapping[str, Json], event: int) -> SuspectPart:
    codes = part.get("codes")
    return SuspectPart(
        id=str(part.get("id", "")),
        name=str(part.get("name", "")).replace("\n", " "),
        system=str(part.get("system", "")),
        codes=tuple(str(c) for c in codes) if isinstance(codes, list) else (),
        event=event,
        why=str(part.get("why", "")),
        why_source=str(part.get("why_source", "")),
    )
