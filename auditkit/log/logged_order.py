"""Repair orders as they lie in the log, and what of a record is new to it. Pure."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from auditkit.errors import InputError
from auditkit.order.events import Event, RepairOrder
from auditkit.order.questions import verdict_waits
from auditkit.order.record import Record
from auditkit.proof import disclosure
from auditkit.proof.attached import attached_file
from auditkit.text.display_text import quoted
from auditkit.text.values import Json, quantity

if TYPE_CHECKING:
    from auditkit.proof.keyring import Erasure, KeyRing

_SHORTEST = 8  # characters of a SHA-256 that name an attachment
TextState = Literal["withheld", "erased", "lost"]


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One repair order of the log, in a line.

    ``waiting`` is whether its verdict lacks only what a later readout can show.
    ``problem`` says why an entry of it is not as it was signed; then nothing else than
    where its entries lie is told.
    """

    id: str
    events: int
    verdict: str | None
    waiting: bool
    first_seq: int
    last_seq: int
    opened_at: str
    vehicle: str
    problem: str = ""


@dataclass(frozen=True, slots=True)
class HeldText:
    """A text that stands in the signed event as its digest only.

    It is *withheld* where its disclosure is kept, *erased* where the log says that it
    was (by entry ``erased_by``), else *lost*: then nobody knows whether it was a text
    or a decoy. ``path`` is dotted, such as ``customer.name``.
    """

    digest: str
    state: TextState
    path: str
    erased_by: int | None = None


def held_texts(
    places: Mapping[str, str],
    kept: Mapping[str, str],
    erased: Mapping[str, Erasure],
) -> tuple[HeldText, ...]:
    """Return what became of each text that a signed event withholds.

    ``places`` maps each digest in it to the path that it stands for, ``kept`` digests
    to disclosures; a decoy never stood for a text and is left out. ``erased`` maps
    digests to what the log says.
    """
    return tuple(
        _held(digest, path, erased.get(digest), is_kept=digest in kept)
        for digest, path in places.items()
        if not disclosure.is_decoy(kept.get(digest, ""))
    )


def _held(
    digest: str, path: str, erasure: Erasure | None, *, is_kept: bool
) -> HeldText:
    if is_kept:
        return HeldText(digest, "withheld", path)
    if erasure is not None:
        return HeldText(digest, "erased", path, erasure.seq)
    return HeldText(digest, "lost", path)


def held_line(text: HeldText) -> str:
    """Return one withheld, erased or lost text as a line."""
    if text.state == "lost":
        return f"lost: {text.path}: nothing discloses it or says that it was erased"
    by = "" if text.erased_by is None else f" by entry {text.erased_by}"
    return f"{text.state}{by}: {text.path}"


@dataclass(frozen=True, slots=True)
class HeldAttachment:
    """What became of the bytes that an event names.

    They are *kept* beside the log, *erased* (as entry ``erased_by`` says), *lost* where
    they were kept and neither is so, or *elsewhere* where they never were.
    """

    sha256: str
    state: Literal["kept", "erased", "lost", "elsewhere"]
    erased_by: int | None = None


def held_attachment(
    event: Mapping[str, Json], here: Container[str], erased: Mapping[str, int]
) -> HeldAttachment | None:
    """Return what became of the bytes that an event names, None where it names none.

    ``here`` are the digests beside the log; their files are not read.
    """
    found = attached_file(event)
    if found is None:
        return None
    if found.sha256 in erased:
        return HeldAttachment(found.sha256, "erased", erased[found.sha256])
    if found.sha256 in here:
        return HeldAttachment(found.sha256, "kept")
    return HeldAttachment(found.sha256, "lost" if found.kept else "elsewhere")


def attachment_line(held: HeldAttachment) -> str:
    """Return what became of an attachment as a line."""
    by = "" if held.erased_by is None else f" by entry {held.erased_by}"
    return f"{held.state}{by}: the bytes of {held.sha256}"


@dataclass(frozen=True, slots=True)
class LoggedEvent:
    """One event as it lies in the log.

    ``event`` has what is disclosed put back; ``hidden`` are the paths whose digests
    nothing discloses, decoys among them; ``texts`` says what became of each text that
    stood behind a digest, ``attachment`` of the bytes that the event names. ``form`` is
    the id of the form that made it, if one did.
    """

    seq: int
    recorded_at: str
    signed_by: str
    event: Mapping[str, Json]
    hidden: tuple[str, ...]
    texts: tuple[HeldText, ...] = ()
    attachment: HeldAttachment | None = None
    form: str | None = None


