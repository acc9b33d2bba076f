"""A receipt: what the customer keeps of one repair order when the vehicle goes home.

It names the order, the log, its checkpoint and its key as they were at the hand-over,
and digests: of the order's entries, of the signed statement, and of the story that is
printed on the same paper. So it is short however long the order is, and its code is
read by any phone. A packet shown later is held against it (``reader.hold_receipt``). It
is not signed and proves nothing alone.

Its text, ``auditkit/receipt@1``, is that name on a line of its own, then lines ``key:
value`` in a fixed order. A text that is not byte for byte what would be written is
refused. No value has a space, so what copying loses can be put back. In the fragment of
an address (RFC 3986 section 3.5), which browsers do not send, it stands as
``#auditkit/receipt@1&key=value&...``.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from dataclasses import dataclass

from auditkit.errors import AuditkitError, InputError
from auditkit.proof import note
from auditkit.text.base64url import decode64, encode64
from auditkit.text.display_text import is_shown, quoted
from auditkit.text.strict_json import canonical

RECEIPT_FORMAT = "auditkit/receipt@1"
MAX_RECEIPT = 900
"""Most bytes of a receipt's text."""
_MOST_READ = 64 * 1024  # characters in which a receipt is looked for
_DIGESTS = ("log_key", "entries", "statement", "story")
_KEYS = ("repair_order", "origin", "checkpoint_size", "checkpoint_root", *_DIGESTS)
_SHA256_BYTES = 32
_SAFE = (
    "/:@._~-="  # left as they are: of a fragment's characters, those that values use
)
_IN_ADDRESS = re.compile(rf"&({'|'.join(_KEYS)})=")
_UNSEEN = dict.fromkeys(map(ord, "\ufeff\u200b\u00ad"))
_WHAT_TO_DO = "use the receipt's text as its code holds it, or type it off the paper"


@dataclass(frozen=True, slots=True)
class Receipt:
    """What a receipt says.

    ``root`` is the checkpoint's in base64 (RFC 4648 section 4), as the checkpoint
    writes it, ``log_key`` the thumbprint (RFC 7638) of the log's key. ``entries``,
    ``statement`` and ``story`` are SHA-256, in base64url: see ``digest_of_entries`` and
    ``digest_of_lines``.
    """

    repair_order: str
    origin: str
    size: int
    root: str
    log_key: str
    entries: str
    statement: str
    story: str


def digest_of_entries(leaves: Iterable[bytes]) -> str:
    """Return the SHA-256 of entries' leaf hashes (RFC 9162), one after the other."""
    return encode64(hashlib.sha256(b"".join(leaves)).digest())


def digest_of_lines(lines: Iterable[str]) -> str:
    """Return the SHA-256 of lines of text, as a JSON list (RFC 8785)."""
    return encode64(hashlib.sha256(canonical(list(lines)).encode()).digest())


def format_receipt(receipt: Receipt) -> str:
    """Return a receipt's text; raise InputError where it could not be read back."""
    _check(receipt)
    lines = (f"{key}: {said}\n" for key, said in _pairs(receipt))
    text = f"{RECEIPT_FORMAT}\n{''.join(lines)}"
    if len(text.encode()) > MAX_RECEIPT:
        raise InputError(
            f"the receipt would be longer than {MAX_RECEIPT} bytes: its log's name, or "
            "its order's number, is too long",
            what_to_do="hand over the packet instead",
        )
    return text


def receipt_address(page: str, receipt: Receipt) -> str:
    """Return the address of a checker page with a receipt in its fragment."""
    from urllib.parse import quote  # takes long to load, and most need it not

    format_receipt(receipt)
    pairs = (f"&{key}={quote(said, safe=_SAFE)}" for key, said in _pairs(receipt))
    return f"{page}#{RECEIPT_FORMAT}{''.join(pairs)}"


