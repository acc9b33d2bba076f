"""What packets show of their logs, written: entries, people, the tree, and forks."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from auditkit.fleet.tables_held import TablesHeld
from auditkit.proof.fork import Fork

if TYPE_CHECKING:
    from auditkit.fleet.rows.packet_rows import PacketRows
    from auditkit.fleet.rows.values import Row

_FORK = """
    SELECT n.log_id, n.packet_id, s.packet_id, n.first, n.entries
    FROM told n JOIN stretch s USING (log_id, first, entries) WHERE n.hash <> s.hash
    ORDER BY n.packet_id, n.entries, n.first"""


@dataclass(frozen=True, slots=True)
class PlacedPacket:
    """A packet with the ids that it got."""

    packet_id: int
    log_id: int
    order_id: int
    rows: PacketRows


def write_logs(tables: TablesHeld, packets: Sequence[PlacedPacket]) -> list[Row]:
    """Write what packets show of their logs; return the forks that are found."""
    _add_people(tables, packets)
    more = _add_events(tables, packets)
    forks = _add_stretches(tables, packets)
    sizes: dict[int, int] = {}
    for one in packets:
        sizes[one.log_id] = max(sizes.get(one.log_id, 0), one.rows.checkpoint_size)
    met: list[Row] = [
        {
            "log_id": log_id,
            "largest_size": size,
            "entries_delivered": more.get(log_id, 0),
        }
        for log_id, size in sizes.items()
    ]
    with tables.beside("met", "log", met):
        tables.run(
            "UPDATE log SET largest_size = greatest(log.largest_size, "
            "met.largest_size), entries_delivered = log.entries_delivered + "
            "met.entries_delivered FROM met WHERE log.log_id = met.log_id"
        )
    for log_id in sorted({int(str(fork["log_id"])) for fork in forks}):
        tables.run("UPDATE log SET is_forked = true WHERE log_id = ?", [log_id])
    return forks


def _add_people(tables: TablesHeld, packets: Sequence[PlacedPacket]) -> None:
    people: dict[tuple[int, str], dict[str, Any]] = {}
    for packet in packets:
        for person in packet.rows.people:
            row = {"log_id": packet.log_id, **person}
            known = people.setdefault((packet.log_id, str(person["key_id"])), row)
            if person["revoked_seq"] is not None:
                known["revoked_seq"] = person["revoked_seq"]
    with tables.beside("met", "person", list(people.values())):
        tables.run(
            "UPDATE person SET revoked_seq = met.revoked_seq FROM met "
            "WHERE person.log_id = met.log_id AND person.key_id = met.key_id "
            "AND met.revoked_seq IS NOT NULL"
        )
        tables.run(
            "INSERT INTO person SELECT met.* FROM met "
            "ANTI JOIN person USING (log_id, key_id)"
        )


def _add_events(tables: TablesHeld, packets: Sequence[PlacedPacket]) -> dict[int, int]:
    """Add entries that are not here yet; return how many places of each log are new."""
    met: dict[tuple[int, int, bytes], Row] = {}
    for packet in packets:
        for event in packet.rows.events:
            key = (packet.log_id, event["seq"], event["leaf"])
            if key not in met:
                order_id = packet.order_id if event["is_own"] else None
                met[key] = {
                    **event,
                    "log_id": packet.log_id,
                    "order_id": order_id,
                    "packet_id": packet.packet_id,
                }
    with tables.beside("met", "event", list(met.values())):
        known = tables.ask(
            "SELECT log_id, seq, leaf FROM event "
            "SEMI JOIN (SELECT DISTINCT log_id, seq FROM met) USING (log_id, seq)"
        )
    here = {(log_id, seq) for log_id, seq, _ in known}
    tables.add("event", [row for key, row in met.items() if key not in set(known)])
    new = {(log_id, seq) for log_id, seq, _ in met} - here
    more: dict[int, int] = {}
    for log_id, _ in new:
        more[log_id] = more.get(log_id, 0) + 1
    return more


def _add_stretches(tables: TablesHeld, packets: Iterable[PlacedPacket]) -> list[Row]:
    """Add the stretches that packets name; return where two differ in one, as rows.

    For each packet one row: the shortest stretch that it and another name differently.
    """
    told: dict[tuple[int, int, int], Row] = {}
    apart: list[tuple[int, int, int, int, int]] = []
    logs = {}
    for packet in packets:
        logs[packet.log_id] = packet.rows
        for (first, entries), digest in packet.rows.spans.items():
            key = (packet.log_id, first, entries)
            row: Row = {
                "log_id": packet.log_id,
                "first": first,
                "entries": entries,
                "hash": digest,
                "packet_id": packet.packet_id,
            }
            known = told.setdefault(key, row)
            if known["hash"] != digest:
                other = int(str(known["packet_id"]))
                apart.append((packet.log_id, packet.packet_id, other, first, entries))
    with tables.beside("told", "stretch", list(told.values())):
        apart += tables.ask(_FORK)
        tables.run(
            "INSERT INTO stretch SELECT told.* FROM told "
            "ANTI JOIN stretch USING (log_id, first, entries)"
        )
    apart.sort(key=lambda one: (one[1], one[4], one[3], one[2]))
    shortest: dict[int, Row] = {}
    for log_id, second, first_packet, first, entries in apart:
        log = logs[log_id]
        said = Fork(log.origin, log.key_id, first, entries, ("", ""))
        row = {
            "kind": "fork",
            "log_id": log_id,
            "seq": first,
            "first_packet_id": first_packet,
            "second_packet_id": second,
            "sentence": str(said),
        }
        shortest.setdefault(second, row)
    return list(shortest.values())


def share_keys(tables: TablesHeld, keys: Collection[str]) -> None:
    """Write which logs are signed by one log key, and are not said to be one.

    A log that continues another (its first entry names it) may keep its key.
    """
    for key in sorted(keys):
        logs = tables.ask(
            "SELECT log_id, origin, predecessor FROM log WHERE key_id = ? "
            "ORDER BY log_id",
            [key],
        )
        tables.run(
            "DELETE FROM conflict WHERE kind = 'shared key' AND log_id IN "
            "(SELECT log_id FROM log WHERE key_id = ?)",
            [key],
        )
        first, *others = unlinked(logs)
        for log_id in others:
            tables.run(
                "INSERT INTO conflict SELECT 'shared key', ?, NULL, "
                "min(packet_id) FILTER (log_id = ?), "
                "min(packet_id) FILTER (log_id = ?), "
                "'two logs of different names are signed by one log key' FROM packet",
                [log_id, first, log_id],
            )


def unlinked(logs: Sequence[tuple[int, str, str | None]]) -> list[int]:
    """Return the first log of each chain of logs that continue each other.

    ``logs`` are id, origin and the origin of the log that it says it continues.
    """
    chains: list[tuple[int, set[str]]] = []
    for log_id, origin, before in logs:
        names = {origin, before} if before else {origin}
        met = [one for one in chains if one[1] & names]
        for one in met:
            chains.remove(one)
            names |= one[1]
        chains.append((min([log_id, *(first for first, _ in met)]), names))
    return sorted(first for first, _ in chains)
