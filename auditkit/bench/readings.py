"""Readings and conditions as numbers in SI units, with their uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction

from auditkit.bench.inputs import (
    BenchInput,
    HowKnown,
    KnownGood,
    Need,
    instrument_for,
    instrument_unit,
    si_exact,
    unit_for,
)
from auditkit.bench.instrument import (
    ErrorsAt,
    Instrument,
    of_resolution,
    rectangular,
)
from auditkit.bench.source import Distribution, Source
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
    """Hands out the values of one test; a value asked for twice is one input."""

    def __init__(
        self, needs: Iterable[Need], inputs: BenchInput, beside: Readings | None = None
    ) -> None:
        self._needs = {need.name: need for need in needs}
        self._inputs = inputs
        self._beside = beside
        self._made: dict[str, Uncertain] = {}
        self._means: dict[str, Uncertain] = {}
        self.budget: Budget = beside.budget if beside else Budget()

    def of_known_good(self, good: KnownGood) -> Readings:
        """Return the values of the same test on the good part.

        The errors of the instruments are the same, and conditions that were not read
        again are the same values.
        """
        inputs = self._inputs.of_known_good(good)
        return Readings(self._needs.values(), inputs, beside=self)

    @property
    def alpha(self) -> float:
        """The risk of a wrong verdict that the test was given."""
        return self._inputs.alpha

    @property
    def _least_alpha(self) -> float:
        """The risk of one point, where the test has a series of points."""
        series = (n.name for n in self._needs.values() if n.at_least > 1)
        points = max((len(self._inputs.quantities(n)) for n in series), default=1)
        return self._inputs.alpha / max(points, 1)

    def has(self, name: str) -> bool:
        """Return whether a value or a word was given under this name."""
        return bool(self._inputs.quantities(name) or self._inputs.word(name))

    def word(self, name: str) -> str:
        """Return a condition that is a word."""
        return self._inputs.word(name)

    def written(self, name: str) -> tuple[str, ...]:
        """Return each value of this name as it was written, with its unit."""
        return tuple(str(quantity) for quantity in self._inputs.quantities(name))

    def unit(self, name: str) -> Unit:
        """Return the unit in which a value was written (the first, of several)."""
        quantity = self._inputs.quantities(name)[0]
        return unit_for(self._inputs, self._needs[name], quantity)

    def one(self, name: str) -> Uncertain:
        """Return a single value in SI; the mean, where it was read repeatedly.

        The instrument's error is that at the mean, in whatever order it was read.
        """
        if name not in self._made:
            shared = self._beside and self._beside.as_condition(name, self._inputs)
            self._made[name] = self._one(name) if shared is None else shared
        return self._made[name]

    def as_condition(self, name: str, other: BenchInput) -> Uncertain | None:
        """Return a condition that ``other`` has from this test; None where it has not.

        It is the same object there, not an equal one.
        """
        mine = self._inputs.conditions.get(name)
        taken = name not in other.readings and other.conditions.get(name) is mine
        return self.one(name) if mine is not None and taken else None

    def positive(self, name: str) -> Uncertain:
        """Return a single value in SI that cannot be 0 or less."""
        number = self.one(name)
        if value_of(number) <= 0:
            raise InputError(
                f"{name} is not above zero", what_to_do="look at its unit and its sign"
            )
        return number

    def _one(self, name: str) -> Uncertain:
        quantities = self._inputs.quantities(name)
        need = self._needs[name]
        if not quantities and need.default and need.slack is not None:
            u, value = rectangular(float(need.slack)), float(need.default)
            source = Source(
                name, value, u, "", Distribution.RECTANGULAR, "assumed: none was given"
            )
            return self.budget.input(name, value, u, Origin.METHOD, source)
        if not quantities:
            raise InputError(f"{name} is missing", what_to_do="give it")
        if any(quantity.bound for quantity in quantities):
            return self._nearest(name, quantities)
        values = [self._exact(name, quantity) for quantity in quantities]
        centre = sum(values, Fraction(0)) / len(values)
        read = self._with_errors(name, self.unit(name), centre)
        if len(values) == 1:
            return read
        each = [float(value) for value in values]
        mean = self._means.get(name)
        if mean is None:
            mean = self.budget.mean(name, each, self._least_alpha, self.unit(name))
        return mean + (read - float(centre))

    def together(self, *names: str) -> None:
        """Take these as read simultaneously, in order, where each was read as often.

        Then what makes them scatter together does so in the result (GUM H.2).
        """
        found = [self._inputs.quantities(name) for name in names]
        counts = {len(quantities) for quantities in found}
        if counts == {1} or len(counts) > 1 or any(q.bound for qs in found for q in qs):
            return
        series = [
            [float(self._exact(name, quantity)) for quantity in quantities]
            for name, quantities in zip(names, found, strict=True)
        ]
        units = [(name, self.unit(name)) for name in names]
        told = " and ".join(names)
        means = self.budget.means(told, series, self._least_alpha, units)
        self._means.update(zip(names, means, strict=True))

    def _nearest(self, name: str, quantities: tuple[Quantity, ...]) -> Uncertain:
        """Return the bound that all readings of one value leave.

        Raises InputError where some were beyond the range and others were not.
        """
        bounds = {quantity.bound for quantity in quantities}
        if len(bounds) > 1:
            raise InputError(
                f"{name}: some readings lie beyond the range, others do not",
                what_to_do="find what is loose or wrong, then read it again",
            )
        (bound,) = bounds
        values = [self._exact(name, quantity) for quantity in quantities]
        end = min(values) if bound == "above" else max(values)
        read = self._with_errors(name, self.unit(name), end)
        return self.budget.bounded(read, bound)

    def series(self, name: str) -> tuple[Uncertain, ...]:
        """Return a series in SI: the values share the errors of their instrument.

        Its resolution, and digits of its specification, each has for itself.
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
        """Return, for each value of a series, on which side of it the true one lies."""
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
        air = self.air(barometer) if self.has(barometer) else None
        return absolute(value, self.unit(name).reference, air)

    def air(self, barometer: str = BAROMETER) -> Uncertain:
        """Return the pressure of the air in Pa, absolute and above zero."""
        if self.unit(barometer).reference is not Reference.ABSOLUTE:
            raise InputError(
                f"{barometer}: a barometer shows an absolute pressure",
                what_to_do="write it without (gauge) or (vacuum)",
            )
        return self.positive(barometer)

    def _exact(self, name: str, quantity: Quantity) -> Fraction:
        unit = unit_for(self._inputs, self._needs[name], quantity)
        return si_exact(quantity, unit)

    def _with_errors(
        self, name: str, unit: Unit, exact: Fraction, place: str = ""
    ) -> Uncertain:
        """Return an SI value, written in ``unit``, with the errors of its kind."""
        need = self._needs[name]
        value = float(exact)
        if need.given is HowKnown.EXACT:
            return value
        found = instrument_for(self._inputs, need, unit)
        if found is None and not self._is_written_alone(need):
            return self._without_instrument(need, unit, value, place)
        if found is None or found[1].states_nothing:
            return self._by_digits(need, unit, value, place)
        name_of, instrument = found
        shown = instrument_unit(instrument, unit)
        scale = float(shown.factor)
        errors = instrument.errors_at(from_si(exact, shown))
        sources = _sources_of(f"{name}{place}", name_of, instrument, errors, shown)
        own = errors.own * scale
        label = f"{name}{place} by {name_of}"
        read = self.budget.input(label, value, own, Origin.INSTRUMENT, sources["own"])
        alone = read
        for what, u in (
            ("specification", errors.shared),
            ("certificate", instrument.certificate),
        ):
            if u:
                error = self.budget.shared(
                    f"{what} of {name_of}", Origin.INSTRUMENT, sources[what], alone
                )
                read += u * scale * error
        return read

    def _is_written_alone(self, need: Need) -> bool:
        """Return whether nothing says how far off a reading may be but its digits."""
        names = (need.name, *filter(None, (need.like,)))
        is_told = any(self._inputs.quantities(f"uncertainty of {n}") for n in names)
        is_read = need.given is HowKnown.MEASURED
        return is_read and need.slack is None and not is_told

    def _by_digits(self, need: Need, unit: Unit, value: float, place: str) -> Uncertain:
        """Return a value with what its digits leave open, the coarsest of its name.

        A number without decimals was read in ones.
        """
        step = max(
            float(Fraction(10) ** min(0, int(q.value.as_tuple().exponent)))
            for q in self._inputs.quantities(need.name)
        )
        scale, u = float(unit.factor), of_resolution(step)
        label = f"{need.name}{place}"
        shown = value / scale - float(unit.zero)
        source = Source(
            *(label, shown, u, str(unit), Distribution.RECTANGULAR),
            "digits as written: no instrument states its error",
        )
        return self.budget.input(label, value, u * scale, Origin.INSTRUMENT, source)

    def _without_instrument(
        self, need: Need, unit: Unit, value: float, place: str
    ) -> Uncertain:
        """Return a value with its stated uncertainty; what it shares, as shared."""
        u, distribution, basis = self._stated(need, unit)
        scale = float(unit.factor)
        label = f"{need.name}{place}"

        def source(estimate: float, spread: float, common: str = "") -> Source:
            told = f"{basis}{common}"
            return Source(
                label, estimate, spread / scale, str(unit), distribution, told
            )

        shown = value / scale - float(unit.zero)
        if need.own is None:
            return self.budget.input(label, value, u, Origin.METHOD, source(shown, u))
        own = min(u, rectangular(float(need.own)))
        read = self.budget.input(
            f"{need.name}, each reading",
            value,
            own,
            Origin.METHOD,
            source(shown, own, ", the part of each reading"),
        )
        rest = math.sqrt(u * u - own * own)
        if not rest:
            return read
        common = source(0.0, rest, ", the part that all readings share")
        name = need.like or need.name
        return read + rest * self.budget.shared(name, Origin.METHOD, common, read)

    def _stated(self, need: Need, unit: Unit) -> tuple[float, Distribution, str]:
        """Return the stated standard uncertainty, else that of the slack, in SI.

        With it how it is distributed, and how it is known.
        """
        names = (need.name, need.like) if need.like else (need.name,)
        all_stated = (self._inputs.quantities(f"uncertainty of {n}") for n in names)
        stated = next(filter(None, all_stated), ())
        if stated:
            kind = (
                QuantityKind.TEMPERATURE_DIFFERENCE
                if unit.kind is QuantityKind.TEMPERATURE
                else unit.kind
            )
            u = abs(float(si_value(stated[0], kind)))
            return u, Distribution.NORMAL, "standard uncertainty as stated with it"
        if need.slack is None:
            raise InputError(
                f"{need.name} has no uncertainty",
                what_to_do=f"give its standard uncertainty as the condition "
                f"'uncertainty of {need.name}'",
            )
        basis = "limits assumed: no instrument is named"
        return rectangular(float(need.slack)), Distribution.RECTANGULAR, basis


def _sources_of(
    quantity: str, name: str, instrument: Instrument, errors: ErrorsAt, unit: Unit
) -> dict[str, Source]:
    """Return what a reading owes to its instrument, in the instrument's unit."""

    def source(value: float, u: float, shape: Distribution, basis: str) -> Source:
        return Source(quantity, value, u, str(unit), shape, basis, name)

    flat = Distribution.RECTANGULAR
    digits = bool(instrument.accuracy.digits)
    step = "step of its display" + " and digits of its specification" * digits
    shape = Distribution.SUM if digits else flat
    coverage = f"{float(instrument.certificate_k):g}"
    return {
        "own": source(float(errors.reading), errors.own, shape, step),
        "specification": source(0.0, abs(errors.shared), flat, "its limits of error"),
        "certificate": source(
            0.0,
            instrument.certificate,
            Distribution.NORMAL,
            f"calibration certificate, U over k = {coverage}",
        ),
    }
