"""The checker page as one HTML text: the same bytes each time, from the same parts.

It carries CPython for WebAssembly, the sources that the check needs and a script that
starts them in a worker. The Content-Security-Policy allows that very script and style
by their hashes, a worker made from the page itself, and no network.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING

from auditkit.reader import packing
from auditkit.reader.page import runtime
from auditkit.reader.page.limits import CANNOT_KNOW
from auditkit.reader.page.markup import items, to_html
from auditkit.reader.page.scripts import joined

if TYPE_CHECKING:
    from auditkit.text.values import Json

DESK = "auditkit.reader.page.desk"
_IN_PLACE = {"auditkit.proof.ed25519": "auditkit.reader.page.ed25519"}
_UNSAFE = re.compile(r"</script|<!--", re.IGNORECASE)


def part(name: str) -> str:
    """Return a part of the page that lies beside this module."""
    return (files("auditkit.reader.page") / name).read_text("utf-8")


def sources() -> packing.PackingList:
    """Return what the page's Python needs."""
    return packing.needs(DESK, _IN_PLACE)


def worker_script() -> str:
    """Return the script of the worker: runtime, bridge and signatures."""
    return joined(
        {
            "vendor/noble-ed25519.js": runtime.published("noble-ed25519.js").decode(),
            "signatures.js": part("signatures.js"),
            "desk.js": part("desk.js"),
            f"vendor/{runtime.GLUE}": runtime.published(runtime.GLUE).decode(),
            f"vendor/{runtime.LOADER}": runtime.published(runtime.LOADER).decode(),
            "worker.js": part("worker.js"),
        }
    )


def as_data(value: Json) -> str:
    """Return a value as JSON that no HTML parser can take for markup."""
    written = json.dumps(value)
    for letter in "<>&":
        written = written.replace(letter, f"\\u{ord(letter):04x}")
    return written


def hash_source(text: str) -> str:
    """Return a hash source (W3C CSP3 2.3.1) of an inline part."""
    digest = hashlib.sha256(text.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


@lru_cache(maxsize=1)
def checker_page_sha256() -> str:
    """Return the SHA-256 (hex) of the page, as ``auditkit checker`` prints it."""
    return hashlib.sha256(checker_page().encode()).hexdigest()


def checker_page() -> str:
    """Return the page that checks any packet which a reader opens in it.

    Nothing is compressed here, since compressors differ between systems. Raises
    InputError where a vendored file is not as it was published.
    """
    script, style = joined({"page.js": part("page.js")}), part("page.css")
    policy = "; ".join(
        (
            "default-src 'none'",
            f"script-src {hash_source(script)} 'wasm-unsafe-eval'",
            "worker-src blob:",
            f"style-src {hash_source(style)}",
            "img-src data:",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )
    parts = {
        "POLICY": policy,
        "STYLE": style,
        "LIMITS": to_html(items(CANNOT_KNOW)),
        "SCRIPT": script,
        "LICENCES": runtime.licences(),
        "WORKER": as_data(worker_script()),
        "INFO": as_data(runtime.information()),
        "SOURCES": as_data({n: d.decode() for n, d in sources().files.items()}),
        "STDLIB": base64.b64encode(runtime.published(runtime.STDLIB)).decode(),
        "WASM": base64.b64encode(runtime.packed(runtime.WASM)).decode(),
    }
    for name in ("SCRIPT", "LICENCES"):
        if _UNSAFE.search(parts[name]):
            raise ValueError(
                f"the part {name} of the page would end where it should not"
            )
    # One pass, so that nothing in a part is taken for a place of another.
    return re.sub(r"@@([A-Z]+)@@", lambda m: parts[m[1]], part("check.html"))
