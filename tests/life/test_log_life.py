"""A log's whole life, played at random against a model of lists and dictionaries.

Hypothesis (stateful testing) chooses what a shop, its backups, a witness, a time stamp
authority and a reader do; the model says beforehand what must come of it. Kills are
SIGKILL to a forked process. The time stamp authority is pyHanko's (RFC 3161).

It is long because one machine holds every action, so that each may follow any other.
"""

import copy
import os
import shutil
import signal
import sqlite3
import sys
import tempfile
import warnings
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import count
from pathlib import Path
from typing import ClassVar

import pytest
import sampling
from conftest import PASSPHRASE, BlockingRules, judge, small_record
from hypothesis import HealthCheck, seed, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from auditkit.errors import (
    AuditkitError,
    InputError,
    KeyProblem,
    LogError,
    VerificationError,
)
from auditkit.log import key_files, newest_checkpoint
from auditkit.log.ledger import Ledger
from auditkit.log.logged_order import AlreadyErasedError
from auditkit.log.sealing import stamp
from auditkit.log.store import Store
from auditkit.log.succession import next_origin, succeed
from auditkit.log.verify_log import verify_file
from auditkit.order.record import Record
from auditkit.outsiders import ask_witness
from auditkit.outsiders.cosigned import cosigned_checkpoint
from auditkit.plugin.loading import load_catalogue
from auditkit.proof import attested_bounds, disclosure, note, timestamp
from auditkit.proof.check_packet import parse_packet, verify_packet
from auditkit.proof.cosignature import make_cosigner
from auditkit.proof.entry import LOG_SIGNER, parse_payload
from auditkit.proof.keys import PrivateKey
from auditkit.proof.time_bounds import SLACK, with_times
from auditkit.proof.trust_policy import parse_trust_policy
from auditkit.witness.serve import WitnessService, known_logs
from auditkit.witness.state import WitnessMemory

BEGIN = datetime(2026, 3, 2, 8, tzinfo=UTC)
PEOPLE = ("mechanic-1", "tech-a", "tech-b")
PATHS = ("customer.name", "customer.contact", "vehicle.plate")
KEY = PrivateKey.from_seed(bytes([9] * 32))
COSIGNER = make_cosigner("w.example/1", KEY.public)
MAX_SITES = 4
NOW = [BEGIN]  # the shop's clock, for what takes no clock of its own
SECOND = timedelta(seconds=1)  # in which a cosignature states its time
PICK = st.integers(0, 11)
STALE, KILLED, TORN = 3, 8, 10  # how a call is made: up to, from, from
CLOSED, BEHIND = "was closed by entry", "an older copy of the log lies here"


@cache
def rules():
    return load_catalogue({"tests": BlockingRules})


@cache
def authority():
    """Return the root in PEM, and a function: text, time -> a time stamp over it."""
    tsp = pytest.importorskip("asn1crypto.tsp", reason="the extra auditkit[sign]")
    pytest.importorskip("rfc3161_client", reason="the extra auditkit[stamp]")
    from asn1crypto import keys as asn1_keys
    from asn1crypto import x509 as asn1_x509
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import rsa
    from pyhanko.sign.timestamps import DummyTimeStamper

    def named(name):
        return x509.Name([x509.NameAttribute(x509.oid.NameOID.COMMON_NAME, name)])

    def certified(name, public, *extensions):
        made = (
            x509.CertificateBuilder(named("Invented root"), named(name), public)
            .serial_number(x509.random_serial_number())
            .not_valid_before(BEGIN - timedelta(days=400))
            .not_valid_after(BEGIN + timedelta(days=4000))
        )
        for extension in extensions:
            made = made.add_extension(extension, critical=True)
        return made.sign(root_key, hashes.SHA256())

    root_key, key = (rsa.generate_private_key(65537, 2048) for _ in range(2))
    root = certified(
        "Invented root",
        root_key.public_key(),
        x509.BasicConstraints(ca=True, path_length=None),
    )
    signer = certified(
        "Invented stamps",
        key.public_key(),
        x509.ExtendedKeyUsage([x509.oid.ExtendedKeyUsageOID.TIME_STAMPING]),
    )
    form, pkcs8 = serialization.Encoding.DER, serialization.PrivateFormat.PKCS8
    own = asn1_x509.Certificate.load(signer.public_bytes(form))
    opened = asn1_keys.PrivateKeyInfo.load(
        key.private_bytes(form, pkcs8, serialization.NoEncryption())
    )

    def reply(text, at):
        query = tsp.TimeStampReq.load(timestamp.request(text)[0])
        stamper = DummyTimeStamper(own, opened, fixed_dt=at)
        return stamper.request_tsa_response(query).dump()

    return root.public_bytes(serialization.Encoding.PEM), reply


# The model


@dataclass(frozen=True)
class Line:
    """An entry as it was given, and when it was truly written."""

    id: int
    kind: str
    by: str
    key: int | None
    true: datetime
    claimed: datetime
    order: str | None = None
    event: dict | None = None


@dataclass(frozen=True)
class Spoken:
    """An attestation in the log: over how many entries, when, and by a true clock?"""

    seq: int
    size: int
    at: datetime
    is_true: bool
    is_stamp: bool


@dataclass
class Enrolled:
    person: str
    key: int
    seq: int
    revoked: int | None = None


