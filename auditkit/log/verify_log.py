"""Verifying a log file: one process where it is small, all cores where it is not."""

from __future__ import annotations

import os
from bisect import bisect_left, bisect_right
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import NamedTuple

from auditkit.errors import AuditkitError
from auditkit.log.check_checkpoints import newest_missing, unsigned_closings
from auditkit.log.check_pointers import (
    Held,
    Made,
    compare,
    compare_indices,
    hold,
    rebuild,
)
from auditkit.log.kept_tree import KeptTree
from auditkit.log.store import Store
from auditkit.log.verify_attachments import check_attachments, has_attachments
from auditkit.proof import note
from auditkit.proof.check_chain import check_chain, stated_roots
from auditkit.proof.check_log import EnrolledKeys, LogPart, check_part, read_keys
from auditkit.proof.check_report import CheckReport
from auditkit.proof.judge_log import (
    Before,
    JudgedLog,
    Restated,
    judge_log,
    opened,
    sizes_of,
)
from auditkit.proof.keyring import KeyRing
from auditkit.proof.keys import PublicKey
from auditkit.proof.note import Checkpoint

Progress = Callable[[int, int], None]
# Below so many entries, starting processes costs more than it saves.
SMALL = 2_000
SMALL_CHAIN = 50_000
_NO_FILE = (
    "no attachment lies beside the log; whether entries name one was not looked for, "
    "since signatures were not checked"
)


class Checked(NamedTuple):
    """What one part of a log holds, and the pointers that its entries make.

    ``opened`` are the checkpoints over it, by their texts (see ``judge_log.opened``).
    Its rows are those from ``low`` on, up to ``stop``.
    """

    part: LogPart
    made: Made
    held: Held
    opened: dict[str, Checkpoint | str]
    low: int | None
    stop: int | None


class Wanted(NamedTuple):
    """What the caller holds against a log, and who is told how far it was read.

    ``trust`` is the text of an earlier checkpoint, ``expect_key`` the thumbprint (RFC
    7638) that the log's key shall have.
    """

    trust: str | None = None
    expect_key: str | None = None
    progress: Progress | None = None


class Verified(NamedTuple):
    """A report, and what it was made of."""

    report: CheckReport
    judged: JudgedLog
    made: Made
    keys: EnrolledKeys


def verify_store(
    store: Store,
    *,
    signatures: bool = True,
    trust: str | None = None,
    expect_key: str | None = None,
    progress: Progress | None = None,
) -> CheckReport:
    """Check the log in a store; ``trust`` is the text of an earlier checkpoint.

    Attachments beside the log are checked without ``signatures`` too.
    """
    wanted = Wanted(trust, expect_key, progress)
    return verified(store, wanted, signatures=signatures).report


def verified(store: Store, wanted: Wanted, *, signatures: bool = True) -> Verified:
    """Check the log in a store, and return what the report was made of too."""
    keys = read_keys(store.log_rows())
    checkpoints, trust = store.checkpoints(), wanted.trust
    sizes = sizes_of(keys, checkpoints, size_of(trust))
    parts = check_parts(
        store, keys, Before(), sizes, wanted.progress, signatures=signatures
    )
    judged = judge_log(
        keys,
        [checked.part for checked in parts],
        checkpoints,
        store.disclosures(),
        signatures=signatures,
        trust=trust,
        trust_size=size_of(trust),
        expect_key=wanted.expect_key,
        opened=opened_by(parts),
        restated=restated(store, parts),
    )
    made, report = made_by(parts), judged.report
    if report.verified:  # else what follows is of other entries
        closings = unsigned_closings(checkpoints, made.orders.values())
        newest, notes = newest_missing(store, keys.ring, checkpoints)
        report = report.with_more((*closings, *newest), notes)
    if signatures and report.verified:
        held = (checked.held for checked in parts)
        more = compare(store, held, made, whole=True, hints=judged.hints)
        report = report.with_more((*compare_indices(store), *more), ())
    if signatures or has_attachments(store, keys.ring):
        report = report.with_more(*check_attachments(store, keys.ring))
    else:
        report = report.with_more((), (_NO_FILE,))
    return Verified(report, judged, made, keys)


