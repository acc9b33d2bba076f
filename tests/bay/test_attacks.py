"""What somebody at the shop's network, or with a form, might try at the bay."""

import html
import json
import logging
import re
from dataclasses import replace
from importlib.resources import files
from itertools import count

import pytest
from bay_desk import Tablet, desk_over, order_path
from conftest import PASSPHRASE
from markupsafe import escape
from photo import photo

from auditkit.bay.fields import every_field, fields_of, kinds_asked
from auditkit.bay.one_step import Form
from auditkit.bay.pages import close_view
from auditkit.bay.pages.app import _STATIC
from auditkit.bay.pages.guard import MOST
from auditkit.bay.pages.routes import WAYS
from auditkit.bay.pages.visit import form_token
from auditkit.log.ledger import Ledger
from auditkit.order.schema import validate_record
from auditkit.plugin.loading import load_canon
from auditkit.proof.role import Role

WORD = PASSPHRASE.decode()
EVENTS = json.loads((files("auditkit_demo") / "RO-1001.json").read_text())["events"]
ENDS = ("value", "unit", "bound", "0")
EVIL = "'\"><img src=x onerror=alert(1)><script>alert(2)</script>{{7*7}}"
SHORT = '"><img src=x>'


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    path = tmp_path_factory.mktemp("bay") / "shop.auditlog"
    with Ledger.create(
        path, shop=f"Garage {SHORT}", person="boss-1", passphrase=PASSPHRASE
    ) as ledger:
        ledger.enrol("tech-a", passphrase=PASSPHRASE, role=Role.TECHNICIAN)
    with desk_over(path, PASSPHRASE, load_canon()) as made:
        yield made


@pytest.fixture(scope="module")
def boss(desk):
    tablet = Tablet(desk)
    assert tablet.sign_in("boss-1", WORD).status_code == 303
    return tablet


@pytest.fixture
def token(boss):
    return form_token(boss.cookies["auditkit_bay"])


# Script in every text field


def leaves(value, path=()):
    if isinstance(value, str):
        yield path
    elif isinstance(value, list | dict):
        pairs = value.items() if isinstance(value, dict) else enumerate(value)
        for key, inner in pairs:
            yield from leaves(inner, (*path, key))


def with_text(value, path, text):
    if not path:
        return text
    copied = dict(value) if isinstance(value, dict) else list(value)
    copied[path[0]] = with_text(copied[path[0]], path[1:], text)
    return copied


def planted(event, kinds, opening):
    """Return an event, evil wherever its schema lets it be, and in how many places."""
    found = 0
    for path in leaves(event):
        if path in {("kind",), ("at",), ("by",), ("raw",)}:
            continue
        for text in (EVIL, SHORT):
            tried = with_text(event, path, text)
            events = [tried] if event is opening else [opening, tried]
            record = {
                "format": "auditkit/repair-record@1",
                "repair_order": "RO-1",
                "events": events,
            }
            if not validate_record(record, kinds.events):
                event, found = tried, found + 1
                break
    return event, found


@pytest.fixture(scope="module")
def evil_order(desk, boss):
    """Record the demo's order with script in each text that a schema lets through."""
    who = desk.sign_ins.find(boss.cookies["auditkit_bay"])
    opening = {**EVENTS[0], "by": "boss-1"}
    total, recorded = 0, set()
    for number, event in enumerate(EVENTS):
        own = opening if number == 0 else {**event, "by": "boss-1"}
        own, found = planted(own, desk.catalogue, opening)
        form = Form(f"f-{number}", [own], unacknowledged=True)
        if own["kind"] == "caution":
            continue  # its precondition is judged: planted by a form below
        desk.writer.take("RO-1", form, desk.hands(who)).result()
        total += found
        recorded.add(own["kind"])
    assert {"opening", "diagnosis", "bench_test", "repair", "road_test"} <= recorded
    assert total > 20
    return "RO-1"


def refuse_markup(page, where):
    for live in ("<img", "<script>", "onerror=alert(1)>", "49"):
        if live == "49":
            assert "}}49" not in page, where
            continue
        assert live not in page, (where, page[max(0, page.find(live) - 200) :][:400])


