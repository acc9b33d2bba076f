"""Bases and changes: what each operation does, and that none says nothing unseen."""

import copy
import re
import tomllib

import pytest
from case_files import Bases, read_cases
from changed_records import ChangeError, changed, record_of

BASE = tomllib.loads("""
format = "auditkit/repair-record@1"
repair_order = "RO-1"

[opening]
kind = "opening"
vehicle.vin = "0ZZTB1A18CA000123"
vehicle."tyre pressure" = { value = "230", unit = "kPa" }

[readout-before]
kind = "readout"
raw = '''
# from an adapter
> 0131
7E8 04 41 31 07 D0 AA AA AA

> 03
7E8 02 43 00 AA AA AA AA AA
7E9 02 43 00 AA AA AA AA AA

> 07
7E8 02 47 00 AA AA AA AA AA
'''

[repair]
kind = "repair"
count = 2
codes = ["P0442", "P0455"]
""")
RAW = BASE["readout-before"]["raw"]


def after(changes):
    return changed(BASE, tomllib.loads(changes))


def raw_after(changes):
    return after(changes)["readout-before"]["raw"]


def test_a_base_is_a_record_without_the_names_of_its_events():
    record = record_of(BASE)
    assert list(record) == ["format", "repair_order", "events"]
    assert [e["kind"] for e in record["events"]] == ["opening", "readout", "repair"]


def test_values_are_set_added_and_removed_and_the_rest_stays_as_it_was():
    was = copy.deepcopy(BASE)
    got = after("""
        remove = ["repair.codes.1", 'opening.vehicle."tyre pressure".unit']
        set.repair_order = "RO-2"
        set.opening.vehicle.vin = "0ZZTB1A1XCA000124"
        set.repair.codes.0 = "P0456"
        add.repair.codes.1 = "P0457"
        add.repair.old_part = { kept = "yes" }
        add.opening.vehicle."tyre pressure".at = "cold"
    """)
    assert got["repair_order"] == "RO-2"
    assert got["opening"]["vehicle"] == {
        "vin": "0ZZTB1A1XCA000124",
        "tyre pressure": {"value": "230", "at": "cold"},
    }
    assert list(got["opening"]["vehicle"]) == ["vin", "tyre pressure"]
    assert got["repair"] == {
        "kind": "repair",
        "count": 2,
        "codes": ["P0456", "P0457"],
        "old_part": {"kept": "yes"},
    }
    assert got["readout-before"] == BASE["readout-before"]
    assert was == BASE


def test_a_list_or_an_empty_table_replaces_the_whole():
    got = after("set.repair.codes = []\nset.opening.vehicle = {}")
    assert (got["repair"]["codes"], got["opening"]["vehicle"]) == ([], {})


def test_events_come_after_another_new_or_as_a_copy_and_go():
    got = after("""
        after.readout-before.again = "readout-before"
        after.readout-before.road_test = { kind = "road_test" }
        after.repair.readout-after = "readout-before"
        remove = ["readout-before"]
        set.readout-after.raw.0131 = "7E8 04 41 31 00 00 AA AA AA"
    """)
    events = ["opening", "again", "road_test", "repair", "readout-after"]
    assert list(got)[2:] == events
    assert got["again"] == BASE["readout-before"]
    assert got["readout-after"]["raw"] == RAW.replace("07 D0", "00 00")


def test_a_copy_is_taken_before_anything_else_is_changed():
    got = after("""
        after.repair.amendment = { kind = "amendment" }
        copy.amendment.event = "repair"
        copy.opening.vehicle.vin = "repair_order"
        set.repair.codes.0 = "P0456"
        set.amendment.event.codes.1 = "P0457"
    """)
    assert got["amendment"]["event"]["codes"] == ["P0442", "P0457"]
    assert got["repair"]["codes"] == ["P0456", "P0455"]
    assert got["opening"]["vehicle"]["vin"] == "RO-1"


