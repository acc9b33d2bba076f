"""Events that a stranger made up are told, and are never a traceback."""

import copy
import functools
import json
from importlib.resources import files
from pathlib import Path

import pytest
from exhibits import CATALOGUE, places
from hypothesis import given
from hypothesis import strategies as st

from auditkit.bench import KINDS
from auditkit.errors import VerificationError
from auditkit.exhibit import exhibit_of
from auditkit.exhibit.source import recorded_moment
from auditkit.order.events import Event
from auditkit.proof.check_packet import verify_packet
from auditkit.proof.receipt import digest_of_lines
from auditkit.reader.blocks import Fact, Facts
from auditkit.reader.story import Known, tell

pytest.importorskip("pypdf")
pytest.importorskip("typst")


def test_a_kind_and_a_member_that_nobody_knows_are_told():
    strange = {"kind": "strange", "at": "t", "by": "b", "colour": {"a_b": ["1", 2]}}
    title, blocks = tell(Event(0, strange), Known(str, KINDS))
    assert "strange" in title
    assert blocks == [Facts((Fact("Colour", "a b 1, 2"),))]
    repair = {"kind": "repair", "part": "p", "action": "cleaned", "new_thing": True}
    assert tell(Event(0, repair), Known(str, KINDS))[1] == [
        Facts((Fact("New thing", "yes"),))
    ]


SAID = (
    "certificate_k is not above zero",
    "made at 'noon', which is no time",
    "an instrument has no id",
)


def test_odd_events_of_a_stranger_are_told_and_never_a_traceback(forged, run):
    log, packet = forged
    assert verify_packet(packet).verified, verify_packet(packet).problems
    facts = [
        fact.value
        for block in exhibit_of(packet, CATALOGUE, version="test").blocks
        if isinstance(block, Facts)
        for fact in block.rows
    ]
    for said in SAID:
        assert [f for f in facts if f.startswith("not computed: ") and said in f], said
    Path("p.json").write_bytes(packet)
    status, _, err = run("show", "RO-9", "--log", str(log))
    assert (status, err) == (0, "")
    told = "the shop signed proven; the evidence in this packet says unproven; "
    for words in (
        ("exhibit", "p.json", "--out", "e.pdf"),
        ("receipt", "p.json", "--text", "r.txt"),
        ("exhibit", "--check", "e.pdf"),
    ):
        status, out, err = run(*words)
        assert status == 1, words
        assert words[-1] in out
        assert err.startswith(f"auditkit: {words[-1]}: {told}'auditkit verify' says")
    signed = digest_of_lines(["Repair order RO-9 is proven."])
    assert f"statement: {signed}\n" in Path("r.txt").read_text()
    status, out, err = run("verify", "p.json")
    assert (status, err) == (1, ""), "the stranger signed better than it is"
    assert "judged here: unproven" in out
    assert "the shop signed proven" in out
    assert "record unaltered" in out


ODD_VALUES = st.sampled_from(
    [
        *("", "noon", "0", "-1", "1/0", "1e999999999", "nan", 7, 0, None, True),
        *([], {}, [{}], [[]], {"value": "x", "unit": 1}, {"kind": "amendment"}),
    ]
)
DEMO = tuple(
    event
    for order in ("RO-1001", "RO-1002", "RO-1003")
    for event in json.loads(
        (files("auditkit_demo") / f"{order}.json").read_text("utf-8")
    )["events"]
)


@given(st.sampled_from(DEMO), st.data())
def test_whatever_one_member_of_an_event_is_it_is_told(event, data):
    event = copy.deepcopy(event)
    *path, last = data.draw(st.sampled_from(list(places(event))))
    place = functools.reduce(lambda value, name: value[name], path, event)
    if data.draw(st.booleans()):
        place[last] = data.draw(ODD_VALUES)
    else:
        del place[last]
    title, _ = tell(Event(0, event), Known(str, KINDS))
    assert title


@pytest.mark.parametrize("recorded", ["noon", "2026-03-02T10:00:00", ""])
def test_a_verdict_recorded_at_no_time_is_refused(recorded):
    with pytest.raises(VerificationError, match="which is no time") as raised:
        recorded_moment(recorded, "p.json")
    assert raised.value.where == "p.json"
    assert raised.value.what_to_do
