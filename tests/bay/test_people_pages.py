"""Locking, one order at the counter, and what a manager does on the shop's page."""

import html
import json
import re
from datetime import date, timedelta
from importlib.resources import files
from itertools import product

import pytest
from bay_desk import Tablet, desk_over, order_path
from bay_writing import OPENING
from conftest import PASSPHRASE

from auditkit.bay.one_step import Form
from auditkit.bay.pages.routes import WAYS
from auditkit.bay.signed_in import IDLE
from auditkit.log import key_files
from auditkit.log.ledger import Ledger
from auditkit.order.instruments import parse_register
from auditkit.plugin.loading import load_canon
from auditkit.proof.role import Role

WORD = PASSPHRASE.decode()
OWN = "boss-1's own words"
LOGS = "the log's own words"


@pytest.fixture
def desk(tmp_path):
    """Return a desk whose log key has another passphrase than anybody's own."""
    path = tmp_path / "shop.auditlog"
    with Ledger.create(
        path, shop="Example Yard Garage", person="first-1", passphrase=LOGS.encode()
    ) as ledger:
        for person, role in (
            ("boss-1", Role.MANAGER),
            ("tech-a", Role.TECHNICIAN),
            ("eyes-1", Role.ONLOOKER),
        ):
            word = OWN.encode() if person == "boss-1" else PASSPHRASE
            ledger.enrol(
                person, passphrase=LOGS.encode(), own_passphrase=word, role=role
            )
    register = parse_register((files("auditkit_demo") / "instruments.json").read_text())
    with desk_over(path, LOGS.encode(), load_canon(), register=register) as made:
        yield made


@pytest.fixture
def boss(desk):
    tablet = Tablet(desk)
    assert tablet.sign_in("boss-1", OWN).status_code == 303
    return tablet


@pytest.fixture
def tech(desk):
    tablet = Tablet(desk)
    assert tablet.sign_in("tech-a", WORD).status_code == 303
    return tablet


@pytest.fixture
def orders(desk, tech):
    """Open two orders; return their numbers."""
    who = desk.sign_ins.find(tech.cookies["auditkit_bay"])
    for order in ("RO-1", "RO-2"):
        event = {
            **OPENING,
            "by": "tech-a",
            "customer": {"name": f"Customer of {order}"},
        }
        desk.writer.take(order, Form(f"f-{order}", [event]), desk.hands(who)).result()
    return "RO-1", "RO-2"


def token_of(page):
    return re.search(r'name="form_token" value="([^"]+)"', page)[1]


def text_of(page):
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


# Locking


def test_a_locked_page_goes_on_where_it_was_with_its_forms_still_good(
    tech, orders, desk
):
    path = order_path("RO-1", "add", "code_clear")
    fields = {**tech.hidden(path), "tool": "text adapter (invented)"}
    tech.post(order_path("RO-1", "draft", "code_clear"), data=fields)
    token = token_of(tech.seen(path))
    locked = tech.post("/lock", data={"form_token": token, "next": path})
    assert locked.headers["location"] == f"/sign-in?next={path}"
    page = tech.seen(path)
    assert "Passphrase of tech-a" in page
    assert "RO-1" not in text_of(page)  # the field that leads back is hidden
    assert tech.post(path, data=fields).status_code == 401
    wrong = tech.sign_in("tech-a", "wrong", next=path)
    assert (wrong.status_code, "Locked" in wrong.text) == (403, True)
    again = tech.sign_in("tech-a", WORD, next=path)
    assert again.headers["location"] == path
    assert "text adapter (invented)" in tech.seen(path)  # the draft
    assert tech.post(path, data=fields).status_code == 303  # drawn before it locked


