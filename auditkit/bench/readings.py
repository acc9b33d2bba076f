"""Readings and conditions as numbers in SI units, with their uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction

from auditkit.bench.inputs import (
    BenchInput,
    HowKnown,
    Need,
    instrument_for,
    instrument_unit,
    si_exact,
    unit_for,
)
from auditkit.bench.instrument import of_resolution, rectangular
from auditkit.bench.uncertainty import Budget, Origin, Uncertain, value_of
from auditkit.bench.units import (
    QuantityKind,
    Reference,
    Unit,
    absolute,
    from_si,
    si_value,
)
from auditkit.errors import InputError
from auditkit.text.values import Bound, Quantity

BAROMETER = "barometer"


class Readings:
    """Hands out the values of one test; each asked for twice is the same input."""

    def __init__(self, needs: Iterable[Need], inputs: BenchInput) -> None:
        self._needs = {need.name: need for need in needs}
        self._inputs = inputs
        self._made: dict[str, Uncertain] = {}
        self.budget = Budget()

    @property
    def alpha(self) -> float:
        """The risk of a wrong verdict that the test was given."""
        return self._inputs.alpha

    def has(self, name: str) -> bool:
        """Return whether a value or a word was given under this name."""
        return bool(self._inputs.quantities(name) or self._inputs.word(name))

    def word(self, name: str) -> str:
        """Return a condition that is a word."""
        return self._inputs.word(name)

    def unit(self, name: str) -> Unit:
        """Return the unit in which a value was written (the first, of several)."""
        quantity = self._inputs.quantities(name)[0]
        return unit_for(self._inputs, self._needs[name], quantity)

    def one(self, name: str) -> Uncertain:
        """Return a single value in SI; the mean, where it was read repeatedly.

        The instrument's error is that at the mean, in whatever order it was read.
        """
        if name not in self._made:
            self._made[name] = self._one(name)
        return self._made[name]

    def positive(self, name: str) -> Uncertain:
        """Return a single value in SI that cannot be 0 or less."""
        number = self.one(name)
        if value_of(number) <= 0:
            message = f"{name} is not above zero"
            raise InputError(message, what_to_do="look at its unit and its sign")
        return number

    def _one(self, name: str) -> Uncertain:
        quantities = self._inputs.quantities(name)
        need = self._needs[name]
        if not quantities and need.default and need.slack is not None:
            u = rectangular(float(need.slack))
            return self.budget.input(name, float(need.default), u, Origin.METHOD)
        if not quantities:
            message = f"{name} is missing"
            raise InputError(message, what_to_do="give it")
        if any(quantity.bound for quantity in quantities):
            return self._nearest(name, quantities)
        values = [self._exact(name, quantity) for quantity in quantities]
        centre = sum(values, Fraction(0)) / len(values)
        read = self._with_errors(name, self.unit(name), centre)
        if len(values) == 1:
            return read
        each = [float(value) for value in values]
        scattered = self.budget.mean(name, each, self._inputs.alpha)
        return scattered + (read - float(centre))

    def _nearest(self, name: str, quantities: tuple[Quantity, ...]) -> Uncertain:
        """Return the bound that all readings of one value leave.

        Raises InputError where some were beyond the range and others were not.
        """
        bounds = {quantity.bound for quantity in quantities}
        if len(bounds) > 1:
            message = f"{name}: some readings lie beyond the range, others do not"
            what_to_do = "find what is loose or wrong, then read it again"
            raise InputError(message, what_to_do=what_to_do)
        (bound,) = bounds
        values = [self._exact(name, quantity) for quantity in quantities]
        end = min(values) if bound == "above" else max(values)
        read = self._with_errors(name, self.unit(name), end)
        return self.budget.bounded(read, bound)

    def series(self, name: str) -> tuple[Uncertain, ...]:
        """Return a series in SI, each value with errors of its own.

        That is on the safe side for differences within a series; for its mean use
        ``mean``.
        """
        need, found = self._needs[name], self._inputs.quantities(name)
        return tuple(
            self.budget.bounded(
                self._with_errors(
                    name,
                    unit_for(self._inputs, need, quantity),
                    self._exact(name, quantity),
                    f" ({place})",
                ),
                quantity.bound,
            )
            for place, quantity in enumerate(found, 1)
        )

    def bounds(self, name: str) -> tuple[Bound, ...]:
        """Return of each value of a series on which side of it the true one lies."""
        return tuple(quantity.bound for quantity in self._inputs.quantities(name))

    def mean(self, name: str) -> Uncertain:
        """Return the mean of a series with the error of its instrument in common."""
        return self.one(name)

    def pascals(self, name: str, barometer: str = BAROMETER) -> Uncertain:
        """Return a pressure as absolute, by the barometer where that is needed."""
        return self.absolute(name, self.one(name), barometer)

    def absolute(
        self, name: str, value: Uncertain, barometer: str = BAROMETER
    ) -> Uncertain:
        """Return ``value``, read like the pressure ``name``, as absolute."""
        reference = self.unit(name).reference
        air = self.one(barometer) if self.has(barometer) else None
        if air is not None and self.unit(barometer).reference != Reference.ABSOLUTE:
            message = f"{barometer}: a barometer shows an absolute pressure"
            raise InputError(message, what_to_do="write it without (gauge) or (vacuum)")
        return absolute(value, reference, air)

    def _exact(self, name: str, quantity: Quantity) -> Fraction:
        unit = unit_for(self._inputs, self._needs[name], quantity)
        return si_exact(quantity, unit)

    def _with_errors(
        self, name: str, unit: Unit, exact: Fraction, place: str = ""
    ) -> Uncertain:
        """Return an SI value, written in ``unit``, with the errors of its need."""
        need = self._needs[name]
        value = float(exact)
        if need.given is HowKnown.EXACT:
            return value
        found = instrument_for(self._inputs, need, unit)
        if found is None:
            u = self._stated(need, unit)
            return self.budget.input(f"{name}{place}", value, u, Origin.METHOD)
        instrument_id, instrument = found
        shown = instrument_unit(instrument, unit)
        scale = float(shown.factor)
        accuracy = instrument.accuracy_at(from_si(exact, shown)) * scale
        step = of_resolution(float(instrument.resolution)) * scale
        label = f"{name}{place} by {instrument_id}"
        u = math.hypot(accuracy, step)
        return self.budget.input(label, value, u, Origin.INSTRUMENT)

    def _stated(self, need: Need, unit: Unit) -> float:
        """Return the stated standard uncertainty, else that of the slack, in SI."""
        stated = self._inputs.quantities(f"uncertainty of {need.name}")
        if stated:
            kind = (
                QuantityKind.TEMPERATURE_DIFFERENCE
                if unit.kind is QuantityKind.TEMPERATURE
                else unit.kind
            )
            return abs(float(si_value(stated[0], kind)))
        if need.slack is None:
            message = f"{need.name} has no uncertainty"
            raise InputError(
                message,
                what_to_do=f"give its standard uncertainty as the condition "
                f"'uncertainty of {need.name}'",
            )
        return rectangular(float(need.slack))
