"""The readout's page: live, from a file, pasted, typed from a display."""

import json
import re
import zlib
from contextlib import contextmanager, nullcontext
from datetime import datetime, timedelta
from html import unescape
from importlib.resources import files

import can
import pytest
from auditkit_demo.simulation import Fault, Simulation
from auditkit_demo.vehicle import modules
from bay_desk import Tablet, new_desk, order_path
from conftest import PASSPHRASE
from photo import photo
from simulated import SteppedBus, read

from auditkit.bay.live_reading import LiveReader
from auditkit.bay.one_step import Form
from auditkit.bay.pages.sign_in_view import COOKIE
from auditkit.capture.interface import Cable, cable_of
from auditkit.errors import InputError, LogError
from auditkit.obd import decode

EVENTS = json.loads((files("auditkit_demo") / "RO-1001.json").read_text())["events"]
RAW = next(e["raw"] for e in EVENTS if e["kind"] == "readout")
OPENING = {
    "vehicle.vin": "0ZZTB1A18CA000123",
    "vehicle.model_year": "2012",
    "vehicle.ignition": "spark",
    "vehicle.odometer.value": "184210",
    "vehicle.odometer.unit": "km",
    "vehicle.description": "delivery van, 2.0 litre",
    "complaint": "engine lamp is on",
}
TOOL = "handheld display (invented)"


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    with new_desk(tmp_path_factory.mktemp("bay"), PASSPHRASE) as made:
        yield made


@pytest.fixture(scope="module")
def tablet(desk):
    made = Tablet(desk)
    made.sign_in("boss-1", PASSPHRASE.decode())
    return made


@pytest.fixture
def order(tablet, request):
    """Return a new order, opened and not read."""
    name = f"RO-{zlib.crc32(request.node.name.encode())}"
    answer = tablet.fill("/new-order", fields={**OPENING, "order": name})
    assert answer.status_code == 303, answer.text
    return name


def text_of(page):
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def kinds(desk, order):
    return [line.event["kind"] for line in desk.standing(order).logged.lines]


def last(desk, order):
    return desk.standing(order).logged.lines[-1].event


# Live


@contextmanager
def cable(desk, bus, name="bench:0", minutes=0):
    """Give the bay a cable to a bus whose time only passes while someone waits."""
    was, desk.live = (
        desk.live,
        LiveReader(
            [Cable(name, lambda: nullcontext(bus), minutes=minutes)], clock=bus.clock
        ),
    )
    try:
        yield
    finally:
        desk.live.close()
        desk.live = was


def read_live(desk, tablet, order, name="bench:0"):
    path = order_path(order, "add", "readout") + "?way=live"
    token = re.search(r'name="form_token" value="([^"]+)"', tablet.seen(path))[1]
    data = {"form_token": token, "cable": name}
    answer = tablet.post(order_path(order, "live"), data=data)
    if answer.status_code == 303:
        desk.live.of(order).wait()
    return answer


def test_a_vehicle_is_read_over_the_cable_and_recorded_at_once(desk, tablet, order):
    with cable(desk, SteppedBus(Simulation(list(modules("before"))))):
        assert read_live(desk, tablet, order).status_code == 303
        page = text_of(tablet.seen(order_path(order, "live")))
    held = last(desk, order)
    assert "0ZZTB1A18CA000123" in text_of(tablet.seen(order_path(order)))
    assert held["tool"] == "this software, over bench:0"
    assert held["protocol"] == "ISO 15765-4 CAN, 11 bit"
    assert "Recorded as entry" in page
    assert "engine module 7E8 answers" in page
    assert "Stored fault codes: P0401" in page
    assert "It stays" in page  # nothing throws a readout away
    assert page.index("Go on") < page.index("Read the vehicle again")


