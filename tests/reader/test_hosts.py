"""One answer in all hosts, word for word: package, node, Chromium and Firefox.

The package runs on this Python and has OpenSSL look at signatures. The others run the
very sources that the checker page carries, on its CPython for WebAssembly, and look by
their own WebCrypto or by the page's plain arithmetic. The one-file verifier is held
against the package in ``test_one_file.py``.
"""

import functools
import json
import zlib
from importlib.util import find_spec

import page_hosts
import pytest
import sampling
import web_corpus
from click.testing import CliRunner
from conftest import CHROMIUM
from page_hosts import NODE, Question, by_package

from auditkit.bench import KINDS
from auditkit.cli.demo import demo_command
from auditkit.proof.receipt import format_receipt
from auditkit.reader.file_kind import LOG_HEAD
from auditkit.reader.hold_receipt import receipt_of
from auditkit.reader.page.build import checker_page
from auditkit.reader.page.packet_page import packet_page

HAS_CHROMIUM = bool(CHROMIUM) and find_spec("playwright") is not None
absent = pytest.mark.skipif
HOSTS = [
    pytest.param("node", marks=absent(not NODE, reason="node is absent")),
    pytest.param(
        "chromium",
        marks=absent(not HAS_CHROMIUM, reason="playwright or chromium is absent"),
    ),
    pytest.param(
        "firefox",
        marks=absent(
            not page_hosts.HAS_FIREFOX, reason="marionette_driver or firefox is absent"
        ),
    ),
]
# Cases of the corpus that somebody made to deceive, and what readers hold against one.
HOSTILE = ("edge_sig", "keys", "payl", "verd", "notes", "proofs", "expects", "trusts")


@pytest.fixture
def ask(request, tmp_path):
    """Return a function that has one started host answer questions."""
    place = tmp_path / "check.html"
    place.write_text(checker_page(), encoding="utf-8")
    if request.param == "node":
        with page_hosts.node() as asked:
            yield asked
    elif request.param == "firefox":
        with page_hosts.firefox() as driver:
            driver.navigate(place.as_uri())
            yield functools.partial(page_hosts.by_firefox, driver)
    else:
        page = request.getfixturevalue("browser").new_page()
        page.goto(place.as_uri())
        yield functools.partial(page_hosts.by_chromium, page)
        page.close()


answered = functools.cache(by_package)  # each host is asked the same


def differing(questions, found):
    wanted = [list(answered(question)) for question in questions]
    assert len(found) == len(wanted)
    return [
        (question, got, expected)
        for question, got, expected in zip(questions, found, wanted, strict=True)
        if got != expected
    ]


def kind(answer):
    """Return the kind of an answer, empty where none was drawn."""
    drawn = json.loads(answer[0])["drawn"]
    return drawn[0][1]["data-answer"] if drawn else ""


def word(answer):
    """Return the word of an answer, empty where none was drawn."""
    drawn = json.loads(answer[0])["drawn"]
    return drawn[0][2][-1][-1] if drawn else ""


HELD = "The record holds; the repair is not proven."
"""Of the corpus's packets, whose repair nothing shows, where the key was compared."""


def asked_packets(host, *, plain):
    """Return hostile packets, that whose key was compared, and some of the rest."""
    cases = web_corpus.corpus(web_corpus.plain().packet())
    assert len(cases) > 1000
    hostile = [c for c in cases if c.name.startswith(HOSTILE)]
    rest = [c for c in cases if not c.name.startswith(HOSTILE)]
    assert len(hostile) > 250
    is_all = host == "node" and not plain
    some, share = (len(rest), 12) if is_all else (200, 8)
    cases = [
        *(c for c in cases if c.name == f"expects {web_corpus.LOG.thumbprint!r}"),
        *sampling.sampled(hostile, len(hostile), "hostile packets in browsers"),
        *sampling.sampled(rest, some, "packets in browsers", share),
    ]
    return [Question(c.raw, c.expect_key or "", c.trust or "") for c in cases]


def same_of_packets(ask, host, *, plain):
    questions = asked_packets(host, plain=plain)
    found = ask(questions, plain=plain)
    assert differing(questions, found)[:3] == []
    kinds = [kind(answer) for answer in found]
    least = sampling.count(20, 20)
    assert min(kinds.count(k) for k in ("alone", "fails", "unreadable")) > least
    assert HELD in map(word, found)


