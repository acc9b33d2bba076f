"""A log that continues another under a new name: after a loss, or on purpose.

A log is never signed on from an older copy, and never under another key: either would
make two histories of one name. Instead a new log begins, with an origin of its own,
and its first entry says which log it continues, up to which checkpoint, and why. Where
the old log is whole and its key at hand, its last entry names the new one; else a note
beside its keys does.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from auditkit.errors import KeyProblem, LogError, VerificationError
from auditkit.log import key_files, newest_checkpoint, successor_note
from auditkit.log.ledger import Ledger
from auditkit.proof import note
from auditkit.proof.entry import LOG_SIGNER
from auditkit.proof.role import Role
from auditkit.text.values import Json

_NUMBERED = re.compile(r"(.+)/([1-9][0-9]{0,8})(?:-[0-9a-f]{8})?")


@dataclass(frozen=True, slots=True)
class Succession:
    """What was done.

    ``people`` may sign in the new log. ``without_key`` are people of the old one whose
    private key did not open, to be enrolled anew. ``held`` is how many entries the old
    file holds, ``lost`` how many more its key had signed as far as is known, at least 1
    where the file is another history. ``closed`` is the old log's closing entry, None
    where it could have none. ``begun`` is whether this call made the new log,
    not an earlier one.
    """

    origin: str
    log_key: str
    is_same_key: bool
    people: tuple[str, ...]
    without_key: tuple[str, ...]
    held: int
    lost: int
    closed: int | None
    begun: bool


def next_origin(origin: str) -> str:
    """Return the name of the log after this one: ``name/2``, ``name/3`` and so on."""
    numbered = _NUMBERED.fullmatch(origin)
    if numbered is None:
        return f"{origin}/2"
    return f"{numbered[1]}/{int(numbered[2]) + 1}"


def _name(before: Ledger, *, is_closed: bool) -> str:
    """Return the new log's name.

    Where no closing entry of the old log can name it, another copy of the old log might
    be continued as well: so that name cannot be had twice.
    """
    name = next_origin(before.origin)
    return name if is_closed else f"{name}-{secrets.token_hex(4)}"


def succeed(  # noqa: PLR0913  each is stated once, when a log ends
    old: Path,
    new: Path,
    *,
    reason: str,
    passphrase: bytes,
    new_key: bool = False,
    person: str | None = None,
    lost: str | None = None,
) -> Succession:
    """Begin the log at ``new`` that continues the one at ``old``.

    The log's key is carried on, so that the shop's fingerprint stays, unless
    ``new_key`` asks for another. People keep the keys that open under the passphrase;
    where none does, ``person`` must be named and gets a new one. ``lost`` is the text
    of the largest checkpoint that others hold, where it is beyond the old file and
    beyond what the shop itself remembers. A call that was interrupted is finished by
    the same call.

    Raises LogError where the old file does not verify as far as it goes, KeyProblem
    where its key is needed and does not open.
    """
    with Ledger.open(old) as before:
        report = before.verify()
        if not report.verified or report.checkpoint is None:
            raise LogError(
                f"it does not verify: {report.problems[0].problem}",
                where=str(old),
                what_to_do="restore a copy that does, and continue that one",
            )
        if before.ring.closed is not None and not new.exists():
            raise LogError(
                f"this log was closed by entry {before.ring.closed}",
                where=str(old),
                what_to_do="continue the log that its closing entry names, "
                "or name its path",
            )
        own = _log_key(before, old, passphrase, needed=not new_key)
        signed = _lost(before, old, lost)
        if signed is None and before.ring.closed is None and not new.exists():
            successor_note.refuse_continued(before)
        keys = _people(before, old, passphrase)
        first = _first_person(keys, person, old)
        predecessor: dict[str, Json] = {
            "origin": before.origin,
            "log_key": before.log_key.x,
            "checkpoint": before.checkpoint(),
            "reason": reason,
        }
        if signed is not None:
            predecessor["lost_checkpoint"] = signed
        begun = not new.exists()
        after = _begun(
            before,
            new,
            predecessor,
            keys,
            passphrase,
            log_key=None if new_key else own,
            person=first,
            origin=_name(before, is_closed=signed is None and own is not None),
        )
        with after:
            closed = before.ring.closed
            if closed is None and signed is None and own is not None:
                closed = before.close_for(
                    after.origin,
                    after.log_key,
                    reason=reason,
                    passphrase=passphrase,
                    size=report.entries,
                )
            if closed is None:
                successor_note.remember(before.keys, after.origin)
            return Succession(
                origin=after.origin,
                log_key=after.log_key.thumbprint,
                is_same_key=after.log_key == before.log_key,
                people=tuple(p.id for p in after.people()),
                without_key=tuple(name for name, key in keys.items() if key is None),
                held=report.entries,
                lost=0 if signed is None else max(_size(signed) - report.entries, 1),
                closed=closed,
                begun=begun,
            )


def _size(text: str) -> int:
    return note.parse_checkpoint(note.split_note(text)[0]).size


def _log_key(
    before: Ledger, old: Path, passphrase: bytes, *, needed: bool
) -> key_files.Kept | None:
    """Return the old log's private key, or None where it neither opens nor must."""
    folder = key_files.folder_of(old)
    try:
        key = key_files.load(folder, LOG_SIGNER, passphrase)
    except KeyProblem as error:
        if needed:
            raise KeyProblem(
                error.message,
                where=error.where,
                what_to_do=f"{error.what_to_do}; if it is lost for "
                "good, give --new-key",
            ) from error
        return None
    return key if key.public == before.log_key else None