def _pairs(receipt: Receipt) -> list[tuple[str, str]]:
    values = (
        receipt.repair_order,
        receipt.origin,
        str(receipt.size),
        receipt.root,
        receipt.log_key,
        receipt.entries,
        receipt.statement,
        receipt.story,
    )
    return list(zip(_KEYS, values, strict=True))


def is_receipt(text: str) -> bool:
    """Return whether a text says that it is a receipt, of any version.

    As text, or in the fragment of an address.
    """
    return _bare(text[:_MOST_READ]).startswith("auditkit/receipt@")


def as_written(text: str) -> str:
    """Return a receipt's text as it was written, from what copying made of it.

    Lines run together or wrap, spaces go or come, and a code that opens a page holds
    the whole address. A sound text, or one that cannot be restored, is returned as it
    is.
    """
    if len(text) > _MOST_READ:
        return text
    try:
        parse_receipt(text)
    except InputError:
        return _restored(text)
    return text


def _bare(text: str) -> str:
    """Return a receipt without its address, spaces, line ends and unseen characters."""
    before, mark, fragment = text.partition("#")
    if mark and "auditkit/receipt@" not in before:
        from urllib.parse import unquote

        text = _IN_ADDRESS.sub(r"\1:", unquote("".join(fragment.split())))
    return "".join(text.translate(_UNSEEN).split())


def _restored(text: str) -> str:
    rest = _bare(text)
    if not rest.startswith(RECEIPT_FORMAT):
        return text
    lines: list[str] = []
    for key in reversed(_KEYS):
        rest, mark, said = rest.rpartition(f"{key}:")
        if not mark:
            return text
        lines.append(f"{key}: {said}")
    return "\n".join([rest, *reversed(lines), ""])


def parse_receipt(text: str, *, where: str = "") -> Receipt:
    """Return what a receipt's text says; raise InputError where it is no receipt."""
    try:
        receipt = _parsed(text)
        written = format_receipt(receipt)
    except AuditkitError as error:
        raise InputError(error.message, where=where, what_to_do=_WHAT_TO_DO) from error
    if written != text:
        raise InputError(
            "this is not byte for byte what a receipt of this content is",
            where=where,
            what_to_do=_WHAT_TO_DO,
        )
    return receipt


def _parsed(text: str) -> Receipt:
    if len(text) > MAX_RECEIPT or not text.startswith(f"{RECEIPT_FORMAT}\n"):
        raise InputError(f"this is not {RECEIPT_FORMAT}")
    found: list[str] = []
    lines = text.removesuffix("\n").split("\n")[1:]
    for number, (key, line) in enumerate(zip(_KEYS, lines, strict=False), start=2):
        name, colon, said = line.partition(": ")
        if not colon or name != key:
            raise InputError(f"line {number} of the receipt does not say its {key}")
        found.append(said)
    if len(lines) != len(_KEYS):
        raise InputError(
            f"the receipt has {len(lines) + 1} lines, and not {len(_KEYS) + 1}"
        )
    order, origin, size, root, log_key, entries, statement, story = found
    if not (size.isascii() and size.isdigit()) or len(size) > 16:
        raise InputError("the receipt's checkpoint_size is not a plain number")
    return Receipt(order, origin, int(size), root, log_key, entries, statement, story)


def _check(receipt: Receipt) -> None:
    for name, said in (
        ("repair_order", receipt.repair_order),
        ("origin", receipt.origin),
    ):
        if not said or "".join(said.split()) != said or not is_shown(said):
            raise InputError(
                f"the receipt's {name}, {quoted(said)}, is no name without spaces",
                what_to_do="hand over the packet instead",
            )
    text = f"{receipt.origin}\n{receipt.size}\n{receipt.root}\n"
    if note.parse_checkpoint(text).size == 0:
        raise InputError("the receipt's checkpoint holds no entry")
    for name in _DIGESTS:
        if len(decode64(getattr(receipt, name))) != _SHA256_BYTES:
            raise InputError(f"the receipt's {name} is no SHA-256 in base64url")
