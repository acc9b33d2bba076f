"""The quick check of a log: leaf hashes and the chain, no signature, no parsing.

Of the roots that entries state, it reads the last one's and those asked for.

It reads bytes as they lie in the file. What it cannot see (who signed, what a column
says beside the signed text) is the task of ``auditkit.proof.check_log``.
"""

from __future__ import annotations

import hashlib
from binascii import b2a_base64, b2a_hex
from collections.abc import Container, Iterable, Sequence
from itertools import islice

from auditkit.proof.check_log import LogPart
from auditkit.proof.check_report import LogProblem
from auditkit.proof.entry import HEADER, HEADERS
from auditkit.proof.keys import SIGNATURE_BYTES
from auditkit.text.base64url import url_safe

# seq, header, payload, signature, leaf: bytes where the file is sound
Cells = tuple[object, object, object, object, object]
_PLAIN = HEADER.encode()
_TOGETHER = 512  # rows that are looked at together: most logs are sound
_SAFE = bytes.maketrans(b"+/", b"-_")
_OUT_OF_PLACE = "it is out of place"
_sha256 = hashlib.sha256
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
    chain = _Chain(start, previous, sizes)
    given = iter(rows)
    while together := list(islice(given, _TOGETHER)):
        if not chain.all_sound(together):
            for row in together:
                chain.one(row)
    return chain.part(stop)


class _Chain:
    def __init__(
        self, start: int, previous: bytes | None, sizes: Container[int]
    ) -> None:
        self.expected = start
        self._sizes = sizes
        self._problems: list[LogProblem] = []
        self._leaves: list[bytes] = []
        self._roots: dict[int, tuple[int, str]] = {}
        self._last = start, b""
        self._named = _names(previous)

    def all_sound(self, rows: Sequence[Cells]) -> bool:
        """Take rows that are all sound, and return whether they are.

        Nothing is said of others: each is to be looked at by itself.
        """
        seqs, headers, payloads, signatures, kept = zip(*rows, strict=True)
        if (
            seqs != tuple(range(self.expected, self.expected + len(rows)))
            or set(headers) != {_PLAIN}
            or set(map(type, payloads)) != {bytes}
            or set(map(type, signatures)) != {bytes}
            or set(map(len, signatures)) != {SIGNATURE_BYTES}
        ):
            return False
        # As ``entry.leaf_hash`` has it, without a call each: 64 bytes of a signature
        # make 86 characters of base64url, and two signs = that are left out.
        head, join = b"\x00" + _HEADERS64[_PLAIN], b"".join
        leaves = [
            _sha256(
                join((head, payload, b".", b2a_base64(text).translate(_SAFE)[:86]))
            ).digest()
            for payload, text in zip(payloads, signatures, strict=True)
        ]
        names = [self._named]
        names += [b',"prev":"%b","recorded_at":"' % b2a_hex(leaf) for leaf in leaves]
        # From the end, where that member stands: in half the time.
        found = [p.rfind(name) for name, p in zip(names, payloads, strict=False)]
        if tuple(leaves) != kept or min(found) < 0:
            return False
        first = len(self._leaves)
        for place, seq in enumerate(seqs, first):
            if seq in self._sizes:
                self._roots[place] = seq, _root(payloads[place - first])
        self._leaves += leaves
        self._named, self._last = names[-1], (seqs[-1], payloads[-1])
        self.expected += len(rows)
        return True

    def one(self, row: Cells) -> None:
        """Take one row, and say what is wrong with it."""
        seq, header, payload, signature, kept = row
        place = seq if isinstance(seq, int) else -1
        if place != self.expected:
            text = f"entry {self.expected} is missing before it"
            self._problem(place, text if place > self.expected else _OUT_OF_PLACE)
        self.expected = place + 1
        head = _HEADERS64.get(header) if isinstance(header, bytes) else None
        if head is None:
            self._problem(place, "its header is not one of this format's")
            head = b"."
        if not (isinstance(payload, bytes) and isinstance(signature, bytes)):
            self._problem(place, "its payload or signature is gone")
            return
        # As ``entry.leaf_hash`` has it: a call less for each entry.
        data = b"\x00" + head + payload + b"." + url_safe(signature)
        leaf = _sha256(data).digest()
        if leaf != kept:
            text = "its leaf hash is not that of its text and signature"
            self._problem(place, text)
        if self._named not in payload:
            text = "it does not name the leaf hash of the entry before it"
            self._problem(place, text)
        if place in self._sizes:
            self._roots[len(self._leaves)] = place, _root(payload)
        self._named, self._last = _names(leaf), (place, payload)
        self._leaves.append(leaf)

    def _problem(self, place: int, text: str) -> None:
        self._problems.append(LogProblem(place, text))

    def part(self, stop: int | None) -> LogPart:
        """Return what all rows hold."""
        if self._leaves:
            self._roots[len(self._leaves) - 1] = self._last[0], _root(self._last[1])
        if stop is not None and self.expected < stop:
            self._problem(self.expected, "the entry is missing")
        return LogPart(
            tuple(self._problems), tuple(self._leaves), {}, roots=self._roots
        )


def stated_roots(rows: Iterable[Cells]) -> dict[int, tuple[int, str]]:
    """Return the root that each row states, as ``LogPart.roots``: read, not checked."""
    return {
        place: (seq, _root(payload))
        for place, (seq, _, payload, _, _) in enumerate(rows)
        if isinstance(seq, int) and isinstance(payload, bytes)
    }


def _names(leaf: bytes | None) -> bytes:
    if leaf is None:
        return b',"prev":null,"recorded_at":"'
    return b',"prev":"%b","recorded_at":"' % b2a_hex(leaf)


def _root(payload: bytes) -> str:
    """Return the root that a payload states: the last of its members of that name."""
    return payload.rpartition(b',"root":"')[2].partition(b'"')[0].decode("latin-1")
