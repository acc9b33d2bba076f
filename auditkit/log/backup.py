"""A backup of a log: a whole copy, verified, while others write to the log.

A log file that is open lies in two parts, the file and its write-ahead log. Whoever
copies the file alone may get an old state or none, so SQLite makes the copy
(https://www.sqlite.org/backup.html).
"""

from __future__ import annotations

import hashlib
import shutil
from dataclasses import dataclass
from pathlib import Path

from auditkit.errors import InputError, LogError, VerificationError, disk_advice
from auditkit.log import attachments, key_files, newest_checkpoint
from auditkit.log.disk import sync_folder
from auditkit.log.open_log import OpenLog
from auditkit.log.store import Store
from auditkit.log.verify_log import Progress, verify_file
from auditkit.proof.check_log import read_keys
from auditkit.proof.check_report import CheckReport


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup that was made and verified."""

    path: Path
    attachments: int
    report: CheckReport


def back_up(path: Path, to: Path, *, progress: Progress | None = None) -> Backup:
    """Copy the log at ``path`` to a new file ``to``, with its attachments; verify it.

    The private keys are not copied. There is a whole, verified copy in the end or
    none. Raises InputError where ``to`` is taken, LogError where it cannot be written
    or where the log is an older copy than what its key has signed already, and
    VerificationError where the copy does not verify: then the log itself does not.
    """
    beside = attachments.folder_of(to)
    for taken in (to, beside):
        if taken.exists():
            raise InputError(
                "this exists already",
                where=str(taken),
                what_to_do="give each backup a name of its own",
            )
    part = to.with_name(f"{to.name}.part")
    try:
        shutil.rmtree(part, ignore_errors=True)  # of a backup that was stopped
        part.mkdir(mode=0o700)
        try:
            made = _made(path, part / to.name, progress)
            if attachments.folder_of(made.path).exists():
                attachments.folder_of(made.path).replace(beside)
            made.path.replace(to)
            sync_folder(to.absolute().parent)
        finally:
            shutil.rmtree(part, ignore_errors=True)
    except OSError as error:
        raise LogError(
            f"the backup cannot be written: {error.strerror or error}",
            where=str(error.filename or to),
            what_to_do=disk_advice(error),
        ) from error
    return Backup(to, made.attachments, made.report)


def _made(path: Path, to: Path, progress: Progress | None) -> Backup:
    # Read before the copy is made: others may write meanwhile.
    signed = newest_checkpoint.recall_text(key_files.folder_of(path))
    with OpenLog(Store.open(path)) as source:
        newest_checkpoint.refuse_behind(source)
        source.store.copy_to(to)
    to.chmod(path.stat().st_mode & 0o777)
    copied = _copy_attachments(path, to)
    report = verify_file(to, trust=signed, progress=progress)
    if not report.verified:
        first = report.problems[0]
        found = first.problem if first.seq is None else str(first)
        raise VerificationError(
            f"the log does not verify, so there is no backup: {found}",
            where=str(path),
            what_to_do="keep the file and the last backup as they are, and run "
            f"'auditkit verify {path}'",
        )
    return Backup(to, copied, report)


def _copy_attachments(path: Path, to: Path) -> int:
    """Copy the attachments that a copied log does not call erased; return how many."""
    store = Store.open(to)
    try:
        erased = read_keys(store.log_rows()).ring.erased_attachments
    finally:
        store.close()
    here, there = attachments.Attachments(path), attachments.Attachments(to)
    copied = 0
    for digest in sorted(here.names() - erased.keys()):
        data = here.get(digest)
        # One that is altered is copied under its own digest, and so missed: what
        # verifies the copy says so.
        if data is not None and hashlib.sha256(data).hexdigest() == digest:
            there.put(data)
            copied += 1
    return copied
