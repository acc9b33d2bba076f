"""What a PKCS#11 URI names (RFC 7512): a library, a token, and a key in it. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn
from urllib.parse import unquote_to_bytes

from auditkit.errors import InputError

_PATH = re.compile(r"(?:[A-Za-z0-9._~:\[\]@!$'()*+,=&-]|%[0-9A-Fa-f]{2})+")
_QUERY = re.compile(r"(?:[A-Za-z0-9._~:\[\]@!$'()*+,=/?|-]|%[0-9A-Fa-f]{2})+")
_OF_TOKEN = ("token", "serial", "model", "manufacturer")
_KNOWN = (*_OF_TOKEN, "object", "id", "type", "module-path")
_PINS = ("pin-value", "pin-source")
_FORM = "pkcs11:token=NAME;object=NAME?module-path=/FULL/PATH/OF/MODULE.so"


@dataclass(frozen=True, slots=True)
class TokenUri:
    """What a PKCS#11 URI names. Empty members were not stated; ``id`` is bytes.

    ``token`` are pairs of a token's attribute, as the URI calls it, and its value.
    """

    module: str
    token: tuple[tuple[str, str], ...]
    object: str
    id: bytes


def parse_uri(text: str) -> TokenUri:
    """Return what a PKCS#11 URI names (RFC 7512); InputError for any other text."""
    scheme, _, rest = text.partition(":")
    if scheme.lower() != "pkcs11":
        _refuse("this is no PKCS#11 URI")
    path, asks, query = rest.partition("?")
    stated: dict[str, bytes] = {}
    _attributes(path, ";", _PATH, stated)
    if asks:
        _attributes(query, "&", _QUERY, stated)
    if not stated.keys().isdisjoint(_PINS):
        raise InputError(
            "the PIN has no place in a PKCS#11 URI",
            what_to_do="take it out of the URI: it is asked for, or read from a file",
        )
    unknown = [name for name in stated if name not in _KNOWN]
    if unknown:
        _refuse(f"the PKCS#11 URI states {unknown[0]!r}, which is not understood")
    if stated.get("type", b"private") != b"private":
        _refuse("the PKCS#11 URI names another thing than a private key")
    words = {name: _word(name, data) for name, data in stated.items() if name != "id"}
    found = TokenUri(
        words.get("module-path", ""),
        tuple((name, words[name]) for name in _OF_TOKEN if name in words),
        words.get("object", ""),
        stated.get("id", b""),
    )
    if not ({"token", "serial"} & stated.keys() and {"object", "id"} & stated.keys()):
        _refuse("the PKCS#11 URI names no token, or no key")
    if not Path(found.module).is_absolute():
        _refuse("the PKCS#11 URI gives no full path of a module")
    return found


def _attributes(
    text: str, between: str, form: re.Pattern[str], into: dict[str, bytes]
) -> None:
    for part in text.split(between):
        name, equals, value = part.partition("=")
        if not equals or not form.fullmatch(value):
            # What follows the equals sign could be a PIN: it is not shown.
            shown = repr(name[:40]) if equals else "a part"
            _refuse(f"{shown} in the PKCS#11 URI is malformed")
        if name in into:
            _refuse(f"the PKCS#11 URI states {name!r} twice")
        into[name] = unquote_to_bytes(value)


def _word(name: str, data: bytes) -> str:
    try:
        return data.decode()
    except UnicodeDecodeError as error:
        _refuse(f"{name!r} in the PKCS#11 URI is not UTF-8", error)


def _refuse(message: str, cause: Exception | None = None) -> NoReturn:
    raise InputError(
        message, what_to_do=f"write {_FORM}, with a space as %20"
    ) from cause
