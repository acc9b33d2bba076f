"""The checker page as a reader uses it: files, what was typed, what was kept.

What it answers about every packet of the corpus is compared in ``test_hosts.py``.
"""

import hashlib
import json
import re
import time
from dataclasses import replace
from importlib.util import find_spec
from itertools import pairwise

import page_hosts
import pytest
import web_corpus
from conftest import CHROMIUM, PASSPHRASE, judge
from photo import OTHER, PICTURE, attachment, kept, record_of
from web_corpus import LOG, MECHANIC

from auditkit.bench import KINDS
from auditkit.order.events import Event
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.packet import format_packet, parse_packet
from auditkit.proof.receipt import (
    digest_of_entries,
    digest_of_lines,
    format_receipt,
    receipt_address,
)
from auditkit.reader.hold_receipt import receipt_of
from auditkit.reader.page.build import checker_page
from auditkit.reader.page.markup import to_html
from auditkit.reader.page.packet_page import packet_page
from auditkit.reader.page.pictures import picture_nodes
from auditkit.reader.page.tell import step_list
from auditkit.reader.receipt_story import story_of
from auditkit.reader.steps import steps_of

needs_chromium = pytest.mark.skipif(
    not (CHROMIUM and find_spec("playwright")),
    reason="playwright or chromium is absent",
)
needs_firefox = pytest.mark.skipif(
    not page_hosts.HAS_FIREFOX, reason="marionette_driver or firefox is absent"
)
HELD = "The record holds; the repair is not proven."
"""Of the corpus's packets, whose repair nothing shows, where the key was compared."""
PATIENCE = 60_000  # milliseconds: other programs may run beside this


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "check.html"
    path.write_text(checker_page(), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def opened(browser, place):
    """Return the checker page, opened from its folder; it collects what went wrong."""
    page = browser.new_page()
    page.set_default_timeout(PATIENCE)
    page.faults, page.requests = [], []
    page.on("console", lambda m: page.faults.append(m.text))
    page.on("pageerror", lambda e: page.faults.append(str(e)))
    page.on("request", lambda r: page.requests.append(r.url))
    page.goto(place.as_uri())
    page.file = place.parent / "packet.json"
    yield page
    page.close()


@pytest.fixture
def shown(opened):
    """Return the page that is open already, with nothing typed or kept."""
    opened.evaluate("""() => {
      for (const id of ["key", "kept"]) document.getElementById(id).value = "";
    }""")
    opened.faults.clear()
    return opened


def give(page, data):
    """Open a file of these bytes in the page; return the kind of its answer."""
    page.file.write_bytes(data.encode() if isinstance(data, str) else data)
    page.set_input_files("#file", [])
    return answered(page, lambda: page.set_input_files("#file", page.file))


def answered(page, act):
    """Do something that makes the page answer; return the kind of the answer."""
    before = page.get_attribute("html", "data-answered")
    act()
    end = time.monotonic() + PATIENCE / 1000
    # The page's policy lets no test evaluate a text: ask from here.
    while page.get_attribute("html", "data-answered") == before:
        assert time.monotonic() < end, page.text_content("#fault")
        assert page.text_content("#fault") == ""
        time.sleep(0.02)
    kind = page.query_selector(".answer")
    return kind.get_attribute("data-answer") if kind else ""


def check(page):
    return answered(page, lambda: page.click("button[type=submit]"))


@needs_chromium
def test_a_packet_is_checked_as_it_is_given(shown):
    sound = web_corpus.plain().packet()
    assert shown.text_content("h1") == "Check the record of a repair"
    assert give(shown, sound) == "alone"
    assert "who made it was not checked" in shown.text_content("#word")
    found = shown.text_content(".fingerprint code").replace(" ", "")
    assert found == LOG.thumbprint
    shown.fill("#key", f" {LOG.thumbprint} ")
    assert answered(shown, lambda: shown.press("#key", "Enter")) == "alone"
    assert shown.text_content("#word").endswith(HELD)
    for text, kind, word in (
        (sound.replace("tool 0", "tool 1"), "fails", "The record does not hold."),
        (sound[:900], "unreadable", "Nothing was checked."),
        (sound, "alone", HELD),
    ):
        assert give(shown, text) == kind
        assert shown.text_content("#word").endswith(word)
        shown.wait_for_selector(f"html[data-told='{_round(shown)}']")
        assert (shown.query_selector(".story") is not None) == (word == HELD)
    shown.fill("#key", MECHANIC.thumbprint)
    assert check(shown) == "fails"
    assert "does not fit what you gave" in shown.text_content("#word")
    marked = shown.locator("mark").count()
    differ = sum(
        a != b for a, b in zip(LOG.thumbprint, MECHANIC.thumbprint, strict=True)
    )
    assert marked == 2 * differ
    shown.fill("#key", "too short")
    assert check(shown) == ""
    assert "a fingerprint has 43 letters" in shown.text_content("#key-error").lower()
    assert "Nothing was checked." in shown.text_content("#key-error")
    assert shown.faults == []
    # Nothing but the page itself, and the worker that it makes.
    assert [url.partition(":")[0] for url in shown.requests] == ["file", "blob"]


def _round(page):
    return page.get_attribute("html", "data-answered")


@needs_chromium
def test_nothing_is_checked_without_a_file(browser, place):
    page = browser.new_page()
    page.goto(place.as_uri())
    assert check(page) == ""
    assert page.text_content("#said") == "Choose a packet file first."
    page.close()


def before_all(packet, size):
    """Return a receipt of the order as it stood in so many first entries."""
    steps = [s for s in steps_of(parse_packet(packet)) if s.payload.seq < size]
    assert not any(s.payload.repair_order for s in steps)
    return replace(
        receipt_of(packet),
        size=size,
        entries=digest_of_entries([]),
        statement=digest_of_lines([]),
        story=digest_of_lines(story_of(steps).lines),
    )


@needs_chromium
def test_what_was_kept_is_held_against_the_packet(shown):
    """A text that is neither a receipt nor a checkpoint accuses nobody."""
    forge = web_corpus.plain()
    packet = forge.packet(earlier=[4])
    assert give(shown, packet) == "alone"
    shown.click("#held summary")

    def held(text):
        shown.fill("#kept", text)  # left by a key: a click would have it checked twice
        return answered(shown, lambda: shown.press("#kept", "Tab"))

    for text, said in (
        ("foo", "This is no receipt and no checkpoint. Nothing was checked."),
        ("auditkit/receipt@1\nfoo", "This is no receipt as it was handed over: "),
    ):
        assert held(text) == ""
        assert said in shown.text_content("#kept-error")
        assert shown.get_attribute("#kept", "aria-invalid") == "true"
    own = receipt_of(packet)
    for text in (format_receipt(own), format_receipt(own).replace("\n", " ")):
        assert held(text) == "alone"
        assert shown.text_content("#word").endswith(HELD)
        assert shown.text_content("#kept-error") == ""
        said = shown.text_content(".answer")
        assert (
            "The receipt agrees: the order, its steps, its verdict and what it says"
            in said
        )
        assert "The log's key has the fingerprint that your receipt names." in said
    assert "it was put right" in said
    empty = web_corpus.pad64(bytes(32))
    for text, said, then in (
        (
            format_receipt(before_all(packet, 2)),
            "no proof that reaches back to the checkpoint or receipt that you kept",
            "packet ORDER --since FILE",
        ),
        (
            format_receipt(replace(own, repair_order="RO-2")),
            "The receipt is of another repair order. Nothing shows that this packet",
            "Hold the receipt against the packet of its own repair order.",
        ),
        (
            format_receipt(replace(own, origin="garden.example/log")),
            "The receipt is of another log. Nothing shows that this packet was",
            "Look on the receipt which shop it is of",
        ),
        (
            format_receipt(replace(own, story=digest_of_lines([]))),
            "The paper of the receipt tells what this packet does not tell",
            "Compare your paper with what is told below, line by line.",
        ),
        (
            forge.sign_note(f"{web_corpus.ORIGIN}\n3\n{empty}\n"),
            "Nothing shows that it was altered.",
            "packet ORDER --since FILE",
        ),
        (
            forge.sign_note(f"{web_corpus.ORIGIN}\n9\n{empty}\n"),
            "It was made before what you kept. Nothing shows that it was altered.",
            "Ask the shop for a packet made since.",
        ),
    ):
        assert held(text) == "fails"
        assert "does not fit what you gave" in shown.text_content("#word")
        assert said in shown.text_content(".because")
        assert "Do not rely on" not in shown.text_content(".because")
        assert then in shown.text_content(".answer")
    assert held(format_receipt(replace(own, story=digest_of_lines([])))) == "fails"
    assert "VIN: " in shown.text_content(".paper")
    assert held(format_receipt(replace(own, root=empty))) == "fails"
    assert "The record does not hold." in shown.text_content("#word")
    assert "does not agree with the receipt" in shown.text_content(".because")
    assert "Do not rely on this packet" in shown.text_content(".because")
    assert shown.faults == []


@needs_chromium
def test_a_receipt_or_a_checkpoint_that_is_opened_goes_into_its_field(shown):
    packet = web_corpus.plain().packet()
    receipt = format_receipt(receipt_of(packet))
    for text, what in (
        (json.loads(packet)["checkpoint"], "This is a checkpoint."),
        (receipt, "This is a receipt."),
    ):
        assert give(shown, text) == ""
        assert shown.text_content("#said").startswith(f"{what} It was put into")
        assert shown.input_value("#kept") == text
        assert shown.is_visible("#kept")
    assert give(shown, packet) == "alone"
    assert shown.text_content("#word").endswith(HELD)


@needs_chromium
def test_a_receipt_in_the_pages_address_goes_into_its_field(browser, place):
    """As its code opens it; nothing of it is asked of a network (RFC 3986, 3.5)."""
    packet = web_corpus.plain().packet()
    own = receipt_of(packet)
    page = browser.new_page()
    asked = []
    page.on("request", lambda r: asked.append(r.url))
    page.file = place.parent / "packet.json"
    address = receipt_address(place.as_uri(), own)
    answered(page, lambda: page.goto(address))
    assert page.text_content("#said") == (
        "This is a receipt. It was put into its field. Now open the packet."
    )
    assert page.input_value("#kept") == format_receipt(own)
    assert page.is_visible("#kept")
    assert give(page, packet) == "alone"
    assert "The receipt agrees" in page.text_content(".answer")
    assert "What your receipt's paper has to say" in page.text_content(".paper")
    other = replace(own, repair_order="RO-2")
    kind = answered(page, lambda: page.goto(receipt_address(place.as_uri(), other)))
    assert kind == "fails", "it was held against the packet that is open"
    assert page.input_value("#kept") == format_receipt(other)
    broken = address[:-9]
    answered(page, lambda: page.goto(broken))
    assert "This is no receipt as it was handed over" in page.text_content(
        "#kept-error"
    )
    quoted = address.replace("@", "%40")
    assert quoted != address
    assert answered(page, lambda: page.goto(quoted)) == "alone"
    assert page.input_value("#kept") == format_receipt(own)
    assert {url.partition(":")[0] for url in asked} == {"file", "blob"}
    page.close()


@needs_chromium
def test_a_packet_is_taken_out_of_its_page_and_saved(shown, tmp_path):
    packet = web_corpus.plain().packet()
    assert give(shown, packet_page(packet, KINDS)) == "alone"
    assert "The packet was taken out of a page" in shown.text_content(".answer")
    with shown.expect_download() as download:
        shown.click("#save")
    download.value.save_as(tmp_path / "saved")
    assert (tmp_path / "saved").read_text() == packet
    assert give(shown, packet) == "alone"
    assert shown.is_hidden("#save")
    assert give(shown, b"SQLite format 3\0") == "unreadable"
    assert "This is a log, not a packet." in shown.text_content(".because")


DROP = """(text) => {
  const dataTransfer = new DataTransfer();
  dataTransfer.items.add(new File([text], "packet.json"));
  document.dispatchEvent(
    new DragEvent("drop", { dataTransfer, bubbles: true, cancelable: true }));
}"""
PASTE = """(text) => {
  const clipboardData = new DataTransfer();
  clipboardData.setData("text/plain", text);
  document.body.dispatchEvent(new ClipboardEvent(
    "paste", { clipboardData, bubbles: true, cancelable: true }));
}"""


@needs_chromium
def test_a_packet_is_dropped_or_pasted(shown):
    packet = web_corpus.plain().packet()
    assert answered(shown, lambda: shown.evaluate(DROP, packet)) == "alone"
    altered = packet.replace("tool 0", "tool 1")
    assert answered(shown, lambda: shown.evaluate(PASTE, altered)) == "fails"
    assert answered(shown, lambda: shown.evaluate(PASTE, packet)) == "alone"
    shown.focus("#key")
    shown.evaluate(f"""({PASTE.replace("document.body", "document.activeElement")})
        ("x")""")
    assert shown.query_selector(".answer") is not None, "a field keeps what is pasted"
    assert shown.faults == []


@needs_chromium
def test_the_last_question_counts(shown):
    """Who opens another file while the first is checked sees the second alone."""
    forge = web_corpus.Forge().enrol()
    for number in range(300):
        forge.work(tool=f"tool {number}")
    long, short = forge.verdict().packet(), web_corpus.plain().packet()[:900]

    both = f"([one, other]) => {{ ({DROP})(one); ({DROP})(other); }}"
    assert answered(shown, lambda: shown.evaluate(both, [long, short])) == "unreadable"
    shown.wait_for_timeout(1_500)  # nor does the first come in late
    assert shown.get_attribute(".answer", "data-answer") == "unreadable"
    shown.wait_for_selector(f"html[data-told='{_round(shown)}']")
    assert shown.query_selector(".story") is None


@needs_chromium
def test_hostile_packet_stays_text(shown):
    """Signed by its maker, so that it holds and everything in it is shown."""
    bad = "</script><img src=x onerror=\"document.title='broken'\"><b id=bold>"
    forge = web_corpus.Forge().enrol(person=bad)
    for kind in ("opening", "bench_test", "repair", "readout", "odd", "__proto__"):
        event = {name: {"value": bad, "unit": bad} for name in ("result", "vehicle")}
        event |= {"kind": kind, "part": bad, "raw": bad, "tool": [bad], "limit": {}}
        forge.add(event | {bad.replace('"', ""): bad}, by=bad)
    packet = forge.verdict(by=bad).packet()
    assert verify_packet(packet).verified
    assert give(shown, packet) == "alone"
    shown.wait_for_selector(".steps")
    assert shown.text_content(".steps").count(bad) > 10
    assert shown.locator("img, #bold").count() == 0
    assert shown.title() == "Check the record of a repair"
    assert shown.faults == []


@needs_chromium
def test_a_fault_of_the_page_is_no_answer_about_the_file(browser, place, tmp_path):
    """Here the sources that it carries are cut: it says that it failed."""
    broken = tmp_path / "broken.html"
    text = place.read_text()
    broken.write_text(re.sub(r'(id="sources">.{200}).*?<', r"\1<", text, count=1))
    page = browser.new_page()
    page.set_default_timeout(PATIENCE)
    page.goto(broken.as_uri())
    page.wait_for_selector("html[data-state=failed]")
    assert "That says nothing about the file" in page.text_content("#fault")
    page.close()


@needs_chromium
def test_without_a_script_the_page_says_that_nothing_was_checked(browser, place):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(place.as_uri())
    assert "Nothing was checked" in page.inner_text("body")
    assert "What this page cannot know" in page.inner_text("body")
    context.close()


@needs_chromium
def test_plain_http_has_no_webcrypto_and_still_checks(browser, place):
    """A page from http on a name of a local network is no secure context."""
    page = browser.new_page()
    page.set_default_timeout(PATIENCE)
    text = place.read_text()
    page.route(
        "http://shop.test/", lambda r: r.fulfill(body=text, content_type="text/html")
    )
    page.goto("http://shop.test/")
    assert page.evaluate("window.crypto.subtle === undefined")
    page.file = place.parent / "packet.json"
    assert give(page, web_corpus.plain().packet()) == "alone"
    altered = web_corpus.plain().packet().replace("tool 0", "tool 1")
    assert give(page, altered) == "fails"
    page.close()


@needs_chromium
def test_packet_page_fits_a_phone_and_needs_no_script(browser, tmp_path):
    place = tmp_path / "packet.html"
    place.write_text(packet_page(web_corpus.plain().packet(), KINDS))
    context = browser.new_context(
        viewport={"width": 320, "height": 640}, java_script_enabled=False
    )
    page = context.new_page()
    faults = []
    page.on("console", lambda m: faults.append(m.text))
    page.goto(place.as_uri())
    assert page.locator("h1").bounding_box()["width"] <= 320
    assert page.is_visible("text=This page shows what a packet says")
    levels = [
        int(h.evaluate("h => h.tagName[1]")) for h in page.locator("h1,h2,h3,h4").all()
    ]
    assert all(b - a <= 1 for a, b in pairwise(levels))
    assert levels.count(1) == 1
    assert faults == []
    context.close()


@pytest.fixture
def pictured(ledger, catalogue):
    """Return a packet with two pictures, one of them taken with a turned camera."""
    events = (kept() | {"orientation": 6}, kept(OTHER))
    record = record_of("RO-1", *events, pictures=[PICTURE, OTHER])
    judged = judge(catalogue, record)
    ledger.record(record, judged, passphrase=PASSPHRASE, unproven_reason="a test")
    return ledger.packet("RO-1", with_attachments=True)


PICTURES = """(selector) => [...document.querySelectorAll(selector)].map((one) => [
  one.naturalWidth, one.naturalHeight, one.alt,
  one.getBoundingClientRect().height <= 384, one.getBoundingClientRect().width <= 384 ||
  one.closest(".turned") === null, one.src.slice(0, 23)])"""
TWO_PICTURES = [
    [640, 480, "Picture: the gauge", True, True, "data:image/jpeg;base64,"]
] * 2


@needs_chromium
def test_the_pictures_that_a_packet_carries_are_drawn(shown, pictured):
    assert give(shown, pictured) == "alone"
    shown.wait_for_selector(".picture img")
    shown.locator(".picture img").evaluate_all(
        "all => Promise.all(all.map((one) => one.decode()))"
    )
    assert shown.evaluate(PICTURES, ".picture img") == TWO_PICTURES
    assert "the gauge. Its bytes have the SHA-256" in shown.text_content("figcaption")
    assert shown.locator(".turned-6 img").count() == 1
    assert shown.faults == []
    starts = {url.partition(":")[0] for url in shown.requests}
    assert starts <= {"file", "blob", "data"}, "nothing is fetched"


@needs_chromium
def test_altered_pictures_are_not_drawn(shown, pictured):
    packet = parse_packet(pictured)
    swapped = tuple((digest, OTHER) for digest, _ in packet.attachments)
    altered = format_packet(replace(packet, attachments=swapped))
    assert give(shown, altered) == "fails"
    assert "not the one that its digest names" in shown.text_content(".answer")
    assert shown.locator("img").count() == 0
    # Even where nobody looked at the packet first.
    told = step_list(steps_of(packet), KINDS, dict(swapped))
    drawn = to_html(told)
    assert drawn.count("<img") == 1, "the other one is as it was signed"
    assert "The picture is not drawn: its bytes here are others than those" in drawn
    gif = b"GIF89a"
    digest = hashlib.sha256(gif).hexdigest()
    event = Event(0, attachment(sha256=digest, size=6, media_type="image/gif"))
    (none,) = picture_nodes(event, {digest: gif})
    assert "neither a JPEG nor a PNG" in to_html(none)


@needs_chromium
def test_a_packet_page_draws_its_pictures_without_any_script(
    browser, pictured, tmp_path
):
    place = tmp_path / "packet.html"
    place.write_text(packet_page(pictured, KINDS))
    context = browser.new_context(
        viewport={"width": 320, "height": 640}, java_script_enabled=False
    )
    page = context.new_page()
    faults = []
    page.on("console", lambda m: faults.append(m.text))
    page.goto(place.as_uri())
    assert page.evaluate(PICTURES, ".picture img") == TWO_PICTURES
    for one in page.locator(".picture").all():
        box = one.bounding_box()
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= 320
    assert faults == []
    context.close()


@needs_firefox
def test_firefox_checks_a_packet_as_a_reader_gives_it(place, tmp_path):
    file = tmp_path / "packet.json"
    file.write_text(web_corpus.plain().packet())

    def until(driver, number):
        end = time.monotonic() + PATIENCE / 1000
        while True:
            root = driver.find_element("tag name", "html")
            if root.get_attribute("data-told") == str(number):
                return driver.find_element("css selector", ".answer")
            fault = driver.find_element("id", "fault").text
            assert fault == ""
            assert time.monotonic() < end
            time.sleep(0.05)

    with page_hosts.firefox() as driver:
        driver.navigate(place.as_uri())
        driver.find_element("id", "file").send_keys(str(file))
        assert until(driver, 1).get_attribute("data-answer") == "alone"
        driver.find_element("id", "key").send_keys(LOG.thumbprint)
        driver.find_element("css selector", "button[type=submit]").click()
        end = time.monotonic() + PATIENCE / 1000
        word = ""
        while not word.endswith(HELD) and time.monotonic() < end:
            found = driver.find_elements("id", "word")
            word = found[0].text if found else ""
            time.sleep(0.05)
        assert word.endswith(HELD)
