"""What the documents say is what the project does."""

import ast
import inspect
import re
import shlex
from pathlib import Path

import pytest

from auditkit import errors, plugin
from auditkit.cli import main
from auditkit.cli.commands import COMMANDS
from auditkit.order.findings import Verdict
from auditkit.order.questions import Question

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()


def test_readme_session_runs(tmp_path, monkeypatch, capsys):
    """Every command of the README's session, with the exit status it should have."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", "for the session")
    (tmp_path / "demo").symlink_to(ROOT / "demo")
    (session,) = re.findall(r"```console\n(.*?)```", README, re.DOTALL)
    commands = re.findall(r"^\$ auditkit (.*)$", session, re.MULTILINE)
    assert len(commands) == 7
    for command in commands:
        words = [w.strip('"') for w in re.findall(r'"[^"]*"|\S+', command)]
        with pytest.raises(SystemExit) as end:
            main(words)
        expected = 1 if "RO-1002" in command else 0
        assert end.value.code == expected, command
    out, _ = capsys.readouterr()
    told = "part faulty before the repair, vehicle's own test run again, vehicle's own"
    assert f"unproven: not shown: {told} test passed" in out
    assert "RO-1001.packet.json: judged here: vouched" in out
    assert "shop.auditlog: record unaltered" in out


def test_readme_session_of_the_bay_runs(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", "for the session")
    (tmp_path / "demo").symlink_to(ROOT / "demo")
    (session,) = re.findall(r"```shell\n(.*?)```", README, re.DOTALL)
    commands = re.findall(r"^\$ auditkit (.*)$", session, re.MULTILINE)
    assert len(commands) == 3
    for command in ['init --shop "A Garage" --person mechanic-1', *commands]:
        with pytest.raises(SystemExit) as end:
            main(shlex.split(command))
        assert end.value.code == 0, command
    out, _ = capsys.readouterr()
    assert "P0401: Fault reported before the repair: shown, from the vehicle" in out
    assert "Next: Before the bench test of EGR valve, read and acknowledge: " in out


def test_readme_names_every_question_and_verdict():
    for word in (*Question, *Verdict):
        assert f"`{word}`" in README or f"**{word}**" in README, word


def test_every_command_is_in_the_readme():
    for name in COMMANDS:
        if name != "init":
            assert f"auditkit {name}" in README, name


def test_every_hook_is_documented_with_its_signature():
    for name, hook in vars(plugin).items():
        if inspect.isfunction(hook) and hasattr(hook, "auditkit_spec"):
            signature = str(inspect.signature(hook)).replace("'", "")
            assert f"def {name}{signature}" in DEVELOPERS, name


def test_every_error_stands_in_the_tree():
    for name, value in vars(errors).items():
        if inspect.isclass(value) and value.__module__ == errors.__name__:
            assert name in (errors.__doc__ or "")


def test_readme_opens_with_the_job_and_defers():
    assert README.startswith("# auditkit\n\nA technician chases a fault code.")
    for words in ("maker's procedure", "local codes", "licensed practice"):
        assert words in README


def test_python_example_runs(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    (example,) = re.findall(r"```python\n(from pathlib.*?)```", DEVELOPERS, re.DOTALL)
    exec(example, {})  # noqa: S102  our own document
    out = capsys.readouterr().out
    assert "unproven" in out
    assert "('31', '2.14', <SelfTestOutcome.FAILED: 'failed'>)" in out


def test_every_row_of_the_threat_table_names_a_test_that_exists():
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    table = text.partition("what catches it")[2].partition("\n## ")[0]
    rows = [line for line in table.splitlines() if line.startswith("|")][2:]
    assert len(rows) > 20
    for row in rows:
        file, _, name = row.split("|")[4].strip().strip("`").partition("::")
        source = next((ROOT / "tests").rglob(file)).read_text("utf-8")
        assert f"\ndef {name}(" in source if name else "\ndef test_" in source, row


CLOCKS = {
    *("datetime.now", "datetime.utcnow", "datetime.today", "date.today"),
    *("time.time", "time.time_ns", "time.monotonic", "time.monotonic_ns"),
    *("time.perf_counter", "time.localtime", "time.gmtime", "time.strftime"),
}
LAST_NAMES = {name.rpartition(".")[2] for name in CLOCKS}


def test_who_reads_the_clock_is_told_whole():
    """Calls, and clocks that are handed on, are found by their names in the sources."""
    readers = set()
    for folder in ("auditkit", "plugins"):
        for path in (ROOT / folder).rglob("*.py"):
            text = path.read_text("utf-8")
            if not any(name in text for name in (*CLOCKS, "from time import")):
                continue
            tree = ast.parse(text)
            used = {
                ast.unparse(n)
                for n in ast.walk(tree)
                if isinstance(n, ast.Attribute) and n.attr in LAST_NAMES
            }
            froms = {
                alias.name
                for node in ast.walk(tree)
                if isinstance(node, ast.ImportFrom) and node.module == "time"
                for alias in node.names
            }
            if used & CLOCKS or froms - {"sleep"}:
                readers.add(path.relative_to(ROOT).as_posix())
    section = DEVELOPERS.partition("## Who reads the clock")[2].partition("\n## ")[0]
    named = set(re.findall(r"`((?:auditkit|plugins)/[a-z_/]*\.py)`", section))
    assert named == readers
