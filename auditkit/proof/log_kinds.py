"""The kinds of event that are the log's own, signed by its key."""

from __future__ import annotations

LOG_KINDS = frozenset(
    {
        "attestation",
        "key_revoked",
        "log_closed",
        "log_opened",
        "person_enrolled",
        "text_erased",
    }
)
