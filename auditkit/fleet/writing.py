"""The one writer of a collection: outcomes go in by batches, each whole or not at all.

Ids are given here, in the order in which packets come, so that a run that was stopped
and goes on gives the same ones.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from auditkit.fleet.judging import Judged, Outcome, Refused, judged_together
from auditkit.fleet.log_writing import PlacedPacket, share_keys, write_logs
from auditkit.fleet.order_writing import Number, write_orders
from auditkit.fleet.stages import HeldPacket
from auditkit.fleet.tables_held import TablesHeld

if TYPE_CHECKING:
    from auditkit.fleet.rows.packet_rows import PacketRows
    from auditkit.fleet.rows.values import Row
    from auditkit.fleet.terms import Terms

BATCH = 1000
"""Packets in one transaction."""
PacketAgain = Callable[[str, bytes], bytes | None]
"""A path and a digest -> the packet that lay there; None where it is gone."""


@dataclass(slots=True)
class Loaded:
    """What came of a batch; ``not_merged`` are the paths of packets.

    Their orders lack texts that another packet disclosed whose file is gone.
    """

    added: int = 0
    held_before: int = 0
    not_merged: list[str] = field(default_factory=list)


class Writer:
    """Writes outcomes into a collection; ``load`` is one transaction."""

    def __init__(
        self, tables: TablesHeld, run_id: int, terms: Terms, again: PacketAgain
    ) -> None:
        self._tables = tables
        self._run_id = run_id
        self._terms = terms
        self._again = again
        self._logs: dict[tuple[str, str], int] = {
            (origin, key): log_id
            for log_id, origin, key in tables.ask(
                "SELECT log_id, origin, key_id FROM log"
            )
        }
        self._last_packet = tables.most("packet", "packet_id")
        self._last_order = tables.most("packet", "order_id")
        self._keep_proofs()  # a run that was stopped may have found a fork

    def load(self, outcomes: Sequence[Outcome]) -> Loaded:
        """Write outcomes in one transaction; where it fails, nothing of it is there."""
        kept = self._last_packet, self._last_order, dict(self._logs)
        self._tables.run("BEGIN")
        try:
            loaded, has_forks = self._load(outcomes)
            self._tables.run("COMMIT")
        except BaseException:
            self._tables.run("ROLLBACK")
            self._last_packet, self._last_order, self._logs = kept
            raise
        if has_forks:
            self._keep_proofs()
        return loaded

    def _load(self, outcomes: Sequence[Outcome]) -> tuple[Loaded, bool]:
        """Return what came of outcomes, and whether they show a fork."""
        new, refused = self._without_held(outcomes)
        if self._terms.pseudonyms is not None:
            hidden = self._terms.pseudonyms.of
            new = [replace(one, rows=hidden(one.rows)) for one in new]
        known = set(self._logs)
        placed = [(self._next_packet(), self._log_of(one.rows), one) for one in new]
        by_number: dict[Number, list[tuple[HeldPacket, PacketRows]]] = {}
        for packet_id, log_id, one in placed:
            held = _held(packet_id, one)
            number = (log_id, one.rows.order_no)
            by_number.setdefault(number, []).append((held, one.rows))
        orders = write_orders(
            self._tables, by_number, self._next_order, self._together(placed)
        )
        rows = [
            self._packet_row(packet_id, log_id, orders.order_of[packet_id], one)
            for packet_id, log_id, one in placed
        ]
        rows += [self._refused_row(one) for one in refused]
        self._tables.add("packet", rows)
        forks = write_logs(
            self._tables,
            [
                PlacedPacket(packet_id, log_id, orders.order_of[packet_id], one.rows)
                for packet_id, log_id, one in placed
            ],
        )
        self._tables.add("conflict", [*orders.conflicts, *forks])
        many = Counter(key for _, key in self._logs)
        new_keys = {key for _, key in set(self._logs) - known}
        share_keys(self._tables, {key for key in new_keys if many[key] > 1})
        judged = sum(isinstance(one, Judged) for one in outcomes)
        gone = [self._place(packet_id)[0] for packet_id in orders.not_merged]
        return Loaded(len(new), judged - len(new), gone), bool(forks)

    def _keep_proofs(self) -> None:
        """Keep the first two packets that prove a log's fork whole, for good.

        Each by itself, since they may be long. Not under pseudonyms: a packet names
        its vehicle.
        """
        if self._terms.pseudonyms is not None:
            return
        missing = self._tables.ask(
            "SELECT packet_id FROM (SELECT unnest([min_by(first_packet_id, rowid), "
            "min_by(second_packet_id, rowid)]) AS packet_id FROM conflict "
            "WHERE kind = 'fork' GROUP BY log_id) ANTI JOIN kept_packet "
            "USING (packet_id) ORDER BY packet_id"
        )
        for (packet_id,) in missing:
            content = self._again(*self._place(packet_id))
            if content is not None:
                proof: Row = {"packet_id": packet_id, "content": content}
                self._tables.add("kept_packet", [proof])

    def _without_held(
        self, outcomes: Sequence[Outcome]
    ) -> tuple[list[Judged], list[Refused]]:
        """Return what is not here yet; note in what else the packets lay."""
        met: list[Row] = [{"sha256": _digest(one)} for one in outcomes]
        with self._tables.beside("met", "packet", met):
            held = {
                digest
                for (digest,) in self._tables.ask(
                    "SELECT sha256 FROM packet SEMI JOIN met USING (sha256)"
                )
            }
        new: list[Judged] = []
        refused: list[Refused] = []
        wrapped: dict[bytes, Row] = {}
        for one in outcomes:
            digest = _digest(one)
            if digest != one.file_sha256:
                row = {"sha256": one.file_sha256, "packet_sha256": digest}
                wrapped[one.file_sha256] = {**row, "path": one.path}
            if digest and digest not in held:
                held.add(digest)
                if isinstance(one, Judged):
                    new.append(one)
                else:
                    refused.append(one)
        self._tables.add("wrapping", list(wrapped.values()))
        return new, refused

    def _log_of(self, rows: PacketRows) -> int:
        """Return the id of a packet's log; one that is new is written."""
        name = (rows.origin, rows.key_id)
        if name not in self._logs:
            self._logs[name] = len(self._logs) + 1
            listed = self._terms.keys.keys.get(rows.key_id)
            row: Row = {
                **rows.log,
                "shop": listed.shop if listed else None,
                "log_id": self._logs[name],
                "origin": rows.origin,
                "key_id": rows.key_id,
                "is_trusted": listed is not None,
                "is_forked": False,
                "largest_size": 0,
                "entries_delivered": 0,
            }
            self._tables.add("log", [row])
        return self._logs[name]

    def _together(
        self, placed: Sequence[tuple[int, int, Judged]]
    ) -> Callable[[Sequence[HeldPacket]], PacketRows | None]:
        new = {packet_id: (one.path, one.sha256) for packet_id, _, one in placed}

        def judged(packets: Sequence[HeldPacket]) -> PacketRows | None:
            places = (new.get(p.packet_id) or self._place(p.packet_id) for p in packets)
            contents = [self._again(*place) for place in places]
            here = [content for content in contents if content is not None]
            if len(here) < len(contents):
                return None
            rows = judged_together(here, self._terms.policy)
            hidden = self._terms.pseudonyms
            return hidden.of(rows) if hidden is not None and rows is not None else rows

        return judged

    def _place(self, packet_id: int) -> tuple[str, bytes]:
        """Return where a packet was seen last, and its digest."""
        asked = "SELECT path, sha256 FROM packet WHERE packet_id = ?"
        ((path, digest),) = self._tables.ask(asked, [packet_id])
        return str(path), bytes(digest)

    def _next_packet(self) -> int:
        self._last_packet += 1
        return self._last_packet

    def _next_order(self) -> int:
        self._last_order += 1
        return self._last_order

    def _packet_row(
        self, packet_id: int, log_id: int, order_id: int, one: Judged
    ) -> Row:
        rows = one.rows
        return {
            **rows.packet,
            "packet_id": packet_id,
            "sha256": one.sha256,
            "run_id": self._run_id,
            "path": one.path,
            "bytes": one.size,
            "log_id": log_id,
            "order_id": order_id,
            "order_no": rows.order_no,
            "checkpoint_size": rows.checkpoint_size,
            "checkpoint_root": rows.checkpoint_root,
            "is_verified": True,
            "vin": rows.vin,
            "key_is": self._terms.keys.state(
                rows.key_id, rows.packet.get("last_recorded")
            ),
            "own_seqs": list(rows.own_seqs),
            "disclosed": list(rows.disclosed),
        }

    def _refused_row(self, one: Refused) -> Row:
        hidden = self._terms.pseudonyms
        return {
            "packet_id": self._next_packet(),
            "sha256": one.file_sha256,
            "run_id": self._run_id,
            "path": one.path,
            "bytes": one.size,
            "is_verified": False,
            "refused_because": hidden.without_vins(one.said) if hidden else one.said,
        }


def _digest(one: Outcome) -> bytes:
    """Return by what an outcome is held; empty for what is no packet."""
    return one.sha256 if isinstance(one, Judged) else one.file_sha256


def _held(packet_id: int, one: Judged) -> HeldPacket:
    rows = one.rows
    return HeldPacket(
        packet_id,
        one.sha256,
        None,
        rows.vin,
        rows.checkpoint_size,
        frozenset(rows.own_seqs),
        frozenset(rows.disclosed),
    )
