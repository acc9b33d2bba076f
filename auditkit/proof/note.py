"""Signed notes, checkpoints and proofs as text (C2SP specifications).

signed-note v1.0.0, tlog-checkpoint v1.0.0, tlog-proof (draft). A note is text, an
empty line, and lines of signatures, each naming the key that made it. A parser
refuses what would not be written so.
"""

from __future__ import annotations

import binascii
import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from auditkit.errors import AuditkitError, InputError, VerificationError
from auditkit.proof.keys import PublicKey, SigningKey
from auditkit.proof.merkle import HASH_BYTES
from auditkit.text.display_text import is_shown, quoted

PROOF_FORMAT = "c2sp.org/tlog-proof@v1"
MAX_NOTE = 64 * 1024
MAX_SIGNATURES = 100
_ED25519 = b"\x01"
_ID_BYTES = 4
_MAX_PATH = 63
_NO_PATH = "the proof's path is not a list of SHA-256 hashes"
_NAME = re.compile(r"[^\s+]+")
_COUNT = re.compile(r"0|[1-9][0-9]{0,15}")
_CONTROL = re.compile(r"[\x00-\x09\x0b-\x1f]")  # but the line end


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """How many entries a log holds and the root over them."""

    origin: str
    size: int
    root: bytes


def key_id(name: str, key: PublicKey, kind: bytes = _ED25519) -> bytes:
    """Return the four bytes that hint at a key in a signature line.

    ``kind`` is the signature type, one byte (signed-note v1.0.0).
    """
    data = name.encode() + b"\n" + kind + key.raw
    return hashlib.sha256(data).digest()[:_ID_BYTES]


def vkey(name: str, key: PublicKey, kind: bytes = _ED25519) -> str:
    """Return a verifier key: name, id and key in one line of text."""
    check_name(name)
    return f"{name}+{key_id(name, key, kind).hex()}+{to_base64(kind + key.raw)}"


@lru_cache(maxsize=256)  # a shop's packets share theirs; a refusal is never kept
def parse_vkey(text: str) -> tuple[str, PublicKey]:
    """Return the name and the key of a verifier key; refuse any other text."""
    parts = text.split("+", 2)
    what_to_do = "copy the whole line NAME+ID+KEY"
    if len(parts) != 3:
        raise InputError("this is not a verifier key", what_to_do=what_to_do)
    name, data = parts[0], from_base64(parts[2])
    if data[:1] != _ED25519:
        raise InputError(
            "this verifier key is of another algorithm than Ed25519",
            what_to_do=what_to_do,
        )
    key = PublicKey.from_raw(data[1:])
    if vkey(name, key) != text:
        raise InputError(
            "the verifier key's id does not fit its name and key", what_to_do=what_to_do
        )
    return name, key


def vkey_parts(
    text: str, kind: bytes, unlike: str, what_to_do: str
) -> tuple[str, bytes]:
    """Return name and key bytes of a verifier key of this kind; InputError for others.

    ``unlike`` is what is said of another kind. The caller checks whether the id fits,
    with ``vkey``, after the key itself.
    """
    parts = text.split("+", 2)
    if len(parts) != 3:
        raise InputError("this is not a verifier key", what_to_do=what_to_do)
    try:
        data = from_base64(parts[2])
    except VerificationError as error:
        raise InputError(
            f"this is not a verifier key: {error.message}", what_to_do=what_to_do
        ) from error
    if data[:1] != kind:
        raise InputError(unlike, what_to_do=what_to_do)
    return parts[0], data[1:]


def check_name(name: str) -> None:
    """Raise InputError for a text that cannot name a key (C2SP signed-note)."""
    if not _NAME.fullmatch(name) or not is_shown(name):
        raise InputError(
            f"{quoted(name)} cannot name a key: it holds a space, a plus or nothing",
            what_to_do="use a name such as garage.example/log",
        )


def sign_note(text: str, name: str, key: SigningKey) -> str:
    """Return the note of ``text`` with one signature."""
    check_name(name)
    _check_text(text)
    blob = key_id(name, key.public) + key.sign(text.encode())
    return f"{text}\n\u2014 {name} {to_base64(blob)}\n"


def _check_text(text: str) -> None:
    if not text.endswith("\n") or _CONTROL.search(text):
        raise InputError(
            "a note's text ends with a line end and holds no control character"
        )


def open_note(note: str, name: str, key: PublicKey) -> str:
    """Return the text of a note; raise unless a known key signed it.

    Signatures of other keys are passed over; one that claims to be of the known key
    and does not fit refuses the note.
    """
    text, signature = _signed(note, name, key)
    key.verify(signature, text.encode(), again=True)
    return text