def test_the_answer_to_a_request_is_set_left_out_or_not_asked_for():
    block = RAW[RAW.index("> 03") : RAW.index("> 07")]
    assert raw_after('set.readout-before.raw.03 = "7E8 02 43 00"') == RAW.replace(
        block, "> 03\n7E8 02 43 00\n\n"
    )
    assert raw_after('set.readout-before.raw.03 = ""') == RAW.replace(block, "> 03\n\n")
    assert raw_after('remove = ["readout-before.raw.03"]') == RAW.replace(block, "")
    last = raw_after('remove = ["readout-before.raw.07"]')
    assert last == RAW[: RAW.index("\n> 07")]


def test_a_request_more_is_asked_at_the_end():
    added = 'add.readout-before.raw.0A = "7E8 02 4A 00"'
    assert raw_after(added) == RAW + "\n> 0A\n7E8 02 4A 00\n"
    bare = changed(BASE, {"set": {"readout-before": {"raw": "> 03\n7E8 02 43 00"}}})
    bare = changed(bare, tomllib.loads(added))
    assert bare["readout-before"]["raw"] == "> 03\n7E8 02 43 00\n> 0A\n7E8 02 4A 00"


def test_one_line_of_a_text_gives_way_to_none_one_or_more():
    got = raw_after("""
        lines.readout-before.raw."# from an adapter" = ""
        lines.readout-before.raw."7E9 02 43 00 AA AA AA AA AA" = "7EA 02 43 00"
        lines.readout-before.raw."> 07" = "# here\\n> 07"
    """)
    assert got == (
        RAW.replace("# from an adapter\n", "")
        .replace("7E9 02 43 00 AA AA AA AA AA", "7EA 02 43 00")
        .replace("> 07", "# here\n> 07")
    )


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ('sets.repair.part = "a"', "no operation is called 'sets'"),
        ("remove = []", "remove: says nothing"),
        ('remove = "repair"', "remove: says nothing"),
        ('set = "repair"', "set: says nothing"),
        ('remove = ["repair part"]', "'repair part' is no place"),
        ('remove = ["repair.part"]', "repair.part: nothing is there to remove"),
        ('remove = ["repair.codes.2"]', "repair.codes.2: nothing is there to remove"),
        ('remove = ["repair", "repair.codes"]', "repair: nothing is there; there are"),
        ('remove = ["readout-before.raw.0A"]', "raw.0A: nothing is there to remove"),
        ('set.repair.part = "a"', "repair.part: nothing is there to set"),
        ('set.repiar.part = "a"', "repiar: nothing is there; there are format, repair"),
        ('set.repair.codes.2 = "a"', "repair.codes.2: nothing is there to set"),
        ('set.repair.codes.x = "a"', "repair.codes.x: nothing is there to set"),
        ('set.repair.codes.7.x = "a"', "codes.7: nothing is there; there are 2 in the"),
        ('set.repair.kind = "repair"', "repair.kind: is 'repair' already"),
        ('set.readout-before.raw.0A = "7E8"', "raw.0A: nothing is there to set"),
        ("set.readout-before.raw.03 = 3", "raw.03: an answer is a text"),
        ('set.repair.kind.03.x = "a"', "kind.03: nothing is there; there are no requ"),
        ('add.repair.kind = "a"', "repair.kind: something is there already"),
        ('add.repiar.part = "a"', "repiar: nothing is there; there are format"),
        ("add.repair.count.of = 3", "repair.count.of: 2 is no table, list or text"),
        ("set.repair.count.of = 3", "repair.count.of: nothing is there to set"),
        ("set.repair.count.of.it = 3", "count.of: nothing is there; there are no mem"),
        ('add.repair.codes.3 = "a"', "repair.codes.3: the next of the list is 2"),
        ('add.readout-before.raw.03 = "7E8"', "raw.03: something is there already"),
        ('copy.repair.part = "repair.action"', "repair.action: nothing is there"),
        ('copy.repair.kind = "repair.kind"', "repair.kind: is 'repair' already"),
        ('after.repiar.more = "repair"', "after.repiar: no such event"),
        ('after.repair_order.more = "repair"', "after.repair_order: no such event"),
        ('after.repair.opening = "repair"', "'opening' is the name of another"),
        ('after.repair.more = "repiar"', "repiar: nothing is there"),
        ('after.repair = "opening"', "names no event; write after.repair.NAME"),
        ('lines.readout-before.raw."> 0A" = "> 0B"', "'> 0A' is there 0 times"),
        ("lines.readout-before.raw.'' = '> 0B'", "'' is there 3 times"),
        (
            'lines.readout-before.raw."> 03" = "> 03"',
            "write another text for this line",
        ),
        ('lines.readout-before.raw."> 03" = 3', "write another text for this line"),
        ('lines.repair.codes.P0442 = "P0456"', "'P0442' is there 0 times"),
        ('lines.nowhere = "> 0B"', "nowhere: nothing is there"),
    ],
)
def test_what_says_nothing_is_refused(changes, told):
    with pytest.raises(ChangeError, match=re.escape(told)):
        after(changes)


