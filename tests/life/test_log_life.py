"""A log's whole life, played at random against a model of lists and dictionaries.

Hypothesis (stateful testing) chooses what a shop, its backups, a witness, a time stamp
authority and a reader do; the model says beforehand what must come of it. Kills are
SIGKILL to a forked process. The time stamp authority is pyHanko's (RFC 3161).
"""

import shutil
import sys
from datetime import timedelta

import pytest
import sampling
from conftest import PASSPHRASE
from hypothesis import HealthCheck, seed, settings
from hypothesis import strategies as st
from hypothesis.stateful import initialize, invariant, rule, run_state_machine_as_test
from life.checks import check, check_held, check_packet, check_times, check_witness
from life.copies import back_up, fork, go_on_under_a_new_name, put_a_backup_back
from life.edges import KILLED_AT
from life.erasing import erase, lose_a_text
from life.machine import Life
from life.model import (
    COSIGNER,
    KEY,
    MAX_SITES,
    NOW,
    PATHS,
    PEOPLE,
    PICK,
    Enrolled,
    Keys,
    Log,
    Site,
)
from life.outsiders import (
    ask_the_witness,
    attest,
    attest_a_time_stamp,
    attest_what_nobody_said,
    hand_out_a_checkpoint,
)
from life.packets import hand_out_a_packet
from life.people import enrol, enrol_own, revoke, rotate
from life.recording import append_events, record_more, record_order, somebody
from life.tampering import tamper

from auditkit.log.ledger import Ledger
from auditkit.outsiders import ask_witness
from auditkit.witness.serve import WitnessService
from auditkit.witness.state import WitnessMemory


class LogLife(Life):
    """What may happen to a shop's log, and what everybody is owed all the same."""

    asked: WitnessService

    @initialize(keep_open=st.booleans(), is_forked=st.booleans())
    def begin(self, keep_open, is_forked):
        self.met("life")
        path = self.place()
        ledger = Ledger.create(
            path,
            shop="Example Yard Garage",
            origin="garage.example/log",
            person="mechanic-1",
            passphrase=PASSPHRASE,
        )
        log = Log(ledger.origin, ledger.log_key.thumbprint)
        site = Site(path, log, Keys())
        ledger.close()
        key = self.new_id()
        lines = [self.line("log_opened"), self.line("person_enrolled")]
        self.add(site, lines, checkpoint=True)()
        log.people.append(Enrolled("mechanic-1", key, 1))
        site.keys.files["mechanic-1"] = key
        self.remembered(site)()
        self.sites.append(site)
        self.learn_keys(site)
        self.known(site)
        state = WitnessMemory.create(self.folder / "w.state", COSIGNER)
        self.witness = WitnessService(
            state, KEY, self.logs, clock=lambda: self.witness_time().timestamp()
        )
        LogLife.asked = self.witness
        enrol(self, site, "tech-a", move=False, how=0)
        record_order(self, site, 1, keep_open, who=0, how=0)
        if is_forked:
            fork(self, site)
            for one in self.sites:
                record_order(self, one, 0, keep_open=False, who=0, how=0)
                hand_out_a_checkpoint(self, one)
        self.touched = site

    def teardown(self):
        try:
            if sys.exception() is None:
                self.check_all()
        finally:
            for site in self.sites:
                site.shut()
            shutil.rmtree(self.folder)

    def check_all(self):
        for site in self.sites:
            check(self, site)
            for held in self.held:
                check_held(site, held)
            check_times(self, site)
        for index in range(len(self.packets)):
            check_packet(self, index)
        check_witness(self)

    @rule(
        what=st.sampled_from(
            [
                *["order"] * 3,
                *["more"] * 3,
                *["append"] * 2,
                *["erase"] * 3,
                *["enrol", "own", "revoke"],
                *["rotate"] * 3,
            ]
        ),
        s=PICK,
        o=PICK,
        n=PICK,
        who=PICK,
        how=PICK,
        flag=st.booleans(),
    )
    def write(self, what, s, o, n, who, how, flag):  # noqa: PLR0913, PLR0917
        """Somebody who works in the shop writes to a log."""
        site = self.site(s)
        orders = self.orders(site)
        order = orders[o % len(orders)] if orders else ""
        if what == "order" or (not order and what in {"more", "append", "erase"}):
            record_order(self, site, n % 4, flag, who, how)
        elif what == "more":
            record_more(self, site, order, n % 3, flag, who, how)
        elif what == "append":
            append_events(self, site, order, 1 + n % 6, who, how, o)
        elif what == "erase":
            erase(self, site, order, PATHS[: 1 + n % 3], how)
        elif what == "enrol":
            idle = [name for name in PEOPLE if not site.may_use(name)] or PEOPLE
            enrol(self, site, idle[who % len(idle)], flag or who < 6, how)
        elif what == "own":
            enrol_own(self, site, PEOPLE[who % 3], n, how)
        elif what == "revoke":
            person = PEOPLE[who % 3] if flag else somebody(site, who)
            revoke(self, site, person, how)
        else:
            stopped = sorted(site.keys.waiting) if flag else []
            rotate(self, site, (stopped or [somebody(site, who)])[0], how)

    @rule(
        what=st.sampled_from(["hand", "ask", "ask", "attest", "attest", "stamp", "no"]),
        s=PICK,
        n=PICK,
        how=PICK,
    )
    def hear_outsiders(self, what, s, n, how):
        """A reader, a witness and a time stamp authority hear of a log."""
        site = self.site(s)
        if what == "ask" or not self.held:
            ask_the_witness(self, site, n)
        elif what == "hand":
            hand_out_a_checkpoint(self, site)
        elif what == "attest" and self.cosigned:
            attest(self, site, n, how)
        elif what == "stamp":
            attest_a_time_stamp(self, site, n, how)
        else:
            attest_what_nobody_said(self, site)

    @rule(
        what=st.sampled_from(
            [
                *["back up"] * 2,
                *["put back"] * 4,
                "fork",
                *["twice"] * 3,
                "reopen",
                "go on",
            ]
        ),
        s=PICK,
        n=PICK,
        flag=st.booleans(),
    )
    def copy_and_go_on(self, what, s, n, flag):
        """A log is copied, opened by two, put back, forked, or goes on elsewhere."""
        site = self.site(s)
        if what == "back up" or (what == "put back" and not self.backups):
            back_up(self, site)
        elif what == "put back":
            put_a_backup_back(self, site, n, flag)
        elif what == "fork" and len(self.sites) < MAX_SITES:
            fork(self, site)
        elif what == "go on" and len(self.sites) < MAX_SITES:
            go_on_under_a_new_name(self, site, n, flag)
        elif what == "reopen":
            site.shut()
            site.open()
        elif site.other is None:
            site.other = Ledger.open(site.path, clock=site.clock)

    @rule(
        s=PICK,
        o=PICK,
        reveal=st.sampled_from(["", "*", *PATHS]),
        since=PICK,
    )
    def prove(self, s, o, reveal, since):
        """An order's packet is handed out."""
        site = self.site(s)
        orders = self.orders(site)
        if orders:
            hand_out_a_packet(self, site, orders[o % len(orders)], reveal, since)

    @rule(
        passed=st.sampled_from([1, 700, 999, 60_000, 900_000, 7_200_000]),
        shop=st.sampled_from([None, 0, 0, 10, -10, *[16, -16] * 2, 300, -300, 600_000]),
        witness=st.sampled_from([None] * 5 + [0, 0, 0, 40, -40]),
        lose=st.integers(0, 40),
    )
    def time_passes(self, passed, shop, witness, lose):
        """Milliseconds pass; minutes that a clock is off by; perhaps a text is lost."""
        self.true += timedelta(milliseconds=passed)
        if shop is not None:
            self.shop_off = timedelta(minutes=shop)
        if witness is not None:
            self.witness_off = timedelta(minutes=witness)
        self.set_clock()
        if lose < 4:
            lose_a_text(self, self.site(lose), passed)

    @rule(
        s=PICK,
        how=st.sampled_from(
            ["flip", "flip", "flip", "swap", "middle", "tail", "note", "back", "say"]
        ),
        at=st.integers(0, 10_000),
        byte=st.integers(0, 100_000),
    )
    def tamper_with_a_copy(self, s, how, at, byte):
        tamper(self, s, how, at, byte)

    @invariant()
    def everything_promised_holds(self):
        self.met("step")
        self.turn += 1
        if self.touched is None:
            return
        site, self.touched = self.touched, None
        if site in self.sites:
            check(self, site)
            if self.held:
                check_held(site, self.held[self.turn % len(self.held)])
                check_held(site, self.held[-1])
            if self.packets:
                check_packet(self, self.turn % len(self.packets))
            check_times(self, site)
        check_witness(self)