@lru_cache(maxsize=256)  # a shop's packets share theirs; a refusal is never kept
def _signed(note: str, name: str, key: PublicKey) -> tuple[str, bytes]:
    """Return a note's text and what is said to be its signature by a known key."""
    text, lines = split_note(note)
    known = key_id(name, key)
    found: list[bytes] = []
    for line in lines:
        who, _, blob = line.removeprefix("\u2014 ").partition(" ")
        data = from_base64(blob)
        if not line.startswith("\u2014 ") or not _NAME.fullmatch(who):
            raise VerificationError("a line below the note's text is no signature")
        if len(data) <= _ID_BYTES:
            raise VerificationError("a signature line is too short")
        if (who, data[:_ID_BYTES]) == (name, known):
            found.append(data[_ID_BYTES:])
    if not found:
        raise VerificationError(f"the note is not signed by {name} with the known key")
    if len(found) > 1:
        raise VerificationError("one key signs the note twice")
    return text, found[0]


def checkpoint_text(text: str, *, where: str) -> str:
    """Return a checkpoint's whole text; InputError for a text that is no checkpoint.

    Nothing is verified: that takes the log's key.
    """
    try:
        parse_checkpoint(text.rpartition("\n\n")[0] + "\n")
    except AuditkitError as error:
        raise InputError(
            f"this is not a checkpoint: {error.message}",
            where=where,
            what_to_do="name a file that 'auditkit checkpoint' wrote",
        ) from error
    return text


def split_note(note: str) -> tuple[str, list[str]]:
    """Return a note's signed text and signature lines; VerificationError if none."""
    text, gap, signatures = note.rpartition("\n\n")
    text += "\n"
    if not gap or not signatures.endswith("\n") or len(note.encode()) > MAX_NOTE:
        raise VerificationError("this is not a signed note")
    if _CONTROL.search(note):
        raise VerificationError("the note holds a control character")
    lines = signatures[:-1].split("\n")
    if len(lines) > MAX_SIGNATURES:
        raise VerificationError(f"the note holds more than {MAX_SIGNATURES} signatures")
    return text, lines


def format_checkpoint(checkpoint: Checkpoint) -> str:
    """Return a checkpoint's text: origin, size and root, one line each."""
    root = to_base64(checkpoint.root)
    return f"{checkpoint.origin}\n{checkpoint.size}\n{root}\n"


def parse_checkpoint(text: str) -> Checkpoint:
    """Return what a checkpoint's text says; extension lines are refused."""
    lines = text.split("\n")
    if len(lines) != 4 or lines[3] or not lines[0]:
        raise VerificationError("a checkpoint has three lines: origin, size, root")
    origin, size, root = lines[:3]
    if not _COUNT.fullmatch(size):
        raise VerificationError("the checkpoint's size is not a plain number")
    found = Checkpoint(origin, int(size), from_base64(root))
    if len(found.root) != HASH_BYTES:
        raise VerificationError("the checkpoint's root is not a SHA-256 hash")
    return found


def sign_checkpoint(checkpoint: Checkpoint, key: SigningKey) -> str:
    """Return the signed note of a checkpoint; the log's origin names its key."""
    return sign_note(format_checkpoint(checkpoint), checkpoint.origin, key)


def open_checkpoint(note: str, key: PublicKey) -> Checkpoint:
    """Return the checkpoint that ``key`` signed under the origin it states."""
    origin = note.partition("\n")[0]
    try:
        return parse_checkpoint(open_note(note, origin, key))
    except InputError as error:
        raise VerificationError(error.message) from error


def format_proof(index: int, path: Sequence[bytes], checkpoint_note: str) -> str:
    """Return an inclusion proof as text: index, path, checkpoint (tlog-proof)."""
    hashes = "".join(f"{to_base64(step)}\n" for step in path)
    return f"{PROOF_FORMAT}\nindex {index}\n{hashes}\n{checkpoint_note}"


def parse_proof(text: str) -> tuple[int, list[bytes], str]:
    """Return index, path and checkpoint note of an inclusion proof."""
    head, gap, checkpoint_note = text.partition("\n\n")
    lines = head.split("\n")
    if not gap or lines[0] != PROOF_FORMAT or len(lines) < 2:
        raise VerificationError(f"this is not {PROOF_FORMAT}")
    word, _, number = lines[1].partition(" ")
    if word != "index" or not _COUNT.fullmatch(number):
        raise VerificationError("the proof names no index")
    try:
        path = [*map(_met_step, lines[2:])]
    except AuditkitError as error:
        raise VerificationError(error.message) from error
    if len(path) > _MAX_PATH:
        raise VerificationError(_NO_PATH)
    return int(number), path, checkpoint_note


@lru_cache(maxsize=4096)  # the proofs of one packet share most of their steps
def _met_step(line: str) -> bytes:
    """Return the hash in a line of a proof; a refusal is not remembered."""
    step = from_base64(line)
    if len(step) != HASH_BYTES:
        raise VerificationError(_NO_PATH)
    return step


def to_base64(data: bytes) -> str:
    """Return standard base64 with padding (RFC 4648 section 4)."""
    return binascii.b2a_base64(data, newline=False).decode()


def from_base64(text: str) -> bytes:
    """Return the bytes of canonical standard base64; anything else is refused."""
    try:
        data = binascii.a2b_base64(text, strict_mode=True)
    except ValueError:  # for which texts differs between versions of Python
        data = None
    if data is None or to_base64(data) != text:
        raise VerificationError("this base64 text is not in its one canonical form")
    return data
