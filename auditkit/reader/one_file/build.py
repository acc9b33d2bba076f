"""Packing the one-file verifier: the same bytes from the same sources, anywhere.

A Python zip application (the standard library's ``zipapp`` form): a first line that
names the interpreter, then a zip file.
"""

from __future__ import annotations

from auditkit.reader import packing

_MAIN = "auditkit.reader.one_file.main"
_FIRST_LINE = b"#!/usr/bin/env python3\n"
_START = """\
import sys

if sys.version_info < (3, 11):
    sys.exit("auditkit-verify: it needs Python 3.11 or newer")


OWN = {own}


class Closed:
    \"\"\"Only this file and the standard library load, whatever is installed.\"\"\"

    @staticmethod
    def find_spec(name, path=None, target=None):
        if path is None and name not in OWN and name not in sys.stdlib_module_names:
            raise ModuleNotFoundError(f"{{name}} is no part of this file", name=name)


sys.meta_path.insert(0, Closed)

from auditkit.reader.one_file.main import main

sys.exit(main())
"""


def members() -> dict[str, bytes]:
    """Return the verifier's files by their path in the archive."""
    in_place = {"auditkit.proof.ed25519": "auditkit.reader.one_file.ed25519"}
    files = packing.needs(_MAIN, in_place).files
    own = sorted({path.partition("/")[0].removesuffix(".py") for path in files})
    return {**files, "__main__.py": _START.format(own=own).encode()}


def build() -> bytes:
    """Return the verifier as one executable file's bytes."""
    return _FIRST_LINE + packing.archive(members())