def verify_file(  # noqa: PLR0913  each is one thing that a caller may hold
    path: Path,
    *,
    signatures: bool = True,
    trust: str | None = None,
    expect_key: str | None = None,
    progress: Progress | None = None,
    anew: bool = False,
) -> CheckReport:
    """Check a log file, also one that is too damaged to open as a ledger.

    With ``anew`` the pointers beside the entries are made of them first.
    """
    store = Store.open(path)
    try:
        if anew:
            rebuild(store)
        return verify_store(
            store,
            signatures=signatures,
            trust=trust,
            expect_key=expect_key,
            progress=progress,
        )
    finally:
        store.close()


def made_by(parts: list[Checked]) -> Made:
    """Return the pointers that the entries of all parts make."""
    made = Made()
    for checked in parts:
        made.follow(checked.made)
    return made


def opened_by(parts: list[Checked]) -> dict[str, Checkpoint | str]:
    """Return the checkpoints that were looked at with the parts."""
    return {text: found for part in parts for text, found in part.opened.items()}


def restated(store: Store, parts: list[Checked]) -> Restated:
    """Return what reads again the roots that the entries of a part state."""

    def stated(number: int) -> dict[int, tuple[int, str]]:
        part = parts[number]
        return stated_roots(store.cells(part.low, part.stop))

    return stated


class _Job(NamedTuple):
    """A part to be checked: without keys, its chain alone.

    ``sizes`` are those in it at which the root is needed, ``previous`` the leaf hash
    before it, where that is known better than the file knows it.
    """

    path: Path
    log_key: PublicKey | None
    keys: KeyRing | None
    start: int
    stop: int | None
    sizes: frozenset[int]
    previous: bytes | None


def check_parts(  # noqa: PLR0913  what is checked, from where, and how closely
    store: Store,
    keys: EnrolledKeys,
    before: Before,
    sizes: frozenset[int],
    progress: Progress | None,
    *,
    signatures: bool = True,
) -> list[Checked]:
    """Check what follows the entries that are known; else the chain alone."""
    size, _ = store.head()
    first, ring = before.size, keys.ring if signatures else None
    known, log_key = before.tree.last, keys.ring.log_key
    if size - first < (SMALL_CHAIN if ring is None else SMALL):
        job = _Job(store.path, log_key, ring, first, None, sizes, known)
        return [_check_rows(store, job)]
    cores = os.cpu_count() or 1
    width = min(5_000, -(-(size - first) // (2 * cores)))
    ordered = sorted(sizes)
    jobs = [
        _Job(
            store.path,
            log_key,
            ring,
            start,
            None if start + width >= size else start + width,
            frozenset(
                ordered[
                    bisect_left(ordered, start) : bisect_right(ordered, start + width)
                ]
            ),
            known if start == first else None,
        )
        for start in range(first, size, width)
    ]
    parts: list[Checked] = []
    with ProcessPoolExecutor(cores) as pool:
        for done, part in enumerate(pool.map(_check, jobs), 1):
            parts.append(part)
            if progress is not None:
                progress(min(done * width, size - first), size - first)
    return parts


def _check(job: _Job) -> Checked:
    store = Store.open(job.path)
    try:
        return _check_rows(store, job)
    finally:
        store.close()


def _check_rows(store: Store, job: _Job) -> Checked:
    start, stop, made = job.start, job.stop, Made()
    low = start or None  # the first part also takes rows numbered below zero
    previous = job.previous or (store.leaf_before(start) if start else None)
    if job.keys is None:
        part = check_chain(
            store.cells(low, stop),
            start=start,
            stop=stop,
            previous=previous,
            sizes=job.sizes,
        )
    else:
        part = check_part(
            store.rows(low, stop),
            job.keys,
            start=start,
            stop=stop,
            previous=previous,
            seen=made.take,
        )
    # What is kept of the tree is a hint: it is held against the part before.
    part = part.with_tree(KeptTree(store).hint(start), job.sizes)
    held = hold(store, part.tree, made)
    notes = store.checkpoints(start or None, stop)
    key = job.log_key
    looked_at = {text: opened(text, key) for _, text in notes} if key else {}
    part = part if job.keys is None else part.lighter()
    return Checked(part, made, held, looked_at, low, stop)


def size_of(trust: str | None) -> int | None:
    """Return the size that a checkpoint's text states, None where it states none."""
    if trust is None:
        return None
    try:
        return note.parse_checkpoint(trust.rpartition("\n\n")[0] + "\n").size
    except AuditkitError:
        return None  # judge_log says what is wrong with it
