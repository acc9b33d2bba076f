"""Whose word a reviewer wants about a log (C2SP tlog-policy, draft).

A text of lines: which logs are known, which witnesses, and the quorum: how many
cosignatures, and whose, make a checkpoint good enough. It is read offline and decides
nothing about repairs; that is ``auditkit.order.policy``.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NoReturn

from auditkit.errors import AuditkitError, InputError, VerificationError
from auditkit.proof import cosignature, note
from auditkit.proof.cosignature import Cosignature, Cosigner
from auditkit.proof.keys import PublicKey
from auditkit.text.display_text import quoted

MAX_POLICY = 64 * 1024
NOBODY = "none"
_UNFIT = re.compile(rb"[^\x09\x0a\x20-\x7e\x80-\xff]")
_BLANK = re.compile(r"[ \t]+")
_COUNT = re.compile(r"[1-9][0-9]{0,4}")
_SHORTEST_GROUP = 4  # group NAME HOW-MANY MEMBER


@dataclass(frozen=True, slots=True)
class KnownLog:
    """A log whose checkpoints are accepted: its origin, its key, perhaps an URL."""

    origin: str
    key: PublicKey
    url: str = ""


@dataclass(frozen=True, slots=True)
class NamedWitness:
    """A witness under the name that the policy gives it."""

    name: str
    cosigner: Cosigner
    url: str = ""


@dataclass(frozen=True, slots=True)
class WitnessGroup:
    """Witnesses or groups, of which ``threshold`` must have witnessed."""

    name: str
    threshold: int
    members: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TrustPolicy:
    """What a trust policy says. ``quorum`` names a witness, a group, or nobody."""

    logs: tuple[KnownLog, ...]
    witnesses: tuple[NamedWitness, ...]
    groups: tuple[WitnessGroup, ...]
    quorum: str

    def wanted(self) -> str:
        """Return whose cosignatures are wanted, in words."""
        return "nobody's" if self.quorum == NOBODY else self._wanted(self.quorum)

    def _wanted(self, name: str) -> str:
        group = next((g for g in self.groups if g.name == name), None)
        if group is None:
            return _shown(name)
        members = [self._wanted(member) for member in group.members]
        if len(members) == 1:
            return members[0]
        if group.threshold == len(members):
            return f"({' and '.join(members)})"
        if group.threshold == 1:
            return f"({' or '.join(members)})"
        return f"{group.threshold} of ({', '.join(members)})"


@dataclass(frozen=True, slots=True)
class CheckpointStanding:
    """Whether a checkpoint is good enough, and why not.

    ``by`` are the policy's names of witnesses with the time each states, seconds since
    1970; ``checkpoint`` is None where no known log signed it. ``is_missing`` says that
    only cosignatures are missing.
    """

    satisfied: bool
    checkpoint: note.Checkpoint | None
    by: tuple[tuple[str, int], ...]
    problems: tuple[str, ...]
    is_missing: bool = False


@dataclass(slots=True)
class _Lines:
    """A policy as its lines are read, one after the other."""

    logs: list[KnownLog] = field(default_factory=list)
    witnesses: list[NamedWitness] = field(default_factory=list)
    groups: list[WitnessGroup] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    members: set[str] = field(default_factory=set)
    quorum: str | None = None

    def log(self, words: list[str]) -> None:
        vkey, url = _with_url(words, 2, "log VKEY [URL]")
        origin, key = note.parse_vkey(vkey[1])
        if any(known.key == key for known in self.logs):
            raise InputError(
                "this log's key stands in an earlier line",
                what_to_do="keep one of the two",
            )
        self.logs.append(KnownLog(origin, key, url))

    def witness(self, words: list[str]) -> None:
        given, url = _with_url(words, 3, "witness NAME VKEY [URL]")
        cosigner = cosignature.parse_vkey(given[2])
        if any(known.cosigner.key == cosigner.key for known in self.witnesses):
            raise InputError(
                "this witness's key stands in an earlier line",
                what_to_do="keep one of the two: it can speak once",
            )
        self._define(given[1])
        self.witnesses.append(NamedWitness(given[1], cosigner, url))

    def group(self, words: list[str]) -> None:
        if len(words) < _SHORTEST_GROUP:
            _refuse_form("group NAME all|any|NUMBER MEMBER...")
        name, many, members = words[1], words[2], words[3:]
        for member in members:
            self._refer(member)
            if member in self.members:
                raise InputError(
                    f"{quoted(member)} is a member already",
                    what_to_do="name it once: a witness counts in one way only",
                )
            self.members.add(member)
        self._define(name)
        self.groups.append(
            WitnessGroup(name, _threshold(many, len(members)), (*members,))
        )

    def set_quorum(self, words: list[str]) -> None:
        if len(words) != 2:
            _refuse_form("quorum NAME")
        if self.quorum is not None:
            raise InputError("a second quorum line", what_to_do="keep one")
        if words[1] != NOBODY:
            self._refer(words[1])
        self.quorum = words[1]

    def _define(self, name: str) -> None:
        if name == NOBODY or name in self.names:
            raise InputError(
                f"the name {quoted(name)} is taken", what_to_do="choose another name"
            )
        self.names.add(name)

    def _refer(self, name: str) -> None:
        if name not in self.names:
            raise InputError(
                f"no line before it defines {quoted(name)}",
                what_to_do="define it above, or correct the name",
            )


_KINDS: dict[str, Callable[[_Lines, list[str]], None]] = {
    "log": _Lines.log,
    "witness": _Lines.witness,
    "group": _Lines.group,
    "quorum": _Lines.set_quorum,
}


def parse_trust_policy(data: bytes, *, where: str = "") -> TrustPolicy:
    """Return what a trust policy says; raise InputError, with the line, where unfit."""
    if len(data) > MAX_POLICY:
        raise InputError(
            f"it is {len(data)} bytes long, over {MAX_POLICY}",
            where=where,
            what_to_do="name a trust policy",
        )
    # A cut file could end in the name of a weaker quorum.
    if not data.endswith(b"\n"):
        raise InputError(
            "its last line has no line end: it may be cut short",
            where=where,
            what_to_do="end it with a line end",
        )
    lines = _Lines()
    for number, raw in enumerate(data[:-1].split(b"\n"), 1):
        try:
            _read(lines, raw)
        except AuditkitError as error:
            raise InputError(
                error.message,
                where=f"{where}:{number}" if where else f"line {number}",
                what_to_do=error.what_to_do,
            ) from error
    if lines.quorum is None:
        raise InputError(
            "no quorum line says whose cosignatures are wanted",
            where=where,
            what_to_do=f"add one, such as 'quorum {NOBODY}'",
        )
    return TrustPolicy(
        (*lines.logs,), (*lines.witnesses,), (*lines.groups,), lines.quorum
    )


def _read(lines: _Lines, raw: bytes) -> None:
    unfit = _UNFIT.search(raw)
    if unfit:
        raise InputError(
            f"byte {unfit[0].hex()} has no place in a trust policy",
            what_to_do="use plain text with lines that end in a line feed",
        )
    # Names are octets to the specification: those that are no UTF-8 stay distinct.
    words = _BLANK.split(raw.decode("utf-8", "surrogateescape").strip(" \t"))
    if not words[0] or words[0].startswith("#"):
        return
    if words[0] not in _KINDS:
        raise InputError(
            f"{quoted(words[0])} begins no line of a trust policy",
            what_to_do=f"begin with {', '.join(_KINDS)} or #",
        )
    _KINDS[words[0]](lines, words)


def _with_url(words: list[str], least: int, form: str) -> tuple[list[str], str]:
    if len(words) not in (least, least + 1):
        _refuse_form(form)
    return words, words[least] if len(words) > least else ""


def _threshold(word: str, members: int) -> int:
    if word in ("any", "all"):
        return 1 if word == "any" else members
    if not _COUNT.fullmatch(word) or int(word) > members:
        raise InputError(
            f"{quoted(word)} of {members} members is no threshold",
            what_to_do=f"write all, any or 1 to {members}",
        )
    return int(word)


def _refuse_form(form: str) -> NoReturn:
    raise InputError(
        "the line has other words than it should", what_to_do=f"write: {form}"
    )


def _shown(name: str) -> str:
    """Return a name that any terminal can print."""
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def satisfied(
    policy: TrustPolicy, checkpoint_note: str, *, known_log: KnownLog | None = None
) -> CheckpointStanding:
    """Return whether a known log signed the checkpoint and the quorum cosigned it.

    ``known_log`` is a log known from elsewhere, for a policy that lists none. A false
    line in a listed witness's name makes the checkpoint refused.
    """
    problems: list[str] = []
    logs = policy.logs if known_log is None else (*policy.logs, known_log)
    try:
        checkpoint = _opened(logs, checkpoint_note)
    except VerificationError as error:
        checkpoint = None
        problems.append(error.message)
    by: tuple[tuple[str, int], ...] = ()
    try:
        by = _by(policy, checkpoint_note)
    except VerificationError as error:
        problems.append(error.message)
    is_missing = False
    if not _witnessed(policy, {name for name, _ in by}):
        is_missing = not problems
        got = ", ".join(_shown(name) for name, _ in by) or "nobody"
        problems.append(f"cosignatures wanted: {policy.wanted()}; given by: {got}")
    return CheckpointStanding(not problems, checkpoint, by, tuple(problems), is_missing)


def quorum_times(policy: TrustPolicy, checkpoint_note: str) -> tuple[int, int] | None:
    """Return between which times the quorum cosigned, seconds since 1970.

    At least one witness of any quorum is honest: that is what a quorum means. So the
    checkpoint existed at the later time, when witnesses in order of their times first
    make a quorum; and its cosignatures were not known before the earlier one, which the
    same count from the last witness back gives. None where the quorum is not reached or
    asks for nobody. Raises VerificationError where a listed witness's line is false.
    """
    if policy.quorum == NOBODY:
        return None
    # A cosignature in the log's own name states the shop's time, not an outsider's.
    own = checkpoint_note.partition("\n")[0]
    ours = {w.name for w in policy.witnesses if w.cosigner.name == own}
    by = sorted(
        (pair for pair in _by(policy, checkpoint_note) if pair[0] not in ours),
        key=lambda pair: pair[1],
    )
    complete = _reached(policy, by)
    if complete is None:
        return None
    return _reached(policy, by[::-1]) or 0, complete


def _reached(policy: TrustPolicy, by: list[tuple[str, int]]) -> int | None:
    """Return the time at which names, taken in this order, make the quorum."""
    names: set[str] = set()
    for name, at in by:
        names.add(name)
        if _witnessed(policy, names):
            return at
    return None


def _opened(logs: tuple[KnownLog, ...], text: str) -> note.Checkpoint:
    origin = text.partition("\n")[0]
    ours = [log for log in logs if log.origin == origin]
    reason = f"no log of the trust policy is called {quoted(origin[:80])}"
    for log in ours:
        try:
            return note.open_checkpoint(text, log.key)
        except VerificationError as error:
            reason = error.message
    raise VerificationError(reason)


def _by(policy: TrustPolicy, text: str) -> tuple[tuple[str, int], ...]:
    names = {w.cosigner: w.name for w in policy.witnesses}
    found: tuple[Cosignature, ...] = cosignature.cosignatures(text, names)
    return tuple((names[c.cosigner], c.at) for c in found)


def _witnessed(policy: TrustPolicy, names: set[str]) -> bool:
    """Return whether the quorum has witnessed, given the witnesses that cosigned."""
    reached = {NOBODY, *names}
    for group in policy.groups:  # members stand above their group
        if sum(member in reached for member in group.members) >= group.threshold:
            reached.add(group.name)
    return policy.quorum in reached
