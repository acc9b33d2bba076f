"""Uncertainty budgets: published ones, through a kind of test; and that they add up.

GUM is JCGM 100:2008; EA-4/02 M:2022. Inputs and printed values are from memory.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from bench_inputs import GAUGE, THERMOMETER, each, given, instrument, limit

from auditkit.bench import KINDS, Accuracy, BenchResult, TestKind
from auditkit.bench.computed import Computation, Computed, Judged
from auditkit.bench.instrument import of_certificate, of_resolution, rectangular
from auditkit.bench.readings import Readings
from auditkit.bench.source import Distribution, Source
from auditkit.bench.uncertainty import Origin, Uncertain, few_readings_factor
from auditkit.bench.units import QuantityKind

NM = 1e-9
LENGTH = Judged("length", QuantityKind.LENGTH, "mm")
ERROR = Judged("error of the meter", QuantityKind.VOLTAGE, "V")


def evaluated(judged: Judged, compute) -> BenchResult:
    """Return what a kind says that reads nothing and knows its inputs itself."""

    def computation(readings: Readings) -> Computation:
        return Computation((Computed(judged, (compute(readings),)),))

    kind = TestKind(
        name="published",
        title="Published example",
        readings=(),
        conditions=(),
        judges=(judged,),
        refuses=(),
        source="from memory",
        compute=computation,
    )
    return kind.evaluate(given({}, {}, {}))


def gauge_block(readings: Readings) -> Uncertain:
    """GUM H.1: l = l_S + d - l_S (da t + a dt), in m and K."""

    def add(name, value, u, origin, dof):
        return readings.budget.input(name, value, u, origin, dof=dof)

    standard = add("standard", 50.000623e-3, 25 * NM, Origin.INSTRUMENT, 18)
    apart = add("difference", 215 * NM, 9.7 * NM, Origin.REPEAT, 25.6)
    expansion = add("expansions apart", 0.0, 0.58e-6, Origin.METHOD, 50)
    warmth = add("temperatures apart", 0.0, 0.029, Origin.METHOD, 2)
    temperature = add("temperature", -0.1, 0.41, Origin.METHOD, math.inf)
    coefficient = add("expansion", 11.5e-6, 1.2e-6, Origin.METHOD, math.inf)
    return (
        standard + apart - standard * (expansion * temperature + coefficient * warmth)
    )


def test_gum_h1_the_budget_of_an_end_gauge():
    # Table H.1: 25, 9.7, 2.9, 16.6 nm, temperature and expansion 0; u 32 nm, 16.7
    # degrees of freedom; H.1.5: l = 50.000838 mm.
    found = evaluated(LENGTH, gauge_block)
    assert float(found.result.value.text) == pytest.approx(50.000838, abs=1e-9)
    rows = {c.name: (c.standard_uncertainty * 1e6, c.dof) for c in found.components}
    assert rows == {
        "standard": (pytest.approx(25, abs=0.01), 18),
        "temperatures apart": (pytest.approx(16.6, abs=0.1), 2),
        "difference": (pytest.approx(9.7, abs=0.01), 25.6),
        "expansions apart": (pytest.approx(2.9, abs=0.05), 50),
    }
    assert list(rows) == [
        "standard",
        "temperatures apart",
        "difference",
        "expansions apart",
    ]
    assert [c.evaluation for c in found.components] == ["B", "B", "A", "B"]
    u = float(found.result.standard_uncertainty.text) * 1e6
    assert u == pytest.approx(32, abs=0.5)
    assert found.effective_dof == pytest.approx(16.7, abs=0.15)


def test_ea_4_02_s9_the_budget_of_a_multimeter():
    # S9, table: 0.029, 0.001 and 0.0064 V; error 0.1 V, u 0.030 V.
    flat, normal = Distribution.RECTANGULAR, Distribution.NORMAL

    def error(readings: Readings) -> Uncertain:
        def add(name, value, u, shape):
            source = Source(name, value, u, "V", shape, "as the example says")
            return readings.budget.input(name, value, u, Origin.INSTRUMENT, source)

        shown = add("shown", 100.1, of_resolution(0.1), flat)
        source = add("source", 100.0, of_certificate(0.002, 2), normal)
        return shown - source - add("drift", 0.0, rectangular(0.011), flat)

    found = evaluated(ERROR, error)
    assert found.result.value.text == "0.100"
    assert float(found.result.standard_uncertainty.text) == pytest.approx(
        0.030, abs=5e-4
    )
    rows = [
        (c.name, round(c.standard_uncertainty, 4), c.sensitivity, s.distribution)
        for c in found.components
        for s in c.sources
    ]
    one = pytest.approx(1)
    assert rows == [
        ("shown", 0.0289, one, "rectangular"),
        ("drift", 0.0064, one, "rectangular"),
        ("source", 0.001, one, "normal"),
    ]


def coil(meter, *readings: str) -> BenchResult:
    inputs = given(
        {"resistance": each(f"{' '.join(readings)} ohm")},
        {"winding temperature": "65 degC", "conductor": "copper"},
        {"meter": meter, "thermometer": THERMOMETER},
        limit=limit("ohm", "11", "13"),
    )
    return KINDS["winding"].evaluate(inputs)


PERCENT = Accuracy(percent_of_reading=1, digits=2)


def test_the_rows_of_a_winding_say_where_they_come_from():
    # 14.00 ohm at 65 degC -> 11.896 ohm at 20 degC: 1/(1 + 0.00393 * 45) = 0.849726,
    # and -14 * 0.00393 * 0.849726^2 = -0.039726 ohm per degC. By hand.
    meter = instrument("ohm", "40", "0.01", "0", accuracy=PERCENT, certificate_u=0.02)
    found = coil(meter, "14.00")
    rows = {c.name: c for c in found.components}
    assert rows["resistance by meter"].sensitivity == pytest.approx(0.849726, abs=1e-6)
    warmth = rows["winding temperature by thermometer"]
    assert warmth.sensitivity == pytest.approx(0.039726, abs=1e-6)
    (source,) = warmth.sources
    assert (source.value, source.unit) == (pytest.approx(65), "degC")
    assert source.standard_uncertainty == pytest.approx(0.1 / math.sqrt(12))
    (limits,) = rows["specification of meter"].sources
    assert limits.standard_uncertainty == pytest.approx(0.14 / math.sqrt(3))
    assert (limits.value, limits.instrument) == (0.0, "meter")
    (calibration,) = rows["certificate of meter"].sources
    assert calibration.standard_uncertainty == pytest.approx(0.01)
    assert calibration.distribution is Distribution.NORMAL
    assert rows["resistance by meter"].sources[0].distribution is Distribution.SUM


def test_few_readings_are_type_a_with_their_degrees_of_freedom():
    # Mean 12.1, s = sqrt(0.02/3): by hand.
    found = coil(
        instrument("ohm", "40", "0.01", "0.05"), "12.0", "12.2", "12.1", "12.1"
    )
    (scatter,) = (c for c in found.components if c.evaluation == "A")
    (source,) = scatter.sources
    assert scatter.dof == 3
    assert source.value == pytest.approx(12.1)
    u = few_readings_factor(3, 0.05) * math.sqrt(0.02 / 3 / 4)
    assert source.standard_uncertainty == pytest.approx(u)
    assert scatter.sensitivity == pytest.approx(0.849726, abs=1e-6)
    assert math.isfinite(found.effective_dof)


def hold(**more):
    return given(
        {
            "start pressure": "14.0 inH2O",
            "end pressure": "8.5 inH2O",
            "hold time": "120 s",
        },
        {
            "pressure reference": "gauge",
            "start temperature": "20 degC",
            "end temperature": "20.1 degC",
            "barometer": "1013.25 hPa",
        },
        {"gauge": replace(GAUGE, **more), "thermometer": THERMOMETER},
        limit=limit("inH2O", high="5", of="pressure loss"),
    )


def test_what_one_instrument_shares_is_one_row_of_all_its_readings():
    found = KINDS["seal-hold"].evaluate(hold())
    rows = {c.name: c for c in found.components}
    shared = rows["specification of thermometer"]
    assert [s.quantity for s in shared.sources] == [
        "start temperature",
        "end temperature",
    ]
    assert shared.sensitivity is not None
    # 1 % of the reading is another error at 14 than at 8.5: it has no one sensitivity.
    percent = KINDS["seal-hold"].evaluate(hold(accuracy=Accuracy(percent_of_reading=1)))
    shared = {c.name: c for c in percent.components}["specification of gauge"]
    assert [s.quantity for s in shared.sources] == ["start pressure", "end pressure"]
    assert (shared.input_uncertainty, shared.sensitivity) == (None, None)
    # What the end pressure alone decides hangs on no start pressure.
    at_end = replace(hold(), limit=limit("inH2O", low="8", of="end pressure"))
    parts = {c.name: c for c in KINDS["seal-hold"].evaluate(at_end).components}
    (source,) = parts["specification of gauge"].sources
    assert source.quantity == "end pressure"
