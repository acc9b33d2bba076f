"""Attachments beside the log, held against what its entries say of them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator

from auditkit.errors import AuditkitError, LogError
from auditkit.log.attachments import Attachments
from auditkit.log.store import Store
from auditkit.proof.attached import KINDS, AttachedFile, attached_file
from auditkit.proof.check_attachments import entries
from auditkit.proof.check_report import LogProblem, Unmet
from auditkit.proof.entry import parse_payload
from auditkit.proof.keyring import KeyRing


def has_attachments(store: Store, ring: KeyRing) -> bool:
    """Return whether a file lies beside the log, or the log says that one was erased.

    Where not, no entry has to be read to know that none is altered.
    """
    return bool(Attachments(store.path).names() or ring.erased_attachments)


def check_attachments(
    store: Store, ring: KeyRing, start: int = 0
) -> tuple[tuple[LogProblem, ...], tuple[str, ...]]:
    """Return problems of the files beside a log, and notes on the other files.

    A file that is altered, or here though the log says that it was erased, is a
    problem. One that is missing is noted: it may be put back from a backup. Those that
    entries before ``start`` name are left out.
    """
    folder = Attachments(store.path)
    here, problems = folder.names(), []
    states: dict[str, dict[str, int]] = {"lost": {}, "elsewhere": {}}
    named: set[str] = set()
    for seq, found in _named(store, start):
        named.add(found.sha256)
        gone = ring.erased_attachments.get(found.sha256)
        if found.sha256 in here:
            if gone is not None:
                text = f"attachment {found.sha256}, which entry {gone} erased, lies "
                text += "beside the log still"
                problems.append(LogProblem(seq, text, Unmet.ERASED))
            elif said := _wrong(folder, found):
                problems.append(LogProblem(seq, said))
        elif gone is None:
            state = "lost" if found.kept else "elsewhere"
            states[state].setdefault(found.sha256, seq)
    if start:  # what earlier entries name is not known here
        named |= here | ring.erased_attachments.keys()
    for digest, seq in ring.erased_attachments.items():
        if digest not in named:
            text = f"it erases an attachment {digest} that no entry names"
            problems.append(LogProblem(seq, text))
    return tuple(problems), tuple(_notes(ring, states, here - named))


def _named(store: Store, start: int) -> Iterator[tuple[int, AttachedFile]]:
    """Yield what entries name; an unreadable entry is reported elsewhere."""
    for row in (row for kind in KINDS for row in store.rows_of(kind, start)):
        try:
            found = attached_file(parse_payload(row.entry.payload).event)
        except AuditkitError:
            continue
        if found is not None:
            yield row.entry.seq, found


def _wrong(folder: Attachments, found: AttachedFile) -> str:
    """Return what is wrong with an attachment that lies here, empty if nothing is."""
    try:
        data = folder.get(found.sha256) or b""
    except LogError as error:
        return f"attachment {found.sha256} cannot be read: {error.message}"
    if hashlib.sha256(data).hexdigest() != found.sha256:
        return f"attachment {found.sha256} was altered"
    if len(data) != found.size:
        return f"attachment {found.sha256} has {len(data)} bytes, not {found.size}"
    return ""


def _notes(
    ring: KeyRing, states: dict[str, dict[str, int]], strays: Iterable[str]
) -> Iterator[str]:
    if ring.erased_attachments:
        count = len(ring.erased_attachments)
        yield f"attachments erased, as the log says: {count}"
    lost, elsewhere = states["lost"], states["elsewhere"]
    if lost:
        yield (
            f"attachments lost: {len(lost)} ({entries(lost.values())}): their bytes "
            "were kept beside the log, and no entry says that they were erased; look "
            "for them in a backup"
        )
    if elsewhere:
        yield (
            f"attachments kept elsewhere: {len(elsewhere)} "
            f"({entries(elsewhere.values())}): only their digests are here"
        )
    unnamed = len(tuple(strays))
    if unnamed:
        yield f"files beside the log that no entry names: {unnamed}"
