"""What a program needs is found by following its imports, all of it and no more."""

import subprocess
import sys
import zipfile

import pytest

from auditkit.reader import packing
from auditkit.reader.one_file.build import build, members

PURE_ROOMS = {
    "text",
    "proof",
    "obd",
    "bench",
    "inspection",
    "order",
    "plugin",
    "reader",
}
# Of the standard library, what reaches outside or starts something; what only takes
# addresses apart does not.
IMPURE = {
    "asyncio",
    "ctypes",
    "http",
    "multiprocessing",
    "select",
    "shutil",
    "socket",
    "sqlite3",
    "ssl",
    "subprocess",
    "tempfile",
    "threading",
    "time",
    "urllib",
}
ADDRESSES = {"urllib", "urllib.parse"}


def rooms(files):
    """Return the top folders of auditkit's own files, and other libraries' names."""
    parts = [path.split("/") for path in files if path.endswith(".py")]
    own = {p[1] for p in parts if p[0] == "auditkit" and len(p) > 2}
    return own, {p[0].removesuffix(".py") for p in parts} - {"auditkit", "__main__"}


def test_one_file_verifier_is_pure():
    own, others = rooms(members())
    assert {"text", "proof", "reader"} <= own <= PURE_ROOMS
    assert others == {"auditkit_plugins", "auditkit_schemas", "pluggy", "uncertainties"}
    needed = packing.needs(
        "auditkit.reader.one_file.main",
        {"auditkit.proof.ed25519": "auditkit.reader.one_file.ed25519"},
    )
    standard = set(needed.standard) - ADDRESSES
    assert {name.partition(".")[0] for name in standard} & IMPURE == set()
    assert "hashlib" in needed.standard


def test_every_packed_module_loads_where_nothing_is_installed(tmp_path):
    path = tmp_path / "v.pyz"
    path.write_bytes(build())
    with zipfile.ZipFile(path) as archive:
        names = [
            name.removesuffix(".py").replace("/", ".")
            for name in archive.namelist()
            if name.endswith(".py") and "__" not in name
        ]
    assert len(names) > 20
    code = "import sys, importlib; sys.path.insert(0, sys.argv[1])\n"
    code += "for name in sys.argv[2:]: importlib.import_module(name)"
    subprocess.run(
        [sys.executable, "-I", "-S", "-c", code, path, *names],
        check=True,
        capture_output=True,
    )


def test_a_library_that_is_not_pure_is_refused_by_name():
    with pytest.raises(ValueError, match=r"cryptography\.\S+ is needed and is no"):
        packing.needs("auditkit.proof.check_packet", {})


@pytest.fixture
def module(tmp_path, monkeypatch):
    """Return a function that writes a module and gives what it needs."""

    def needs(text, others=()):
        for name, source in {"entry": text, **dict(others)}.items():
            place = tmp_path / f"{name}.py"
            place.parent.mkdir(exist_ok=True)
            place.write_text(source)
        monkeypatch.syspath_prepend(tmp_path)
        return packing.needs("entry", {})

    return needs


def test_imports_are_followed_wherever_they_are_needed(module):
    found = module(
        "from __future__ import annotations\n"
        "from typing import TYPE_CHECKING\n"
        "import shop\n"
        "from shop import bench, WORD\n"
        "if TYPE_CHECKING:\n    import never\nelse:\n    import at_run_time\n"
        "try:\n    import perhaps\nexcept ImportError:\n    import instead\n"
        "try:\n    import anyway\nexcept ValueError:\n    pass\n"
        "def later():\n    import only_later\n    import auditkit.errors\n",
        {
            "shop/__init__": "WORD = 1\n",
            "shop/bench": "from .near import x\n",
            "shop/near": "x = 1\n",
            "at_run_time": "",
            "instead": "",
            "anyway": "import json\n",
        },
    )
    assert set(found.files) == {
        "anyway.py",
        "at_run_time.py",
        "auditkit/__init__.py",
        "auditkit/errors.py",
        "entry.py",
        "instead.py",
        "shop/__init__.py",
        "shop/bench.py",
        "shop/near.py",
    }
    assert "json" in found.standard


def test_a_module_that_is_missing_is_named(module):
    with pytest.raises(ValueError, match="missing_one is needed"):
        module("import missing_one\n")


def test_tables_beside_a_package_are_packed_with_it():
    found = packing.needs("auditkit.obd.code_table", {})
    assert "auditkit/obd/code_table.toml" in found.files
