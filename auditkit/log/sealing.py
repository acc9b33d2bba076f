"""Sealing events one after the other within one transaction of the log."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime

from auditkit.log.store import Store
from auditkit.order.policy import Policy
from auditkit.proof import disclosure, merkle, note
from auditkit.proof import entry as entries
from auditkit.proof.entry import Payload
from auditkit.proof.keys import SigningKey
from auditkit.proof.row import Row
from auditkit.text.values import Json

Clock = Callable[[], datetime]


def stamp(moment: datetime) -> str:
    """Return a moment as RFC 3339 text in UTC, to the millisecond."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds")


def withhold(
    event: Mapping[str, Json], policy: Policy
) -> tuple[dict[str, Json], list[str]]:
    """Return the event with what the policy withholds as digests; what is kept.

    Kept are the disclosures, and what the decoys are digests of.
    """
    kind = str(event.get("kind", ""))
    paths = list(policy.paths(kind))
    inner = event.get("event")
    if kind == "amendment" and isinstance(inner, dict):
        paths += [f"event.{p}" for p in policy.paths(str(inner.get("kind", "")))]
    if not paths:
        return dict(event), []
    decoys: list[str] = []
    made, disclosures = disclosure.withhold(dict(event), paths, decoys=decoys)
    return made, [*disclosures, *decoys]


class Writer:
    """Seals events one after the other within a transaction."""

    def __init__(self, store: Store, origin: str, clock: Clock) -> None:
        self.rows: list[Row] = []
        self.checkpoint_note = ""
        self._store = store
        self._origin = origin
        self._clock = clock
        self._disclosures: list[tuple[int, str, str]] = []
        self._size = 0
        self._previous: bytes | None = None

    def start(self) -> None:
        """Read the head; call within the transaction."""
        self._size, self._previous = self._store.head()

    def add(
        self,
        order_id: str | None,
        event: Mapping[str, Json],
        by: str,
        signer: SigningKey,
        disclosures: Sequence[str] = (),
    ) -> int:
        """Seal one event; return its sequence number."""
        payload = Payload(
            by=by,
            event=dict(event),
            key=signer.public.thumbprint,
            log=self._origin,
            prev=None if self._previous is None else self._previous.hex(),
            recorded_at=stamp(self._clock()),
            repair_order=order_id,
            seq=self._size,
        )
        sealed = entries.sign(payload, signer)
        leaf = sealed.leaf
        self.rows.append(Row(sealed, leaf, order_id, str(event.get("kind", ""))))
        self._disclosures += [
            (self._size, disclosure.digest(text), text) for text in disclosures
        ]
        self._previous = leaf
        self._size += 1
        return payload.seq

    def flush(self) -> None:
        """Insert what was sealed."""
        self._store.append(self.rows)
        if self._disclosures:
            self._store.add_disclosures(self._disclosures)

    def finish(self, log_key: SigningKey) -> None:
        """Insert what was sealed, and a checkpoint over it."""
        self.flush()
        root = merkle.root(self._store.leaves())
        checkpoint = note.Checkpoint(self._origin, self._size, root)
        self.checkpoint_note = note.sign_checkpoint(checkpoint, log_key)
        self._store.add_checkpoint(self._size, self.checkpoint_note)