def test_when_an_invented_vehicle_can_be_believed_is_told(desk, tablet, order):
    path = order_path(order, "add", "readout") + "?way=live"
    bus = SteppedBus(Simulation(list(modules("after"))))
    with cable(desk, bus, minutes=4):
        told = text_of(tablet.seen(path))
        assert "ran for 4 minutes since a clear: it is believed that long after" in told
        clear = order_path(order, "add", "code_clear")
        assert tablet.fill(clear, fields={"tool": "adapter"}).status_code == 303
        cleared = datetime.fromisoformat(last(desk, order)["at"])
        from_ = cleared + timedelta(minutes=5)  # told in whole minutes
        assert f"read it from {from_:%H:%M} on" in text_of(tablet.seen(path))
    with cable(desk, bus):
        assert "since a clear" not in text_of(tablet.seen(path)), "of a real vehicle"


def test_what_came_is_kept_when_the_cable_comes_out(desk, tablet, order):
    bus = SteppedBus(Simulation(list(modules("before"))))
    sent = bus.send

    def send(msg, timeout=None):
        if len(bus.sent) > 12:
            raise can.CanOperationError("bus off")
        sent(msg, timeout)

    bus.send = send
    with cable(desk, bus):
        read_live(desk, tablet, order)
        page = text_of(tablet.seen(order_path(order, "live")))
    assert "bus off: what came until then is kept" in page
    assert "Not asked, or not answered by any module" in page
    assert last(desk, order)["kind"] == "readout"


def test_a_silent_module_is_told_and_a_silent_vehicle_is_no_readout(
    desk, tablet, order
):
    quiet = Simulation(list(modules("before")), (Fault(1, "03", silent=True),))
    with cable(desk, SteppedBus(quiet)):
        read_live(desk, tablet, order)
        page = text_of(tablet.seen(order_path(order, "live")))
    assert "7E9: had to answer and was silent" in page
    count = len(kinds(desk, order))
    with cable(desk, SteppedBus(Simulation([]))):
        read_live(desk, tablet, order)
        page = text_of(tablet.seen(order_path(order, "live")))
    assert "no module answered" in page
    assert len(kinds(desk, order)) == count


def test_while_it_reads_the_page_says_how_far_it_is_and_stops_it(desk, tablet, order):
    bus = SteppedBus(Simulation(list(modules("before"))))
    seen = []
    receive = bus.recv

    def recv(timeout=None):
        if len(bus.sent) == 9 and not seen:
            seen.append(text_of(tablet.seen(order_path(order, "live"))))
            desk.live.of(order).stop()
        return receive(timeout)

    bus.recv = recv
    with cable(desk, bus):
        read_live(desk, tablet, order)
        page = text_of(tablet.seen(order_path(order, "live")))
    asked, wanted = map(int, re.search(r"Asking (\d+) of (\d+)", seen[0]).groups())
    assert 1 < asked < wanted
    assert "it was stopped: what came until then is kept" in page
    assert last(desk, order)["kind"] == "readout"


def test_a_cable_is_read_by_one_at_a_time_and_only_by_its_name(desk, tablet, order):
    bus = SteppedBus(Simulation(list(modules("before"))))
    refused = []
    receive = bus.recv

    def recv(timeout=None):
        if not refused:
            refused.append(None)
            refused[0] = read_live(desk, tablet, order)
        return receive(timeout)

    bus.recv = recv
    with cable(desk, bus):
        read_live(desk, tablet, order)
        other = read_live(desk, tablet, order, name="bench:1")
    assert refused[0].status_code == other.status_code == 422
    assert "reads" in refused[0].text
    assert "no such cable" in other.text


def test_what_could_not_be_recorded_is_kept_to_be_recorded(
    desk, tablet, order, monkeypatch
):
    def full(*_):
        message = "the disk is full"
        raise LogError(message, what_to_do="make room")

    with cable(desk, SteppedBus(Simulation(list(modules("before"))))):
        with monkeypatch.context() as broken:
            broken.setattr(desk.writer, "take", full)
            read_live(desk, tablet, order)
        path = order_path(order, "add", "readout")
        page = tablet.seen(f"{path}?way=live")
        assert "the disk is full" in page
        assert kinds(desk, order) == ["opening"]
        form = page[: page.index("Record what came")].rpartition("<form")[2]
        found = re.findall(r'name="([^"]+)" value="([^"]*)"', form)
        fields = {name: unescape(text) for name, text in found}
        assert tablet.post(path, data=fields).status_code == 303
    held = last(desk, order)
    assert decode(held["raw"]).vin == "0ZZTB1A18CA000123"
    assert held["tool"] == "this software, over bench:0"


