"""What a witness is asked, and how it answers (C2SP tlog-witness v1.0.0). Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.proof.note import to_base64

PLAIN = "text/plain; charset=utf-8"

SIZE = "text/x.tlog.size"


@dataclass(frozen=True, slots=True)
class WitnessAnswer:
    """An HTTP status, and its body with its media type."""

    status: int
    body: str
    media: str = PLAIN


def format_request(old: int, proof: Sequence[bytes], checkpoint_note: str) -> bytes:
    """Return the body that asks a witness for its cosignature."""
    hashes = "".join(f"{to_base64(step)}\n" for step in proof)
    return f"old {old}\n{hashes}\n{checkpoint_note}".encode()
