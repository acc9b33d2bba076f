"""An axis as it is drawn: where values lie on it, and what is written beside it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from auditkit.fleet import audited
from auditkit.output import scale

_MINUTE, _HOUR, _DAY = 60, 3600, 86400
_STEPS = (
    *(_MINUTE * n for n in (1, 5, 15, 30)),
    *(_HOUR * n for n in (1, 3, 6, 12)),
    *(_DAY * n for n in (1, 2, 7, 14)),
)
_MONTHS = (1, 2, 3, 6, 12, 24, 60, 120)
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Axis:
    """Values ``low`` to ``high`` drawn from ``start`` to ``end``, in px."""

    of: audited.Scale
    low: float
    high: float
    start: float
    end: float

    @classmethod
    def over(
        cls,
        of: audited.Scale,
        values: Iterable[float],
        start: float,
        end: float,
        softly: Iterable[float] = (),
    ) -> Axis:
        """Return an axis on which all values lie.

        Its given ends hold unless a value lies beyond. Of ``softly`` those count that
        do not stretch the axis to more than half as much again (limits that run off).
        """
        if of.members:
            return cls(of, -0.5, len(of.members) - 0.5, start, end)
        known = [*values]
        if of.is_logarithmic:
            known = [v for v in known if v > 0]
        known += [v for v in (of.low, of.high) if v is not None]
        known = known or ([1.0] if of.is_logarithmic else [0.0])
        low, high = min(known), max(known)
        room = 0.5 * (high - low)
        for value in softly:
            if low - room <= value <= high + room and not (
                of.is_logarithmic and value <= 0
            ):
                low, high = min(low, value), max(high, value)
        if of.is_logarithmic:
            return cls._logarithmic(of, low, high, start, end)
        wide = high - low
        room = 0.05 * wide if wide > abs(high) * 1e-9 else abs(high) * 0.05 or 1.0
        begins = low - room
        if low >= 0 and not of.is_time:  # no counts below none
            begins = 0.0 if low < 0.4 * high else max(0.0, begins)
        return cls(
            of,
            low if low == of.low else begins,
            high if high == of.high and wide else high + room,
            start,
            end,
        )

    @classmethod
    def _logarithmic(
        cls, of: audited.Scale, low: float, high: float, start: float, end: float
    ) -> Axis:
        if low != of.low:
            low = 10.0 ** math.floor(math.log10(low) + 1e-9)
        if high != of.high or high <= low:
            high = 10.0 ** math.ceil(math.log10(max(high, low * 10)) - 1e-9)
        return cls(of, low, high, start, end)

    def at(self, value: float) -> float:
        """Return where a value is drawn; one beyond the axis, beyond its end."""
        low, high = self.low, self.high
        if self.of.is_logarithmic:
            value = math.log10(max(value, low))  # none and less stand at the low end
            low, high = math.log10(low), math.log10(high)
        part = (value - low) / (high - low)
        if not self.of.members:
            part = min(max(part, -9.0), 9.0)
        return self.start + part * (self.end - self.start)

    def within(self, place: float) -> float:
        """Return the px on the axis that is nearest to a place."""
        return min(max(place, min(self.start, self.end)), max(self.start, self.end))

    def ticks(self) -> list[tuple[float, str]]:
        """Return values on the axis with their text, not too many."""
        if self.of.members:
            return [(float(i), name) for i, name in enumerate(self.of.members)]
        if self.of.is_time:
            return self._times()
        if self.of.is_logarithmic:
            return self._powers()
        across = scale.Scale(self.low, self.high, self.start, self.end)
        return across.ticks()

    def _powers(self) -> list[tuple[float, str]]:
        first = math.floor(math.log10(self.low) + 1e-9)
        last = math.ceil(math.log10(self.high) - 1e-9)
        factors = (1, 2, 5) if last - first <= 2 else (1,)
        values = [f * 10.0**p for p in range(first, last + 1) for f in factors]
        kept = [v for v in values if self.low * 0.999 <= v <= self.high * 1.001]
        return [(v, _plain(v)) for v in kept]

    def _times(self) -> list[tuple[float, str]]:
        most = max(2, int(abs(self.end - self.start) // 90))
        seconds = self.high - self.low
        for step in _STEPS:
            if seconds / step <= most:
                return self._clock(step)
        for months in _MONTHS:
            if seconds / (months * 30.4 * _DAY) <= most or months == _MONTHS[-1]:
                return self._calendar(months)
        raise AssertionError  # pragma: no cover  the last step of months returns

    def _clock(self, step: int) -> list[tuple[float, str]]:
        form = "%Y-%m-%d" if step % _DAY == 0 else "%m-%d %H:%M"
        first = math.ceil(self.low / step)
        places = range(first, math.floor(self.high / step) + 1)
        return [(float(i * step), moment(i * step).strftime(form)) for i in places]

    def _calendar(self, months: int) -> list[tuple[float, str]]:
        form = "%Y-%m" if months < 12 else "%Y"
        month = moment(self.low).year * 12 + moment(self.low).month - 1
        month = -(-month // months) * months
        ticks: list[tuple[float, str]] = []
        while True:
            begins = datetime(month // 12, month % 12 + 1, 1, tzinfo=UTC)
            at = (begins - _EPOCH) / timedelta(seconds=1)
            if at > self.high:
                return ticks
            if at >= self.low:
                ticks.append((at, begins.strftime(form)))
            month += months

    @property
    def is_cut(self) -> bool:
        """Whether a scale of shares or counts begins above none."""
        return self.low > 0 and not (
            self.of.is_logarithmic or self.of.is_time or self.of.members
        )

    @property
    def cut_label(self) -> str:
        """What stands beside the label where the axis is cut; else nothing."""
        return f"axis begins at {_plain(self.low)}" if self.is_cut else ""


def moment(seconds: float) -> datetime:
    """Return a time by its seconds since 1970, within the years that have a date."""
    return _EPOCH + timedelta(seconds=min(max(seconds, -6e10), 2.5e11))


def on_one_axis(
    scales: Iterable[audited.Scale], values: Iterable[float]
) -> audited.Scale:
    """Return a scale with its ends set so that all values lie on it."""
    (first, *_) = scales
    if first.members:
        return first
    axis = Axis.over(first, values, 0.0, 100.0)
    return replace(first, low=axis.low, high=axis.high)


def _plain(value: float) -> str:
    return f"{value:,.0f}" if value >= 1000 else f"{value:.4g}"
