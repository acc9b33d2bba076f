"""The bay's pages, asked as a browser asks them: what they show, refuse and record."""

import json
import re
from importlib.resources import files

import pytest
from bay_desk import HOST, Tablet, desk_over, order_path
from conftest import PASSPHRASE
from photo import photo

from auditkit.bay.pages.guard import MOST
from auditkit.bay.pages.routes import WAYS
from auditkit.bay.pages.visit import Who
from auditkit.log.ledger import Ledger
from auditkit.order.instruments import parse_register
from auditkit.plugin.loading import load_canon
from auditkit.proof.role import Role

EVENTS = json.loads((files("auditkit_demo") / "RO-1001.json").read_text())["events"]
RAW = next(e["raw"] for e in EVENTS if e["kind"] == "readout")
OPENING = {
    "order": "RO-1",
    "raw": RAW,
    "tool": "text adapter (invented)",
    "vehicle.odometer.value": "184210",
    "vehicle.odometer.unit": "km",
    "vehicle.description": "delivery van, 2.0 litre",
    "complaint": "engine lamp is on",
}
DIAGNOSIS = {
    "codes.0": "P0401",
    "suspect_parts.0.name": "EGR valve",
    "suspect_parts.0.system": "egr",
    "suspect_parts.0.where.0": "engine-bay",
    "reasoning": "EGR flow below its limit",
}
PEOPLE = {
    "tech-a": Role.TECHNICIAN,
    "boss-1": Role.MANAGER,
    "eyes-1": Role.ONLOOKER,
}


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    path = tmp_path_factory.mktemp("bay") / "shop.auditlog"
    with Ledger.create(
        path, shop="Example Yard Garage", person="boss-1", passphrase=PASSPHRASE
    ) as ledger:
        for person, role in PEOPLE.items():
            if person != "boss-1":
                ledger.enrol(person, passphrase=PASSPHRASE, role=role)
    register = parse_register((files("auditkit_demo") / "instruments.json").read_text())
    with desk_over(path, PASSPHRASE, load_canon(), register=register) as made:
        yield made


@pytest.fixture(scope="module")
def tablets(desk):
    """Return a tablet for each person, signed in there."""
    found = {}
    for person in PEOPLE:
        found[person] = Tablet(desk)
        answer = found[person].sign_in(person, PASSPHRASE.decode())
        assert (answer.status_code, answer.headers["location"]) == (303, "/orders")
    return found


@pytest.fixture(scope="module")
def opened(tablets):
    """Return a technician's tablet, with an order open and read."""
    tablet = tablets["tech-a"]
    answer = tablet.fill("/new-order", fields=OPENING)
    assert answer.status_code == 303, answer.text
    return tablet


def text_of(page):
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def test_an_order_is_opened_with_what_its_readout_says(opened):
    page = text_of(opened.seen("/orders/RO-1"))
    assert "delivery van, 2.0 litre" in page
    assert "P0401 (engine module 7E8): exhaust gas recirculation flow" in page
    assert "VIN 0ZZTB1A18CA000123" in page  # the readout's, typed by nobody
    assert "RO-1" in opened.seen("/orders")
    for sought in ("RO-", "000123", "0ZZTB1A18CA000123"):
        assert 'href="/orders/RO-1"' in opened.seen(f"/orders?find={sought}"), sought
    assert "No repair order fits" in opened.seen("/orders?find=RO-77")


def test_an_order_with_an_erased_text_is_shown_and_says_so(tmp_path):
    path, register = tmp_path / "shop.auditlog", {}
    opening = {**OPENING, "customer.name": "Customer One (invented)"}
    with Ledger.create(
        path, shop="Example Yard Garage", person="boss-1", passphrase=PASSPHRASE
    ):
        pass
    with desk_over(path, PASSPHRASE, load_canon(), register=register) as made:
        tablet = Tablet(made)
        tablet.sign_in("boss-1", PASSPHRASE.decode())
        assert tablet.fill("/new-order", fields=opening).status_code == 303
    with Ledger.open(path) as ledger:
        given = {"reason": "asked for", "passphrase": PASSPHRASE}
        ledger.erase("RO-1", paths=["customer.name"], **given)
    with desk_over(path, PASSPHRASE, load_canon(), register=register) as made:
        tablet = Tablet(made)
        tablet.sign_in("boss-1", PASSPHRASE.decode())
        page = text_of(tablet.seen("/orders/RO-1"))
    assert re.search(r"recorded at once · boss-1 · opening: .* · erased by entry", page)


