"""Limits that a shop's earlier orders used for a part and a method.

An order is read once for each of its bench tests and corrections, and what it used is
kept: who tests the same part again and again then waits for no reading.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from threading import Lock
from typing import TYPE_CHECKING

from auditkit.log.earlier_tests import last_test, lately_tested

if TYPE_CHECKING:
    from auditkit.log.ledger import Ledger

_LOOKED_AT = 12  # orders with such a test, at most
_SAYING = ("bench_test", "amendment")  # kinds of event that say what was used
_MOST = 500  # orders of which it is kept what they used


@dataclass(frozen=True, slots=True)
class EarlierLimit:
    """The limit of an order's last test of a part by a method, member by member.

    ``place`` is that of the test among the order's events.
    """

    order: str
    place: int
    vehicle: str
    day: str
    limit: tuple[tuple[str, str], ...]


class EarlierLimits:
    """What orders used, each by its entries that say it; several threads may ask."""

    def __init__(self) -> None:
        self._known: OrderedDict[tuple[object, ...], EarlierLimit | None] = (
            OrderedDict()
        )
        self._lock = Lock()

    def found(
        self, log: Ledger, part: str, method: str, *, but: str
    ) -> Iterator[EarlierLimit]:
        """Yield the limits that orders used, the newest first; ``but`` one order."""
        names = (name for name in lately_tested(log, part, method) if name != but)
        for name in islice(names, _LOOKED_AT):
            limit = self._of(log, name, part, method)
            if limit is not None:
                yield limit

    def _of(
        self, log: Ledger, name: str, part: str, method: str
    ) -> EarlierLimit | None:
        asked = (name, part, method, log.store.order_seqs(name, *_SAYING))
        with self._lock:
            if asked in self._known:
                return self._known[asked]
        found = _read(log, name, part, method)
        with self._lock:
            self._known[asked] = found
            while len(self._known) > _MOST:
                self._known.popitem(last=False)
        return found


def _read(log: Ledger, name: str, part: str, method: str) -> EarlierLimit | None:
    tested = last_test(log, name, part, method)
    if tested is None:
        return None
    order, test = tested
    limit = tuple((n, str(v)) for n, v in test.object("limit").items())
    if not limit:
        return None
    vehicle, day = order.vehicle("description"), test.text("at")[:10]
    return EarlierLimit(name, test.index, vehicle, day, limit)
