"""The pages are one file each, the same every time, and no packet breaks out."""

import base64
import gzip
import hashlib
import html.parser
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
import web_corpus
from hypothesis import given
from hypothesis import strategies as st

from auditkit.bench import KINDS
from auditkit.errors import InputError, VerificationError
from auditkit.reader.file_kind import GivenFile, packet_in
from auditkit.reader.page import build, runtime
from auditkit.reader.page.build import as_data
from auditkit.reader.page.markup import element, to_html, to_json
from auditkit.reader.page.packet_page import packet_page
from auditkit.reader.page.scripts import joined

HOSTILE = (
    "</script><script>alert(1)</script>",
    "<!--<script>",
    "</SCRIPT\n>",
    "@@SCRIPT@@ @@POLICY@@ @@WASM@@",
    '"); alert(1); ("',
    "\\1 \\g<0> \u2028\u2029\x00 &lt;/script&gt;",
    "<img src=x onerror=alert(1)>",
)
LOADS = {"src", "action", "data", "srcset", "poster", "background", "formaction"}


class Reader(html.parser.HTMLParser):
    """Collects scripts, styles, text and attributes as a parser meets them."""

    def __init__(self, text):
        super().__init__()
        self.inline, self.attributes, self.tags, self._open = [], [], [], None
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value) for name, value in attrs]
        if tag in {"script", "style"}:
            self._open = (tag, dict(attrs).get("type"))
            self.inline.append([self._open, ""])

    def handle_endtag(self, tag):
        self._open = None

    def handle_data(self, data):
        if self._open:
            self.inline[-1][1] += data
        else:
            self.text += data


@pytest.fixture(scope="module")
def checker():
    return build.checker_page()


@pytest.fixture(scope="module")
def parts(checker):
    """Return the checker page's parts by their ids, and its one script."""
    found = dict(
        re.findall(
            r'<script type="[^"]+" id="(\w+)">(.*?)</script>', checker, re.DOTALL
        )
    )
    (script,) = re.findall(r"<script>(.*?)</script>", checker, re.DOTALL)
    return {**found, "script": script}


def policy_of(found):
    (policy,) = [v for t, n, v in found.attributes if n == "content" and "src" in v]
    return dict(part.split(" ", 1) for part in policy.split("; "))