def test_a_script_in_any_recorded_text_is_text_on_every_page(boss, desk, evil_order):
    seen = 0
    kinds = kinds_asked(desk.catalogue)
    with desk.writer.reading() as log:
        entries = [line.seq for line in log.show("RO-1").lines]
    for way in WAYS:
        if way.method != "GET" or way.path.endswith(("packet", "receipt")):
            continue
        for kind in kinds if "{kind}" in way.path else ("",):
            for entry in entries if "{entry}" in way.path else ("",):
                path = way.path.format(order="RO-1", kind=kind, entry=entry)
                page = boss.get(path, follow_redirects=True).text
                refuse_markup(page, path)
                seen += html.escape("<img") in page
    assert seen > 20  # each has the shop's name at least


def test_a_script_in_any_answer_is_text_where_it_is_told_to_be_wrong(
    boss, desk, evil_order, token
):
    """Each field of each form, sent and kept as a draft."""
    asked, numbers = 0, count()
    for kind in kinds_asked(desk.catalogue):
        every = every_field(kind, desk.catalogue)
        every += fields_of(kind, desk.catalogue)
        names = {f.key for f in every} | {
            f"{f.key}.{end}"
            for f in every
            for end in (
                "value",
                "unit",
                "bound",
                "0",
                *(f"0.{i.key}" for i in f.fields),
            )
        }
        fields = dict.fromkeys(names, EVIL)
        fields |= {"form_token": token, "once": f"evil-{next(numbers)}"}
        path = order_path("RO-1", "add", kind)
        for sent in (
            boss.post(path, data=fields),
            boss.post(order_path("RO-1", "draft", kind), data=fields),
            boss.post(order_path("RO-1", "look", kind), data=fields),
            boss.get(path, params={"part": EVIL, "method": EVIL}),
            boss.get(path),
        ):
            assert sent.status_code < 500, (path, sent.text)
            refuse_markup(sent.text, path)
            asked += str(escape(EVIL)) in sent.text
    assert asked > 10


@pytest.mark.parametrize(
    ("path", "fields"),
    [
        ("/sign-in", {"person": EVIL, "passphrase": EVIL, "next": EVIL}),
        ("/new-order", {"order": EVIL, "complaint": EVIL, "raw": EVIL, "tool": EVIL}),
        ("/new-order/draft", {"order": EVIL, "complaint": EVIL}),
        ("/vin", {"vehicle.vin": EVIL}),
        ("/shop/enrol", {"person": EVIL, "role": EVIL, "log_passphrase": WORD}),
        ("/shop/revoke", {"person": EVIL, "reason": EVIL, "log_passphrase": WORD}),
        ("/shop/replace", {"person": EVIL, "reason": EVIL, "log_passphrase": WORD}),
        ("/orders/RO-1/close", {"reason": ""}),
        ("/orders/RO-1/correct/2", {"why": EVIL, "event.complaint": EVIL}),
    ],
)
def test_so_is_one_in_any_other_form(boss, evil_order, token, path, fields):
    sent = boss.post(path, data={"form_token": token, "once": "evil", **fields})
    assert sent.status_code < 500
    refuse_markup(sent.text, path)


@pytest.mark.parametrize(
    "path",
    ["/orders?find=", "/orders/RO-1?since=", "/orders/RO-1?once=", "/sign-in?next="],
)
def test_so_is_one_in_an_address(boss, evil_order, path):
    refuse_markup(boss.get(path + EVIL).text, path)


@pytest.mark.parametrize("digits", ["9" * 5000, "9" * 40, "\u0663"])
def test_any_number_in_an_orders_address_leads_to_the_order(boss, evil_order, digits):
    """5,000 digits are more than Python makes a number of (``sys.int_info``)."""
    assert boss.get("/orders/RO-1", params={"since": digits}).status_code == 200


# Frames, other sites


def test_no_answer_at_all_can_stand_in_another_sites_frame(boss, desk, evil_order):
    """Nor may it load anything from elsewhere: errors and refusals too."""
    stranger = Tablet(desk)
    answers = [
        boss.get(way.path.format(order="RO-1", kind="repair", entry="2"))
        for way in WAYS
        if way.method == "GET"
    ]
    answers += [
        stranger.get("/orders"),
        stranger.get("/sign-in", headers={"Host": "evil.test"}),
        stranger.post("/sign-in", content=bytes(MOST + 1)),
        boss.get("/no/such/page"),
        boss.post("/orders", data={}),
        boss.post("/lock", data={}),
        *(boss.get(f"/static/{name}") for name in _STATIC),
    ]
    codes = {one.status_code for one in answers}
    assert {200, 303, 400, 403, 404, 405, 413} <= codes
    for one in answers:
        policy = one.headers["content-security-policy"]
        assert "frame-ancestors 'none'" in policy
        assert "default-src 'none'" in policy
        assert one.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_a_form_that_a_browser_says_comes_from_elsewhere_is_refused(boss, token, site):
    sent = boss.post(
        "/lock", data={"form_token": token}, headers={"Sec-Fetch-Site": site}
    )
    assert sent.status_code == 403
    assert boss.get("/orders").status_code == 200


