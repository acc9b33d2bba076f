"""The uncertainty of every kind, against drawing its errors (JCGM 101:2008).

Each case states its formula a second time in numpy, draws the errors of its readings
from the distributions of their specifications and compares the spread of the results:
once with errors that the readings of an instrument share, once with errors that each
has for itself. Stated tolerance: 3 % of the standard uncertainty (200,000 draws spread
by 0.2 %; the rest is the first order of the propagation, GUM 5.1.2). Inputs invented.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from bench_inputs import each, given, instrument, q

from auditkit.bench import KINDS, Accuracy, KnownGood
from auditkit.bench.readings import Readings
from auditkit.bench.uncertainty import uncertainty_of, value_of

DRAWS = 200_000
TOLERANCE = 0.03
AIR, R = 101325.0, 8.314462618
INH2O = 249.08891


class Errors:
    """Draws readings of instruments: limits shared by all, or each reading's own."""

    def __init__(self, *, shared: bool) -> None:
        self.rng = np.random.default_rng(20260302)
        self.shared = shared
        self.common: dict[str, np.ndarray] = {}

    def spec(self, unit: str, high: str, step: str, limit: str):
        """Return the specification of an instrument with these limits of error."""
        if self.shared:
            return instrument(unit, high, step, limit)
        digits = Fraction(limit) / Fraction(step)
        return instrument(unit, high, step, "0", accuracy=Accuracy(digits=digits))

    def read(self, name: str, value: float, step: float, limit: float) -> np.ndarray:
        """Return draws of what the true value may be behind a reading."""
        if name not in self.common or not self.shared:
            self.common[name] = self.rng.uniform(-1, 1, DRAWS)
        rounding = self.rng.uniform(-step / 2, step / 2, DRAWS)
        return value + limit * self.common[name] + rounding

    def within(self, value: float, half: float) -> np.ndarray:
        return value + self.rng.uniform(-half, half, DRAWS)

    def about(self, value: float, u: float) -> np.ndarray:
        return self.rng.normal(value, u, DRAWS)


def computed(kind: str, inputs, name: str):
    """Return the values that a kind computes, in SI, with their uncertainty."""
    test = KINDS[kind]
    return test.compute(Readings(test.needs, inputs)).named(name).values


def agree(values, draws) -> None:
    for value, drawn in zip(values, draws, strict=True):
        u = float(np.std(drawn))
        assert uncertainty_of(value) == pytest.approx(u, rel=TOLERANCE)
        assert value_of(value) == pytest.approx(float(np.mean(drawn)), abs=0.1 * u)


BOTH = pytest.mark.parametrize("shared", [True, False], ids=["shared", "own"])


@BOTH
@pytest.mark.parametrize("at_end", [None, "1011.25 hPa"])
@pytest.mark.parametrize(
    "name", ["end pressure", "pressure loss", "leak rate", "equivalent diameter"]
)
def test_seal_hold(shared, at_end, name):
    errors = Errors(shared=shared)
    conditions = {
        "pressure reference": "gauge",
        "start temperature": "20.0 degC",
        "end temperature": "20.4 degC",
        "barometer": "1013.25 hPa",
        "vapour volume": "40 L",
        "uncertainty of vapour volume": "0.4 L",
    }
    if at_end:
        conditions["barometer at end"] = at_end
    inputs = given(
        {
            "start pressure": "14.0 inH2O",
            "end pressure": "8.0 inH2O",
            "hold time": "120 s",
        },
        conditions,
        {
            "gauge": errors.spec("inH2O (gauge)", "50", "0.1", "0.3"),
            "thermometer": errors.spec("degC", "110", "0.1", "0.5"),
        },
    )
    g1, g2 = (INH2O * errors.read("gauge", p, 0.1, 0.3) for p in (14.0, 8.0))
    t1, t2 = (273.15 + errors.read("degC", t, 0.1, 0.5) for t in (20.0, 20.4))
    # barometer +/- 500 Pa: 10 Pa of it each reading's own, the rest the same
    rest = math.sqrt(500**2 / 3 - 10**2 / 3)
    offset = errors.about(0.0, rest)
    air = AIR + offset + errors.within(0.0, 10)
    if at_end:
        air_2 = 101125.0 + offset + errors.within(0.0, 10)
    else:
        air_2 = air + errors.about(0.0, math.sqrt((2 * 10**2 + 10**2) / 3))
    p1, p2 = air + g1, (air_2 + g2) * t1 / t2
    volume, time = errors.about(0.040, 0.0004), errors.within(120.0, 1.0)
    coefficient = errors.within(0.7, 0.1)
    # the square-root law of a low pressure, 0.1 % off at 14 inH2O
    root = np.sqrt(p1 - air) - np.sqrt(np.maximum(p2 - air, 1.0))
    density = air * 0.0289647 / (R * t1)
    area = 2 * volume * root / (time * coefficient * air * np.sqrt(2 / density))
    draws = {
        "end pressure": p2 - air,
        "pressure loss": p1 - p2,
        "leak rate": volume * (p1 - p2) / time,
        "equivalent diameter": np.sqrt(4 * area / math.pi),
    }
    agree(computed("seal-hold", inputs, name), [draws[name]])


