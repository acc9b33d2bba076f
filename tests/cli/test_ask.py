"""What an event lacks is asked for at a terminal; elsewhere it is told at once."""

import json
import os
import pty
import re
import subprocess
import sys

import click
import pytest
from click.testing import CliRunner

from auditkit.bay.fields import fields_of
from auditkit.bay.filled import event_of
from auditkit.cli import ask as asking
from auditkit.errors import InputError
from auditkit.order.schema import validate_event
from auditkit.plugin.loading import load_canon

NOW = {"at": "2026-03-02T10:30:00+01:00", "by": "tech-a"}
SHOP = {"shop": "Example Yard Garage"}


@pytest.fixture(scope="module")
def catalogue():
    return load_canon()


@pytest.fixture
def asked(catalogue, monkeypatch):
    """Return the event that lines typed at a terminal make, and what was shown."""
    monkeypatch.setattr(asking, "at_terminal", lambda: True)

    def run(kind, lines, sets=(), **more):
        made = {}

        @click.command()
        def command():
            known = more.pop("known", {})
            what = asking.Asking(kind, catalogue, **NOW, known=known, **more)
            answers = asking.ask(what, dict(sets))
            made["event"] = event_of(kind, answers, catalogue, **NOW, known=known)

        text = "".join(f"{line}\n" for line in lines)
        done = CliRunner().invoke(command, input=text)
        if done.exception and not isinstance(done.exception, SystemExit):
            raise done.exception
        assert done.stdout == "", "what is asked is no result"
        return made.get("event"), done.stderr

    return run


def test_what_lacks_is_asked_in_order_and_groups_are_offered(asked, catalogue):
    lines = ["", "184210 km", "2012", "1", "delivery van", "", "It idles badly.", ""]
    event, shown = asked("opening", lines, known=SHOP)
    assert validate_event(event, catalogue.events) == []
    assert event["vehicle"] == {
        "odometer": {"value": "184210", "unit": "km"},
        "model_year": 2012,
        "ignition": "spark",
        "description": "delivery van",
    }
    labels = [f.label for f in fields_of("opening", catalogue) if f.group is None]
    places = [
        shown.index(f"\n{label}" if n else label) for n, label in enumerate(labels)
    ]
    assert places == sorted(places)
    assert "Customer's name" not in shown
    assert "1 Customer" in shown


def test_a_group_is_asked_once_it_is_wanted(asked):
    given = {"vehicle.odometer": "1 km", "vehicle.model_year": "2012"}
    given |= {"vehicle.ignition": "spark", "vehicle.description": "van"}
    lines = ["", "", "x", "7", "1", "Customer One", ""]
    event, shown = asked("opening", lines, given, known=SHOP)
    assert event["customer"] == {"name": "Customer One"}
    assert "write 1, or nothing" in shown


def test_a_wrong_answer_is_told_under_it_and_asked_again(asked):
    lines = ["09:50", "27", "2,7 km", "27 km", "town", ""]
    event, shown = asked("road_test", lines)
    assert event["distance"] == {"value": "27", "unit": "km"}
    assert "'27' has no unit; write it behind the number: km or mi" in shown
    assert "has a comma; write it with a point: 2.7" in shown


def test_the_model_year_of_a_vin_is_offered_as_soon_as_it_is_typed(asked):
    lines = ["0ZZTB1A18CA000123", "184210 km", "", "1", "delivery van", "", "It idles."]
    event, shown = asked("opening", [*lines, ""], known=SHOP)
    assert event["vehicle"]["model_year"] == 2012
    assert "[2012]" in shown


def test_what_is_yes_or_no_says_so_before_it_is_answered(asked):
    given = {"how": "typed", "tool": "a screen"}
    lines = ["yes", "engine", "P0128", "none", "none", "", "on", "yes"]
    _, shown = asked("readout", [*lines, *[""] * 12], given)
    asking_it = shown.partition("Engine lamp is on")[2].partition(">")[0]
    assert " ".join(asking_it.split()) == (
        "(or nothing) what the display says of the lamp; yes or no"
    )
    assert "'on' is neither yes nor no" in shown


def test_what_is_needed_is_not_passed_over(asked):
    event, shown = asked("code_clear", ["", "text adapter"])
    assert event["tool"] == "text adapter"
    assert "this is needed" in shown


