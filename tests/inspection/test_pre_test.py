"""The record before an inspection: what was read, what was not, and what is missing."""

from datetime import date
from importlib.resources import files
from itertools import combinations
from tomllib import loads

import pytest
from vehicles import Vehicle as Car
from vehicles import counted, frames

from auditkit.errors import InputError
from auditkit.inspection.heard import Heard, ignitions, worst
from auditkit.inspection.jurisdiction_table import jurisdiction_of
from auditkit.inspection.pre_test import Taken, pre_test
from auditkit.inspection.reasons import Case, Lamp, Seen
from auditkit.inspection.vehicle import Given, vehicle_of
from auditkit.obd import decode
from auditkit.plugin import hookimpl
from auditkit.plugin.loading import load_catalogue

RULES = {j.name: j for j in load_catalogue().jurisdictions}
READY = Car()
LOOKED = Seen(Lamp.LIT, Lamp.DARK)
DAY = date(2026, 3, 2)


def record(text, *names, seen=LOOKED, day=DAY, only=None, **given):
    """Return the record of a readout's text, with the answers of some rules."""
    read = decode(text)
    vehicle = vehicle_of(read, Given(**{"model_year": 2012, **given}))
    case = Case(read, vehicle, seen, day)
    return pre_test(Taken("a test", ""), case, [RULES[n] for n in names], only)


def answers(text, *names, **more):
    return [r.answer.value for r in record(text, *names, **more).results]


def without(text: str, *beginnings: str) -> str:
    """Return a readout without the requests that begin so and what answered them."""
    kept, is_kept = [], True
    for line in text.splitlines():
        if line.startswith("> "):
            is_kept = not line[2:].startswith(beginnings)
        if is_kept:
            kept.append(line)
    return "\n".join(kept)


def test_each_module_answers_for_itself_alone():
    """A gearbox that answers says nothing of an engine that is silent."""
    lines = ["> 0101", *frames("7E9", bytes.fromhex("410100040000"))]
    lines += ["> 03", *frames("7E8", b"\x43\0"), *frames("7E9", b"\x43\0")]
    found = record("\n".join(lines), "federal")
    engine, gearbox = found.modules
    assert dict(engine.heard)["lamp"] is Heard.SILENT
    assert dict(engine.heard)["readiness"] is Heard.SILENT
    assert dict(gearbox.heard)["readiness"] is Heard.READ
    assert engine.lamp is None
    assert {r.answer.value for r in found.results} == {"undecided"}
    assert "read the readiness of 7E8 again (PIDs 00, 01), engine running" in (
        found.results[0].what_to_do()
    )


def test_none_is_said_only_where_the_answer_was_none():
    """Answered, refused, lost, asked in vain and not asked are five things."""
    lines = ["> 0101", *frames("7E8", bytes.fromhex("41010007E500"))]
    lines += ["> 03", *frames("7E8", b"\x43\0")]
    lines += ["> 07", *frames("7E8", b"\x7f\x07\x11")]
    heard = dict(record("\n".join([*lines, "> 0A"])).modules[0].heard)
    assert heard["stored codes"] is Heard.READ
    assert heard["pending codes"] is Heard.REFUSED
    assert heard["permanent codes"] is Heard.SILENT
    heard = dict(record("\n".join(lines)).modules[0].heard)
    assert heard["permanent codes"] is Heard.NOT_ASKED
    bare = "\n".join(line for line in lines if not line.startswith(">"))
    assert dict(record(bare).modules[0].heard)["permanent codes"] is Heard.UNKNOWN
    lost = "\n".join([*lines, "> 0A", "7E8 10 08 4A 03 04 01 04 02"])
    heard = dict(record(lost).modules[0].heard)
    assert heard["permanent codes"] is Heard.UNREADABLE
    codes = dict(record(lost).modules[0].codes)
    assert codes == {"stored": ()}


@pytest.mark.parametrize("name", sorted(n for n in RULES if RULES[n].reads_vehicle))
def test_no_damaged_readout_is_ever_accepted(name):
    """A line that cannot be read, a second word, a clear, a lost frame, nothing."""
    rules = RULES[name]
    whole = READY.readout()
    twice = [*frames("7E8", bytes.fromhex("410180076500"))]
    damaged = {
        "unreadable": whole + "\n7E8 03 41 0",
        "lamp told twice": "\n".join([whole, "> 0101", *twice]),
        "cleared at the end": "\n".join([whole, "> 04", *frames("7E8", b"\x44")]),
        "lost frame": whole + "\n> 03\n7E8 10 08 43 03 04 01 04 02",
        "no readiness": without(whole, "0101"),
        "empty": "",
        "silence": "> 0101\nNO DATA",
    }
    year = 2020 if rules.scope.oldest else 2012
    day = date(2015, 6, 1) if name == "washington" else DAY
    if name == "germany":
        day = date(2015, 6, 1)
    for what, text in damaged.items():
        found = answers(text, name, model_year=year, ignition="spark", day=day)
        assert "accept" not in found, what


