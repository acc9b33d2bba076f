"""Who is signed in at the bay: in memory only, gone when the bay ends.

A person signs in by what opens their own key. The key is forgotten when the session is
locked, by a tap or after a time without a touch; the session then still says who
worked here. Whoever holds the token that ``sign_in`` returns is that session.
"""

from __future__ import annotations

import hashlib
import secrets
import time
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING

from auditkit.bay.throttle import Throttle
from auditkit.bay.unlocked import DoesNotOpen
from auditkit.errors import KeyProblem
from auditkit.proof.entry import LOG_SIGNER
from auditkit.proof.keyring import Enrolled
from auditkit.proof.role import Role
from auditkit.text.display_text import plural

if TYPE_CHECKING:
    from auditkit.bay.unlocked import KeyOpener
    from auditkit.proof.keys import PrivateKey, PublicKey

IDLE = 15 * 60.0  # seconds without a touch; our own choice
LONGEST = 14 * 3600.0  # seconds from sign-in to the end of a session, touched or not
_MOST = 200  # sessions at once; the one that was touched longest ago gives way
_OVER_A_TABLET = 1000  # tablets that are remembered to have signed a person in


class WaitFirst(KeyProblem):
    """Too many wrong passphrases; ``seconds`` to wait."""

    def __init__(self, seconds: int) -> None:
        self.seconds = seconds
        super().__init__(
            "too many wrong passphrases within a minute",
            what_to_do=f"wait {plural(seconds, 'second', 'seconds')}, then try again",
        )


@dataclass(frozen=True, slots=True)
class SignedIn:
    """A person at a page. ``key`` is None while locked, and for who signs nothing.

    ``shown`` is the one order that a locked page shows at the counter, or empty.
    """

    person: str
    role: Role
    thumbprint: str
    is_locked: bool
    key: PrivateKey | None = field(default=None, repr=False)
    shown: str = ""


@dataclass(slots=True)
class _Session:
    person: str
    enrolled: Enrolled
    key: PrivateKey | None = field(repr=False)
    began: float
    touched: float
    is_locked: bool = False
    shown: str = ""

    def seen(self) -> SignedIn:
        return SignedIn(
            self.person,
            self.enrolled.role,
            self.enrolled.key.thumbprint,
            self.is_locked,
            self.key,
            self.shown,
        )


