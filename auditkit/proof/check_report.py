"""The outcome of checking evidence, and the rules by which keys may sign.

Pure: nothing here reads a file, a database or a clock.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError, VerificationError
from auditkit.proof.attached import NamedFile
from auditkit.proof.attestation import AttestedCheckpoint
from auditkit.proof.sealed_texts import SealedText
from auditkit.proof.signed_words import signed_besides
from auditkit.text.display_text import plural, printable

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from auditkit.proof.entry import Payload
    from auditkit.proof.note import Checkpoint
    from auditkit.proof.packet import Packet
    from auditkit.text.values import Json


VERDICTS = ("proven", "vouched", "unproven", "contradicted")
"""What a packet may say of a repair, spelt as by ``auditkit.order.findings``."""
NO_KEY = (
    "whose log this is was not checked: compare the log key's fingerprint with one "
    "that you got elsewhere, then give it with --key"
)
"""The note of a report whose reader compared the log's key with no fingerprint.

It stands right below the answer: whoever has a computer can make a log that verifies.
"""


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
    LOG = "log"
    """The receipt is of another log: another shop's, or another one of this shop."""
    STORY = "story"
    """The receipt's paper tells what this packet does not tell, or tells otherwise."""
    ERASED = "erased"
    """What the log says was erased lies there still: not done yet, or put back."""
    POINTERS = "pointers"
    """The tree or a look-up table kept beside the entries is not made of them."""