@dataclass
class Log:
    """What lies in a log file."""

    origin: str
    key: str
    lines: list[Line] = field(default_factory=list)
    sizes: set[int] = field(default_factory=set)
    people: list[Enrolled] = field(default_factory=list)
    texts: dict[tuple[int, str], tuple[str, str]] = field(default_factory=dict)
    gone: list[str] = field(default_factory=list)  # disclosures that were erased
    spoken: list[Spoken] = field(default_factory=list)
    closed: bool = False
    is_dirty: bool = False  # erased, and not scrubbed for a kill

    def copy(self):
        made = copy.copy(self)
        made.lines, made.sizes = list(self.lines), set(self.sizes)
        made.people = [replace(one) for one in self.people]
        made.texts, made.gone = dict(self.texts), list(self.gone)
        made.spoken = list(self.spoken)
        return made

    @property
    def ids(self):
        return tuple(line.id for line in self.lines)

    def active(self, person):
        found = [e for e in self.people if e.person == person and e.revoked is None]
        return found[-1] if found else None

    def order(self, name):
        return [
            (seq, line) for seq, line in enumerate(self.lines) if line.order == name
        ]

    def is_closed_order(self, name):
        return self.order(name)[-1][1].kind == "verdict"

    def events(self, name):
        return tuple(x.event for _, x in self.order(name) if x.kind != "verdict")


@dataclass
class Keys:
    """What lies in a keys folder: whose key files, and the newest checkpoint."""

    files: dict[str, int] = field(default_factory=dict)
    waiting: dict[str, int] = field(default_factory=dict)
    newest: tuple[int, ...] = ()

    def copy(self):
        return Keys(dict(self.files), dict(self.waiting), self.newest)


@dataclass
class Held:
    """A checkpoint in other hands: its text, and the entries that it is over."""

    text: str
    origin: str
    key: str
    ids: tuple[int, ...]


@dataclass
class Site:
    """A place where a log lies, with two programs that may have it open."""

    path: Path
    log: Log
    keys: Keys
    ledger: Ledger | None = None
    other: Ledger | None = None

    def clock(self):
        return NOW[0]

    def open(self):
        if self.ledger is None:
            self.ledger = Ledger.open(self.path, clock=self.clock)
        return self.ledger

    def shut(self):
        for opened in (self.ledger, self.other):
            if opened is not None:
                opened.close()
        self.ledger = self.other = None

    @property
    def is_behind(self):
        return self.log.ids[: len(self.keys.newest)] != self.keys.newest

    def extends(self, held):
        same = (held.origin, held.key) == (self.log.origin, self.log.key)
        return same and self.log.ids[: len(held.ids)] == held.ids

    def refusal(self):
        """Return the refusal that signing meets here, None if none."""
        if self.log.closed:
            return CLOSED
        return BEHIND if self.is_behind else None

    def may_use(self, person):
        active = self.log.active(person)
        return active is not None and self.keys.files.get(person) == active.key

    def files(self):
        return [p for p in (self.path, wal_of(self.path)) if p.exists()]

    def bytes(self):
        return b"".join(path.read_bytes() for path in self.files())


@dataclass
class Call:
    """One call of the ledger: what must come of it, step by step.

    ``steps`` are (the function at whose edge a kill may fall, what is so after it).
    """

    name: str
    do: Callable[[Ledger], object]
    steps: list[tuple[str, Callable[[], None] | None]]
    errors: list[tuple[type[AuditkitError], str]] = field(default_factory=list)


def wal_of(path):
    return path.with_name(f"{path.name}-wal")


def copy_log(source, target):
    """Copy a log file with its write-ahead log, just as they lie there."""
    for end in ("", "-wal", "-shm"):
        target.with_name(target.name + end).unlink(missing_ok=True)
    for end in ("", "-wal"):
        if source.with_name(source.name + end).exists():
            shutil.copy(
                source.with_name(source.name + end), target.with_name(target.name + end)
            )


def copy_keys(source, target):
    shutil.rmtree(key_files.folder_of(target), ignore_errors=True)
    shutil.copytree(key_files.folder_of(source), key_files.folder_of(target))


def folder_text(path):
    folder = key_files.folder_of(path)
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir())}


def members(event, place=""):
    """Yield the dotted paths in an event."""
    for name, value in event.items():
        if isinstance(value, dict):
            yield from members(value, f"{place}{name}.")
        else:
            yield f"{place}{name}", value


def without(event, paths):
    """Return an event less the members at dotted paths."""
    made = copy.deepcopy(event)
    for path in paths:
        *parents, name = path.split(".")
        inner = made
        for parent in parents:
            inner = inner[parent]
        del inner[name]
    return made


KILLED_AT = {
    "save": (key_files, "save"),
    "append": (Store, "append"),
    "add_checkpoint": (Store, "add_checkpoint"),
    "erase_disclosures": (Store, "erase_disclosures"),
    "scrub": (Store, "scrub"),
    "remember": (newest_checkpoint, "remember"),
    "tell": (Ledger, "tell"),
    "promote": (key_files, "promote"),
}


def run_killed(path, do, place, *, after):
    """Fork; kill the child at the edge of a function; return how it ended."""
    owner, name = KILLED_AT[place]
    real = getattr(owner, name)

    def killed(*words, **named):
        if after:
            real(*words, **named)
        os.kill(os.getpid(), signal.SIGKILL)

    with warnings.catch_warnings():
        # Other tests may have left threads; the child uses none of theirs.
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child == 0:  # pragma: no cover
        code = 1
        try:
            signal.alarm(60)
            setattr(owner, name, killed)
            with Ledger.open(path) as ledger:
                do(ledger)
            code = 0
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