def test_what_is_wrong_stands_at_its_field_and_nothing_is_recorded(tablets, desk):
    tablet, before = tablets["tech-a"], desk.open_orders()
    answer = tablet.fill("/new-order", order="", complaint="x")
    assert answer.status_code == 422
    assert "Order number: no answer" in answer.text
    assert 'id="wrong-f-vehicle-odometer"' in answer.text
    assert 'value="x"' in answer.text or ">x</textarea>" in answer.text
    assert desk.open_orders() == before


def test_a_step_answers_with_what_it_changed_and_what_is_next(opened, desk):
    path = order_path("RO-1", "add", "diagnosis")
    answer = opened.fill(path, fields=DIAGNOSIS)
    assert answer.status_code == 303, text_of(answer.text)
    page = text_of(opened.seen(answer.headers["location"]))
    assert "P0401: Part can cause the fault: shown, by the table of fault codes" in page
    assert "Recorded as entry" in page
    assert "Before the bench test of EGR valve, read and acknowledge" in page
    # A tablet that asks each second is told once, then nothing until more comes.
    newest = desk.newest_entry("RO-1")
    alone = order_path("RO-1", "argument")
    assert opened.get(f"{alone}?entry={newest}").status_code == 204
    assert "EGR valve" in opened.get(f"{alone}?entry={newest - 1}").text


def test_the_same_form_sent_twice_is_one_event(opened, desk):
    path = order_path("RO-1", "add", "code_clear")
    fields = {**opened.hidden(path), "tool": "text adapter (invented)"}
    first, again = (opened.post(path, data=fields) for _ in range(2))
    assert first.headers["location"] == again.headers["location"]
    kinds = [line.event["kind"] for line in desk.standing("RO-1").logged.lines]
    assert kinds.count("code_clear") == 1


def test_a_test_shows_its_result_while_it_is_typed(opened, desk):
    path = order_path("RO-1", "look", "bench_test")
    hidden = opened.hidden(
        order_path("RO-1", "add", "bench_test") + "?part=egr-valve&method=seal-hold"
    )
    test = next(e for e in EVENTS if e["kind"] == "bench_test")
    typed = {
        f"readings.{r['name']}": f"{r['value']} {r['unit']}" for r in test["readings"]
    }
    for name in ("start temperature", "end temperature"):
        typed[f"conditions.{name}"] = typed.pop(f"readings.{name}")
    typed |= {
        "readings.hold time": "60 s",
        "conditions.uncertainty of hold time": "0.5 s",
        "conditions.barometer": "98.2 kPa",
        "conditions.uncertainty of barometer": "0.3 kPa",
        "conditions.pressure reference": "vacuum",
        "instruments.0.id": "gauge-3",
        "instruments.1.id": "thermometer-1",
        "limit.minimum": "15.0",
        "limit.unit": "inHg",
        "limit.of": "end pressure",
        "limit.source": "invented for this test",
    }
    newest = desk.newest_entry("RO-1")
    short = opened.post(path, data={**hidden, "part": "egr-valve"})
    assert "Still asked:" in short.text
    whole = opened.post(path, data={**hidden, **typed})
    assert "<svg" in whole.text
    assert "faulty: outside its limit beyond the uncertainty" in text_of(whole.text)
    brief, folded = map(text_of, whole.text.split("<details>"))
    assert "6.52 +/- 0.75 inHg" in brief
    assert "uncertainty budget" in folded
    assert "uncertainty budget" not in brief
    assert desk.newest_entry("RO-1") == newest  # looking records nothing