class SignIns:
    """All sessions of one bay; to be used from any thread.

    ``enrolment`` gives a person's enrolment as the log has it now, None without one: a
    session ends with the key that it began with. ``clock`` is in seconds.
    """

    def __init__(
        self,
        opener: KeyOpener,
        enrolment: Callable[[str], Enrolled | None],
        *,
        idle: float = IDLE,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._opener = opener
        self._enrolment = enrolment
        self._idle = idle
        self._clock = clock
        self._throttle = Throttle()
        self._sessions: dict[bytes, _Session] = {}
        self._known: dict[tuple[str, str], None] = {}  # tablet and person
        self._lock = Lock()

    def sign_in(
        self, person: str, passphrase: bytes, *, address: str, tablet: str = ""
    ) -> str:
        """Return the token of a new session.

        ``tablet`` is a secret that the tablet was given before, if any: one that signed
        this person in has a count of its own, so that nobody else at the network can
        lock the person out there. Raises ``unlocked.DoesNotOpen``, or WaitFirst.
        """
        enrolled, key = self._opened(person, passphrase, address, tablet)
        now = self._clock()
        session = _Session(person, enrolled, key, began=now, touched=now)
        token = secrets.token_urlsafe(32)
        with self._lock:
            self._sessions[_mark(token)] = session
            while len(self._sessions) > _MOST:
                del self._sessions[
                    min(self._sessions, key=lambda mark: self._sessions[mark].touched)
                ]
        return token

    def find(self, token: str, *, is_touch: bool = True) -> SignedIn | None:
        """Return who is signed in by a token, None where nobody is.

        What a page asks by itself is no touch.
        """
        with self._lock:
            session = self._current(token)
            if session is None:
                return None
            if is_touch and (session.shown or not session.is_locked):
                session.touched = self._clock()
            return session.seen()

    def knows(self, tablet: str) -> bool:
        """Return whether somebody signed in at a tablet, by its secret, before."""
        with self._lock:
            return any(one == tablet for one, _ in self._known)

    def lock_idle(self) -> None:
        """Forget the keys of all sessions that nobody touched for long enough.

        Whoever runs the bay calls it now and then: a tablet that was put away asks
        nothing any more.
        """
        with self._lock:
            now = self._clock()
            for session in self._sessions.values():
                if self._is_idle(session, now):
                    _lock(session)

    def lock(self, token: str) -> None:
        """Forget the key of a session until its person unlocks it."""
        with self._lock:
            session = self._current(token)
            if session is not None:
                _lock(session)

    def show_only(self, token: str, order: str) -> None:
        """Forget the key of a session, and show one order until it is unlocked.

        A customer or an inspector looks at it; left alone it locks whole.
        """
        with self._lock:
            session = self._current(token)
            if session is not None:
                _lock(session)
                session.shown = order

    def unlock(
        self, token: str, passphrase: bytes, *, address: str, tablet: str = ""
    ) -> SignedIn | None:
        """Open the key of a locked session again; None where the session has ended.

        Raises as ``sign_in`` does.
        """
        found = self.find(token, is_touch=False)
        if found is None:
            return None
        enrolled, key = self._opened(found.person, passphrase, address, tablet)
        with self._lock:
            session = self._current(token)
            if session is None or session.enrolled != enrolled:
                return None
            session.key, session.is_locked, session.shown = key, False, ""
            session.touched = self._clock()
            return session.seen()

    def sign_out(self, token: str) -> None:
        """End a session."""
        with self._lock:
            self._sessions.pop(_mark(token), None)

    def confirm_log_key(
        self, log_key: PublicKey, passphrase: bytes, *, address: str
    ) -> None:
        """See that a passphrase opens the log's key, in a process of its own too.

        Raises ``unlocked.DoesNotOpen``, or WaitFirst. Nobody's own key does.
        """
        own = Enrolled(LOG_SIGNER, log_key, 0, Role.MANAGER)
        counted_by = (("log",), ("address", address))
        self._tried(counted_by, lambda: self._opener.open(LOG_SIGNER, passphrase, own))

    def _opened(
        self, person: str, passphrase: bytes, address: str, tablet: str
    ) -> tuple[Enrolled, PrivateKey | None]:
        with self._lock:
            at_home = tablet if (tablet, person) in self._known else ""
        counted_by = (("person", person, at_home), ("address", address))
        enrolled = self._enrolment(person)
        key = self._tried(
            counted_by, lambda: self._opener.open(person, passphrase, enrolled)
        )
        assert enrolled is not None  # noqa: S101  nothing else opens
        if tablet:
            with self._lock:
                self._known[tablet, person] = None
                while len(self._known) > _OVER_A_TABLET:
                    del self._known[next(iter(self._known))]
        return enrolled, key if enrolled.role.signs else None

    def _tried(
        self, counted_by: tuple[Hashable, ...], opens: Callable[[], PrivateKey]
    ) -> PrivateKey:
        """Return what opens; count it by each of these where it does not."""
        wait = self._throttle.wait(counted_by, self._clock())
        if wait:
            raise WaitFirst(wait)
        try:
            key = opens()
        except DoesNotOpen:
            raise
        except KeyProblem:
            for by in counted_by:
                self._throttle.take_back(by)
            raise
        self._throttle.forget(counted_by[0])
        for by in counted_by[1:]:
            self._throttle.take_back(by)
        return key

    def _current(self, token: str) -> _Session | None:
        """Return a session that has not ended, locked where nobody touched it."""
        mark = _mark(token)
        session = self._sessions.get(mark)
        if session is None:
            return None
        now = self._clock()
        is_over = now - session.began >= LONGEST
        if is_over or self._enrolment(session.person) != session.enrolled:
            del self._sessions[mark]
            return None
        if self._is_idle(session, now):
            _lock(session)
        return session

    def _is_idle(self, session: _Session, now: float) -> bool:
        is_over = now - session.began >= LONGEST
        return is_over or now - session.touched >= self._idle


def _lock(session: _Session) -> None:
    session.key, session.is_locked, session.shown = None, True, ""


def _mark(token: str) -> bytes:
    """Return what a token is looked up by: how long that takes tells nothing of it."""
    return hashlib.sha256(token.encode()).digest()