def test_nothing_that_is_missing_turns_a_failure_into_something_better():
    """What is lost never hides a certain failure, whichever it is."""
    failing = READY.but(status="8107E500", confirmed=(0x0442,)).readout()
    parts = ("0130", "0131", "03", "07", "0A", "0902", "0904")
    for count in range(len(parts) + 1):
        for left_out in combinations(parts, count):
            text = without(failing, *left_out)
            assert set(answers(text, "federal")) == {"fail"}, left_out


@pytest.mark.parametrize(
    "car",
    [
        READY.but(status="8107E500", confirmed=(0x0442,)),
        READY.but(permanent=(0x0442,), warm_ups=2, distance=10),
        READY.but(permanent=(0x0442,), warm_ups=None),
        READY.but(status="0107E500"),
        READY.but(status="0007E5A5"),
        READY.but(status="00070000"),
        READY.but(responders=("7E8", "7E9")),
    ],
)
def test_answers_left_out_never_make_a_readout_acceptable(car):
    """Whoever cuts a readout gains nothing, by any rule that reads the vehicle."""
    names = sorted(n for n in RULES if RULES[n].reads_vehicle)
    whole = answers(car.readout(), *names)
    assert set(whole) - {"accept"}
    parts = ("0100", "0101", "0130", "0131", "03", "07", "0A", "0902")
    for count in (1, 2):
        for left_out in combinations(parts, count):
            text = without(car.readout(), *left_out)
            for before, cut in zip(whole, answers(text, *names), strict=True):
                assert cut != "accept" or before == "accept", left_out


def test_complete_with_nothing_driven_since_the_clear_is_asked_about():
    # Common practice, no published source.
    text = READY.but(warm_ups=0, distance=0).readout()
    assert set(answers(text, "federal")) == {"undecided"}
    text = READY.but(warm_ups=0, distance=1).readout()
    assert set(answers(text, "federal")) == {"accept"}


def test_marks_that_a_vehicle_keeps_are_held_against_the_readout_before():
    """Another vehicle in its place shows in what does not change by a repair."""

    def marks(after: Car) -> list[str]:
        read = decode(after.readout())
        vehicle = vehicle_of(read, Given(2012))
        earlier = (decode(READY.readout()),)
        case = Case(read, vehicle, LOOKED, DAY, earlier=earlier)
        return [
            m for m in pre_test(Taken("a test", ""), case, []).marks if "before" in m
        ]

    driven = READY.but(
        warm_ups=44, distance=2100, counters=counted(READY.counters, 1, 3)
    )
    assert marks(driven) == []
    assert marks(READY.cleared()) == []
    other = marks(READY.but(map_00="BE3FA813", calibration="DEMO-ENG-0002"))
    assert [m.partition(":")[0] for m in other] == [
        "calibration ids of 7E8",
        "support map 01/00 of 7E8",
    ]
    (less,) = marks(READY.but(counters=counted(READY.counters, 1, -3)))
    assert "297, less than 300 before" in less


def test_a_vehicle_of_the_newer_form_is_read_too():
    """SAE J1979-2 (from memory): PIDs by service 22, codes by status in service 19."""
    lines = ["> 22F401", "7E8 07 62 F4 01 00 07 E5 00", "> 1902FF", "7E8 03 59 02 FF"]
    found = record("\n".join([*lines, "> 22F430"]), "federal", model_year=2023)
    assert {r.answer.value for r in found.results} == {"accept"}
    heard = dict(found.modules[0].heard)
    assert heard["stored codes"] is Heard.READ
    assert heard["permanent codes"] is Heard.SILENT
    values = dict(found.modules[0].values)
    assert values["warm-ups since the clear"] == Heard.SILENT
    assert values["odometer"] == Heard.NOT_ASKED


def test_what_a_person_gives_is_said_where_it_overrides_what_was_read():
    found = record(READY.readout(), "california", model_year=2010, ignition="spark")
    assert found.case.vehicle.said[0] == (
        "model year 2010, given with --model-year; but 2012, as the VIN that was read "
        "says"
    )
    assert not found.case.vehicle.conflict
    found = record(READY.readout(), "california", ignition="compression")
    assert (
        "compression, given with --ignition and spark, as PID 01 says"
        in (found.case.vehicle.said[-1])
    )
    assert found.case.vehicle.conflict