@pytest.mark.parametrize(
    "origin", ["https://evil.test", "null", "http://shop.test.evil.test", "shop.test"]
)
def test_so_is_one_by_a_browser_that_says_its_pages_origin_alone(desk, origin):
    """Another site's page signs nobody in: that form has no token."""
    word = {"person": "boss-1", "passphrase": WORD}
    tablet = Tablet(desk, "192.0.2.77")
    sent = tablet.post("/sign-in", data=word, headers={"Origin": origin})
    assert (sent.status_code, dict(tablet.cookies)) == (403, {})
    own = tablet.post("/sign-in", data=word, headers={"Origin": "http://shop.test"})
    assert own.status_code == 303


# Guessing


def test_guesses_at_the_page_wait_and_the_one_who_works_there_does_not(desk):
    mine = Tablet(desk, "192.0.2.1")
    assert mine.sign_in("tech-a", WORD).status_code == 303
    other = Tablet(desk, "192.0.2.2")
    codes = [other.sign_in("tech-a", f"guess {n}").status_code for n in range(6)]
    assert codes == [403] * 5 + [429]
    third = Tablet(desk, "192.0.2.3")
    assert third.sign_in("tech-a", WORD).status_code == 429  # counted by the person
    assert other.sign_in("boss-1", WORD).status_code == 429  # and by the address
    assert mine.sign_in("tech-a", WORD).status_code == 303


# Files


PNG = b"\x89PNG\r\n\x1a\n"


NO_PICTURES = {
    "drawing.svg": b'<svg xmlns="http://www.w3.org/2000/svg"><script/></svg>',
    "called.jpg": b'<svg xmlns="http://www.w3.org/2000/svg"/>',
    "called.png": b"<html><script>alert(1)</script>",
    "moving.jpg": b"GIF89a",
    "cut.png": PNG,
    "cut.jpg": b"\xff\xd8\xff\xe0",
    "empty.jpg": b"",
}


@pytest.mark.parametrize("name", NO_PICTURES)
def test_what_is_no_photograph_is_refused_by_its_first_bytes(
    boss, desk, evil_order, token, name
):
    newest = desk.newest_entry("RO-1")
    fields = {"form_token": token, "once": "no-picture", "shows": "a gauge"}
    file = (name, NO_PICTURES[name], "image/jpeg")
    sent = boss.post(
        order_path("RO-1", "add", "attachment"), data=fields, files={"sha256": file}
    )
    assert sent.status_code == 422
    assert "JPEG" in sent.text or "PNG" in sent.text or "picture" in sent.text
    assert desk.newest_entry("RO-1") == newest


def test_a_photograph_is_kept_without_its_place_whatever_its_name(
    boss, desk, evil_order, token
):
    data = photo()
    assert b"Exif" in data
    assert b"Camera of a test" in data
    fields = {"form_token": token, "once": "a-picture", "shows": "the gauge"}
    sent = boss.post(
        order_path("RO-1", "add", "attachment"),
        data=fields,
        files={"sha256": (f"../../{EVIL}\r\nX: y.svg", data, "image/svg+xml")},
    )
    assert sent.status_code == 303, sent.text
    event = desk.standing("RO-1").logged.lines[-1].event
    assert event["media_type"] == "image/jpeg"
    with desk.writer.reading() as log:
        kept = log.attachments.get(event["sha256"])
    assert b"Camera of a test" not in kept
    assert data[-100:] == kept[-100:]


# Paths and names


NAMES = [
    "../../etc/passwd",
    "..",
    "RO-1/../x",
    "RO-1\\..\\x",
    "RO-1\r\nSet-Cookie: a=b",
    "RO-1\0",
    "x" * 5000,
    '"; filename="evil.exe',
]


