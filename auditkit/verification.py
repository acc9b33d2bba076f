"""The outcome of checking evidence, and the rules by which keys may sign.

Pure: nothing here reads a file, a database or a clock.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from auditkit.attestation import ATTESTATION, Attested, read_attestation
from auditkit.entry import LOG_SIGNER
from auditkit.errors import AuditkitError, InputError
from auditkit.events import LOG_KINDS
from auditkit.keys import PublicKey
from auditkit.words import plural, printable

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from auditkit.entry import Payload
    from auditkit.events import Json
    from auditkit.note import Checkpoint


VERDICTS = ("proven", "unproven", "contradicted")
"""What a packet may say of a repair, as ``auditkit.findings.Verdict`` spells it."""
_SHOWN = 5  # entries that a note names


class Unmet(StrEnum):
    """Why evidence may not fit what its reader holds, though nobody altered it."""

    OLDER = "older"
    """The reader's checkpoint is of later entries than the packet's."""
    REACH = "reach"
    """The packet carries no proof that it extends the reader's checkpoint."""
    KEY = "key"
    """The log's key is another one than the fingerprint that was typed."""
    WITNESS = "witness"
    """Nothing speaks against it, but those whom the reader trusts have not spoken."""
    ORDER = "order"
    """The receipt is of another repair order."""


_UNMET_NEXT = {
    Unmet.OLDER: "ask the shop for a packet made since; nothing shows that this one "
    "was altered",
    Unmet.REACH: "ask the shop for 'auditkit packet ORDER --since FILE'; nothing shows "
    "that this one was altered",
    Unmet.KEY: "look for a mistyped letter first; then ask the shop, by a way that you "
    "chose, which fingerprint is theirs",
    Unmet.WITNESS: "ask the shop to have its log witnessed, and for a packet made "
    "since; nothing shows that this one was altered",
    Unmet.ORDER: "hold the receipt against the packet of its own repair order; nothing "
    "shows that this one was altered",
}
_NEXT = (
    "do not rely on it; keep it as it is, and compare it with a backup, a packet or a "
    "checkpoint that someone else holds"
)


@dataclass(frozen=True, slots=True)
class LogProblem:
    """One thing that does not hold, at one entry or (None) about the whole.

    ``unmet`` is set where it need not mean that anything was altered.
    """

    seq: int | None
    problem: str
    unmet: Unmet | None = None


def next_steps(problems: Iterable[LogProblem]) -> tuple[str, ...]:
    """Return what to do about problems: one thing for each way in which they fit not.

    As soon as one may mean that something was altered, that is the one answer.
    """
    unmet = [problem.unmet for problem in problems]
    if not unmet or None in unmet:
        return (_NEXT,)
    return tuple(_UNMET_NEXT[kind] for kind in dict.fromkeys(unmet) if kind)


def clock_notes(recorded: Iterable[tuple[int, str]]) -> tuple[str, ...]:
    """Return a note where the times that entries claim go back.

    All are written in one form (UTC, to the millisecond), so the order of the texts is
    that of the times; a text in another form may be named as well.
    """
    back: list[str] = []
    last = ""
    for seq, claimed in recorded:
        if claimed < last:
            back.append(str(seq))
        last = claimed
    if not back:
        return ()
    more = ", ..." if len(back) > _SHOWN else ""
    where = ", ".join(back[:_SHOWN]) + more
    return (f"the clock went back before entries {where}: these times are claims",)