class AlreadyErasedError(InputError):
    """The text that should be erased was erased before."""


def erasable(
    lines: Sequence[LoggedEvent], paths: Sequence[str]
) -> list[tuple[int, HeldText]]:
    """Return the withheld texts at ``paths`` as (entry, text), in their order.

    A path covers the same member of the event that an amendment corrects to. Raises
    InputError where no path is given or nothing is withheld at one, and
    AlreadyErasedError where what was there is erased.
    """
    if not paths:
        raise InputError(
            "no path and no attachment says what to erase",
            what_to_do="name a path, such as customer.name, or an attachment",
        )
    found: list[tuple[int, HeldText]] = []
    for path in dict.fromkeys(paths):
        at = [
            (line.seq, text)
            for line in lines
            for text in line.texts
            if text.path in {path, f"event.{path}"}
        ]
        here = [(seq, text) for seq, text in at if text.state == "withheld"]
        if not here:
            gone = [text for _, text in at if text.state == "erased"]
            _nothing_withheld(path, lines, gone)
        found += [pair for pair in here if pair not in found]
    return sorted(found, key=lambda pair: (pair[0], str(pair[1].path)))


def _nothing_withheld(
    path: str, lines: Sequence[LoggedEvent], gone: Sequence[HeldText]
) -> None:
    if gone:
        raise AlreadyErasedError(
            f"{path} was erased already, by entry {gone[-1].erased_by}",
            what_to_do="leave this path out",
        )
    known = {t.path for line in lines for t in line.texts if t.state == "withheld"}
    message = f"nothing is withheld at {path}"
    what_to_do = f"withheld are {', '.join(sorted(map(str, known)))}"
    raise InputError(
        message, what_to_do=what_to_do if known else "nothing is left to erase"
    )


def erasable_attachments(
    lines: Sequence[LoggedEvent], starts: Sequence[str], ring: KeyRing
) -> tuple[str, ...]:
    """Return the attachments kept beside the log whose SHA-256 begins so, each once.

    Raises InputError where no attachment or several begin so, and AlreadyErasedError
    where one is erased.
    """
    kept = [a.sha256 for line in lines if (a := attached_file(line.event)) and a.kept]
    found: list[str] = []
    for start in starts:
        fit = [digest for digest in dict.fromkeys(kept) if digest.startswith(start)]
        if len(fit) != 1 or len(start) < _SHORTEST:
            said = (
                "several attachments begin" if len(fit) > 1 else "no attachment begins"
            )
            message = f"{said} with {start!r}"
            listed = f"name one of {', '.join(kept)}" if kept else "none is kept here"
            raise InputError(
                message,
                what_to_do=f"{listed}, by its first {_SHORTEST} characters at least",
            )
        if fit[0] in ring.erased_attachments:
            by = ring.erased_attachments[fit[0]]
            raise AlreadyErasedError(
                f"attachment {fit[0]} was erased already, by entry {by}",
                what_to_do="leave it out",
            )
        found += fit
    return tuple(dict.fromkeys(found))


@dataclass(frozen=True, slots=True)
class LoggedOrder:
    """A repair order as it lies in the log, with its last verdict if closed."""

    id: str
    lines: tuple[LoggedEvent, ...]

    @property
    def events(self) -> tuple[LoggedEvent, ...]:
        """The entries of its events, in order: verdicts left out."""
        return without_verdicts(self.lines)

    @property
    def verdict(self) -> Mapping[str, Json] | None:
        """The verdict, where the last entry is one."""
        last = self.lines[-1].event
        return last if last.get("kind") == "verdict" else None


def without_verdicts(lines: Iterable[LoggedEvent]) -> tuple[LoggedEvent, ...]:
    """Return the entries of an order's events: the place of each is its event's."""
    return tuple(line for line in lines if line.event.get("kind") != "verdict")


