"""What the commands that record a repair as it happens share: who, when, what came."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, TypedDict, TypeVar

import click

from auditkit.bay.filled import event_of
from auditkit.bay.next_step import next_step
from auditkit.bay.one_step import Form, Hands, Taken, take
from auditkit.bay.order_choices import narrowed
from auditkit.bay.so_far import SoFar, so_far
from auditkit.bay.told import state_text, step_json, step_lines
from auditkit.bay.typed_again import same_just_now
from auditkit.cli import common, passphrases
from auditkit.cli.ask import Asking, Narrow, ask
from auditkit.cli.beside_log import policy_of, register_of
from auditkit.errors import InputError
from auditkit.log import open_log, people
from auditkit.log.held_order import HeldOrder, held
from auditkit.log.ledger import Ledger
from auditkit.order.instruments import with_specifications
from auditkit.order.record import Record
from auditkit.plugin.loading import load_plugins
from auditkit.text.moment import is_time
from auditkit.text.placed_json import parse_placed

if TYPE_CHECKING:
    from auditkit.bay.field import Field
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.instruments import RegisteredInstrument
    from auditkit.text.values import Json

Command = TypeVar("Command", bound=Callable[..., object])
_HEAD = ("kind", "at", "by")


def now() -> datetime:
    """Return the time; a test puts its own clock here."""
    return open_log.now()


class Said(TypedDict):
    """What click hands on of the options of ``recording_options``."""

    sets: tuple[str, ...]
    event_file: Path | None
    at: str | None
    by: str | None
    form_id: str | None
    again: bool
    unacknowledged: bool
    log: Path
    register: Path | None
    policy_file: Path | None
    passphrase_file: Path | None
    form: str


@dataclass(frozen=True, slots=True)
class Given:
    """What was said on the command line of an event, and of who records it."""

    order: str
    sets: Mapping[str, str]
    file: Mapping[str, Json]
    at: str | None
    form: str | None
    again: bool
    log: Path
    by: str | None
    register: Path | None
    policy_file: Path | None
    passphrase_file: Path | None
    unacknowledged: bool
    output: str

    def with_sets(self, more: Mapping[str, str]) -> Given:
        """Return the same with more answers; those that were given stand."""
        return replace(self, sets={**more, **self.sets})


_OPTIONS = (
    click.option(
        "--set",
        "sets",
        multiple=True,
        metavar="PATH=VALUE",
        help="What is recorded, such as 'distance=27 km'; repeat it.",
    ),
    click.option(
        "--file",
        "event_file",
        type=common.FilePath(path_type=Path),
        help="A file with the event as JSON, without kind, at and by.",
    ),
    click.option(
        "--at",
        metavar="TIME",
        help="When it happened, such as 2026-03-02T09:15:00+01:00; now where none: a "
        "time that is told is a claim.",
    ),
    click.option(
        "--by", metavar="PERSON", help="Whose key signs; needed if several lie here."
    ),
    click.option(
        "--form",
        "form_id",
        metavar="ID",
        help="For programs: the same id, sent again, is one event. Without it so are "
        "the same words by the same person within 5 minutes, with nothing recorded in "
        "that order between.",
    ),
    click.option(
        "--again",
        is_flag=True,
        help="Record it once more, though it was just recorded.",
    ),
    click.option(
        "--unacknowledged",
        is_flag=True,
        help="Record a step that was done without its cautions: that its hazards were "
        "met stays not shown.",
    ),
    common.log_option,
    common.instruments_option,
    common.policy_option,
    common.passphrase_option,
    common.format_option,
)


def recording_options(command: Command) -> Command:
    """Add to a command what each that records an event has; see ``given``."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def given(order: str, said: Said) -> Given:
    """Return what was said with the options of ``recording_options``."""
    if said["at"] is not None and not is_time(said["at"]):
        raise InputError(
            f"{said['at']!r} is no time with its offset",
            where="--at",
            what_to_do="write it such as 2026-03-02T09:15:00+01:00",
        )
    return Given(
        order=order,
        sets=dict(_pair(text) for text in said["sets"]),
        file=_file(said["event_file"]),
        at=said["at"],
        form=said["form_id"],
        again=said["again"],
        log=said["log"],
        by=said["by"],
        register=said["register"],
        policy_file=said["policy_file"],
        passphrase_file=said["passphrase_file"],
        unacknowledged=said["unacknowledged"],
        output=said["form"],
    )


