"""Inputs with their uncertainty, and how much of it reaches a result.

Propagation is the ``uncertainties`` library's: first order, correlations kept
(GUM, JCGM 100:2008, 5.1 and 5.2). Degrees of freedom follow Welch-Satterthwaite
(GUM G.4.1).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from statistics import NormalDist
from typing import TypeAlias

from uncertainties import (  # type: ignore[import-untyped]
    UFloat,
    nominal_value,
    std_dev,
    ufloat,
    wrap,
)

from auditkit.bench.one_sided import Known, joint_side, side_of_result
from auditkit.bench.student import quantile
from auditkit.text.values import Bound

Uncertain: TypeAlias = UFloat
"""A number with its uncertainty; a plain float stands for one that has none."""

COVERAGE = 2
"""The k of every expanded uncertainty here."""

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

    ``dof``: degrees of freedom, endless where it rests on a specification.
    ``widened``: the few-readings factor that is already in it.
    """

    name: str
    standard_uncertainty: float
    origin: Origin
    dof: float = ENDLESS
    widened: float = 1.0


def value_of(number: Uncertain) -> float:
    """Return the best estimate of a number, with or without uncertainty."""
    return float(nominal_value(number))


def uncertainty_of(number: Uncertain) -> float:
    """Return the standard uncertainty of a number; 0 where it has none."""
    return float(std_dev(number))


def propagated(function: Callable[..., float], *arguments: Uncertain) -> Uncertain:
    """Return a function of uncertain numbers; its slopes are taken numerically."""
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
        self._beyond: dict[Uncertain, Bound] = {}

    def input(
        self, name: str, value: float, standard_uncertainty: float, origin: Origin
    ) -> Uncertain:
        """Return a new input, independent of every other."""
        return self._add(value, Component(name, standard_uncertainty, origin))

    def shared(self, name: str, origin: Origin) -> Uncertain:
        """Return the error 0 +/- 1 of this name: one variable, however often asked for.

        What several values share is this, times how far it moves each (GUM 5.2.2,
        F.1.2.3: a common input makes them correlated).
        """
        if name not in self._shared:
            self._shared[name] = self._add(0.0, Component(name, 1.0, origin))
        return self._shared[name]

    def bounded(self, value: Uncertain, bound: Bound) -> Uncertain:
        """Return a value of which only one side is known; its results keep that."""
        if not bound:
            return value
        mark = ufloat(0.0, _MARK)
        self._beyond[mark] = bound
        return value + mark

    def known(self, result: Uncertain) -> Known:
        """Return which side of a result is known, by its slope in bounded readings."""
        if isinstance(result, float | int):
            return ""
        slopes = result.derivatives
        sides = (side_of_result(b, slopes.get(m, 0.0)) for m, b in self._beyond.items())
        return joint_side(sides)

    def mean(self, name: str, values: Sequence[float], alpha: float) -> Uncertain:
        """Return the mean of two or more readings with its Type A uncertainty."""
        return self.means(name, [values], alpha)[0]

    def means(
        self, name: str, series: Sequence[Sequence[float]], alpha: float
    ) -> list[Uncertain]:
        """Return the means of quantities that were read simultaneously, n times each.

        Their variances and covariances are those of the sample over n (GUM 5.2.3,
        H.2): reading i moves every mean by its deviation, over sqrt(n (n - 1)).
        """
        count = len(series[0])
        dof = count - 1
        factor = few_readings_factor(dof, alpha)
        scatter = Component(f"scatter of {name}", factor, Origin.REPEAT, dof, factor)
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
        made = ufloat(value, component.standard_uncertainty)
        self._known[made] = component
        return made

    def components(self, result: Uncertain) -> tuple[Component, ...]:
        """Return what each input adds to a result, largest first; of a name as one."""
        if isinstance(result, float | int):
            return ()
        found: dict[str, Component] = {}
        for variable, part in result.error_components().items():
            if part and variable in self._known:
                one = self._known[variable]
                before = found.get(one.name)
                sofar = before.standard_uncertainty if before else 0.0
                size = math.hypot(sofar, float(part))
                found[one.name] = replace(one, standard_uncertainty=size)
        return tuple(sorted(found.values(), key=lambda c: -c.standard_uncertainty))