def test_a_draft_comes_back_until_its_step_is_recorded(opened):
    path = order_path("RO-1", "add", "road_test")
    fields = {**opened.hidden(path), "conditions": "steady 80 km/h, then town"}
    kept = opened.post(order_path("RO-1", "draft", "road_test"), data=fields)
    assert kept.text.startswith("Draft kept ")
    back = opened.seen(path)
    assert "steady 80 km/h, then town" in back
    assert fields["once"] in back  # of the same form still: sent twice, it is one event


def test_a_slip_is_corrected_and_stays_readable(opened, desk):
    first = desk.standing("RO-1").logged.lines[0].seq
    path = order_path("RO-1", "correct", str(first))
    page = opened.seen(path)
    assert 'value="184210"' in page
    fields = {
        **opened.hidden(path),
        "why": "two digits were swapped",
        **{f"event.{k}": v for k, v in OPENING.items() if "." in k},
        "event.vehicle.odometer.value": "148210",
        "event.complaint": OPENING["complaint"],
        "event.vehicle.vin": "0ZZTB1A18CA000123",
        "event.vehicle.model_year": "2012",
        "event.vehicle.ignition": "spark",
    }
    answer = opened.post(path, data=fields)
    assert answer.status_code == 303, text_of(answer.text)
    last = desk.standing("RO-1").logged.lines[-1].event
    assert last["kind"] == "amendment"
    assert last["event"]["vehicle"]["odometer"]["value"] == "148210"


# Who may what


FILLED = {"order": "RO-1", "kind": "repair", "entry": "2"}


@pytest.mark.parametrize("way", WAYS, ids=lambda way: f"{way.method} {way.path}")
def test_each_request_is_answered_to_whom_it_is_for(way, tablets, opened, desk):
    path = way.path.format(**FILLED)
    ask = Tablet(desk).get if way.method == "GET" else Tablet(desk).post
    stranger = ask(path)
    if way.who is Who.ANYBODY:
        leads_on = stranger.headers.get("location") == "/orders"
        assert stranger.status_code in {200, 403} or leads_on
        return
    to_sign_in = stranger.headers.get("location", "").startswith("/sign-in")
    assert stranger.status_code == 401 or to_sign_in
    if way.who is Who.LOOKS:
        return
    onlooker, newest = tablets["eyes-1"], desk.newest_entry("RO-1")
    token = tablets["eyes-1"].seen("/orders")
    (token,) = set(re.findall(r'name="form_token" value="([^"]+)"', token))
    if way.method == "GET":
        answer = onlooker.get(path)
    else:
        answer = onlooker.post(path, data={"form_token": token, "once": "x"})
    assert answer.status_code == 403
    assert desk.newest_entry("RO-1") == newest


def test_an_onlooker_is_sent_no_form_that_writes(tablets, opened):
    page = tablets["eyes-1"].seen("/orders/RO-1")
    assert "You can look, not write." in page
    assert page.count("<form") == 2  # the one that locks, and signs in again
    assert 'action="/orders' not in page
    assert "/new-order" not in page
    assert "Correct it" not in page
    assert "New repair order" not in tablets["eyes-1"].seen("/orders")


def test_a_form_of_another_sign_in_counts_nowhere(opened, tablets, desk):
    path = order_path("RO-1", "add", "code_clear")
    theirs = tablets["boss-1"].hidden(path)
    newest = desk.newest_entry("RO-1")
    for token in ("", "x", theirs["form_token"]):
        fields = {"once": "y", "tool": "another", "form_token": token}
        assert opened.post(path, data=fields).status_code == 403
    assert desk.newest_entry("RO-1") == newest


def test_another_host_reaches_nothing(desk):
    tablet = Tablet(desk)
    for host in ("evil.test", "", f"{HOST}.evil.test", "[::1]", f"[{HOST}]x.evil"):
        answer = tablet.get("/sign-in", headers={"Host": host})
        assert answer.status_code == 400, host
    assert tablet.get("/sign-in", headers={"Host": f"{HOST}:8750"}).status_code == 200


