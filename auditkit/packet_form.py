"""A packet as text: how it is written, in one way only, and read.

Nothing in a packet is verified here; that is ``auditkit.packet``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from json.encoder import encode_basestring

from auditkit import note, tree
from auditkit.entry import Entry
from auditkit.errors import AuditkitError, InputError
from auditkit.events import Json
from auditkit.strict_json import parse
from auditkit.text64 import decode64, encode64

PACKET_FORMAT = "auditkit/packet@1"
MAX_PACKET = 32 * 1024 * 1024
_MEMBERS = (
    "format",
    "repair_order",
    "statement",
    "log_key",
    "checkpoint",
    "earlier",
    "entries",
    "disclosures",
)
_EARLIER_MEMBERS = ("size", "root", "path")
_ENTRY_MEMBERS = ("seq", "header", "payload", "signature", "proof")


@dataclass(frozen=True, slots=True)
class Earlier:
    """An earlier tree of the log, and the proof that the packet's extends it.

    ``path`` is the consistency proof (RFC 9162 section 2.1.4) from ``size`` entries
    with this ``root`` to the packet's checkpoint.
    """

    size: int
    root: bytes
    path: tuple[bytes, ...]


@dataclass(frozen=True, slots=True)
class Packet:
    """A packet as read: nothing in it is verified yet."""

    repair_order: str
    statement: tuple[str, ...]
    log_key: str
    checkpoint: str
    earlier: tuple[Earlier, ...]
    entries: tuple[tuple[Entry, str], ...]
    disclosures: tuple[tuple[int, str], ...]


def format_packet(packet: Packet) -> str:
    """Return the packet's text: JSON, a member a line, an indent of one space."""
    whole = (
        ("format", _quoted(PACKET_FORMAT)),
        ("repair_order", _quoted(packet.repair_order)),
        ("statement", _lines("[]", map(_quoted, packet.statement), 1)),
        ("log_key", _quoted(packet.log_key)),
        ("checkpoint", _quoted(packet.checkpoint)),
        ("earlier", _lines("[]", map(_earlier_text, packet.earlier), 1)),
        ("entries", _lines("[]", map(_entry_text, packet.entries), 1)),
        ("disclosures", _lines("[]", map(_given_text, packet.disclosures), 1)),
    )
    return _members(whole, 0) + "\n"


# The standard library writes the same with ``json.dumps(..., indent=1)``, in pure
# Python, and eight times slower; a test holds the two against each other.
_quoted = encode_basestring


def _lines(ends: str, items: Iterable[str], depth: int) -> str:
    """Return a list's or an object's text, an item a line, one deeper than it."""
    gap = "\n" + " " * (depth + 1)
    text = f",{gap}".join(items)
    return f"{ends[0]}{gap}{text}{gap[:-1]}{ends[1]}" if text else ends


def _members(members: Iterable[tuple[str, str]], depth: int) -> str:
    return _lines("{}", (f'"{name}": {text}' for name, text in members), depth)


def _earlier_text(old: Earlier) -> str:
    path = (_quoted(note.to_base64(step)) for step in old.path)
    members = (
        ("size", str(old.size)),
        ("root", _quoted(note.to_base64(old.root))),
        ("path", _lines("[]", path, 3)),
    )
    return _members(members, 2)


def _entry_text(pair: tuple[Entry, str]) -> str:
    signed, proof = pair
    members = (
        ("seq", str(signed.seq)),
        ("header", _quoted(signed.header)),
        ("payload", _quoted(signed.payload)),
        ("signature", f'"{encode64(signed.signature)}"'),
        ("proof", _quoted(proof)),
    )
    return _members(members, 2)


def _given_text(pair: tuple[int, str]) -> str:
    return _members((("seq", str(pair[0])), ("disclosure", _quoted(pair[1]))), 2)


def is_packet(text: str) -> bool:
    """Return whether a text says that it is a packet of any version."""
    return '"format": "auditkit/packet@' in text[:200]


def parse_packet(text: str | bytes, *, where: str = "") -> Packet:
    """Return the packet that a text holds; raise InputError where it is none."""
    value = parse(text, where=where, limit=MAX_PACKET)
    mend = "ask for the file again, as it was made"
    if not isinstance(value, dict) or value.get("format") != PACKET_FORMAT:
        message = f"this is not {PACKET_FORMAT}"
        raise InputError(message, where=where, mend=mend)
    try:
        packet = _packet(value)
    except (KeyError, TypeError, ValueError, AuditkitError) as error:
        message = f"this is not a whole packet ({error})"
        raise InputError(message, where=where, mend=mend) from error
    written = format_packet(packet)
    if written.encode() != (text.encode() if isinstance(text, str) else text):
        message = "this is not byte for byte what a packet of this content is"
        raise InputError(message, where=where, mend=mend)
    return packet


def _packet(value: Mapping[str, Json]) -> Packet:
    _exactly(value, _MEMBERS)
    return Packet(
        repair_order=_text(value["repair_order"]),
        statement=tuple(_text(line) for line in _list(value["statement"])),
        log_key=_text(value["log_key"]),
        checkpoint=_text(value["checkpoint"]),
        earlier=tuple(_earlier(item) for item in _list(value["earlier"])),
        entries=tuple(_entry(item) for item in _list(value["entries"])),
        disclosures=tuple(_disclosure(i) for i in _list(value["disclosures"])),
    )


def _earlier(item: Json) -> Earlier:
    member = _object(item)
    _exactly(member, _EARLIER_MEMBERS)
    size = _count(member["size"], "a size")
    hashes = [note.from_base64(_text(member["root"]))]
    hashes += [note.from_base64(_text(step)) for step in _list(member["path"])]
    if any(len(data) != tree.HASH_BYTES for data in hashes):
        message = "a root or a step of a path is not a SHA-256 hash"
        raise InputError(message)
    return Earlier(size, hashes[0], tuple(hashes[1:]))


def _count(value: Json, what: str) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        message = f"{what} is not a count"
        raise InputError(message)
    return value


def _entry(item: Json) -> tuple[Entry, str]:
    member = _object(item)
    _exactly(member, _ENTRY_MEMBERS)
    seq = _count(member["seq"], "a sequence number")
    signature = decode64(_text(member["signature"]))
    header, payload = _text(member["header"]), _text(member["payload"])
    return Entry(seq, header, payload, signature), _text(member["proof"])


def _disclosure(item: Json) -> tuple[int, str]:
    member = _object(item)
    _exactly(member, ("seq", "disclosure"))
    seq = member["seq"]
    if not isinstance(seq, int) or isinstance(seq, bool):
        message = "a disclosure names no entry"
        raise InputError(message)
    return seq, _text(member["disclosure"])


def _exactly(value: Mapping[str, Json], names: Sequence[str]) -> None:
    if tuple(value) != tuple(names):
        message = f"its members are not {', '.join(names)}"
        raise InputError(message)


def _text(value: Json) -> str:
    if not isinstance(value, str):
        message = "a member that should be text is not"
        raise InputError(message)
    return value


def _list(value: Json) -> list[Json]:
    if not isinstance(value, list):
        message = "a member that should be a list is not"
        raise InputError(message)
    return value


def _object(value: Json) -> Mapping[str, Json]:
    if not isinstance(value, dict):
        message = "a member that should be an object is not"
        raise InputError(message)
    return value
