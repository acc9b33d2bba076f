"""The orders of packets, written: each judged by the packet that counts, once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditkit.fleet.rows.packet_rows import OF_ORDER
from auditkit.fleet.stages import HeldPacket, OrderPackets, orders_among
from auditkit.fleet.tables_held import TablesHeld

if TYPE_CHECKING:
    from auditkit.fleet.rows.packet_rows import PacketRows
    from auditkit.fleet.rows.values import Row

Number = tuple[int, str]
"""A log's id, and the number of an order in it."""
_JudgedBy = tuple[int, list[int]]
JudgedTogether = Callable[[Sequence[HeldPacket]], "PacketRows | None"]
"""Packets -> the rows of the first with the texts of all; None where one is gone."""
_HELD = """
    SELECT p.log_id, p.order_no, p.packet_id, p.sha256, p.order_id, p.vin,
        p.checkpoint_size, p.own_seqs, p.disclosed
    FROM packet p SEMI JOIN met USING (log_id, order_no) ORDER BY p.packet_id"""


@dataclass(slots=True)
class OrdersWritten:
    """What came of the orders of one batch.

    ``order_of`` is the order of each packet; ``conflicts`` are rows; ``not_merged``
    packets whose texts could not be put to an order, since a file is gone.
    """

    order_of: dict[int, int] = field(default_factory=dict)
    conflicts: list[Row] = field(default_factory=list)
    not_merged: list[int] = field(default_factory=list)


def write_orders(
    tables: TablesHeld,
    new: Mapping[Number, Sequence[tuple[HeldPacket, PacketRows]]],
    next_order: Callable[[], int],
    judged_together: JudgedTogether,
) -> OrdersWritten:
    """Write the orders that new packets are of, as they stand with all packets."""
    held = _held(tables, list(new))
    writing = _Writing(tables, judged_together)
    for number, added in new.items():
        packets = [*held.get(number, ()), *(packet for packet, _ in added)]
        rows = {packet.packet_id: found for packet, found in added}
        orders = orders_among(packets)
        here = writing.here(p.order_id for p in packets if p.order_id is not None)
        kept = set()
        for order in orders:
            # An order stays what it is where the packet that it was judged by went.
            own = {p.packet_id for p in order.packets}
            ids = [i for i, (packet_id, _) in here.items() if packet_id in own]
            order_id = min(ids) if ids else next_order()
            kept.add(order_id)
            writing.order(order, (*number, order_id), rows, here.get(order_id))
        writing.dropped += sorted(here.keys() - kept)
        writing.done.conflicts += _conflicts(number, orders)
    done = writing.done
    _move(tables, held, done.order_of)
    _drop_conflicts(tables, list(done.order_of))
    tables.drop_orders(("repair_order", *OF_ORDER), writing.dropped)
    for table, found in writing.rows.items():
        tables.add(table, found)
    return done


