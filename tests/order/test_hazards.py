"""Which cautions a step calls for, and which acknowledgement it rests on."""

import re
from itertools import product
from random import Random

import pytest

from auditkit.obd.code_table import rows
from auditkit.order.caution_table import caution_of
from auditkit.order.cautions import StepKind
from auditkit.order.events import RepairOrder
from auditkit.order.hazards import (
    begins,
    cautions_called,
    engine_ran,
    step_kinds,
    work_of,
)
from auditkit.plugin.loading import load_catalogue

CATALOGUE = load_catalogue()
CAUTIONS = CATALOGUE.cautions
DAY = "2026-03-02T"


def event(kind, minute=0, by="tech-a", **members):
    at = f"{DAY}{9 + minute // 60:02}:{minute % 60:02}:00+01:00"
    return {"kind": kind, "at": at, "by": by, **members}


def diagnosis(system, *codes, part="part-1", minute=0, **more):
    suspect = {"id": part, "name": "invented", "system": system, **more}
    return event("diagnosis", minute, codes=list(codes), suspect_parts=[suspect])


def bench(minute=30, setup="removed", **members):
    told = {} if setup is None else {"setup": setup}
    return event(
        "bench_test", minute, part="part-1", test="looked at", **told, **members
    )


def repair(minute=60, action="replaced", **members):
    return event("repair", minute, part="part-1", action=action, **members)


def ack(caution, minute=20, part="part-1", by="tech-a"):
    step = {"kind": "repair", "part": part}
    return event("caution", minute, by, caution=caution, step=step, preconditions={})


def steps(*events, cautions=CAUTIONS):
    order = RepairOrder.fold("RO-1", events)
    return list(cautions_called(order, cautions.values(), CATALOGUE.bench_tests))


def called(*events):
    """Return the cautions that the last event calls for."""
    last = len(events) - 1
    return {c.caution.id for c in steps(*events) if c.step.index == last}


def test_every_hazard_of_the_table_of_codes_has_its_caution():
    hazards = {hazard for row in rows() for hazard in row.hazards}
    assert hazards <= set(CAUTIONS)


def test_every_hazard_of_a_kind_of_bench_test_has_its_caution():
    hazards = {h for kind in CATALOGUE.bench_tests.values() for h in kind.hazards}
    assert "pressurised-part" in hazards
    assert hazards <= set(CAUTIONS)


def _tries():
    """Yield steps of many kinds, on parts of many systems, codes and places."""
    codes = [row.codes[0].partition("-")[0] for row in rows()]
    setups = ("removed", "engine-off", "cranking", "running")
    actions = ("replaced", "reprogrammed", "relearned", "regenerated")
    for code in codes:
        said = diagnosis("body", code, where=["engine-bay"])
        yield from ((said, bench(setup=setup)) for setup in setups)
        yield from ((said, repair(action=action)) for action in actions)
        yield diagnosis("body", code), repair()
    yield (event("road_test", 60),)
    yield diagnosis("other", "P0401"), repair()
    yield diagnosis("egr", "P0401"), bench(method="seal-hold")


def test_every_caution_is_called_for_by_some_step():
    found = set().union(*(called(*events) for events in _tries()))
    assert found == set(CAUTIONS)


@pytest.mark.parametrize("caution", CAUTIONS.values(), ids=lambda c: c.id)
def test_a_text_warns_and_defers(caution):
    """Signal words in the meaning of ANSI Z535 (from memory)."""
    assert caution.text.startswith(f"{caution.signal_word}: ")
    for words in ("vehicle maker's procedure", "local codes", "licensed practice"):
        assert words in caution.text
    assert len(caution.text) > 100


@pytest.mark.parametrize("caution", CAUTIONS.values(), ids=lambda c: c.id)
def test_every_source_and_every_stop_says_where_it_comes_from(caution):
    """No figure without a maker, a plate, a standard, or that it has no source."""
    known = r"maker|plate|from memory|no published|common practice|40 CFR|posted"
    assert re.search(known, caution.basis) or "from memory" in caution.basis
    for stop in (s for p in caution.preconditions for s in p.stops):
        assert re.search(known, stop.limit_of), stop
        if "ISO 13732-1" in stop.limit_of:
            assert "sets no limits itself" in stop.limit_of


