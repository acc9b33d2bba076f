"""A row of the log as it lies in the file: what verification reads."""

from __future__ import annotations

from dataclasses import dataclass

from auditkit.proof.entry import Entry


@dataclass(frozen=True, slots=True)
class Row:
    """One row as it lies in the file: read, not verified.

    The columns beside the signed text serve look-ups; verification compares
    them with what was signed.
    """

    entry: Entry
    leaf: bytes
    repair_order: str | None
    kind: str
