"""The one door for plugins: everything that a plugin may use.

A plugin is a module named by an entry point of the group ``auditkit``; it marks its
functions with ``hookimpl`` and imports nothing of auditkit but this module. What stands
in ``__all__`` may be used; each name is imported when it is first asked for. Each
stands here for who checks types, and as public; its home stands in ``homes``, the hooks
that a plugin may have in ``hooks``.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

import pluggy

if TYPE_CHECKING:
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

hookimpl = pluggy.HookimplMarker("auditkit")

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


def __getattr__(name: str) -> object:
    """Import a name of the door when it is first asked for: start-up stays quick."""
    from auditkit.plugin.homes import HOMES, MODULES

    if name in MODULES:
        return importlib.import_module(f"auditkit.{MODULES[name]}")
    if name in HOMES:
        return getattr(importlib.import_module(f"auditkit.{HOMES[name]}"), name)
    raise AttributeError(f"module 'auditkit.plugin' has no attribute {name!r}")
