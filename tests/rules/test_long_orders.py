"""Orders of very many events are judged by an index, as if each were held to each."""

from datetime import datetime, timedelta

from auditkit_plugins import order_of_time
from hypothesis import example, given
from hypothesis import strategies as st

from auditkit.order.events import RepairOrder
from auditkit.order.hazards import ran_while_off
from auditkit.order.self_test_evidence import readouts_of

DAY = datetime.fromisoformat("2026-03-02T08:00:00+01:00")
SLACK = 600  # seconds, as the rule's page says
minutes = st.integers(0, 90)


def at(minute):
    return (DAY + timedelta(minutes=minute)).isoformat()


def drive(start, end):
    return {"kind": "road_test", "start": at(start), "end": at(end), "at": at(end)}


def repair(start, end):
    return {
        "kind": "repair",
        "part": "valve",
        "action": "replaced",
        "started": at(start),
        "at": at(end),
    }


def caution(done, stood):
    told = {"time since stop": {"value": str(stood), "unit": "min"}}
    return {"kind": "caution", "caution": "x", "at": at(done), "preconditions": told}


orders = st.lists(
    st.one_of(st.builds(make, minutes, minutes) for make in (drive, repair, caution))
)


def folded(events):
    return RepairOrder.fold("RO-1", [{**event, "by": "m"} for event in events])


@given(orders)
def test_drives_into_work_are_those_that_each_repair_meets(events):
    order = folded(events)
    expected = []
    for work in order.of("repair"):
        start = datetime.fromisoformat(work.text("started")).timestamp()
        end = work.at.timestamp()
        if end - start < SLACK:
            continue
        for one in order.of("road_test"):
            left, back = (
                datetime.fromisoformat(one.text(name)).timestamp()
                for name in ("start", "end")
            )
            if left < start + SLACK and min(end, back) - max(start, left) > SLACK:
                expected.append(one.index)
    assert [place for place, _ in order_of_time._while_at_work(order)] == expected


def readout(captured, ran):
    """Return a readout by which the engine had run for minutes (PID 1F, SAE J1979)."""
    high, low = divmod(60 * ran, 256)
    raw = f">011F\n7E8 04 41 1F {high:02X} {low:02X} AA AA AA\n"
    return {"kind": "readout", "raw": raw, "captured": at(captured), "at": at(captured)}


@given(
    st.lists(st.builds(readout, minutes, minutes)),
    st.lists(st.builds(repair, minutes, minutes), max_size=3),
)
@example([readout(41, 1), readout(60, 59)], [repair(20, 40)])
def test_engines_that_ran_on_are_those_of_each_readout(readouts, repairs):
    order = folded([*repairs, *readouts])
    expected = []
    for work in order.of("repair"):
        start = datetime.fromisoformat(work.text("started")).timestamp()
        end = work.at.timestamp()
        if end - start < SLACK:
            continue
        for event, said in readouts_of(order):
            ran, read = said.value("1F"), event.at.timestamp()
            if ran and read >= end and read - float(ran) < start - SLACK:
                expected.append(event.index)
    assert [place for place, _ in order_of_time._while_at_work(order)] == expected


@given(orders)
def test_what_ran_while_it_was_off_is_the_first_event_that_shows_it(events):
    order = folded(events)
    for seen in order.of("caution"):
        told = int(seen.object("preconditions")["time since stop"]["value"])
        since = seen.at - timedelta(minutes=told - 10)
        expected = [
            one.index
            for one in order.of("road_test")
            if since < datetime.fromisoformat(one.text("end")) <= seen.at
        ]
        found = ran_while_off(order, seen)
        assert (found and found[1].index) == (expected[0] if expected else None)
