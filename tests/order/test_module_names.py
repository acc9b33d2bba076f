"""One module, named in several ways in one order; and two that are never one."""

import re

import pytest
from truth.bogus import Draft
from truth.jobs import JOBS, on_display

from auditkit.order.events import RepairOrder
from auditkit.order.module_names import names_meant
from auditkit.order.self_test_evidence import readout_of

JOB = "3: intake air sensor open"


def typed(*names):
    modules = [{"module": name, "stored": [], "lamp": False} for name in names]
    return {"kind": "readout", "typed": {"modules": modules}}


def raw(text):
    return {"kind": "readout", "raw": text}


@pytest.mark.parametrize(
    ("events", "meant"),
    [
        ([typed("ECM"), raw("> 03\n7E8 02 43 00")], {"ECM": "7E8"}),
        ([typed("0x7e8"), raw("> 03\n7E8 02 43 00")], {"0x7e8": "7E8"}),
        ([typed("Engine"), typed("ECM")], {"ECM": "Engine"}),
        ([typed("engine"), raw("> 03\n18DAF110 02 43 00")], {"engine": "18DAF110"}),
        ([typed("gearbox"), raw("> 03\n7E9 02 43 00")], {"gearbox": "7E9"}),
        ([typed("ABS"), typed("abs ")], {"abs ": "ABS"}),
        ([typed("-"), raw("> 03\n7E8 02 43 00")], {"-": "7E8"}),
        ([raw("> 03\n43 00"), raw("> 03\n7E8 02 43 00")], {"-": "7E8"}),
        # two modules, or another one: no name is given away
        ([typed("ECM"), raw("> 03\n7E9 02 43 00")], {}),
        ([typed("TCM"), raw("> 03\n7E8 02 43 00")], {}),
        ([typed("ABS"), raw("> 03\n7E8 02 43 00")], {}),
        ([typed("-"), raw("> 03\n7E8 02 43 00\n7E9 02 43 00")], {}),
        ([raw("> 03\n43 00\n43 01 07 00"), raw("> 03\n7E8 02 43 00")], {}),
        ([typed("-", "-"), typed("ECM")], {}),
    ],
)
def test_names_that_mean_one_module(events, meant):
    assert names_meant(events) == meant


def with_displays(before, after):
    """Return a job whose readouts were typed, with the engine module so called."""
    draft = Draft(JOB)
    last = draft.events.index(draft.of("repair")[-1])
    for event in draft.of("readout"):
        name = before if draft.events.index(event) < last else after
        if name:
            event["typed"] = on_display(event.pop("raw"))
            for module in event["typed"]["modules"]:
                module["module"] = name
            del event["protocol"]
    return draft


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("ECM", "ECM"),
        ("ECM", "engine"),
        ("ECM", ""),
        ("", "ECM"),
        ("", "7e8"),
        ("-", ""),
        ("", "-"),
    ],
)
def test_an_honest_order_of_typed_and_raw_readouts_is_vouched(before, after):
    assert with_displays(before, after).judged().verdict == "vouched"


@pytest.mark.parametrize("after", ["TCM", "ABS", "7E9"])
@pytest.mark.parametrize("before", ["", "ECM"])
def test_another_module_does_not_answer_for_it_and_the_sentence_says_what_to_do(
    before, after
):
    found = with_displays(before, after).judged()
    assert found.verdict == "unproven"
    who = before or "7E8"
    (told,) = [f for f in found.blocking if f.rule == "fault-not-shown-gone"]
    assert told.message.startswith(f"module {who} did not give its stored codes after")
    assert told.what_to_do.endswith(f"where {after} is the same module, write {who}")


def test_an_unnamed_readout_of_two_modules_is_nobodys():
    draft = Draft(JOB)
    order = RepairOrder.fold(
        "RO-1", [*draft.events, {**draft.after, "raw": "> 03\n43 00\n43 01 07 00"}]
    )
    assert readout_of(order.events[-1]).responders == ("-",)


def test_a_module_that_refuses_is_said_to_have_refused():
    """7F 03 12: service 03 is not supported (ISO 14229-1, from memory)."""
    draft = Draft(JOB)
    raw = draft.after["raw"]
    (codes,) = [line for line in raw.splitlines() if line.startswith("7E8 02 43 00")]
    draft.after["raw"] = raw.replace(codes, "7E8 03 7F 03 12 00 00 00 00")
    (told,) = [f for f in draft.judged().blocking if f.rule == "fault-not-shown-gone"]
    assert told.message.startswith("module 7E8 refused (7F) to give its stored codes")


def test_what_to_do_speaks_of_screens_and_has_numbers_in_brackets_alone():
    """Who typed a readout never sees a service number; each stands within brackets."""
    number = re.compile(r"\b(?:service|services|PID|PIDs|InfoType) \w+")
    said = set()
    for name in list(JOBS)[::3]:
        for gone in ("03", "06", "07", "09", "01"):
            draft = Draft(name)
            texts = draft.after["raw"].split("> ")
            draft.after["raw"] = "> ".join(t for t in texts if t[:2] != gone)
            said |= {f.what_to_do for f in draft.judged().blocking}
    told = [one for one in said if number.search(one)]
    assert len(told) >= 3
    assert [one for one in told if number.search(re.sub(r"\([^)]*\)", "", one))] == []
