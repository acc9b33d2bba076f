"""Where each name of the door for plugins is at home, below ``auditkit``."""

from __future__ import annotations

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
