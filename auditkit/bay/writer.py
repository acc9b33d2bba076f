"""The one thread that writes to the log, and connections that read it meanwhile.

SQLite's objects belong to the thread that made them, and two writers would wait for
each other asleep. So one thread opens the log, takes what is to be written from a
queue, in order, and answers by futures. An answer is given once the entry is durable,
with a checkpoint over it in the same transaction: whoever is answered has it signed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from queue import Empty, Full, Queue
from threading import BoundedSemaphore, Lock, Thread
from typing import TYPE_CHECKING, Self, TypeVar

from auditkit.bay.known_orders import KnownOrders
from auditkit.bay.one_bay import lock_bay
from auditkit.bay.one_step import take
from auditkit.errors import LogError
from auditkit.log.ledger import Ledger
from auditkit.log.open_log import now
from auditkit.log.sealing import stamp

if TYPE_CHECKING:
    from pathlib import Path

    from auditkit.bay.one_step import Form, Hands, Taken
    from auditkit.log.sealing import Clock
    from auditkit.proof.keyring import Enrolled
    from auditkit.proof.keys import SigningKey

T = TypeVar("T")
_READERS = 3
"""Connections that read at once: more would only wait for the same processor, and each
remembers what it has proven."""
_WAITING = 256  # steps in the queue; more than a shop sends in a minute
_AT_REST = 0.2  # seconds in which nobody sent a step
_UNKEPT = 64
"""Steps after which the newest checkpoint is kept beside the keys where none of them
came to rest: two writes to the disk, for which the next step would wait."""


class LogWriter:
    """A log that one thread writes to, for as long as a bay runs.

    ``log_key`` is the log's key, unlocked by whoever starts the bay; ``known`` is what
    the orders that were worked on last show. Raises LogError where another bay of the
    log runs, or the log cannot be written.
    """

    def __init__(self, path: Path, log_key: SigningKey, *, clock: Clock = now) -> None:
        self.path = path
        self.log_key = log_key
        self.known = KnownOrders()
        self._clock = clock
        self._jobs: Queue[Callable[[Ledger], None] | None] = Queue(_WAITING)
        self._is_open = True
        self._closing = Lock()
        self._idle_readers: list[Ledger] = []
        self._may_read = BoundedSemaphore(_READERS)
        self._people: Ledger | None = None
        self._of_people = Lock()
        self._bay = lock_bay(path)
        begun: Future[None] = Future()
        self._thread = Thread(target=self._write, args=(begun,), name="log writer")
        self._thread.start()
        try:
            begun.result()
        except BaseException:
            self._thread.join()
            self._bay.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def stop(self) -> None:
        """Write what was taken on, answer it, and close the log. Take on no more."""
        with self._closing:
            was_open, self._is_open = self._is_open, False
        if was_open:
            self._jobs.put(None)
        self._thread.join()
        while self._idle_readers:
            self._idle_readers.pop().close()
        with self._of_people:
            if self._people is not None:
                self._people.close()
                self._people = None
        self._bay.close()

    def at(self) -> str:
        """Return the time now, as the log's own events state it."""
        return stamp(self._clock())

    def do(self, work: Callable[[Ledger], T]) -> Future[T]:
        """Have the writing thread do something with the log; return its answer to be.

        LogError at once where the bay is stopping, or too much waits already.
        """
        answer: Future[T] = Future()

        def job(ledger: Ledger) -> None:
            if not answer.set_running_or_notify_cancel():
                return
            try:
                found = work(ledger)
            except BaseException as error:  # noqa: BLE001  whoever waits is told
                answer.set_exception(error)
            else:
                answer.set_result(found)

        with self._closing:
            if not self._is_open:
                raise LogError(
                    "the bay is stopping",
                    where=str(self.path),
                    what_to_do="start it again, then send the form again",
                )
            try:
                self._jobs.put_nowait(job)
            except Full:
                raise LogError(
                    f"{_WAITING} steps wait to be written already",
                    where=str(self.path),
                    what_to_do="send the form again in a moment",
                ) from None
        return answer

    def take(self, order_id: str, form: Form, hands: Hands) -> Future[Taken]:
        """Record one step of an order; see ``one_step.take``.

        The same form, sent again at whatever moment, is one step with one answer.
        """
        return self.do(lambda ledger: take(ledger, order_id, form, hands, self.known))

    @contextmanager
    def reading(self) -> Iterator[Ledger]:
        """Lend a connection to read what is written so far; one thread has it."""
        with self._may_read:
            ledger = self._reader()
            try:
                ledger.learn_of_others()
                yield ledger
            finally:
                if self._is_open:
                    self._idle_readers.append(ledger)
                else:
                    ledger.close()

    def _reader(self) -> Ledger:
        try:
            return self._idle_readers.pop()
        except IndexError:
            return self._opened_to_read()

    def _opened_to_read(self) -> Ledger:
        return Ledger.open(self.path, clock=self._clock, to_read=True)

    def enrolment(self, person: str) -> Enrolled | None:
        """Return a person's enrolment as the log has it now, None without one.

        It waits for nobody who reads an order: each request asks it before all else.
        """
        with self._of_people:
            if self._people is None:
                self._people = self._opened_to_read()
            self._people.learn_of_others()
            return self._people.ring.enrolment(person)

    def recorded_as(self, order_id: str, form: str) -> tuple[int, ...]:
        """Return the entries that a form made, none where it was not recorded.

        Whoever sent it before the bay was stopped asks this after.
        """
        with self.reading() as ledger:
            return ledger.entries_of_form(order_id, form)

    def _write(self, begun: Future[None]) -> None:
        try:
            ledger = Ledger.open(self.path, clock=self._clock)
        except BaseException as error:  # noqa: BLE001  whoever starts the bay is told
            begun.set_exception(error)
            return
        with ledger:
            try:
                ledger.keep_unlocked(self.log_key)
                ledger.may_write()
            except BaseException as error:  # noqa: BLE001  as above
                begun.set_exception(error)
                return
            begun.set_result(None)
            # Nobody waits for the file beside the keys: it comes after the answer.
            ledger.keeps_newest = False
            self._work(ledger)

    def _work(self, ledger: Ledger) -> None:
        """Do what is to be done, in order, until the bay stops."""
        done = 0  # steps since what is newest was kept beside the keys
        while True:
            try:
                job = self._jobs.get(timeout=_AT_REST if done else None)
            except Empty:
                ledger.keep_newest()
                done = 0
                continue
            if job is None:
                ledger.keep_newest()
                return
            job(ledger)
            done += 1
            if done == _UNKEPT:
                ledger.keep_newest()
                done = 0