@BOTH
@pytest.mark.parametrize(
    "name", ["flow", "effective leak diameter", "orifice diameter"]
)
def test_flow_at_pressure(shared, name):
    errors = Errors(shared=shared)
    inputs = given(
        {
            "flow": "0.60 L/min",
            "blank flow": "0.20 L/min",
            "inlet pressure": "3.50 kPa (gauge)",
        },
        {
            "gas temperature": "20.0 degC",
            "barometer": "1013.25 hPa",
            "gas": "nitrogen",
            "standard temperature": "20 degC",
            "specified pressure": "3.4 kPa",
        },
        {
            "meter": errors.spec("L/min", "2", "0.01", "0.02"),
            "gauge": errors.spec("kPa (gauge)", "10", "0.01", "0.05"),
            "thermometer": errors.spec("degC", "110", "0.1", "0.5"),
        },
    )
    both = [errors.read("meter", v, 0.01, 0.02) for v in (0.60, 0.20)]
    flow = (both[0] - both[1]) / 60000
    above = 1000 * errors.read("gauge", 3.5, 0.01, 0.05)
    kelvin = 273.15 + errors.read("degC", 20.0, 0.1, 0.5)
    air = errors.within(AIR, 500)
    coefficient = errors.within(0.7, 0.1)
    square = above * (above + 2 * air) / 1e6
    # a small pressure: m = Cd A sqrt(2 rho dp); its expansion moves no uncertainty
    density, standard = 0.0289647 * 0.967 / R, AIR * 0.0289647 * 0.967 / (R * 293.15)
    mass_area = np.sqrt(2 * density * air / kelvin * above)
    area = flow * standard / mass_area / coefficient
    draws = {
        "flow": flow * np.sqrt(3400 / above),
        "effective leak diameter": 0.0254
        * 7.844
        * (flow / np.sqrt(square / (0.967 * kelvin))) ** 0.5057,
        "orifice diameter": np.sqrt(4 * area / math.pi),
    }
    (value,) = computed("flow-at-pressure", inputs, name)
    if name == "orifice diameter":
        value *= float(np.mean(draws[name])) / value_of(value)
    agree([value], [draws[name]])


@BOTH
def test_winding(shared):
    errors = Errors(shared=shared)
    inputs = given(
        {"resistance": "2.40 ohm", "lead resistance": "0.30 ohm"},
        {"winding temperature": "65.0 degC", "conductor": "copper"},
        {
            "meter": errors.spec("ohm", "40", "0.01", "0.10"),
            "thermometer": errors.spec("degC", "110", "0.1", "2"),
        },
    )
    both = [errors.read("meter", v, 0.01, 0.10) for v in (2.40, 0.30)]
    celsius = errors.read("degC", 65.0, 0.1, 2)
    draws = (both[0] - both[1]) / (1 + 0.00393 * (celsius - 20))
    name = "resistance at reference temperature"
    agree(computed("winding", inputs, name), [draws])


@BOTH
@pytest.mark.parametrize(
    "name", ["voltage drop at rated current", "resistance of the path"]
)
def test_voltage_drop(shared, name):
    errors = Errors(shared=shared)
    inputs = given(
        {"voltage drop": "0.200 V", "load current": "100.0 A"},
        {"rated current": "150 A"},
        {
            "meter": errors.spec("V", "2", "0.001", "0.005"),
            "clamp": errors.spec("A", "200", "0.1", "2"),
        },
    )
    volts = errors.read("V", 0.2, 0.001, 0.005)
    amps = errors.read("A", 100.0, 0.1, 2)
    factor = 150 if name.startswith("voltage") else 1
    agree(computed("voltage-drop", inputs, name), [factor * volts / amps])


@BOTH
def test_temperature_sensor(shared):
    errors = Errors(shared=shared)
    inputs = given(
        {
            "sensor resistance": each("12535 3588 ohm"),
            "bath temperature": each("20.0 50.0 degC"),
        },
        {"curve": "beta", "resistance at 25 celsius": "10 kohm", "beta": "3950 K"},
        {
            "meter": errors.spec("ohm", "40000", "1", "40"),
            "thermometer": errors.spec("degC", "110", "0.1", "0.5"),
        },
    )
    draws = []
    for ohm, celsius in ((12535, 20.0), (3588, 50.0)):
        read = errors.read("ohm", ohm, 1, 40)
        by_curve = 1 / (1 / 298.15 + np.log(read / 10000) / 3950)
        draws.append(by_curve - 273.15 - errors.read("degC", celsius, 0.1, 0.5))
    agree(computed("temperature-sensor", inputs, "temperature error"), draws)


