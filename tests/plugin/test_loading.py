"""How plugins are found, what is refused of them, and what they may import."""

import ast
import importlib.metadata
import re
import subprocess
import sys
import types
from dataclasses import replace
from pathlib import Path

import pytest

import auditkit
from auditkit import plugin as door
from auditkit.bench import KINDS
from auditkit.errors import InputError
from auditkit.order.catalogue import CORE
from auditkit.plugin import Event, Problem, Severity, computed_text, hookimpl, rule
from auditkit.plugin.homes import HOMES, MODULES
from auditkit.plugin.loading import load_catalogue

PLUGINS = Path(__file__).parents[2] / "plugins"


@rule("quiet", severity=Severity.ADVISORY)
def quiet(_order, _parameters):
    """Finds nothing.

    What it checks
    Nothing.

    Why it matters
    It does not.

    Example
    None.

    What to do
    Nothing.
    """
    return [Problem("nothing", "nothing")]


def plugin(**hooks):
    """Return a plugin whose hooks return what is given, or raise it."""

    def hook(given):
        def implementation():
            if isinstance(given, Exception):
                raise given
            return given

        return implementation

    made = types.ModuleType("plugin")
    for name, given in hooks.items():
        setattr(made, name, hookimpl(hook(given), specname=name))
    return made


MINE = replace(KINDS["winding"], name="mine")


@pytest.mark.parametrize(
    ("plugins", "said"),
    [
        (
            {"a": {"rules": [quiet]}, "b": {"rules": [quiet]}},
            "'quiet' is brought twice",
        ),
        ({"a": {"rules": "text"}}, "rules() returned str, which is not a Rule"),
        ({"a": {"rules": [quiet, None]}}, "rules() returned NoneType"),
        ({"a": {"rules": KeyError("x")}}, "rules() failed: KeyError: 'x'"),
        ({"a": {"bench_tests": [quiet]}}, "returned Rule, which is not a TestKind"),
        ({"a": {"bench_tests": [MINE, MINE]}}, "'mine' is brought twice"),
        ({"a": {"bench_tests": [KINDS["winding"]]}}, "'winding' is brought twice"),
        ({"a": {"jurisdictions": [MINE]}}, "is not a Jurisdiction"),
    ],
)
def test_a_faulty_plugin_is_refused_by_name(plugins, said):
    made = {name: plugin(**hooks) for name, hooks in plugins.items()}
    with pytest.raises(InputError) as caught:
        load_catalogue(made)
    assert said in caught.value.message
    assert caught.value.where == f"plugin {max(plugins)}"
    assert caught.value.what_to_do


def test_a_misspelt_hook_is_refused():
    misspelt = types.ModuleType("m")
    misspelt.ruless = hookimpl(lambda: ())
    with pytest.raises(InputError, match="ruless"):
        load_catalogue({"a": misspelt})


def test_a_plugin_that_cannot_be_imported_is_refused_by_name(monkeypatch):
    point = importlib.metadata.EntryPoint("broken", "no_such_module", "auditkit")
    monkeypatch.setattr(importlib.metadata, "entry_points", lambda **_: [point])
    with pytest.raises(InputError, match="cannot be loaded") as caught:
        load_catalogue()
    assert caught.value.where == "plugin broken"
    monkeypatch.setattr(importlib.metadata, "entry_points", lambda **_: [point, point])
    with pytest.raises(InputError):
        load_catalogue()


def test_hooks_may_yield_and_one_plugin_may_bring_nothing():
    yielding = plugin(rules=(one for one in [quiet]))
    catalogue = load_catalogue({"a": yielding, "b": types.ModuleType("empty")})
    assert catalogue.rules == (quiet,)
    assert catalogue.plugin_of("quiet") == "a"


def test_what_plugins_bring_is_one_value_that_nobody_can_change():
    catalogue = load_catalogue({"a": plugin(bench_tests=[MINE])})
    assert catalogue.bench_tests["mine"] is MINE
    with pytest.raises(TypeError):
        catalogue.bench_tests["more"] = MINE
    with pytest.raises(AttributeError):
        catalogue.rules = ()
    assert set(CORE.bench_tests) == set(KINDS)
    assert (CORE.rules, CORE.jurisdictions) == ((), ())


