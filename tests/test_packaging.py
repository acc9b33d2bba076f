"""What is installed, what is public, and what start-up costs."""

import ast
import importlib.metadata
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import auditkit

ROOT = Path(__file__).parent.parent


def test_public_names_are_all_there():
    assert sorted(auditkit.__all__) == auditkit.__all__
    for name in auditkit.__all__:
        assert getattr(auditkit, name).__doc__, name


def test_top_level_holds_nothing_else():
    tracked = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.split()
    if not tracked:  # an unpacked source archive
        tracked = [p.name for p in ROOT.iterdir()]
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml"}
    folders = {"auditkit", "plugins", "schemas", "tests", "demo"}
    top = {p.split("/")[0] for p in tracked}
    assert {t for t in top if not t.startswith(".")} <= allowed | folders


def test_every_plugin_file_has_its_entry_point():
    points = {p.value for p in importlib.metadata.entry_points(group="auditkit")}
    found = {
        f"auditkit_plugins.{p.stem}"
        for p in (ROOT / "plugins").glob("*.py")
        if p.stem != "__init__"
    }
    assert found <= points
    assert found


def test_data_travels_with_the_packages():
    assert (files("auditkit_schemas") / "repair-record-1.schema.json").is_file()
    assert (files("auditkit_plugins") / "cautions.toml").is_file()
    assert (files("auditkit.obd") / "code_table.toml").is_file()
    assert (files("auditkit_demo") / "RO-1001.json").is_file()
    assert (files("auditkit") / "py.typed").is_file()


def test_help_loads_no_heavy_library():
    code = (
        "import sys, auditkit.cli\n"
        "heavy = {'cryptography','jsonschema','jsonschema_rs','pluggy',"
        "'sqlite3'} & set(sys.modules)\n"
        "assert not heavy, heavy"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_modules_stay_small():
    """No module over 400 lines without a reason in its docstring."""
    for folder in ("auditkit", "plugins"):
        for path in (ROOT / folder).rglob("*.py"):
            text = path.read_text()
            if len(text.splitlines()) > 400:
                doc = ast.get_docstring(ast.parse(text)) or ""
                assert "long because" in doc, path
