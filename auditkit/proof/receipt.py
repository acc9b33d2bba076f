"""A receipt: what the customer keeps of one repair order when the vehicle goes home.

It names the verdict, the log's checkpoint and the log's key as they were at the
hand-over. A packet shown later is held against it: a shop that rewrote its log in
between is caught. A receipt is not signed and proves nothing alone.

Its text, ``auditkit/receipt@1``, is that name on a line of its own, then lines ``key:
value`` in a fixed order; ``statement`` comes once for each of its lines. A text that is
not byte for byte what would be written is refused.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from auditkit.errors import AuditkitError, InputError
from auditkit.proof import note
from auditkit.proof.check_packet import parse_packet, verify_packet
from auditkit.proof.check_report import CheckReport, LogProblem, Unmet
from auditkit.text.base64url import decode64
from auditkit.text.display_text import quoted

RECEIPT_FORMAT = "auditkit/receipt@1"
MAX_RECEIPT = 64 * 1024
_THUMBPRINT_BYTES = 32
_KEYS = (
    "repair_order",
    "statement",
    "origin",
    "checkpoint_size",
    "checkpoint_root",
    "log_key",
)
_LINE_END = re.compile(r"[ \t]*[\r\n]+[ \t]*")
_BREAKING = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


@dataclass(frozen=True, slots=True)
class Receipt:
    """What a receipt says.

    ``statement`` is the verdict's signed lines, ``root`` the checkpoint's root in
    base64 (RFC 4648 section 4) as the checkpoint writes it, ``log_key`` the thumbprint
    (RFC 7638) of the log's key in base64url.
    """

    repair_order: str
    statement: tuple[str, ...]
    origin: str
    size: int
    root: str
    log_key: str


@dataclass(frozen=True, slots=True)
class ReceiptComparison:
    """A packet compared with a receipt: where the two do not agree."""

    problems: tuple[LogProblem, ...]

    @property
    def agreement(self) -> str | None:
        """Return in words what agrees, None where something does not."""
        if self.problems:
            return None
        return (
            "the receipt agrees: order, statement, log and log key; the log only grew "
            "since it was handed over"
        )


def format_receipt(receipt: Receipt) -> str:
    """Return a receipt's text; raise InputError where it could not be read back."""
    _check(receipt)
    pairs = [
        ("repair_order", receipt.repair_order),
        *(("statement", line) for line in receipt.statement),
        ("origin", receipt.origin),
        ("checkpoint_size", str(receipt.size)),
        ("checkpoint_root", receipt.root),
        ("log_key", receipt.log_key),
    ]
    text = f"{RECEIPT_FORMAT}\n" + "".join(f"{key}: {said}\n" for key, said in pairs)
    if len(text.encode()) > MAX_RECEIPT:
        raise InputError(
            f"a receipt is at most {MAX_RECEIPT} bytes long",
            what_to_do="hand over the packet instead",
        )
    return text


def is_receipt(text: str) -> bool:
    """Return whether a text says that it is a receipt, of any version."""
    return text.lstrip("\ufeff \t\r\n").startswith("auditkit/receipt@")


def with_line_ends(text: str) -> str:
    """Return a receipt's text with its lines as they were before it was copied.

    Copying and scanning lose line ends, turn them into spaces, or wrap long lines. A
    sound text, or one that this cannot restore, is returned as it is.
    """
    try:
        parse_receipt(text)
    except InputError:
        return _joined_anew(text)
    return text


def _joined_anew(text: str) -> str:
    rest = text.strip("\ufeff \t\r\n").removeprefix(RECEIPT_FORMAT)
    values: list[tuple[str, str]] = []
    for key in reversed(_KEYS[2:]):  # what comes after the statement, from the end
        rest, mark, said = rest.rpartition(f"{key}: ")
        if not mark:
            return text
        values.append((key, said))
    first, *statement = rest.split("statement: ")
    _, mark, order = first.rpartition("repair_order: ")
    if not mark:
        return text
    values += [("statement", line) for line in reversed(statement)]
    values.append(("repair_order", order))
    lines = [f"{key}: {_LINE_END.sub(' ', said).rstrip()}" for key, said in values]
    return "\n".join([RECEIPT_FORMAT, *reversed(lines), ""])


def parse_receipt(text: str, *, where: str = "") -> Receipt:
    """Return what a receipt's text says; raise InputError where it is no receipt."""
    try:
        receipt = _parsed(text)
        written = format_receipt(receipt)
    except AuditkitError as error:
        raise InputError(
            error.message,
            where=where,
            what_to_do="use the receipt's text as it was handed over",
        ) from error
    if written != text:
        raise InputError(
            "this is not byte for byte what a receipt of this content is",
            where=where,
            what_to_do="use the receipt's text as it was handed over",
        )
    return receipt


def _parsed(text: str) -> Receipt:
    if len(text) > MAX_RECEIPT or not text.startswith(f"{RECEIPT_FORMAT}\n"):
        raise InputError(f"this is not {RECEIPT_FORMAT}")
    found: dict[str, list[str]] = {key: [] for key in _KEYS}
    for number, line in enumerate(text.removesuffix("\n").split("\n")[1:], start=2):
        key, colon, said = line.partition(": ")
        if not colon or key not in found:
            raise InputError(
                f"line {number} of the receipt is none of {', '.join(_KEYS)}"
            )
        found[key].append(said)
    for key, values in found.items():
        if not values or (len(values) > 1 and key != "statement"):
            raise InputError(f"the receipt says {key} {len(values)} times")
    size = found["checkpoint_size"][0]
    if not (size.isascii() and size.isdigit()) or len(size) > 16:
        raise InputError("the receipt's checkpoint_size is not a plain number")
    return Receipt(
        repair_order=found["repair_order"][0],
        statement=tuple(found["statement"]),
        origin=found["origin"][0],
        size=int(size),
        root=found["checkpoint_root"][0],
        log_key=found["log_key"][0],
    )


