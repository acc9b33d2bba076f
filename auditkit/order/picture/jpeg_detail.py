"""How much a JPEG scan holds beyond what a picture of one colour needs (ITU-T T.81).

A host without a decoder of pictures counts bits instead: a picture of one colour costs
each block of 8 x 8 samples two Huffman codes, *no difference* (of its mean to that of
the block before) and *end of block*. How long these are stands in the file's own
tables, so that no choice of tables makes them look like more. Of a progressive picture
the scans of details cost nothing where there are none.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from auditkit.order.picture.value import damaged

_BLOCK = 8
_DC, _AC = 0, 1
_NO_DIFFERENCE, _END_OF_BLOCK = 0, 0
_PROGRESSIVE = 0xC2
_FIRST_OF_RESTART = (
    34  # bits: a code and a difference (F.1.2.1), and up to 7 of filling
)
_RESTART = re.compile(rb"\xff[\xd0-\xd7]")
_LENGTHS = 16
_MOST_TABLES = 8  # in a segment: four of each class (B.2.4.2)
_MOST_IN_SCAN = 4  # components (B.2.3)


@dataclass(slots=True)
class Detail:
    """What was read of a JPEG so far; ``bits`` are those beyond one colour."""

    bits: int = 0
    _frame: bytes = b""
    _progressive: bool = False
    _factors: dict[int, tuple[int, int]] = field(default_factory=dict)
    _most: tuple[int, int] = (1, 1)
    _codes: dict[tuple[int, int], Mapping[int, int]] = field(default_factory=dict)

    def tables(self, body: bytes) -> None:
        """Take the Huffman tables of a DHT segment (B.2.4.2)."""
        for _ in range(_MOST_TABLES):
            if len(body) <= _LENGTHS:
                return
            counts = body[1 : 1 + _LENGTHS]
            values = body[1 + _LENGTHS : 1 + _LENGTHS + sum(counts)]
            lengths = [n for n, many in enumerate(counts, 1) for _ in range(many)]
            name = (body[0] >> 4, body[0] & 15)
            self._codes[name] = dict(zip(values, lengths, strict=False))
            body = body[1 + _LENGTHS + sum(counts) :]
        if len(body) > _LENGTHS:
            damaged(f"a segment defines more than {_MOST_TABLES} tables")

    def frame(self, marker: int, body: bytes) -> None:
        """Take a frame header, whose length was checked (B.2.2)."""
        self._frame, self._progressive = body, marker == _PROGRESSIVE
        self._factors = {
            body[n]: (body[n + 1] >> 4, body[n + 1] & 15)
            for n in range(6, len(body), 3)
        }
        across, down = zip((1, 1), *self._factors.values(), strict=True)
        self._most = max(across), max(down)

    def scan(self, header: bytes, coded: bytes) -> None:
        """Count a scan: its header (B.2.3), and its coded bytes."""
        if not header or len(header) != 4 + 2 * header[0]:
            return
        if header[0] > _MOST_IN_SCAN:
            return  # no decoder takes it for a picture
        restarts = len(_RESTART.findall(coded))
        many = header[0]
        bits = 8 * (len(coded) - coded.count(b"\xff\0") - 2 * restarts)
        bits -= _FIRST_OF_RESTART * (restarts + 1) * many
        every = [(header[1 + 2 * n], header[2 + 2 * n]) for n in range(many)]
        start, _, step = header[-3:]
        for name, tables in every:
            each = self._uniform(tables, start, is_first=not step >> 4)
            bits -= each * self._blocks(name, is_alone=many == 1)
        self.bits += max(0, bits)

    def _uniform(self, tables: int, start: int, *, is_first: bool) -> int:
        """Return the bits of a block that is as the one before it."""
        difference = self._length(_DC, tables >> 4, _NO_DIFFERENCE)
        if not self._progressive:
            return difference + self._length(_AC, tables & 15, _END_OF_BLOCK)
        if start:
            return 0
        return difference if is_first else 1

    def _length(self, kind: int, table: int, value: int) -> int:
        return self._codes.get((kind, table), {}).get(value, 0)

    def _blocks(self, name: int, *, is_alone: bool) -> int:
        """Return how many blocks of a component a scan holds (A.2)."""
        height, width = (int.from_bytes(self._frame[n : n + 2]) for n in (1, 3))
        across, down = self._factors.get(name, (1, 1))
        most_across, most_down = self._most
        if is_alone:
            wide = _up(width * across, most_across * _BLOCK)
            return wide * _up(height * down, most_down * _BLOCK)
        units = _up(width, most_across * _BLOCK) * _up(height, most_down * _BLOCK)
        return units * across * down


def _up(one: int, other: int) -> int:
    return -(-one // other)
