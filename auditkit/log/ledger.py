"""The whole face of a shop's log: begin, open, read, record, look after, prove.

A ledger is a log file and the keys beside it. Each method is a function of the module
that does it; nothing is decided here.
"""

from __future__ import annotations

import secrets
import shutil
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING, Self

from auditkit.errors import LogError
from auditkit.log import (
    key_files,
    log_events,
    people,
    proving,
    reading,
    recording,
    upkeep,
)
from auditkit.log.open_log import OpenLog, now
from auditkit.log.sealing import Clock, Writer, stamp
from auditkit.log.store import Store
from auditkit.proof import note
from auditkit.proof.entry import LOG_SIGNER
from auditkit.proof.keys import PrivateKey
from auditkit.proof.merkle import Frontier
from auditkit.proof.role import Role
from auditkit.text.values import Json

if TYPE_CHECKING:
    from pathlib import Path


class Ledger(OpenLog):
    """A shop's log. Make it with ``create`` or ``open``; close it after use."""

    orders = reading.orders
    show = reading.show
    entries_of_form = reading.entries_of_form
    holders = reading.holders
    first_holder = reading.first_holder
    other_holder = reading.other_holder
    others = reading.others
    recorded_at = reading.recorded_at
    signed_by = reading.signed_by
    refuse_altered = reading.refuse_altered

    record = recording.record
    append = recording.append

    enrol = people.enrol
    revoke = people.revoke
    rotate = people.rotate
    people = people.people

    checkpoint = upkeep.checkpoint
    attest = upkeep.attest
    erase = upkeep.erase
    close_for = upkeep.close_for

    verify = proving.verify
    packet = proving.packet

    @classmethod
    def open(cls, path: Path, *, clock: Clock = now, to_read: bool = False) -> Self:
        """Open a log. No key is needed to read it.

        It stays in the thread that opens it. One that is opened ``to_read``, while
        another program has the log open, may go from thread to thread.
        """
        return cls(Store.open(path, to_read=to_read), clock=clock)

    @classmethod
    def create(  # noqa: PLR0913  each is stated once, when a shop begins
        cls,
        path: Path,
        *,
        shop: str,
        person: str,
        passphrase: bytes,
        role: Role = Role.MANAGER,
        origin: str | None = None,
        log_key: key_files.Kept | None = None,
        person_key: key_files.Kept | None = None,
        predecessor: Mapping[str, Json] | None = None,
        clock: Clock = now,
    ) -> Self:
        """Begin a log: its key, the first person's key, and the first checkpoint.

        ``person`` is the id of the first who may sign: a manager, unless said.
        Keys are made unless they are given. ``predecessor`` says which log this one
        continues, as the schema of ``log_opened`` has it; see ``succession``.
        """
        log_key = log_key or PrivateKey.generate()
        person_key = person_key or PrivateKey.generate()
        name = origin or f"log-{secrets.token_hex(8)}"
        opened = log_events.opening(
            stamp(clock()),
            origin=name,
            shop=shop,
            log_key=log_key.public,
            predecessor=predecessor,
        )
        enrolled = log_events.enrolment(
            stamp(clock()), person=person, key=person_key.public, role=role
        )
        note.vkey(name, log_key.public)
        folder = key_files.folder_of(path)
        _refuse_taken(path, folder)
        with _whole_or_not_at_all(path, folder):
            key_files.save(folder, LOG_SIGNER, log_key, passphrase)
            key_files.save(folder, person, person_key, passphrase)
            with ExitStack() as held:
                store = Store.create(path)
                held.callback(store.close)
                writer = Writer(store, name, clock, Frontier())
                with store.transaction():
                    writer.add(None, opened, LOG_SIGNER, log_key)
                    writer.add(None, enrolled, LOG_SIGNER, log_key)
                    writer.finish(log_key)
                made = cls(store, clock=clock)
                made.tell(writer)
                held.pop_all()
        return made


@contextmanager
def _whole_or_not_at_all(path: Path, folder: Path) -> Iterator[None]:
    """Take a new log's folder of keys; where the log is not made, leave nothing of it.

    Whoever made the folder owns both names: who else begins this log is refused.
    """
    try:
        folder.mkdir(mode=0o700)
    except FileExistsError:
        _refuse_taken(path, folder)
        raise
    try:
        yield
    except BaseException:
        for end in ("", "-wal", "-shm"):
            path.with_name(path.name + end).unlink(missing_ok=True)
        shutil.rmtree(folder, ignore_errors=True)
        raise


def _refuse_taken(path: Path, folder: Path) -> None:
    if path.exists() or folder.exists():
        taken = path if path.exists() else folder
        message = "this exists already"
        what_to_do = "choose another path: a log is never overwritten"
        if not path.exists():
            what_to_do += "; remove the folder if the start that made it was stopped"
        raise LogError(message, where=str(taken), what_to_do=what_to_do)