def _people(
    before: Ledger, old: Path, passphrase: bytes
) -> dict[str, key_files.Kept | None]:
    """Return the active people of a log with the private keys that open."""
    folder = key_files.folder_of(old)
    found: dict[str, key_files.Kept | None] = {}
    for person in before.people():
        if person.revoked_seq is not None:
            continue
        active = before.ring.active(person.id)
        if active is None:
            continue
        key_files.finish(folder, person.id, passphrase, active)
        try:
            found[person.id] = key_files.load_active(
                folder, person.id, passphrase, active
            )
        except KeyProblem:
            found[person.id] = None
    return found


def _first_person(
    keys: Mapping[str, key_files.Kept | None], person: str | None, old: Path
) -> str:
    """Return who is enrolled first; KeyProblem where that must be stated."""
    opening = [name for name, key in keys.items() if key is not None]
    if opening:
        return person if person in opening else opening[0]
    if person is None:
        raise KeyProblem(
            "no person's key opens under this passphrase",
            where=str(old),
            what_to_do="name with --person who gets a new key and signs",
        )
    return person


def _lost(before: Ledger, old: Path, text: str | None) -> str | None:
    """Return the largest checkpoint known to be beyond the old file, None if none is.

    Raises VerificationError where ``text`` is not the old log's, or not beyond it.
    """
    folder = key_files.folder_of(old)
    found: dict[int, str] = {}
    known = newest_checkpoint.recall(folder, before.origin, before.log_key)
    if known is not None and newest_checkpoint.is_behind(before, known):
        found[known.size] = newest_checkpoint.recall_text(folder) or ""
    if text is not None:
        try:
            given = note.open_checkpoint(text, before.log_key)
        except VerificationError as error:
            raise VerificationError(
                f"the checkpoint given as lost is not this log's: {error.message}",
                where=str(old),
                what_to_do="give one of the old log, or leave out --lost",
            ) from error
        if given.origin != before.origin or not newest_checkpoint.is_behind(
            before, given
        ):
            raise VerificationError(
                "the checkpoint given as lost is not beyond what the log holds",
                where=str(old),
                what_to_do="leave out --lost",
            )
        found[given.size] = text
    return found[max(found)] if found else None


def _begun(  # noqa: PLR0913
    before: Ledger,
    new: Path,
    predecessor: Mapping[str, Json],
    keys: Mapping[str, key_files.Kept | None],
    passphrase: bytes,
    *,
    log_key: key_files.Kept | None,
    person: str,
    origin: str,
) -> Ledger:
    """Return the new log, made now or by an earlier call, with everyone enrolled."""
    opening = {name: key for name, key in keys.items() if key is not None}
    roles = {known.id: known.role for known in before.people()}  # the last one counts
    if new.exists():
        after = Ledger.open(new)
        if after.ring.predecessor.get("origin") != before.origin:
            after.close()
            raise LogError(
                "this exists already, and continues another log or none",
                where=str(new),
                what_to_do="choose another path",
            )
        began = str(after.ring.predecessor.get("checkpoint"))
        if before.ring.closed is None and began != predecessor["checkpoint"]:
            after.close()
            raise LogError(
                "the old log grew after this one began to continue it",
                where=str(new),
                what_to_do="remove this one and its keys, of which nobody "
                "knows, and run again",
            )
    else:
        after = Ledger.create(
            new,
            shop=before.shop,
            origin=origin,
            person=person,
            role=roles.get(person, Role.MANAGER),
            log_key=log_key,
            person_key=opening.get(person),
            predecessor=predecessor,
            passphrase=passphrase,
        )
    for name, key in opening.items():
        if not after.ring.may_sign(name, key.public):
            folder = key_files.folder_of(new)
            if not key_files.has(folder, name):
                key_files.save(folder, name, key, passphrase)
            after.enrol(name, passphrase=passphrase, role=roles[name], key=key.public)
    return after
