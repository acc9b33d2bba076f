"""Verifying a log file: one process where it is small, all cores where it is not."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from auditkit.errors import AuditkitError
from auditkit.log.check_pointers import Made, compare, rebuild
from auditkit.log.store import Store
from auditkit.log.verify_attachments import check_attachments, has_attachments
from auditkit.proof import note
from auditkit.proof.check_chain import check_chain
from auditkit.proof.check_log import LogPart, check_part, read_keys
from auditkit.proof.check_report import CheckReport
from auditkit.proof.judge_log import judge_log
from auditkit.proof.keyring import KeyRing

Progress = Callable[[int, int], None]
_Checked = tuple[LogPart, Made]
# Below so many entries, starting processes costs more than it saves.
SMALL = 2_000
SMALL_CHAIN = 50_000
_NO_FILE = (
    "no attachment lies beside the log; whether entries name one was not looked for, "
    "since signatures were not checked"
)


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
    keys = read_keys(store.log_rows())
    parts = _parts(store, keys.ring, progress, signatures=signatures)
    nodes: list[tuple[int, bytes]] | None = [] if signatures else None
    report = judge_log(
        keys,
        [part for part, _ in parts],
        store.checkpoints(),
        store.disclosures(),
        signatures=signatures,
        trust=trust,
        trust_size=_size_of(trust),
        expect_key=expect_key,
        nodes=nodes,
    )
    if nodes is None:
        if has_attachments(store, keys.ring):
            return report.with_more(*check_attachments(store, keys.ring))
        return report.with_more((), (_NO_FILE,))
    if report.verified:  # else they are those of other entries, and that is told
        made = Made()
        for _, found in parts:
            made.follow(found)
        report = report.with_more(compare(store, nodes, made), ())
    return report.with_more(*check_attachments(store, keys.ring))


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


def _parts(
    store: Store, ring: KeyRing, progress: Progress | None, *, signatures: bool
) -> list[_Checked]:
    size, _ = store.head()
    keys = ring if signatures else None
    if size < (SMALL if signatures else SMALL_CHAIN):
        return [_check_rows(store, keys, 0, None)]
    cores = os.cpu_count() or 1
    width = min(5_000, -(-size // (2 * cores)))
    jobs = [
        (store.path, keys, start, None if start + width >= size else start + width)
        for start in range(0, size, width)
    ]
    parts: list[_Checked] = []
    with ProcessPoolExecutor(cores) as pool:
        for done, part in enumerate(pool.map(_check, jobs), 1):
            parts.append(part)
            if progress is not None:
                progress(min(done * width, size), size)
    return parts


def _check(job: tuple[Path, KeyRing | None, int, int | None]) -> _Checked:
    path, keys, start, stop = job
    store = Store.open(path)
    try:
        return _check_rows(store, keys, start, stop)
    finally:
        store.close()


def _check_rows(
    store: Store, keys: KeyRing | None, start: int, stop: int | None
) -> _Checked:
    """Check a part with its signatures, or without where no keys are given."""
    low = start or None  # the first part also takes rows numbered below zero
    previous = store.leaf_before(start) if start else None
    made = Made()
    if keys is None:
        cells, sizes = store.cells(low, stop), store.checkpoint_sizes(start, stop)
        part = check_chain(
            cells, start=start, stop=stop, previous=previous, sizes=sizes
        )
        return part, made
    rows = store.rows(low, stop)
    part = check_part(
        rows, keys, start=start, stop=stop, previous=previous, seen=made.take
    )
    return part, made


def _size_of(trust: str | None) -> int | None:
    if trust is None:
        return None
    try:
        return note.parse_checkpoint(trust.rpartition("\n\n")[0] + "\n").size
    except AuditkitError:
        return None  # judge_log says what is wrong with it
