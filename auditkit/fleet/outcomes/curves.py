"""Pictures of how long repairs hold, with the numbers below them. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from auditkit.fleet.audited import (
    Cell,
    Chart,
    Column,
    Line,
    Scale,
    Style,
    Table,
    interval,
)
from auditkit.fleet.phrases import between, in_100, percent
from auditkit.fleet.settings import Settings
from auditkit.fleet.statistics import holding
from auditkit.fleet.statistics.followed import Ending, comebacks, total


@dataclass(frozen=True, slots=True)
class Clock:
    """Along what repairs are followed: its unit, and until when."""

    unit: str
    horizon: int


@dataclass(frozen=True, slots=True)
class Named:
    """A picture or table: the name of its file, and its title."""

    name: str
    title: str


_STYLES = (Style.FULL, Style.DASHED, Style.DOTTED, Style.STEPS)


def marks_of(horizon: int) -> tuple[int, ...]:
    """Return the times at which a curve is read: a sixth, half and all of the horizon.

    30, 90 and 180 days of 180.
    """
    return tuple(dict.fromkeys((max(1, horizon // 6), max(1, horizon // 2), horizon)))


def share_at(
    endings: Sequence[Ending], time: float, settings: Settings
) -> tuple[float, float, float] | None:
    """Return what share held until then, with its interval; None for too few.

    Where nothing came back the interval's lower end is that of the exact limits of no
    event, 1 - 0.05^(1/n), since the curve itself has none.
    """
    if holding.followed_until(endings, time) < settings.least_at_risk:
        return None
    step = holding.at(holding.curve(endings, least=settings.least_at_risk), time)
    if step is None:
        return 1.0, float(0.05 ** (1 / holding.followed_until(endings, time))), 1.0
    return step.share, step.low, step.high


def told_at(endings: Sequence[Ending], time: int, settings: Settings) -> str:
    """Return "94.9 in 100 held (between 94.5 and 95.2)".

    Empty where too few were followed for so long.
    """
    found = share_at(endings, time, settings)
    if found is None:
        return ""
    share, low, high = found
    return f"{in_100(share)} held ({between(low, high)})"


def chart(
    named: Named,
    groups: Mapping[str, Sequence[Ending]],
    settings: Settings,
    clock: Clock,
) -> Chart | None:
    """Return the curves of at most four groups; None where none has enough to draw."""
    lines = [
        _line(group, endings, settings, style)
        for (group, endings), style in zip(groups.items(), _STYLES, strict=False)
        if comebacks(endings) >= settings.least_events
    ]
    if not lines:
        return None
    lowest = min([low for line in lines for _, low, _ in line.band], default=100.0)
    floor = min(90.0, 10 * (lowest // 10))
    times = (0, *marks_of(clock.horizon))
    says = [
        f"{group}: {told}"
        for group, endings in groups.items()
        if (told := told_at(endings, clock.horizon, settings))
    ]
    until = f"Until {clock.horizon:,} {clock.unit}: " if says else ""
    return Chart(
        name=named.name,
        title=named.title,
        sentence=until + "; ".join(says),
        along=Scale(f"{clock.unit} since the repair", 0, clock.horizon),
        up=Scale("repairs that held, %", floor, 100),
        lines=tuple(lines),
        below=tuple(
            (
                f"followed, {group}" if len(groups) > 1 else "followed",
                tuple((t, f"{holding.followed_until(endings, t):,}") for t in times),
            )
            for group, endings in groups.items()
        ),
        numbers=named.name,
        band_name="95 % interval",
    )


def _line(
    name: str, endings: Sequence[Ending], settings: Settings, style: Style
) -> Line:
    """Return a curve as corners of its steps, until too few are followed."""
    points, band = [(0.0, 100.0)], [(0.0, 100.0, 100.0)]
    for step in holding.curve(endings, least=settings.least_at_risk):
        points += [(step.time, points[-1][1]), (step.time, percent(step.share))]
        before = band[-1]
        band += [
            (step.time, before[1], before[2]),
            (step.time, percent(step.low), percent(step.high)),
        ]
    end = holding.last_told(endings, settings.least_at_risk)
    points.append((end, points[-1][1]))
    band.append((end, band[-1][1], band[-1][2]))
    return Line(name, tuple(points), style, tuple(band))


def table(
    named: Named,
    groups: Mapping[str, Sequence[Ending]],
    settings: Settings,
    clock: Clock,
    heading: str,
) -> Table:
    """Return the shares that held by group and time; "too few" where too few were."""
    rows: list[tuple[Cell, ...]] = []
    for group, endings in groups.items():
        for time in marks_of(clock.horizon):
            found = share_at(endings, time, settings)
            cells: tuple[Cell, ...] = (None, None, None)
            if found is not None:
                cells = tuple(percent(n) for n in found)
            rows.append(
                (
                    *(group, total(endings), time),
                    comebacks(e for e in endings if e.time <= time),
                    *(holding.followed_until(endings, time), *cells),
                )
            )
    return Table(
        name=named.name,
        title=named.title,
        columns=(
            Column("group", heading),
            Column("repairs", "repairs"),
            Column("until", "until", clock.unit),
            Column("came_back", "came back by then"),
            Column("followed", "still followed"),
            Column("held", "held", "%", 1),
            *interval("held_"),
        ),
        rows=tuple(rows),
    )
