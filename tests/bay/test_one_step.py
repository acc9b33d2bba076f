"""One step: what is refused writes nothing, what is taken is one transaction."""

import json
from datetime import datetime, timedelta
from importlib.resources import files

import pytest

from auditkit.bay import one_step
from auditkit.bay.one_step import CautionsDueError, Form, Hands, take
from auditkit.errors import InputError, KeyProblem
from auditkit.log.ledger import Ledger
from auditkit.plugin.loading import load_canon

WORD = b"a passphrase for tests"
CATALOGUE = load_canon()
EVENTS = json.loads((files("auditkit_demo") / "RO-1001.json").read_text())["events"]


class Clock:
    def __init__(self):
        self.now = datetime.fromisoformat(EVENTS[0]["at"]) - timedelta(minutes=5)

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def ledger(tmp_path, clock):
    with Ledger.create(
        tmp_path / "shop.auditlog",
        shop="Example Yard Garage",
        person="mechanic-1",
        passphrase=WORD,
        clock=clock,
    ) as made:
        yield made


@pytest.fixture
def send(ledger, clock):
    """Return what records events as they happen: their form's id, and more of it."""
    hands = Hands(
        "mechanic-1",
        ledger.signer("mechanic-1", WORD),
        ledger.log_signer(WORD),
        CATALOGUE,
    )

    def call(form, *events, **more):
        clock.now = datetime.fromisoformat(events[-1]["at"]) + timedelta(seconds=5)
        return take(ledger, "RO-1", Form(form, events, **more), hands)

    return call


def size(ledger):
    return ledger.store.head()[0]


def test_each_step_ends_with_a_checkpoint_over_it(ledger, send):
    for number, event in enumerate(EVENTS):
        done = send(f"form-{number}", event)
        assert done.seqs == (size(ledger) - 1,)
        assert ledger.store.newest_checkpoint().split("\n")[1] == str(size(ledger))
    assert str(done.after.judgement.verdict) == "proven"
    assert done.next.kind == "close"
    assert ledger.verify().verified


def test_a_form_of_several_events_is_whole_or_not_at_all(ledger, send):
    before = size(ledger)
    bad = {**EVENTS[1], "captured": "yesterday"}
    with pytest.raises(InputError) as told:
        send("form-1", EVENTS[0], bad)
    assert told.value.where == "/captured"
    assert size(ledger) == before
    assert send("form-1", EVENTS[0], EVENTS[1]).seqs == (before, before + 1)


def test_the_same_form_is_one_even_after_others_recorded(ledger, send):
    send("form-1", EVENTS[0])
    first = send("form-2", EVENTS[1])
    send("form-3", EVENTS[2])
    again = send("form-2", {**EVENTS[1], "at": EVENTS[2]["at"]})
    assert (again.seqs, again.is_new, first.is_new) == (first.seqs, False, True)


def test_two_who_record_at_once_are_both_kept(ledger, send, monkeypatch, clock):
    """Another tablet records between the judging and the sealing of this step."""
    send("form-1", EVENTS[0])
    send("form-2", EVENTS[1])
    judged, held = [], one_step.held

    def meanwhile(log, order_id, *more):
        found = held(log, order_id, *more)
        judged.append(len(found.lines))
        if len(judged) == 1:
            clear = {"kind": "code_clear", "at": EVENTS[1]["at"], "tool": "other"}
            ledger.append(
                "RO-1",
                [{**clear, "by": "mechanic-1"}],
                person="mechanic-1",
                signer=ledger.signer("mechanic-1", WORD),
            )
        return found

    monkeypatch.setattr(one_step, "held", meanwhile)
    send("form-3", EVENTS[2])
    assert judged[:2] == [2, 3], "it is judged again with what the other recorded"
    kinds = [line.event["kind"] for line in ledger.show("RO-1").lines]
    assert kinds == ["opening", "readout", "code_clear", "diagnosis"]


def test_a_step_that_lacks_its_cautions_says_which(ledger, send):
    for number, event in enumerate(EVENTS[:3]):
        send(f"form-{number}", event)
    before = size(ledger)
    with pytest.raises(CautionsDueError) as told:
        send("form-9", EVENTS[6])
    names = {due.caution.id for due in told.value.due}
    acknowledged = {e["caution"] for e in EVENTS[3:6]}
    assert names == acknowledged, "those that the honest record has"
    assert size(ledger) == before
    done = send("form-9", EVENTS[6], unacknowledged=True)
    stands = {str(a.answer.question): a.stands for a in done.after.asked}
    assert stands["hazards-met"] == "not-shown"


def test_one_person_acknowledges_and_another_does_the_step(ledger, send):
    """The caution is read by whoever does the work."""
    for number, event in enumerate(EVENTS[:6]):
        send(f"form-{number}", event)
    with pytest.raises(InputError, match="mechanic-2"):
        send("form-9", {**EVENTS[6], "by": "mechanic-2"})


def test_a_key_that_was_revoked_signs_no_step(ledger, send):
    send("form-1", EVENTS[0])
    ledger.enrol("mechanic-2", passphrase=WORD)
    ledger.revoke("mechanic-1", reason="left", passphrase=WORD, is_last=True)
    with pytest.raises(KeyProblem):
        send("form-2", EVENTS[1])


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"at": "2026-03-03T08:20:00+01:00"}, "/at"),
        ({"raw": 7}, "/raw"),
        ({"kind": "verdict"}, "/kind"),
    ],
)
def test_what_does_not_fit_says_its_place(ledger, send, clock, change, place):
    send("form-1", EVENTS[0])
    before = size(ledger)
    event = {**EVENTS[1], **change}
    with pytest.raises(InputError) as told:
        take(
            ledger,
            "RO-1",
            Form("form-2", [event]),
            Hands(
                "mechanic-1",
                ledger.signer("mechanic-1", WORD),
                ledger.log_signer(WORD),
                CATALOGUE,
            ),
        )
    assert told.value.where == place
    assert size(ledger) == before
