"""The quick check of a log: leaf hashes and the chain, no signature, no parsing.

Of the roots that entries state, it reads the last one's and those asked for.

It reads bytes as they lie in the file. What it cannot see (who signed, what a column
says beside the signed text) is the task of ``auditkit.proof.check_log``.
"""

from __future__ import annotations

import hashlib
from collections.abc import Container, Iterable

from auditkit.proof.check_log import LogPart
from auditkit.proof.check_report import LogProblem
from auditkit.proof.entry import HEADERS
from auditkit.text.base64url import url_safe

# seq, header, payload, signature, leaf: bytes where the file is sound
Cells = tuple[object, object, object, object, object]
_HEADERS64 = {h.encode(): url_safe(h.encode()) + b"." for h in HEADERS}


def check_chain(
    rows: Iterable[Cells],
    *,
    start: int = 0,
    stop: int | None = None,
    previous: bytes | None = None,
    sizes: Container[int] = (),
) -> LogPart:
    """Return what the rows ``start`` to ``stop`` hold, as ``check_part`` does.

    ``sizes`` are those of checkpoints: the entry that follows one states its root.
    """
    problems: list[LogProblem] = []
    leaves: list[bytes] = []
    roots: dict[int, tuple[int, str]] = {}
    last = start, b""
    expected = start
    named = _names(previous)
    for seq, header, payload, signature, kept in rows:
        place = seq if isinstance(seq, int) else -1
        if place != expected:
            text = f"entry {expected} is missing before it"
            out = "it is out of place"
            problems.append(LogProblem(place, text if place > expected else out))
        expected = place + 1
        head = _HEADERS64.get(header) if isinstance(header, bytes) else None
        if head is None:
            problems.append(LogProblem(place, "its header is not one of this format's"))
            head = b"."
        if not (isinstance(payload, bytes) and isinstance(signature, bytes)):
            problems.append(LogProblem(place, "its payload or signature is gone"))
            continue
        # As ``entry.leaf_hash`` has it: a call less for each entry.
        data = b"\x00" + head + payload + b"." + url_safe(signature)
        leaf = hashlib.sha256(data).digest()
        if leaf != kept:
            text = "its leaf hash is not that of its text and signature"
            problems.append(LogProblem(place, text))
        if named not in payload:
            text = "it does not name the leaf hash of the entry before it"
            problems.append(LogProblem(place, text))
        if place in sizes:
            roots[len(leaves)] = place, _root(payload)
        named, last = _names(leaf), (place, payload)
        leaves.append(leaf)
    if leaves:
        roots[len(leaves) - 1] = last[0], _root(last[1])
    if stop is not None and expected < stop:
        problems.append(LogProblem(expected, "the entry is missing"))
    return LogPart(tuple(problems), tuple(leaves), {}, roots=roots)


def _names(leaf: bytes | None) -> bytes:
    prev = "null" if leaf is None else f'"{leaf.hex()}"'
    return f',"prev":{prev},"recorded_at":"'.encode()


def _root(payload: bytes) -> str:
    """Return the root that a payload states: the last of its members of that name."""
    return payload.rpartition(b',"root":"')[2].partition(b'"')[0].decode("latin-1")
