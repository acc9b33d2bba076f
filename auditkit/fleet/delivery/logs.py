"""Each log of the collection: how much of it is here, and what is not.

How much is the entries that are here out of the largest size that a checkpoint of the
log states. Where the rest lies is known; what it holds is not.
Pure but for ``ask``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from auditkit.fleet.part import Ask
from auditkit.fleet.phrases import by_name

_LOGS = """SELECT s.shop, s.log_id, s.origin, coalesce(l.entries_delivered, 0),
        coalesce(l.largest_size, 0), l.is_forked, l.is_trusted, s.is_counted,
        s.is_compared, l.opened_at, l.predecessor,
        (SELECT max(recorded_at) FROM event e WHERE e.log_id = l.log_id),
        (SELECT count(*) FROM repair_order o WHERE o.log_id = l.log_id),
        CASE WHEN l.shop IS NULL AND s.origin = l.origin THEN l.shop_claimed END
    FROM shop_log s JOIN log l USING (log_id) ORDER BY s.shop, s.log_id"""
_MISSING = """WITH bounds AS (
        SELECT DISTINCT log_id, seq FROM event
        UNION ALL SELECT log_id, -1 FROM log
        UNION ALL SELECT log_id, coalesce(largest_size, 0) FROM log),
    gaps AS (
        SELECT log_id, seq + 1 AS first,
            lead(seq) OVER (PARTITION BY log_id ORDER BY seq) - 1 AS last
        FROM bounds)
    SELECT log_id, first, last FROM gaps WHERE last >= first
    ORDER BY log_id, last - first DESC, first"""
_RANGES_SHOWN = 5


@dataclass(frozen=True, slots=True)
class LogHere:
    """A log: ``here`` of ``size`` entries, and the stretches that are missing.

    ``claimed`` is the name that it gives its shop, where the reader has none for it.
    """

    shop: str
    log_id: int
    origin: str
    here: int
    size: int
    is_forked: bool
    is_trusted: bool
    is_counted: bool
    is_compared: bool
    opened_at: datetime | None
    predecessor: str | None
    last_recorded: datetime | None
    orders: int
    claimed: str | None
    missing: tuple[tuple[int, int], ...] = ()

    @property
    def coverage(self) -> float:
        """The share of its entries that is here; all, of a log without any."""
        return min(1.0, self.here / self.size) if self.size else 1.0

    @property
    def stretches(self) -> str:
        """The missing stretches, the longest first: "15 to 22, 40"."""
        told = [
            f"{first:,}" if first == last else f"{first:,} to {last:,}"
            for first, last in self.missing[:_RANGES_SHOWN]
        ]
        more = len(self.missing) - len(told)
        return ", ".join(told) + (f" and {more:,} more" if more else "")


@dataclass(frozen=True, slots=True)
class ShopHere:
    """All logs of a shop that count, together; at least one."""

    logs: tuple[LogHere, ...]

    @property
    def here(self) -> int:
        """How many of its entries are here."""
        return sum(log.here for log in self.logs)

    @property
    def size(self) -> int:
        """How many entries its logs have."""
        return sum(log.size for log in self.logs)

    @property
    def calls_itself(self) -> str:
        """What its logs call the shop, where the reader's list does not: its word."""
        return ", ".join(dict.fromkeys(log.claimed for log in self.logs if log.claimed))

    @property
    def lacks_much(self) -> bool:
        """Whether too little of it is here to hold it against others."""
        return self.size > 0 and not self.logs[0].is_compared


def read_logs(ask: Ask) -> list[LogHere]:
    """Return every log, those that do not count too, by the names of their shops."""
    missing: dict[int, list[tuple[int, int]]] = {}
    for log_id, first, last in ask(_MISSING):
        missing.setdefault(log_id, []).append((first, last))
    found = [
        replace(LogHere(*row), missing=tuple(missing.get(row[1], ())))
        for row in ask(_LOGS)
    ]
    return sorted(found, key=lambda log: (by_name(log.shop), log.log_id))


def of_shop(logs: Sequence[LogHere]) -> dict[str, ShopHere]:
    """Return the logs that count by shop."""
    found: dict[str, list[LogHere]] = {}
    for log in logs:
        if log.is_counted:
            found.setdefault(log.shop, []).append(log)
    return {shop: ShopHere(tuple(own)) for shop, own in found.items()}
