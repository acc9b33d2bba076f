"""Showing others what the log proves: its check, and packets of its repair orders."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence

from auditkit.errors import InputError, LogError
from auditkit.log import reading, upkeep
from auditkit.log.logged_order import LoggedOrder
from auditkit.log.open_log import OpenLog
from auditkit.log.packet_maker import make_packet
from auditkit.log.verify_log import verify_store
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.check_report import CheckReport


def verify(
    log: OpenLog,
    *,
    signatures: bool = True,
    trust: str | None = None,
    expect_key: str | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> CheckReport:
    """Check the whole log; ``trust`` is the text of an earlier checkpoint."""
    return verify_store(
        log.store,
        signatures=signatures,
        trust=trust,
        expect_key=expect_key,
        progress=progress,
    )


def packet(
    log: OpenLog,
    order_id: str,
    *,
    reveal: Sequence[str] = (),
    since: Sequence[tuple[int, bytes]] = (),
    with_attachments: bool = False,
) -> str:
    """Return the packet of a closed repair order.

    ``reveal`` lists the withheld paths to disclose (``customer.name``);
    ``*`` discloses all. By default no person is disclosed. ``since`` are size and
    root of checkpoints that the reader holds, which the packet shall reach back to.
    ``with_attachments`` puts in the bytes of every picture kept and not erased;
    LogError where one is lost or altered.
    """
    shown = reading.show(log, order_id)
    if shown.verdict is None:
        raise InputError(
            f"repair order {order_id} is not closed: its last entry is no verdict",
            where=str(log.store.path),
            what_to_do="close it: 'auditkit close', or record it without --keep-open",
        )
    _refuse_erased(shown, reveal)
    lines = shown.verdict.get("statement")
    with log.store.snapshot():
        made = make_packet(
            log,
            order_id,
            [str(line) for line in lines] if isinstance(lines, list) else [],
            reveal=reveal,
            since=since,
            attachments=_kept(log, shown) if with_attachments else {},
        )
    report = verify_packet(made, expect_key=log.log_key.thumbprint)
    if not report.verified:
        first = report.problems[0]
        found = first.problem if first.seq is None else str(first)
        raise LogError(
            f"the packet would not verify: {found}",
            where=str(log.store.path),
            what_to_do=f"run 'auditkit verify {log.store.path}', and restore it from a "
            "backup",
        )
    upkeep.checkpoint(log)  # it leaves the shop within the packet
    return made


def _refuse_erased(shown: LoggedOrder, reveal: Sequence[str]) -> None:
    """Raise InputError where a text is to be disclosed that was erased."""
    texts = [text for line in shown.lines for text in line.texts]
    kept = {str(text.path) for text in texts if text.state == "withheld"}
    for text in texts:
        if text.state == "erased" and str(text.path) in {*reveal} - kept:
            raise InputError(
                f"{text.path} was erased, by entry {text.erased_by}",
                what_to_do="leave this path out",
            )


def _kept(log: OpenLog, shown: LoggedOrder) -> dict[str, bytes]:
    """Return the bytes of a repair order's pictures that are not erased."""
    found: dict[str, bytes] = {}
    for line in shown.lines:
        held = line.attachment
        if held is None or held.state in {"erased", "elsewhere"}:
            continue
        data = log.attachments.get(held.sha256) or b""
        if hashlib.sha256(data).hexdigest() != held.sha256:
            raise LogError(
                f"attachment {held.sha256} of entry {line.seq} is lost or altered",
                where=str(log.attachments.folder),
                what_to_do="put it back from a backup, or leave out --with-attachments",
            )
        found[held.sha256] = data
    return found