def test_danger_is_kept_for_what_kills():
    dangers = {c.id for c in CAUTIONS.values() if c.signal_word == "DANGER"}
    assert dangers == {
        *("fuel-vapour", "high-pressure-injection", "exhaust-gas", "lifted"),
        *("high-voltage", "hot-regeneration"),
    }


# What the kinds of step ask, from the table of hazards in the trade's own practice (no
# published source).


@pytest.mark.parametrize(
    ("events", "asked"),
    [
        (
            (diagnosis("egr", "P0401", where=["engine-bay"]), repair()),
            {"hot-exhaust", "hot-coolant"},
        ),
        (
            (
                diagnosis("ignition", "P0351", where=["engine-bay"]),
                bench(method="winding"),
            ),
            {"ignition-voltage", "rotating"},
        ),
        (
            (diagnosis("ignition", "P0351", where=["engine-bay"]), repair()),
            {"ignition-voltage", "rotating"},
        ),
        (
            (
                diagnosis("wiring", "P0351", where=["engine-bay"]),
                bench(setup="engine-off", method="voltage-drop"),
            ),
            {"ignition-voltage", "battery", "rotating"},
        ),
        (
            (diagnosis("cooling", "P0128", where=["engine-bay"]), repair()),
            {"hot-coolant", "rotating"},
        ),
        ((diagnosis("restraint", "B0001"), repair()), {"restraint"}),
        (
            (diagnosis("air-conditioning", "P0530"), repair()),
            {"refrigerant", "rotating"},
        ),
        (
            (diagnosis("control-module", "U0100"), repair(action="reprogrammed")),
            {"steady-supply"},
        ),
        (
            (
                diagnosis("particulate-filter", "P2463", where=["below"]),
                repair(action="regenerated"),
            ),
            {"hot-regeneration", "exhaust-gas", "hot-exhaust"},
        ),
        (
            (diagnosis("body", "B1000", where=["dash-column-or-seat"]), repair()),
            {"restraint", "other-hazards"},
        ),
        ((diagnosis("body", "U0100", where=["below"]), repair()), {"lifted"}),
        ((event("road_test", 60),), {"road"}),
        ((event("readout", 60),), set()),
    ],
)
def test_what_a_step_asks(events, asked):
    assert called(*events) == asked


def test_a_running_test_asks_for_gas_fans_heat_and_chocks_whatever_the_part_is():
    asked = called(diagnosis("body", "U0100"), bench(setup="running"))
    assert asked == {"exhaust-gas", "rotating", "hot-exhaust", "vehicle-moves"}
    cranking = called(diagnosis("body", "U0100"), bench(setup="cranking"))
    assert cranking >= {"fuel-vapour", "ignition-voltage", "vehicle-moves"}


def test_what_is_not_said_counts_as_hazardous():
    said = diagnosis("body", "U0100")
    each = [called(said, bench(setup=s)) for s in ("removed", "engine-off", "cranking")]
    assert called(said, bench(setup=None)) >= set().union(*each)
    exhaust = ("exhaust", "P0420")
    assert "lifted" in called(diagnosis(*exhaust), repair())
    assert "lifted" not in called(diagnosis(*exhaust, where=["engine-bay"]), repair())
    assert "lifted" in called(diagnosis(*exhaust, where=["below"]), repair())
    assert "other-hazards" in called(repair())


def test_a_stated_place_does_not_stand_for_high_voltage_or_an_airbag():
    """A place spares the lift; nothing spares what the code's own system brings."""
    away = {"where": ["elsewhere"]}
    assert "high-voltage" in called(diagnosis("electrical", "P0A80", **away), repair())
    assert "restraint" in called(diagnosis("wiring", "B0001", **away), repair())
    switch = diagnosis("cruise", "P0564", where=["engine-bay"])
    assert "restraint" not in called(switch, repair())
    assert "restraint" in called(diagnosis("cruise", "P0564"), repair())


@pytest.mark.parametrize("where", [[], ["below"], ["engine-bay"]])
def test_a_removed_part_was_taken_out_before_its_test(where):
    """Common practice, no published source: its taking out is work too."""
    for code in (row.codes[0].partition("-")[0] for row in rows()):
        said = diagnosis("body", code, **({"where": where} if where else {}))
        taken_out = called(said, repair())
        assert called(said, bench()) >= taken_out, code
        assert called(said, bench(method="winding")) >= taken_out, code
        assert called(said, bench(setup=None)) >= taken_out, code


