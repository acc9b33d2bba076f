"""A form is judged once, its page not again; who only looks keeps nobody waiting."""

import json
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from importlib.resources import files

import pytest
from bay_desk import Tablet, new_desk, order_path
from bay_served import HERE, Client, served, until
from conftest import PASSPHRASE
from starlette.responses import PlainTextResponse

from auditkit.bay import connections, writer
from auditkit.bay.one_step import Form
from auditkit.bay.pages import app, order_view
from auditkit.bay.pages.sign_in_view import COOKIE
from auditkit.bench import TestKind
from auditkit.order import corrections

EVENTS = json.loads((files("auditkit_demo") / "RO-1001.json").read_text())["events"]
DIAGNOSIS = next(e for e in EVENTS if e["kind"] == "diagnosis")
TEST = next(e for e in EVENTS if e["kind"] == "bench_test")
OPENING = {
    "vehicle.model_year": "2012",
    "vehicle.ignition": "spark",
    "vehicle.odometer.value": "184210",
    "vehicle.odometer.unit": "km",
    "vehicle.description": "delivery van, 2.0 litre",
    "complaint": "engine lamp is on",
}


@pytest.fixture
def desk(tmp_path):
    with new_desk(tmp_path, PASSPHRASE) as made:
        yield made


@pytest.fixture
def tablet(desk):
    made = Tablet(desk)
    made.sign_in("boss-1", PASSPHRASE.decode())
    for order in ("RO-1", "RO-2"):  # of two vehicles
        vin = {"vehicle.vin": f"0ZZTB1A18CA00012{order[-1]}"}
        made.fill("/new-order", fields={**OPENING, **vin, "order": order})
    return made


@pytest.fixture
def judged(monkeypatch):
    """Return the orders that were judged whole, one by one."""
    seen, judge = [], corrections.judge

    def told(catalogue, order, policy):
        seen.append(order.id)
        return judge(catalogue, order, policy)

    monkeypatch.setattr(corrections, "judge", told)
    return seen


def test_a_form_is_judged_once_and_its_page_shows_that(tablet, judged):
    """Another order grows between: its entries are no reason to judge this one anew."""
    sent = {}
    for order in ("RO-1", "RO-2", "RO-1"):
        tablet.seen(order_path(order))
        path = order_path(order, "add", "code_clear")
        judged.clear()
        sent[order] = tablet.fill(path, tool="a tool (invented)")
        assert judged == [order]
    assert "Recorded as entry" in tablet.seen(sent["RO-1"].headers["location"])
    assert judged == ["RO-1"]
    assert "code clear" in tablet.get(order_path("RO-1", "argument")).text.lower()
    assert judged == ["RO-1"]


def test_no_page_computes_again_what_the_step_computed(tablet, desk, monkeypatch):
    tested = {
        **TEST,
        "at": desk.at(),
        "by": "boss-1",
        "readings": [{**one, "at": desk.at()} for one in TEST["readings"]],
    }
    diagnosis = {**DIAGNOSIS, "at": desk.at(), "by": "boss-1"}
    hands = desk.hands(desk.sign_ins.find(tablet.cookies[COOKIE]))
    form = Form("tested", [diagnosis, tested], unacknowledged=True)
    computed, evaluate = [], TestKind.evaluate

    def told(self, given):
        computed.append(self.name)
        return evaluate(self, given)

    monkeypatch.setattr(TestKind, "evaluate", told)
    desk.writer.take("RO-1", form, hands).result()
    at_first = len(computed)
    assert at_first
    for _ in range(2):
        assert "EGR valve (seal hold, pressure or vacuum): faulty" in tablet.seen(
            order_path("RO-1")
        )
        tablet.fill(order_path("RO-1", "add", "code_clear"), tool="a tool (invented)")
    assert len(computed) == at_first


def test_what_is_asked_each_second_opens_no_entry(tablet, desk, monkeypatch):
    entry = desk.newest_entry("RO-1")
    monkeypatch.delattr("auditkit.log.store.Store.order_rows")
    answer = tablet.get(order_path("RO-1", f"argument?entry={entry}"))
    assert answer.status_code == 204


