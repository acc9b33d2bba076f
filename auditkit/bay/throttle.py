"""Too many wrong passphrases, and how long to wait. It reads no clock."""

from __future__ import annotations

from collections import OrderedDict, deque
from collections.abc import Hashable, Iterable
from math import ceil
from threading import Lock

_MOST = 10_000  # names and addresses that are remembered at once


class Throttle:
    """Counts what went wrong of late, by whatever it is counted by.

    After ``limit`` within ``window`` seconds the next has to wait until the first of
    them is that old. The numbers are our own choice.
    """

    def __init__(self, limit: int = 5, window: float = 60.0) -> None:
        self._limit = limit
        self._window = window
        self._failed: OrderedDict[Hashable, deque[float]] = OrderedDict()
        self._lock = Lock()

    def wait(self, counted_by: Iterable[Hashable], now: float) -> int:
        """Return how many seconds to wait; count one more where that is 0.

        Counted before it is tried, in one turn: many at once are no way around it.
        """
        counted = tuple(counted_by)
        with self._lock:
            wait = max((self._wait(by, now) for by in counted), default=0)
            if not wait:
                self._count(counted, now)
            return wait

    def _wait(self, by: Hashable, now: float) -> int:
        times = self._failed.get(by)
        if times is None or len(times) < self._limit:
            return 0
        return max(0, ceil(times[0] + self._window - now))

    def _count(self, counted_by: Iterable[Hashable], now: float) -> None:
        for by in counted_by:
            times = self._failed.setdefault(by, deque(maxlen=self._limit))
            times.append(now)
            self._failed.move_to_end(by)
        while self._failed:
            oldest = next(iter(self._failed))
            is_past = self._failed[oldest][-1] + self._window <= now
            if not is_past and len(self._failed) <= _MOST:
                break
            del self._failed[oldest]

    def take_back(self, by: Hashable) -> None:
        """Count one less, the last one: it was not wrong."""
        with self._lock:
            times = self._failed.get(by)
            if times:
                times.pop()
            if not times:
                self._failed.pop(by, None)

    def forget(self, by: Hashable) -> None:
        """Count from nothing again."""
        with self._lock:
            self._failed.pop(by, None)