def test_a_choice_is_a_number_or_a_word_and_brings_what_hangs_on_it(asked):
    lines = ["egr-valve", "1", "EX-EGR-1", "sent back to the supplier"]
    event, _ = asked("repair", [*lines, "", "", "", ""])
    assert (event["action"], event["old_part"]) == ("replaced", "returned-to-supplier")
    event, shown = asked("repair", ["egr-valve", "cleaned", "", "", "", ""])
    assert event["action"] == "cleaned"
    assert "Old part" not in shown


def test_what_is_offered_is_taken_by_enter(asked):
    lines = ["", "3", "", "", "", ""]
    event, shown = asked("repair", lines, offered={"part": "egr-valve"})
    assert event["part"] == "egr-valve"
    assert "[egr-valve]" in shown


def test_rows_are_asked_one_after_the_other(asked, catalogue):
    part = ["yes", "EGR valve", "1", "1, 2", "p0401", ""]
    lines = ["P0401", *part, "n", "the flow is low", "", ""]
    event, _ = asked("diagnosis", lines)
    assert validate_event(event, catalogue.events) == []
    assert event["suspect_parts"] == [
        {
            "id": "egr-valve",
            "name": "EGR valve",
            "system": "egr",
            "where": ["engine-bay", "below"],
            "codes": ["P0401"],
        }
    ]


def test_a_method_brings_its_readings_and_over_range_is_an_answer(asked, catalogue):
    given = {"part": "coil-1", "of": "old", "setup": "removed", "method": "winding"}
    lines = ["over 40 MΩ", "20 degC", "2", "1", "", "8", "ohm", "page 1"]
    event, shown = asked("bench_test", [*lines, "n", ""], given)
    assert validate_event(event, catalogue.events) == []
    assert event["readings"] == [{"name": "resistance", "above": "40", "unit": "Mohm"}]
    assert event["limit"]["maximum"] == "8"
    assert "Lead resistance" not in shown.partition("What else")[0]
    said = " ".join(shown.split())
    assert "(or nothing; needed: a limit without a source decides nothing)" in said
    assert "Instruments: 0 so far (one row an instrument; needed to count as" in said


def test_what_does_not_fit_together_is_asked_anew(asked):
    given = {"part": "cap", "of": "old", "setup": "removed", "method": ""}
    lines = ["", "hold", "", "1.9 kPa", "", "", "kPa", "", "", "n", ""]
    again = ["3.0", "", "kPa", "", "", ""]
    event, shown = asked("bench_test", [*lines, *again], given)
    assert '"minimum" or "maximum" is missing' in shown
    assert event["limit"] == {"minimum": "3.0", "unit": "kPa"}


def test_a_readout_that_no_option_brought_is_typed_from_a_display(asked, catalogue):
    module = ["y", "7E8", "P0135", "none", "", "", "y", "1", "n", "n", ""]
    event, shown = asked("readout", ["screen", *module, "n", "", ""])
    assert validate_event(event, catalogue.events) == []
    (shown_module,) = event["typed"]["modules"]
    assert shown_module == {
        "module": "7E8",
        "stored": ["P0135"],
        "pending": [],
        "lamp": True,
        "count": 1,
    }
    assert "Raw text" not in shown


def test_a_wrong_answer_that_was_given_is_refused_at_once(asked):
    with pytest.raises(InputError, match="choices") as caught:
        asked("repair", [], {"part": "cap", "action": "swapped"})
    assert caught.value.where == "--set action"


def test_the_form_of_a_readout_is_one_of_those_that_are_named(catalogue, monkeypatch):
    monkeypatch.setattr(asking, "at_terminal", lambda: False)
    what = asking.Asking("readout", catalogue, **NOW)
    with pytest.raises(InputError, match=r"how \(How: raw or typed\), tool"):
        asking.ask(what, {})
    with pytest.raises(InputError, match="'x' is not one of the choices") as caught:
        asking.ask(what, {"how": "x", "tool": "a screen"})
    assert (caught.value.where, caught.value.what_to_do) == (
        "--set how",
        "write one of raw, typed",
    )
    given = {"how": "typed", "tool": "a screen"}
    with pytest.raises(InputError, match=r"typed\.modules\.0\.module \(") as caught:
        asking.ask(what, given)
    assert "of it also stored, pending, permanent" in caught.value.message
    row = {"typed.modules.0.module": "7E8", "typed.modules.0.stored": "P0401"}
    assert asking.ask(what, given | row) == given | row, "as the error names them"


