"""Packing the one-file verifier: the same bytes from the same sources, anywhere.

A Python zip application (the standard library's ``zipapp`` form): a first line that
names the interpreter, then a zip file. Members are stored, not compressed, in fixed
order with one fixed date, since compressors differ between systems.
"""

from __future__ import annotations

import io
import zipfile
from importlib.resources import files

# What auditkit.reader.read_packet needs, and nothing else: pure, no dependencies.
MODULES = (
    "__init__",
    "errors",
    "text/__init__",
    "text/values",
    "text/base64url",
    "text/display_text",
    "text/strict_json",
    "proof/__init__",
    "proof/attestation",
    "proof/attested_bounds",
    "proof/check_packet",
    "proof/check_report",
    "proof/cosignature",
    "proof/disclosure",
    "proof/entry",
    "proof/keyring",
    "proof/keys",
    "proof/log_kinds",
    "proof/merkle",
    "proof/note",
    "proof/packet",
    "proof/receipt",
    "proof/time_bounds",
    "proof/timestamp",
    "proof/trust_policy",
    "reader/__init__",
    "reader/file_kind",
    "reader/one_file/__init__",
    "reader/one_file/main",
    "reader/read_packet",
)
_ED25519 = "cryptography/hazmat/primitives/asymmetric/ed25519.py"
# Ours, in the place of what takes a library: path in the archive -> module.
_IN_PLACE = {
    _ED25519: "reader/one_file/ed25519",
    "auditkit/text/fast_json.py": "reader/one_file/fast_json",
}
_STAND_IN = '"""A stand-in with the few names that auditkit.proof.keys uses."""\n'
_FIRST_LINE = b"#!/usr/bin/env python3\n"
_START = """\
import sys

if sys.version_info < (3, 11):
    sys.exit("auditkit-verify: it needs Python 3.11 or newer")

from auditkit.reader.one_file.main import main

sys.exit(main())
"""
_EXCEPTIONS = '''\
"""The one exception that auditkit.proof.keys catches."""


class InvalidSignature(Exception):
    """A signature does not fit."""
'''
_DATE = (1980, 1, 1, 0, 0, 0)
_READABLE = 0o100644 << 16
_UNIX = 3


def members() -> dict[str, bytes]:
    """Return the verifier's files by their path in the archive."""
    package = files("auditkit")
    made = {
        f"auditkit/{name}.py": package.joinpath(f"{name}.py").read_bytes()
        for name in MODULES
    }
    for path, name in _IN_PLACE.items():
        made[path] = package.joinpath(f"{name}.py").read_bytes()
    folders = _ED25519.split("/")[:-1]
    for depth in range(len(folders)):
        made["/".join([*folders[: depth + 1], "__init__.py"])] = _STAND_IN.encode()
    made["cryptography/exceptions.py"] = _EXCEPTIONS.encode()
    made["__main__.py"] = _START.encode()
    return made


def build() -> bytes:
    """Return the verifier as one executable file's bytes."""
    buffer = io.BytesIO()
    buffer.write(_FIRST_LINE)
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_STORED) as archive:
        for path, data in sorted(members().items()):
            # Sources may lie with other line ends on another system.
            text = data.replace(b"\r\n", b"\n")
            info = zipfile.ZipInfo(path, _DATE)
            info.create_system, info.external_attr = _UNIX, _READABLE
            archive.writestr(info, text)
    return buffer.getvalue()
