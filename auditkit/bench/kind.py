"""A kind of bench test, and how every kind comes from readings to a result.

A kind says what it needs and computes; the gates, the choice of the judged quantity,
the decision and its words are the same for all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import ClassVar

from auditkit.bench import gates
from auditkit.bench.claims import doubtful_claims
from auditkit.bench.comparison import compare_with_known_good
from auditkit.bench.computed import Computation, Computed, Decided, Judged
from auditkit.bench.decision import BenchOutcome, check_alpha
from auditkit.bench.diagram import Diagram
from auditkit.bench.diagrams.beside_limit import beside_limit
from auditkit.bench.inputs import BenchInput, Limit, Need
from auditkit.bench.judging import judgement_of, with_verdict
from auditkit.bench.one_sided import difference_known
from auditkit.bench.readings import Readings
from auditkit.bench.result import BenchResult, KnownGoodComparison, StatedQuantity
from auditkit.bench.same_units import problems_of_units
from auditkit.bench.uncertainty import effective_dof, uncertainty_of, value_of
from auditkit.bench.unchecked import as_typed, why_unchecked
from auditkit.bench.units import Unit, columns_said, unit_of
from auditkit.errors import InputError

Compute = Callable[[Readings], Computation]
Draw = Callable[[Readings, Computation, Computed, Limit | None], Diagram | None]
"""Readings, what was computed of them, which of it is judged, by which limit."""

NOT_GOOD = "look at set-up, limit and instrument, and at what the good part is"
NEEDS_A_LIMIT = "a limit with its source, from the vehicle maker's information"


@dataclass(frozen=True, slots=True, eq=False)
class TestKind:
    """One kind of bench test.

    ``judges`` is what it can judge, ``refuses`` what it will not do, in words;
    ``hazards`` are ids of the cautions that such a test calls for on any part.
    ``compute`` turns readings into values in SI; it raises InputError for what makes
    the test not valid. ``draw`` gives the diagram of what was computed; without it, and
    where it returns None, the result is shown beside its limit. Without
    ``needs_limit`` it decides by a rule of its own.
    """

    __test__: ClassVar[bool] = False  # its name begins as a test function's does

    name: str
    title: str
    readings: tuple[Need, ...]
    conditions: tuple[Need, ...]
    judges: tuple[Judged, ...]
    refuses: tuple[str, ...]
    source: str
    compute: Compute = field(repr=False)
    draw: Draw | None = field(default=None, repr=False)
    hazards: tuple[str, ...] = ()
    needs_limit: bool = True

    @property
    def needs(self) -> tuple[Need, ...]:
        """Readings and conditions together."""
        return (*self.readings, *self.conditions)

    def evaluate(self, inputs: BenchInput) -> BenchResult:
        """Return what the test says; never raises for what was read or written."""
        why = dict(why_unchecked(self.needs, inputs))
        return as_typed(self._evaluated(inputs, by_value=bool(why)), why)

    def _evaluated(self, inputs: BenchInput, *, by_value: bool) -> BenchResult:
        empty = BenchResult(
            self.name, BenchOutcome.NOT_VALID, inputs.alpha, "", inputs.limit
        )
        reasons = self._problems(inputs)
        if reasons:
            hints = tuple(dict.fromkeys(filter(None, reasons.values())))
            return replace(empty, reasons=tuple(reasons), settles=hints)
        try:
            check_alpha(inputs.alpha)
            found = self._judged(inputs, empty, by_value=by_value)
        except InputError as error:
            return replace(empty, reasons=(str(error),))
        columns = columns_said(unit for unit in self._units(inputs))
        return replace(
            found,
            notes=(*found.notes, *columns),
            doubts=tuple(doubtful_claims(inputs)),
        )

    def _units(self, inputs: BenchInput) -> Iterator[str]:
        """Yield every unit in which a value or the limit was written."""
        for need in self.needs:
            yield from (quantity.unit for quantity in inputs.quantities(need.name))
        if inputs.limit is not None:
            yield inputs.limit.unit

    def _problems(self, inputs: BenchInput) -> dict[str, str]:
        """Return why inputs make a test not valid, each with what to do."""
        reasons = dict(gates.problems_of_inputs(self.needs, inputs))
        units = problems_of_units(self.needs, inputs)
        return reasons or dict.fromkeys(units, "")

    def _judged(
        self, inputs: BenchInput, empty: BenchResult, *, by_value: bool
    ) -> BenchResult:
        """Return the result of inputs that passed the gates."""
        readings = Readings(self.needs, inputs)
        computation = self.compute(readings)
        if computation.decided is not None:
            return _by_own_rule(inputs, empty, computation, computation.decided)
        lacking = tuple(gates.problems_of_limit(inputs.limit))
        limit = None if lacking else inputs.limit
        computation = computation.with_bounds(readings.budget.known)
        computed = self.chosen(limit, computation)
        unit = computed.unit_against(limit)
        judgement = limit and judgement_of(
            computed, unit, limit, inputs.alpha, by_value=by_value
        )
        worst = judgement.worst if judgement else 0
        factor = float(unit.factor)
        components = readings.budget.components(computed.values[worst], factor)
        comparison, no_comparison = self._comparison(inputs, readings, computed, unit)
        result = replace(
            empty,
            result=computed.stated(worst, unit),
            components=components,
            effective_dof=effective_dof(components),
            others=_others(computation, computed),
            comparison=comparison,
            notes=(*computation.notes, *no_comparison),
        )
        if judgement:
            settles = computation.settles
            result = with_verdict(result, computed, unit, judgement, settles)
            return self._unless_good_part_fails(inputs, result)
        outcome = BenchOutcome.INCONCLUSIVE if comparison else BenchOutcome.NOT_VALID
        return replace(
            result, outcome=outcome, reasons=lacking, settles=(NEEDS_A_LIMIT,)
        )

    def diagram(self, inputs: BenchInput, result: BenchResult) -> Diagram | None:
        """Return the diagram of a test; None where nothing was computed.

        ``result`` is what this kind said of ``inputs``. A limit is in it only where the
        result was held against it.
        """
        if result.result is None:
            return None
        limit = result.limit if result.decision_rule else None
        if result.unchecked:
            return beside_limit({"this part": result.result}, limit)
        if self.draw is not None:
            readings = Readings(self.needs, inputs)
            computation = self.compute(readings)
            computation = computation.with_bounds(readings.budget.known)
            judged = self.chosen(limit, computation)
            if drawn := self.draw(readings, computation, judged, limit):
                return drawn
        results = {"this part": result.result}
        if inputs.known_good is not None and result.comparison is not None:
            same = replace(inputs.of_known_good(inputs.known_good), known_good=None)
            if other := self.evaluate(same).result:
                results["known-good part"] = other
        return beside_limit(results, limit)

    def _unless_good_part_fails(
        self, inputs: BenchInput, result: BenchResult
    ) -> BenchResult:
        """Return the result; not valid where the known-good part fails too."""
        good = inputs.known_good
        if good is None or result.outcome is BenchOutcome.NOT_VALID:
            return result
        found = self.evaluate(replace(inputs.of_known_good(good), known_good=None))
        if found.outcome is not BenchOutcome.FAULTY:
            return result
        reason = (
            f"the known-good part ({good.part}) fails the same limit: {found.result}"
        )
        return replace(
            result,
            outcome=BenchOutcome.NOT_VALID,
            probability=None,
            reasons=(reason,),
            settles=(NOT_GOOD,),
        )

    def chosen(self, limit: Limit | None, computation: Computation) -> Computed:
        """Return what a limit is on; without one, the first that was computed.

        Raises InputError where the limit is on nothing that this kind judges, or on
        what could not be computed.
        """
        if limit is None:
            return computation.values[0]
        kinds = {c.judged.kind for c in computation.values}
        fitting = [
            judged
            for judged in self.judges
            if limit.of == judged.name or (not limit.of and _fits(limit, judged))
        ]
        # A unit such as degC is one of two kinds: that which was measured comes first.
        fitting.sort(key=lambda judged: judged.kind not in kinds)
        if fitting:
            return computation.named(fitting[0].name)
        known = ", ".join(f"{c.name} ({c.judged.unit})" for c in computation.values)
        raise InputError(
            f"{self.title} judges no {limit.of or 'quantity'} in {limit.unit!r}",
            what_to_do=f"give a limit on what was measured: {known}",
        )

    def _comparison(
        self, inputs: BenchInput, readings: Readings, computed: Computed, unit: Unit
    ) -> tuple[KnownGoodComparison | None, tuple[str, ...]]:
        """Return the comparison with a known-good part, or why there is none."""
        good = inputs.known_good
        if good is None:
            return None, ()
        same = inputs.of_known_good(good)
        reasons = self._problems(same)
        if reasons:
            said = "; ".join(reasons)
            return None, (f"no comparison with the known-good part: {said}",)
        try:
            computation = self.compute(readings.of_known_good(good))
        except InputError as error:
            return None, (f"no comparison with the known-good part: {error}",)
        found = computation.with_bounds(readings.budget.known).named(computed.name)
        part, other = computed.values[0], found.values[0]
        if len(computed.values) != 1 or not uncertainty_of(part - other):
            why = "it takes one uncertain value of each"
            return None, (f"no comparison with the known-good part: {why}",)
        known = difference_known(computed.known_at(0), found.known_at(0))
        away = "above" if value_of(part - other) > 0 else "below"
        if known not in {"", away}:
            why = "a reading beyond its range leaves the difference open"
            return None, (f"no comparison with the known-good part: {why}",)
        made = compare_with_known_good(
            computed.name, unit, part, other, good.part, known
        )
        return made, ()


def _by_own_rule(
    inputs: BenchInput, empty: BenchResult, computation: Computation, found: Decided
) -> BenchResult:
    """Return the result of a kind that decides by its own rule, without a limit."""
    unused = {"the limit": inputs.limit, "the known-good part": inputs.known_good}
    notes = tuple(
        f"{name} was not used: this kind decides by a rule of its own"
        for name, given in unused.items()
        if given is not None
    )
    return replace(
        empty,
        outcome=found.outcome,
        limit=None,
        alpha=found.risk or inputs.alpha,
        decision_rule=found.rule,
        result=found.result,
        reasons=(found.reason,) if found.reason else (),
        settles=(found.settles,) if found.settles else (),
        notes=(*computation.notes, *notes),
    )


def _fits(limit: Limit, judged: Judged) -> bool:
    """Return whether a limit's unit is one of the judged kind of quantity."""
    try:
        unit_of(limit.unit, judged.kind)
    except InputError:
        return False
    return True


def _others(computation: Computation, chosen: Computed) -> tuple[StatedQuantity, ...]:
    """Return every point of what was computed beside the judged quantity."""
    return tuple(
        other.stated(place, other.unit_against(None))
        for other in computation.values
        if other is not chosen
        for place in range(len(other.values))
    )
