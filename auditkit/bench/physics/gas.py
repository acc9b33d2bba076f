"""Gas in a sealed volume and through an opening: ideal gas, one-dimensional flow.

Sources: 40 CFR 1065.644 (leak rate by pressure change); ISO 9300 and any text on
compressible flow (sharp-edged opening, subsonic and choked). All pressures absolute
in Pa, temperatures in K. Numbers may carry uncertainty
where the types say so.
"""

from __future__ import annotations

import math

from auditkit.bench.uncertainty import Uncertain

R = 8.314462618
"""Molar gas constant, J/(mol K) (2019 SI, rounded)."""

MOLAR_MASS_AIR = 0.0289647
"""kg/mol."""

R_AIR = R / MOLAR_MASS_AIR
GAMMA = 1.4
STANDARD_PRESSURE = 101325.0
PANELS = 128

CRITICAL_RATIO = (2 / (GAMMA + 1)) ** (GAMMA / (GAMMA - 1))
"""Pressure ratio below which the flow is choked."""

CHOKED = math.sqrt(GAMMA) * math.pow(2 / (GAMMA + 1), (GAMMA + 1) / (2 * (GAMMA - 1)))
"""Flow function of a choked opening: m sqrt(R T) / (A p)."""


def moles_lost(
    volume: Uncertain,
    start: tuple[Uncertain, Uncertain],
    end: tuple[Uncertain, Uncertain],
    gas_constant: float = R,
) -> Uncertain:
    """Return what left a volume in m3, in mol; start and end: (pressure, temperature).

    40 CFR 1065.644 writes it as a gain, for a volume under vacuum.
    """
    lost: Uncertain = volume / gas_constant * (start[0] / start[1] - end[0] / end[1])
    return lost


def standard_flow(mole_flow: Uncertain, standard_temperature: float) -> Uncertain:
    """Return m3/s at 101325 Pa and the stated standard temperature, from mol/s."""
    return mole_flow * R * standard_temperature / STANDARD_PRESSURE


def flow_per_area(upstream: float, downstream: float, temperature: float) -> float:
    """Return the mass flow of air in kg/s per m2 of effective area (Cd A).

    0 where ``downstream`` is not below ``upstream``.
    """
    ratio = downstream / upstream
    if ratio >= 1:
        return 0.0
    if ratio <= CRITICAL_RATIO:
        return upstream * CHOKED / math.sqrt(R_AIR * temperature)
    # r^(2/g) (1 - r^((g-1)/g)), written so that small differences keep their digits.
    log = math.log1p((downstream - upstream) / upstream)
    span = -math.expm1(log * (GAMMA - 1) / GAMMA) * math.exp(2 * log / GAMMA)
    return upstream * math.sqrt(2 * GAMMA / ((GAMMA - 1) * R_AIR * temperature) * span)


def hold_integral(
    start: float, end: float, barometer: float, temperature: float
) -> float:
    """Return the time in s x m2 / m3 in which a volume leaks from start to end.

    Times the volume, over the effective area Cd A, it is the time. Isothermal: V dp =
    R T m dt. Positive for loss to the air and for a vacuum that fills. The difference
    to the air is taken as a square, which removes the singular end; Simpson's rule.
    """
    from_square = math.sqrt(abs(start - barometer))
    to_square = math.sqrt(abs(end - barometer))
    sign = 1 if start > barometer else -1
    step = (from_square - to_square) / PANELS

    def time_per_root(root: float) -> float:
        pressure = barometer + sign * root * root
        up, down = max(pressure, barometer), min(pressure, barometer)
        if root == 0:  # the limit: flow = root x sqrt(2 density), from Bernoulli
            return 2 / math.sqrt(2 * barometer * R_AIR * temperature)
        flow = flow_per_area(up, down, temperature)
        return 2 * root / (R_AIR * temperature * flow)

    weights = [1, *([4, 2] * (PANELS // 2))[:-1], 1]
    total = math.fsum(
        weight * time_per_root(to_square + place * step)
        for place, weight in enumerate(weights)
    )
    return total * step / 3


def effective_area(volume: float, time: float, integral: float) -> float:
    """Return Cd A in m2 of the opening that leaks a volume so far in a given time."""
    return volume * integral / time


def diameter(area: float, discharge_coefficient: float) -> float:
    """Return the diameter in m of a round opening of effective area Cd A."""
    return math.sqrt(4 * area / (math.pi * discharge_coefficient))


def laminar_end(start: float, time_constants: float) -> float:
    """Return the difference left after a number of time constants."""
    return start * math.exp(-time_constants)


def square_root_end(start: float, end: float, part: float) -> float:
    """Return the difference left after ``part`` of the time from start to end."""
    root = math.sqrt(start) + (math.sqrt(end) - math.sqrt(start)) * part
    return root * root


def misfits(parts: list[float], differences: list[float]) -> tuple[float, float]:
    """Return how badly an orifice and a laminar leak describe a recorded decay.

    ``parts`` are the times over the whole time, from 0 to 1; ``differences`` against
    the air, all above zero. Root mean square in Pa; both laws pass through both ends.
    """
    start, end = differences[0], differences[-1]
    constants = math.log(start / end)
    pairs = list(zip(parts, differences, strict=True))
    orifice = [(square_root_end(start, end, t) - d) ** 2 for t, d in pairs]
    laminar = [(laminar_end(start, constants * t) - d) ** 2 for t, d in pairs]
    count = len(pairs)
    return math.sqrt(sum(orifice) / count), math.sqrt(sum(laminar) / count)


def volume_by_expansion(
    reference_volume: Uncertain,
    reference: Uncertain,
    settled: Uncertain,
    before: Uncertain,
) -> Uncertain:
    """Return an unknown volume that gas of a known one was let into.

    ``reference`` and ``before`` are the pressures of the two before, ``settled`` that
    of both after, all absolute; same temperature throughout (Boyle's law).
    """
    volume: Uncertain = reference_volume * (reference - settled) / (settled - before)
    return volume