def test_what_hurts_while_a_part_is_taken_out_is_asked_before_its_test():
    asked = called(diagnosis("fuel", "P0201"), bench(method="winding"))
    assert asked >= {"fuel-pressure", "high-pressure-injection", "fuel-vapour"}
    thermostat = diagnosis("cooling", "P0128", where=["engine-bay"])
    assert called(thermostat, bench()) == {"hot-coolant", "rotating"}
    sensor = diagnosis("oxygen-sensor", "P0135", where=["below"])
    assert "lifted" in called(sensor, bench(method="winding"))


def test_what_was_acknowledged_after_the_part_was_tested_removed_is_too_late():
    said = diagnosis("cooling", "P0128", where=["engine-bay"])
    early, late = ack("hot-coolant", 20), ack("hot-coolant", 40)

    def seen(*events):
        order = steps(said, *events)
        return [c.seen is not None for c in order if c.caution.id == "hot-coolant"]

    assert seen(bench(30), late, repair(60)) == [False, True]
    assert seen(early, bench(30), repair(60)) == [True, True]


def test_no_relabelling_takes_a_caution_away():
    """Another system, code or place, before the step or after it: never fewer."""
    first = diagnosis("fuel", "P0201")
    work = repair(60)
    plain = called(first, work)
    assert plain
    for other in (
        diagnosis("other", "U0100", minute=10),
        diagnosis("body", "P1234", minute=10, where=["below"]),
        diagnosis("egr", minute=10),
        diagnosis("network", "U0100", part="part-2", minute=10),
    ):
        assert called(first, other, work) >= plain
        late = steps(first, work, {**other, "at": f"{DAY}12:00:00+01:00"})
        assert {c.caution.id for c in late if c.step.index == 1} >= plain


def test_a_place_that_is_told_after_the_work_takes_nothing_away():
    said = diagnosis("exhaust", "P0420")
    late = diagnosis("exhaust", "P0420", minute=90, where=["engine-bay"])
    found = {c.caution.id for c in steps(said, repair(60), late) if c.step.index == 1}
    assert "lifted" in found


def test_an_amended_diagnosis_takes_nothing_away():
    said = diagnosis("fuel", "P0201")
    now = diagnosis("network", "U0100")
    amendment = event("amendment", 10, corrects=0, why="named otherwise", event=now)
    assert called(said, amendment, repair(60)) >= called(said, repair(60))


def test_words_call_for_nothing_and_spare_nothing():
    said = diagnosis("egr", "P0401", where=["engine-bay"])
    words = ("pressure hold", "road drive with the engine running", "visual look")
    found = {frozenset(called(said, {**bench(), "test": name})) for name in words}
    assert found == {frozenset({"hot-exhaust", "hot-coolant"})}


def test_what_was_read_calls_for_cautions():
    said = diagnosis("intake", "P0113", where=["engine-bay"])
    hot = [{"name": "bath", "value": "176", "unit": "degF"}]
    warm = [{"name": "bath", "value": "100", "unit": "degF"}]
    assert "hot-exhaust" in called(said, bench(readings=hot))
    assert "hot-exhaust" not in called(said, bench(readings=warm))
    air = [{"name": "end pressure", "value": "20", "unit": "inHg"}]
    assert "pressurised-part" in called(said, bench(readings=air))
    assert "pressurised-part" in called(said, bench(method="seal-hold"))
    linear = bench(method="linear-transfer", readings=air)
    assert "pressurised-part" not in called(said, linear)


def test_a_caution_is_called_for_once_a_step():
    said = diagnosis("egr", "P0401", "P0402")
    found = [c.caution.id for c in steps(said, diagnosis("egr", "P0401"), repair())]
    assert len(found) == len(set(found))


def test_one_acknowledgement_stands_for_several_steps_of_one_person_on_one_part():
    said = diagnosis("egr", "P0401", where=["engine-bay"])
    events = (said, ack("hot-exhaust"), bench(30), repair(60))
    found = {
        c.step.index: c.seen for c in steps(*events) if c.caution.id == "hot-exhaust"
    }
    assert [found[i].index for i in (2, 3)] == [1, 1]
    for other in (ack("hot-exhaust", part="part-2"), ack("hot-exhaust", by="tech-b")):
        seen = {c.seen for c in steps(said, other, bench(30), repair(60))}
        assert seen == {None}
    late = steps(
        said,
        bench(30),
        ack("hot-exhaust", 40),
        repair(60, started=f"{DAY}09:35:00+01:00"),
    )
    assert {c.seen for c in late} == {None}


