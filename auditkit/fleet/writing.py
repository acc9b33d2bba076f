"""The one writer of a collection: outcomes go in by batches, each whole or not at all.

Ids are given here, in the order in which packets come, so that a run that was stopped
and goes on gives the same ones.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditkit.fleet.judging import Judged, Outcome, Refused
from auditkit.fleet.log_writing import PlacedPacket, write_logs
from auditkit.fleet.order_writing import Number, write_orders
from auditkit.fleet.stages import HeldPacket
from auditkit.fleet.tables_held import TablesHeld

if TYPE_CHECKING:
    from auditkit.fleet.rows.packet_rows import PacketRows
    from auditkit.fleet.rows.values import Row

BATCH = 1000
"""Packets in one transaction."""
Contents = Callable[[Sequence[tuple[str, bytes]]], "PacketRows | None"]
"""Paths and digests -> the rows of the first packet with the texts of all, or None."""


@dataclass(slots=True)
class Loaded:
    """What came of a batch: counts, and the rows of ``conflict`` that it brought."""

    added: int = 0
    held_before: int = 0
    conflicts: list[Row] = field(default_factory=list)
    not_merged: list[int] = field(default_factory=list)


class Writer:
    """Writes outcomes into a collection; ``load`` is one transaction."""

    def __init__(self, tables: TablesHeld, run_id: int, contents: Contents) -> None:
        self._tables = tables
        self._run_id = run_id
        self._contents = contents
        self._logs: dict[tuple[str, str], int] = {
            (origin, key): log_id
            for log_id, origin, key in tables.ask(
                "SELECT log_id, origin, key_id FROM log"
            )
        }
        self._last_packet = tables.most("packet", "packet_id")
        self._last_order = tables.most("packet", "order_id")

    def load(self, outcomes: Sequence[Outcome]) -> Loaded:
        """Write outcomes in one transaction; where it fails, nothing of it is there."""
        kept = self._last_packet, self._last_order, dict(self._logs)
        self._tables.run("BEGIN")
        try:
            loaded = self._load(outcomes)
            self._tables.run("COMMIT")
        except BaseException:
            self._tables.run("ROLLBACK")
            self._last_packet, self._last_order, self._logs = kept
            raise
        return loaded

    def _load(self, outcomes: Sequence[Outcome]) -> Loaded:
        new, refused = self._without_held(outcomes)
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
        conflicts = [*orders.conflicts, *forks]
        self._tables.add("conflict", conflicts)
        judged = sum(isinstance(one, Judged) for one in outcomes)
        return Loaded(len(new), judged - len(new), conflicts, orders.not_merged)

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
            row: Row = {
                **rows.log,
                "log_id": self._logs[name],
                "origin": rows.origin,
                "key_id": rows.key_id,
                "is_trusted": False,
                "is_forked": False,
                "largest_size": 0,
                "entries_delivered": 0,
            }
            self._tables.add("log", [row])
        return self._logs[name]

    def _together(
        self, placed: Sequence[tuple[int, int, Judged]]
    ) -> Callable[[Sequence[HeldPacket]], PacketRows | None]:
        paths = {packet_id: one.path for packet_id, _, one in placed}

        def judged(packets: Sequence[HeldPacket]) -> PacketRows | None:
            places = [
                (paths.get(p.packet_id) or self._path(p.packet_id), p.sha256)
                for p in packets
            ]
            return self._contents(places)

        return judged

    def _path(self, packet_id: int) -> str:
        asked = "SELECT path FROM packet WHERE packet_id = ?"
        ((path,),) = self._tables.ask(asked, [packet_id])
        return str(path)

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
            "key_is": "no list",
            "own_seqs": list(rows.own_seqs),
            "disclosed": list(rows.disclosed),
        }

    def _refused_row(self, one: Refused) -> Row:
        return {
            "packet_id": self._next_packet(),
            "sha256": one.file_sha256,
            "run_id": self._run_id,
            "path": one.path,
            "bytes": one.size,
            "is_verified": False,
            "refused_because": one.said,
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
