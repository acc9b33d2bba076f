"""Withheld text: salted digests in what is signed, the text itself beside it.

RFC 9901 (SD-JWT) for object members. A disclosure is base64url of the JSON array
[salt, name, value]; its digest stands in the object's ``_sd`` list. As many digests
stand there as members could be withheld, so their number tells nothing.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from auditkit.errors import AuditkitError, InputError, VerificationError
from auditkit.text.base64url import decode64, encode64
from auditkit.text.display_text import quoted
from auditkit.text.strict_json import parse as parse_json
from auditkit.text.values import Json

SALT_BYTES = 16
RESERVED = frozenset({"_sd", "...", "_sd_alg"})
_PARTS = 3


@dataclass(frozen=True, slots=True)
class Disclosed:
    """What one disclosure says."""

    salt: str
    name: str
    value: Json


def digest(disclosure: str) -> str:
    """Return a disclosure's digest: base64url SHA-256 of its text (4.2.3)."""
    return encode64(hashlib.sha256(disclosure.encode()).digest())


def make(name: str, value: Json, salt: bytes) -> str:
    """Return the disclosure of one member (4.2.1)."""
    array = json.dumps([encode64(salt), name, value], ensure_ascii=False)
    return encode64(array.encode())


def parse(disclosure: str) -> Disclosed:
    """Return what a disclosure says; raise InputError where it is none."""
    value = parse_json(decode64(disclosure))
    if not isinstance(value, list) or len(value) != _PARTS:
        message = "a disclosure is a list of salt, name and value"
        raise InputError(message)
    salt, name, content = value
    if not isinstance(salt, str) or not isinstance(name, str) or name in RESERVED:
        message = "a disclosure's salt or name is unfit"
        raise InputError(message)
    return Disclosed(salt, name, content)


def _new_salt() -> bytes:
    return secrets.token_bytes(SALT_BYTES)


def withhold(
    event: Mapping[str, Json],
    paths: Iterable[str],
    *,
    salt: Callable[[], bytes] = _new_salt,
    decoys: list[str] | None = None,
) -> tuple[dict[str, Json], list[str]]:
    """Return the event with digests in place of its withheld members.

    ``paths`` are dotted (``customer.name``). Also returns the disclosures. What the
    decoys are digests of is appended to ``decoys``: kept, it tells one from a text
    that was lost.
    """
    _check_reserved(dict(event))
    names: dict[tuple[str, ...], set[str]] = {}
    for path in paths:
        *parents, name = path.split(".")
        names.setdefault(tuple(parents), set()).add(name)
    disclosures: list[str] = []
    false = [] if decoys is None else decoys
    made = _withhold(dict(event), (), names, salt, (disclosures, false))
    return made, disclosures


def _withhold(
    value: dict[str, Json],
    place: tuple[str, ...],
    names: Mapping[tuple[str, ...], set[str]],
    salt: Callable[[], bytes],
    texts: tuple[list[str], list[str]],
) -> dict[str, Json]:
    disclosures, decoys = texts
    made: dict[str, Json] = {}
    digests: list[Json] = []
    hidden = names.get(place, set())
    for name, item in value.items():
        if name in hidden:
            text = make(name, item, salt())
            disclosures.append(text)
            digests.append(digest(text))
        elif isinstance(item, dict):
            made[name] = _withhold(item, (*place, name), names, salt, texts)
        else:
            made[name] = item
    # A decoy for every member that could have been withheld and is absent.
    false = [encode64(salt()) for _ in range(len(hidden) - len(digests))]
    decoys += false
    digests += map(digest, false)
    if digests:
        made["_sd"] = sorted(digests, key=str)
    return made


def _check_reserved(value: Json) -> None:
    if isinstance(value, dict):
        taken = sorted(RESERVED & set(value))
        if taken:
            message = f"the name {quoted(taken[0])} is reserved"
            raise InputError(message, what_to_do="choose another name")
        for item in value.values():
            _check_reserved(item)
    elif isinstance(value, list):
        for item in value:
            _check_reserved(item)


def digests(event: Mapping[str, Json]) -> set[str]:
    """Return every digest that stands in an event's ``_sd`` lists."""
    return {d for _, found in _lists(event, "") for d in found}


def _lists(value: Mapping[str, Json], place: str) -> Iterable[tuple[str, list[str]]]:
    for name, item in value.items():
        if name == "_sd":
            found = item if isinstance(item, list) else []
            yield place, [d for d in found if isinstance(d, str)]
        elif isinstance(item, dict):
            yield from _lists(item, f"{place}{name}.")


def path_of(event: Mapping[str, Json], disclosure: str) -> str:
    """Return the dotted path of the member that a disclosure discloses."""
    wanted = digest(disclosure)
    for place, found in _lists(event, ""):
        if wanted in found:
            return place + parse(disclosure).name
    message = "a disclosure belongs to no digest of its entry"
    raise VerificationError(message)


def is_decoy(text: str) -> bool:
    """Return whether a kept text is what a decoy is the digest of: salt, no more."""
    try:
        return len(decode64(text)) == SALT_BYTES
    except AuditkitError:
        return False


def reveal(
    event: Mapping[str, Json], disclosures: Iterable[str]
) -> tuple[dict[str, Json], int]:
    """Return the event with disclosed members put back (section 7.1).

    Also returns how many digests stay undisclosed: withheld, erased, lost or decoys.
    Raises VerificationError for a disclosure that the event did not sign for.
    """
    given: dict[str, Disclosed] = {}
    for text in disclosures:
        try:
            said = parse(text)
        except AuditkitError as error:
            raise VerificationError(error.message) from error
        if digest(text) in given:
            message = "a disclosure is given twice"
            raise VerificationError(message)
        given[digest(text)] = said
    made, hidden = _reveal(dict(event), given)
    if given:
        message = "a disclosure belongs to no digest of its entry"
        raise VerificationError(message)
    return made, hidden


def _reveal(
    value: dict[str, Json], given: dict[str, Disclosed]
) -> tuple[dict[str, Json], int]:
    made: dict[str, Json] = {}
    hidden = 0
    for name, item in value.items():
        if isinstance(item, dict):
            made[name], more = _reveal(item, given)
            hidden += more
        elif name != "_sd":
            made[name] = item
    found = value.get("_sd")
    for text in found if isinstance(found, list) else []:
        said = given.pop(text, None) if isinstance(text, str) else None
        if said is None:
            hidden += 1
        elif said.name in made:
            message = f"a disclosure repeats the member {quoted(said.name)}"
            raise VerificationError(message)
        else:
            made[said.name] = said.value
    return made, hidden
