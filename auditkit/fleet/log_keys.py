"""A reader's list of log keys: whose they are, and from when until when. Pure.

A TOML file:

    format = "auditkit/log-keys@1"

    [[shop]]
    name = "Example Yard Garage (invented)"
    fingerprints = ["CY7BVPyNhF1WSmlzSRPHZa75Z1-2EZNHux97mf2eHRY"]
    since = 2026-01-01
    until = 2026-12-31  # the last day; leave either out where it is open

A shop may stand there more than once, a fingerprint once only. The fingerprints have to
come another way than the packets: what a packet says of its key proves nothing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from auditkit.errors import InputError
from auditkit.reader.read_packet import fingerprint
from auditkit.text.strict_json import canonical
from auditkit.text.toml_text import toml_table
from auditkit.text.values import Json

FORMAT = "auditkit/log-keys@1"
_MEMBERS = frozenset({"name", "fingerprints", "since", "until"})


@dataclass(frozen=True, slots=True)
class ListedKey:
    """Whose a log key is, and on which days (UTC) it is known to be theirs."""

    shop: str
    since: date | None = None
    until: date | None = None

    def is_known_on(self, day: date) -> bool:
        """Return whether the key is known to be the shop's on a day."""
        after = self.since is None or day >= self.since
        return after and (self.until is None or day <= self.until)


@dataclass(frozen=True, slots=True)
class LogKeys:
    """Log keys by fingerprint; ``is_given`` is false where the reader gave no list."""

    keys: Mapping[str, ListedKey] = field(default_factory=dict)
    is_given: bool = True

    def state(self, key_id: str, recorded: datetime | None) -> str:
        """Return what the list says of a packet, by its log key and its last entry.

        One of the enumeration ``key_state``: "no list", "listed", "not listed",
        "outside its dates". When an entry was recorded is its shop's claim.
        """
        if not self.is_given:
            return "no list"
        found = self.keys.get(key_id)
        if found is None:
            return "not listed"
        if recorded is None or not found.is_known_on(recorded.date()):
            return "outside its dates"
        return "listed"

    @property
    def sha256(self) -> bytes | None:
        """The digest of the list, over canonical JSON (RFC 8785); None for no list."""
        if not self.is_given:
            return None
        listed: list[Json] = [
            [key, one.shop, str(one.since), str(one.until)]
            for key, one in sorted(self.keys.items())
        ]
        return hashlib.sha256(canonical(listed).encode()).digest()


NO_LIST = LogKeys(is_given=False)


def parse_log_keys(text: str, *, where: str = "") -> LogKeys:
    """Return the list that a TOML text states; InputError where it states none."""
    data = toml_table(text, where=where)
    if data.pop("format", None) != FORMAT:
        raise InputError(
            f'it does not say format = "{FORMAT}"',
            where=where,
            what_to_do="add that line at the top",
        )
    shops = data.pop("shop", [])
    if data or not isinstance(shops, list) or not shops:
        raise InputError(
            "it is not a list of shops",
            where=where,
            what_to_do="write a [[shop]] table for each, and nothing else",
        )
    keys: dict[str, ListedKey] = {}
    for place, shop in enumerate(shops):
        at = f"{where}#shop.{place}"
        for key, listed in _listed(shop, at):
            if key in keys:
                raise InputError(
                    f"the fingerprint {key} stands here twice",
                    where=at,
                    what_to_do="keep one: a key is one log's",
                )
            keys[key] = listed
    return LogKeys(keys)


def _listed(shop: object, at: str) -> Iterator[tuple[str, ListedKey]]:
    if not isinstance(shop, dict) or set(shop) - _MEMBERS:
        raise InputError(
            f"a shop has {', '.join(sorted(_MEMBERS))} and nothing else",
            where=at,
            what_to_do="correct it",
        )
    name, fingerprints = shop.get("name"), shop.get("fingerprints")
    if not isinstance(name, str) or not name.strip():
        raise InputError("it has no name", where=at, what_to_do="write name = ...")
    if not isinstance(fingerprints, list) or not fingerprints:
        raise InputError(
            "it has no fingerprints",
            where=at,
            what_to_do='write fingerprints = ["..."], as the shop gave them to you',
        )
    days = [_day(shop.get(side), f"{at}.{side}") for side in ("since", "until")]
    since, until = days
    if since is not None and until is not None and until < since:
        raise InputError(
            "until lies before since", where=at, what_to_do="exchange the two days"
        )
    for key in fingerprints:
        if not isinstance(key, str):
            raise InputError(
                "a fingerprint is not text", where=at, what_to_do="put it in quotes"
            )
        yield fingerprint(key, where=at), ListedKey(name, since, until)


def _day(value: object, at: str) -> date | None:
    if value is None or (isinstance(value, date) and not isinstance(value, datetime)):
        return value
    raise InputError(
        "this is no day", where=at, what_to_do="write it without quotes: 2026-01-31"
    )
