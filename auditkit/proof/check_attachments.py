"""Attachments in a packet, held against what its entries say of them. Pure."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from auditkit.proof.attached import FileState, NamedFile, attached_file
from auditkit.proof.check_report import LogProblem

if TYPE_CHECKING:
    from auditkit.proof.entry import Payload
    from auditkit.proof.keyring import KeyRing

_SHOWN = 5  # entries that a note names
_Given = Sequence[tuple[str, bytes]]
"""SHA-256 (hex) and bytes of the files in a packet, as it states them."""


def attachment_problems(
    given: _Given, own: Iterable[Payload], ring: KeyRing
) -> Iterator[LogProblem]:
    """Yield what does not hold of the files in a packet.

    ``own`` are the repair order's entries as they were signed, ``ring`` what the log
    says of erasures.
    """
    digests = [digest for digest, _ in given]
    if digests != sorted(set(digests)):
        yield LogProblem(None, "the attachments are not in order, each once")
    named = {f.sha256: (p.seq, f.size) for p in own if (f := attached_file(p.event))}
    for digest, data in given:
        seq, size = named.get(digest, (None, 0))
        if hashlib.sha256(data).hexdigest() != digest:
            yield LogProblem(seq, "an attachment is not the one that its digest names")
        elif seq is None:
            yield LogProblem(seq, "an attachment is named by no entry of the packet")
        elif size != len(data):
            text = f"its attachment has {len(data)} bytes, not {size}"
            yield LogProblem(seq, text)
        elif digest in ring.erased_attachments:
            by = ring.erased_attachments[digest]
            text = f"the attachment that entry {by} erased is given still"
            yield LogProblem(seq, text)


def named_files(
    given: _Given, own: Iterable[Payload], ring: KeyRing
) -> tuple[NamedFile, ...]:
    """Return each file that entries name, an entry each, and whether it is here."""
    carried = {digest for digest, _ in given}
    found: list[NamedFile] = []
    for payload in own:
        file = attached_file(payload.event)
        if file is None:
            continue
        by = ring.erased_attachments.get(file.sha256)
        state: FileState = "elsewhere"
        if by is not None:
            state = "erased"
        elif file.sha256 in carried:
            state = "carried"
        found.append(NamedFile(payload.seq, file.sha256, file.size, state, by))
    return tuple(found)


def attachment_notes(files: Iterable[NamedFile]) -> Iterator[str]:
    """Yield a note for the files that a packet carries, lacks, or says are erased."""
    places: dict[str, dict[str, int]] = {}
    for file in files:
        places.setdefault(file.state, {}).setdefault(file.sha256, file.seq)
    if carried := places.get("carried"):
        yield f"pictures in this packet, as their digests say: {len(carried)}"
    if erased := places.get("erased"):
        yield f"attachments erased, as the log says: {len(erased)}"
    if absent := places.get("elsewhere"):
        yield (
            f"attachments not in this packet: {len(absent)} "
            f"({entries(absent.values())}); ask the shop for them, and compare their "
            "SHA-256"
        )


def entries(seqs: Iterable[int]) -> str:
    """Return the first few entries of many, in words."""
    listed = sorted(seqs)
    more = ", ..." if len(listed) > _SHOWN else ""
    return f"entries {', '.join(map(str, listed[:_SHOWN]))}{more}"
