"""Rows of the log's file that are what was signed, each at its place in the tree.

Anyone may have altered the file. What is shown, handed out or built upon is read by
way of this: it holds, or there is one clear error.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError, LogError
from auditkit.proof import entry as entries
from auditkit.proof import note
from auditkit.proof.note import Checkpoint

if TYPE_CHECKING:
    from auditkit.log.open_log import OpenLog
    from auditkit.log.proven_rows import ProvenRow
    from auditkit.proof.entry import Payload
    from auditkit.proof.row import Row


class SoundRows:
    """Reads rows of one state of a log; make it anew once the log has grown."""

    def __init__(self, log: OpenLog) -> None:
        self._log = log
        self._tree = log.tree
        frontier = log.frontier()
        self._size, self._root = frontier.size, frontier.root()

    def read(self, row: Row) -> Payload:
        """Return what a row's entry says; raise LogError where it is not as signed."""
        return self.prove(row).payload

    def prove(self, row: Row) -> ProvenRow:
        """Return a row as it is remembered, proven first where it is not yet.

        Raises LogError where it is not as it was signed.
        """
        known = self._log.proven
        return known.find(row) or known.keep(row, self._proven(row))

    def _proven(self, row: Row) -> Payload:
        try:
            payload = entries.parse_payload(row.entry.payload)
            signer = self._log.ring.signer(payload)
            entries.verify(row.entry, signer, again=True)
        except AuditkitError as error:
            raise self._altered(row, error.message) from error
        signed = (
            payload.seq,
            payload.log,
            payload.repair_order,
            payload.event.get("kind"),
            row.entry.leaf,
        )
        held = (row.entry.seq, self._log.origin, row.repair_order, row.kind, row.leaf)
        if signed != held:
            raise self._altered(row, "it was signed for another place in the log")
        self._tree.prove_inclusion(payload.seq, self._size, self._root)
        return payload

    def _altered(self, row: Row, why: str) -> LogError:
        path = self._log.store.path
        return LogError(
            f"entry {row.entry.seq} is not as it was signed: {why}",
            where=str(path),
            what_to_do=f"run 'auditkit verify {path}', and restore it from a backup",
        )


def sound_checkpoint(log: OpenLog) -> tuple[str, Checkpoint]:
    """Return the newest checkpoint of the log's own key over these very entries."""
    path = log.store.path
    text = log.store.newest_checkpoint()
    try:
        if text is None:
            raise LogError("the log holds no checkpoint")
        found = note.open_checkpoint(text, log.log_key)
        size, _ = log.store.head()
        if found.origin != log.origin or not 0 < found.size <= size:
            raise LogError("the newest checkpoint is not of this log")
        if log.tree.root(found.size) != found.root:
            raise LogError("the newest checkpoint is of other entries than these")
    except AuditkitError as error:
        raise LogError(
            error.message,
            where=str(path),
            what_to_do=f"run 'auditkit verify {path}', and restore it from a backup",
        ) from error
    return text, found