@pytest.mark.parametrize("order", NAMES)
def test_an_order_of_any_number_is_looked_for_in_the_log_alone(
    boss, desk, evil_order, token, order
):
    for rest in ((), ("packet",), ("receipt",), ("argument",), ("add", "repair")):
        answer = boss.get(order_path(order, *rest), follow_redirects=False)
        assert answer.status_code in {303, 404, 422}, rest
        assert "root:" not in answer.text
        assert "set-cookie" not in answer.headers
        assert "content-disposition" not in answer.headers
    opened = boss.fill("/new-order", order=order, complaint="x")
    assert opened.status_code == 422
    assert desk.newest_entry(order) == -1


@pytest.mark.parametrize(
    "name",
    ["../app.py", "%2e%2e/app.py", "..%2fapp.py", "look.css/../app.py", "app.py"],
)
def test_only_what_the_pages_load_is_served(boss, name):
    answer = boss.get(f"/static/{name}")
    assert answer.status_code == 404
    assert "import" not in answer.text


@pytest.mark.parametrize("name", [*NAMES, 'a"b', "é", "a;b"])
def test_a_files_name_brings_no_header_of_its_own(name):
    """RFC 8187 section 3.2.1: attr-char and percent signs are all that is left."""
    (value,) = close_view._file(name).values()
    assert re.fullmatch(
        r"attachment; filename\*=UTF-8''[A-Za-z0-9!#$&+.^_`|~%/-]*", value
    )


# What is told


def test_an_error_of_the_program_tells_no_secret(boss, desk, caplog, monkeypatch):
    secrets = ("a passphrase that nobody may see", "Customer One (invented)")

    def fails(_):
        told = " ".join(secrets)
        raise RuntimeError(told)

    way = next(w for w in WAYS if w.path == "/shop" and w.method == "GET")
    monkeypatch.setattr(
        "auditkit.bay.pages.app.WAYS",
        [replace(w, view=fails) if w is way else w for w in WAYS],
    )
    broken = Tablet(desk)
    broken.cookies = boss.cookies
    with caplog.at_level(logging.DEBUG):
        answer = broken.get("/shop")
    assert answer.status_code == 500
    assert "error of the program" in answer.text.lower()
    assert "RuntimeError at /shop" in caplog.text
    assert "in fails" in caplog.text
    told = caplog.text + answer.text
    for secret in (*secrets, boss.cookies["auditkit_bay"]):
        assert secret not in told


def test_a_form_without_an_id_is_no_error_of_the_program(boss, evil_order, token):
    for path in ("add/code_clear", "draft/code_clear"):
        sent = boss.post(
            f"/orders/RO-1/{path}", data={"form_token": token, "tool": "x"}
        )
        assert sent.status_code < 500


def test_a_request_of_a_stranger_is_read_no_further_than_a_passphrase(desk):
    stranger = Tablet(desk)
    long = {"person": "tech-a", "passphrase": "x" * 20_000}
    assert stranger.post("/sign-in", data=long).status_code == 413
    parts = iter([b"person=tech-a&passphrase=", b"x"])
    assert stranger.post("/sign-in", content=parts).status_code == 411
    assert stranger.post("/new-order", content=bytes(MOST + 1)).status_code == 401


# Who works here


def test_beyond_this_computer_names_are_told_where_somebody_signed_in(
    desk, monkeypatch
):
    monkeypatch.setattr(desk, "is_secure", True)
    stranger = Tablet(desk, "192.0.2.78")
    page = stranger.seen("/sign-in")
    assert "tech-a" not in page
    assert "boss-1" not in page
    assert 'type="text" id="person" name="person"' in page
    wrong = [stranger.sign_in(name, "wrong") for name in ("boss-1", "nobody")]
    told = [re.search(r'role="alert">(.*?)</p>', a.text)[1] for a in wrong]
    assert told[0] == told[1]  # nor by what is answered
    assert {a.status_code for a in wrong} == {403}
    home = Tablet(desk, "192.0.2.79")
    home.base_url = home.base_url.copy_with(scheme="https")
    assert home.sign_in("boss-1", WORD).status_code == 303
    token = form_token(home.cookies["auditkit_bay"])
    home.post("/sign-out", data={"form_token": token})
    assert 'name="person" value="tech-a"' in home.seen("/sign-in")
