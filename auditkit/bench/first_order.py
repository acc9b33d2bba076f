"""Numbers that carry their uncertainty, to first order: the ``uncertainties`` library.

It is loaded with the first such number: where NumPy is installed it takes as long as
a quarter of a whole command.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from uncertainties import ufloat, wrap  # type: ignore[import-untyped]

if TYPE_CHECKING:
    from auditkit.bench.uncertainty import Uncertain


def uncertain(value: float, standard_uncertainty: float) -> Uncertain:
    """Return an independent number."""
    return ufloat(value, standard_uncertainty)


def propagated(function: Callable[..., float], *arguments: Uncertain) -> Uncertain:
    """Return a function of uncertain numbers; its slopes are taken numerically."""
    return wrap(function)(*arguments)