PAPER = "what the receipt's paper has to say, as this packet tells it:"
_UNMET = {
    Unmet.OLDER: "older than your checkpoint or receipt",
    Unmet.REACH: "no proof that it extends your checkpoint or receipt",
    Unmet.KEY: "signed under another key than the expected one",
    Unmet.WITNESS: "your witnesses do not speak for it",
    Unmet.ORDER: "your receipt is of another repair order",
    Unmet.LOG: "your receipt is of another log",
    Unmet.STORY: "this packet does not tell what your receipt's paper tells",
    Unmet.ERASED: "what the log says was erased lies there still",
    Unmet.POINTERS: "what is kept beside its entries is not made of them",
}
"""What does not fit, in a few words."""
_UNMET_WHAT_TO_DO = {
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
    Unmet.LOG: "look on the receipt which shop it is of, and hold it against that "
    "shop's packet; where both are of one shop, ask it for a packet of the log that "
    "the receipt names, and why it keeps another",
    Unmet.STORY: "compare your paper with what is told here, line by line; then ask "
    "the shop for a packet that discloses what the paper says",
    Unmet.ERASED: "give 'auditkit erase' for it once more; nothing shows that the log "
    "was altered",
    Unmet.POINTERS: "give 'auditkit verify --rebuild', which makes it anew of the "
    "entries: those are not altered",
}
_WHAT_TO_DO = (
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

    def __str__(self) -> str:
        place = "the whole" if self.seq is None else f"entry {self.seq}"
        return f"{place}: {self.problem}"


def next_steps(problems: Iterable[LogProblem]) -> tuple[str, ...]:
    """Return what to do about problems: one thing for each reason why they do not fit.

    Where one of them may mean that something was altered, that is the only answer.
    """
    told = tuple(_UNMET_WHAT_TO_DO[kind] for kind in unmet_of(problems))
    return told or (_WHAT_TO_DO,)


def unmet_of(problems: Iterable[LogProblem]) -> tuple[Unmet, ...]:
    """Return what does not fit; nothing where something may have been altered.

    Of a receipt of another log or repair order that alone is told: the rest is of it.
    """
    found = dict.fromkeys(problem.unmet for problem in problems)
    if None in found:
        return ()
    for other in (Unmet.LOG, Unmet.ORDER):
        if other in found:
            return (other,)
    return tuple(kind for kind in found if kind is not None)


def differing_places(typed: str, found: str) -> tuple[int, ...]:
    """Return the places, from 0, at which two fingerprints differ."""
    longest = max(len(typed), len(found))
    return tuple(i for i in range(longest) if typed[i : i + 1] != found[i : i + 1])


def _side_by_side(typed: str, found: str) -> tuple[str, str, str]:
    places = differing_places(typed, found)
    marks = "".join("^" if i in places else " " for i in range(places[-1] + 1))
    return f"    expected  {typed}", f"    found     {found}", f"              {marks}"


@dataclass(frozen=True, slots=True)
class HeldValues:
    """What a copy in another repair order is known by.

    The SHA-256 of what readouts say (``readouts``) and of typed values (``alike``; of
    all but one of them, ``near``), which two orders of one vehicle may share; ``vins``
    are its vehicle's.
    """

    readouts: frozenset[str] = frozenset()
    alike: frozenset[str] = frozenset()
    near: frozenset[str] = frozenset()
    vins: frozenset[str] = frozenset()


NOTHING_HELD = HeldValues()


@dataclass(frozen=True, slots=True)
class JudgedHere:
    """What a packet's evidence says by this reader's rules, beside what was signed.

    ``agrees`` is false where the shop signed something better than what is judged here;
    ``compared`` says in a line how the two verdicts compare, ``said`` the verdict with
    its reason. ``told`` are lines on what was not read here and on each fault,
    ``answers`` lines under their headings; one that begins with a space belongs under
    the line before it. ``found`` is all of it as ``verify --format json`` prints it.
    ``repeated`` are the lines of a statement that say no more than ``lines`` do, and
    ``unfound`` those of the signed one that this reader's own does not have.
    ``held`` is what a copy in another repair order is known by.
    """

    verdict: str
    signed: str | None
    agrees: bool
    compared: str
    said: str
    told: tuple[str, ...]
    answers: tuple[tuple[str, tuple[str, ...]], ...]
    found: Mapping[str, Json]
    repeated: frozenset[str] = frozenset()
    unfound: frozenset[str] = frozenset()
    held: HeldValues = NOTHING_HELD

    @property
    def lines(self) -> tuple[str, ...]:
        """All of it as lines of text, the answer first."""
        answers = (line for _, lines in self.answers for line in lines)
        return (f"judged here: {self.said}", self.compared, *self.told, *answers)


@dataclass(frozen=True, slots=True)
class CheckReport:
    """What was checked and what does not hold.

    ``repair_order``, ``verdict`` (one of ``VERDICTS``, None where it is none of them)
    and ``statement`` are what a packet that holds says; a log says none of them.
    ``expected_key`` is the fingerprint that a reader gave, where the log's is another.
    ``recorded`` is when each entry says that it was recorded (RFC 3339, a claim) and
    ``attested`` what outsiders said of checkpoints, ``last_event`` the sequence number
    of a packet's last event; from them ``auditkit.proof.time_bounds`` makes ``times``,
    in words, and ``intervals``, one an entry. ``texts`` are what a packet withholds,
    ``attachments`` the files that its entries name. ``packet`` is what was read, and
    ``payloads`` what its entries say, for whoever reads on; None and none for a log.
    ``since`` is how many entries of a log were verified earlier, and not read again.
    ``paper`` is what the paper of the reader's receipt has to say, line by line, and
    ``agreed`` what of the receipt agrees.
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
    attested: tuple[AttestedCheckpoint, ...] = ()
    last_event: int | None = None
    texts: tuple[SealedText, ...] = ()
    attachments: tuple[NamedFile, ...] = ()
    times: tuple[str, ...] = ()
    intervals: tuple[dict[str, Json], ...] = ()
    expected_key: str | None = None
    judged: JudgedHere | None = None
    packet: Packet | None = field(default=None, repr=False, compare=False)
    payloads: tuple[Payload, ...] = field(default=(), repr=False, compare=False)
    since: int = 0
    paper: tuple[str, ...] = ()
    agreed: tuple[str, ...] = ()

    def lines(self, name: str) -> list[str]:
        """Return whether it holds, what does not, and what to do next, as text."""
        entries = plural(self.entries, "entry", "entries")
        said: list[str] = []
        cautioned = {NO_KEY} if self.verified else set()
        cautions = [f"    caution: {n}" for n in self.notes if n in cautioned]
        if self.verified:
            if self.judged is not None:
                first, *rest = (f"    {line}" for line in self.judged.lines)
                at = 1 + len(self.judged.told)  # above the list of answers
                said += [f"{name}: {first.strip()}", *rest[:at], *cautions, *rest[at:]]
            size = self.checkpoint.size if self.checkpoint else 0
            if self.since:
                new = plural(self.entries - self.since, "entry", "entries")
                entries = f"{new} since the last time, {self.entries} in all"
            said.append(
                f"{name}: record unaltered: {entries}, checkpoint of size {size}"
            )
            if self.judged is None:
                said += cautions
            said.append(f"    signed under log key {self.log_key}")
            said += [f"    {line}" for line in self.agreed]
        else:
            said.append(f"{name}: record NOT verified: {self._not_verified(entries)}")
            for problem in self.problems:
                said.append(f"{name}: {problem}")
                if problem.unmet is Unmet.KEY and self.expected_key:
                    said += _side_by_side(self.expected_key, self.log_key)
            said += [f"    what to do: {step}" for step in next_steps(self.problems)]
        for heading, own in signed_besides(self.story, self.judged):
            said += [f"    {heading}:"] if heading else []
            said += [f"    | {line}" for line in own]
        if self.paper:
            said.append(f"    {PAPER}")
        said += [f"    | {line}" for line in self.paper]
        said += [f"    {line}" for line in self.times]
        said += [f"    note: {note}" for note in self.notes if note not in cautioned]
        return [printable(line) for line in said]

    def _not_verified(self, entries: str) -> str:
        """Return what is wrong in a few words, else how many problems there are."""
        many = plural(len(self.problems), "problem", "problems")
        unmet = ", ".join(_UNMET[kind] for kind in unmet_of(self.problems))
        return unmet or f"{many} in {entries}"

    def must_hold(self, *, where: str, what_to_do: str) -> None:
        """Raise VerificationError, with the first problem, where it does not hold."""
        if not self.verified:
            raise VerificationError(
                f"the packet does not verify: {self.problems[0].problem}",
                where=where,
                what_to_do=what_to_do,
            )

    def with_more(
        self, problems: Iterable[str | LogProblem], notes: Iterable[str]
    ) -> CheckReport:
        """Return the report with what was held against it elsewhere.

        A problem given as text is about the whole. With a problem it does not hold, and
        no longer says anything of a repair.
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
            texts=(),
            judged=None,
            attachments=(),
        )

    def is_enough(self, least: str = "") -> bool:
        """Return whether the record is unaltered, and its shop signed nothing better.

        ``least`` is a verdict, vouched or proven, that has to be reached here too.
        """
        if not self.verified or self.judged is None:
            return self.verified
        reached = {"": VERDICTS, "vouched": VERDICTS[:2], "proven": VERDICTS[:1]}[least]
        return self.judged.agrees and self.judged.verdict in reached

    @property
    def said_verdict(self) -> str | None:
        """The verdict that was judged here, else the signed one."""
        if not self.verified:
            return None
        return self.verdict if self.judged is None else self.judged.verdict

    def _judged(self, name: str) -> Json:
        return [] if self.judged is None else self.judged.found.get(name)

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
            "since": self.since,
            "checkpoint": checkpoint,
            "log_key": self.log_key,
            "repair_order": self.repair_order if self.verified else None,
            "verdict": self.said_verdict,
            "signed_verdict": self.verdict if self.verified else None,
            "faults": self._judged("faults"),
            "answers": self._judged("answers"),
            "findings": self._judged("findings"),
            "statement": list(self.statement) if self.verified else [],
            "paper": list(self.paper),
            "problems": problems,
            "notes": [*self.agreed, *self.notes],
            "intervals": list(self.intervals),
            "texts": [text.to_json() for text in self.texts],
            "attachments": [file.to_json() for file in self.attachments],
        }


def problem_text(error: AuditkitError) -> str:
    """Return an error as the text of a problem."""
    return error.message
