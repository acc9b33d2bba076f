"""One thing that a person is asked, as plain values that every face draws. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from auditkit.bench.units import QuantityKind

Path = tuple[str, ...]
"""Names that lead into an event; of a field in a list's row, from that row on."""


HOW = "how"
"""Last name of a path under which is answered in which of its forms something is given;
no event holds it."""


class FieldKind(StrEnum):
    """How an answer is given; each is a text.

    quantity: ``18.0 inHg``, ``over 40 Mohm``. yes: ``yes`` or ``no``. time: a time of
    the day, or RFC 3339. list: rows, each with its ``fields``. file: the face reads a
    file, and answers with what belongs there: its text, or its digest.
    """

    TEXT = "text"
    AREA = "area"
    CHOICE = "choice"
    NUMBER = "number"
    QUANTITY = "quantity"
    YES = "yes"
    TIME = "time"
    LIST = "list"
    FILE = "file"


class ComesFrom(StrEnum):
    """Who fills a property.

    person: nobody else can. readout, register, before: known from there perhaps, and
    then a person may change it. clock, log, computed: never asked.
    """

    PERSON = "person"
    CLOCK = "clock"
    LOG = "log"
    READOUT = "readout"
    REGISTER = "register"
    COMPUTED = "computed"
    BEFORE = "before"


NEVER_ASKED = frozenset({ComesFrom.CLOCK, ComesFrom.LOG, ComesFrom.COMPUTED})


@dataclass(frozen=True, slots=True)
class When:
    """A field is asked only where the one at ``path`` was answered with a value.

    The empty text among ``values``: where it was not answered.
    """

    path: Path
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Field:
    """One thing that is asked.

    ``choices`` are (value, words); ``units`` (unit, sign), those that are offered, the
    preferred first. Any unit of one of the ``kinds`` of quantity will do, or without
    those any at all. ``group`` is the title under which it is folded away, or
    None. ``fields`` are those of a list's row: one with an empty path where a row is a
    plain value; ``least`` is how many rows it needs. A text is of the form ``pattern``
    and at most ``longest`` characters long, where those say something. Of a list
    ``by_name`` the rows become members: name -> value. An ``inline`` quantity has its
    members beside the others, not below them. What ``repeats`` may be read again:
    KEY.1, KEY.2. A time is ``timed`` from when the field of the first key is answered
    until that of the second. A quantity may lie ``beyond`` what its display shows: over
    its range, or below the least that it shows. A unit ``follows`` that of a reading:
    (what is limited or read, or empty for what is first; key of the reading's unit). Of
    its choices or units, or of the choices of a list's first field, the first ``ahead``
    stand in sight; 0 where nothing is known of that. ``lacks`` says what is lacking
    where one that is not required is left empty.
    """

    path: Path
    label: str
    help: str = ""
    kind: FieldKind = FieldKind.TEXT
    choices: tuple[tuple[str, str], ...] = ()
    units: tuple[tuple[str, str], ...] = ()
    kinds: tuple[QuantityKind, ...] = ()
    required: bool = False
    comes_from: ComesFrom = ComesFrom.PERSON
    when: When | None = None
    group: str | None = None
    fields: tuple[Field, ...] = ()
    least: int = 0
    pattern: str = ""
    longest: int = 0
    by_name: bool = False
    inline: bool = False
    repeats: bool = False
    timed: tuple[str, ...] = ()
    beyond: bool = False
    follows: tuple[tuple[str, str], ...] = ()
    ahead: int = 0
    lacks: str = ""

    @property
    def key(self) -> str:
        """Under which it is answered: its path, written with dots."""
        return ".".join(self.path)

    def within(self, path: Path) -> Field:
        """Return the same field of what lies at ``path``."""
        when = self.when and When((*path, *self.when.path), self.when.values)
        return replace(self, path=(*path, *self.path), when=when)

    def is_due(self, answers: Mapping[str, str]) -> bool:
        """Return whether it is asked, by what was answered so far."""
        if self.when is None:
            return True
        return answers.get(".".join(self.when.path), "") in self.when.values


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong with an answer, and what to do; ``path`` is its field's.

    ``label`` is the field's too, where it is known. One that ``is_missing`` was not
    answered, and is needed.
    """

    path: Path
    message: str
    what_to_do: str
    label: str = ""
    is_missing: bool = False