class LogLife(RuleBasedStateMachine):
    """What may happen to a shop's log, and what everybody is owed all the same."""

    tally: ClassVar[Counter[str]] = Counter()
    asked: WitnessService

    def __init__(self):
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="log-life-"))
        self.number = count(1)
        self.true = BEGIN
        self.shop_off = timedelta()
        self.witness_off = timedelta()
        self.set_clock()
        self.sites: list[Site] = []
        self.thumbprints: dict[int, str] = {}
        self.outside: dict[int, tuple[str, PrivateKey]] = {}
        self.old_signers: list[tuple[str, int, PrivateKey]] = []
        self.backups: list[tuple[Path, Log, Keys]] = []
        self.held: list[Held] = []
        self.cosigned: list[tuple[Held, datetime, bool]] = []
        self.packets: list[tuple[str, str, frozenset[str], Held]] = []
        self.logs: dict[str, list] = {}
        self.turn = 0
        self.touched: Site | None = None

    # Helpers

    def met(self, what):
        """Count what a run came to, so that one that tried little is told."""
        self.tally[what] += 1

    def set_clock(self):
        NOW[0] = self.true + self.shop_off

    def new_id(self):
        return next(self.number)

    def place(self):
        made = self.folder / f"site-{self.new_id()}"
        made.mkdir()
        return made / "shop.auditlog"

    def site(self, pick):
        # No two acts at one moment: forks that sign the same would be the same.
        self.true += timedelta(milliseconds=1)
        self.set_clock()
        self.touched = self.sites[pick % len(self.sites)]
        self.touched.open()
        return self.touched

    def line(self, kind, by=LOG_SIGNER, **more):
        made = more.pop("key", None)
        return Line(self.new_id(), kind, by, made, self.true, NOW[0], **more)

    def known(self, site):
        """Let the witness know a log."""
        vkey = note.vkey(site.open().origin, site.open().log_key)
        for origin, keys in known_logs([vkey]).items():
            have = self.logs.setdefault(origin, [])
            have += [key for key in keys if key not in have]

    def learn_keys(self, site):
        """Take the thumbprints of enrolled keys; a key keeps the one it has."""
        people = site.open().people()
        modelled = sorted(site.log.people, key=lambda e: e.seq)
        assert [(p.id, p.enrolled_seq, p.revoked_seq) for p in people] == [
            (e.person, e.seq, e.revoked) for e in modelled
        ]
        for person, e in zip(people, modelled, strict=True):
            assert self.thumbprints.setdefault(e.key, person.thumbprint) == (
                person.thumbprint
            )

    def add(self, site, lines, *, checkpoint):
        """Let the model's log hold some more lines."""

        def done():
            for line in lines:
                seq = len(site.log.lines)
                site.log.lines.append(line)
                if line.event is not None and line.kind in {"opening", "amendment"}:
                    for path, value in members(line.event):
                        if path.removeprefix("event.") in PATHS:
                            site.log.texts[seq, path] = ("withheld", str(value))
            if checkpoint:
                site.log.sizes.add(len(site.log.lines))

        return done

    def remembered(self, site):
        def done():
            if len(site.keys.newest) < len(site.log.ids):
                site.keys.newest = site.log.ids

        return done

    def handed_out(self, site):
        """What leaves the shop is remembered, but by a copy that is behind."""
        size = max(site.log.sizes)
        if not site.is_behind and len(site.keys.newest) < size:
            site.keys.newest = site.log.ids[:size]

    def perform(self, site, call, how):
        """Make a call in one of several ways, and hold it against the model."""
        if call.errors:
            before = folder_text(site.path)
            with pytest.raises(tuple(kind for kind, _ in call.errors)) as caught:
                call.do(site.other if how <= STALE and site.other else site.open())
            kinds = [
                text for kind, text in call.errors if isinstance(caught.value, kind)
            ]
            assert any(text in caught.value.message for text in kinds), caught.value
            assert folder_text(site.path) == before, "a refusal leaves nothing behind"
            self.met(f"refused: {call.name}, {type(caught.value).__name__}")
            return False
        places = [(i, name) for i, (name, _) in enumerate(call.steps) if name]
        if how >= KILLED and places:
            index, place = places[self.turn % len(places)]
            after = how % 2 == 1 and place != "tell"
            is_open_twice = site.other is not None
            site.shut()
            ended = run_killed(site.path, call.do, place, after=after)
            assert ended == -signal.SIGKILL, (place, after, ended)
            self.met(f"killed {'after' if after else 'before'} {place}: {call.name}")
            if how >= TORN and wal_of(site.path).exists():
                with wal_of(site.path).open("ab") as wal:
                    wal.write(os.urandom(700))  # a write that was torn
            for _, so in call.steps[: index + after]:
                if so is not None:
                    so()
            site.open()
            if is_open_twice:
                site.other = Ledger.open(site.path, clock=site.clock)
            self.learn_keys(site)
            return False
        handle = site.open()
        if how <= STALE and site.other is not None:
            handle = site.other
            if not self.by_stale(site, call):
                return False
        else:
            call.do(handle)
        for _, so in call.steps:
            if so is not None:
                so()
        self.met(f"done: {call.name}")
        if handle is site.other and site.ledger is not None:
            site.ledger.close()  # it is the other program that stays behind
            site.ledger = None
            site.open()
        self.learn_keys(site)
        return True

    def by_stale(self, site, call):
        """Let a program that opened the log earlier call: it may refuse, or do it."""
        before = folder_text(site.path)
        try:
            call.do(site.other)
        except (KeyProblem, InputError):
            assert folder_text(site.path) == before
            self.met(f"refused to a program that opened it earlier: {call.name}")
            site.other.close()
            site.other = None
            return False
        self.met(f"done by a program that opened it earlier: {call.name}")
        return True

    def refused(self, site, *more):
        """Return the errors due where the log takes no entry, or else what is given."""
        word = site.refusal()
        return [*more, *([(LogError, word)] if word else [])]

    # Begin and end

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
        self.enrol(site, "tech-a", move=False, how=0)
        self.record_order(site, 1, keep_open, who=0, how=0)
        if is_forked:
            self.fork(site)
            for one in self.sites:
                self.record_order(one, 0, keep_open=False, who=0, how=0)
                self.hand_out_a_checkpoint(one)
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
            self.check(site)
            for held in self.held:
                self.check_held(site, held)
            self.check_times(site)
        for index in range(len(self.packets)):
            self.check_packet(index)
        self.check_witness()

    # What may happen, in any order

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
            self.record_order(site, n % 4, flag, who, how)
        elif what == "more":
            self.record_more(site, order, n % 3, flag, who, how)
        elif what == "append":
            self.append_events(site, order, 1 + n % 6, who, how, o)
        elif what == "erase":
            self.erase(site, order, PATHS[: 1 + n % 3], how)
        elif what == "enrol":
            idle = [name for name in PEOPLE if not site.may_use(name)] or PEOPLE
            self.enrol(site, idle[who % len(idle)], flag or who < 6, how)
        elif what == "own":
            self.enrol_own(site, PEOPLE[who % 3], n, how)
        elif what == "revoke":
            person = PEOPLE[who % 3] if flag else self.person(site, who)
            self.revoke(site, person, how)
        else:
            stopped = sorted(site.keys.waiting) if flag else []
            self.rotate(site, (stopped or [self.person(site, who)])[0], how)

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
            self.ask_the_witness(site, n)
        elif what == "hand":
            self.hand_out_a_checkpoint(site)
        elif what == "attest" and self.cosigned:
            self.attest(site, n, how)
        elif what == "stamp":
            self.attest_a_time_stamp(site, n, how)
        else:
            self.attest_what_nobody_said(site)

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
            self.back_up(site)
        elif what == "put back":
            self.put_a_backup_back(site, n, flag)
        elif what == "fork" and len(self.sites) < MAX_SITES:
            self.fork(site)
        elif what == "go on" and len(self.sites) < MAX_SITES:
            self.go_on_under_a_new_name(site, n, flag)
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
            self.hand_out_a_packet(site, orders[o % len(orders)], reveal, since)

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
            self.lose_a_text(self.site(lose), passed)

    # Recording

    def event(self, kind, order, n):
        if kind == "code_clear":
            return {
                "kind": kind,
                "at": "2026-03-02T09:00:00+01:00",
                "by": "mechanic-1",
                "tool": f"tool {n:05} \u00e9\u2028\U0001f527",
            }
        opening = copy.deepcopy(small_record(order).events[0])
        opening["customer"] = {
            "name": f"Invented customer {3 * n:06}",
            "contact": f"invented letter box {3 * n + 1:06}",
        }
        if n % 2:
            opening["vehicle"]["plate"] = f"PLATE-{3 * n + 2:06}"
        if kind == "opening":
            return opening
        return {
            "kind": "amendment",
            "at": "2026-03-02T10:00:00+01:00",
            "by": "mechanic-1",
            "corrects": 0,
            "why": "misspelt",
            "event": opening,
        }

    def more_events(self, order, many, *, first):
        kinds = ["opening"] if first else []
        kinds += [("code_clear", "amendment")[n % 5 == 4] for n in range(many)]
        return [self.event(kind, order, self.new_id()) for kind in kinds]

    def recording(self, site, order, events, *, keep_open, person):
        """Plan ``Ledger.record`` of an order's events so far and some more."""
        known = self_events = site.log.events(order)
        record = Record(order, (*known, *events))
        active = site.log.active(person)
        key = active.key if active else None
        lines = [
            self.line(e["kind"], person, key=key, order=order, event=e) for e in events
        ]
        is_closed = bool(self_events) and site.log.is_closed_order(order)
        if not keep_open and (events or not is_closed):
            lines.append(self.line("verdict", person, key=key, order=order))

        def do(ledger):
            return ledger.record(
                record,
                judge(rules(), record),
                passphrase=PASSPHRASE,
                by=person,
                unproven_reason="a test",
                keep_open=keep_open,
            )

        errors = []
        if not site.may_use(person):
            errors = [(KeyProblem, "")]
        elif site.refusal():
            errors = self.refused(site)
        steps = []
        if lines:
            steps = [
                ("append", None),
                ("add_checkpoint", None),
                ("", self.add(site, lines, checkpoint=True)),
                ("remember", self.remembered(site)),
            ]
        return Call("record", do, steps, errors)

    def person(self, site, pick):
        able = [name for name in PEOPLE if site.may_use(name)]
        return able[pick % len(able)] if able and pick < 10 else PEOPLE[pick % 3]

    def record_order(self, site, many, keep_open, who, how):
        order = f"RO-{self.new_id()}"
        events = self.more_events(order, many, first=True)
        person = self.person(site, who)
        call = self.recording(site, order, events, keep_open=keep_open, person=person)
        self.perform(site, call, how)

    def orders(self, site):
        return list(dict.fromkeys(x.order for x in site.log.lines if x.order))

    def record_more(self, site, order, many, keep_open, who, how):  # noqa: PLR0913, PLR0917
        events = self.more_events(order, many, first=False)
        person = self.person(site, who)
        call = self.recording(site, order, events, keep_open=keep_open, person=person)
        self.perform(site, call, how)

    def append_events(self, site, order, many, who, how, which):  # noqa: PLR0913, PLR0917
        """Append, also with keys that are not in the folder or not active any more."""
        person = self.person(site, who)
        active = site.log.active(person)
        events = self.more_events(order, many, first=False)
        outside = [
            (i, key) for i, (name, key) in self.outside.items() if name == person
        ]
        given = None
        if which >= 6 and outside:
            given = outside[which % len(outside)]
        elif which >= 4 and self.old_signers:
            person, *given = self.old_signers[which % len(self.old_signers)]
            active = site.log.active(person)

        def do(ledger):
            signer = given[1] if given else ledger.signer(person, PASSPHRASE)
            return ledger.append(order, events, person=person, signer=signer)

        enrolled = [e for e in site.log.people if e.person == person]
        may = {e.key for e in enrolled if e.revoked is None}
        key = given[0] if given else (active.key if active else None)
        errors = []
        if (given and key not in may) or (not given and not site.may_use(person)):
            errors = [(KeyProblem, ""), *self.refused(site)]
        elif site.refusal():
            errors = self.refused(site)
        lines = [
            self.line(e["kind"], person, key=key, order=order, event=e) for e in events
        ]
        steps = [
            ("append", None),
            ("", self.add(site, lines, checkpoint=False)),
            ("tell", None),
        ]
        self.perform(site, Call("append", do, steps, errors), how)

    # Keys

    def log_call(  # noqa: PLR0913  each is a part of what must come of it
        self, site, do, lines, so, *, first=(), last=(), errors=()
    ):
        add = self.add(site, lines, checkpoint=True)

        def committed():
            at = len(site.log.lines)
            add()
            so(at)

        steps = [
            *first,
            ("append", None),
            ("add_checkpoint", None),
            ("", committed),
            ("remember", self.remembered(site)),
            *last,
        ]
        name = " and ".join(line.kind for line in lines)
        return Call(name, do, steps, list(errors))

    def enrol(self, site, person, move, how):
        key = self.new_id()
        if move and person in site.keys.files and not site.may_use(person):
            (key_files.folder_of(site.path) / f"{person}.p12").unlink()
            del site.keys.files[person]
        errors = self.refused(site)
        if person in site.keys.files:
            errors.append((KeyProblem, "lies here already"))

        def so(at):
            site.log.people.append(Enrolled(person, key, at))

        call = self.log_call(
            site,
            lambda ledger: ledger.enrol(person, passphrase=PASSPHRASE, role="r"),
            [self.line("person_enrolled")],
            so,
            first=[("save", lambda: site.keys.files.update({person: key}))],
            errors=errors,
        )
        self.perform(site, call, how)

    def enrol_own(self, site, person, again, how):
        if again < 4 and self.outside:
            key = sorted(self.outside)[again % len(self.outside)]
            person, private = self.outside[key]
        else:
            key, private = self.new_id(), PrivateKey.generate()
            self.outside[key] = person, private
        errors = self.refused(site)
        if key in {e.key for e in site.log.people}:
            errors.append((KeyProblem, "is enrolled already"))

        def so(at):
            site.log.people.append(Enrolled(person, key, at))

        call = self.log_call(
            site,
            lambda ledger: ledger.enrol(
                person, passphrase=PASSPHRASE, key=private.public
            ),
            [self.line("person_enrolled")],
            so,
            errors=errors,
        )
        self.perform(site, call, how)

    def keep_signer(self, site, person):
        if site.may_use(person) and len(self.old_signers) < 12:
            key = site.log.active(person).key
            self.old_signers.append(
                (person, key, site.open().signer(person, PASSPHRASE))
            )

    def revoke(self, site, person, how):
        self.keep_signer(site, person)
        active = site.log.active(person)
        errors = self.refused(site)
        if active is None:
            errors.append((KeyProblem, "has no active key"))

        def so(at):
            site.log.active(person).revoked = at

        call = self.log_call(
            site,
            lambda ledger: ledger.revoke(person, reason="r", passphrase=PASSPHRASE),
            [self.line("key_revoked")],
            so,
            errors=errors,
        )
        self.perform(site, call, how)

    def rotate(self, site, person, how):
        self.keep_signer(site, person)
        active = site.log.active(person)
        errors = self.refused(site)
        if active is None:
            errors.append((KeyProblem, "has no active key"))
        keys = site.keys
        revoked = {e.key for e in site.log.people if e.revoked is not None}
        waiting = keys.waiting.get(person)
        first = []
        if waiting is None or waiting in revoked:
            waiting = self.new_id()
            first = [("save", lambda: keys.waiting.update({person: waiting}))]

        def promoted():
            keys.files[person] = keys.waiting.pop(person)

        def do(ledger):
            return ledger.rotate(person, reason="r", passphrase=PASSPHRASE)

        def so(at):
            site.log.active(person).revoked = at
            site.log.people.append(Enrolled(person, waiting, at + 1))

        lines = [self.line("key_revoked"), self.line("person_enrolled")]
        last = [("promote", promoted)]
        if waiting in {e.key for e in site.log.people}:  # a run that was stopped
            call = Call("finish rotation", do, last, errors)
        else:
            call = self.log_call(
                site, do, lines, so, first=first, last=last, errors=errors
            )
        self.perform(site, call, how)

    # Erasing

    def disclosures_at(self, site, seqs_and_paths):
        found = []
        store = site.open().store
        sealed = {row.entry.seq: row.entry.payload for row in store.rows()}
        for seq, _, text in store.disclosures():
            if not disclosure.is_decoy(text):
                said = parse_payload(sealed[seq])
                path = disclosure.path_of(said.event, said.withheld, text)
                if (seq, path) in seqs_and_paths:
                    found.append(text)
        return found

    def erase(self, site, order, paths, how):
        seqs = {seq for seq, _ in site.log.order(order)}
        found, errors, asked = set(), [], sorted(paths)
        for path in asked:
            at = {
                place: state
                for place, (state, _) in site.log.texts.items()
                if place[0] in seqs and place[1] in {path, f"event.{path}"}
            }
            now = {place for place, state in at.items() if state == "withheld"}
            if not now and "erased" in at.values():
                errors.append((AlreadyErasedError, "was erased already"))
            elif not now:
                errors.append((InputError, "nothing is withheld at"))
            found |= now
        is_only_erased = bool(errors) and errors[0][0] is AlreadyErasedError
        texts = self.disclosures_at(site, found)

        def erased(at):
            for place in found:
                site.log.texts[place] = ("erased", site.log.texts[place][1])
            site.log.gone += texts
            site.log.is_dirty = True

        def scrubbed():
            site.log.is_dirty = False

        call = self.log_call(
            site,
            lambda ledger: ledger.erase(
                order, paths=asked, reason="r", passphrase=PASSPHRASE
            ),
            [self.line("text_erased")],
            erased,
            last=[("scrub", scrubbed)],
            errors=errors[:1] or self.refused(site),
        )
        if not call.errors:
            call.steps.insert(2, ("erase_disclosures", None))
        self.perform(site, call, how)
        if is_only_erased:
            site.log.is_dirty = False

    def lose_a_text(self, site, which):
        """A disclosure disappears and no entry says so: neither withheld nor erased."""
        at = sorted(p for p, (state, _) in site.log.texts.items() if state[0] == "w")
        if not at:
            return
        place = at[which % len(at)]
        (text,) = self.disclosures_at(site, {place})
        site.open().store._db.execute(
            "delete from disclosure where disclosure = ?", (text,)
        )
        site.log.texts[place] = ("lost", site.log.texts[place][1])

    # Outsiders

    def witness_time(self):
        return self.true + self.witness_off

    def hand_out_a_checkpoint(self, site):
        text = site.open().checkpoint()
        size = note.parse_checkpoint(note.split_note(text)[0]).size
        assert size == max(site.log.sizes)
        self.handed_out(site)
        self.held.append(Held(text, site.log.origin, site.log.key, site.log.ids[:size]))

    def ask_the_witness(self, site, which):
        """Ask with the newest, or with an earlier one that perhaps does not fit."""
        if which < 8 or not self.held:
            self.hand_out_a_checkpoint(site)
            held = self.held[-1]
        else:
            held = self.held[which % len(self.held)]
        others = [h for h, _, _ in self.cosigned if h.origin == held.origin]
        seen = others[-1].ids if others else ()
        fits = site.extends(held) and held.ids[: len(seen)] == seen

        def call():
            return cosigned_checkpoint(
                site.path, "http://127.0.0.1:9", COSIGNER, checkpoint_note=held.text
            )

        if not fits:
            with pytest.raises(InputError):
                call()
            self.met("the witness refused")
            return
        made = call()
        self.met("the witness cosigned")
        at = datetime.fromtimestamp(made.cosignature.at, UTC)
        true = not self.witness_off and at <= self.true < at + SECOND
        if not self.witness_off and not self.cosigned:
            assert true
        self.cosigned.append((replace(held, text=made.note), at, true))

    def attest(self, site, which, how):
        held, at, is_true = self.cosigned[-1 - which % len(self.cosigned)]
        self.attest_with(site, held, at, is_true, None, how)

    def attest_a_time_stamp(self, site, which, how):
        held = self.held[-1 - which % len(self.held)]
        at = self.true.replace(microsecond=0) + SECOND
        self.true = at  # the authority states whole seconds
        self.set_clock()
        token = authority()[1](held.text, at)
        self.attest_with(site, held, at, True, token, how)  # noqa: FBT003

    def attest_with(self, site, held, at, is_true, token, how):  # noqa: PLR0913, PLR0917
        errors = self.refused(site)
        if not site.extends(held):
            errors = [(InputError, ""), (VerificationError, "")]

        def so(seq):
            size = len(held.ids)
            site.log.spoken.append(Spoken(seq, size, at, is_true, token is not None))

        call = self.log_call(
            site,
            lambda ledger: ledger.attest(held.text, passphrase=PASSPHRASE, token=token),
            [self.line("attestation")],
            so,
            errors=errors,
        )
        self.perform(site, call, how)

    def attest_what_nobody_said(self, site):
        before = len(site.open().leaves())
        with pytest.raises(InputError, match="nobody but the log itself"):
            site.open().attest(site.open().checkpoint(), passphrase=PASSPHRASE)
        self.handed_out(site)
        assert len(site.open().leaves()) == before

    # Copies

    def back_up(self, site):
        target = self.place()
        copy_log(site.path, target)
        copy_keys(site.path, target)
        self.backups.append((target, site.log.copy(), site.keys.copy()))

    def put_a_backup_back(self, site, which, with_keys):
        same = [
            b
            for b in self.backups
            if (b[1].origin, b[1].key) == (site.log.origin, site.log.key)
        ]
        if not same:
            return
        source, log, keys = same[which % len(same)]
        site.shut()
        copy_log(source, site.path)
        site.log = log.copy()
        if with_keys:
            copy_keys(source, site.path)
            site.keys = keys.copy()
        self.learn_keys(site)
        self.met(f"put back; behind: {site.is_behind}")

    def fork(self, site):
        target = self.place()
        copy_log(site.path, target)
        copy_keys(site.path, target)
        self.sites.append(Site(target, site.log.copy(), site.keys.copy()))
        self.site(len(self.sites) - 1)

    def go_on_under_a_new_name(self, site, which, new_key):  # noqa: PLR0915  one story
        target = self.place()
        log = site.log
        beyond = [
            h
            for h in self.held
            if (h.origin, h.key) == (log.origin, log.key) and not site.extends(h)
        ]
        lost = beyond[which % len(beyond)] if beyond and which < 8 else None

        def call(text):
            return succeed(
                site.path,
                target,
                reason="r",
                passphrase=PASSPHRASE,
                new_key=new_key,
                person="mechanic-1",
                lost=text,
            )

        if log.closed:
            with pytest.raises(LogError, match=CLOSED):
                call(None)
            assert not target.exists()
            return
        held_here = [h for h in self.held if site.extends(h)]
        if held_here:
            with pytest.raises(VerificationError, match="not beyond"):
                call(held_here[0].text)
            assert not target.exists()
        signed = [site.keys.newest] if site.is_behind else []
        signed += [lost.ids] if lost else []
        active = {
            e.person: log.active(e.person).key for e in log.people if not e.revoked
        }
        for person, key in active.items():  # a rotation that was killed is finished
            if site.keys.waiting.get(person) == key:
                site.keys.files[person] = site.keys.waiting.pop(person)
        keys = {p: k for p, k in active.items() if site.keys.files.get(p) == k}
        without = tuple(p for p in active if p not in keys)
        first = "mechanic-1" if "mechanic-1" in keys or not keys else next(iter(keys))
        done = call(lost.text if lost else None)
        names = [first, *(p for p in keys if p != first)]
        if not keys:
            keys = {first: self.new_id()}
        self.met(f"went on; something lost: {bool(signed)}; new key: {new_key}")
        assert done.origin.startswith(next_origin(log.origin))
        assert (done.origin == next_origin(log.origin)) is not bool(signed)
        assert (done.people, done.held) == (tuple(names), len(log.lines))
        assert done.without_key == without
        assert done.is_same_key is not new_key
        assert (done.log_key == log.key) is not new_key
        if signed:
            longest = max(map(len, signed))
            assert done.lost == max(longest - len(log.lines), 1)
        else:
            assert done.lost == 0
        assert done.closed == (None if signed else len(log.lines))
        after = Site(target, Log(done.origin, done.log_key), Keys())
        for name in names:
            lines = [self.line("person_enrolled")]
            if not after.log.lines:
                lines.insert(0, self.line("log_opened"))
            self.add(after, lines, checkpoint=True)()
            seq = len(after.log.lines) - 1
            after.log.people.append(Enrolled(name, keys[name], seq))
            after.keys.files[name] = keys[name]
        self.remembered(after)()
        if not signed:
            self.add(site, [self.line("log_closed")], checkpoint=True)()
            log.closed = True
            self.remembered(site)()
            site.shut()
        self.sites.append(after)
        self.learn_keys(after)
        self.known(after)
        self.check(site)
        self.touched = after

    # Packets

    def hand_out_a_packet(self, site, order, reveal, since):
        ledger = site.open()
        if not site.log.is_closed_order(order):
            with pytest.raises(InputError, match="is not closed"):
                ledger.packet(order)
            return
        seqs = {seq for seq, _ in site.log.order(order)}
        open_texts = {
            path: {
                v
                for (q, p), (state, v) in site.log.texts.items()
                if p == path and q in seqs and state == "withheld"
            }
            for path in {p for _, p in site.log.texts}
        }
        wanted = set()
        if reveal == "*":
            wanted = set().union(*open_texts.values())
        elif reveal:
            wanted = open_texts.get(reveal, set())
            if not wanted:
                with pytest.raises(InputError, match="nothing is withheld"):
                    ledger.packet(order, reveal=[reveal])
                return
        back_to = []
        if self.held and since < 8:
            held = self.held[since % len(self.held)]
            found = note.parse_checkpoint(note.split_note(held.text)[0])
            if site.log.ids[: len(held.ids)] != held.ids:
                with pytest.raises(VerificationError, match="does not extend"):
                    ledger.packet(order, since=[(found.size, found.root)])
            else:
                back_to = [(found.size, found.root)]
        size = max(site.log.sizes)
        if back_to and back_to[0][0] > size:
            return
        text = ledger.packet(order, reveal=[reveal] if reveal else [], since=back_to)
        own = Held("", site.log.origin, site.log.key, site.log.ids[:size])
        self.packets.append((text, site.log.key, frozenset(wanted), own))
        self.handed_out(site)
        self.check_packet(len(self.packets) - 1)
        self.met(f"packet; behind: {site.is_behind}; reveals {len(wanted)}")
        if back_to and site.extends(held):
            assert verify_packet(text, trust=held.text).verified

    def check_packet(self, index):
        text, key, wanted, own = self.packets[index]
        report = verify_packet(text, expect_key=key)
        assert report.verified, report.problems
        assert report.checkpoint.size == len(own.ids)
        said = {
            disclosure.parse(given).value for _, given in parse_packet(text).disclosures
        }
        assert said == wanted
        if self.held:
            held = self.held[index % len(self.held)]
            found = verify_packet(text, trust=held.text)
            same = (held.origin, held.key) == (own.origin, own.key)
            if not same or own.ids[: len(held.ids)] != held.ids:
                assert not found.verified, "another history is never taken for this"

    # Tampering, on a copy

    @rule(
        s=PICK,
        how=st.sampled_from(
            ["flip", "flip", "flip", "swap", "middle", "tail", "note", "back", "say"]
        ),
        at=st.integers(0, 10_000),
        byte=st.integers(0, 100_000),
    )
    def tamper_with_a_copy(self, s, how, at, byte):
        site = self.site(s)
        path = self.folder / "tampered.auditlog"
        copy_log(site.path, path)
        log = site.log
        size = len(log.lines)
        db = sqlite3.connect(path, isolation_level=None)
        try:
            for table in ("entry", "checkpoint"):
                for action in ("update", "delete"):
                    db.execute(f"drop trigger {table}_no_{action}")
            altered = self.alter(db, log, how, at, byte)
        finally:
            db.close()
        report = verify_file(path)
        self.met(f"tampered: {how}, {altered}")
        if how == "tail" and altered:
            cut = 1 + at % size
            assert report.verified, "a chain alone cannot show a missing tail"
            newest_text = site.open().checkpoint()
            self.handed_out(site)
            if cut < max(log.sizes):
                assert not verify_file(path, trust=newest_text).verified
        else:
            assert report.verified is not altered, (how, at, byte)

    def alter(self, db, log, how, at, byte):
        """Alter a log, and return whether that is to be found out."""
        size = len(log.lines)
        seq = at % size
        if how == "flip":
            names = ("header", "payload", "signature", "leaf", "kind", "repair_order")
            name = names[at % 6]
            (raw,) = db.execute(
                f"select cast({name} as blob) from entry where seq = ?", (seq,)
            ).fetchone()
            if raw is None:  # an event of the log itself is of no repair order
                name, raw = "repair_order", b"RO-0"
            bad = bytearray(raw)
            bad[byte % len(bad)] ^= 1 << at % 7
            form = "?" if name in {"signature", "leaf"} else "cast(? as text)"
            db.execute(
                f"update entry set {name} = {form} where seq = ?", (bytes(bad), seq)
            )
        elif how == "swap":
            other = byte % size
            if other == seq:
                return False
            db.execute("update entry set seq = -1 where seq = ?", (seq,))
            db.execute("update entry set seq = ? where seq = ?", (seq, other))
            db.execute("update entry set seq = ? where seq = -1", (other,))
        elif how == "middle":
            if seq == size - 1 and max(log.sizes) < size:
                return False  # this is a tail that no checkpoint covers
            db.execute("delete from entry where seq = ?", (seq,))
        elif how == "tail":
            cut = 1 + at % size
            db.execute("delete from entry where seq >= ?", (cut,))
            db.execute("delete from disclosure where seq >= ?", (cut,))
            db.execute("delete from checkpoint where size > ?", (cut,))
        elif how == "note":
            sizes = sorted(log.sizes)
            chosen = sizes[at % len(sizes)]
            query = "select note from checkpoint where size = ?"
            raw = db.execute(query, (chosen,)).fetchone()[0].encode()
            bad = bytearray(raw)
            bad[byte % len(bad)] ^= 1 << at % 7
            db.execute(
                "update checkpoint set note = cast(? as text) where size = ?",
                (bytes(bad), chosen),
            )
        elif how == "back":
            if not log.gone:
                return False
            text = log.gone[at % len(log.gone)]
            digest = disclosure.digest(text)
            (seq,) = db.execute(
                "select seq from entry where instr(payload, ?)", (f'"{digest}"',)
            ).fetchone()
            db.execute("insert into disclosure values (?, ?, ?)", (seq, digest, text))
        else:
            done = db.execute(
                "update disclosure set disclosure = 'A' || disclosure where rowid ="
                " (select min(rowid) from disclosure where seq >= ?)",
                (seq,),
            )
            return done.rowcount > 0
        return True

    # What holds whenever

    @invariant()
    def everything_promised_holds(self):
        self.met("step")
        self.turn += 1
        if self.touched is None:
            return
        site, self.touched = self.touched, None
        if site in self.sites:
            self.check(site)
            if self.held:
                self.check_held(site, self.held[self.turn % len(self.held)])
                self.check_held(site, self.held[-1])
            if self.packets:
                self.check_packet(self.turn % len(self.packets))
            self.check_times(site)
        self.check_witness()

    def check(self, site):
        """The log holds what the model says, in order, as it was given."""
        log, ledger = site.log, site.open()
        rows = list(ledger.store.rows())
        assert len(rows) == len(log.lines)
        for seq, (row, line) in enumerate(zip(rows, log.lines, strict=True)):
            said = parse_payload(row.entry.payload)
            thumbprint = log.key if line.key is None else self.thumbprints[line.key]
            assert (said.seq, said.repair_order, said.event["kind"], said.by) == (
                seq,
                line.order,
                line.kind,
                line.by,
            )
            assert (said.recorded_at, said.key) == (stamp(line.claimed), thumbprint)
        assert {size for size, _ in ledger.store.checkpoints()} == log.sizes
        for order in self.orders(site):
            for shown in ledger.show(order).lines:
                self.check_event(log, shown)
        report = ledger.verify(expect_key=log.key)
        assert report.verified, report.problems
        states = [state for state, _ in log.texts.values()]
        for word in ("erased", "lost"):
            told = [n for n in report.notes if n.startswith(f"withheld texts {word}")]
            many = states.count(word)
            assert len(told) == bool(many), report.notes
            assert not told or f": {many}" in told[0], (told, many)
        self.check_erased(site)

    @staticmethod
    def check_event(log, shown):
        line = log.lines[shown.seq]
        texts = {
            path: state
            for (seq, path), (state, _) in log.texts.items()
            if seq == shown.seq
        }
        assert {t.path: t.state for t in shown.texts} == texts
        if line.event is not None:
            hidden = [path for path, state in texts.items() if state != "withheld"]
            assert shown.event == without(line.event, hidden)

    @staticmethod
    def check_erased(site):
        """No part of an erased text lies in the file: salt and value are its own."""
        if site.log.is_dirty or not site.log.gone:
            return
        lying = site.bytes()
        for state, value in site.log.texts.values():
            assert state != "erased" or value.encode() not in lying
        for text in site.log.gone:
            for part in (text[3:15], text[9:21], text[15:27], text[-12:]):
                assert part.encode() not in lying, part

    def check_held(self, site, held):
        report = site.open().verify(trust=held.text)
        assert report.verified is site.extends(held), report.problems

    def check_times(self, site):
        """Intervals hold the true time, and a lie of over 15 minutes is told."""
        log, ledger = site.log, site.open()
        if not log.spoken:
            return
        vkey = note.vkey(ledger.origin, ledger.log_key)
        policy = parse_trust_policy(
            f"log {vkey}\nwitness w {COSIGNER.vkey}\nquorum w\n".encode()
        )
        roots = authority()[0] if any(s.is_stamp for s in log.spoken) else None
        report = ledger.verify()
        for trust, is_stamp in (({"policy": policy}, False), ({"roots": roots}, True)):
            spoken = [s for s in log.spoken if s.is_stamp is is_stamp]
            if not spoken:
                continue
            found = with_times(
                report, attested_bounds.believed_bounds(report.attested, **trust)
            )
            lies = set()
            for seq, line in enumerate(log.lines):
                after = [s for s in spoken if s.seq <= seq]
                before = [s for s in spoken if s.size > seq]
                told = found.intervals[seq]
                low = max((s.at for s in after), default=None)
                late = timedelta() if is_stamp else SECOND  # rounded down by witnesses
                high = min((s.at + late for s in before), default=None)
                assert told["after"] == (low and low.isoformat(timespec="seconds"))
                assert told["before"] == (high and high.isoformat(timespec="seconds"))
                if all(s.is_true for s in (*after, *before)):
                    assert low is None or low <= line.true
                    assert high is None or line.true <= high
                is_lie = (low and line.claimed < low - SLACK) or (
                    high and line.claimed > high + SLACK
                )
                if is_lie or (low and high and low - high > SLACK):
                    lies.add(seq)
            self.met(f"clock found out: {bool(lies)}; by stamp: {is_stamp}")
            assert {p.seq for p in found.problems} == lies
            assert found.verified is not bool(lies)

    def check_witness(self):
        """What the witness cosigned under one name is one history."""
        last: dict[str, tuple[int, ...]] = {}
        for held, _, _ in self.cosigned:
            before = last.get(held.origin, ())
            assert held.ids[: len(before)] == before
            last[held.origin] = held.ids


# What some of the lives must come to, so that a run of empty ones is told.
OFTEN = ("done: record", "killed", "tampered")
SELDOM = (
    "done: text_erased",
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
