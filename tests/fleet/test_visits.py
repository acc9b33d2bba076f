"""One vehicle's visits, in the time of each shop, with what came back."""

from made_collection import Made, day

from auditkit.fleet.settings import Settings
from auditkit.fleet.visits import vehicle_audit


def audited(made, vin="VIN1"):
    return vehicle_audit(made.ask(), Settings(), vin, vin)


def rows(audit, name):
    (table,) = [t for t in audit.sections[0].tables if t.name == name]
    names = [column.name for column in table.columns]
    return [dict(zip(names, row, strict=True)) for row in table.rows]


def made():
    made = Made()
    first = made.order("Shop 1", at=0, odometer_m=50_000_000, offset_min=120)
    made.fault(first)
    made.insert(
        "part",
        order_id=first,
        part_id="p",
        name="EGR valve",
        action="replaced",
        was_worked_on=True,
        was_tested_good=False,
    )
    made.recorded(0, order_id=first, kind="repair")
    back = made.order("Shop 2", at=40, odometer_m=52_000_000, verdict="unproven")
    made.fault(back, is_addressed=False, set_aside_because="declined", verdict=None)
    made.order("Shop 2", at=60, vin="VIN2")
    made.recorded(100)
    return made


def test_visits_stand_in_their_order_at_the_shops_own_time():
    first, second = rows(audited(made()), "visits")
    assert (first["came"], first["odometer"]) == ("2026-01-01 10:00+02:00", 50_000)
    assert first["parts"] == "EGR valve replaced"
    assert (second["shop"], second["verdict"]) == ("Shop 2", "unproven")


def test_a_fault_that_came_back_says_where():
    first, second = rows(audited(made()), "faults")
    assert first["came_back"] == "after 40 days: RO-2, Shop 2"
    assert (second["done"], second["came_back"]) == ("set aside: declined", "")


def test_the_line_of_time_has_lanes_and_the_odometer():
    (chart,) = audited(made()).sections[0].charts
    assert {span.lane for span in chart.spans} == {"visits", "faults", "repairs"}
    (line,) = chart.lines
    assert [up for _, up in line.points] == [50_000, 52_000]
    assert line.points[1][0] - line.points[0][0] == 40 * 86_400


def test_what_was_written_late_has_a_bar_behind_its_mark():
    collection = Made()
    order = collection.order(at=0, closed_at=day(5))
    collection.recorded(0, order_id=order, kind="repair")
    late = {"order_id": order, "kind": "bench_test"}
    collection.recorded(2, recorded_at=day(4), **late)
    collection.recorded(
        1, recorded_at=day(1), not_before=day(1), not_after=day(3), **late
    )
    (chart,) = audited(collection).sections[0].charts
    days = [
        tuple(
            None if t is None else (t - chart.spans[0].start) / 86_400
            for t in (span.claimed, span.start, span.end)
        )
        for span in chart.spans
        if span.lane in {"repairs", "bench tests"}
    ]
    assert sorted(days, key=str) == [(1, 1, 3), (2, 2, 4), (None, 0, 0)]


def test_an_order_that_lacks_entries_is_hatched():
    collection = Made()
    collection.order(at=0, closed_at=day(5), is_incomplete=True)
    collection.recorded(100)
    (chart,) = audited(collection).sections[0].charts
    (span,) = [s for s in chart.spans if s.is_hatched]
    assert (span.lane, span.end - span.start) == ("entries not here", 5 * 86_400)


def test_a_readout_with_self_tests_stands_in_their_lane():
    collection = Made()
    order = collection.order(at=0)
    log = collection.log("Shop 9")
    for day_read in (0, 1):
        collection.recorded(day_read, log_id=log, order_id=order)
    collection.insert(
        "self_test",
        order_id=order,
        log_id=log,
        seq=2,
        module="7E8",
        monitor="31",
        test="80",
    )
    (chart,) = audited(collection).sections[0].charts
    lanes = [span.lane for span in chart.spans]
    assert lanes == ["visits", "readouts", "self-tests read"]


def test_a_visit_that_ended_before_it_began_is_drawn_as_a_mark():
    collection = Made()
    collection.order(at=10, closed_at=day(3))
    collection.recorded(100)
    (chart,) = audited(collection).sections[0].charts
    assert chart.spans[0].start == chart.spans[0].end


def test_a_visit_without_a_time_has_no_place_there():
    collection = Made()
    collection.order(opened_at=None, closed_at=None, last_repair_at=None)
    collection.recorded(100)
    audit = audited(collection)
    assert audit.sections[0].charts == ()
    assert rows(audit, "visits")[0]["came"] == ""


def test_a_vehicle_that_is_not_here_is_none():
    assert audited(made(), "VIN9") is None


def test_an_odometer_that_goes_back_is_said_before_the_tables():
    made_here = made()
    made_here.order("Shop 2", at=70, odometer_m=11_517_000)
    assert (
        "The odometer goes back: 52,000 km in RO-2 at Shop 2, then 11,517 km in RO-4 "
        "at Shop 2. Ask which is right, and whether the cluster was changed."
    ) in audited(made_here).sections[0].sentences
    assert not any(
        "goes back" in said for said in audited(made()).sections[0].sentences
    )
