"""Inputs with their uncertainty, and how much of it reaches a result.

Propagation is the ``uncertainties`` library's: first order, correlations kept
(GUM, JCGM 100:2008, 5.1 and 5.2). Degrees of freedom follow Welch-Satterthwaite
(GUM G.4.1).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist
from typing import TYPE_CHECKING, Literal, TypeAlias

from auditkit.bench.one_sided import Known, joint_side, side_of_result
from auditkit.bench.source import Distribution, Source
from auditkit.bench.student import quantile
from auditkit.text.values import Bound

if TYPE_CHECKING:
    from uncertainties import UFloat  # type: ignore[import-untyped]

    from auditkit.bench.units import Unit

Uncertain: TypeAlias = "UFloat"
"""A number with its uncertainty; a plain float stands for one that has none."""

COVERAGE = 2
"""The k of every expanded uncertainty here."""

COVERAGE_PROBABILITY = 2 * NormalDist().cdf(COVERAGE) - 1
"""What k covers of a normal distribution: 95.45 % (GUM Table G.1)."""

ENDLESS = math.inf

_MARK = 1e-300
"""Standard uncertainty of the marker of a bounded reading: its square is 0."""


class Origin(StrEnum):
    """Where a part of the uncertainty comes from."""

    INSTRUMENT = "instrument"
    METHOD = "method"
    REPEAT = "repeat"


@dataclass(frozen=True, slots=True)
class Component:
    """One line of an uncertainty budget, in the unit of the result.

    ``standard_uncertainty`` is what the input adds to the result, |c| u (GUM 5.1.3).
    ``dof``: degrees of freedom, endless where it rests on a specification.
    ``widened``: the few-readings factor that is already in it. ``sources``: the
    quantities behind it, several where they have an error in common.
    """

    name: str
    standard_uncertainty: float
    origin: Origin
    dof: float = ENDLESS
    widened: float = 1.0
    sources: tuple[Source, ...] = ()

    @property
    def evaluation(self) -> Literal["A", "B"]:
        """How it was evaluated: by the scatter of readings (A), or otherwise (B)."""
        return "A" if self.origin is Origin.REPEAT else "B"

    @property
    def input_uncertainty(self) -> float | None:
        """The standard uncertainty of the input, in the unit of its sources.

        None where it differs from source to source, or where none is known.
        """
        if not self.sources:
            return None
        first, *more = self.sources
        u = first.standard_uncertainty
        same = all(
            one.unit == first.unit and math.isclose(one.standard_uncertainty, u)
            for one in more
        )
        return u if same else None

    @property
    def sensitivity(self) -> float | None:
        """How far the result moves for one unit of the input, |c|; None as above."""
        u = self.input_uncertainty
        return self.standard_uncertainty / u if u else None


def value_of(number: Uncertain) -> float:
    """Return the best estimate of a number, with or without uncertainty."""
    return float(getattr(number, "nominal_value", number))


def uncertainty_of(number: Uncertain) -> float:
    """Return the standard uncertainty of a number; 0 where it has none."""
    return float(getattr(number, "std_dev", 0.0))


def propagated(function: Callable[..., float], *arguments: Uncertain) -> Uncertain:
    """Return a function of uncertain numbers; its slopes are taken numerically."""
    from auditkit.bench.first_order import wrap

    return wrap(function)(*arguments)


def combined(components: Iterable[Component]) -> float:
    """Return the combined standard uncertainty of independent components."""
    return math.hypot(*(c.standard_uncertainty for c in components))


def effective_dof(components: Iterable[Component]) -> float:
    """Return the effective degrees of freedom (Welch-Satterthwaite, GUM G.4.1)."""
    parts = [(c.standard_uncertainty / c.widened, c.dof) for c in components]
    spread = sum(u**4 / dof for u, dof in parts)
    return math.hypot(*(u for u, _ in parts)) ** 4 / spread if spread else ENDLESS


def few_readings_factor(dof: int, alpha: float) -> float:
    """Return by what to widen a standard deviation of few readings.

    Student's t over the normal deviate, at k = 2 or at 1 - alpha if that lies
    further out: then k = 2 and the normal distribution keep their meaning however
    few the readings, and a wider uncertainty can never make a result surer, as it
    can with Welch-Satterthwaite. Compare GUM Table G.2.
    """
    level = max(NormalDist().cdf(COVERAGE), 1 - alpha)
    return quantile(level, dof) / NormalDist().inv_cdf(level)


class Budget:
    """Makes uncertain inputs, and remembers where each comes from."""

    def __init__(self) -> None:
        self._known: dict[Uncertain, Component] = {}
        self._shared: dict[str, Uncertain] = {}
        self._uses: dict[Uncertain, list[tuple[Source, Uncertain]]] = {}
        self._beyond: dict[Uncertain, Bound] = {}

    def input(  # noqa: PLR0913, PLR0917  one a column of a budget
        self,
        name: str,
        value: float,
        standard_uncertainty: float,
        origin: Origin,
        source: Source | None = None,
        dof: float = ENDLESS,
    ) -> Uncertain:
        """Return a new input, independent of every other.

        ``dof``: its degrees of freedom, where they are known; they are told, and do not
        widen it.
        """
        sources = () if source is None else (source,)
        made = Component(name, standard_uncertainty, origin, dof, sources=sources)
        return self._add(value, made)

    def shared(
        self,
        name: str,
        origin: Origin,
        source: Source | None = None,
        reading: Uncertain = 0.0,
    ) -> Uncertain:
        """Return the error 0 +/- 1 of this name: one variable, however often asked for.

        What several values share is this, times how far it moves each (GUM 5.2.2,
        F.1.2.3: a common input makes them correlated). ``source`` is what it is to one
        ``reading``, the value before it gets this error.
        """
        if name not in self._shared:
            self._shared[name] = self._add(0.0, Component(name, 1.0, origin))
        error = self._shared[name]
        if source is not None:
            self._uses.setdefault(error, []).append((source, reading))
        return error

    def bounded(self, value: Uncertain, bound: Bound) -> Uncertain:
        """Return a value of which only one side is known; its results keep that."""
        if not bound:
            return value
        from auditkit.bench.first_order import ufloat

        mark = ufloat(0.0, _MARK)
        self._beyond[mark] = bound
        return value + mark

    def known(self, result: Uncertain) -> Known:
        """Return which side of a result is known, by its slope in bounded readings."""
        if not self._beyond or isinstance(result, float | int):
            return ""
        slopes = result.derivatives
        sides = (side_of_result(b, slopes.get(m, 0.0)) for m, b in self._beyond.items())
        return joint_side(sides)

    def mean(
        self,
        name: str,
        values: Sequence[float],
        alpha: float,
        unit: Unit | None = None,
    ) -> Uncertain:
        """Return the mean of two or more readings with its Type A uncertainty."""
        units = () if unit is None else ((name, unit),)
        return self.means(name, [values], alpha, units)[0]

    def means(
        self,
        name: str,
        series: Sequence[Sequence[float]],
        alpha: float,
        units: Sequence[tuple[str, Unit]] = (),
    ) -> list[Uncertain]:
        """Return the means of quantities that were read simultaneously, n times each.

        Their variances and covariances are those of the sample over n (GUM 5.2.3,
        H.2): reading i moves every mean by its deviation, over sqrt(n (n - 1)).
        ``units``: the name of each quantity and the unit in which it is told.
        """
        count = len(series[0])
        dof = count - 1
        factor = few_readings_factor(dof, alpha)
        scatter = Component(
            f"scatter of {name}",
            factor,
            Origin.REPEAT,
            dof,
            factor,
            tuple(
                _scatter(*unit, values, factor)
                for unit, values in zip(units, series, strict=False)
            ),
        )
        errors = [self._add(0.0, scatter) for _ in range(count)]
        root = math.sqrt(count * (count - 1))
        found: list[Uncertain] = []
        for values in series:
            centre = mean = math.fsum(values) / count
            for value, error in zip(values, errors, strict=True):
                if value != centre:
                    mean += (value - centre) / root * error
            found.append(mean)
        return found

    def _add(self, value: float, component: Component) -> Uncertain:
        if not component.standard_uncertainty:
            return value
        from auditkit.bench.first_order import ufloat

        made = ufloat(value, component.standard_uncertainty)
        self._known[made] = component
        return made

    def components(
        self, result: Uncertain, factor: float = 1.0
    ) -> tuple[Component, ...]:
        """Return what each input adds to a result, largest first; of a name as one.

        In a unit that is ``factor`` times as large as that of ``result``.
        """
        if isinstance(result, float | int):
            return ()
        found: dict[str, tuple[float, Component, tuple[Source, ...]]] = {}
        for variable, part in result.error_components().items():
            if part and variable in self._known:
                one = self._known[variable]
                sofar, _, sources = found.get(one.name, (0.0, one, ()))
                more = (*one.sources, *self._used(variable, result))
                sources += tuple(m for m in more if m not in sources)
                found[one.name] = (math.hypot(sofar, float(part)), one, sources)
        largest_first = sorted(found.values(), key=lambda part: -part[0])
        return tuple(
            Component(
                one.name, size / factor, one.origin, one.dof, one.widened, sources
            )
            for size, one, sources in largest_first
        )

    def _used(self, error: Uncertain, result: Uncertain) -> Iterator[Source]:
        """Yield what a shared error is to each reading that the result hangs on."""
        inside = result.derivatives
        for source, reading in self._uses.get(error, ()):
            if isinstance(reading, float | int) or reading in inside:
                yield source


def _scatter(name: str, unit: Unit, values: Sequence[float], factor: float) -> Source:
    """Return what the scatter of readings in SI says of their mean."""
    count, scale = len(values), float(unit.factor)
    centre = math.fsum(values) / count
    squares = math.fsum((v - centre) ** 2 for v in values)
    widened = f", widened {factor:.3g} times for so few" if factor > 1 else ""
    return Source(
        name,
        centre / scale - float(unit.zero),
        factor * math.sqrt(squares / (count * (count - 1))) / scale,
        str(unit),
        Distribution.STUDENT,
        f"standard deviation of the mean of {count} readings{widened}",
    )