class _Writing:
    """What is to be written of a batch's orders, and which to drop first."""

    def __init__(self, tables: TablesHeld, judged_together: JudgedTogether) -> None:
        self.done = OrdersWritten()
        self.dropped: list[int] = []
        self.rows: dict[str, list[Row]] = {}
        self._tables = tables
        self._judged_together = judged_together

    def order(
        self,
        order: OrderPackets,
        place: tuple[int, str, int],
        new: Mapping[int, PacketRows],
        here: _JudgedBy | None,
    ) -> None:
        """Have an order written, unless it stands here as it should.

        ``place`` is its log, its number and its id, ``new`` are rows by packet, and
        ``here`` says by which packet it stands here already, with whose texts.
        """
        log_id, order_no, order_id = place
        self.done.order_of |= {p.packet_id: order_id for p in order.packets}
        wanted = order.current.packet_id, [one.packet_id for one in order.lenders]
        if here == wanted:
            self._mark(order_id, order)
            return
        found, packet_id, taken = self._rows_of(order, new)
        if (packet_id, taken) != wanted:
            self.done.not_merged.append(order.current.packet_id)
        if found is None or here == (packet_id, taken):
            self._mark(order_id, order)
            return
        self.dropped += [order_id] if here else []
        given: Row = {"order_id": order_id, "log_id": log_id}
        own: Row = {
            **found.order,
            **given,
            "order_no": order_no,
            "packet_id": packet_id,
            "texts_from": taken,
            "is_incomplete": bool(order.rivals),
        }
        self.rows.setdefault("repair_order", []).append(own)
        for table in OF_ORDER:
            more = [{**row, **given} for row in found.of_order[table]]
            self.rows.setdefault(table, []).extend(more)

    def here(self, order_ids: Iterable[int]) -> dict[int, _JudgedBy]:
        """Return by which packet orders stand here, with whose texts."""
        wanted = sorted(set(order_ids))
        if not wanted:
            return {}
        found = self._tables.ask(
            "SELECT order_id, packet_id, texts_from FROM repair_order "
            "WHERE order_id IN (SELECT unnest(?)) ORDER BY order_id",
            [wanted],
        )
        return {order_id: (packet_id, taken) for order_id, packet_id, taken in found}

    def _mark(self, order_id: int, order: OrderPackets) -> None:
        self._tables.run(
            "UPDATE repair_order SET is_incomplete = ? WHERE order_id = ?",
            [bool(order.rivals), order_id],
        )

    def _rows_of(
        self, order: OrderPackets, new: Mapping[int, PacketRows]
    ) -> tuple[PacketRows | None, int, list[int]]:
        """Return an order's rows, by which packet, and whose texts were put to it.

        Of packets whose files are gone the next best is taken; None where none is left.
        """
        current = order.current.packet_id
        if order.lenders:
            found = self._judged_together([order.current, *order.lenders])
            if found is not None:
                return found, current, [one.packet_id for one in order.lenders]
        for packet in (order.current, *order.packets):
            found = new.get(packet.packet_id) or self._judged_together([packet])
            if found is not None:
                return found, packet.packet_id, []
        return None, current, []


def _held(
    tables: TablesHeld, numbers: Sequence[Number]
) -> dict[Number, list[HeldPacket]]:
    """Return by number the packets that are here already."""
    met: list[Row] = [{"log_id": i, "order_no": number} for i, number in numbers]
    found: dict[Number, list[HeldPacket]] = {}
    with tables.beside("met", "packet", met):
        for (
            log_id,
            number,
            packet_id,
            digest,
            order_id,
            vin,
            size,
            own,
            told,
        ) in tables.ask(_HELD):
            packet = HeldPacket(
                packet_id,
                digest,
                order_id,
                vin,
                size,
                frozenset(own),
                frozenset(told),
            )
            found.setdefault((log_id, number), []).append(packet)
    return found


def _conflicts(number: Number, orders: Sequence[OrderPackets]) -> list[Row]:
    """Return what speaks against the packets of one number, as rows."""
    log_id, order_no = number
    made: list[Row] = [
        {
            "kind": "entries missing",
            "log_id": log_id,
            "seq": min(rival.own_seqs - order.current.own_seqs),
            "first_packet_id": order.current.packet_id,
            "second_packet_id": rival.packet_id,
            "sentence": f"of repair order {order_no} two packets each have entries "
            "that the other lacks",
        }
        for order in orders
        for rival in order.rivals
    ]
    made += [
        {
            "kind": "order number reused",
            "log_id": log_id,
            "first_packet_id": orders[0].current.packet_id,
            "second_packet_id": order.current.packet_id,
            "sentence": f"the number {order_no} stands for two repair orders, of two "
            "vehicles",
        }
        for order in orders[1:]
    ]
    return made


def _move(
    tables: TablesHeld,
    held: Mapping[Number, Sequence[HeldPacket]],
    order_of: Mapping[int, int],
) -> None:
    """Put packets and entries to the order that they turned out to be of."""
    moved = [
        [packet.packet_id, order_of[packet.packet_id]]
        for packets in held.values()
        for packet in packets
        if packet.order_id != order_of[packet.packet_id]
    ]
    for packet_id, order_id in moved:
        for table in ("packet", "event"):
            tables.run(
                f"UPDATE {table} SET order_id = ? "  # noqa: S608  own names
                "WHERE packet_id = ? AND order_id IS NOT NULL",
                [order_id, packet_id],
            )


def _drop_conflicts(tables: TablesHeld, packet_ids: Sequence[int]) -> None:
    tables.run(
        "DELETE FROM conflict WHERE kind IN ('entries missing', 'order number reused')"
        " AND (first_packet_id IN (SELECT unnest(?))"
        " OR second_packet_id IN (SELECT unnest(?)))",
        [list(packet_ids), list(packet_ids)],
    )