def test_an_idle_page_locks_itself_though_it_asks_each_second(tech, orders, desk):
    clock = desk.sign_ins._clock() + IDLE - 1
    newest = desk.newest_entry("RO-1")
    asks = f"{order_path('RO-1', 'argument')}?entry={newest}"
    desk.sign_ins._clock = lambda: clock
    assert tech.get(asks).status_code == 204
    clock += 1
    asked = tech.get(asks)
    assert (asked.status_code, asked.text) == (401, "Locked: sign in.")
    assert desk.sign_ins.find(tech.cookies["auditkit_bay"]).key is None


def test_who_signs_out_leaves_nothing_and_another_site_signs_nobody_out(tech, desk):
    token, session = token_of(tech.seen("/orders")), tech.cookies["auditkit_bay"]
    assert tech.post("/sign-out", data={"form_token": "x"}).status_code == 403
    assert desk.sign_ins.find(session)
    gone = tech.post("/sign-out", data={"form_token": token})
    assert gone.headers["location"] == "/sign-in"
    assert desk.sign_ins.find(session) is None
    assert tech.get("/orders").headers["location"].startswith("/sign-in")


def test_another_person_at_the_same_tablet_ends_the_first_sign_in(tech, desk):
    session = tech.cookies["auditkit_bay"]
    assert tech.sign_in("eyes-1", WORD).status_code == 303
    assert desk.sign_ins.find(session) is None


# At the counter


@pytest.fixture
def counter(boss, orders):
    token = token_of(boss.seen("/orders/RO-1"))
    shown = boss.post(order_path("RO-1", "counter"), data={"form_token": token})
    assert shown.headers["location"] == "/counter"
    boss.form_token = token
    return boss


def test_the_counter_shows_one_order_and_no_way_on_but_the_passphrase(counter):
    page = counter.seen("/counter")
    assert "RO-1" in page
    assert "delivery van (invented)" in page
    for other in ("RO-2", "Customer of", "/shop", "tech-a: ", "Correct it", "<form"):
        assert other not in page, other
    links = [
        link for link in re.findall(r'href="([^"]*)"', page) if "static" not in link
    ]
    assert links == ["data:,", "#main", "/sign-in?next=/orders/RO-1"]


AT_COUNTER = {("GET", "/sign-in"), ("POST", "/sign-in"), ("GET", "/counter")}


def test_nothing_else_is_reached_from_the_counter(counter, desk):
    """Route by route, for the order that is shown too."""
    newest = desk.newest_entry("RO-1"), desk.newest_entry("RO-2")
    people = desk.people()
    for way, order in product(WAYS, ("RO-1", "RO-2")):
        path = way.path.format(order=order, kind="code_clear", entry=2)
        fields = {"form_token": counter.form_token, "once": "x", "tool": "x"}
        if way.method == "GET":
            answer = counter.get(path)
        else:
            answer = counter.post(path, data=fields)
        if (way.method, way.path) in AT_COUNTER:
            assert answer.status_code in {200, 403}
            assert "RO-2" not in answer.text
            assert "tech-a" not in text_of(answer.text).partition("What happened")[0]
        else:
            led = answer.headers.get("location") == "/counter"
            assert answer.status_code == 401 or (answer.status_code == 303 and led)
            assert "RO-" not in answer.text
    assert (desk.newest_entry("RO-1"), desk.newest_entry("RO-2")) == newest
    assert desk.people() == people
    assert desk.sign_ins.find(counter.cookies["auditkit_bay"]).key is None


def test_the_counter_ends_by_the_managers_passphrase_alone(counter):
    for person, word in (("tech-a", WORD), ("boss-1", "wrong"), ("boss-1", WORD)):
        refused = counter.sign_in(person, word)
        assert refused.status_code == 403
        assert counter.get("/orders").headers["location"] == "/counter"
    back = counter.sign_in("boss-1", OWN, next="/orders/RO-1")
    assert back.headers["location"] == "/orders/RO-1"
    assert "RO-2" in counter.seen("/orders")


