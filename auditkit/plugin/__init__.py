"""The one door for plugins: the hooks, and everything that a plugin may use.

A plugin is a module named by an entry point of the group ``auditkit``; it marks its
functions with ``hookimpl`` and imports nothing of auditkit but this module. What stands
in ``__all__`` may be used; each name is imported when it is first asked for.

It is long because each name stands in it thrice: for who checks types, as public, and
with its home.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

import pluggy

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from auditkit.bench import (
        Accuracy,
        BenchInput,
        BenchOutcome,
        BenchResult,
        Instrument,
        KnownGood,
        Limit,
        Need,
        TestKind,
    )
    from auditkit.bench.computed import Computation, Computed, Held, Judged, in_unit
    from auditkit.bench.diagram import (
        Axis,
        Chart,
        ChartDiagram,
        Level,
        Mark,
        Point,
        ScaleDiagram,
        ScaleItem,
        Segment,
        Series,
    )
    from auditkit.bench.diagrams.parts import limits_of, point
    from auditkit.bench.diagrams.points_and_line import MeasuredSeries, points_and_line
    from auditkit.bench.inputs import PRESSURE_REFERENCE, HowKnown
    from auditkit.bench.methods import methods_for
    from auditkit.bench.readings import BAROMETER, Readings
    from auditkit.bench.uncertainty import (
        Uncertain,
        propagated,
        uncertainty_of,
        value_of,
    )
    from auditkit.bench.units import QuantityKind, Reference, Unit, relative, unit_of
    from auditkit.errors import InputError
    from auditkit.inspection.jurisdiction import Jurisdiction
    from auditkit.inspection.jurisdiction_table import jurisdiction_of
    from auditkit.obd import Code, Monitor, Readout, SelfTest, decode, in_use, vin
    from auditkit.obd.code_table import (
        monitors_of,
        place_of,
        related,
        row_of,
        soonest_of,
        watch_of,
    )
    from auditkit.obd.comparison import clear_reasons, identity
    from auditkit.obd.parameters import (
        DISTANCE,
        LAMP_DISTANCE,
        LAMP_MINUTES,
        MINUTES,
        ODOMETER,
        WARM_UPS,
    )
    from auditkit.obd.readout import CodeStatus
    from auditkit.obd.rerun import Evidence, Grade, why_waiting
    from auditkit.obd.responders import SERVICES
    from auditkit.obd.still_wrong import still_wrong
    from auditkit.order.bears_on_part import (
        less_of_part,
        named_otherwise,
        not_of_part,
        places_named,
        quantity_of_another,
        read_elsewhere,
    )
    from auditkit.order.bench_event import (
        limit_key,
        result_of,
        same_limit,
    )
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.caution_table import caution_of
    from auditkit.order.cautions import Caution
    from auditkit.order.cleared_again import cleared_again
    from auditkit.order.copied_values import CopiedValues, copied_values
    from auditkit.order.corrections import AS_READ
    from auditkit.order.event_strength import why_typed
    from auditkit.order.event_text import (
        computed_text,
        event_name,
        kind_in_words,
        numbers_text,
    )
    from auditkit.order.events import Event, RepairOrder, SuspectPart
    from auditkit.order.failed_beside import (
        failed_beside,
        newest_typed,
        other_failures,
        typed_as_failed,
    )
    from auditkit.order.fault_back import speaks_against
    from auditkit.order.faults import (
        Fault,
        addressed,
        causes,
        faults_for,
        faults_of,
    )
    from auditkit.order.findings import Lacking, Problem, Severity, Shown
    from auditkit.order.hazards import (
        Called,
        engine_ran,
        every_caution_called,
        ran_while_off,
    )
    from auditkit.order.hold_times import held_otherwise, seconds_of
    from auditkit.order.how_acknowledged import how_acknowledged
    from auditkit.order.misfire_counts import misfires_at_zero
    from auditkit.order.not_counted import not_counted
    from auditkit.order.on_behalf import whose_word
    from auditkit.order.once import once
    from auditkit.order.owed_results import is_complete, owes_result
    from auditkit.order.own_counts import own_counts
    from auditkit.order.own_numbers import own_numbers
    from auditkit.order.part_tests import (
        as_it_was,
        asks_for_a_leak,
        outcome_of,
        outcomes_of,
        tests_before_work,
    )
    from auditkit.order.photographs import photographed
    from auditkit.order.preconditions import beyond, lacking
    from auditkit.order.questions import Question, part_subject
    from auditkit.order.rewritten_tests import (
        borne_out,
        good_taken_back,
        rewriting,
        rewritten_tests,
    )
    from auditkit.order.rule import Parameters, Rule, rule
    from auditkit.order.same_test import is_same_test
    from auditkit.order.self_test_evidence import (
        SelfTestResult,
        best_evidence,
        captured_at,
        failed_before,
        mids_of,
        outcomes_at,
        provable_codes,
        readout_of,
        readouts_after,
        readouts_of,
        results_after,
        same_place,
        typed_after,
        typed_of_none,
        typed_result,
        why_not_cleared,
    )
    from auditkit.order.since_clear import (
        cooled_too_soon,
        kept_since_clear,
        more_than_between,
        more_than_passed,
    )
    from auditkit.order.strength import Strength
    from auditkit.order.tool_clocks import strange_clock
    from auditkit.order.typed_again import why_not_typed_again
    from auditkit.order.typed_test import (
        typed_lacks,
        typed_outcome,
        typed_undecided,
        typed_units_differ,
        typed_within,
    )
    from auditkit.order.unchecked_tests import is_unchecked, states_another_error
    from auditkit.order.worked_on_after import done_before_last_repair
    from auditkit.text.tables import table_rows
    from auditkit.text.values import Bound, Json, Quantity, displayed, quantity

__all__ = [
    "AS_READ",
    "BAROMETER",
    "DISTANCE",
    "LAMP_DISTANCE",
    "LAMP_MINUTES",
    "MINUTES",
    "ODOMETER",
    "PRESSURE_REFERENCE",
    "SERVICES",
    "WARM_UPS",
    "Accuracy",
    "AskedAs",
    "Axis",
    "BenchInput",
    "BenchOutcome",
    "BenchResult",
    "Bound",
    "Called",
    "Catalogue",
    "Caution",
    "Chart",
    "ChartDiagram",
    "Code",
    "CodeStatus",
    "Computation",
    "Computed",
    "CopiedValues",
    "Event",
    "Evidence",
    "Fault",
    "Grade",
    "Held",
    "HowKnown",
    "InputError",
    "Instrument",
    "Json",
    "Judged",
    "Jurisdiction",
    "KnownGood",
    "Lacking",
    "Level",
    "Limit",
    "Mark",
    "MeasuredSeries",
    "Monitor",
    "Need",
    "Parameters",
    "Point",
    "Problem",
    "Quantity",
    "QuantityKind",
    "Question",
    "Readings",
    "Readout",
    "Reference",
    "RepairOrder",
    "Rule",
    "ScaleDiagram",
    "ScaleItem",
    "Segment",
    "SelfTest",
    "SelfTestResult",
    "Series",
    "Severity",
    "Shown",
    "Strength",
    "SuspectPart",
    "TestKind",
    "Uncertain",
    "Unit",
    "addressed",
    "as_it_was",
    "asks_for_a_leak",
    "best_evidence",
    "beyond",
    "borne_out",
    "captured_at",
    "causes",
    "caution_of",
    "clear_reasons",
    "cleared_again",
    "computed_text",
    "cooled_too_soon",
    "copied_values",
    "decode",
    "displayed",
    "done_before_last_repair",
    "engine_ran",
    "event_name",
    "every_caution_called",
    "failed_before",
    "failed_beside",
    "faults_for",
    "faults_of",
    "good_taken_back",
    "held_otherwise",
    "hookimpl",
    "how_acknowledged",
    "identity",
    "in_unit",
    "in_use",
    "is_complete",
    "is_same_test",
    "is_unchecked",
    "jurisdiction_of",
    "kept_since_clear",
    "kind_in_words",
    "lacking",
    "less_of_part",
    "limit_key",
    "limits_of",
    "methods_for",
    "mids_of",
    "misfires_at_zero",
    "monitors_of",
    "more_than_between",
    "more_than_passed",
    "named_otherwise",
    "newest_typed",
    "not_counted",
    "not_of_part",
    "numbers_text",
    "once",
    "other_failures",
    "outcome_of",
    "outcomes_at",
    "outcomes_of",
    "owes_result",
    "own_counts",
    "own_numbers",
    "part_subject",
    "photographed",
    "place_of",
    "places_named",
    "point",
    "points_and_line",
    "propagated",
    "provable_codes",
    "quantity",
    "quantity_of_another",
    "ran_while_off",
    "read_elsewhere",
    "readout_of",
    "readouts_after",
    "readouts_of",
    "related",
    "relative",
    "result_of",
    "results_after",
    "rewriting",
    "rewritten_tests",
    "row_of",
    "rule",
    "same_limit",
    "same_place",
    "seconds_of",
    "soonest_of",
    "speaks_against",
    "states_another_error",
    "still_wrong",
    "strange_clock",
    "table_rows",
    "tests_before_work",
    "typed_after",
    "typed_as_failed",
    "typed_lacks",
    "typed_of_none",
    "typed_outcome",
    "typed_result",
    "typed_undecided",
    "typed_units_differ",
    "typed_within",
    "uncertainty_of",
    "unit_of",
    "value_of",
    "vin",
    "watch_of",
    "whose_word",
    "why_not_cleared",
    "why_not_typed_again",
    "why_typed",
    "why_waiting",
]

HOMES = {
    name: home
    for home, names in {
        "bench": "Accuracy BenchInput BenchResult Instrument KnownGood Limit Need "
        "BenchOutcome TestKind",
        "bench.computed": "Computation Computed Held Judged in_unit",
        "bench.diagram": "Axis Chart ChartDiagram Level Mark Point ScaleDiagram "
        "ScaleItem Segment Series",
        "bench.diagrams.parts": "limits_of point",
        "bench.diagrams.points_and_line": "MeasuredSeries points_and_line",
        "bench.inputs": "PRESSURE_REFERENCE AskedAs HowKnown",
        "bench.methods": "methods_for",
        "bench.readings": "BAROMETER Readings",
        "bench.uncertainty": "Uncertain propagated uncertainty_of value_of",
        "bench.units": "QuantityKind Reference Unit relative unit_of",
        "errors": "InputError",
        "inspection.jurisdiction": "Jurisdiction",
        "inspection.jurisdiction_table": "jurisdiction_of",
        "obd": "Code Monitor Readout SelfTest decode",
        "obd.code_table": "monitors_of place_of related row_of soonest_of watch_of",
        "obd.comparison": "clear_reasons identity",
        "obd.parameters": "DISTANCE LAMP_DISTANCE LAMP_MINUTES MINUTES ODOMETER "
        "WARM_UPS",
        "obd.readout": "CodeStatus",
        "obd.responders": "SERVICES",
        "obd.rerun": "Evidence Grade why_waiting",
        "obd.still_wrong": "still_wrong",
        "order.bears_on_part": "less_of_part named_otherwise not_of_part "
        "places_named quantity_of_another read_elsewhere",
        "order.bench_event": "limit_key result_of same_limit",
        "order.same_test": "is_same_test",
        "order.unchecked_tests": "is_unchecked states_another_error",
        "order.tool_clocks": "strange_clock",
        "order.catalogue": "Catalogue",
        "order.caution_table": "caution_of",
        "order.cautions": "Caution",
        "order.cleared_again": "cleared_again",
        "order.copied_values": "CopiedValues copied_values",
        "order.corrections": "AS_READ",
        "order.hazards": "Called engine_ran every_caution_called ran_while_off",
        "order.hold_times": "held_otherwise seconds_of",
        "order.photographs": "photographed",
        "order.once": "once",
        "order.owed_results": "is_complete owes_result",
        "order.own_counts": "own_counts",
        "order.own_numbers": "own_numbers",
        "order.part_tests": "as_it_was asks_for_a_leak outcome_of outcomes_of "
        "tests_before_work",
        "order.misfire_counts": "misfires_at_zero",
        "order.preconditions": "beyond lacking",
        "order.events": "Event RepairOrder SuspectPart",
        "order.failed_beside": "failed_beside newest_typed other_failures "
        "typed_as_failed",
        "order.fault_back": "speaks_against",
        "order.faults": "Fault addressed causes faults_for faults_of",
        "order.findings": "Lacking Problem Severity Shown",
        "order.how_acknowledged": "how_acknowledged",
        "order.not_counted": "not_counted",
        "order.on_behalf": "whose_word",
        "order.questions": "Question part_subject",
        "order.rewritten_tests": "borne_out good_taken_back rewriting rewritten_tests",
        "order.rule": "Parameters Rule rule",
        "order.self_test_evidence": "SelfTestResult best_evidence captured_at "
        "failed_before mids_of outcomes_at provable_codes readout_of "
        "readouts_after "
        "readouts_of results_after same_place typed_after typed_of_none typed_result "
        "why_not_cleared",
        "order.since_clear": "cooled_too_soon kept_since_clear more_than_between "
        "more_than_passed",
        "order.strength": "Strength",
        "order.event_strength": "why_typed",
        "order.event_text": "computed_text event_name kind_in_words numbers_text",
        "order.typed_again": "why_not_typed_again",
        "order.typed_test": "typed_lacks typed_outcome typed_undecided "
        "typed_units_differ typed_within",
        "order.worked_on_after": "done_before_last_repair",
        "text.tables": "table_rows",
        "text.values": "Bound Json Quantity displayed quantity",
    }.items()
    for name in names.split()
}
MODULES = {"in_use": "obd.in_use", "vin": "obd.vin"}


def __getattr__(name: str) -> object:
    """Import a name of the door when it is first asked for: start-up stays quick."""
    if name in MODULES:
        return importlib.import_module(f"auditkit.{MODULES[name]}")
    if name in HOMES:
        return getattr(importlib.import_module(f"auditkit.{HOMES[name]}"), name)
    raise AttributeError(f"module 'auditkit.plugin' has no attribute {name!r}")


hookspec = pluggy.HookspecMarker("auditkit")
hookimpl = pluggy.HookimplMarker("auditkit")


@hookspec
def rules() -> Iterable[Rule]:  # type: ignore[empty-body]
    """Return the plugin's rules, once, when the plugins are loaded."""


@hookspec
def schemas() -> Mapping[str, Mapping[str, object]]:  # type: ignore[empty-body]
    """Return event kinds that the plugin adds: kind -> JSON Schema 2020-12."""


@hookspec
def bench_tests() -> Iterable[TestKind]:  # type: ignore[empty-body]
    """Return kinds of bench test that the plugin adds."""


@hookspec
def jurisdictions() -> Iterable[Jurisdiction]:  # type: ignore[empty-body]
    """Return inspection rules of jurisdictions, as data with sources."""


@hookspec
def cautions() -> Iterable[Caution]:  # type: ignore[empty-body]
    """Return hazard notices, and which steps call for them."""


@hookspec
def sealed(seq: int, payload: str) -> None:
    """Be told of an entry after it is durable. May not change or veto it."""
