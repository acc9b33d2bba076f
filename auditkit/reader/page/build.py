"""The checker page, and the page that carries one packet, each as one HTML text.

Pure: the parts lie beside this module and are put together the same way each time.
Scripts are written as ES modules and inlined as one plain script, since a page that
is opened from a folder may load no modules. The page's Content-Security-Policy
allows exactly that script and that style by their hashes, and no network at all.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from importlib.resources import files

# In the order in which they need each other.
CHECK_MODULES = (
    "text.js",
    "hashes.js",
    "strict.js",
    "vendor/noble-ed25519.js",
    "ed25519.js",
    "note.js",
    "keyring.js",
    "disclosure.js",
    "packet.js",
    "verify.js",
    "receipt.js",
)
PAGE_MODULES = (*CHECK_MODULES, "story.js", "page.js")
_IMPORT = re.compile(r'^import \{([\w,\s]+)\} from "\./([\w./-]+)";$', re.MULTILINE)
_EXPORT = re.compile(r"^export \{([\w,\s]+)\};\s*\Z", re.MULTILINE)
_STRAY = re.compile(r"^(?:import|export)\b", re.MULTILINE)
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
_UNSAFE = re.compile(r"</script|<!--", re.IGNORECASE)


def _part(name: str) -> str:
    return (files("auditkit.reader.page") / name).read_text("utf-8")


def bundle(names: tuple[str, ...]) -> str:
    """Return the modules as one script; each is a function that gives its exports.

    Raises ValueError where a module imports or exports in another way than
    ``import { a } from "./b.js";`` and one ``export { a };`` at its end.
    """
    made = [f"/*!\n{_part('vendor/noble-ed25519.LICENSE.txt')}*/\n", '"use strict";\n']
    made.append("const modules = {};\n")
    for name in names:
        text = _IMPORT.sub(r'const {\1} = modules["\2"];', _part(name))
        text = _EXPORT.sub(r"return {\1};\n", text)
        if _STRAY.search(_COMMENT.sub("", text)) or _UNSAFE.search(text):
            message = f"{name} cannot be inlined into a page"
            raise ValueError(message)
        made.append(f'modules["{name}"] = (() => {{\n{text}}})();\n')
    return "".join(made)


def _hash_source(text: str) -> str:
    """Return a CSP hash source (W3C CSP3 2.3.1) of an inline part."""
    digest = hashlib.sha256(text.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


def _page(packet_text: str | None) -> str:
    script, style = bundle(PAGE_MODULES), _part("check.css")
    policy = "; ".join(
        (
            "default-src 'none'",
            f"script-src {_hash_source(script)}",
            f"style-src {_hash_source(style)}",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )
    parts = {
        "POLICY": policy,
        "STYLE": style,
        "PACKET": json_for_script(packet_text),
        "SCRIPT": script,
    }
    # One pass, so that nothing in a part is taken for a place of another.
    return re.sub(r"@@([A-Z]+)@@", lambda m: parts[m[1]], _part("check.html"))


def json_for_script(value: str | None) -> str:
    """Return a text as JSON that no HTML parser can take for markup."""
    text = json.dumps(value)
    for letter in "<>&":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return text


def checker_page() -> str:
    """Return the page that checks any packet which a reader opens in it."""
    return _page(None)


def checker_sha256() -> str:
    """Return the hex SHA-256 of the checker page's UTF-8 bytes, to be published."""
    return hashlib.sha256(checker_page().encode()).hexdigest()


def packet_page(packet_text: str) -> str:
    """Return a page that carries a packet and checks it when it is opened.

    The packet is not verified here. Such a page proves consistency only: a reader
    has to compare the log key's fingerprint, best in the checker page.
    """
    return _page(packet_text)
