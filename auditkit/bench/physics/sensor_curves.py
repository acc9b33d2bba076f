"""Resistance -> temperature: thermistors and platinum. All in K and ohm.

Sources: beta equation; Steinhart and Hart 1968, Deep-Sea Research 15:497; IEC
60751:2022 for platinum (coefficients from memory).
"""

from __future__ import annotations

import math

from auditkit.errors import InputError

T_0, T_25 = 273.15, 298.15

A, B, C = 3.9083e-3, -5.775e-7, -4.183e-12
"""Coefficients of IEC 60751."""

PLATINUM_RANGE = (-200.0, 850.0)
"""degC."""

ROUNDING = 1e-12


def _kelvin(inverse: float) -> float:
    """Return a temperature from its inverse; InputError where there is none."""
    if inverse <= 0:
        raise InputError(
            "the curve gives no temperature for this resistance",
            what_to_do="look at the units of curve and reading",
        )
    return 1 / inverse


def beta_temperature(resistance: float, at_25: float, beta: float) -> float:
    """Return the temperature of a thermistor by its beta equation."""
    return _kelvin(1 / T_25 + math.log(resistance / at_25) / beta)


def steinhart_hart(points: tuple[tuple[float, float], ...]) -> tuple[float, ...]:
    """Return A, B, C through three pairs of temperature and resistance.

    Raises InputError where they are not three different ones.
    """
    logs = [math.log(r) for _, r in points]
    inverse = [1 / t for t, _ in points]
    if len(set(logs)) != 3 or len(set(inverse)) != 3:  # three points
        raise InputError(
            "the curve is not given by three different points",
            what_to_do="give three temperatures and resistances",
        )
    g2 = (inverse[1] - inverse[0]) / (logs[1] - logs[0])
    g3 = (inverse[2] - inverse[0]) / (logs[2] - logs[0])
    c = (g3 - g2) / (logs[2] - logs[1]) / sum(logs)
    b = g2 - c * (logs[0] ** 2 + logs[0] * logs[1] + logs[1] ** 2)
    return inverse[0] - (b + logs[0] ** 2 * c) * logs[0], b, c


def steinhart_hart_temperature(
    resistance: float, a: float, b: float, c: float
) -> float:
    """Return the temperature of a thermistor by Steinhart and Hart's equation."""
    log = math.log(resistance)
    return _kelvin(a + b * log + c * log**3)


def platinum_ratio(celsius: float) -> float:
    """Return R(t)/R(0 degC) of platinum (IEC 60751) for t in degC."""
    cold = C * (celsius - 100) * celsius**3 if celsius < 0 else 0.0
    return 1 + A * celsius + B * celsius**2 + cold


def platinum_temperature(resistance: float, at_0: float) -> float:
    """Return the temperature of platinum; InputError outside -200 to 850 degC."""
    ratio = resistance / at_0
    low, high = PLATINUM_RANGE
    if not platinum_ratio(low) - ROUNDING <= ratio <= platinum_ratio(high) + ROUNDING:
        raise InputError(
            f"{resistance:g} ohm lies outside -200 to 850 degC",
            what_to_do="look at the resistance at 0 celsius",
        )
    if ratio >= 1:
        return T_0 + (-A + math.sqrt(A * A - 4 * B * (1 - ratio))) / (2 * B)
    celsius = (ratio - 1) / A
    for _ in range(20):
        slope = A + 2 * B * celsius + C * (4 * celsius - 300) * celsius**2
        celsius -= (platinum_ratio(celsius) - ratio) / slope
    return T_0 + celsius