def test_at_no_terminal_all_that_lacks_is_named_at_once(catalogue, monkeypatch):
    monkeypatch.setattr(asking, "at_terminal", lambda: False)
    what = asking.Asking("opening", catalogue, **NOW, known=SHOP)
    with pytest.raises(InputError) as caught:
        asking.ask(what, {"complaint": "It idles badly.", "vehicle.vin": ""})
    assert caught.value.exit_code == 2
    assert caught.value.message == (
        "not answered: vehicle.odometer (Odometer), vehicle.model_year (Model year), "
        "vehicle.ignition (How the engine ignites: spark or compression), "
        "vehicle.description (What the vehicle is)"
    )
    assert "--set" in caught.value.what_to_do


def test_at_a_real_terminal(tmp_path):
    """What a person types reaches the event; the result alone is on standard output."""
    code = (
        "import json\n"
        "from auditkit.bay.filled import event_of\n"
        "from auditkit.cli.ask import Asking, ask\n"
        "from auditkit.plugin.loading import load_canon\n"
        f"now, catalogue = {NOW!r}, load_canon()\n"
        "what = Asking('road_test', catalogue, **now)\n"
        "answers = ask(what, {'start': '09:50'})\n"
        "print(json.dumps(event_of('road_test', answers, catalogue, **now)))\n"
    )
    ours, theirs = pty.openpty()
    child = subprocess.Popen(
        [sys.executable, "-c", code],
        stdin=theirs,
        stdout=subprocess.PIPE,
        stderr=theirs,
        cwd=tmp_path,
    )
    os.close(theirs)
    os.write(ours, b"27 miles\n27 mi\nwarm, then town\n\n")
    out, _ = child.communicate(timeout=60)
    os.close(ours)
    assert json.loads(out)["distance"] == {"value": "27", "unit": "mi"}


def test_help_of_a_kind_lists_the_paths_that_make_its_event(run, catalogue):
    status, out, _ = run("add", "RO-1", "diagnosis", "--help")
    listed = out.split("What --set takes")[1]
    paths = re.findall(r"^  (\S+)", listed, flags=re.MULTILINE)
    assert status == 0
    answers = {
        "codes.0": "P0401",
        "suspect_parts.0.name": "EGR valve",
        "suspect_parts.0.system": "egr",
        "suspect_parts.0.where.0": "engine-bay",
        "reasoning": "flow below its limit",
    }
    assert answers.keys() <= set(paths)
    event = event_of("diagnosis", answers, catalogue, **NOW, known={})
    assert validate_event(event, catalogue.events) == []
    assert "; one of declined, not-repaired-here," in " ".join(listed.split())


def test_what_is_neither_yes_nor_no_is_asked_again(asked):
    """At a list's row too, where anything but a yes once meant no."""
    part = ["EGR valve?", "y", "EGR valve", "1", "1, 2", "p0401", ""]
    event, shown = asked("diagnosis", ["P0401", *part, "n", "the flow is low", "", ""])
    assert "EGR valve?' is neither yes nor no; write yes or no, or y or n" in shown
    assert event["suspect_parts"][0]["name"] == "EGR valve"


@pytest.mark.parametrize(("read", "is_asked"), [("temperature", 0), ("pressure", 1)])
def test_against_what_a_pressure_is_read_is_asked_of_pressures_alone(
    asked, read, is_asked
):
    given = {"part": "thermostat", "of": "old", "setup": "removed"}
    given |= {"method": "switching-point", "readings.how": read}
    _, shown = asked("bench_test", [*["gauge"] * is_asked, "58 rpm", ""], given)
    assert shown.count("What pressures are read as") == is_asked
    assert f"{read.capitalize()} [" in shown
    assert "is not a unit of" in shown, "what is read is asked next"


def test_what_was_read_several_times_is_written_in_one_line(asked, catalogue):
    given = {"part": "coil-1", "of": "old", "setup": "removed", "method": "winding"}
    lines = ["0.8 ohm; 0.9 metres", "0.80 ohm; 0.82 ohm;", "20 degC", "2", "1", ""]
    lines += ["8", "ohm", "page 1", "n", ""]
    event, shown = asked("bench_test", lines, given)
    assert "write all with ; between" in shown
    assert "is not a unit of" in shown, "the second is refused, and both asked anew"
    assert validate_event(event, catalogue.events) == []
    read = [one["value"] for one in event["readings"] if one["name"] == "resistance"]
    assert read == ["0.80", "0.82"]
