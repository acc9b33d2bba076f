"""When each entry must have been recorded, from what outsiders said (no clock read).

An outsider that attests a checkpoint at a time T bounds the entries twice. Those that
the checkpoint covers existed before T. Where the log keeps the attestation, each entry
after it states the root of a tree that holds it, and nobody could know it before T:
they were recorded after. A packet shows that by itself, since an entry's inclusion
proof also proves the root that the entry states. What an entry itself says,
``recorded_at``, is the shop's claim, and is held against the interval.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import groupby
from typing import TYPE_CHECKING

from auditkit.proof.check_report import CheckReport, LogProblem
from auditkit.text.display_text import quoted
from auditkit.text.moment import rfc3339

if TYPE_CHECKING:
    from auditkit.text.values import Json

SLACK = timedelta(minutes=15)
"""How far a shop's clock may be off before its claims count as false: our choice."""


@dataclass(frozen=True, slots=True)
class Bound:
    """An outsider spoke of the first ``size`` entries, between two times (UTC).

    ``earliest`` and ``latest`` hold the outsider's own accuracy. ``seq`` is the entry
    that keeps the attestation, None where the log does not keep it.
    """

    size: int
    earliest: datetime
    latest: datetime
    who: str
    seq: int | None = None


@dataclass(frozen=True, slots=True)
class Interval:
    """When entry ``seq`` was recorded: after ``after`` and before ``before``."""

    seq: int
    claimed: str
    after: Bound | None
    before: Bound | None

    def contradiction(self) -> str | None:
        """Return how the entry's own claim lies outside, None where it does not."""
        if (
            self.after
            and self.before
            and self.after.earliest - self.before.latest > SLACK
        ):
            return (
                f"{self.after.who} and {self.before.who} contradict each other: after "
                f"{_text(self.after.earliest)}, yet before {_text(self.before.latest)}"
            )
        try:
            claimed = rfc3339(self.claimed)
            # A time without its offset would depend on the reader's time zone.
            claimed = claimed.replace(tzinfo=claimed.tzinfo or UTC).astimezone(UTC)
        except (ValueError, OverflowError):
            said = quoted(self.claimed)
            return f"it says that it was recorded at {said}, which is no time"
        if self.after and self.after.earliest - claimed > SLACK:
            return (
                f"it says that it was recorded at {self.claimed}, but it was after "
                f"{_text(self.after.earliest)} ({self.after.who}): the clock was set "
                "back"
            )
        if self.before and claimed - self.before.latest > SLACK:
            return (
                f"it says that it was recorded at {self.claimed}, but it was before "
                f"{_text(self.before.latest)} ({self.before.who}): the clock was set "
                "forward"
            )
        return None


def intervals(
    recorded: Iterable[tuple[int, str]], bounds: Sequence[Bound]
) -> tuple[Interval, ...]:
    """Return the interval of every entry, in order of sequence number.

    ``recorded`` is (sequence number, claimed time) as ``CheckReport.recorded``.
    """
    starts = sorted((b for b in bounds if b.seq is not None), key=_seq)
    ends = sorted(bounds, key=lambda b: b.size, reverse=True)
    found: list[Interval] = []
    after: Bound | None = None
    befores: list[tuple[int, str, Bound | None]] = []
    before: Bound | None = None
    at = 0
    ordered = sorted(recorded)
    for seq, claimed in reversed(ordered):
        while at < len(ends) and ends[at].size > seq:
            if before is None or ends[at].latest < before.latest:
                before = ends[at]
            at += 1
        befores.append((seq, claimed, before))
    at = 0
    for seq, claimed, until in reversed(befores):
        while at < len(starts) and _seq(starts[at]) <= seq:
            if after is None or starts[at].earliest > after.earliest:
                after = starts[at]
            at += 1
        found.append(Interval(seq, claimed, after, until))
    return tuple(found)


def _seq(bound: Bound) -> int:
    return -1 if bound.seq is None else bound.seq


def _text(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="seconds")


@dataclass(frozen=True, slots=True)
class BelievedBounds:
    """Bounds by those whom a reader believes, and what of theirs does not hold."""

    bounds: tuple[Bound, ...]
    problems: tuple[LogProblem, ...] = ()
    notes: tuple[str, ...] = ()


def with_times(report: CheckReport, heard: BelievedBounds) -> CheckReport:
    """Return the report with every entry's interval, and claims that lie outside."""
    known = intervals(report.recorded, heard.bounds)
    found = [(line.seq, line.contradiction()) for line in known]
    problems = [LogProblem(seq, text) for seq, text in found if text is not None]
    told = report.with_more((*heard.problems, *problems), heard.notes)
    if heard.problems or not report.verified:
        return told  # a report that does not hold is not bounded by outsiders
    return replace(
        told,
        times=tuple(_spans(known)),
        intervals=tuple(_json(line) for line in known),
    )


def _spans(known: Iterable[Interval]) -> Iterator[str]:
    """Yield a line for every run of entries with the same interval."""
    for (after, before), run in groupby(known, key=lambda i: (i.after, i.before)):
        seqs = [line.seq for line in run]
        sides = []
        if after is not None:
            sides.append(f"after {_text(after.earliest)} ({after.who})")
        if before is not None:
            sides.append(f"before {_text(before.latest)} ({before.who})")
        one = len(seqs) == 1
        which = f"entry {seqs[0]}" if one else f"entries {seqs[0]} to {seqs[-1]}"
        yield f"{which}: recorded {' and '.join(sides) or 'at an unknown time'}"


def _json(line: Interval) -> dict[str, Json]:
    return {
        "seq": line.seq,
        "claimed": line.claimed,
        "after": _text(line.after.earliest) if line.after else None,
        "before": _text(line.before.latest) if line.before else None,
    }
