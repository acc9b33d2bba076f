"""What the pages work with: the log and its one writer, who is signed in, what waits.

An order is judged once for each of its newest entries, and what it shows is kept: a
page, and what asks each second, then costs no judging.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING

from auditkit.bay.earlier_limits import EarlierLimits
from auditkit.bay.known_orders import KnownOrders
from auditkit.bay.live_reading import LiveReader
from auditkit.bay.next_step import next_step
from auditkit.bay.one_step import Form, Hands, take
from auditkit.errors import InputError
from auditkit.log.held_order import HeldOrder, held
from auditkit.log.logged_order import LoggedOrder, without_verdicts
from auditkit.log.sqlite_file import HIGHEST
from auditkit.order.events import RepairOrder
from auditkit.order.instruments import with_specifications
from auditkit.order.record import Record

if TYPE_CHECKING:
    from pathlib import Path

    from auditkit.bay.drafts import Drafts
    from auditkit.bay.due_step import Step
    from auditkit.bay.one_step import Taken
    from auditkit.bay.pages.visit import Visit
    from auditkit.bay.signed_in import SignedIn, SignIns
    from auditkit.bay.so_far import SoFar
    from auditkit.bay.writer import LogWriter
    from auditkit.log.ledger import Ledger
    from auditkit.log.recording import Recorded
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.instruments import RegisteredInstrument
    from auditkit.order.policy import Policy
    from auditkit.proof.keys import SigningKey
    from auditkit.text.values import Json

_KEPT = 96  # orders whose standing is kept
_LISTED = 20  # orders that a search shows
_SHORTEST_END = 4  # characters of a VIN's end that are looked for


@dataclass(frozen=True, slots=True)
class Standing:
    """An order as a page shows it: its entries, and what they show."""

    logged: LoggedOrder
    so_far: SoFar
    verdict: Mapping[str, Json] | None

    @property
    def last_entry(self) -> int:
        """The number of its newest entry."""
        return self.logged.lines[-1].seq

    def entries_from(self, first: int) -> tuple[int, ...]:
        """Return the numbers of its entries from one on."""
        return tuple(line.seq for line in self.logged.lines if line.seq >= first)

    def next_step(self, at: str, by: str) -> Step:
        """Return the next step, where a person takes it at a time."""
        return next_step(self.so_far, at=at, by=by)


@dataclass(frozen=True, slots=True)
class KeptBeside:
    """The files in which a shop's register of instruments and its policy are kept."""

    register: Path
    policy: Path

    @classmethod
    def of(cls, log: Path) -> KeptBeside:
        """Return those that lie beside a log, as the command line takes them."""
        return cls(log.parent / "instruments.json", log.parent / "policy.toml")


