"""One life of a log: its places, its clocks, and how a call is held to the model."""

import os
import signal
import tempfile
from collections import Counter
from datetime import datetime, timedelta
from itertools import count
from pathlib import Path
from typing import ClassVar

import pytest
from hypothesis.stateful import RuleBasedStateMachine
from life.edges import run_killed
from life.model import (
    BEGIN,
    KILLED,
    NOW,
    PATHS,
    STALE,
    TORN,
    Call,
    Held,
    Keys,
    Line,
    Log,
    Site,
    folder_text,
    members,
    wal_of,
)

from auditkit.errors import InputError, KeyProblem, LogError
from auditkit.log.ledger import Ledger
from auditkit.proof import note
from auditkit.proof.entry import LOG_SIGNER
from auditkit.proof.keys import PrivateKey
from auditkit.witness.serve import known_logs


class Life(RuleBasedStateMachine):
    """A log's life: what there is, and what every act in it shares."""

    tally: ClassVar[Counter[str]] = Counter()

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
        self.backups: list[tuple[Path, Log, Keys, frozenset[str]]] = []
        self.held: list[Held] = []
        self.cosigned: list[tuple[Held, datetime, bool]] = []
        self.packets: list[tuple[str, str, frozenset[str], Held]] = []
        self.pictures: dict[str, bytes] = {}
        self.logs: dict[str, list] = {}
        self.turn = 0
        self.touched: Site | None = None

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
                if line.kind == "attachment":
                    site.log.pictures[line.event["sha256"]] = "kept"
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

    def orders(self, site):
        return list(dict.fromkeys(x.order for x in site.log.lines if x.order))

    def witness_time(self):
        return self.true + self.witness_off
