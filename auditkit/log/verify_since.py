"""Verifying a log again: only what is new since a state that its reader kept.

What was verified before is not read again, but for the log's own events: each is
proven to be the one of that time, and so is whatever else of it the new entries speak
of. Where what is kept of the tree does not lead to the state's root, all is verified.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from auditkit.errors import InputError, LogError
from auditkit.log.check_checkpoints import newest_missing, unsigned_closings
from auditkit.log.check_pointers import compare, rebuild
from auditkit.log.disk import put_text
from auditkit.log.kept_tree import KeptTree
from auditkit.log.store import Store
from auditkit.log.verified_state import VerifiedState, format_state, parse_state
from auditkit.log.verify_attachments import check_attachments
from auditkit.log.verify_log import (
    Progress,
    Verified,
    Wanted,
    check_parts,
    made_by,
    opened_by,
    restated,
    size_of,
    verified,
)
from auditkit.proof import disclosure, merkle
from auditkit.proof.check_log import EnrolledKeys, read_keys
from auditkit.proof.check_report import CheckReport
from auditkit.proof.entry import parse_payload
from auditkit.proof.judge_log import Before, judge_log, sizes_of
from auditkit.proof.merkle import Frontier
from auditkit.proof.row import Row
from auditkit.text.display_text import plural, printable, quoted


class VerifiedAgain(NamedTuple):
    """The report, and the state to be kept; None where it does not hold."""

    report: CheckReport
    state: VerifiedState | None


def verify_file_since(  # noqa: PLR0913  each is one thing that a caller may hold
    path: Path,
    kept: Path,
    *,
    trust: str | None = None,
    expect_key: str | None = None,
    progress: Progress | None = None,
    anew: bool = False,
) -> CheckReport:
    """Check a log file since the state in the file ``kept``, and keep the new one.

    Where there is no such file, the whole log is checked. With ``anew`` the pointers
    beside the entries are made of them first.
    """
    try:
        text = kept.read_bytes()
    except FileNotFoundError:
        state = None
    except OSError as error:
        raise _unusable(kept, "read", error) from error
    else:
        state = parse_state(text, where=str(kept))
    store = Store.open(path)
    try:
        if anew:
            rebuild(store)
        report, new = verify_since(
            store, state, trust=trust, expect_key=expect_key, progress=progress
        )
    finally:
        store.close()
    if new is not None:
        try:
            put_text(kept, format_state(new))
        except OSError as error:
            raise _unusable(kept, "written", error) from error
    return report


def _unusable(path: Path, what: str, error: OSError) -> InputError:
    return InputError(
        f"it cannot be {what}: {error.strerror or error}",
        where=str(path),
        what_to_do="name a file that you may read and write",
    )


def verify_since(  # noqa: PLR0913  each is one thing that a caller may hold
    store: Store,
    state: VerifiedState | None,
    *,
    trust: str | None = None,
    expect_key: str | None = None,
    progress: Progress | None = None,
    clock: Callable[[], datetime] = lambda: datetime.now(UTC),
) -> VerifiedAgain:
    """Check what follows the entries of a state; without one, the whole log.

    ``trust`` is the text of an earlier checkpoint. Raises InputError where the state is
    of another log.
    """
    wanted = Wanted(trust, expect_key, progress)
    stamp = clock().isoformat(timespec="seconds")
    if state is None:
        return _with_state(verified(store, wanted), (), stamp)
    _refuse_other_log(store, state)
    try:
        keys, before = _known(store, state, size_of(trust))
    except LogError:  # altered, or only what is kept beside the entries is false
        found = verified(store, wanted)
        more = _differs(store, state)
        found = found._replace(report=found.report.with_more(more, ()))
        return _with_state(found, (), stamp)
    return _with_state(_new(store, state, keys, before, wanted), state.own, stamp)


def _with_state(found: Verified, own: tuple[int, ...], stamp: str) -> VerifiedAgain:
    """Return the report with the state to be kept, where it holds."""
    ring, tree = found.keys.ring, found.judged.tree
    own = (*own, *found.made.own)
    if not found.report.verified or ring.log_key is None:
        return VerifiedAgain(found.report, None)
    if own != found.keys.read:
        note = "the log grew meanwhile, so the state was not kept: run it again"
        return VerifiedAgain(found.report.with_more((), (note,)), None)
    state = VerifiedState(
        origin=ring.origin,
        log_key=ring.log_key.thumbprint,
        size=tree.size,
        root=tree.root().hex(),
        own=own,
        verified_at=stamp,
    )
    return VerifiedAgain(found.report, state)


def _refuse_other_log(store: Store, state: VerifiedState) -> None:
    """Raise InputError where the log's first entry is another log's."""
    ring = read_keys(filter(None, [store.row(0)])).ring
    found = ring.log_key.thumbprint if ring.log_key else ""
    if (ring.origin, found) != (state.origin, state.log_key):
        raise InputError(
            f"this state is of another log, {quoted(state.origin)} under key "
            f"{printable(state.log_key)}",
            where="--since",
            what_to_do="name the state of this log, or a file that does not exist",
        )


def _differs(store: Store, state: VerifiedState) -> Iterator[str]:
    """Yield where a whole log is not the one that the state is of."""
    held, _ = store.head()
    leaves = [row.entry.leaf for row in store.rows(0, state.size)]
    if held < state.size:
        yield (
            f"{state.size} entries were verified on {state.verified_at}, the log holds "
            f"{held}: entries were removed"
        )
    elif merkle.root(leaves).hex() != state.root:
        yield (
            f"its first {state.size} entries are not those that were verified on "
            f"{state.verified_at}"
        )


def _known(
    store: Store, state: VerifiedState, trust: int | None
) -> tuple[EnrolledKeys, Before]:
    """Return the keys, and what is proven of the entries that the state is of.

    Raises LogError where something is not proven.
    """
    size, root = state.size, bytes.fromhex(state.root)
    tree = KeptTree(store)
    if store.head()[0] < size or tree.hint(size).root() != root:
        raise LogError("what is kept of the tree does not lead to the state's root")

    def proven(seq: int) -> Row:
        tree.prove_inclusion(seq, size, root)
        return tree.row(seq)

    last = proven(size - 1)
    recorded = ((size - 1, parse_payload(last.entry.payload).recorded_at),)
    keys = read_keys([*map(proven, state.own), *store.log_rows(size)])
    newest = size_of(store.newest_checkpoint())
    stated = [a.checkpoint.size for a in keys.ring.attested if (a.seq or 0) >= size]
    roots = {
        old: tree.prove_consistency(old, size, root).root
        for old in {trust, newest, *stated}
        if old is not None and 0 < old < size
    }
    digests: dict[int, dict[str, str]] = {}
    for erasure in keys.ring.erased.values():
        if erasure.of < size <= erasure.seq:
            said = parse_payload(proven(erasure.of).entry.payload)
            digests[said.seq] = disclosure.digests(said.event, said.withheld)
    before = Frontier.of(size, tree.hint(size).peaks, last.entry.leaf)
    return keys, Before(before, roots, digests, recorded)


def _new(
    store: Store,
    state: VerifiedState,
    keys: EnrolledKeys,
    before: Before,
    wanted: Wanted,
) -> Verified:
    """Check the entries that follow those of the state."""
    size, trust = before.size, size_of(wanted.trust)
    checkpoints = store.checkpoints(size)
    text = store.newest_checkpoint()
    if not checkpoints and text is not None:
        checkpoints = ((size_of(text) or 0, text),)
    sizes = sizes_of(keys, checkpoints, trust)
    parts = check_parts(store, keys, before, sizes, wanted.progress)
    put_back = [
        row
        for digest, erasure in keys.ring.erased.items()
        if erasure.of < size
        for row in store.disclosures(erasure.of)
        if row[1] == digest
    ]
    judged = judge_log(
        keys,
        [checked.part for checked in parts],
        checkpoints,
        [*put_back, *store.disclosures_from(size)],
        trust=wanted.trust,
        trust_size=trust,
        expect_key=wanted.expect_key,
        before=before,
        opened=opened_by(parts),
        restated=restated(store, parts),
    )
    made, report = made_by(parts), judged.report
    if report.verified:
        held = (checked.held for checked in parts)
        newest, notes = newest_missing(store, keys.ring, checkpoints)
        more = (
            *unsigned_closings(checkpoints, made.orders.values()),
            *newest,
            *compare(store, held, made, whole=False, hints=judged.hints),
        )
        report = report.with_more(more, notes)
    report = report.with_more(*check_attachments(store, keys.ring, size))
    old = plural(size, "entry", "entries")
    note = (
        f"the first {old} were verified on {state.verified_at}, as the state file "
        f"says, and not read again but for {len(state.own)} that say who may sign: "
        "what lies there now in the others' place is not known; without --since all "
        "is read"
    )
    return Verified(report.with_more((), (note,)), judged, made, keys)