@dataclass
class Desk:
    """A shop's bay: its log, its people at their pages, its instruments."""

    writer: LogWriter
    sign_ins: SignIns
    drafts: Drafts
    catalogue: Catalogue
    policy: Policy
    log_key: SigningKey = field(repr=False)
    kept: KeptBeside
    register: Mapping[str, RegisteredInstrument] = field(default_factory=dict)
    is_secure: bool = False
    live: LiveReader = field(default_factory=LiveReader)
    limits: EarlierLimits = field(default_factory=EarlierLimits, repr=False)
    shop: str = ""
    _standings: OrderedDict[tuple[str, int], Standing] = field(
        default_factory=OrderedDict, repr=False
    )
    _lock: Lock = field(default_factory=Lock, repr=False)

    def __post_init__(self) -> None:
        """Read the shop's name."""
        with self.writer.reading() as log:
            self.shop = log.shop

    def at(self) -> str:
        """Return the time now, as the log states it."""
        return self.writer.at()

    def people(self) -> tuple[str, ...]:
        """Return who can sign in: enrolled, not revoked, with a key here."""
        with self.writer.reading() as log:
            found = log.people()
        here = [p.id for p in found if p.revoked_seq is None and p.has_private]
        return tuple(dict.fromkeys(here))

    # What the log holds

    def newest_entry(self, order: str) -> int:
        """Return the number of an order's newest entry; -1 where there is none."""
        with self.writer.reading() as log:
            return _newest(log, order)

    def standing(self, order: str, *, before: int | None = None) -> Standing:
        """Return an order with what it shows; as it was ``before`` an entry, if asked.

        Raises InputError where the log holds no such order, or none so old.
        """
        with self.writer.reading() as log:
            newest = _newest(log, order, HIGHEST if before is None else before)
            with self._lock:
                known = self._standings.get((order, newest))
            if known is not None:
                return known
            found = held(log, order)
            if not found.lines:
                log.show(order)  # which says what orders there are
        if before is not None:
            found = _as_before(found, before)
            remembered = KnownOrders()  # what the order shows now stays known
        else:
            remembered = self.writer.known
        return self._stands(
            found, remembered.so_far(found.order, self.catalogue, self.policy)
        )

    def _stands(self, found: HeldOrder, shown: SoFar) -> Standing:
        """Keep what an order shows with its newest entry, and return it."""
        order = found.order.id
        made = Standing(LoggedOrder(order, found.lines), shown, found.verdict)
        with self._lock:
            self._standings[order, made.last_entry] = made
            while len(self._standings) > _KEPT:
                self._standings.popitem(last=False)
        return made

    def open_orders(self, most: int | None = None) -> tuple[list[str], list[str], bool]:
        """Return the orders that are open, what changed last first; those that wait.

        With ``most`` no more than so many that were begun last, and whether that leaves
        out some.
        """
        with self.writer.reading() as log:
            lines = log.orders(only_open=True, most=most and most + 1)
        is_cut = most is not None and len(lines) > most
        newest = sorted(lines[is_cut:], key=lambda line: -line.last_seq)
        return (
            [line.id for line in newest if line.verdict is None],
            [line.id for line in newest if line.verdict is not None],
            is_cut,
        )

    def found(self, sought: str) -> list[str]:
        """Return orders by how their number begins, by a VIN or its end, or by day."""
        with self.writer.reading() as log:
            lines = list(log.orders(starts=sought, most=_LISTED))
            if sought.isalnum() and len(sought) >= _SHORTEST_END:
                lines += log.orders(vin=sought, most=_LISTED)
            if sought.replace("-", "").isdecimal():
                lines += log.orders(day=sought, most=_LISTED)
        return list(dict.fromkeys(line.id for line in lines))

    # What a manager chooses

    def take_register(self, register: Mapping[str, RegisteredInstrument]) -> None:
        """Work with another register of instruments from now on."""
        self.register = register

    def take_policy(self, policy: Policy) -> None:
        """Judge by another policy from now on: what is known was judged by this one."""
        with self._lock:
            self.policy = policy
            self._standings.clear()

    # What is written

    def hands(self, who: SignedIn) -> Hands:
        """Return with what a person records; InputError for who does not."""
        if who.key is None:
            raise InputError(
                "nobody is signed in here who records", what_to_do="sign in"
            )
        return Hands(who.person, who.key, self.log_key, self.catalogue, self.policy)

    def take(
        self,
        visit: Visit,
        order: str,
        events: Sequence[Mapping[str, Json]],
        pictures: Mapping[str, bytes] | None = None,
        of_first: Sequence[Mapping[str, Json]] = (),
    ) -> Taken:
        """Record one step, signed by who is signed in; return what it did.

        ``of_first`` are attachments that belong to the first of the events.
        """
        hands = self.hands(visit.person)
        is_done = visit.answers.get("unacknowledged") == "yes"

        def taken(log: Ledger) -> Taken:
            place = len(held(log, order).events) if of_first else 0
            more = [{**one, "of": place} for one in of_first]
            form = Form(visit.once, [*events, *more], pictures or {}, is_done)
            return take(log, order, form, hands, self.writer.known)

        done = self.writer.do(taken).result()
        self._stands(done.held, done.after)
        return done

    def close(self, visit: Visit, order: str, reason: str | None) -> Recorded:
        """Judge an order by what the log holds, and write its verdict.

        The same form sent again, whatever came after it, writes nothing.
        """
        hands, form = self.hands(visit.person), visit.once

        def closed(log: Ledger) -> Recorded:
            found = held(log, order)
            events = tuple(dict(line.event) for line in found.events)
            return log.record(
                Record(order, events),
                self.catalogue.judge(found.order, self.policy),
                by=hands.person,
                signer=hands.signer,
                unproven_reason=reason,
                form=form,
            )

        return self.writer.do(closed).result()

    def specified(self, event: Mapping[str, Json]) -> dict[str, Json]:
        """Return an event with the specifications of the shop's instruments."""
        record = with_specifications(Record("", (event,)), self.register)
        return dict(record.events[0])


def _newest(log: Ledger, order: str, before: int = HIGHEST) -> int:
    """Return an order's newest entry, before one; -1 where there is none."""
    seqs = log.store.order_seqs(order)
    return max((seq for seq in seqs if seq < before), default=-1)


def _as_before(found: HeldOrder, before: int) -> HeldOrder:
    """Return an order as it was before an entry; InputError where it was not."""
    lines = tuple(line for line in found.lines if line.seq < before)
    events = without_verdicts(lines)
    if not events:
        raise InputError(
            f"repair order {found.order.id} has no entry before {before}",
            what_to_do="open the order's page",
        )
    order = RepairOrder.fold(
        found.order.id,
        [line.event for line in events],
        recorded=[line.recorded_at for line in events],
        signers=[line.signed_by for line in events],
    )
    return HeldOrder(order, lines)