def _check(receipt: Receipt) -> None:
    lines = (receipt.repair_order, receipt.origin, *receipt.statement)
    if any(map(_BREAKING.search, lines)):
        raise InputError(
            "a line of the receipt holds a line end or a control character",
            what_to_do="hand over the packet instead",
        )
    if not (receipt.repair_order and receipt.origin and receipt.statement):
        raise InputError("a receipt names a repair order, a statement and a log")
    text = f"{receipt.origin}\n{receipt.size}\n{receipt.root}\n"
    if note.parse_checkpoint(text).size == 0:
        raise InputError("the receipt's checkpoint holds no entry")
    if len(decode64(receipt.log_key)) != _THUMBPRINT_BYTES:
        raise InputError("the receipt's log_key is not a fingerprint of a key")


def receipt_of(packet_text: str | bytes, *, where: str = "") -> Receipt:
    """Return the receipt of a packet; raise VerificationError where it does not hold.

    Raises InputError where the text is no packet or its statement fits no receipt.
    """
    report = verify_packet(packet_text, where=where)
    report.must_hold(
        where=where,
        what_to_do="see 'auditkit verify'; do not hand out a receipt of it",
    )
    receipt = _said(report)
    format_receipt(receipt)
    return receipt


def compare_with_receipt(
    packet_text: str | bytes, receipt_text: str, *, report: CheckReport | None = None
) -> ReceiptComparison:
    """Compare a packet with a receipt; errors as of ``receipt_of``, ``parse_receipt``.

    ``report`` is what ``verify_packet`` returned of that packet, where the caller has
    it already; it has to hold.

    A packet of a later checkpoint agrees where it carries the consistency proof (RFC
    9162 section 2.1.4) that its checkpoint extends the receipt's.
    """
    given = parse_receipt(receipt_text, where="the receipt")
    now = _verified(packet_text, report)
    is_other_order = given.repair_order != now.repair_order
    found = [
        LogProblem(
            None,
            f"the {what} differs: the receipt says {quoted(old)}, the packet "
            f"{quoted(new)}",
            unmet,
        )
        for what, old, new, unmet in (
            ("repair order", given.repair_order, now.repair_order, Unmet.ORDER),
            ("log", given.origin, now.origin, None),
            ("log's key", given.log_key, now.log_key, None),
        )
        if old != new
    ]
    if given.statement != now.statement:
        text = _statement(given.statement, now.statement)
        found.append(LogProblem(None, text, Unmet.ORDER if is_other_order else None))
    if now.size < given.size:
        text = (
            f"the packet's checkpoint, of size {now.size}, is earlier than the "
            f"receipt's, of size {given.size}"
        )
        found.append(LogProblem(None, text, Unmet.OLDER))
    elif now.size == given.size and now.root != given.root:
        text = (
            f"the checkpoints of size {now.size} have different roots: the log was "
            "forked or the receipt altered"
        )
        found.append(LogProblem(None, text))
    elif now.size > given.size:
        earlier = {
            old.size: note.to_base64(old.root)
            for old in parse_packet(packet_text).earlier
        }
        if given.size not in earlier:
            text = (
                f"the packet's checkpoint, of size {now.size}, does not reach back to "
                f"the receipt's, of size {given.size}: it does not show that the log "
                "only grew since"
            )
            found.append(LogProblem(None, text, Unmet.REACH))
        elif earlier[given.size] != given.root:
            text = (
                f"the log's first {given.size} entries had another root: the log was "
                "written anew or the receipt altered"
            )
            found.append(LogProblem(None, text))
    return ReceiptComparison(tuple(found))


def _verified(packet_text: str | bytes, report: CheckReport | None) -> Receipt:
    """Return what a packet says; verify it now where that was not done before."""
    if report is None:
        return receipt_of(packet_text, where="the packet")
    report.must_hold(where="the packet", what_to_do="see 'auditkit verify'")
    return _said(report)


def _said(report: CheckReport) -> Receipt:
    """Return a receipt's content for a packet that verifies, whether or not it fits."""
    if report.checkpoint is None or report.repair_order is None:
        raise InputError(
            "a receipt is of a packet",
            what_to_do="name the packet of that repair order",
        )
    return Receipt(
        repair_order=report.repair_order,
        statement=report.statement,
        origin=report.checkpoint.origin,
        size=report.checkpoint.size,
        root=note.to_base64(report.checkpoint.root),
        log_key=report.log_key,
    )


def _statement(old: tuple[str, ...], new: tuple[str, ...]) -> str:
    place = next(
        (i for i, pair in enumerate(zip(old, new, strict=False)) if pair[0] != pair[1]),
        min(len(old), len(new)),
    )
    said, says = (
        quoted(lines[place]) if place < len(lines) else "no such line"
        for lines in (old, new)
    )
    return (
        f"the verdict's statement differs at its line {place + 1}: the receipt says "
        f"{said}, the packet {says}"
    )