@pytest.mark.parametrize("named", ["can0", "socketcan:", ":can0", ""])
def test_a_cable_is_named_by_interface_and_channel(named):
    with pytest.raises(InputError, match="names no CAN interface"):
        cable_of(named)


def test_without_a_cable_the_page_says_how_to_have_one(tablet, order):
    page = tablet.seen(order_path(order, "add", "readout") + "?way=live")
    assert "auditkit bay --can INTERFACE:CHANNEL" in page
    assert "Read the vehicle:" not in page


# From a file, pasted


def test_a_file_is_shown_before_it_is_recorded_to_its_last_byte(desk, tablet, order):
    path = order_path(order, "add", "readout")
    raw = RAW.replace("\n", "\r\n")
    hidden = {**tablet.hidden(f"{path}?way=file"), "tool": TOOL}
    shown = tablet.post(
        path, data={**hidden, "show": "yes"}, files={"raw": ("r.txt", raw.encode())}
    )
    assert shown.status_code == 200
    assert "Stored fault codes: P0401" in text_of(shown.text)
    assert kinds(desk, order) == ["opening"]  # looking records nothing
    kept = re.search(r'name="kept_raw" value="([^"]+)"', shown.text)[1]
    answer = tablet.post(path, data={**hidden, "kept_raw": unescape(kept)})
    assert answer.status_code == 303, text_of(answer.text)
    assert last(desk, order)["raw"] == raw


def test_a_second_readout_is_held_against_the_first(desk, tablet, order):
    path = order_path(order, "add", "readout")
    hidden = {**tablet.hidden(f"{path}?way=paste"), "tool": TOOL}
    assert tablet.post(path, data={**hidden, "raw": RAW}).status_code == 303
    after = read(state="cleared")[0].text
    look = tablet.post(
        order_path(order, "look", "readout"), data={**hidden, "raw": after}
    )
    page = text_of(look.text)
    assert "Against the readout of" in page
    assert "Codes were cleared in between" in page


@pytest.mark.parametrize("text", ["hello", "7E8 03"])
def test_what_holds_no_answer_is_no_readout(desk, tablet, order, text):
    path = order_path(order, "add", "readout")
    hidden = {**tablet.hidden(f"{path}?way=paste"), "tool": TOOL}
    answer = tablet.post(path, data={**hidden, "raw": text})
    assert answer.status_code == 422
    assert "no whole answer of a vehicle is in it" in answer.text
    assert kinds(desk, order) == ["opening"]


# Typed from a display


TYPED = {
    "how": "typed",
    "way": "typed",
    "tool": TOOL,
    "typed.modules.0.module": "engine",
    "typed.modules.0.stored.how": "these",
    "typed.modules.0.stored": "0401",
    "typed.modules.0.pending.how": "none",
    "typed.modules.0.permanent.how": "not-shown",
    "typed.modules.0.lamp": "yes",
    "typed.modules.0.count": "1",
    "typed.modules.0.self_tests.how": "these",
    "typed.modules.0.self_tests.0.monitor": "EGR",
    "typed.modules.0.self_tests.0.mid": "31",
    "typed.modules.0.self_tests.0.value.value": "214",
    "typed.modules.0.self_tests.0.value.unit": "count",
    "typed.modules.0.self_tests.0.minimum.value": "350",
    "typed.modules.0.self_tests.0.minimum.unit": "count",
    "typed.counts.warm_ups.value": "27",
    "typed.counts.warm_ups.unit": "count",
    "typed.vin": "0ZZTB1A18CA000123",
}


def typed(tablet, order, more=None, pictures=None):
    path = order_path(order, "add", "readout")
    data = {**tablet.hidden(f"{path}?way=typed"), **TYPED, **(more or {})}
    return tablet.post(path, data=data, files=pictures)


