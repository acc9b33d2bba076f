"""An entry: one event, sealed in its place in the log.

A JWS (RFC 7515) with an unencoded payload (RFC 7797) and Ed25519 (RFC 8037; the
algorithm's name from RFC 9864): what is signed is the exact text that is stored, and a
person can read it. Nothing is written anew to verify it. The header is one of a fixed
list, and the key comes from the log's enrolments, never from the message.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple, TypeGuard

from auditkit.errors import InputError, VerificationError
from auditkit.proof import disclosure, merkle
from auditkit.proof.keys import PublicKey, SigningKey
from auditkit.text.base64url import url_safe
from auditkit.text.display_text import quoted
from auditkit.text.strict_json import canonical, parse_canonical
from auditkit.text.values import MAX_DEPTH, Json

ENTRY_FORMAT = "auditkit/entry@1"
HEADER = '{"alg":"Ed25519","b64":false,"crit":["b64"],"typ":"auditkit/entry@1"}'
HEADERS = (HEADER,)
LOG_SIGNER = "log"
_SIGNATURE64 = 86  # characters of a signature in base64url
_OUTER = 3  # what stands around a payload: a packet, its entries, an entry
MAX_ENTRY = 65_535  # C2SP tlog-tiles: the length prefix of an entry has 16 bits
_MEMBERS = (  # in their canonical order
    "_sd_alg",
    "by",
    "event",
    "form",
    "format",
    "key",
    "log",
    "prev",
    "recorded_at",
    "repair_order",
    "root",
    "seq",
    "withheld",
)
_MAY_BE_NULL = ("form", "prev", "repair_order")
_DIGEST = "sha-256"
_FORM = re.compile("[A-Za-z0-9_-]{1,64}")


class Entry(NamedTuple):
    """An entry as it is stored: text and signature, not verified."""

    seq: int
    header: str
    payload: str
    signature: bytes

    @property
    def signing_input(self) -> bytes:
        """What the signature is over (RFC 7797 section 3): made anew each time."""
        first = _HEADER64.get(self.header) or url_safe(self.header.encode())
        return first + b"." + self.payload.encode()

    @property
    def leaf(self) -> bytes:
        """The entry's leaf hash in the log's tree (RFC 9162 2.1.1)."""
        return leaf_hash(self.signing_input, self.signature)


def leaf_hash(message: bytes, signature: bytes) -> bytes:
    """Return the leaf hash (RFC 9162 2.1.1) of an entry with this signing input.

    The leaf is the signing input, a full stop, and the signature in base64url. Neither
    the header nor the signature, so encoded, holds a full stop: the first and the last
    one part the three, whatever the payload holds (RFC 7797 section 5.2).
    """
    return merkle.leaf_hash(message + b"." + url_safe(signature))


_HEADER64 = {HEADER: url_safe(HEADER.encode())}


class Payload(NamedTuple):
    """What an entry says. ``event`` holds withheld members as digests (RFC 9901).

    ``withheld`` lists the paths of those members, one digest each: see ``disclosure``.

    ``key`` is the signing key's thumbprint, ``log`` the log's origin, ``prev`` the
    leaf hash of the entry before in hex, None for the first. ``root`` is the root (RFC
    9162 2.1.1) of all entries before in hex: who signs an entry vouches for those.
    ``form`` is the id under which a form was sent, None where none was: all entries
    that one form made have it.
    """

    by: str
    event: Mapping[str, Json]
    key: str
    log: str
    prev: str | None
    recorded_at: str
    repair_order: str | None
    root: str
    seq: int
    withheld: tuple[str, ...] = ()
    form: str | None = None


def format_payload(payload: Payload) -> str:
    """Return the payload's canonical text (RFC 8785).

    The event's own text is made once, and set in between the other members.
    """
    order, form, prev = payload.repair_order, payload.form, payload.prev
    return (
        f'{{"_sd_alg":"{_DIGEST}","by":{_often(payload.by)},'
        f'"event":{canonical(dict(payload.event))},'
        f'"form":{"null" if form is None else canonical(form)},'
        f'"format":"{ENTRY_FORMAT}","key":{_often(payload.key)},'
        f'"log":{_often(payload.log)},'
        f'"prev":{"null" if prev is None else canonical(prev)},'
        f'"recorded_at":{canonical(payload.recorded_at)},'
        f'"repair_order":{"null" if order is None else _often(order)},'
        f'"root":{canonical(payload.root)},"seq":{canonical(payload.seq)},'
        f'"withheld":{canonical(list(payload.withheld))}}}'
    )


_often = lru_cache(maxsize=256)(canonical)  # of texts that many entries have


def parse_payload(text: str) -> Payload:
    """Return what a payload says; refuse any text that would not be written so."""
    value = parse_canonical(text, limit=MAX_ENTRY)
    payload = _payload(value)
    if payload is None:
        raise InputError(
            _fault(value), what_to_do="the entry was not written by auditkit"
        )
    if payload.withheld or '"_sd":' in text or '"...":' in text:
        disclosure.digests(payload.event, payload.withheld)
    return payload


def _payload(value: Json) -> Payload | None:
    """Return what a canonical payload says, None where it is not an entry's."""
    if not isinstance(value, dict) or tuple(value) != _MEMBERS:
        return None
    digest, by, event, form, own, *rest = value.values()
    key, log, prev, recorded_at, order, root, seq, paths = rest
    if (
        digest == _DIGEST
        and own == ENTRY_FORMAT
        and (form is None or is_form(form))
        and isinstance(by, str)
        and isinstance(event, dict)
        and isinstance(event.get("kind"), str)
        and isinstance(key, str)
        and isinstance(log, str)
        and (prev is None or isinstance(prev, str))
        and isinstance(recorded_at, str)
        and (order is None or isinstance(order, str))
        and isinstance(root, str)
        and type(seq) is int
        and seq >= 0
        and isinstance(paths, list)
        and _are_texts(paths)
    ):
        withheld = tuple(map(str, paths))
        return Payload(
            by, event, key, log, prev, recorded_at, order, root, seq, withheld, form
        )
    return None


