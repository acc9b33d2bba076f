"""The page's Python: takes what the page's script hands over, and answers.

It runs in the browser, on CPython built for WebAssembly. Script and Python share files
of the runtime's memory and nothing else: ``/request`` (JSON), ``/file``, ``/asked`` and
``/told`` (``auditkit.reader.page.questions``), ``/answer`` and ``/story`` (JSON),
``/packet``. It reads no clock and no other file.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError, InputError
from auditkit.proof.note import checkpoint_text
from auditkit.proof.packet import MAX_PACKET
from auditkit.proof.receipt import as_written, is_receipt
from auditkit.reader.file_kind import GivenFile, packet_in
from auditkit.reader.page.answer import PageAnswer, answer_to, unusable
from auditkit.reader.page.draw import answer_node, judged_nodes, paper_nodes
from auditkit.reader.page.markup import to_json
from auditkit.reader.page.questions import questions
from auditkit.reader.read_packet import (
    Expectations,
    check_packet,
    expectations,
    fingerprint,
)
from auditkit.text.display_text import first_large

if TYPE_CHECKING:
    from auditkit.proof.check_report import CheckReport
    from auditkit.text.values import Json

_KEPT = "what you kept"
_NOTHING = "Nothing was checked."
_PUT = "It was put into its field. Now open the packet."
_IS_RECEIPT = "This is a receipt."
_NO_FILE = "Choose a packet file first."


@dataclass(slots=True)
class DeskTurn:
    """One request and what came of it so far.

    ``keep`` is a text that belongs into the page's field, ``said`` what is announced.
    """

    name: str | None
    data: bytes
    size: int
    typed: str
    kept: str
    errors: dict[str, str] = field(default_factory=dict)
    keep: str | None = None
    said: str = ""
    answer: PageAnswer | None = None
    report: CheckReport | None = None
    packet: bytes = b""
    is_carried: bool = False

    def work(self) -> None:
        """Come to an answer, as far as is known which signatures fit."""
        self.errors = {"key": "", "kept": ""}
        self.answer = self.report = None
        key = self._key()
        receipt, trust = self._held()
        if any(self.errors.values()):
            return
        self._put_right(receipt)
        if self.name is None:
            self.said = _NO_FILE if self.keep is None else f"{_IS_RECEIPT} {_PUT}"
            return
        wanted = expectations(expect_key=key, trust=trust, receipt=receipt)
        given = GivenFile("", self.data)
        if self._is_to_keep(given):
            return
        compared = "your receipt names" if receipt else ""
        try:
            self._check(given, wanted, "you gave" if key else compared)
        except AuditkitError as error:
            self.answer = unusable(error)
        if self.answer is not None:
            self.said = self.answer.word

    def _key(self) -> str | None:
        typed = re.sub(r"\s", "", self.typed)
        if not typed:
            return None
        try:
            return fingerprint(typed)
        except InputError as error:
            self.errors["key"] = f"{first_large(error.message)}. {_NOTHING}"
            return None

    def _held(self) -> tuple[GivenFile | None, GivenFile | None]:
        """Return the receipt or the checkpoint that the reader kept."""
        if not self.kept.strip():
            return None, None
        # A scanner or a copy may lose the last line's end.
        text = f"{self.kept.rstrip()}\n"
        given = GivenFile(_KEPT, text.encode(errors="replace"))
        try:
            if is_receipt(text):
                expectations(receipt=given)
                return given, None
            checkpoint_text(text, where=_KEPT)
        except AuditkitError as error:
            if is_receipt(text):
                why = f"This is no receipt as it was handed over: {error.message}."
            else:
                why = "This is no receipt and no checkpoint."
            self.errors["kept"] = f"{why} {_NOTHING}"
            return None, None
        return None, given

    def _put_right(self, receipt: GivenFile | None) -> None:
        """Put a receipt that was copied or came with an address right, in its field."""
        if receipt is not None and (text := as_written(receipt.text())) != self.kept:
            self.keep = text

    def _is_to_keep(self, given: GivenFile) -> bool:
        """Put a receipt or a checkpoint that was opened as a file into its field."""
        try:
            text = given.text()
            if is_receipt(text):
                expectations(receipt=given)
                text = as_written(text)
                what = _IS_RECEIPT
            else:
                checkpoint_text(text, where="")
                what = "This is a checkpoint."
        except AuditkitError:
            return False
        self.keep, self.said = text, f"{what} {_PUT}"
        return True

    def _check(self, given: GivenFile, wanted: Expectations, compared: str) -> None:
        if self.size > MAX_PACKET:
            raise InputError(
                f"the file is longer than {MAX_PACKET} bytes",
                what_to_do="open another file",
            )
        taken = packet_in(given)
        self.packet, self.is_carried = taken.packet.data, bool(taken.note)
        notes = (*((taken.note,) if taken.note else ()), *wanted.notes)
        self.report = check_packet(taken.packet, wanted).with_more((), notes)
        self.answer = answer_to(self.report, compared=compared)

    def to_json(self) -> dict[str, Json]:
        """Return what the page's script draws at once."""
        drawn: list[Json] = []
        if self.answer is not None:
            nodes = [
                answer_node(self.answer, self.report),
                *paper_nodes(self.report),
                *judged_nodes(self.answer),
            ]
            drawn = [*map(to_json, nodes)]
        return {
            "drawn": drawn,
            "errors": dict(self.errors),
            "keep": self.keep,
            "said": self.said,
            "saves": self.is_carried and self.answer is not None,
        }

    def story(self) -> list[Json]:
        """Return what the page's script draws next; empty where nothing holds."""
        report = self.report
        if report is None or not report.verified or report.packet is None:
            return []
        from auditkit.bench import KINDS
        from auditkit.reader.page.tell import story_nodes

        nodes = story_nodes(report.packet, report, KINDS)
        return [*map(to_json, nodes)]


def _read(name: str) -> bytes:
    with open(f"/{name}", "rb") as file:  # noqa: PTH123  pathlib takes long to load
        return file.read()


def _write(name: str, data: bytes) -> None:
    with open(f"/{name}", "wb") as file:  # noqa: PTH123
        file.write(data)


_turn: DeskTurn | None = None


def begin() -> None:
    """Take in a request."""
    global _turn  # noqa: PLW0603  the script calls functions, one request at a time
    request = json.loads(_read("request"))
    _turn = DeskTurn(
        name=request["name"],
        data=_read("file"),
        size=request["size"],
        typed=request["key"],
        kept=request["kept"],
    )
    questions.waiting.clear()
    _turn.work()


def turn() -> None:
    """Ask whether signatures fit, or answer; ``/asked`` is empty with the answer."""
    if _turn is None:
        return
    asked_for = questions.asked()
    _write("asked", asked_for)
    if not asked_for:
        _write("answer", json.dumps(_turn.to_json()).encode())
        _write("packet", _turn.packet if _turn.is_carried else b"")


def told() -> None:
    """Take in whether signatures fit; work again where one does not."""
    was_wrong = questions.told(_read("told"))
    if was_wrong and _turn is not None:
        _turn.work()


def story() -> None:
    """Write the story of the packet that was answered about."""
    told_of = [] if _turn is None else _turn.story()
    _write("story", json.dumps(told_of).encode())