def test_a_request_that_is_asked_twice_is_changed_by_its_lines():
    twice = changed(BASE, {"set": {"readout-before": {"raw": "> 03\nA\n> 03\nB"}}})
    with pytest.raises(ChangeError, match="is asked 2 times"):
        changed(twice, {"remove": ["readout-before.raw.03"]})
    got = changed(twice, {"lines": {"readout-before": {"raw": {"B": "C"}}}})
    assert got["readout-before"]["raw"] == "> 03\nA\n> 03\nC"


@pytest.fixture
def bases(tmp_path):
    (tmp_path / "bases").mkdir()

    def write(**files):
        for name, text in files.items():
            (tmp_path / "bases" / f"{name}.toml").write_text(text)
        return Bases(tmp_path / "bases")

    return write


WHOLE = 'format = "f"\nrepair_order = "RO-1"\n[opening]\nkind = "opening"\nby = "a"\n'


def test_cases_start_from_the_base_of_their_file_or_from_their_own(bases, tmp_path):
    made = bases(whole=WHOLE, other='base = "whole"\nset.opening.by = "b"\n')
    path = tmp_path / "cases.toml"
    path.write_text(
        'base = "whole"\n'
        '[[honest]]\nname = "as it is"\n'
        '[[bogus]]\nname = "another order"\nfamily = "orders"\n'
        'base = "other"\nset.repair_order = "RO-2"\n'
    )
    got = read_cases(path, made, ("honest", "bogus"), beside=("family",))
    ((plain,), (other,)) = got.values()
    assert plain.record["events"] == [{"kind": "opening", "by": "a"}]
    assert (other.name, other.beside) == ("another order", {"family": "orders"})
    assert other.record["repair_order"] == "RO-2"
    assert other.record["events"] == [{"kind": "opening", "by": "b"}]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[[fail]]\nname = "a"', "cases.toml: fail: a: no base is called ''"),
        ('[[fail]]\nname = "a"\nbase = "b"', "no base is called 'b'; there are round"),
        ('[[fail]]\nname = "a"\nbase = "round"', "round: starts from itself"),
        ('[[fail]]\nname = "a"\nbase = "wrong"', "fail: a: wrong: opening.by: is 'a'"),
        ('base = "whole"\n[[fail]]', "fail: None: give each case a name of its own"),
        ('base = "whole"\n[[fial]]\nname = "a"', "cases.toml: ['fial']: a file of"),
        (
            'base = "whole"\n[[fail]]\nname = "a"\n[[fail]]\nname = "a"',
            "cases.toml: fail: a: give each case a name of its own",
        ),
        (
            'base = "whole"\n[[fail]]\nname = "a"\nelsewhere = "b"',
            "no operation is called 'elsewhere'",
        ),
    ],
)
def test_a_file_that_says_nothing_is_refused_with_its_name(bases, tmp_path, text, told):
    made = bases(
        whole=WHOLE,
        round='base = "round"\nset.opening.by = "b"\n',
        wrong='base = "whole"\nset.opening.by = "a"\n',
    )
    (tmp_path / "cases.toml").write_text(text)
    with pytest.raises(ChangeError, match=re.escape(told)):
        read_cases(tmp_path / "cases.toml", made, ("fail",))