def test_three_choices_say_what_was_displayed_and_what_the_display_lacks(
    desk, tablet, order
):
    answer = typed(tablet, order)
    assert answer.status_code == 303, text_of(answer.text)
    (module,) = last(desk, order)["typed"]["modules"]
    assert module["stored"] == ["P0401"]
    assert module["pending"] == []
    assert "permanent" not in module
    assert module["not_shown"] == ["permanent"]
    assert "monitors" not in module  # nothing chosen: not asked


def test_a_photograph_of_each_screen_belongs_to_the_readout(desk, tablet, order):
    picture = photo()
    files_ = {"picture.codes": ("codes.jpg", picture, "image/jpeg")}
    assert typed(tablet, order, pictures=files_).status_code == 303
    assert kinds(desk, order) == ["opening", "readout", "attachment"]
    assert last(desk, order)["of"] == 1
    assert last(desk, order)["shows"] == "display: codes and lamp"


def test_the_layout_of_the_readout_before_is_taken_over_and_no_value(
    desk, tablet, order
):
    typed(tablet, order)
    page = tablet.seen(order_path(order, "add", "readout") + "?way=typed")
    assert 'value="engine"' in page
    assert 'name="typed.modules.0.self_tests.0.mid" value="31"' in page
    assert 'value="not-shown" checked' in page
    for value in ("214", "350", "0401", "P0401", "27", "0ZZTB1A18CA000123"):
        assert f'value="{value}"' not in page, value


def folded(page):
    """Return whether each group of a typed form stands open, by its title."""
    form = page[page.index("Module 1:") : page.index("Record and sign")]
    found = re.findall(r"<details( open)?><summary>([^<]+)</summary>", form)
    return {title: bool(is_open) for is_open, title in found}


def test_groups_are_folded_until_the_display_showed_them_once(tablet, order):
    path = order_path(order, "add", "readout") + "?way=typed"
    groups = ("Readiness", "Self-tests (mode $06)", "Calibration ids")
    first = folded(tablet.seen(path))
    assert [first[name] for name in groups] == [False] * 3
    assert first["Counts and odometer on the display"] is False
    assert first["Photographs of the display"] is False
    more = {"typed.modules.0.monitors.how": "not-shown"}
    assert typed(tablet, order, more).status_code == 303
    second = folded(tablet.seen(path))
    assert second["Self-tests (mode $06)"] is True
    assert second["Readiness: not shown by this display"] is False
    assert second["Calibration ids"] is False
    assert second["Counts and odometer on the display"] is True


def test_after_the_repair_what_its_questions_rest_on_stands_open(tablet, desk, order):
    path = order_path(order, "add", "readout")
    fields = {"way": "paste", "how": "raw", "tool": TOOL, "raw": RAW}
    assert tablet.fill(path, f"{path}?way=paste", fields=fields).status_code == 303
    before = folded(tablet.seen(f"{path}?way=typed"))
    assert not before["Self-tests (mode $06)"]
    repair = next(e for e in EVENTS if e["kind"] == "repair")
    made = {**repair, "at": desk.at(), "by": "boss-1"}
    del made["started"]
    hands = desk.hands(desk.sign_ins.find(tablet.cookies[COOKIE]))
    form = Form(f"repaired-{order}", [made], unacknowledged=True)
    desk.writer.take(order, form, hands).result()
    after = folded(tablet.seen(f"{path}?way=typed"))
    assert after["Self-tests (mode $06)"]
    assert after["Counts and odometer on the display"]
    assert not after["Readiness"]


def test_what_is_typed_or_amiss_stands_open(tablet, order):
    path = order_path(order, "add", "readout")
    amiss = {
        "typed.modules.0.stored": "",  # these, and none is written
        "typed.modules.0.monitors.how": "not-shown",
        "typed.modules.0.monitors.0.monitor": "catalyst",
        "typed.modules.0.monitors.0.state": "complete",
    }
    answer = typed(tablet, order, amiss)
    assert answer.status_code == 422
    shown = folded(answer.text)
    assert shown["Self-tests (mode $06)"]
    assert shown["Readiness: not shown by this display"]
    assert shown["Counts and odometer on the display"]
    assert not shown["Calibration ids"]
    more = tablet.fill(
        path, f"{path}?way=typed", fields={"more": "typed.modules.0.self_tests"}
    )
    assert folded(more.text)["Self-tests (mode $06)"]


