"""A packet as text: how it is written, in one way only, and read.

What was signed stands in it as it was signed: an entry's header and payload are JSON,
each on one line, byte for byte. A person reads them, and any JSON library that writes
RFC 8785 gives the signed text back. Nothing in a packet is verified here; that is
``auditkit.proof.check_packet``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from json.encoder import encode_basestring
from typing import TypeGuard

from auditkit.errors import AuditkitError, InputError
from auditkit.proof import merkle, note
from auditkit.proof.entry import HEADER, Entry
from auditkit.text import fast_json
from auditkit.text.base64url import decode64, encode64
from auditkit.text.strict_json import MAX_INTEGER, canonical, parse
from auditkit.text.values import Json

PACKET_FORMAT = "auditkit/packet@1"
MAX_PACKET = 32 * 1024 * 1024
"""Most bytes of a packet's text; pictures in it take four bytes for three."""
_MEMBERS = (
    "format",
    "repair_order",
    "statement",
    "log_key",
    "checkpoint",
    "earlier",
    "entries",
    "disclosures",
    "attachments",
)
_EARLIER_MEMBERS = ("size", "root", "path")
_ENTRY_MEMBERS = ("seq", "header", "payload", "signature", "proof")
_HEADER = parse(HEADER)
_SAYS_SO = re.compile(r'"format"\s*:\s*"auditkit/packet@')


@dataclass(frozen=True, slots=True)
class EarlierTree:
    """An earlier tree of the log, and the proof that the packet's extends it.

    ``path`` is the consistency proof (RFC 9162 section 2.1.4) from ``size`` entries
    with this ``root`` to the packet's checkpoint.
    """

    size: int
    root: bytes
    path: tuple[bytes, ...]


@dataclass(frozen=True, slots=True)
class Packet:
    """A packet as read: nothing in it is verified yet.

    ``attachments`` are SHA-256 in hex and bytes, in order of the SHA-256.
    """

    repair_order: str
    statement: tuple[str, ...]
    log_key: str
    checkpoint: str
    earlier: tuple[EarlierTree, ...]
    entries: tuple[tuple[Entry, str], ...]
    disclosures: tuple[tuple[int, str], ...]
    attachments: tuple[tuple[str, bytes], ...] = ()


def format_packet(packet: Packet) -> str:
    """Return the packet's text: JSON, one member a line, indented by two spaces.

    Each entry's header and payload must be canonical JSON (RFC 8785): they are put in
    as they are.
    """
    return f"""{{
  "format": "{PACKET_FORMAT}",
  "repair_order": {_quoted(packet.repair_order)},
  "statement": {_list_text(map(_quoted, packet.statement), 1)},
  "log_key": {_quoted(packet.log_key)},
  "checkpoint": {_quoted(packet.checkpoint)},
  "earlier": {_list_text(map(_earlier_text, packet.earlier), 1)},
  "entries": {_list_text(map(_entry_text, packet.entries), 1)},
  "disclosures": {_list_text(map(_given_text, packet.disclosures), 1)},
  "attachments": {_list_text(map(_attachment_text, packet.attachments), 1)}
}}
"""


# The standard library writes the same with ``json.dumps(..., indent=2)``, in pure
# Python, and eight times slower; a test holds the two against each other.
_quoted = encode_basestring


def _list_text(items: Iterable[str], depth: int) -> str:
    """Return a list's text, one item a line, indented one step deeper."""
    gap = "\n" + "  " * (depth + 1)
    text = f",{gap}".join(items)
    return f"[{gap}{text}{gap[:-2]}]" if text else "[]"


def _earlier_text(old: EarlierTree) -> str:
    path = (_quoted(note.to_base64(step)) for step in old.path)
    return f"""{{
      "size": {old.size},
      "root": {_quoted(note.to_base64(old.root))},
      "path": {_list_text(path, 3)}
    }}"""


def _entry_text(pair: tuple[Entry, str]) -> str:
    signed, proof = pair
    return f"""{{
      "seq": {signed.seq},
      "header": {signed.header},
      "payload": {signed.payload},
      "signature": "{encode64(signed.signature)}",
      "proof": {_quoted(proof)}
    }}"""


def _given_text(pair: tuple[int, str]) -> str:
    return f"""{{
      "seq": {pair[0]},
      "disclosure": {_quoted(pair[1])}
    }}"""


def _attachment_text(pair: tuple[str, bytes]) -> str:
    return f"""{{
      "sha256": {_quoted(pair[0])},
      "data": "{note.to_base64(pair[1])}"
    }}"""


def is_packet(text: str) -> bool:
    """Return whether a text says that it is a packet of any version."""
    return bool(_SAYS_SO.search(text[:200]))


def parse_packet(text: str | bytes, *, where: str = "") -> Packet:
    """Return the packet that a text holds; raise InputError where there is none."""
    return _plain_packet(text) or _any_packet(text, where)


