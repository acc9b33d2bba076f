"""CPython for WebAssembly as others published it, from ``vendor``: checked before use.

``vendor/SHA256SUMS`` states the digest of each file as published; ``.ci/vendor`` checks
them all and fetches them anew. What is text or code lies there compressed.
"""

from __future__ import annotations

import gzip
import hashlib
import json
from importlib.resources import files

from auditkit.errors import InputError
from auditkit.text.values import Json

WASM, STDLIB = "pyodide.asm.wasm", "python_stdlib.zip"
LOADER, GLUE = "pyodide.mjs", "pyodide.asm.mjs"
_LOCK = "pyodide-lock.json"
_LICENCES = (
    "pyodide.LICENSE.txt",
    "python.LICENSE.txt",
    "noble-ed25519.LICENSE.txt",
)


def published(name: str) -> bytes:
    """Return a file as it was published; InputError where it is not that any more."""
    folder = files("auditkit.reader.page") / "vendor"
    packed = folder / f"{name}.gz"
    if packed.is_file():
        data = gzip.decompress(packed.read_bytes())
    else:
        data = (folder / name).read_bytes()
    lines = (folder / "SHA256SUMS").read_text("utf-8").splitlines()
    digests = {line[66:]: line[:64] for line in lines}
    if hashlib.sha256(data).hexdigest() != digests.get(name):
        raise InputError(
            "this file is not as it was published",
            where=f"vendor/{name}",
            what_to_do="install anew",
        )
    return data


def packed(name: str) -> bytes:
    """Return a file compressed (gzip), as it lies here; errors as ``published``."""
    published(name)
    folder = files("auditkit.reader.page") / "vendor"
    return (folder / f"{name}.gz").read_bytes()


def information() -> dict[str, Json]:
    """Return what the loader asks to know of the runtime that it starts."""
    found: dict[str, Json] = json.loads(published(_LOCK))["info"]
    return found


def licences() -> str:
    """Return the licences of what others made, one after the other."""
    folder = files("auditkit.reader.page") / "vendor"
    return "\n\n".join((folder / name).read_text("utf-8") for name in _LICENCES)