@dataclass(frozen=True, slots=True)
class Report:
    """What was checked and what does not hold.

    ``repair_order``, ``verdict`` (one of ``VERDICTS``, None where it is none of them)
    and ``statement`` are what a packet that holds says; a log says none of them.
    ``recorded`` is when each entry says that it was recorded (RFC 3339, a claim) and
    ``attested`` what outsiders said of checkpoints, ``last_event`` the sequence number
    of a packet's last event; from them ``auditkit.interval``
    makes ``times``, in words, and ``intervals``, one an entry.
    """

    verified: bool
    entries: int
    checkpoint: Checkpoint | None
    log_key: str
    problems: tuple[LogProblem, ...]
    notes: tuple[str, ...] = ()
    story: tuple[str, ...] = ()
    repair_order: str | None = None
    verdict: str | None = None
    statement: tuple[str, ...] = ()
    recorded: tuple[tuple[int, str], ...] = ()
    attested: tuple[Attested, ...] = ()
    last_event: int | None = None
    times: tuple[str, ...] = ()
    intervals: tuple[dict[str, Json], ...] = ()

    def lines(self, name: str) -> list[str]:
        """Return whether it holds, what does not, and what to do next, as text."""
        entries = plural(self.entries, "entry", "entries")
        if self.verified:
            size = self.checkpoint.size if self.checkpoint else 0
            said = [f"{name}: verified: {entries}, checkpoint of size {size}"]
            said.append(f"    signed under log key {self.log_key}")
        else:
            many = plural(len(self.problems), "problem", "problems")
            said = [f"{name}: NOT verified: {many} in {entries}"]
            for problem in self.problems:
                place = "the whole" if problem.seq is None else f"entry {problem.seq}"
                said.append(f"{name}: {place}: {problem.problem}")
            said += [f"    next: {step}" for step in next_steps(self.problems)]
        said += [f"    | {line}" for line in self.story]  # the shop's own words
        said += [f"    {line}" for line in self.times]
        said += [f"    note: {note}" for note in self.notes]
        return [printable(line) for line in said]

    def with_more(
        self, problems: Iterable[str | LogProblem], notes: Iterable[str]
    ) -> Report:
        """Return the report with what was held against it elsewhere.

        A problem given as text is about the whole. With a problem it does not hold,
        and says nothing of a repair any more.
        """
        more = (
            p if isinstance(p, LogProblem) else LogProblem(None, p) for p in problems
        )
        found = (*self.problems, *more)
        notes = (*self.notes, *notes)
        if not found:
            return replace(self, notes=notes)
        return replace(
            self,
            verified=False,
            problems=found,
            notes=notes,
            story=(),
            repair_order=None,
            verdict=None,
            statement=(),
        )

    def to_json(self) -> dict[str, Json]:
        """Return the report as ``verify --format json`` prints it.

        ``repair_order`` and ``verdict`` are null and ``statement`` is empty for a log,
        and where it does not hold.
        """
        checkpoint: Json = None
        if self.checkpoint is not None:
            checkpoint = {
                "origin": self.checkpoint.origin,
                "size": self.checkpoint.size,
                "root": self.checkpoint.root.hex(),
            }
        problems: list[Json] = [
            {"seq": p.seq, "problem": p.problem} for p in self.problems
        ]
        return {
            "verified": self.verified,
            "entries": self.entries,
            "checkpoint": checkpoint,
            "log_key": self.log_key,
            "repair_order": self.repair_order if self.verified else None,
            "verdict": self.verdict if self.verified else None,
            "statement": list(self.statement) if self.verified else [],
            "problems": problems,
            "notes": list(self.notes),
            "intervals": list(self.intervals),
        }


@dataclass(frozen=True, slots=True)
class Erasure:
    """A withheld text that the log says was erased: by which entry, where it stood."""

    seq: int
    path: str


