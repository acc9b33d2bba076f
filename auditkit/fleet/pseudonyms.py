"""Rows without whom they are of: VINs and persons under pseudonyms, names left out.

A pseudonym is an HMAC-SHA-256 (RFC 2104) under a key that lies elsewhere, so that what
is of one vehicle still is. A plain digest would protect nothing: a VIN has so little
that is not known of it that all can be tried. Pure.
"""

from __future__ import annotations

import hashlib
import hmac
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from auditkit.errors import InputError

if TYPE_CHECKING:
    from auditkit.fleet.rows.packet_rows import PacketRows
    from auditkit.fleet.rows.values import Row

SHORTEST_KEY = 32
"""Bytes that a key has at least."""
LEFT_OUT = "(left out)"
_VIN = re.compile(r"(?<![A-HJ-NPR-Z0-9])[A-HJ-NPR-Z0-9]{17}(?![A-HJ-NPR-Z0-9])")
_VINS = ("vin", "vin_read")
_PERSONS = ("person", "by_person", "key_id")
_FREE = ("model",)
"""What a shop writes of a vehicle in its own words: left out."""


@dataclass(frozen=True, slots=True)
class Pseudonyms:
    """Makes pseudonyms under one key."""

    key: bytes

    @property
    def check(self) -> bytes:
        """What a collection keeps, so that another key is noticed."""
        return self._digest("which key this is", "")

    def of(self, rows: PacketRows) -> PacketRows:
        """Return a packet's rows with pseudonyms, and with nothing of a customer."""
        known = sorted({text for text in rows.private if text.strip()}, key=len)
        private = tuple(reversed(known))
        tables = {
            name: self._all(found, private) for name, found in rows.of_order.items()
        }
        vin = None if rows.vin is None else self.vin(rows.vin)
        return replace(
            rows,
            vin=vin,
            order=self._row(rows.order, private),
            of_order=tables,
            people=self._all(rows.people, private),
            events=self._all(rows.events, private),
            private=(),
        )

    def vin(self, vin: str) -> str:
        """Return the pseudonym of a VIN: 64 hexadecimal digits."""
        return self._digest("vin", vin).hex()

    def _digest(self, what: str, text: str) -> bytes:
        said = f"auditkit/collection@1 {what}\n{text}".encode(errors="surrogatepass")
        return hmac.new(self.key, said, hashlib.sha256).digest()

    def _all(self, rows: Iterable[Row], private: Sequence[str]) -> tuple[Row, ...]:
        return tuple(self._row(row, private) for row in rows)

    def _row(self, row: Mapping[str, Any], private: Sequence[str]) -> Row:
        return {
            name: self._cell(name, value, private) if isinstance(value, str) else value
            for name, value in row.items()
        }

    def _cell(self, name: str, text: str, private: Sequence[str]) -> str | None:
        if name in _VINS:
            return self.vin(text)
        if name in _PERSONS:
            return text if text == "log" else self._digest("person", text).hex()
        if name in _FREE:
            return None
        for secret in private:
            text = text.replace(secret, LEFT_OUT)
        return _VIN.sub(lambda found: f"vehicle {self.vin(found[0])[:12]}", text)


def parse_key(data: bytes, *, where: str = "") -> Pseudonyms:
    """Return the pseudonyms under the key in a file; InputError for one too short."""
    if len(data) < SHORTEST_KEY:
        raise InputError(
            f"this key has {len(data)} bytes, and needs {SHORTEST_KEY} at least",
            where=where,
            what_to_do="make one of random bytes, and keep it elsewhere",
        )
    return Pseudonyms(data)
