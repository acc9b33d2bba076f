"""Rows without whom they are of: VINs and persons under pseudonyms, names left out.

A pseudonym is an HMAC-SHA-256 (RFC 2104) under a key that lies elsewhere, so that what
is of one vehicle still is. A plain digest would protect nothing: a VIN has so little
that is not known of it that all can be tried. Pure.
"""

from __future__ import annotations

import hashlib
import hmac
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

from auditkit.errors import InputError

if TYPE_CHECKING:
    from auditkit.fleet.rows.packet_rows import PacketRows
    from auditkit.fleet.rows.values import Row

SHORTEST_KEY = 32
"""Bytes that a key has at least."""
LEFT_OUT = "(left out)"
_VIN = re.compile(
    r"(?<![A-HJ-NPR-Z0-9])(?=[A-HJ-NPR-Z]*[0-9])[A-HJ-NPR-Z0-9]{17}"
    r"(?![A-HJ-NPR-Z0-9])",
    re.ASCII | re.IGNORECASE,
)
_VINS = ("vin", "vin_read")
_PERSONS = ("person", "by_person", "key_id")
_FREE = ("model",)
"""What a shop writes of a vehicle in its own words: left out."""
_SENTENCES = frozenset(
    {
        *("because", "tool", "protocol", "name", "part_id", "part_number", "method"),
        *("limit_source", "instrument", "description", "serial", "certificate"),
        *("conditions", "order_no"),
    }
)
"""What may hold a name or a VIN in words. Elsewhere nothing is replaced: a customer who
is said to be called P0401 or "proven" would change a code or a verdict."""


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
        private = _Names(_any_of(rows.private), _any_of(_persons(rows)))
        tables = {
            name: self._all(found, private) for name, found in rows.of_order.items()
        }
        vin = None if rows.vin is None else self.vin(rows.vin)
        return replace(
            rows,
            vin=vin,
            order_no=self.without_vins(rows.order_no),
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

    def _all(self, rows: Iterable[Row], private: _Names) -> tuple[Row, ...]:
        return tuple(self._row(row, private) for row in rows)

    def _row(self, row: Mapping[str, Any], private: _Names) -> Row:
        return {
            name: self._cell(name, value, private) if isinstance(value, str) else value
            for name, value in row.items()
        }

    def _cell(self, name: str, text: str, private: _Names) -> str | None:
        if name in _VINS:
            return self.vin(text)
        if name in _PERSONS:
            return text if text == "log" else self._digest("person", text).hex()
        if name in _FREE:
            return None
        if name in _SENTENCES:
            text = private.texts.sub(LEFT_OUT, text)
            text = private.persons.sub(
                lambda found: f"person {self._digest('person', found[0]).hex()[:12]}",
                text,
            )
        return self.without_vins(text)

    def without_vins(self, text: str) -> str:
        """Return a text with a short pseudonym in the place of each VIN."""
        return _VIN.sub(
            lambda found: f"vehicle {self.vin(found[0].upper())[:12]}", text
        )


class _Names(NamedTuple):
    """What finds a customer's texts, and the persons of a packet."""

    texts: re.Pattern[str]
    persons: re.Pattern[str]


def _persons(rows: PacketRows) -> Iterator[str]:
    """Yield the ids of those who signed, or for whom it was signed."""
    every = (rows.people, rows.events, rows.of_order["bench_reading"])
    for row in (row for found in every for row in found):
        for name in ("person", "by_person"):
            said = row.get(name)
            if isinstance(said, str) and said != "log":
                yield said


def _any_of(secrets: Iterable[str]) -> re.Pattern[str]:
    """Return what finds texts where they stand as words of their own."""
    known = sorted(
        {text.strip() for text in secrets} - {""}, key=lambda t: (-len(t), t)
    )
    listed = "|".join(map(re.escape, known)) or "(?!)"
    return re.compile(rf"(?<![\w-])(?:{listed})(?![\w-])", re.IGNORECASE)


def parse_key(data: bytes, *, where: str = "") -> Pseudonyms:
    """Return the pseudonyms under the key in a file; InputError for one too short."""
    if len(data) < SHORTEST_KEY:
        raise InputError(
            f"this key has {len(data)} bytes, and needs {SHORTEST_KEY} at least",
            where=where,
            what_to_do="make one of random bytes, and keep it elsewhere",
        )
    return Pseudonyms(data)
