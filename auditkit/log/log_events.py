"""The log's own events as they are written: who may sign, what ended, what was said.

Each is signed by the log's key. Each is checked against its schema here: what is
written must be readable, whatever text a person gave.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from auditkit.errors import InputError
from auditkit.order.event_kinds import OWN_KINDS
from auditkit.order.schema import validate_event
from auditkit.proof.attestation import attestation_event
from auditkit.proof.entry import LOG_SIGNER
from auditkit.proof.keys import PublicKey
from auditkit.proof.role import Role
from auditkit.text.values import Json


def opening(
    at: str,
    *,
    origin: str,
    shop: str,
    log_key: PublicKey,
    predecessor: Mapping[str, Json] | None = None,
) -> dict[str, Json]:
    """Return the event that opens a log, perhaps one that continues another."""
    more: dict[str, Json] = {}
    if predecessor is not None:
        more["predecessor"] = dict(predecessor)
    return _event("log_opened", at, origin=origin, shop=shop, log_key=log_key.x, **more)


def enrolment(at: str, *, person: str, key: PublicKey, role: Role) -> dict[str, Json]:
    """Return the event that enrols a person's key in a role."""
    return _event("person_enrolled", at, person=person, key=key.x, role=str(role))


def revocation(at: str, *, person: str, key: PublicKey, reason: str) -> dict[str, Json]:
    """Return the event after which a person's key signs nothing."""
    return _event("key_revoked", at, person=person, key=key.thumbprint, reason=reason)


def erasure(
    at: str,
    *,
    order_id: str,
    texts: Iterable[tuple[int, str, str]] = (),
    attachments: Iterable[str] = (),
    reason: str,
) -> dict[str, Json]:
    """Return the event that says what of a repair order was erased.

    ``texts`` are (entry, path, digest) each, ``attachments`` their SHA-256 in hex.
    """
    listed: list[Json] = [
        {"seq": seq, "path": path, "digest": digest} for seq, path, digest in texts
    ]
    files: list[Json] = [*attachments]
    given = {"texts": listed, "attachments": files}
    more: dict[str, Json] = {name: items for name, items in given.items() if items}
    return _event("text_erased", at, repair_order=order_id, reason=reason, **more)


def attestation(at: str, text: str, token: bytes | None) -> dict[str, Json]:
    """Return the event that keeps what outsiders said of a checkpoint."""
    said = attestation_event(text, token)
    kind = str(said.pop("kind"))
    return _event(kind, at, **said)


def closing(
    at: str, *, successor: str, log_key: PublicKey, reason: str
) -> dict[str, Json]:
    """Return the event after which nothing follows in a log."""
    return _event(
        "log_closed", at, successor=successor, log_key=log_key.x, reason=reason
    )


def _event(kind: str, at: str, **members: Json) -> dict[str, Json]:
    event: dict[str, Json] = {"kind": kind, "at": at, "by": LOG_SIGNER, **members}
    if event.get("person") == LOG_SIGNER:
        raise InputError(
            f"a person may not be called {LOG_SIGNER!r}", what_to_do="choose another id"
        )
    for problem in validate_event(event, OWN_KINDS):
        raise InputError(
            problem.message, where=problem.pointer, what_to_do=problem.what_to_do
        )
    return event