def test_a_group_that_stays_folded_was_not_asked(tablet, desk, order):
    """Its names are those of a live readout, which this display need not show."""
    path = order_path(order, "add", "readout")
    fields = {"way": "paste", "how": "raw", "tool": TOOL, "raw": RAW}
    assert tablet.fill(path, f"{path}?way=paste", fields=fields).status_code == 303
    page = tablet.seen(f"{path}?way=typed")
    names = re.findall(
        r'name="(typed\.[^"]+\.(?:monitor|mid|tid|unit))" value="([^"]*)"', page
    )
    assert len(names) > 10
    said = {k: v for k, v in {**dict(names), **TYPED}.items() if ".self_t" not in k}
    said |= {k: v for k, v in names if ".self_tests." in k}
    said["typed.modules.0.module"] = "7E8"
    hidden = tablet.hidden(f"{path}?way=typed")
    answer = tablet.post(path, data={**hidden, **said})
    assert answer.status_code == 303, text_of(answer.text)
    (module, *_) = last(desk, order)["typed"]["modules"]
    assert module["stored"] == ["P0401"]
    assert {"monitors", "self_tests", "not_shown"} & module.keys() == {"not_shown"}
    assert module["not_shown"] == ["permanent"]


def test_the_unit_of_a_self_test_is_written_once(tablet, desk, order):
    one = "typed.modules.0.self_tests.0."
    more = {f"{one}minimum.unit": "", f"{one}value.unit": "kPa"}
    assert typed(tablet, order, more).status_code == 303
    (module,) = last(desk, order)["typed"]["modules"]
    (test,) = module["self_tests"]
    assert test["value"] == {"value": "214", "unit": "kPa"}
    assert test["minimum"] == {"value": "350", "unit": "kPa"}
    page = tablet.seen(order_path(order, "add", "readout") + "?way=typed")
    assert f'name="{one}value.unit" value="kPa"' in page
    assert f'name="{one}minimum.unit"' not in page
    # One that differs, as another program may have written it, is not hidden.
    draft = order_path(order, "draft", "readout")
    once = tablet.hidden(order_path(order, "add", "readout") + "?way=typed")
    kept = {**once, **TYPED, f"{one}minimum.unit": "psi"}
    assert "Draft kept" in tablet.post(draft, data=kept).text
    page = tablet.seen(order_path(order, "add", "readout") + "?way=typed")
    assert f'name="{one}minimum.unit" value="psi"' in page


@pytest.mark.parametrize("how", ["not-shown", ""])
def test_a_group_of_the_layout_that_was_not_read_again_holds_nothing(
    desk, tablet, order, how
):
    typed(tablet, order)
    path = order_path(order, "add", "readout")
    page = tablet.seen(f"{path}?way=typed")
    assert 'name="typed.modules.0.self_tests.0.monitor" value="EGR"' in page
    less = {
        "typed.modules.0.self_tests.how": how,
        "typed.modules.0.self_tests.0.value.value": "",
        "typed.modules.0.self_tests.0.minimum.value": "",
    }
    answer = typed(tablet, order, less)
    assert answer.status_code == 303, text_of(answer.text)
    (module,) = last(desk, order)["typed"]["modules"]
    assert "self_tests" not in module
    assert ("self_tests" in module["not_shown"]) == (how == "not-shown")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"typed.counts.warm_ups.value": "300"}, "counts to 255 there"),
        ({"typed.modules.0.count": "3"}, "it counts 3 stored codes, and 1 is listed"),
        ({"typed.vin": "0ZZTB1A18CA000124"}, "the order was opened for"),
        ({"typed.modules.0.self_tests.0.value.unit": "g/s"}, "different units"),
        (
            {"typed.modules.0.self_tests.1.monitor": "catalyst"},
            "catalyst: nothing is written, and it is left out",
        ),
    ],
)
def test_what_a_display_hardly_showed_is_asked_about_and_not_mended(
    desk, tablet, order, more, said
):
    answer = typed(tablet, order, more)
    assert answer.status_code == 200
    assert said in text_of(answer.text)
    assert kinds(desk, order) == ["opening"]
    assert typed(tablet, order, {**more, "is_so": "yes"}).status_code == 303
    held = last(desk, order)["typed"]
    if "typed.counts.warm_ups.value" in more:
        assert held["counts"]["warm_ups"]["value"] == "300"