def _plain_packet(text: str | bytes) -> Packet | None:
    """Return the packet of a text that is written exactly as packets are: a quick way.

    None says only that a closer look is needed.
    """
    try:
        data = text.encode() if isinstance(text, str) else text
        value = fast_json.any_value(data) if len(data) <= MAX_PACKET else None
        packet = None if value is None else _packet(value)
    except (ValueError, AuditkitError):
        return None
    return packet if packet and format_packet(packet).encode() == data else None


def _any_packet(text: str | bytes, where: str) -> Packet:
    what_to_do = "ask for the file again, as it was made"
    try:
        value = parse(text, limit=MAX_PACKET)
    except AuditkitError as error:
        raise InputError(error.message, where=where, what_to_do=what_to_do) from error
    if not isinstance(value, dict) or value.get("format") != PACKET_FORMAT:
        raise InputError(
            f"this is not {PACKET_FORMAT}", where=where, what_to_do=what_to_do
        )
    try:
        packet = _packet(value)
    except AuditkitError as error:
        raise InputError(
            f"this is not a whole packet ({error.message})",
            where=where,
            what_to_do=what_to_do,
        ) from error
    written = format_packet(packet)
    if written.encode() != (text.encode() if isinstance(text, str) else text):
        raise InputError(
            "this is not byte for byte what a packet of this content is",
            where=where,
            what_to_do=what_to_do,
        )
    return packet


def _packet(whole: Json) -> Packet:
    value = _object(whole)
    _exactly(value, _MEMBERS)
    if value["format"] != PACKET_FORMAT:
        raise InputError(f"this is not {PACKET_FORMAT}")
    return Packet(
        repair_order=_text(value["repair_order"]),
        statement=tuple(_text(line) for line in _list(value["statement"])),
        log_key=_text(value["log_key"]),
        checkpoint=_text(value["checkpoint"]),
        earlier=tuple(_earlier(item) for item in _list(value["earlier"])),
        entries=tuple(_entry(item) for item in _list(value["entries"])),
        disclosures=tuple(_disclosure(i) for i in _list(value["disclosures"])),
        attachments=tuple(_attachment(i) for i in _list(value["attachments"])),
    )


def _earlier(item: Json) -> EarlierTree:
    member = _object(item)
    _exactly(member, _EARLIER_MEMBERS)
    size = _count(member["size"], "a size")
    hashes = [note.from_base64(_text(member["root"]))]
    hashes += [note.from_base64(_text(step)) for step in _list(member["path"])]
    if any(len(data) != merkle.HASH_BYTES for data in hashes):
        raise InputError("a root or a step of a path is not a SHA-256 hash")
    return EarlierTree(size, hashes[0], tuple(hashes[1:]))


def _count(value: Json, what: str) -> int:
    if not _is_integer(value) or value < 0:
        raise InputError(f"{what} is not a count")
    return value


def _is_integer(value: Json) -> TypeGuard[int]:
    """Return whether a value is an integer of the profile of ``strict_json``."""
    return type(value) is int and abs(value) <= MAX_INTEGER


def _entry(item: Json) -> tuple[Entry, str]:
    member = _object(item)
    _exactly(member, _ENTRY_MEMBERS)
    seq, header, payload, signature, proof = member.values()
    entry = Entry(
        seq=_count(seq, "a sequence number"),
        signature=decode64(_text(signature)),
        header=HEADER if header == _HEADER else _canonical(header),
        payload=_canonical(payload),
    )
    return entry, _text(proof)


def _canonical(value: Json) -> str:
    """Return what was signed: an object's one text, which is compared in the end."""
    return canonical(dict(_object(value)))


def _disclosure(item: Json) -> tuple[int, str]:
    member = _object(item)
    _exactly(member, ("seq", "disclosure"))
    seq = member["seq"]
    if not _is_integer(seq):
        raise InputError("a disclosure names no entry")
    return seq, _text(member["disclosure"])


def _attachment(item: Json) -> tuple[str, bytes]:
    member = _object(item)
    _exactly(member, ("sha256", "data"))
    return _text(member["sha256"]), note.from_base64(_text(member["data"]))


def _exactly(value: Mapping[str, Json], names: Sequence[str]) -> None:
    if tuple(value) != tuple(names):
        raise InputError(f"its members are not {', '.join(names)}")


def _text(value: Json) -> str:
    if not isinstance(value, str):
        raise InputError("a member that should be text is not")
    return value


def _list(value: Json) -> list[Json]:
    if not isinstance(value, list):
        raise InputError("a member that should be a list is not")
    return value


def _object(value: Json) -> Mapping[str, Json]:
    if not isinstance(value, dict):
        raise InputError("a member that should be an object is not")
    return value
