"""Sealing events one after the other within one transaction of the log."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime

from auditkit.log.check_pointers import Made
from auditkit.log.store import Store
from auditkit.order.policy import Policy
from auditkit.proof import disclosure, note
from auditkit.proof import entry as entries
from auditkit.proof.disclosure import Sealed
from auditkit.proof.entry import Payload
from auditkit.proof.keys import SigningKey
from auditkit.proof.merkle import Frontier
from auditkit.proof.row import Row
from auditkit.text.values import Json

Clock = Callable[[], datetime]


def stamp(moment: datetime) -> str:
    """Return a moment as RFC 3339 text in UTC, to the millisecond."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds")


def withhold(event: Mapping[str, Json], policy: Policy) -> Sealed:
    """Return the event with digests for what the policy withholds, and what is kept."""
    kind = str(event.get("kind", ""))
    paths = list(policy.paths(kind))
    inner = event.get("event")
    if kind == "amendment" and isinstance(inner, dict):
        paths += [f"event.{p}" for p in policy.paths(str(inner.get("kind", "")))]
    if not paths:
        return Sealed(dict(event), (), (), ())
    return disclosure.withhold(event, paths)


class Writer:
    """Seals events one after the other within a transaction.

    ``tree`` is the tree so far, which is not changed: see ``KeptTree.frontier``. The
    attribute has what was sealed too, to be kept once that is committed. ``form`` is
    the id of the form that the entries come from.
    """

    def __init__(self, store: Store, origin: str, clock: Clock, tree: Frontier) -> None:
        self.rows: list[Row] = []
        self.checkpoint_note = ""
        self._store = store
        self._origin = origin
        self._clock = clock
        self._disclosures: list[tuple[int, str, str]] = []
        self._nodes: list[tuple[int, bytes]] = []
        self._pointers = Made()
        self.tree = tree.copy()
        self.form: str | None = None

    def add(
        self,
        order_id: str | None,
        event: Mapping[str, Json],
        by: str,
        signer: SigningKey,
    ) -> int:
        """Seal one event that withholds nothing; return its sequence number."""
        return self.add_sealed(order_id, Sealed(dict(event), (), (), ()), by, signer)

    def add_sealed(
        self, order_id: str | None, given: Sealed, by: str, signer: SigningKey
    ) -> int:
        """Seal one event with digests in it; return its sequence number."""
        payload = Payload(
            by=by,
            event=given.event,
            key=signer.public.thumbprint,
            log=self._origin,
            prev=None if self.tree.last is None else self.tree.last.hex(),
            recorded_at=stamp(self._clock()),
            repair_order=order_id,
            root=self.tree.root().hex(),
            seq=self.tree.size,
            withheld=given.withheld,
            form=self.form,
        )
        sealed, leaf = entries.seal(payload, signer)
        self.rows.append(Row(sealed, leaf, order_id, str(given.event["kind"])))
        self._disclosures += [
            (payload.seq, disclosure.digest(text), text)
            for text in (*given.disclosures, *given.decoys)
        ]
        self.tree.append(leaf, self._nodes)
        self._pointers.take(payload)
        return payload.seq

    def flush(self) -> None:
        """Insert what was sealed."""
        self._store.append(self.rows)
        if self._disclosures:
            self._store.add_disclosures(self._disclosures)
        made = self._pointers
        self._store.pointers.add(self._nodes, made.orders.values(), made.marks)

    def finish(self, log_key: SigningKey) -> None:
        """Insert what was sealed, and a checkpoint over it."""
        self.flush()
        checkpoint = note.Checkpoint(self._origin, self.tree.size, self.tree.root())
        self.checkpoint_note = note.sign_checkpoint(checkpoint, log_key)
        self._store.add_checkpoint(self.tree.size, self.checkpoint_note)