@pytest.mark.parametrize(
    "more",
    [
        {"typed.modules.0.stored": ""},
        {"typed.modules.0.pending": "P0420"},
        {"typed.modules.0.self_tests.how": "not-shown"},
    ],
)
def test_a_choice_and_what_is_written_have_to_agree(desk, tablet, order, more):
    answer = typed(tablet, order, more)
    assert answer.status_code == 422
    assert "do not agree" in answer.text
    assert kinds(desk, order) == ["opening"]


def test_names_of_monitors_are_offered_by_how_the_engine_ignites(tablet, order):
    """PID 01 of spark ignition names no NOx aftertreatment (SAE J1979, Table B.2)."""
    page = tablet.seen(order_path(order, "add", "readout") + "?way=typed")
    offered = {
        name: re.findall(r'<option value="([^"]+)">', part.partition("</datalist>")[0])
        for name, part in re.findall(r'<datalist id="([^"]+)">(.*)', page)
    }
    assert "catalyst" in offered["monitor-names"]
    assert "nox-aftertreatment" not in offered["monitor-names"]
    assert "EGR bank 1" in offered["test-names"]
    assert "31" in offered["test-ids"]
    more = tablet.fill(
        order_path(order, "add", "readout"),
        order_path(order, "add", "readout") + "?way=typed",
        more="typed.modules.0.monitors",
    ).text
    assert 'name="typed.modules.0.monitors.0.monitor"' in more
    assert more.count('list="monitor-names"') == 1


DISPLAYED = {
    "way": "typed",
    "how": "typed",
    "tool": TOOL,
    "typed.modules.0.module": "7E8",
    "typed.modules.0.stored.how": "these",
    "typed.modules.0.stored": "0401",
    "typed.modules.0.pending.how": "none",
    "typed.modules.0.lamp": "no",
    "is_so": "yes",
}


def test_a_typed_readout_is_corrected_as_other_steps_are(tablet, desk, order):
    """The lamp that was typed as off stays so, though nobody ticks it."""
    path = order_path(order, "add", "readout")
    assert tablet.fill(path, f"{path}?way=typed", fields=DISPLAYED).status_code == 303
    entry = desk.newest_entry(order)
    correct = order_path(order, "correct", str(entry))
    assert f'href="{correct}"' in tablet.seen(order_path(order))
    page = tablet.seen(correct)
    assert 'name="event.how" value="typed"' in page
    assert 'value="raw"' not in page  # nor is it made a readout of another form
    said = dict(re.findall(r'name="(event\.[^"]+)" value="([^"]*)"', page))
    said = {k: v for k, v in said.items() if ".not_shown." not in k}
    said |= {"event.typed.modules.0.lamp": "no", "why": "a slip of the finger"}
    answer = tablet.fill(
        correct, fields={**said, "event.typed.modules.0.stored": "P0402"}
    )
    assert answer.status_code == 303, text_of(answer.text)
    made = last(desk, order)
    assert (made["kind"], made["event"]["typed"]["modules"]) == (
        "amendment",
        [{"module": "7E8", "stored": ["P0402"], "pending": [], "lamp": False}],
    )
    assert made["event"]["tool"] == TOOL


def test_the_bytes_of_a_vehicle_are_read_again_and_not_corrected(tablet, desk, order):
    path = order_path(order, "add", "readout")
    fields = {"way": "paste", "how": "raw", "tool": TOOL, "raw": RAW}
    assert tablet.fill(path, f"{path}?way=paste", fields=fields).status_code == 303
    entry = desk.newest_entry(order)
    page = tablet.seen(order_path(order))
    assert f"/correct/{entry}" not in page
    assert "Cautions acknowledged in time" in page
    assert "none was due" in page
    assert "no step so far calls for one" in page