def hash_of(text):
    """CSP3 2.3.1: a hash source is the base64 SHA-256 of the inline text."""
    digest = hashlib.sha256(text.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


def test_checker_page_is_the_same_each_time(checker):
    assert checker == build.checker_page()


def test_checker_page_runs_one_script_and_loads_nothing(checker, parts):
    found = Reader(checker)
    kinds = [kind for kind, _ in found.inline]
    assert kinds.count(("script", None)) == 1
    assert {k for k in kinds if k[0] == "script" and k[1]} == {
        ("script", "text/plain"),
        ("script", "application/json"),
    }
    assert not {"img", "link", "iframe", "object", "embed", "base"} & set(found.tags)
    assert not [a for a in found.attributes if a[1] in LOADS or a[1].startswith("on")]
    style = next(text for kind, text in found.inline if kind[0] == "style")
    assert not re.search(r"url\(|@import", style)
    calls = r"\b(fetch|XMLHttpRequest|WebSocket|EventSource|sendBeacon|import)\s*\("
    assert not re.search(calls, parts["script"])
    markup = r"innerHTML|outerHTML|insertAdjacentHTML|document\.write"
    assert not re.search(markup, parts["script"])
    assert not re.search(r"\beval\s*\(|new Function", parts["script"])
    policy = policy_of(found)
    assert policy == {
        "default-src": "'none'",
        "script-src": f"{hash_of(parts['script'])} 'wasm-unsafe-eval'",
        "worker-src": "blob:",
        "style-src": hash_of(style),
        "img-src": "data:",
        "base-uri": "'none'",
        "form-action": "'none'",
    }


def test_checker_page_reads_before_anything_starts(checker):
    """What a reader needs to know stands before the data, and needs no script."""
    found = Reader(checker)
    first = checker.index('<script type="text/plain"')
    for said in (
        "Packet file",
        "What this page cannot know",
        "nothing is sent anywhere",
    ):
        assert said in found.text
        assert checker.index(said) < first
    assert first < 80_000


@pytest.fixture(scope="module")
def carried(parts):
    """Return the sources that the page carries, by their paths."""
    return json.loads(parts["sources"])


def test_checker_page_carries_the_sources_as_they_are(carried):
    root = Path(build.__file__).parents[2]
    for name, text in carried.items():
        if name.startswith("auditkit/") and name != "auditkit/proof/ed25519.py":
            own = root / name.removeprefix("auditkit/")
            assert text == own.read_text("utf-8"), name
    host = Path(build.__file__).with_name("ed25519.py").read_text("utf-8")
    assert carried["auditkit/proof/ed25519.py"] == host
    assert {n.split("/")[0] for n in carried} == {
        "auditkit",
        "auditkit_plugins",
        "auditkit_schemas",
        "pluggy",
        "uncertainties",
        "licences",
    }
    rooms = {n.split("/")[1] for n in carried if re.match("auditkit/.*/", n)}
    assert {"text", "proof", "reader"} <= rooms
    judging = {"obd", "bench", "inspection", "order", "plugin"}
    assert rooms <= {"text", "proof", "reader", *judging}


def test_checker_page_carries_the_runtime_as_it_was_published(parts):
    for name, data in {
        runtime.WASM: gzip.decompress(base64.b64decode(parts["wasm"])),
        runtime.STDLIB: base64.b64decode(parts["stdlib"]),
    }.items():
        assert data == runtime.published(name)
    assert json.loads(parts["worker"]) == build.worker_script()


def test_page_needs_nothing_impure():
    needed = build.sources()
    impure = {"click", "cryptography", "socket", "sqlite3", "subprocess", "threading"}
    assert {n.partition(".")[0] for n in needed.standard} & impure == set()
    assert not [n for n in needed.files if n.split("/")[0] in impure]


def test_every_module_of_the_page_loads_where_nothing_is_installed(tmp_path, carried):
    for name, text in carried.items():
        place = tmp_path / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(text, encoding="utf-8")
    modules = [n[:-3].replace("/", ".") for n in carried if n.endswith(".py")]
    modules = [n.removesuffix(".__init__") for n in modules]
    assert len(modules) > 60
    code = "import sys, importlib; sys.path.insert(0, sys.argv[1])\n"
    code += "for name in sys.argv[2:]: importlib.import_module(name)"
    subprocess.run(
        [sys.executable, "-I", "-S", "-c", code, tmp_path, *modules],
        check=True,
        capture_output=True,
    )


def test_licences_of_what_others_made_are_in_the_page(parts, carried):
    for said in (
        "Mozilla Public License",
        "PYTHON SOFTWARE FOUNDATION",
        "The MIT License",
    ):
        assert said in parts["licences"]
    licences = sorted(name for name in carried if name.startswith("licences/"))
    assert [
        next(o for o in ("pluggy", "uncertainties") if o in n) for n in licences
    ] == [
        "pluggy",
        "uncertainties",
    ]


def test_vendored_files_are_as_published():
    """SHA-256 of index.js in @noble/ed25519 3.2.0 and of files in pyodide 314.0.7."""
    for name, digest in {
        "noble-ed25519.js": (
            "a4f631d1876b5d9e43a86cd71194ca27b5e1451edf4ba4db9a418f40a475569a"
        ),
        runtime.WASM: (
            "cc36e3cab04fdfc9a63ff13eb52eae2b911bf46c025cc7b281f394bd3de1d5e6"
        ),
        runtime.GLUE: (
            "f7cdc8ece80678ceb712f8e65ebe6d3a83203a180c399865f49612a051693635"
        ),
        runtime.LOADER: (
            "6f1d60f7bf529beb300f0f47983c921d3982363640ba20af0e38efdddbc66109"
        ),
        runtime.STDLIB: (
            "fa1957e5777068fc4f7437f96d860ae2fbe9c19732ba06c84e004ec16dd7dd7a"
        ),
    }.items():
        assert hashlib.sha256(runtime.published(name)).hexdigest() == digest
    script = Path(__file__).parents[2] / ".ci" / "vendor"
    subprocess.run([sys.executable, script], check=True, capture_output=True)


def test_a_vendored_file_that_was_altered_is_refused(monkeypatch):
    real = hashlib.sha256
    monkeypatch.setattr(runtime.hashlib, "sha256", lambda data: real(data + b"x"))
    with pytest.raises(InputError, match="not as it was published"):
        runtime.published(runtime.LOADER)


@pytest.mark.parametrize(
    "text",
    [
        'import x from "y";\n',
        "const a = 1; export const b = 1;\n",
        "export const b = 1;\n",
        'import { a } from "./b.js"; import "./c.js";\n',
    ],
)
def test_script_that_cannot_be_joined_is_refused(text):
    with pytest.raises(ValueError, match=r"x\.js cannot be joined"):
        joined({"x.js": text})


def test_modules_are_joined():
    made = joined(
        {
            "a.js": "const one = import.meta.url;\nexport { one as uno };\n",
            "b.js": "function two() {}export default two;\n",
            "c.js": 'import { uno as eins } from "./a.js";\n'
            'import { default as two } from "./b.js";\nexport { eins, two };\n',
        }
    )
    assert "return { uno: one };" in made
    assert "return { default: two };" in made
    assert 'const { uno: eins } = modules["a.js"];' in made
    assert 'const { default: two } = modules["b.js"];' in made
    assert "import.meta" not in made


# The page of one packet


def packet_of(text):
    """Return a packet that holds, with a text of its maker's in every place."""
    forge = web_corpus.Forge().enrol(person=text)
    for kind in ("opening", "bench_test", "repair", "readout", "odd"):
        event = {name: {"value": text, "unit": text} for name in ("result", "vehicle")}
        event |= {"kind": kind, "part": text, "raw": text, "tool": [text], "limit": {}}
        forge.add(event, by=text)
    return forge.verdict(by=text).packet()


@pytest.mark.parametrize("text", ["plain", *HOSTILE])
def test_packet_page_carries_no_script_at_all(text):
    packet = packet_of(text)
    written = packet_page(packet, KINDS)
    found = Reader(written)
    assert [kind for kind, _ in found.inline] == [
        ("style", None),
        ("script", "application/json"),
    ]
    assert not {"img", "link", "iframe", "object", "embed", "base"} & set(found.tags)
    assert not [a for a in found.attributes if a[1] in LOADS or a[1].startswith("on")]
    assert {v for _, n, v in found.attributes if n == "href"} == {"#how-title"}
    assert policy_of(found) == {
        "default-src": "'none'",
        "style-src": hash_of(found.inline[0][1]),
        "img-src": "data:",
        "base-uri": "'none'",
    }
    assert packet_in(GivenFile("page", written.encode())).packet.data == packet.encode()
    assert packet_page(packet, KINDS) == written


def test_packet_page_says_what_it_is_and_how_it_is_checked():
    packet = web_corpus.plain().packet()
    found = Reader(packet_page(packet, KINDS))
    for said in (
        "Repair order RO-1 is unproven: something is missing.",
        "This page shows what a packet says, and checks nothing",
        "How to have it checked",
        "Open this very file in it",
        "auditkit verify THIS-FILE --key FINGERPRINT",
        hashlib.sha256(packet.encode()).hexdigest(),
        "Zündspule 0,4 Ω 🔧",
    ):
        assert said in found.text
    assert web_corpus.LOG.thumbprint in re.sub(r"\s", "", found.text)
    for claim in ("The record holds", "verified", "was checked"):
        assert claim not in found.text


def test_of_the_verdict_the_long_tables_are_folded_and_the_reason_is_not():
    """They open without a script; the answer and the values stand above the steps."""
    event = {"kind": "verdict", "verdict": "unproven", "reason": "it was collected"}
    event |= {"judged": [2], "statement": web_corpus.STATEMENT}
    made = web_corpus.Forge().enrol().work().add(event).packet()
    step = packet_page(made, KINDS).partition("Verdict: unproven")[2]
    shown, _, folded = step.partition("<details>")
    assert "it was collected" in shown
    assert "Findings that the rules made" in folded.partition("</details>")[0]
    assert "Findings that the rules made" not in shown


def test_what_a_statement_says_to_do_is_said_to_the_shop():
    """Its words stay as they were signed; beside them stands what a customer can do."""
    said = "the evidence speaks against it"
    own = [f"Fault gone (P0401): {said}: it is back", "  what to do: find the cause"]
    told = ["Repair order RO-1 is contradicted: it is back.", *own]
    event = {"kind": "verdict", "verdict": "contradicted", "judged": [2]}
    made = web_corpus.Forge().enrol().work().add(event | {"statement": told})
    packet = made.packet(edit=lambda content: content.update(statement=told))
    page = packet_page(packet, KINDS)
    assert "<h4>What was not shown, or is to be minded</h4><ul><li>Fault gone" in page
    shown = " ".join(Reader(page).text.split())
    advice = (
        "What it says to do, it says to the shop. What a customer can do: ask the shop"
    )
    assert shown.index("what to do: find the cause") < shown.index(advice)
    assert "What a customer can do" not in packet_page(
        web_corpus.plain().packet(), KINDS
    )


def test_no_page_of_a_packet_that_does_not_hold():
    altered = web_corpus.plain().packet().replace("tool 0", "tool 1")
    with pytest.raises(VerificationError, match="the packet does not verify"):
        packet_page(altered, KINDS)


@given(st.one_of(st.sampled_from(HOSTILE), st.text()))
def test_any_text_is_carried_whole(text):
    written = as_data(text)
    assert json.loads(written) == text
    assert not re.search(r"[<>&]", written)
    assert written.isascii()


@given(st.one_of(st.sampled_from(HOSTILE), st.text()))
def test_any_text_stays_text(text):
    """As a parser of HTML reads it; what steers is spelled out, but for line ends."""
    written = to_html(element("p", text, title=text, class_="x"))
    found = Reader(written)
    assert found.tags == ["p"]
    assert found.text == to_json(text)
    assert {n: v for _, n, v in found.attributes} == {
        "title": to_json(text),
        "class": "x",
    }
    assert to_json(element("p", text, title=text)) == [
        "p",
        {"title": to_json(text)},
        to_json(text),
    ]
