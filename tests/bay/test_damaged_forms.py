"""Forms that no page of the bay sends: each is told what is wrong, and nothing more."""

import json
from html import unescape
from importlib.resources import files

import pytest
from bay_desk import Tablet, new_desk, order_path
from conftest import PASSPHRASE

from auditkit.bay.pages.guard import host_name
from auditkit.order.schema import WRITTEN_BY_SOFTWARE

EVENTS = json.loads((files("auditkit_demo") / "RO-1001.json").read_text())["events"]
OPENING = {
    "raw": next(e["raw"] for e in EVENTS if e["kind"] == "readout"),
    "tool": "text adapter (invented)",
    "vehicle.odometer.value": "184210",
    "vehicle.odometer.unit": "km",
    "vehicle.description": "delivery van, 2.0 litre",
    "complaint": "engine lamp is on",
}
BENCH = "?part=egr-valve&method=seal-hold"


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    with new_desk(tmp_path_factory.mktemp("bay"), PASSPHRASE) as made:
        yield made


@pytest.fixture(scope="module")
def tablet(desk):
    made = Tablet(desk)
    made.sign_in("boss-1", PASSPHRASE.decode())
    for order in ("RO-1", "RO-2", "RO-3"):
        opened = made.fill("/new-order", fields={**OPENING, "order": order})
        assert opened.status_code == 303, opened.text
    return made


@pytest.fixture
def send(tablet, desk):
    """Return what posts a form to RO-1, and holds that nothing was recorded by it."""

    def sent(*rest, **fields):
        newest = desk.newest_entry("RO-1")
        hidden = tablet.hidden(order_path("RO-1", "add", "code_clear"))
        answer = tablet.post(order_path("RO-1", *rest), data={**hidden, **fields})
        assert desk.newest_entry("RO-1") == newest
        return answer

    return sent


# A reason that would control a screen


ODD = {
    "nul": "fine\0",
    "escape": "fine\x1b[2J",
    "direction": "fine \u202eenif",
    "return": "fine\rIt is proven",
    "paragraph": "fine\u2029It is proven",
}


@pytest.mark.parametrize("reason", ODD.values(), ids=ODD)
def test_a_reason_is_plain_text_on_one_line_and_is_told_at_its_field(send, reason):
    answer = send("close", reason=reason)
    assert answer.status_code == 422
    told = answer.text.partition('id="wrong-reason"')[2].partition("</p>")[0]
    assert "is a control character, not text: write plain text on one line." in told
    assert 'aria-describedby="help-reason wrong-reason"' in answer.text
    kept = unescape(answer.text.partition('name="reason"')[2].partition("</text")[0])
    assert kept.partition(">")[2].startswith("fine")  # what was typed stays


def test_a_plain_reason_closes(tablet, desk):
    path = order_path("RO-2", "close")
    assert tablet.fill(path, reason=" They took the van away \n").status_code == 303
    verdict = desk.standing("RO-2").logged.lines[-1].event
    assert verdict["kind"] == "verdict"
    assert "They took the van away" in verdict.values()


@pytest.mark.parametrize("text", [ODD[name] for name in ("nul", "escape", "direction")])
@pytest.mark.parametrize("field", ["tool", "protocol"])
def test_so_is_what_stands_beside_a_readout(send, field, text):
    """These go past the fields of a form, from a file's own form to the event."""
    raw = OPENING["raw"]
    said = {"tool": "x", "raw": raw, field: text}
    answer = send("add", "readout", **said)
    assert answer.status_code == 422
    assert "is a control character, not text" in answer.text


# What was an error of the program


@pytest.mark.parametrize("kind", [*sorted(WRITTEN_BY_SOFTWARE), "nonsense"])
def test_what_the_software_writes_has_no_form(send, tablet, kind):
    asked = tablet.get(order_path("RO-1", "add", kind))
    sent = send("add", kind, verdict="proven", reason="x", person="boss-1")
    for answer in (asked, sent):
        assert answer.status_code == 422
        told = f"nobody records an event of kind {kind!r} here"
        assert told in unescape(answer.text)


@pytest.mark.parametrize("more", [{"read": "yes"}, {}, {"work.part": "egr-valve"}])
def test_a_caution_before_no_step_is_refused(send, more):
    answer = send("add", "caution", caution="rotating", **more)
    assert answer.status_code == 422
    assert "nothing says before which step" in answer.text


def test_nor_is_one_shown_before_its_step_was_chosen(tablet):
    for asked in ("", "?caution=rotating", "?kind="):
        answer = tablet.get(order_path("RO-1", "add", "caution") + asked)
        assert "Before which step" in answer.text, asked
        assert 'name="read"' not in answer.text, asked


ROTATING = {
    "caution": "rotating",
    "read": "yes",
    "preconditions.fan": "unplugged",
    "preconditions.clothing": "sleeves are tied, nothing hangs loose",
}


@pytest.mark.parametrize("kind", ["zzz", "../close", "verdict"])
def test_a_caution_before_a_step_of_no_kind_is_refused(send, kind):
    answer = send("add", "caution", **ROTATING, **{"work.kind": kind})
    assert answer.status_code == 422
    assert "Not acknowledged: " in answer.text


