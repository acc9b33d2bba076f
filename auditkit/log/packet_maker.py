"""What goes into the packet of one repair order: chosen from the log, then proven."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from auditkit.errors import InputError, VerificationError
from auditkit.log.sound_rows import sound_checkpoint
from auditkit.proof import disclosure, note
from auditkit.proof import entry as entries
from auditkit.proof.attestation import ATTESTATION, AttestedCheckpoint
from auditkit.proof.entry import Entry
from auditkit.proof.keys import PublicKey
from auditkit.proof.packet import MAX_PACKET, EarlierTree, Packet, format_packet
from auditkit.proof.row import Row

if TYPE_CHECKING:
    from auditkit.log.open_log import OpenLog
    from auditkit.log.store import Store


def make_packet(  # noqa: PLR0913  what is proven, from what, and to whom
    log: OpenLog,
    order_id: str,
    statement: Sequence[str],
    *,
    reveal: Sequence[str] = (),
    since: Sequence[tuple[int, bytes]] = (),
    attachments: Mapping[str, bytes] | None = None,
) -> str:
    """Return the text of a closed order's packet against the newest checkpoint.

    ``attachments`` are the bytes that it shall carry, by their SHA-256 in hex.
    ``since`` are size and root of checkpoints that the reader holds: the packet then
    carries the proof that its own extends them. Raises VerificationError where that is
    not so: the log was written anew since.
    """
    store, tree = log.store, log.tree
    text, newest = sound_checkpoint(log)
    size = newest.size
    own = [row.entry for row in store.order_rows(order_id) if row.entry.seq < size]
    attested = _attested([signed.seq for signed in own], log.ring.attested, size)
    chosen = [*own, *_of_the_log(store.log_rows(), order_id, attested, size)]
    chosen.sort(key=lambda signed: signed.seq)
    earlier = {found.checkpoint.size for found in attested}
    earlier |= _closings(store, order_id)
    for old, expected in since:
        if old > size or tree.root(old) != expected:
            raise VerificationError(
                f"the log does not extend the checkpoint of {old} entries that the "
                "reader holds",
                where=str(store.path),
                what_to_do=f"run 'auditkit verify {store.path}' with it as --trust",
            )
        earlier.add(old)
    made = build_packet(
        order_id,
        chosen,
        [tree.prove_inclusion(e.seq, size, newest.root) for e in chosen],
        text,
        log.log_key,
        _revealed(store, chosen, reveal),
        statement,
        [
            tree.prove_consistency(n, size, newest.root)
            for n in sorted(earlier - {size})
        ],
    )
    files = sorted((attachments or {}).items())
    written = format_packet(replace(made, attachments=tuple(files)))
    _refuse_long(written, order_id)
    return written


def _refuse_long(written: str, order_id: str) -> None:
    size = len(written.encode())
    if size > MAX_PACKET:
        raise InputError(
            f"the packet would have {size} bytes, more than {MAX_PACKET} (32 MiB)",
            where=order_id,
            what_to_do="leave out --with-attachments, and give the files beside it",
        )


def build_packet(  # noqa: PLR0913, PLR0917  the parts of a packet
    repair_order: str,
    entries: Iterable[Entry],
    paths: Iterable[Sequence[bytes]],
    checkpoint: str,
    log_key: PublicKey,
    disclosures: Iterable[tuple[int, str]],
    statement: Iterable[str],
    earlier: Iterable[EarlierTree] = (),
) -> Packet:
    """Return a packet of ``entries``, proven against ``checkpoint``.

    ``paths`` are their inclusion proofs (RFC 9162 2.1.3), in the same order,
    ``earlier`` the trees that the packet shall reach back to.
    """
    origin = note.open_checkpoint(checkpoint, log_key).origin
    return Packet(
        repair_order=repair_order,
        statement=tuple(statement),
        log_key=note.vkey(origin, log_key),
        checkpoint=checkpoint,
        earlier=tuple(earlier),
        entries=tuple(
            (e, note.format_proof(e.seq, path, checkpoint))
            for e, path in zip(entries, paths, strict=True)
        ),
        disclosures=tuple(sorted(disclosures)),
    )


def _of_the_log(
    rows: Iterable[Row],
    order_id: str,
    attested: Sequence[AttestedCheckpoint],
    size: int,
) -> list[Entry]:
    """Return who may sign, and the attestations of use to this order's reader.

    Also what was erased of this order; of other orders its reader learns nothing.
    """
    wanted = {found.seq for found in attested}
    return [
        row.entry
        for row in rows
        if row.entry.seq < size
        and (row.kind != ATTESTATION or row.entry.seq in wanted)
        and (row.kind != "text_erased" or _erases(row.entry, order_id))
    ]


def _erases(signed: Entry, order_id: str) -> bool:
    event = entries.parse_payload(signed.payload).event
    return event.get("repair_order") == order_id


def _attested(
    seqs: Sequence[int], attested: Iterable[AttestedCheckpoint], size: int
) -> list[AttestedCheckpoint]:
    """Return, for each entry, the attestations nearest before and after it.

    They are chosen separately for each set of signers, and for time stamps, since a
    reader may believe only one.
    """
    chosen: dict[int, AttestedCheckpoint] = {}
    usable = [a for a in attested if a.seq is not None and a.seq < size]
    groups: dict[tuple[bool, frozenset[str]], list[AttestedCheckpoint]] = {}
    for found in usable:
        groups.setdefault(_outsiders(found), []).append(found)
    for alike in groups.values():
        for seq in seqs:
            before = [a for a in alike if a.seq is not None and a.seq < seq][-1:]
            after = [a for a in alike if a.checkpoint.size > seq][:1]
            for found in (*before, *after):
                if found.seq is not None:
                    chosen[found.seq] = found
    return [chosen[seq] for seq in sorted(chosen)]


def _outsiders(found: AttestedCheckpoint) -> tuple[bool, frozenset[str]]:
    """Return who attested, as the lines name them: a reader may believe only one."""
    lines = note.split_note(found.text)[1]
    names = (line.split(" ")[1] for line in lines if line.count(" ") > 1)
    return found.token is not None, frozenset(names)


def _closings(store: Store, order_id: str) -> set[int]:
    """Return the sizes of the checkpoints made when the order was closed.

    Those are what a receipt handed out then names.
    """
    closed = [
        row.entry.seq for row in store.order_rows(order_id) if row.kind == "verdict"
    ]
    first = (store.checkpoint_after(seq) for seq in closed)
    return {size for size in first if size is not None}


def _revealed(
    store: Store, chosen: Sequence[Entry], reveal: Sequence[str]
) -> list[tuple[int, str]]:
    given: list[tuple[int, str]] = []
    unused = set(reveal) - {"*"}
    for signed in chosen:
        for seq, _, text in store.disclosures(signed.seq):
            if disclosure.is_decoy(text):
                continue
            said = entries.parse_payload(signed.payload)
            path = disclosure.path_of(said.event, said.withheld, text)
            if "*" in reveal or path in reveal:
                given.append((seq, text))
                unused.discard(path)
    if unused:
        raise InputError(
            f"nothing is withheld at {', '.join(sorted(unused))}",
            what_to_do="see the paths with 'auditkit show'",
        )
    return given
