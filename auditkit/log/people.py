"""People whose keys may sign: enrolled, revoked, rotated by the log's own events."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from auditkit.errors import AuditkitError, KeyProblem
from auditkit.log import key_files, log_events
from auditkit.log.open_log import OpenLog
from auditkit.proof.keys import PublicKey
from auditkit.proof.role import Role


@dataclass(frozen=True, slots=True)
class Person:
    """A person's key that is enrolled, or once was."""

    id: str
    role: Role
    thumbprint: str
    enrolled_seq: int
    revoked_seq: int | None
    has_private: bool


def people(log: OpenLog) -> tuple[Person, ...]:
    """Return every person ever enrolled, one line for each key."""
    return tuple(
        Person(
            id=enrolled.person,
            role=enrolled.role,
            thumbprint=thumbprint,
            enrolled_seq=enrolled.seq,
            revoked_seq=log.ring.revoked.get(thumbprint),
            has_private=key_files.has(log.keys, enrolled.person),
        )
        for thumbprint, enrolled in log.ring.enrolled.items()
    )


def _of_key(log: OpenLog, key: PublicKey) -> Person:
    return next(p for p in people(log) if p.thumbprint == key.thumbprint)


def only_person(log: OpenLog) -> str:
    """Return the one whose key lies here and signs; KeyProblem for none or several."""
    active = [p.id for p in people(log) if p.revoked_seq is None and p.role.signs]
    here = [p for p in dict.fromkeys(active) if key_files.has(log.keys, p)]
    if len(here) == 1:
        return here[0]
    if not here:
        raise KeyProblem(
            f"no person's key lies in {log.keys}",
            what_to_do="put the folder back, or see 'auditkit succeed'",
        )
    raise KeyProblem(
        f"who records? keys of {', '.join(here)} lie here",
        what_to_do="say it with --by PERSON",
    )


def enrol(  # noqa: PLR0913  each is a choice of whoever enrols
    log: OpenLog,
    person: str,
    *,
    passphrase: bytes,
    own_passphrase: bytes | None = None,
    role: Role = Role.TECHNICIAN,
    key: PublicKey | None = None,
    own: key_files.Kept | None = None,
) -> Person:
    """Enrol a person with a new key, or with a public key of their own.

    ``passphrase`` is the log key's, ``own_passphrase`` the one of the new key: the
    same, unless given. ``own`` is a private key made elsewhere, in a token; its place
    is kept.

    A person whose earlier key is still active gets the new one beside it, and its role
    (KeyProblem where the last manager would be none); revoke the old one to replace it.
    A call that was stopped is finished by the same call: a new private key waits beside
    its place until the log names it.
    """
    log_key = log.log_signer(passphrase)
    word = passphrase if own_passphrase is None else own_passphrase
    log.may_write()
    if role is not Role.MANAGER and _managers(log) == {person}:
        raise _is_last_manager(person)
    told = partial(log_events.enrolment, log.at(), person=person, role=role)
    told(key=log_key.public)  # an unfit id is refused before a key file has its name
    if key is not None:
        public = key
    elif own is not None:
        public = own.public
    else:
        active = log.ring.active(person)  # without one, what lies here gives way
        if active and not key_files.waits(log.keys, person, word, active):
            key_files.refuse_taken(log.keys, person)
        public = key_files.waiting(log.keys, person, word, refused=log.ring.revoked)
        if public.thumbprint in log.ring.enrolled:
            key_files.promote(log.keys, person)
            return _of_key(log, public)
    if public.thumbprint in log.ring.enrolled:
        raise KeyProblem(
            f"key {public.thumbprint} is enrolled already",
            what_to_do="give another key",
        )
    if own is not None:
        if log.ring.active(person) is None:
            key_files.set_aside(log.keys, person)
        key_files.save(log.keys, person, own, passphrase)
    try:
        log.write_own(told(key=public), log_key=log_key)
    except (AuditkitError, OSError):
        if key is None and public.thumbprint not in log.ring.enrolled:
            key_files.drop(log.keys, person, is_waiting=own is None)
        raise
    if key is None and own is None:
        key_files.promote(log.keys, person)
    return _of_key(log, public)


def revoke(
    log: OpenLog, person: str, *, reason: str, passphrase: bytes, is_last: bool = False
) -> Person:
    """Revoke a person's active key: what it signs from now on is refused.

    KeyProblem for the last manager's, unless ``is_last`` says that the shop ends: a
    stolen key is replaced by ``rotate``.
    """
    log_key = log.log_signer(passphrase)
    log.may_write()
    active = _active(log, person)
    event = log_events.revocation(log.at(), person=person, key=active, reason=reason)
    if not is_last and _managers(log) and not _managers(log, gone=active.thumbprint):
        raise _is_last_manager(person)
    log.write_own(event, log_key=log_key)
    return _of_key(log, active)


def rotate(  # noqa: PLR0913  each is a choice of whoever rotates
    log: OpenLog,
    person: str,
    *,
    reason: str,
    passphrase: bytes,
    own_passphrase: bytes | None = None,
    role: Role | None = None,
) -> Person:
    """Put a new key in the place of a person's active one, in one transaction.

    The role stays, unless another is given (KeyProblem where the last manager would be
    none); passphrases are those of ``enrol``. The old key's is not asked for: it may be
    forgotten.

    The new private key is written beside the old one before the log names it, and
    takes its place after: a run that was stopped is finished by the same call. The
    old private key is kept under another name; it signs nothing any more.
    """
    log_key = log.log_signer(passphrase)
    log.may_write()
    active = _active(log, person)
    kept = _of_key(log, active).role if role is None else role
    if kept is not Role.MANAGER and _managers(log) == {person}:
        raise _is_last_manager(person)
    word = passphrase if own_passphrase is None else own_passphrase
    new = key_files.waiting(log.keys, person, word, refused=log.ring.revoked)
    if new.thumbprint not in log.ring.enrolled:
        log.write_own(
            log_events.revocation(log.at(), person=person, key=active, reason=reason),
            log_events.enrolment(log.at(), person=person, key=new, role=kept),
            log_key=log_key,
        )
    key_files.promote(log.keys, person)
    return _of_key(log, new)


def _active(log: OpenLog, person: str) -> PublicKey:
    active = log.ring.active(person)
    if active is None:
        raise KeyProblem(
            f"{person!r} has no active key", what_to_do="see 'auditkit key list'"
        )
    return active


def _managers(log: OpenLog, gone: str = "") -> set[str]:
    """Return who manages, by the role of the newest active key other than ``gone``."""
    newest = {
        one.id: one.role
        for one in sorted(people(log), key=lambda one: one.enrolled_seq)
        if one.revoked_seq is None and one.thumbprint != gone
    }
    return {name for name, role in newest.items() if role is Role.MANAGER}


def _is_last_manager(person: str) -> KeyProblem:
    return KeyProblem(
        f"{person!r} is the last manager: nobody would be left who enrols and "
        "revokes people",
        what_to_do="enrol another manager first, or put a new key in the place of "
        f"this one ('auditkit key rotate {person} --reason TEXT'); where the shop "
        f"ends, 'auditkit key revoke {person} --reason TEXT --last'",
    )