def test_ignition_comes_from_pid_01():
    # ISO 15031-5:2006 Table B.2, byte B bit 3
    assert ignitions(decode(READY.readout())) == {"spark"}
    diesel = READY.but(status="000FC300", fuel=0x01)
    assert ignitions(decode(diesel.readout())) == {"compression"}
    assert ignitions(decode("7E8 02 43 00")) == frozenset()


def test_two_modules_merge_to_the_worse():
    text = "7E8 06 41 01 00 07 E5 00\n7E9 06 41 01 00 04 01 01"
    assert [n for n, done in worst(decode(text)).items() if not done] == ["catalyst"]


def test_rules_that_ended_or_had_not_begun_are_not_asked():
    text = READY.readout()
    assert answers(text, "washington", day=date(2019, 12, 31)) == ["accept"]
    assert answers(text, "washington", day=date(2020, 1, 1)) == ["not-subject"]
    # One reading of California's rule is older than the other.
    assert len(answers(text, "california", day=date(2025, 9, 30))) == 1
    assert len(answers(text, "california", day=date(2025, 10, 1))) == 2
    found = record(text, "california", day=date(2014, 1, 1))
    assert found.results[0].what_to_do() == (
        "name the day of the inspection, or which reading is asked",
    )


@pytest.mark.parametrize(
    ("year", "used", "answer"),
    [
        (2001, None, "not-subject"),
        (2003, None, "undecided"),
        (2003, date(2003, 6, 30), "not-subject"),
        (2003, date(2003, 7, 1), "accept"),
        (2004, None, "accept"),
    ],
)
def test_where_the_day_of_first_use_decides(year, used, answer):
    # United Kingdom: petrol first used from 1 July 2003 (from memory)
    given = {"model_year": year, "first_used": used}
    assert answers(READY.readout(), "united-kingdom", **given) == [answer]


def test_one_reading_can_be_asked_alone_and_must_exist():
    only = "table in use"
    found = record(READY.readout(), "california", only=only, day=date(2013, 1, 1))
    assert [r.reading for r in found.results] == [only]
    with pytest.raises(InputError, match="oregon is called 'table in use'"):
        record(READY.readout(), "california", "oregon", only=only)


def test_every_rule_says_where_it_stands_and_how_it_is_known():
    """Nothing that was only remembered is told as read, nor the other way about."""
    data = loads((files("auditkit_plugins") / "inspection.toml").read_text())

    def sources(node):
        if isinstance(node, dict):
            if "section" in node:
                yield node
            for value in node.values():
                yield from sources(value)
        elif isinstance(node, list):
            for value in node:
                yield from sources(value)

    found = list(sources(data))
    assert len(found) > 60
    words = ("read", "secondary page", "from memory", "as BAR explains it")
    for source in found:
        assert source["known"].startswith(words) or "memory" in source["known"], source
        assert source["section"]
        assert source["dated"]


ISLAND = {
    "name": "island",
    "title": "An invented island",
    "scope": {
        "section": "1",
        "dated": "2020",
        "known": "invented",
        "first_year": {"spark": 2000},
    },
    "lamp": {"section": "1", "dated": "2020", "known": "invented"},
    "reading": [
        {
            "name": "only",
            "section": "3",
            "dated": "2020",
            "known": "invented",
            "allowance": [{"ignition": "any", "first_year": 2000, "count": 0}],
        }
    ],
}


def test_a_plugin_may_add_a_jurisdiction():
    class Island:
        @staticmethod
        @hookimpl
        def jurisdictions():
            return [jurisdiction_of(ISLAND)]

    found = load_catalogue({"island": Island}).jurisdictions
    assert [j.name for j in found] == ["island"]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"reading": []}, "'reading' is missing"),
        ({"lamb": {}}, "lamb: not known here"),
        ({"lamp": {"section": "1"}}, "'dated' is missing"),
        ({"scope": {**ISLAND["scope"], "first_year": {}}}, "is needed"),
        ({"effective": "soon"}, "effective: 'soon' is no date"),
        ({"reading": [{**ISLAND["reading"][0], "required": ["engine"]}]}, "no monitor"),
        ({"reading": [{**ISLAND["reading"][0], "beyond": "maybe"}]}, "'maybe'"),
        (
            {"reading": [{**ISLAND["reading"][0], "allowance": [{"count": 1}]}]},
            "'ignition'",
        ),
    ],
)
def test_data_that_is_not_whole_is_named(change, told):
    with pytest.raises(InputError, match=told) as error:
        jurisdiction_of({**ISLAND, **change})
    assert error.value.where == "island"
