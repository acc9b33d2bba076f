"""Which keys may sign at which entry, as the log's own events say it. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.proof.attestation import ATTESTATION, AttestedCheckpoint, read_attestation
from auditkit.proof.entry import LOG_SIGNER
from auditkit.proof.keys import PublicKey
from auditkit.proof.log_kinds import LOG_KINDS
from auditkit.proof.role import Role
from auditkit.text.display_text import json_line, quoted

if TYPE_CHECKING:
    from collections.abc import Mapping

    from auditkit.proof.entry import Payload
    from auditkit.text.values import Json


@dataclass(frozen=True, slots=True)
class Erasure:
    """A withheld text that the log says was erased.

    Entry ``seq`` says so, recorded (as it claims) at ``recorded_at``: the text stood in
    entry ``of`` at ``path``.
    """

    seq: int
    of: int
    path: str
    recorded_at: str
    reason: str


@dataclass(frozen=True, slots=True)
class Enrolled:
    """A person's key, as entry ``seq`` enrols it."""

    person: str
    key: PublicKey
    seq: int
    role: Role


@dataclass(slots=True)
class KeyRing:
    """The keys that the log itself says may sign, as its entries are walked.

    A signature counts if its key was active at that sequence number: enrolled by an
    earlier entry, in a role that signs, and not revoked before it. ``erased`` holds
    what else the log's own events tell: digest of a withheld text -> its erasure;
    ``erased_attachments`` SHA-256 (hex) of an attachment -> the entry that erased it.
    ``attested`` is what outsiders said, ``predecessor`` the log that this one says it
    continues, ``closed`` the entry after which nothing may follow.
    """

    origin: str = ""
    log_key: PublicKey | None = None
    enrolled: dict[str, Enrolled] = field(default_factory=dict)
    revoked: dict[str, int] = field(default_factory=dict)
    erased: dict[str, Erasure] = field(default_factory=dict)
    erased_attachments: dict[str, int] = field(default_factory=dict)
    attested: list[AttestedCheckpoint] = field(default_factory=list)
    predecessor: Mapping[str, Json] = field(default_factory=dict)
    closed: int | None = None

    def signer(self, payload: Payload) -> PublicKey:
        """Return the key that must have signed ``payload``.

        Raises InputError where the key named was not active for that person.
        """
        if payload.seq == 0 and self.log_key is None:
            return self._opening_key(payload)
        if self.log_key is None:
            raise InputError("no entry before it opens the log")
        if self.closed is not None and payload.seq > self.closed:
            raise InputError(f"the log was closed by entry {self.closed}")
        if payload.by == LOG_SIGNER:
            if payload.key != self.log_key.thumbprint:
                raise InputError(f"key {payload.key} is not the log's key")
            return self.log_key
        enrolled = self.enrolled.get(payload.key)
        if (
            enrolled is None
            or enrolled.person != payload.by
            or enrolled.seq >= payload.seq
        ):
            raise InputError(
                f"key {payload.key} is not enrolled for {quoted(payload.by)} there"
            )
        if not enrolled.role.signs:
            raise InputError(
                f"{quoted(payload.by)} is enrolled as {enrolled.role}, "
                "and signs nothing"
            )
        if self.revoked.get(payload.key, payload.seq + 1) <= payload.seq:
            raise InputError(
                f"key {payload.key} was revoked by entry {self.revoked[payload.key]}"
            )
        return enrolled.key

    def _opening_key(self, payload: Payload) -> PublicKey:
        event = payload.event
        if event.get("kind") != "log_opened" or payload.by != LOG_SIGNER:
            raise InputError("the first entry does not open the log")
        key = PublicKey.from_x(_text(event, "log_key"))
        if key.thumbprint != payload.key:
            raise InputError(
                "the opening entry names another key than the one that signed it"
            )
        return key

    def learn(self, payload: Payload) -> None:
        """Add what a log event says, once it was accepted."""
        event: Mapping[str, Json] = payload.event
        kind = event.get("kind")
        if kind not in LOG_KINDS:
            return
        if payload.by != LOG_SIGNER:
            raise InputError(f"a {kind} entry must be signed by the log's key")
        if kind == "log_opened":
            if self.log_key is not None:
                raise InputError("the log is opened a second time")
            if event.get("origin") != payload.log:
                raise InputError(
                    "the opening entry names another origin than its payload"
                )
            self.origin = payload.log
            self.log_key = PublicKey.from_x(_text(event, "log_key"))
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
        key = PublicKey.from_x(_text(payload.event, "key"))
        if key.thumbprint in self.enrolled:
            raise InputError(f"key {key.thumbprint} is enrolled a second time")
        person = _text(payload.event, "person")
        if person == LOG_SIGNER or not person:
            raise InputError(f"a person may not be called {quoted(person)}")
        role = _text(payload.event, "role")
        if role not in set(Role):
            raise InputError(f"{quoted(role)} is no role of a person")
        self.enrolled[key.thumbprint] = Enrolled(person, key, payload.seq, Role(role))

    def _revoke(self, payload: Payload) -> None:
        thumbprint = _text(payload.event, "key")
        enrolled = self.enrolled.get(thumbprint)
        if (
            enrolled is None
            or enrolled.person != payload.event.get("person")
            or thumbprint in self.revoked
        ):
            raise InputError(
                f"it revokes key {thumbprint}, which is not active for that person"
            )
        self.revoked[thumbprint] = payload.seq

    def _erase(self, payload: Payload) -> None:
        texts, files = (_list(payload.event, name) for name in ("texts", "attachments"))
        reason = _text(payload.event, "reason")
        for item in texts:
            parts = item if isinstance(item, dict) else {}
            digest, path, of = (parts.get(n) for n in ("digest", "path", "seq"))
            if not (
                isinstance(digest, str) and isinstance(path, str) and type(of) is int
            ):
                raise InputError("it does not say which text was erased")
            erasure = Erasure(payload.seq, of, path, payload.recorded_at, reason)
            self.erased.setdefault(digest, erasure)
        for item in files:
            if not isinstance(item, str):
                raise InputError("it does not say which attachment was erased")
            self.erased_attachments.setdefault(item, payload.seq)
        if not texts and not files:
            raise InputError("it does not say what was erased")

    def continues(self) -> tuple[str, ...]:
        """Return a note of which log this one says it continues, and why."""
        if not self.predecessor:
            return ()
        said = {name: json_line(value) for name, value in self.predecessor.items()}
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
        """Return whether what a key signs for a person counts from now on."""
        enrolled = self.enrolled.get(key.thumbprint)
        return (
            enrolled is not None
            and enrolled.person == person
            and enrolled.role.signs
            and key.thumbprint not in self.revoked
        )

    def active(self, person: str) -> PublicKey | None:
        """Return the key last enrolled for ``person`` and not revoked."""
        found = self.enrolment(person)
        return None if found is None else found.key

    def enrolment(self, person: str) -> Enrolled | None:
        """Return the last enrolment of ``person`` whose key is not revoked."""
        found = [
            enrolled
            for thumbprint, enrolled in self.enrolled.items()
            if enrolled.person == person and thumbprint not in self.revoked
        ]
        return max(found, key=lambda one: one.seq, default=None)


def _text(event: Mapping[str, Json], name: str) -> str:
    """Return a member of an event as text, empty where it is absent."""
    value = event.get(name, "")
    if not isinstance(value, str):
        raise InputError(f"its {quoted(name)} is not text")
    return value


def _list(event: Mapping[str, Json], name: str) -> list[Json]:
    """Return a member of an event as a list, empty where it is absent."""
    value = event.get(name, [])
    if not isinstance(value, list):
        raise InputError(f"its {quoted(name)} is not a list")
    return value