# What some of the lives must come to, so that a run of empty ones is told.
OFTEN = ("done: record", "killed", "tampered")


SELDOM = (
    "done: text_erased",
    "erased; pictures: True",
    "an erased picture that lay there was erased again",
    "put back; behind: True",
    "done by a program that opened it earlier",
    "done: finish rotation",
    "clock found out: True; by stamp: False",
    "clock found out: True; by stamp: True",
    "the witness refused",
    "went on; something lost: True",
    "packet; behind: True; reveals 1",
    "refused: append, KeyProblem",
    "refused: attestation, InputError",
    "tampered: back, True",
    *(f"killed before {place}" for place in KILLED_AT),
    *(f"killed after {place}" for place in KILLED_AT if place != "tell"),
)
RUNS = sampling.count(4, 100)
STEPS = sampling.count(30, 50)
# Hypothesis repeats parts of a life within itself from the tenth on, which seldom is
# one that the log could be hurt by: so there are many short runs.
LIVES = 10


# The clock goes back in a life; whoever writes is warned (log/test_surroundings.py).
@pytest.mark.filterwarnings("ignore::auditkit.log.surroundings.Surroundings")
def test_a_log_lives_through_anything(monkeypatch):
    for made in (Ledger.open, Ledger.create):
        monkeypatch.setitem(made.__func__.__kwdefaults__, "clock", lambda: NOW[0])
    monkeypatch.setattr(
        ask_witness, "_post", lambda _url, body, _timeout: LogLife.asked.answer(body)
    )
    LogLife.tally.clear()
    for run in range(RUNS):
        number = sampling.chance(f"life {run}").getrandbits(32)
        run_state_machine_as_test(
            seed(number)(type("Life", (LogLife,), {})),
            settings=settings(
                max_examples=LIVES,
                stateful_step_count=STEPS,
                derandomize=False,  # the seed decides
                database=None,
                deadline=None,
                suppress_health_check=list(HealthCheck),
            ),
        )
    met = LogLife.tally
    wanted = (*OFTEN, *SELDOM) if sampling.ALL else OFTEN
    missed = [word for word in wanted if not any(word in what for what in met)]
    assert not missed, "these lives did not come to what they are for"