@dataclass(slots=True)
class KeyRing:
    """The keys that the log itself says may sign, as its entries are walked.

    A signature is judged by whether its key was active at that sequence number:
    enrolled by an earlier entry and revoked by none before it. ``erased`` holds
    what else the log's own events tell: digest of a withheld text -> its erasure.
    ``attested`` is what outsiders said, ``predecessor`` the log that this one says it
    continues, ``closed`` the entry after which nothing may follow.
    """

    origin: str = ""
    log_key: PublicKey | None = None
    enrolled: dict[str, tuple[str, PublicKey, int]] = field(default_factory=dict)
    revoked: dict[str, int] = field(default_factory=dict)
    erased: dict[str, Erasure] = field(default_factory=dict)
    attested: list[Attested] = field(default_factory=list)
    predecessor: Mapping[str, Json] = field(default_factory=dict)
    closed: int | None = None

    def signer(self, payload: Payload) -> PublicKey:
        """Return the key that must have signed ``payload``.

        Raises InputError where the key named was not active for that person.
        """
        if payload.seq == 0 and self.log_key is None:
            return self._opening_key(payload)
        if self.log_key is None:
            message = "no entry before it opens the log"
            raise InputError(message)
        if self.closed is not None and payload.seq > self.closed:
            message = f"the log was closed by entry {self.closed}"
            raise InputError(message)
        if payload.by == LOG_SIGNER:
            if payload.key != self.log_key.thumbprint:
                message = f"key {payload.key} is not the log's key"
                raise InputError(message)
            return self.log_key
        enrolled = self.enrolled.get(payload.key)
        if enrolled is None or enrolled[0] != payload.by or enrolled[2] >= payload.seq:
            message = f"key {payload.key} is not enrolled for {payload.by!r} there"
            raise InputError(message)
        if self.revoked.get(payload.key, payload.seq + 1) <= payload.seq:
            message = (
                f"key {payload.key} was revoked by entry {self.revoked[payload.key]}"
            )
            raise InputError(message)
        return enrolled[1]

    def _opening_key(self, payload: Payload) -> PublicKey:
        event = payload.event
        if event.get("kind") != "log_opened" or payload.by != LOG_SIGNER:
            message = "the first entry does not open the log"
            raise InputError(message)
        key = PublicKey.from_x(str(event.get("log_key", "")))
        if key.thumbprint != payload.key:
            message = "the opening entry names another key than the one that signed it"
            raise InputError(message)
        return key

    def learn(self, payload: Payload) -> None:
        """Take in what a log event says, after it was accepted."""
        event: Mapping[str, Json] = payload.event
        kind = event.get("kind")
        if kind not in LOG_KINDS:
            return
        if payload.by != LOG_SIGNER:
            message = f"a {kind} entry must be signed by the log's key"
            raise InputError(message)
        if kind == "log_opened":
            if self.log_key is not None:
                message = "the log is opened a second time"
                raise InputError(message)
            if event.get("origin") != payload.log:
                message = "the opening entry names another origin than its payload"
                raise InputError(message)
            self.origin = payload.log
            self.log_key = PublicKey.from_x(str(event.get("log_key", "")))
            before = event.get("predecessor")
            self.predecessor = before if isinstance(before, dict) else {}
        elif kind == ATTESTATION:
            self.attested.append(read_attestation(event, payload.log, payload.seq))
        elif kind == "log_closed":
            self.closed = payload.seq
        elif kind == "person_enrolled":
            self._enrol(payload)
        elif kind == "key_revoked":
            self._revoke(payload)
        else:
            self._erase(payload)

    def _enrol(self, payload: Payload) -> None:
        key = PublicKey.from_x(str(payload.event.get("key", "")))
        if key.thumbprint in self.enrolled:
            message = f"key {key.thumbprint} is enrolled a second time"
            raise InputError(message)
        person = str(payload.event.get("person", ""))
        if person == LOG_SIGNER or not person:
            message = f"a person may not be called {person!r}"
            raise InputError(message)
        self.enrolled[key.thumbprint] = (person, key, payload.seq)

    def _revoke(self, payload: Payload) -> None:
        thumbprint = str(payload.event.get("key", ""))
        person, _, _ = self.enrolled.get(thumbprint, ("", None, 0))
        if person != payload.event.get("person") or thumbprint in self.revoked:
            message = (
                f"it revokes key {thumbprint}, which is not active for that person"
            )
            raise InputError(message)
        self.revoked[thumbprint] = payload.seq

    def _erase(self, payload: Payload) -> None:
        texts = payload.event.get("texts")
        for item in texts if isinstance(texts, list) and texts else [None]:
            digest = item.get("digest") if isinstance(item, dict) else None
            path = item.get("path") if isinstance(item, dict) else None
            if not isinstance(digest, str) or not isinstance(path, str):
                message = "it does not say which text was erased"
                raise InputError(message)
            self.erased.setdefault(digest, Erasure(payload.seq, path))

    def continues(self) -> tuple[str, ...]:
        """Return, as a note, which log this one says it continues, and why."""
        if not self.predecessor:
            return ()
        said = {name: str(value) for name, value in self.predecessor.items()}
        lost = (
            "; entries that the other log had signed after those are lost"
            if "lost_checkpoint" in said
            else ""
        )
        size = said.get("checkpoint", "").split("\n")[1:2]
        return (
            (
                f"this log says that it continues {said.get('origin')} after its "
                f"first {''.join(size)} entries: {said.get('reason')}{lost}"
            ),
        )

    def may_sign(self, person: str, key: PublicKey) -> bool:
        """Return whether a key is enrolled for a person and not revoked."""
        enrolled = self.enrolled.get(key.thumbprint)
        return (
            enrolled is not None
            and enrolled[0] == person
            and key.thumbprint not in self.revoked
        )

    def active(self, person: str) -> PublicKey | None:
        """Return the key last enrolled for ``person`` and not revoked."""
        found = [
            (since, key)
            for thumbprint, (who, key, since) in self.enrolled.items()
            if who == person and thumbprint not in self.revoked
        ]
        return max(found, key=lambda pair: pair[0])[1] if found else None


def reason(error: AuditkitError) -> str:
    """Return an error's text as a problem line."""
    return error.message
