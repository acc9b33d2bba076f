"""Withheld text: salted digests in what is signed, the text itself beside it.

RFC 9901 (SD-JWT) for object members. A disclosure is base64url of the JSON array
[salt, name, value]; its digest stands in the object's ``_sd`` list. As many digests
stand there as members could be withheld, so their number tells nothing.

RFC 9901 lets two digests be of one name, and two readers be shown two values. Here the
entry lists the paths that could be withheld, sorted, and the digests of an object stand
in the order of its names in that list: each name has one digest, each digest one name,
a decoy where the member is absent. That order tells nothing of the event's own (4.2.4.1
asks for that), and a verifier of RFC 9901 takes any order.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, NoReturn

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
    """Return what a disclosure says; raise InputError where it is malformed."""
    value = parse_json(decode64(disclosure))
    if not isinstance(value, list) or len(value) != _PARTS:
        raise InputError("a disclosure is a list of salt, name and value")
    salt, name, content = value
    if not isinstance(salt, str) or not isinstance(name, str) or name in RESERVED:
        raise InputError("a disclosure's salt or name is unfit")
    _check_reserved(content)
    return Disclosed(salt, name, content)


class Sealed(NamedTuple):
    """An event as it is signed, and what is kept beside it.

    ``withheld`` are the dotted paths that ``event`` has a digest for; ``decoys`` are
    what those digests are of that stand for no member.
    """

    event: dict[str, Json]
    withheld: tuple[str, ...]
    disclosures: tuple[str, ...]
    decoys: tuple[str, ...]


def _new_salt() -> bytes:
    import secrets

    return secrets.token_bytes(SALT_BYTES)


def withhold(
    event: Mapping[str, Json],
    paths: Iterable[str],
    *,
    salt: Callable[[], bytes] = _new_salt,
) -> Sealed:
    """Return the event with digests in place of its withheld members.

    ``paths`` are dotted (``customer.name``); one counts where the event has the object
    (``customer``) that could hold the member.
    """
    _check_reserved(dict(event))
    names: dict[str, set[str]] = {}
    for path in paths:
        place, name = _parted(path)
        names.setdefault(place, set()).add(name)
    withheld: list[str] = []
    disclosures: list[str] = []
    decoys: list[str] = []

    def sealed(value: Mapping[str, Json], place: str) -> dict[str, Json]:
        hidden = sorted(names.get(place, ()))
        made: dict[str, Json] = {
            name: sealed(item, f"{place}{name}.") if isinstance(item, dict) else item
            for name, item in value.items()
            if name not in hidden
        }
        listed: list[Json] = []
        for name in hidden:
            if name in value:
                disclosures.append(make(name, value[name], salt()))
                listed.append(digest(disclosures[-1]))
            else:
                decoys.append(encode64(salt()))
                listed.append(digest(decoys[-1]))
            withheld.append(place + name)
        return {**made, "_sd": listed} if listed else made

    made = sealed(event, "")
    return Sealed(made, tuple(sorted(withheld)), tuple(disclosures), tuple(decoys))


def _parted(path: str) -> tuple[str, str]:
    """Return a path's place, which ends with a full stop or is empty, and its name."""
    place, stop, name = path.rpartition(".")
    return place + stop, name


def _check_reserved(value: Json) -> None:
    if isinstance(value, dict):
        taken = sorted(RESERVED & set(value))
        if taken:
            raise InputError(
                f"the name {quoted(taken[0])} is reserved",
                what_to_do="choose another name",
            )
        for item in value.values():
            _check_reserved(item)
    elif isinstance(value, list):
        for item in value:
            _check_reserved(item)


def digests(event: Mapping[str, Json], withheld: Sequence[str]) -> dict[str, str]:
    """Return each digest in a signed event -> the one path that it stands for.

    Raises InputError where a name has not one digest, or a digest not one name.
    """
    names: dict[str, list[str]] = {}
    for path in withheld:
        place, name = _parted(path)
        names.setdefault(place, []).append(name)
    found: dict[str, str] = {}
    for place, value in _objects(event, ""):
        here, listed = names.pop(place, []), value["_sd"]
        if (
            not isinstance(listed, list)
            or len(listed) != len(here)
            or not here
            or not value.keys().isdisjoint(here)
        ):
            _misfit()
        for text, name in zip(listed, here, strict=True):
            if not isinstance(text, str) or text in found:
                _misfit()
            found[text] = place + name
    if names or list(withheld) != sorted(set(withheld)):
        _misfit()
    return found


def _misfit() -> NoReturn:
    raise InputError("the withheld names and their digests are not one to one")


def _objects(
    value: Mapping[str, Json], place: str
) -> Iterable[tuple[str, Mapping[str, Json]]]:
    """Yield each object with digests, and its place; refuse digests elsewhere."""
    if "_sd" in value:
        yield place, value
    for name, item in value.items():
        if isinstance(item, dict):
            yield from _objects(item, f"{place}{name}.")
        elif isinstance(item, list) and name != "_sd":
            _check_reserved(item)


def path_of(event: Mapping[str, Json], withheld: Sequence[str], disclosure: str) -> str:
    """Return the dotted path of the member that a disclosure discloses.

    Raises VerificationError for a disclosure that the event did not sign for.
    """
    return _path(digests(event, withheld), disclosure)


def _path(places: Mapping[str, str], disclosure: str) -> str:
    path = places.get(digest(disclosure))
    if path is None:
        raise VerificationError("a disclosure belongs to no digest of its entry")
    return path


def is_decoy(text: str) -> bool:
    """Return whether a kept text is that of a decoy: a salt and nothing else."""
    try:
        return len(decode64(text)) == SALT_BYTES
    except AuditkitError:
        return False


def disclosed(path: str, disclosure: str) -> Json:
    """Return the value that a disclosure gives for the member at ``path``.

    Raises VerificationError where it is none, or of another name.
    """
    try:
        said = parse(disclosure)
    except AuditkitError as error:
        raise VerificationError(error.message) from error
    if said.name != _parted(path)[1]:
        raise VerificationError(
            f"a disclosure gives {quoted(said.name)} in place of {quoted(path)}"
        )
    return said.value


def reveal(
    event: Mapping[str, Json], withheld: Sequence[str], disclosures: Iterable[str]
) -> tuple[dict[str, Json], tuple[str, ...]]:
    """Return the event with disclosed members put back (section 7.1).

    Also returns the paths that stay undisclosed: withheld, erased, lost or decoys.
    Raises VerificationError for a disclosure that the event did not sign for.
    """
    places = digests(event, withheld)
    given: dict[str, Json] = {}
    for text in disclosures:
        path = _path(places, text)
        if path in given:
            raise VerificationError("a disclosure is given twice")
        given[path] = disclosed(path, text)
    members: dict[str, dict[str, Json]] = {}
    for path, value in given.items():
        place, name = _parted(path)
        members.setdefault(place, {})[name] = value
    left = tuple(path for path in withheld if path not in given)
    return _revealed(event, "", members), left


def _revealed(
    value: Mapping[str, Json], place: str, members: Mapping[str, Mapping[str, Json]]
) -> dict[str, Json]:
    """Return an object without digests, and with the members given for its place."""
    made: dict[str, Json] = {
        name: _revealed(item, f"{place}{name}.", members)
        if isinstance(item, dict)
        else item
        for name, item in value.items()
        if name != "_sd"
    }
    return {**made, **members.get(place, {})} if "_sd" in value else made