def test_every_answer_forbids_what_a_page_does_not_need(opened, desk):
    for path in ("/orders", "/orders/RO-1", "/static/look.css", "/no/such/page"):
        headers = opened.get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "'unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"


def test_cookies_are_for_this_bay_alone(desk):
    answer = Tablet(desk).sign_in("tech-a", PASSPHRASE.decode())
    for cookie in answer.headers.get_list("set-cookie"):
        assert "HttpOnly" in cookie
        assert "SameSite=strict" in cookie


def test_a_wrong_passphrase_and_a_wrong_name_are_answered_alike(desk):
    tablet = Tablet(desk)
    wrong = [
        tablet.sign_in("tech-a", "wrong"),
        tablet.sign_in("nobody-here", PASSPHRASE.decode()),
    ]
    told = [re.search(r'role="alert">([^<]{20,})<', one.text)[1] for one in wrong]
    assert [one.status_code for one in wrong] == [403, 403]
    assert told[0] == told[1]


@pytest.mark.parametrize("there", ["//evil.test/", "/\\evil.test", "https://evil.test"])
def test_signing_in_leads_to_pages_of_this_bay_alone(desk, there):
    answer = Tablet(desk).sign_in("tech-a", PASSPHRASE.decode(), next=there)
    assert answer.headers["location"] == "/orders"


def test_what_is_typed_is_shown_as_text(opened):
    evil = '<img src=x onerror="alert(1)"><script>alert(2)</script>'
    path = order_path("RO-1", "add", "road_test")
    page = opened.fill(path, fields={"conditions": evil, "distance.value": evil})
    assert page.status_code == 422
    for one in (page.text, opened.seen(f"/orders?find={evil}")):
        assert "<img" not in one
        assert "<script>" not in one


def test_a_request_that_is_too_large_is_refused(opened):
    path = order_path("RO-1", "add", "attachment")
    hidden = opened.hidden(path)
    large = {"sha256": ("display.jpg", b"\xff\xd8\xff" + bytes(MOST))}
    assert opened.post(path, data=hidden, files=large).status_code == 413


def test_a_locked_page_shows_no_order_and_keeps_what_was_typed(desk):
    tablet = Tablet(desk)
    tablet.sign_in("boss-1", PASSPHRASE.decode())
    token = re.search(r'name="form_token" value="([^"]+)"', tablet.seen("/orders"))[1]
    assert tablet.post("/lock", data={"form_token": token}).status_code == 303
    led = tablet.get("/orders/RO-1").headers["location"]
    assert led == "/sign-in?next=/orders/RO-1"
    asked = tablet.post(
        order_path("RO-1", "add", "repair"), data={"form_token": token, "once": "z"}
    )
    assert (asked.status_code, asked.text) == (401, "Locked: sign in.")


# The same vehicle again; what is told before a form


def test_a_vin_is_checked_while_it_is_typed_and_its_last_visit_is_taken_over(opened):
    told = {
        "0ZZTB1A18CA00012": "16 of 17 characters",
        "OZZTB1A18CA000123": "A VIN has no O",
        "0ZZTB1A19CA000123": "does not fit",
        "0ZZTB1A18CA000123": "fits",
    }
    token = opened.hidden("/new-order")
    for vin, said in told.items():
        answer = opened.post("/vin", data={**token, "vehicle.vin": vin})
        assert said in text_of(answer.text), vin
    assert "Here before: RO-1" in text_of(answer.text)
    assert 'name="take" value="RO-1"' in answer.text
    typed = {"order": "RO-9", "vehicle.vin": "0ZZTB1A18CA000123", "take": "RO-1"}
    page = opened.post("/new-order", data={**token, **typed}).text
    assert 'name="vehicle.description" value="delivery van, 2.0 litre"' in page
    assert 'name="vehicle.ignition" value="spark" checked' in page
    assert 'value="184210"' not in page  # what it showed is read again