def test_what_is_of_the_vehicle_stands_for_any_part():
    said = diagnosis("fuel", "P0201")
    seen = [
        c.seen
        for c in steps(said, ack("fuel-vapour", part="part-2"), repair())
        if c.caution.id == "fuel-vapour"
    ]
    assert seen[0] is not None


def test_the_latest_acknowledgement_counts():
    said = diagnosis("egr", "P0401", where=["engine-bay"])
    early, late = ack("hot-exhaust", 20), ack("hot-exhaust", 40)
    for events in ((said, early, late, repair()), (said, late, early, repair())):
        (seen,) = [c.seen for c in steps(*events) if c.caution.id == "hot-exhaust"]
        assert f"{seen.at:%H:%M}" == "09:40"


def test_a_plugin_brings_a_caution_for_its_own_kind_of_event():
    hoist = caution_of(
        {
            "id": "hoist",
            "version": 1,
            "signal_word": "WARNING",
            "hazard": "hoist",
            "text": "WARNING: invented.",
            "basis": "invented",
            "lapses_after": 30,
            "covers": "vehicle",
            "called": {"events": ["hoist_check"]},
            "precondition": [{"name": "rope", "ask": "how the rope looks"}],
        }
    )
    (found,) = steps(event("hoist_check"), cautions={"hoist": hoist})
    assert (found.caution, found.seen) == (hoist, None)


def test_a_repair_of_any_other_action_is_a_repair():
    order = RepairOrder.fold("RO-1", (repair(action="polished"),))
    assert work_of(order, order.events[0], {}).kinds == {StepKind.REPAIR}


@pytest.mark.parametrize("code", ["", "P", "ZZZZZ", "P9999", "U0100-87"])
def test_no_code_of_a_stranger_makes_it_crash(code):
    assert "hot-exhaust" in called(diagnosis("egr", code), repair())


def in_any_order(seed):
    """Return an order whose places and times do not run alike."""
    draw = Random(seed)
    kinds = (
        lambda at: ack(draw.choice(["fuel-vapour", "vehicle-moves"]), at, by=by()),
        lambda at: bench(at, setup=draw.choice(["removed", "running"])),
        repair,
        lambda at: event("road_test", at),
    )

    def by():
        return draw.choice(["tech-a", "tech-a", "tech-b"])

    made = [draw.choice(kinds)(draw.randrange(40)) for _ in range(14)]
    return RepairOrder.fold("RO-1", [diagnosis("evap", "P0455"), *made])


def test_the_acknowledgement_is_the_last_of_all_that_may_be_it():
    """Against the definition, looked for among all events."""
    found = 0
    for seed in range(150):
        order = in_any_order(seed)
        for one in cautions_called(order, CAUTIONS.values(), CATALOGUE.bench_tests):
            step, start = one.step, begins(one.step)
            may_be = [
                event
                for event in order.events
                if (event.kind, event.text("caution")) == ("caution", one.caution.id)
                and event.index < step.index
                and event.at <= start
                and event.by == step.by
                and (
                    one.caution.covers_vehicle
                    or event.object("step").get("part", "") == step.text("part")
                )
            ]
            last = max(may_be, key=lambda e: (e.at, e.index), default=None)
            assert one.seen is last
            found += last is not None
    assert found > 100


def test_the_engine_ran_where_any_event_between_shows_it():
    """Against the definition: between by place or by date, looked for among all."""
    found = missed = 0
    for seed in range(150):
        order = in_any_order(seed)
        for seen, step in product(order.of("caution"), order.of("repair")):
            ran = [
                event
                for event in order.events
                if event.index not in {seen.index, step.index}
                and step_kinds(event) & {StepKind.ROAD, StepKind.RUNNING}
                and (
                    seen.index < event.index < step.index
                    or seen.at < event.at <= begins(step)
                )
            ]
            assert engine_ran(order, seen, step) is (ran[0] if ran else None)
            found, missed = found + bool(ran), missed + (not ran)
    assert min(found, missed) > 100