def test_few_connections_read_at_once_and_who_is_signed_in_waits_for_none(desk):
    taken, done = threading.Barrier(writer._READERS + 1), threading.Event()

    def read():
        with desk.writer.reading():
            taken.wait(20)
            done.wait(20)

    readers = [threading.Thread(target=read) for _ in range(writer._READERS)]
    for one in readers:
        one.start()
    taken.wait(20)
    late = threading.Thread(target=desk.people)
    late.start()
    assert desk.writer.enrolment("boss-1") is not None  # without one of them
    late.join(0.2)
    assert late.is_alive()
    done.set()
    for one in (*readers, late):
        one.join(20)
    assert len(desk.writer._idle_readers) == writer._READERS


def test_two_requests_are_worked_on_at_once_the_others_in_the_order_they_came(
    desk, monkeypatch
):
    begun, goes_on = [], threading.Semaphore(0)

    def slow(visit):
        begun.append(visit.asked["entry"])
        assert goes_on.acquire(timeout=60)
        return PlainTextResponse(visit.asked["entry"])

    with working(desk, monkeypatch, "/orders/{order}/argument", slow) as asked:
        answers = []
        for number in range(6):
            answers.append(asked(order_path("RO-1", f"argument?entry={number}")))
            until(lambda n=number: len(begun) == min(n + 1, 2))
            time.sleep(0.05)  # it is in the queue before the next
        assert begun == ["0", "1"]
        for number in range(6):
            goes_on.release()
            until(lambda n=number: len(begun) == min(n + 3, 6))
        assert [one.result()[2] for one in answers] == [str(n) for n in range(6)]
    assert begun == [str(n) for n in range(6)]


@pytest.mark.parametrize("path", ["/sign-in", "/orders", "/orders/{order}/receipt"])
def test_nobody_waits_for_what_takes_long_or_comes_from_strangers(
    desk, monkeypatch, path
):
    begun, goes_on = [], threading.Event()

    def slow(visit):
        begun.append(visit)
        assert goes_on.wait(60)
        return PlainTextResponse("at last")

    with working(desk, monkeypatch, path, slow) as asked:
        waiting = [asked(path.format(order="RO-1")) for _ in range(4)]
        until(lambda: len(begun) == 4)
        assert asked("/shop").result()[0] == 200
        goes_on.set()
        assert [one.result()[2] for one in waiting] == ["at last"] * 4


@contextmanager
def working(desk, monkeypatch, path, view):
    """Serve a desk with another view for a path; yield what asks, in a thread."""
    ways = [
        replace(way, view=view) if (way.method, way.path) == ("GET", path) else way
        for way in app.WAYS
    ]
    with served(desk) as port:
        one = Client(port)
        one.sign_in("boss-1", PASSPHRASE.decode())
    monkeypatch.setattr(app, "WAYS", ways)
    with served(desk) as port, ThreadPoolExecutor(8) as threads:
        one.port = port
        yield lambda asked: threads.submit(one.ask, "GET", asked)


def test_a_page_is_sent_without_waiting_for_acknowledgements(desk, monkeypatch):
    options = []
    made = connections.Connection.connection_made

    def told(self, transport):
        made(self, transport)
        own = transport.get_extra_info("socket")
        level, name = connections.socket.IPPROTO_TCP, connections.socket.TCP_NODELAY
        options.append(own.getsockopt(level, name))

    monkeypatch.setattr(connections.Connection, "connection_made", told)
    with served(desk) as port:
        assert Client(port).ask("GET", "/sign-in")[0] == 200
        until(lambda: options)
    assert all(options), HERE


def test_of_many_open_orders_those_begun_last_are_listed_and_judged(
    tablet, judged, monkeypatch
):
    monkeypatch.setattr(order_view, "_LISTED", 1)
    page = tablet.seen("/orders")
    assert ("RO-2" in page, "RO-1" in page) == (True, False)
    assert "These are the 1 that were begun last" in page
    assert "RO-1" not in judged
    every = tablet.seen("/orders?all=yes")
    assert ("RO-2" in every, "RO-1" in every, "begun last" in every) == (True, True, 0)
    monkeypatch.setattr(order_view, "_LISTED", 2)
    whole = tablet.seen("/orders")
    assert ("RO-1" in whole, "begun last" in whole) == (True, False)