@BOTH
@pytest.mark.parametrize("name", ["output error", "departure from a straight line"])
def test_linear_transfer(shared, name):
    errors = Errors(shared=shared)
    x, y = (20.0, 40.0, 60.0, 80.0, 100.0), (0.79, 1.59, 2.41, 3.20, 3.99)
    inputs = given(
        {
            "stimulus": each("20 40 60 80 100 kPa (absolute)"),
            "output": each("0.79 1.59 2.41 3.20 3.99 V"),
        },
        {
            "specified stimulus low": "20 kPa (absolute)",
            "specified stimulus high": "100 kPa (absolute)",
            "specified output low": "0.8 V",
            "specified output high": "4.0 V",
        },
        {
            "pump": errors.spec("kPa (absolute)", "200", "0.1", "0.3"),
            "meter": errors.spec("V", "20", "0.01", "0.02"),
        },
    )
    xs = np.array([errors.read("pump", v, 0.1, 0.3) for v in x])
    ys = np.array([errors.read("meter", v, 0.01, 0.02) for v in y])
    if name == "output error":
        draws = ys - (0.8 + 0.04 * (xs - 20))
    else:
        mean_x, mean_y = xs.mean(axis=0), ys.mean(axis=0)
        slope = ((xs - mean_x) * (ys - mean_y)).sum(axis=0)
        slope /= ((xs - mean_x) ** 2).sum(axis=0)
        draws = ys - mean_y - slope * (xs - mean_x)
    agree(computed("linear-transfer", inputs, name), draws)


@BOTH
@pytest.mark.parametrize("name", ["lowest to highest", "deviation from the median"])
def test_balance(shared, name):
    errors = Errors(shared=shared)
    numbers = (168.0, 182.0, 155.0, 175.0, 126.0, 161.0)
    inputs = given(
        {"reading of each member": [q(f"{n:g} psi (gauge)") for n in numbers]},
        {},
        {"gauge": errors.spec("psi (gauge)", "300", "1", "3")},
    )
    drawn = np.array([errors.read("gauge", n, 1, 3) for n in numbers])
    ratio = drawn[4] / drawn[1]
    deviations = drawn / ((drawn[0] + drawn[5]) / 2) - 1
    draws = [ratio] if name == "lowest to highest" else deviations
    agree(computed("balance", inputs, name), draws)


@BOTH
@pytest.mark.parametrize(
    ("name", "wanted"),
    [("pressure at end", 1), ("loss of pressure", 0)],
)
def test_stored_energy(shared, name, wanted):
    errors = Errors(shared=shared)
    inputs = given(
        {"pressure": each("58.0 57.0 55.0 psi (gauge)"), "hold time": "300 s"},
        {"temperature": "40 degC"},
        {
            "gauge": errors.spec("psi (gauge)", "300", "0.5", "3"),
            "thermometer": errors.spec("degC", "110", "0.1", "0.5"),
        },
    )
    first, last = (errors.read("gauge", p, 0.5, 3) for p in (58.0, 55.0))
    draws = 6894.757293168361 * (last if wanted else first - last)
    agree(computed("stored-energy", inputs, name), [draws])


@BOTH
def test_a_mean_shares_the_error_of_its_meter(shared):
    errors = Errors(shared=shared)
    inputs = given(
        {"current": each("30 30 30 30 mA")},
        {"time since shutdown": "60 min", "time until asleep": "40 min"},
        {"clamp": errors.spec("mA", "1000", "1", "2")},
    )
    draws = errors.read("clamp", 30.0, 1, 2) / 1000
    agree(computed("stored-energy", inputs, "mean current"), [draws])


@BOTH
def test_the_difference_from_a_known_good_part(shared):
    errors = Errors(shared=shared)
    inputs = given(
        {"resistance": "14.00 ohm"},
        {"winding temperature": "65.0 degC", "conductor": "copper"},
        {
            "meter": errors.spec("ohm", "40", "0.01", "0.10"),
            "thermometer": errors.spec("degC", "110", "0.1", "2"),
        },
        known_good=KnownGood("spare", {"resistance": q("12.00 ohm")}),
    )
    test = KINDS["winding"]
    one = Readings(test.needs, inputs)
    two = one.of_known_good(inputs.known_good)
    name = "resistance at reference temperature"
    values = []
    for readings in (one, two):
        values += test.compute(readings).named(name).values
    both = [errors.read("meter", v, 0.01, 0.10) for v in (14.0, 12.0)]
    celsius = errors.read("degC", 65.0, 0.1, 2)  # read once, for both
    draws = (both[0] - both[1]) / (1 + 0.00393 * (celsius - 20))
    agree([values[0] - values[1]], [draws])