@pytest.fixture
def commands_of(monkeypatch, tmp_path):
    """Install plugins, each a module of source text; return the command line."""
    from auditkit.cli import main

    def run(*plugins, words=("--help",)):
        for number, source in enumerate(plugins):
            (tmp_path / f"invented_{number}.py").write_text(source)
            folder = tmp_path / f"invented_{number}-1.dist-info"
            folder.mkdir()
            (folder / "METADATA").write_text(f"Name: invented-{number}\nVersion: 1\n")
            (folder / "entry_points.txt").write_text(
                f"[auditkit.commands]\nwave = invented_{number}:wave_command\n"
            )
        monkeypatch.syspath_prepend(tmp_path)
        with pytest.raises(SystemExit) as end:
            main(list(words))
        return end.value.code

    yield run
    for name in [name for name in sys.modules if name.startswith("invented_")]:
        del sys.modules[name]


WAVE = """
import click

@click.command("wave")
def wave_command():
    click.echo("hello")
"""


def test_a_plugin_adds_a_command(commands_of, capsys):
    assert commands_of(WAVE, words=("wave",)) == 0
    assert capsys.readouterr().out == "hello\n"


def test_help_lists_a_plugins_command_and_imports_no_plugin(commands_of, capsys):
    assert commands_of("raise ZeroDivisionError") == 0
    out = capsys.readouterr().out
    listed = out.partition("\nOf plugins:\n")[2]
    assert re.search(r"^  wave +Of the plugin invented_0\.$", listed, re.MULTILINE)
    assert "invented_0" not in sys.modules


@pytest.mark.parametrize(
    ("plugins", "told"),
    [
        (["raise ZeroDivisionError('x')"], "cannot be loaded: ZeroDivisionError: x"),
        (["wave_command = 5"], "this is int, and no click.Command; name the command"),
        ([WAVE, WAVE], "invented_1 names a command so as well; uninstall one"),
    ],
    ids=["broken", "no command", "two of one name"],
)
def test_a_command_that_cannot_be_had_is_told_in_one_line(
    commands_of, capsys, plugins, told
):
    assert commands_of(*plugins, words=("wave",)) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert err.startswith("auditkit: command wave of invented_0: ")
    assert told in err


@pytest.mark.parametrize("module", [auditkit, door], ids=lambda m: m.__name__)
def test_each_name_of_a_door_is_there(module):
    for name in module.__all__:
        assert getattr(module, name) is not None, name
    names = {*HOMES, *MODULES} if module is door else set(module._HOMES)
    assert set(module.__all__) - set(vars(type(module))) - {"hookimpl"} == names
    assert list(module.__all__) == sorted(set(module.__all__), key=_as_sorted)
    with pytest.raises(AttributeError, match="nothing_of_the_kind"):
        _ = module.nothing_of_the_kind


def _as_sorted(name):
    return (0 if name.isupper() else 1 if name[0].isupper() else 2, name)


@pytest.mark.parametrize("path", sorted(PLUGINS.glob("*.py")), ids=lambda p: p.stem)
def test_our_own_plugins_go_through_the_door(path):
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
        if isinstance(node, ast.ImportFrom):
            names = [node.module]
        for name in names:
            assert name.partition(".")[0] != "auditkit" or name == "auditkit.plugin"


def test_the_door_loads_no_room_before_a_name_is_asked_for():
    code = (
        "import sys, auditkit.plugin\n"
        "print(sorted(m for m in sys.modules if m.startswith('auditkit')))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, text=True
    )
    assert done.stdout == "['auditkit', 'auditkit.plugin']\n"


def test_a_kind_that_crashes_is_told_by_name_and_proves_nothing():
    broken = replace(KINDS["winding"], name="broken", compute=lambda *_: 1 / 0)
    catalogue = load_catalogue({"a": plugin(bench_tests=[broken])})
    ohms = {
        "unit": "ohm",
        "low": "0",
        "high": "100",
        "resolution": "0.1",
        "calibrated_on": "2026-01-01",
        "due": "2027-01-01",
    }
    degrees = {**ohms, "unit": "degC"}
    event = Event(
        0,
        {
            "kind": "bench_test",
            "at": "2026-03-02T09:00:00Z",
            "method": "broken",
            "readings": [
                {"name": "resistance", "value": "14.0", "unit": "ohm"},
                {"name": "winding temperature", "value": "20.0", "unit": "degC"},
            ],
            "conditions": {"conductor": "copper"},
            "instruments": [
                {"id": "meter", "specification": ohms},
                {"id": "thermometer", "specification": degrees},
            ],
        },
    )
    told = "not computed: the kind of bench test 'broken' crashed: ZeroDivisionError"
    assert computed_text(event, catalogue.bench_tests).startswith(told)
