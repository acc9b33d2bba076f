"""Units of bench readings: exact factors, and what is never mixed.

Factors: NIST SP 811 Appendix B.8, from memory, to the digits printed there; each is
also what the unit's definition gives.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditkit.bench import units
from auditkit.bench.units import QuantityKind, Reference
from auditkit.errors import InputError
from auditkit.text.values import Quantity

BAROMETER = Fraction(101325)
PRESSURES = sorted(s for k, s in units.UNITS if k is QuantityKind.PRESSURE)
VALUES = st.decimals(-1000000, 1000000, places=6)


def si(text: str, unit: str, *kinds: QuantityKind) -> float:
    return float(units.si_value(Quantity(text, unit), *kinds))


@pytest.mark.parametrize(
    ("unit", "pascals"),
    [
        ("psi", 6894.757293168361),
        ("inHg", 3386.389),
        ("mmHg", 133.3224),
        ("Torr", 133.32236842105263),
        ("inH2O", 249.0889),
        ("cmH2O", 98.0665),
        ("bar", 1e5),
        ("mbar", 100),
        ("atm", 101325),
    ],
)
def test_pressure_units(unit, pascals):
    assert si("1", unit) == pytest.approx(pascals, rel=5e-7)


@pytest.mark.parametrize(
    ("unit", "si_value"),
    [
        ("lbf ft", 1.355818),
        ("lbf in", 0.1129848),
        ("kgf m", 9.80665),
        ("in", 0.0254),
        ("mil", 2.54e-5),
        ("US gal/min", 6.309020e-5),
        ("lb/min", 7.559873e-3),
        ("cfm", 4.719474e-4),
        ("MHz", 1e6),
    ],
)
def test_torques_lengths_and_flows(unit, si_value):
    # NIST SP 811 Appendix B.8, from memory, to the digits printed there.
    assert si("1", unit) == pytest.approx(si_value, rel=5e-7)


def test_inches_and_pounds_are_exact():
    # By definition: 0.45359237 kg x 9.80665 m/s2 over (0.0254 m)2, and so on.
    assert units.UNITS[QuantityKind.PRESSURE, "psi"].factor == Fraction(
        "4.4482216152605"
    ) / Fraction("0.00064516")
    assert units.UNITS[QuantityKind.PRESSURE, "inHg"].factor == Fraction(
        "3386.388640341"
    )
    assert units.UNITS[QuantityKind.PRESSURE, "inH2O"].factor == Fraction("249.08891")
    assert units.UNITS[QuantityKind.FLOW, "cfm"].factor == Fraction("0.0004719474432")
    assert units.UNITS[QuantityKind.VOLUME, "US gal"].factor == Fraction(
        "0.003785411784"
    )


def test_pressures_of_the_tests_in_the_trade():
    # Computed independently with another unit library and by hand.
    assert si("14", "inH2O") == pytest.approx(3487.24474, rel=1e-12)
    assert si("8", "inH2O") == pytest.approx(1992.71128, rel=1e-12)
    assert si("30", "inH2O") == pytest.approx(7472.6673, rel=1e-12)
    assert si("18", "inHg") == pytest.approx(60954.99552, rel=1e-8)
    assert si("20", "inHg") == pytest.approx(67727.7728, rel=1e-8)
    psi = units.unit_of("psi")
    for inches, pounds in (("14", 0.505782088), ("8", 0.289018336), ("30", 1.08381876)):
        value = units.convert(Fraction(inches), units.unit_of("inH2O"), psi)
        assert float(value) == pytest.approx(pounds, abs=1e-9)
    water = units.convert(Fraction("4.1"), units.unit_of("kPa"), units.unit_of("inH2O"))
    assert float(water) == pytest.approx(16.45998611, abs=1e-8)
    assert si("1", "bar") / si("1", "psi") == pytest.approx(14.503773773020923)


def test_a_leak_rate_in_other_units():
    # 1 Pa m3/s = 10 mbar L/s = 9.869232667160128 atm cm3/s, by definition.
    one = units.unit_of("Pa m3/s")
    assert units.convert(Fraction(1), one, units.unit_of("mbar L/s")) == 10
    atm = units.convert(Fraction(1), one, units.unit_of("atm cm3/s"))
    assert float(atm) == pytest.approx(9.869232667160128, rel=1e-15)


def test_temperatures_have_an_offset_and_their_differences_none():
    # Fixed points of the scales: 32 degF = 0 degC = 273.15 K, 212 degF = 100 degC.
    for text, unit in (("32", "degF"), ("0", "degC"), ("273.15", "K")):
        assert units.si_value(
            Quantity(text, unit), QuantityKind.TEMPERATURE
        ) == Fraction("273.15")
    fahrenheit = units.unit_of("degF", QuantityKind.TEMPERATURE)
    celsius = units.unit_of("degC", QuantityKind.TEMPERATURE)
    assert units.convert(Fraction(212), fahrenheit, celsius) == 100
    difference = QuantityKind.TEMPERATURE_DIFFERENCE
    step = units.unit_of("degF", difference)
    assert units.convert(Fraction(9), step, units.unit_of("K", difference)) == 5
    with pytest.raises(InputError, match="temperature difference"):
        units.convert(Fraction(9), step, celsius)


def test_other_kinds_are_refused():
    with pytest.raises(InputError, match="kPa is a unit of pressure, V one of voltage"):
        units.convert(Fraction(1), units.unit_of("kPa"), units.unit_of("V"))
    with pytest.raises(InputError, match="'kPa' is not a unit of voltage"):
        units.unit_of("kPa", QuantityKind.VOLTAGE)
    with pytest.raises(InputError, match="'furlong' is not a known unit"):
        units.unit_of("furlong")
    with pytest.raises(InputError, match="'V \\(gauge\\)' is not a known unit"):
        units.unit_of("V (gauge)")
    with pytest.raises(InputError, match="at which temperature"):
        units.unit_of("sccm")


@pytest.mark.parametrize("text", ["", "one", "nan", "Infinity", "1,5"])
def test_what_is_no_number_is_refused(text):
    with pytest.raises(InputError, match="not a number"):
        units.exact(text)


def test_a_pressure_says_what_it_is_measured_against():
    assert units.unit_of("inHg (vacuum)").reference is Reference.VACUUM
    assert units.unit_of("psig") == units.unit_of("psi (gauge)")
    assert units.unit_of("psia").reference is Reference.ABSOLUTE
    assert units.unit_of("kPa").reference is None
    assert str(units.unit_of("kPa (gauge)")) == "kPa (gauge)"


@given(st.sampled_from(sorted(units.UNITS)), st.data(), VALUES)
def test_a_round_trip_is_exact(key, data, value: Decimal):
    kind, symbol = key
    other = data.draw(st.sampled_from(sorted(s for k, s in units.UNITS if k is kind)))
    one, two = units.unit_of(symbol, kind), units.unit_of(other, kind)
    there = units.convert(Fraction(value), one, two)
    assert units.convert(there, two, one) == Fraction(value)


@given(st.sampled_from(sorted(units.UNITS)), st.sampled_from(sorted(units.UNITS)))
def test_two_kinds_never_convert(one, two):
    source, target = units.UNITS[one], units.UNITS[two]
    if source.kind is target.kind:
        assert units.convert(Fraction(1), source, target) is not None
    else:
        with pytest.raises(InputError, match="unit of"):
            units.convert(Fraction(1), source, target)


@given(
    st.sampled_from(PRESSURES),
    st.sampled_from(PRESSURES),
    st.sampled_from([None, *Reference]),
    st.sampled_from([None, *Reference]),
    VALUES,
)
def test_references_are_never_mixed(one, two, first, second, value):
    def made(symbol, reference):
        return units.unit_of(f"{symbol} ({reference})" if reference else symbol)

    if first is second:
        units.convert(Fraction(value), made(one, first), made(two, second))
    else:
        with pytest.raises(InputError, match="measured against"):
            units.convert(Fraction(value), made(one, first), made(two, second))


@given(st.sampled_from(list(Reference)), VALUES)
def test_absolute_needs_a_barometer_and_is_undone(reference, value):
    pascals = Fraction(value)
    if reference is Reference.ABSOLUTE:
        assert units.absolute(pascals, reference, None) == pascals
        return
    with pytest.raises(InputError):
        units.absolute(pascals, reference, None)
    if reference is Reference.DIFFERENTIAL:
        with pytest.raises(InputError):
            units.absolute(pascals, reference, BAROMETER)
        with pytest.raises(InputError):
            units.relative(pascals, reference, BAROMETER)
        return
    there = units.absolute(pascals, reference, BAROMETER)
    assert units.relative(there, reference, BAROMETER) == pascals


def test_vacuum_counts_down_from_the_barometer():
    assert units.absolute(Fraction(1000), Reference.VACUUM, BAROMETER) == 100325
    assert units.absolute(Fraction(1000), Reference.GAUGE, BAROMETER) == 102325
    with pytest.raises(InputError, match="not said to be gauge or absolute"):
        units.absolute(Fraction(1000), None, BAROMETER)


@pytest.mark.parametrize("text", ["inHg vacuum", "inHg vac", "inHg(vacuum)"])
def test_a_vacuum_is_written_as_the_trade_does(text):
    """20 inHg of vacuum is 20 inHg below the air around."""
    unit = units.unit_of(text)
    assert unit is units.unit_of("inHg (vacuum)")
    air = Fraction(101325)
    found = units.absolute(units.to_si(Fraction(20), unit), unit.reference, air)
    assert found == air - units.to_si(Fraction(20), units.unit_of("inHg"))


@pytest.mark.parametrize("unit", ["inHg", "inHg vac", "inHg (gauge)"])
def test_which_inch_of_mercury_is_meant_is_said_of_a_vacuum_too(unit):
    (said,) = units.columns_said([unit, "kPa gauge", "inH2O at 60 degF vacuum"])
    assert said.startswith("inHg is the conventional one")