def test_an_order_left_at_the_counter_is_covered_after_a_while(counter, desk):
    clock = desk.sign_ins._clock() + IDLE
    desk.sign_ins._clock = lambda: clock
    assert counter.get("/counter").headers["location"] == "/orders"
    assert "RO-1" not in text_of(counter.seen("/counter"))


def test_a_technician_shows_nobody_an_order_alone(tech, orders):
    token = token_of(tech.seen("/orders/RO-1"))
    asked = tech.post(order_path("RO-1", "counter"), data={"form_token": token})
    assert asked.status_code == 403
    assert "RO-2" in tech.seen("/orders")


# What a manager does


def act(tablet, what, **fields):
    token = token_of(tablet.seen("/shop"))
    return tablet.post(f"/shop/{what}", data={"form_token": token, **fields})


NEW = {
    "person": "tech-b",
    "role": "technician",
    "own": "tech-b's own words",
    "again": "tech-b's own words",
    "log_passphrase": LOGS,
}


def test_a_person_is_enrolled_by_the_logs_key_with_a_passphrase_of_their_own(
    boss, desk
):
    done = act(boss, "enrol", **NEW)
    assert done.status_code == 303, text_of(done.text)
    page = text_of(boss.seen(done.headers["location"]))
    assert "Done: entry 5 of the log." in page
    assert "tech-b: technician" in page
    assert Tablet(desk).sign_in("tech-b", LOGS).status_code == 403
    assert Tablet(desk).sign_in("tech-b", NEW["own"]).status_code == 303
    with desk.writer.reading() as log:
        row = log.store.row(5).entry
        assert log.verify().verified
    from auditkit.proof.entry import parse_payload

    assert parse_payload(row.payload).by == "log"


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"log_passphrase": OWN}, "nobody's own key signs for the log"),
        ({"log_passphrase": ""}, "not the passphrase of the log's key"),
        ({"again": "another one"}, "two passphrases differ"),
        ({"own": "short", "again": "short"}, "5 bytes long: it would be guessed"),
        ({"person": ""}, "is not said"),
        ({"person": "log"}, "may not be called 'log'"),
        ({"person": "../boss-1"}, "Not done"),
        ({"person": "tech-a"}, "lies here already"),
        ({"role": "owner"}, "no role is chosen"),
    ],
)
def test_what_is_wrong_is_told_and_nobody_is_enrolled(boss, desk, changed, told):
    before = sorted(p.name for p in key_files.folder_of(desk.writer.path).iterdir())
    asked = {**NEW, **changed}
    answer = act(boss, "enrol", **asked)
    assert answer.status_code in {403, 422}
    assert told in text_of(answer.text)
    for secret in (LOGS, OWN, asked["own"], asked["again"]):
        assert html.escape(secret) not in answer.text or not secret
        assert secret not in answer.text or not secret
    assert desk.writer.enrolment("tech-b") is None
    after = sorted(p.name for p in key_files.folder_of(desk.writer.path).iterdir())
    assert [n for n in after if n not in before and not n.endswith("checkpoint")] == []


def test_the_logs_passphrase_is_asked_for_each_time_and_guessed_five_times(boss, desk):
    assert act(boss, "enrol", **NEW).status_code == 303
    gone = {"person": "tech-b", "reason": "left the shop"}
    for _ in range(5):
        assert act(boss, "revoke", **gone).status_code == 403
    assert act(boss, "revoke", **gone, log_passphrase=LOGS).status_code == 429
    assert desk.writer.enrolment("tech-b")


def test_a_revoked_persons_sign_in_ends_at_once(boss, tech, orders, desk):
    path = order_path("RO-1", "add", "code_clear")
    fields = {**tech.hidden(path), "tool": "text adapter (invented)"}
    gone = act(
        boss, "revoke", person="tech-a", reason="left the shop", log_passphrase=LOGS
    )
    assert gone.status_code == 303, text_of(gone.text)
    newest = desk.newest_entry("RO-1")
    assert tech.post(path, data=fields).status_code == 401
    assert tech.get("/orders").headers["location"].startswith("/sign-in")
    assert desk.newest_entry("RO-1") == newest
    assert Tablet(desk).sign_in("tech-a", WORD).status_code == 403
    assert "tech-a: technician, key revoked" in text_of(boss.seen("/shop"))


