"""The pages are one file each, the same every time, and no packet breaks out."""

import base64
import hashlib
import html.parser
import json
import re

import pytest
import web_corpus
from hypothesis import given
from hypothesis import strategies as st

from auditkit.reader.page import build

HOSTILE = (
    "</script><script>alert(1)</script>",
    "<!--<script>",
    "</SCRIPT\n>",
    "@@SCRIPT@@ @@POLICY@@ @@PACKET@@",
    '"); alert(1); ("',
    "\\1 \\g<0> \u2028\u2029\x00 &lt;/script&gt;",
    "<img src=x onerror=alert(1)>",
)


class Reader(html.parser.HTMLParser):
    """Collects scripts, styles and attributes as a browser's parser meets them."""

    def __init__(self, text):
        super().__init__()
        self.inline, self.attributes, self.tags, self._open = [], [], [], None
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


def test_checker_page_is_the_same_each_time():
    first = build.checker_page()
    assert first == build.checker_page()
    assert build.checker_sha256() == hashlib.sha256(first.encode()).hexdigest()
    packet = web_corpus.plain().packet()
    assert build.packet_page(packet) == build.packet_page(packet)


def test_packet_page_differs_from_the_checker_in_its_data_only():
    packet = web_corpus.plain().packet()
    carried = build.json_for_script(packet)
    assert build.packet_page(packet).replace(carried, "null") == build.checker_page()


@pytest.mark.parametrize("text", [None, *HOSTILE])
def test_page_holds_one_script_and_loads_nothing(text):
    written = build.checker_page() if text is None else build.packet_page(text)
    found = Reader(written)
    kinds = [kind for kind, _ in found.inline]
    data = ("script", "application/json")
    assert kinds == [("style", None), data, ("script", None)]
    assert not {"img", "link", "iframe", "object", "embed", "base"} & set(found.tags)
    loads = {"src", "href", "action", "data", "srcset", "poster", "background"}
    assert not [a for a in found.attributes if a[1] in loads or a[1].startswith("on")]
    style, script = found.inline[0][1], found.inline[2][1]
    assert not re.search(r"url\(|@import", style)
    calls = r"\b(fetch|XMLHttpRequest|WebSocket|EventSource|sendBeacon|import)\s*\("
    assert not re.search(calls, script)
    assert not re.search(
        r"innerHTML|outerHTML|insertAdjacentHTML|document\.write", script
    )
    assert not re.search(r"\beval\s*\(|new Function", script)


def test_policy_names_the_very_script_and_style():
    """CSP3 2.3.1: a hash source is the base64 SHA-256 of the inline text."""
    found = Reader(build.packet_page("x"))
    (policy,) = [v for t, n, v in found.attributes if n == "content" and "src" in v]
    for kind, text in (found.inline[0], found.inline[2]):
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{kind[0]}-src 'sha256-{digest}'" in policy
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy


@given(st.one_of(st.sampled_from(HOSTILE), st.text()))
def test_any_text_is_carried_whole(text):
    written = build.json_for_script(text)
    assert json.loads(written) == text
    assert not re.search(r"[<>&]", written)
    assert written.isascii()


def test_vendored_library_is_unaltered():
    """The SHA-256 of index.js in the npm package @noble/ed25519 3.2.0."""
    raw = build._part("vendor/noble-ed25519.js").encode()
    assert hashlib.sha256(raw).hexdigest() == (
        "a4f631d1876b5d9e43a86cd71194ca27b5e1451edf4ba4db9a418f40a475569a"
    )
    licence = build._part("vendor/noble-ed25519.LICENSE.txt")
    assert licence.startswith("The MIT License (MIT)")
    assert licence in build.checker_page()


@pytest.mark.parametrize(
    "text",
    ['import x from "y";\n', "const a = '</script>';\n", "export const b = 1;\n"],
)
def test_script_that_cannot_be_inlined_is_refused(monkeypatch, text):
    part = build._part
    monkeypatch.setattr(build, "_part", lambda n: text if n == "x.js" else part(n))
    with pytest.raises(ValueError, match=r"x\.js cannot be inlined"):
        build.bundle(("x.js",))