def _fault(value: Json) -> str:
    """Return the first thing that is wrong with what ``_payload`` refused."""
    if not isinstance(value, dict) or value.get("format") != ENTRY_FORMAT:
        return f"the payload is not {ENTRY_FORMAT}"
    for name in _MEMBERS:
        member = value.get(name)
        if not (name in _MAY_BE_NULL and member is None) and not _fits(name, member):
            return f"the payload's {_WHAT.get(name, f'{quoted(name)} is not text')}"
    return "the payload has other members than an entry's"


_WHAT = {
    "event": "event is of no kind",
    "form": "form id is not one",
    "seq": "sequence number is not a count",
    "withheld": "withheld paths are not a list of texts",
}


def _fits(name: str, member: Json) -> bool:
    """Return whether a member of a payload is of the kind that it has to be."""
    if name == "event":
        return isinstance(member, dict) and isinstance(member.get("kind"), str)
    if name == "form":
        return is_form(member)
    if name == "seq":
        return type(member) is int and member >= 0
    if name == "withheld":
        return _are_texts(member)
    return isinstance(member, str)


def is_form(value: Json) -> TypeGuard[str]:
    """Return whether a value is the id of a form: 1 to 64 letters, digits, - and _."""
    return isinstance(value, str) and _FORM.fullmatch(value) is not None


def _are_texts(value: Json) -> bool:
    return isinstance(value, list) and all(isinstance(item, str) for item in value)


def sign(payload: Payload, key: SigningKey) -> Entry:
    """Return the sealed entry; raise InputError where it is too large for a log."""
    return seal(payload, key)[0]


def seal(payload: Payload, key: SigningKey) -> tuple[Entry, bytes]:
    """Return the sealed entry and its leaf hash, made of the message that was signed.

    Raises InputError where it is too large for a log.
    """
    if payload.key != key.public.thumbprint:
        raise InputError("the payload names another key than the one that signs it")
    text = format_payload(payload)
    if text.count("[") + text.count("{") > MAX_DEPTH - _OUTER:
        _refuse_deeper(payload)
    message = _HEADER64[HEADER] + b"." + text.encode()
    size = len(message) + 1 + _SIGNATURE64
    if size > MAX_ENTRY:
        raise InputError(
            f"the event makes an entry of {size} bytes, over {MAX_ENTRY}",
            what_to_do="capture fewer services at once, or log the file "
            "as an attachment",
        )
    signature = key.sign(message)
    return Entry(payload.seq, HEADER, text, signature), leaf_hash(message, signature)


def _refuse_deeper(payload: Payload) -> None:
    """Raise InputError where a packet with this payload would nest too deep."""
    try:
        canonical([[[[dict(payload.event)]]]])
    except InputError as error:
        raise InputError(
            "the event nests deeper than a packet can carry",
            what_to_do="write it flatter",
        ) from error


def verify(entry: Entry, key: PublicKey, *, again: bool = False) -> None:
    """Raise VerificationError unless the entry was signed with ``key``.

    ``again`` says that the same may be asked again soon.
    """
    check_header(entry.header)
    key.verify(entry.signature, entry.signing_input, again=again)


def check_header(header: str) -> None:
    """Raise VerificationError for a header that is not one of ``HEADERS``."""
    if header not in HEADERS:
        raise VerificationError("the header is not one of this format's")
