"""What a log, its keys and other hands hold, as lists and dictionaries."""

import copy
import shutil
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from hypothesis import strategies as st

from auditkit.errors import AuditkitError
from auditkit.log import key_files
from auditkit.log.attachments import folder_of
from auditkit.log.ledger import Ledger
from auditkit.proof.cosignature import make_cosigner
from auditkit.proof.keys import PrivateKey

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
CONTINUED = "continues this one"
CLOSED, BEHIND = "was closed by entry", "an older copy of the log lies here"


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
    pictures: dict[str, str] = field(default_factory=dict)  # SHA-256 -> kept, erased
    closed: bool = False
    is_dirty: bool = False  # erased, and not scrubbed for a kill

    def copy(self):
        made = copy.copy(self)
        made.lines, made.sizes = list(self.lines), set(self.sizes)
        made.people = [replace(one) for one in self.people]
        made.texts, made.gone = dict(self.texts), list(self.gone)
        made.spoken, made.pictures = list(self.spoken), dict(self.pictures)
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
    """What lies in a keys folder: whose key files, and the newest checkpoint.

    ``continued`` is whether a note there names the log that goes on.
    """

    files: dict[str, int] = field(default_factory=dict)
    waiting: dict[str, int] = field(default_factory=dict)
    newest: tuple[int, ...] = ()
    continued: bool = False

    def copy(self):
        return Keys(dict(self.files), dict(self.waiting), self.newest, self.continued)


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
    pictures: set[str] = field(default_factory=set)  # those that lie beside the log

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
        if self.keys.continued:
            return CONTINUED
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


def copy_pictures(source, target):
    """Copy what lies beside a log to another, whatever lies there already."""
    if folder_of(source).exists():
        shutil.copytree(folder_of(source), folder_of(target), dirs_exist_ok=True)


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