def same_of_receipts(ask, *, plain):
    packets = list(web_corpus.receipt_packets())
    texts = list(web_corpus.receipt_edits())
    pairs = [(packet, text) for text in texts for packet in packets]
    # The sound packet's own receipt and those of its log before are asked in every run.
    sound = [(packets[0], text) for text in texts]
    pairs = [*sound, *sampling.sampled(pairs, 150, "receipts")]
    questions = [Question(packet, kept=text) for packet, text in pairs]
    found = ask(questions, plain=plain)
    assert differing(questions, found)[:3] == []
    errors = [json.loads(answer[0])["errors"]["kept"] for answer in found]
    assert sum(bool(error) for error in errors) > 30
    kinds = [kind(answer) for answer in found]
    assert min(kinds.count(k) for k in ("alone", "fails", "")) > 3
    assert [word(answer) for answer in found].count(HELD) > 3


@pytest.fixture(scope="module")
def week(tmp_path_factory):
    """Return the packets of the invented shop's week."""
    folder = tmp_path_factory.mktemp("week") / "demo"
    result = CliRunner().invoke(demo_command, ["--into", str(folder)])
    assert result.exit_code == 0, result.output
    return [path.read_bytes() for path in sorted(folder.glob("*.packet.json"))]


def pdf_of(packet):
    packed = zlib.compress(packet)
    head = b"%%PDF-1.7\n1 0 obj\n<</Type/EmbeddedFile/Filter/FlateDecode/Length %d>>\n"
    return head % len(packed) + b"stream\n" + packed + b"\nendstream\nendobj\n"


def same_of_files(ask, week, *, plain):
    """Stories with values that are computed anew, and all that is no packet."""
    packet = week[0]
    receipt = format_receipt(receipt_of(packet))
    own = json.loads(packet)
    files = [
        *week,
        packet_page(packet.decode(), KINDS).encode(),
        pdf_of(packet),
        pdf_of(packet)[:-4000],
        receipt.encode(),
        receipt.replace("\n", " ").encode(),
        own["checkpoint"].encode(),
        LOG_HEAD + bytes(99),
        b"",
        b"\xff\xd8\xff\xe0",
        b"\xc3\x28",
        b"text",
        b'{"format": "auditkit/repair-record@1"}',
        b"<!doctype html><p>x",
        b'{"format": "auditkit/packet@1", "x": ' + b"[" * 200_000,
        b'{"format": "auditkit/packet@1", "x": ' + b'{"a":' * 200_000,
        b'{"format": "auditkit/packet@1", "x": "\xed\xa0\x80"}',
        b'\xef\xbb\xbf{"format": "auditkit/packet@1"}',
    ]
    questions = [Question(data) for data in files]
    questions += [
        Question(packet, key="x" * 43),
        Question(packet, key=" ".join("x" * 42)),
        Question(packet, kept="foo"),
        Question(packet, kept=receipt.replace("\n", "")),
        Question(packet, kept=own["checkpoint"].rstrip()),
        Question(name=None),
    ]
    found = ask(questions, plain=plain)
    assert differing(questions, found) == []
    stories = [json.loads(answer[1]) for answer in found]
    carried = len(week)  # the page and the PDF that carry the first packet
    assert all(stories[: carried + 2])
    assert stories[carried] == stories[carried + 1] == stories[0]
    assert [kind(answer) for answer in found[carried : carried + 5]] == [
        "alone",
        "alone",
        "unreadable",
        "",
        "",
    ]


@pytest.mark.parametrize("ask", HOSTS, indirect=True)
def test_every_host_answers_the_same(ask, week, request):
    """It starts once, and is asked by its WebCrypto, then by the page's arithmetic.

    Firefox is asked by its WebCrypto alone.
    """
    host = request.node.callspec.params["ask"]
    for plain in (False, True)[: 1 if host == "firefox" else 2]:
        same_of_packets(ask, host, plain=plain)
        same_of_receipts(ask, plain=plain)
        same_of_files(ask, week, plain=plain)
