"""Verifying a log file: one process where it is small, all cores where it is not."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from auditkit import note
from auditkit.errors import AuditkitError
from auditkit.log_check import Part, check_part, judge_log, read_keys
from auditkit.store import Row, Store
from auditkit.verification import KeyRing, Report

Progress = Callable[[int, int], None]
SMALL = 2_000  # entries; below, starting processes costs more than it saves


def verify_store(
    store: Store,
    *,
    signatures: bool = True,
    trust: str | None = None,
    expect_key: str | None = None,
    progress: Progress | None = None,
) -> Report:
    """Check the log in a store; ``trust`` is the text of an earlier checkpoint."""
    keys = read_keys(store.log_rows())
    parts = _parts(store, keys.ring, progress, signatures=signatures)
    return judge_log(
        keys,
        parts,
        store.checkpoints(),
        store.disclosures(),
        signatures=signatures,
        trust=trust,
        trust_size=_size_of(trust),
        expect_key=expect_key,
    )


def verify_file(
    path: Path,
    *,
    signatures: bool = True,
    trust: str | None = None,
    expect_key: str | None = None,
    progress: Progress | None = None,
) -> Report:
    """Check a log file, also one that is too damaged to open as a ledger."""
    store = Store.open(path)
    try:
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
) -> list[Part]:
    size, _ = store.head()
    if size < SMALL:
        return [check_part(store.rows(), ring, signatures=signatures)]
    cores = os.cpu_count() or 1
    width = min(5_000, -(-size // (2 * cores)))
    jobs = [
        (store.path, ring, start, None if start + width >= size else start + width)
        for start in range(0, size, width)
    ]
    parts: list[Part] = []
    with ProcessPoolExecutor(cores) as pool:
        for done, part in enumerate(
            pool.map(_check, jobs, [signatures] * len(jobs)), 1
        ):
            parts.append(part)
            if progress is not None:
                progress(min(done * width, size), size)
    return parts


def _check(job: tuple[Path, KeyRing, int, int | None], signatures: bool) -> Part:  # noqa: FBT001  map passes it by place
    path, ring, start, stop = job
    store = Store.open(path)
    try:
        return check_part(
            _rows(store, start, stop),
            ring,
            start=start,
            stop=stop,
            previous=store.leaf_before(start),
            signatures=signatures,
        )
    finally:
        store.close()


def _rows(store: Store, start: int, stop: int | None) -> Iterator[Row]:
    # The first part also takes rows that were numbered below zero.
    return store.rows(start or None, stop)


def _size_of(trust: str | None) -> int | None:
    if trust is None:
        return None
    try:
        return note.parse_checkpoint(trust.rpartition("\n\n")[0] + "\n").size
    except AuditkitError:
        return None  # judge_log says what is wrong with it