def _pair(text: str) -> tuple[str, str]:
    path, equals, value = text.partition("=")
    if not equals or not path.strip() or not value.strip():
        raise InputError(
            f"{text!r} is not PATH=VALUE",
            where="--set",
            what_to_do="write it such as 'distance=27 km'",
        )
    return path.strip(), value


def _file(path: Path | None) -> dict[str, Json]:
    if path is None:
        return {}
    value = parse_placed(common.read(path), where=str(path))
    if not isinstance(value, dict):
        raise InputError(
            "this is not one event", where=str(path), what_to_do="give one JSON object"
        )
    for name in _HEAD:
        if name in value:
            raise InputError(
                f"an event given so does not say its {name}",
                where=f"{path}#/{name}",
                what_to_do="leave it out: kind is named on the command line, --by and "
                "--at say the rest",
            )
    return value


@dataclass(frozen=True, slots=True)
class Bay:
    """An open log, an order in it, and whoever records."""

    ledger: Ledger
    hands: Hands
    given: Given

    @property
    def catalogue(self) -> Catalogue:
        """What plugins bring."""
        return self.hands.catalogue

    def time(self) -> str:
        """Return when it happened: as it was told, else now, in local time."""
        if self.given.at is not None:
            return self.given.at
        return now().astimezone().isoformat(timespec="milliseconds")

    def held(self) -> HeldOrder:
        """Return the order as the log holds it; InputError where it holds none."""
        self.ledger.show(self.given.order)
        return held(self.ledger, self.given.order)

    def event(
        self,
        kind: str,
        known: Mapping[str, Json],
        offered: Mapping[str, str] | None = None,
    ) -> dict[str, Json]:
        """Return the event of what was given; at a terminal what lacks is asked for.

        ``known`` are values by path that no person types, ``offered`` answers that
        Enter takes over. Raises InputError for what is amiss. What a file says is
        whole: an answer to a part of it is refused.
        """
        more = {**self.given.file, **known}
        for path in self.given.sets:
            if (member := path.split(".", maxsplit=1)[0]) in self.given.file:
                raise InputError(
                    f"the file says {member} too",
                    where=f"--set {path}",
                    what_to_do="say it in one place",
                )
        by = self.hands.person
        register = (
            register_of(self.given.log, self.given.register, is_said=False)
            if kind == "bench_test"
            else {}
        )
        what = Asking(
            *(kind, self.catalogue, self.time(), by, more, offered or {}),
            narrow=None if kind == "opening" else self._narrow(register),
            register=register,
        )
        answers = ask(what, self.given.sets)
        event = event_of(
            kind, answers, self.catalogue, at=self.time(), by=by, known=more
        )
        if kind != "bench_test":
            return event
        record = with_specifications(Record(self.given.order, (event,)), register)
        return dict(record.events[0])

    def _narrow(self, register: Mapping[str, RegisteredInstrument]) -> Narrow:
        """Return what leaves of each field what the order and a register hold."""
        found = cache(self.so_far)

        def narrow(
            fields: Iterable[Field], answers: Mapping[str, str]
        ) -> tuple[Field, ...]:
            return narrowed(fields, found(), register, at=self.time(), answers=answers)

        return narrow

    def so_far(self) -> SoFar:
        """Return what the order's evidence says so far."""
        order = self.held().order
        return so_far(order, self.catalogue.judge(order, self.hands.policy))

    def offered(self, kind: str) -> dict[str, str]:
        """Return answers that the next step suggests, where it is of a kind."""
        found = self.so_far()
        step = next_step(found, at=self.time(), by=self.hands.person)
        todo = step.then or step
        if todo.kind != kind:
            return {}
        if kind == "diagnosis":
            codes = (one.fault.code for one in found.faults if one.is_open)
            return {"codes": ", ".join(codes)}
        if kind in {"bench_test", "repair"}:
            return {"part": todo.subject}
        return {}

    def take(
        self,
        events: Sequence[Mapping[str, Json]],
        pictures: Mapping[str, bytes] | None = None,
        suffix: str = "",
    ) -> Taken:
        """Record events as one step; ``suffix`` tells the forms of one call apart."""
        form = self._form(events, pictures or {}, suffix)
        try:
            return take(self.ledger, self.given.order, form, self.hands)
        except InputError as error:
            error.where = _as_typed(error.where)
            raise

    def _form(
        self,
        events: Sequence[Mapping[str, Json]],
        pictures: Mapping[str, bytes],
        suffix: str,
    ) -> Form:
        """Return the form: of the id given, the same that was just recorded, or new."""
        unacknowledged = self.given.unacknowledged
        if self.given.form is not None:
            return Form(self.given.form + suffix, events, pictures, unacknowledged)
        lines = () if self.given.again else held(self.ledger, self.given.order).lines
        if same := same_just_now(events, lines, now()):
            sent = [line.event for line in same]
            return Form(str(same[0].form), sent, pictures, unacknowledged)
        return Form(secrets.token_urlsafe(12), events, pictures, unacknowledged)

    def tell(self, done: Taken, lines: Sequence[str] = ()) -> None:
        """Print what a step changed, and what is next."""
        numbers = ", ".join(map(str, done.seqs))
        entries = f"{'entries' if len(done.seqs) > 1 else 'entry'} {numbers}"
        order = self.given.order
        if self.given.output == "json":
            common.print_json(
                {
                    "repair_order": order,
                    "entries": list(done.seqs),
                    "new": done.is_new,
                    "changed": list(done.changed),
                    "so_far": str(done.after.judgement.verdict),
                    "next_step": step_json(done.next, order),
                }
            )
            return
        common.print_lines(lines)
        for line in done.changed or (f"{order}: {state_text(done.after, None)}",):
            common.say(line)
        claimed = "" if self.given.at is None else f", claimed for {self.given.at}"
        if not done.is_new:
            once_more = (
                "" if self.given.form else "; say --again to record it once more"
            )
            common.say(f"The log holds it already, as {entries}{once_more}.")
        else:
            common.say(f"Recorded as {entries}{claimed}.")
        if done.reopened:
            common.say(
                f"It was closed as {done.reopened}: 'auditkit close {order}' closes it "
                "anew with what came now."
            )
        common.print_lines(step_lines(done.next, order))


def _as_typed(where: str) -> str:
    """Return the place of an error in an event as the command line says it."""
    if not where.startswith("/"):
        return where
    path = where.strip("/").replace("/", ".")
    return "--at" if path == "at" else f"--set {path}"


@contextmanager
def bay(given_: Given) -> Iterator[Bay]:
    """Open the log for whoever records, with their key and the log's."""
    policy = policy_of(given_.log, given_.policy_file, is_said=False)
    plugins = load_plugins()
    with Ledger.open(given_.log, clock=now) as ledger:
        person = given_.by or people.only_person(ledger)
        signer, log_key = passphrases.unlock(ledger, person, given_.passphrase_file)
        hook = plugins.hook.sealed
        ledger.on_sealed = lambda seq, payload: hook(seq=seq, payload=payload)
        hands = Hands(
            person=person,
            signer=signer,
            log_key=log_key,
            catalogue=plugins.catalogue,
            policy=policy,
        )
        yield Bay(ledger, hands, given_)