def test_an_odometer_that_went_back_is_asked_about(opened, desk):
    fields = {**OPENING, "order": "RO-8", "vehicle.odometer.value": "100"}
    asked = opened.fill("/new-order", fields=fields)
    assert asked.status_code == 200
    assert "reads less than on RO-1" in asked.text
    assert desk.newest_entry("RO-8") == -1
    again = opened.fill("/new-order", fields={**fields, "is_so": "yes"})
    assert again.status_code == 303, text_of(again.text)


def test_before_a_form_stands_what_is_so_and_what_still_waits(opened):
    fields = {**OPENING, "order": "RO-7", "vehicle.odometer.value": "184300"}
    assert opened.fill("/new-order", fields=fields).status_code == 303
    add = order_path("RO-7", "add")
    assert opened.fill(f"{add}/diagnosis", fields=DIAGNOSIS).status_code == 303
    repair = text_of(opened.seen(f"{add}/repair?part=egr-valve"))
    assert "EGR valve: untested, so it is not shown to be at fault for P0401" in repair
    clear = text_of(opened.seen(f"{add}/code_clear"))
    assert "is kept. No freeze frame was read, and clearing wipes it" in clear
    assert "It is fine to clear" not in clear
    drive = text_of(opened.seen(f"{add}/road_test"))
    assert "Not complete since codes were cleared: EGR and/or VVT" in drive
    assert "what to do:" in drive
    # What was complete before a clear is not complete after it.
    assert opened.fill(f"{add}/code_clear", tool="a tool").status_code == 303
    drive = text_of(opened.seen(f"{add}/road_test"))
    assert "each of its own tests has to run again" in drive
    assert "omplete since codes were cleared" not in drive


def test_an_order_is_handed_over_with_what_is_done_and_what_waits(opened, desk):
    fields = {**OPENING, "order": "RO-6", "vehicle.odometer.value": "184400"}
    assert opened.fill("/new-order", fields=fields).status_code == 303
    path = order_path("RO-6", "add", "handover")
    page = opened.seen(path)
    assert 'value="boss-1"' in page
    assert 'value="eyes-1"' not in page  # who looks cannot go on
    said = {"to": "boss-1", "done": "the hose is off", "waits": "the gasket"}
    assert opened.fill(path, fields=said).status_code == 303
    told = "tech-a handed over to boss-1 at"
    for seen in ("/orders", "/orders/RO-6"):
        page = text_of(opened.seen(seen))
        assert told in page
        assert "Done: the hose is off. Waits: the gasket." in page
    # Work takes it on; what the order shows is as it was before.
    add = order_path("RO-6", "add", "diagnosis")
    assert opened.fill(add, fields=DIAGNOSIS).status_code == 303
    assert told not in text_of(opened.seen("/orders"))


def test_a_picture_is_of_a_step_that_is_chosen(opened, desk):
    fields = {**OPENING, "order": "RO-5", "vehicle.odometer.value": "184500"}
    assert opened.fill("/new-order", fields=fields).status_code == 303
    add = order_path("RO-5", "add", "diagnosis")
    assert opened.fill(add, fields=DIAGNOSIS).status_code == 303
    path = order_path("RO-5", "add", "attachment")
    page = opened.seen(path)
    last = desk.standing("RO-5").so_far.order.of("diagnosis")[-1].index
    assert re.search(rf'<(?:option|input)[^>]* value="{last}"[^>]*>\s*diagnosis', page)
    data = {**opened.hidden(path), "shows": "the hose", "of": str(last)}
    answer = opened.post(path, data=data, files={"sha256": ("hose.jpg", photo())})
    assert answer.status_code == 303, text_of(answer.text)
    held = desk.standing("RO-5").logged.lines[-1].event
    assert (held["of"], held["kept"]) == (last, True)


def test_what_else_happened_is_listed_as_the_events_of_a_repair_follow(opened):
    page = opened.seen("/orders/RO-1").partition("Something else happened")[2]
    listed = re.findall(r'class="link" href="[^"]*/(\w+)">', page.partition("</ul>")[0])
    assert listed == [
        *("readout", "diagnosis", "caution", "bench_test", "repair", "code_clear"),
        *("road_test", "handover", "attachment", "close"),
    ]