def test_what_no_step_has_goes_no_further(tablet, desk):
    path = order_path("RO-3", "add", "caution")
    once = tablet.hidden(f"{path}?kind=road_test")
    said = {
        "caution": "road",
        "read": "yes",
        "preconditions.who watches": "nobody, the tool records by itself",
        "preconditions.driver and vehicle": "licence seen, plates and insurance hold",
        "preconditions.brakes": "tried at walking pace in the yard",
        "work.kind": "road_test",
        "work.order": "RO-1",
        "work.rest": "x",
    }
    answer = tablet.post(path, data={**once, **said})
    assert answer.status_code == 303, answer.text
    assert answer.headers["location"] == f"{path}?kind=road_test"
    event = desk.standing("RO-3").logged.lines[-1].event
    assert (event["caution"], event["step"]) == ("road", {"kind": "road_test"})


DANGER = {
    "caution": "exhaust-gas",
    "read": "yes",
    "confirmed": "yes",
    "work.kind": "repair",
    "preconditions.extraction": "the hose of the shop's extraction at the tailpipe",
}


def test_a_danger_without_the_time_of_its_first_look_is_asked_again(send):
    answer = send("add", "caution", **DANGER)
    assert answer.status_code == 200
    assert "Once more, standing at the part" in answer.text


@pytest.mark.parametrize("first", ["x", "2026-02-30T08:00:00+00:00", "9" * 400])
def test_a_first_look_has_a_time_of_the_calendar(send, first):
    answer = send("add", "caution", **DANGER, first_at=first)
    assert answer.status_code == 422
    assert "Not acknowledged: " in answer.text


KEPT = {
    "deep": "[" * 100_000,
    "half a character": '"> 03\\r\\n7E8 02 43 00 \\ud800"',
    "no text": '{"a": 1}',
    "no JSON": "{",
    "long number": "9" * 10_000,
}


@pytest.mark.parametrize("kept", KEPT.values(), ids=KEPT)
@pytest.mark.parametrize("where", ["look", "add"])
def test_a_kept_file_that_came_back_damaged_is_to_be_chosen_again(send, where, kept):
    answer = send(where, "readout", kept_raw=kept, tool="x")
    assert answer.status_code == (200 if where == "look" else 422)
    assert "the form came back damaged" in answer.text
    assert "choose the file again" in answer.text


def test_no_draft_lies_where_a_timer_does(tablet, send, desk):
    page = tablet.seen(order_path("RO-1", "add", "bench_test") + BENCH)
    for timer in ("hold time", "readings.hold time"):
        once = f"timer:egr-valve:seal-hold:{timer}"
        for fields in ({"since": "soon"}, {"x": "1"}):
            kept = send("draft", "repair", once=once, **fields)
            assert "Draft not kept: this form has no id of its own" in kept.text
            path = order_path("RO-1", "timer")
            ran = tablet.get(path, params={"of": once.removeprefix("timer:")})
            assert (ran.status_code, ran.text) == (200, "")
    again = tablet.get(order_path("RO-1", "add", "bench_test") + BENCH)
    assert again.status_code == 200
    assert 'name="timer"' in page
    assert 'name="timer"' in again.text


@pytest.mark.parametrize("once", ["", "timer:x", "x" * 300, "é", "a\0", "a b"])
def test_a_form_has_an_id_as_the_pages_write_it(send, once):
    answer = send("add", "code_clear", once=once, tool="x")
    assert answer.status_code == 422
    assert "this form has no id of its own" in answer.text


@pytest.mark.parametrize("path", ["/new-order", "/vin", "/orders/RO-1/close"])
def test_half_characters_of_another_encoding_are_refused(tablet, send, path):
    """UTF-7 can spell half of a pair, which no text of a log can hold."""
    token = tablet.hidden("/new-order")["form_token"]
    fields = {"form_token": token, "reason": "+2AA-", "vehicle.vin": "+2AA-"}
    parts = "".join(
        f'--b\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{text}\r\n'
        for name, text in fields.items()
    )
    answer = tablet.post(
        path,
        content=f"{parts}--b--\r\n",
        headers={"Content-Type": "multipart/form-data; charset=utf-7; boundary=b"},
    )
    assert answer.status_code == 400
    assert "whole characters" in answer.text


# An order of any number, a bay of one name


def test_an_order_may_be_called_new(tablet):
    opened = tablet.fill("/new-order", fields={**OPENING, "order": "new"})
    assert opened.status_code == 303
    page = tablet.seen("/orders/new")
    assert "delivery van, 2.0 litre" in page
    assert "<h1>New repair order</h1>" not in page
    assert "<h1>New repair order</h1>" in tablet.seen("/new-order")


HOSTS = {
    "shop.test": "shop.test",
    "SHOP.test:8750": "shop.test",
    "192.0.2.1:8750": "192.0.2.1",
    "[::1]": "::1",
    "[::1]:8750": "::1",
    "[::1]:": "::1",
    "[::1]x.evil": "",
    "[::1].evil:80": "",
    "[::1]:80.evil": "",
    "[::1": "",
    "::1": "",
    "shop.test:80.evil": "",
    "": "",
}


@pytest.mark.parametrize("header", HOSTS)
def test_a_host_is_a_name_or_an_address_and_a_port(header):
    """RFC 9110 section 7.2, RFC 3986 section 3.2."""
    assert host_name(header) == HOSTS[header]
