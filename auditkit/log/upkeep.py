"""Looking after a log: checkpoints, attestations, erasing, closing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.errors import InputError, LogError
from auditkit.log import log_events, newest_checkpoint, reading, sound_rows
from auditkit.log.logged_order import (
    AlreadyErasedError,
    erasable,
    erasable_attachments,
)
from auditkit.log.open_log import OpenLog
from auditkit.proof import note, timestamp
from auditkit.proof.entry import LOG_SIGNER
from auditkit.proof.keys import PublicKey


@dataclass(frozen=True, slots=True)
class Erased:
    """What one call of ``erase`` erased; entry ``seq`` says so.

    ``texts`` are (entry, path) each, ``attachments`` their SHA-256 in hex.
    """

    order_id: str
    seq: int
    texts: tuple[tuple[int, str], ...]
    attachments: tuple[str, ...] = ()


def checkpoint(log: OpenLog) -> str:
    """Return the text of the newest signed checkpoint."""
    with log.store.snapshot():
        text, _ = sound_rows.sound_checkpoint(log)
    # It may leave the shop now: what others hold is not signed on from below.
    known = newest_checkpoint.recall(log.keys, log.origin, log.log_key)
    if not newest_checkpoint.is_behind(log, known):
        log.remember(text)
    return text


def attest(
    log: OpenLog, text: str, *, passphrase: bytes, token: bytes | None = None
) -> int:
    """Keep in the log what outsiders said of one of its checkpoints; return where.

    ``text`` is the checkpoint with cosignatures below, ``token`` a time stamp (RFC
    3161) over that very text. Who said it is not judged here: whoever reads the log
    decides whom to believe.
    """
    log_key = log.log_signer(passphrase)
    stated = note.open_checkpoint(text, log.log_key)
    is_ours = stated.origin == log.origin and stated.size > 0
    if not (is_ours and log.tree.holds(stated)):
        raise InputError(
            "this checkpoint is not of the entries that this log holds",
            what_to_do=f"run 'auditkit verify {log.store.path}' with it as --trust",
        )
    if token is not None:
        timestamp.check_imprint(token, text)
    elif all(f"\u2014 {log.origin} " in line for line in note.split_note(text)[1]):
        raise InputError(
            "nobody but the log itself signed this checkpoint",
            what_to_do="give one that a witness cosigned, or a time stamp with --stamp",
        )
    return log.write_own(log_events.attestation(log.at(), text, token), log_key=log_key)


def erase(  # noqa: PLR0913  each is a choice of whoever erases
    log: OpenLog,
    order_id: str,
    *,
    paths: Sequence[str] = (),
    attachments: Sequence[str] = (),
    reason: str,
    passphrase: bytes,
) -> Erased:
    """Erase withheld texts and attachments of a repair order for good, and say so.

    A path (``customer.name``) also covers what an amendment corrected it to. An
    attachment is named by its SHA-256 or the start of it; its bytes go for every event
    that names them. The deletion of texts and the log's entry are one transaction; the
    bytes go and the file is scrubbed after it. Erasing what is erased already is an
    InputError, raised after doing both again.
    """
    log_key = log.log_signer(passphrase)
    try:
        with log.store.transaction():
            log.read_ring()
            lines = reading.show(log, order_id).lines
            texts = erasable(lines, paths) if paths or not attachments else []
            files = erasable_attachments(lines, attachments, log.ring)
            event = log_events.erasure(
                log.at(),
                order_id=order_id,
                texts=((n, str(text.path), text.digest) for n, text in texts),
                attachments=files,
                reason=reason,
            )
            writer = log.begin()
            seq = writer.add(None, event, LOG_SIGNER, log_key)
            writer.finish(log_key)
            log.store.erase_disclosures((s, t.digest) for s, t in texts)
    except AlreadyErasedError:
        _scrub(log)  # a run that was stopped may have left this undone
        raise
    log.read_ring()
    log.tell(writer)
    _scrub(log)
    return Erased(order_id, seq, tuple((s, str(t.path)) for s, t in texts), files)


def _scrub(log: OpenLog) -> None:
    try:
        log.erase_attachments()
        log.store.scrub()
    except LogError as error:
        raise LogError(
            "it is erased from the log, but traces of it may lie in the log's file or "
            f"beside it still: {error.message}",
            where=error.where,
            what_to_do=f"{error.what_to_do}; then give the same command again",
        ) from error


def close_for(  # noqa: PLR0913  each is stated once, when a log ends
    log: OpenLog,
    successor: str,
    log_key: PublicKey,
    *,
    reason: str,
    passphrase: bytes,
    size: int,
) -> int:
    """Close the log for good, in favour of its successor; return the closing entry.

    ``size`` is how many entries the successor knows of; LogError for any other.
    """
    own = log.log_signer(passphrase)
    event = log_events.closing(
        log.at(), successor=successor, log_key=log_key, reason=reason
    )
    return log.write_own(event, log_key=own, size=size)