def new_events(
    record: Record, logged: Sequence[LoggedEvent]
) -> Sequence[Mapping[str, Json]]:
    """Return the record's events that the log does not hold yet.

    Raises InputError, with the place, for the first that the log holds otherwise.
    """
    held = without_verdicts(logged)
    for index, line in enumerate(held):
        entry = f"entry {line.seq}, recorded {line.recorded_at}"
        if index >= len(record.events):
            raise InputError(
                f"the record ends here, and the log holds another event ({entry})",
                where="/events",
                what_to_do="put back the events that are logged, as "
                f"'auditkit show {record.repair_order}' tells them",
            )
        if _same(record.events[index], line):
            continue
        member = _differing(record.events[index], line.event, "", set(line.hidden))
        raise InputError(
            f"the log holds this event otherwise ({entry}): {quoted(member)} differs",
            where=f"/events/{index}",
            what_to_do="put it back as it was logged"
            + (" (with --instruments as then)" if member == "instruments" else "")
            + ", and add what is right at the end "
            f'as an event of kind "amendment", with "corrects": {index}, "why" and the '
            'corrected "event"',
        )
    return record.events[len(held) :]


def sent_before(
    form: str, events: Sequence[Mapping[str, Json]], logged: Sequence[LoggedEvent]
) -> tuple[int, ...]:
    """Return the entries that a form made before, none where it is new.

    Raises InputError where it made other ones: only times may differ.
    """
    found = [line for line in logged if line.form == form]
    alike = len(found) == len(events) and all(
        _same({**event, "at": line.event.get("at")}, line)
        for event, line in zip(events, found, strict=True)
    )
    if found and not alike:
        entries = ", ".join(str(line.seq) for line in found)
        raise InputError(
            f"form {form} was sent before with something else (entry {entries})",
            what_to_do="open the form anew; correct what is logged with an amendment",
        )
    return tuple(line.seq for line in found)


def _same(event: Mapping[str, Json], line: LoggedEvent) -> bool:
    return _covers(dict(event), dict(line.event), "", set(line.hidden))


def _differing(
    event: Mapping[str, Json], shown: Mapping[str, Json], place: str, hidden: set[str]
) -> str:
    """Return the first member in which an event is not the one that is shown."""
    for name in sorted({*event, *shown}):
        one, other, path = event.get(name), shown.get(name), place + name
        if name in event and name not in shown and path in hidden:
            continue
        if isinstance(one, dict) and isinstance(other, dict):
            if not _covers(one, other, f"{path}.", hidden):
                return _differing(one, other, f"{path}.", hidden)
        elif one != other or (name in event) != (name in shown):
            return path
    return place


def _covers(event: Json, shown: Json, place: str, hidden: set[str]) -> bool:
    """Return whether ``shown`` is ``event`` without the members at ``hidden``."""
    if not (isinstance(event, dict) and isinstance(shown, dict)):
        return event == shown
    if not {place + name for name in event.keys() - shown.keys()} <= hidden:
        return False
    return all(
        name in event and _covers(event[name], value, f"{place}{name}.", hidden)
        for name, value in shown.items()
    )


def closed_alike(logged: Sequence[LoggedEvent], verdict: Mapping[str, Json]) -> bool:
    """Return whether the last entry is this verdict already, but for its time."""
    if not logged or logged[-1].event.get("kind") != "verdict":
        return False
    last = {k: v for k, v in logged[-1].event.items() if k not in ("at", "by")}
    return last == {k: v for k, v in verdict.items() if k not in ("at", "by")}


def altered_line(order_id: str, seqs: Sequence[int], problem: str) -> OrderLine:
    """Return the line of a repair order that cannot be believed."""
    return OrderLine(
        id=order_id,
        events=0,
        verdict=None,
        waiting=False,
        first_seq=seqs[0],
        last_seq=seqs[-1],
        opened_at="",
        vehicle="",
        problem=problem,
    )


def order_line(shown: LoggedOrder) -> OrderLine:
    """Return a logged repair order in a line."""
    events = [line.event for line in shown.events]
    opened = RepairOrder.fold(shown.id, events).of("opening")  # as corrected
    opening = opened[0] if opened else Event(0, {})
    vehicle = opening.object("vehicle")
    verdict = shown.verdict
    odometer = quantity(dict(vehicle).get("odometer"))
    described = str(vehicle.get("description", "")) or str(vehicle.get("vin", ""))
    return OrderLine(
        id=shown.id,
        events=len(events),
        verdict=str(verdict.get("verdict")) if verdict else None,
        waiting=verdict is not None and verdict_waits(verdict),
        first_seq=shown.lines[0].seq,
        last_seq=shown.lines[-1].seq,
        opened_at=opening.text("at"),
        vehicle=f"{described}, {odometer}" if odometer else described,
    )
