"""The frames of a text log, and every line that should be one and is not.

python-can's readers skip or stumble over lines that they do not know. So each line that
a reader takes is watched: it gives a frame, or it is known to hold none, or it is a
problem. Where the reader fails, reading goes on after that line.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING

from auditkit.capture.tally import BAD, Tally

if TYPE_CHECKING:
    from can import Message


@dataclass(frozen=True, slots=True)
class TextLogForm:
    """How a text log is written.

    A line that ``head`` matches belongs to what each reading needs first, and ``first``
    ends that; ``comment`` and ``event`` match lines that hold no frame, and an event is
    counted. Other lines that give no frame are problems.
    """

    reader: str
    head: re.Pattern[str]
    comment: re.Pattern[str]
    event: re.Pattern[str]
    first: str = ""


def _pattern(text: str) -> re.Pattern[str]:
    return re.compile(text, re.IGNORECASE)


_NEVER = _pattern("(?!)")
FORMS = {
    ".log": TextLogForm("CanutilsLogReader", _NEVER, _pattern("[#;]"), _NEVER),
    ".csv": TextLogForm(
        "CSVReader", _NEVER, _pattern("#|timestamp,"), _NEVER, "timestamp,...\n"
    ),
    ".trc": TextLogForm(
        "TRCReader",
        _pattern(";"),
        _pattern(";"),
        # A status, an error, an event or counters instead of a frame.
        _pattern(
            r"[0-9]+\)?\s+[0-9.]+\s+"
            r"(?:(?:[0-9]+\s+)?(?:ST|EC|ER|EV|Warng|Error)\b|FFFFFFFF)"
        ),
    ),
    ".asc": TextLogForm(
        "ASCReader",
        _pattern("date |base "),
        _pattern(r"//|(?:no\s+)?internal events|(?:begin|end)\s+triggerblock"),
        # No time, a time and no channel, or a channel and a word that is no id.
        _pattern(
            r"(?![0-9]+\.[0-9])|[0-9.]+\s+(?:start of meas|(?![0-9]+\s|CANFD\b)\S)"
            r"|[0-9.]+\s+[0-9]+\s+(?![0-9A-F]+x?(?:\s|$)|ErrorF)\S"
        ),
        "no internal events logged\n",
    ),
}
"""The ending of a file name -> how the log is written."""


class _Source:
    """Lines for a reader: the head again, then the file from where it stands."""

    def __init__(self, head: list[str], lines: Iterator[tuple[int, str]]) -> None:
        self.taken: list[tuple[int, str]] = []
        self.count = 0
        self.lines = self._flow(head, lines)

    def _flow(self, head: list[str], lines: Iterator[tuple[int, str]]) -> Iterator[str]:
        yield from filter(None, head)
        for number, line in lines:
            self.count += 1
            self.taken.append((number, line))
            yield line

    def __iter__(self) -> Iterator[str]:
        return self.lines

    def __next__(self) -> str:
        return next(self.lines)

    def close(self) -> None:
        """Do nothing: a reader closes what it has read."""


def frames(data: bytes, suffix: str, found: Tally) -> Iterator[Message]:
    """Yield the frames of a text log; lines that should be one and are not are told."""
    form = FORMS[suffix]
    rows = list(io.StringIO(_text(data, found), newline=None))
    if rows and not rows[-1].endswith("\n"):
        found.problem(f"line {len(rows)} has no end: the file may be cut short")
    head, body = _parted(rows, form)
    if suffix == ".trc":
        _numbering(body, found)
    if suffix == ".asc":
        _blocks(rows, found)
        found.notes.append("times count from the start of the log")
    lines = iter(body)
    while (line := next(lines, None)) is not None:
        source = _Source([*head, form.first], chain([line], lines))
        yield from _reading(source, form, found)
        if not source.count:
            found.problem("the head of the log cannot be read")
            return


def _reading(source: _Source, form: TextLogForm, found: Tally) -> Iterator[Message]:
    """Yield frames until the reader stumbles or the file ends."""
    import can

    reader = getattr(can, form.reader)
    try:
        for frame in reader(source):
            _passed_over(source.taken[:-1], form, found)
            source.taken.clear()
            yield frame
    except BAD:
        pass  # the line that it stumbled over is the last one taken, and told below
    _passed_over(source.taken, form, found)


def _text(data: bytes, found: Tally) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found.notes.append(f"line {line} is not UTF-8; the file was read as Latin-1")
        return data.decode("latin-1")


def _parted(
    rows: list[str], form: TextLogForm
) -> tuple[list[str], list[tuple[int, str]]]:
    """Return the head's lines, and the other lines that are not blank, numbered."""
    head: list[str] = []
    body: list[tuple[int, str]] = []
    for number, row in enumerate(rows, start=1):
        if not body and form.head.match(row):
            head.append(row)
        elif row.strip() and not form.comment.match(row.strip()):
            body.append((number, row))
    return head, body


def _passed_over(taken: list[tuple[int, str]], form: TextLogForm, found: Tally) -> None:
    for number, line in taken:
        if form.event.match(line.strip()):
            found.counts["lines of other kinds than frames"] += 1
        else:
            found.problem(f"line {number} is no frame: {line.strip()[:40]!r}")


def _numbering(body: list[tuple[int, str]], found: Tally) -> None:
    """Check that the numbers with which a TRC's lines begin follow each other."""
    last = None
    for number, line in body:
        digits = re.match(r"\s*([0-9]+)\)?\s", line)
        if digits is None:
            continue
        its = int(digits[1])
        if last is not None and its != last + 1:
            found.problem(f"line {number} is message {its}, after message {last}")
        last = its


def _blocks(rows: list[str], found: Tally) -> None:
    """Check that each block of an ASC that begins also ends."""
    begun = ended = 0
    for row in rows:
        low = row.strip().lower()
        begun += low.startswith("begin triggerblock")
        ended += low.startswith("end triggerblock")
    if begun != ended:
        found.problem(f"{begun} blocks begin and {ended} end: the file is cut short")