def test_the_last_manager_is_not_revoked_in_the_bay(boss, desk):
    def gone(person):
        return act(boss, "revoke", person=person, reason="left", log_passphrase=LOGS)

    assert gone("first-1").status_code == 303, "another manager is left"
    refused = gone("boss-1")
    assert refused.status_code == 422
    told = text_of(refused.text)
    assert "'boss-1' is the last manager" in told
    assert "enrol another manager first" in told
    assert desk.writer.enrolment("boss-1")
    assert boss.get("/shop").status_code == 200


def test_a_forgotten_passphrase_is_replaced_by_another_key(boss, tech, desk):
    before = desk.writer.enrolment("tech-a").key
    done = act(
        boss,
        "replace",
        person="tech-a",
        reason="forgotten",
        own="new words of tech-a",
        again="new words of tech-a",
        log_passphrase=LOGS,
    )
    assert done.status_code == 303, text_of(done.text)
    assert desk.writer.enrolment("tech-a").key != before
    assert tech.get("/orders").headers["location"].startswith("/sign-in")
    assert Tablet(desk).sign_in("tech-a", WORD).status_code == 403
    assert Tablet(desk).sign_in("tech-a", "new words of tech-a").status_code == 303
    assert desk.writer.enrolment("tech-a").role is Role.TECHNICIAN


@pytest.mark.parametrize("what", ["enrol", "revoke", "replace"])
def test_the_role_is_the_logs_and_not_the_pages(tech, desk, what):
    """Whatever a technician's page sends, with the log's passphrase too."""
    token = token_of(tech.seen("/orders"))
    sent = {**NEW, "form_token": token, "may_manage": "yes", "reason": "x"}
    for role in ("manager", "technician"):
        answer = tech.post(f"/shop/{what}", data={**sent, "role": role})
        assert answer.status_code == 403
    assert desk.writer.enrolment("tech-b") is None
    assert desk.writer.enrolment("tech-a").role is Role.TECHNICIAN
    assert "<form" not in tech.seen("/shop").partition("<main")[2].partition("</main")[
        0
    ].replace('<form id="unlock"', "")


def test_a_log_key_in_a_token_is_asked_for_at_the_shops_computer(boss, desk):
    folder = key_files.folder_of(desk.writer.path)
    (folder / "log.p12").rename(folder / "elsewhere.p12")
    answer = act(boss, "enrol", **NEW)
    assert answer.status_code == 422
    assert "auditkit key" in text_of(answer.text)


# Instruments


def test_instruments_are_shown_by_what_is_due_first(boss, desk):
    def registered(name, due):
        return {
            "id": name,
            "description": f"{name} (invented)",
            "unit": "kPa (gauge)",
            "low": "0",
            "high": "10",
            "resolution": "1",
            "absolute": "1",
            "calibrations": [{"on": "2020-01-01", "due": due}] if due else [],
        }

    today = date.fromisoformat(desk.at()[:10])
    rows = {
        "fine": str(today + timedelta(days=31)),
        "soon": str(today + timedelta(days=30)),
        "today": str(today),
        "over": str(today - timedelta(days=1)),
        "never": "",
    }
    register = {
        "format": "auditkit/instruments@1",
        "instruments": [registered(n, due) for n, due in rows.items()],
    }
    desk.register = parse_register(json.dumps(register))
    page = text_of(boss.seen("/shop")).partition("Instruments")[2]
    told = ["never calibrated", "OUT OF CALIBRATION", "due today", "due in 30 days"]
    places = [page.index(words) for words in (*told, "fine: fine (invented): in cal")]
    assert places == sorted(places)
