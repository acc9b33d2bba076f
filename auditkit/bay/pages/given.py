"""What a form's files and the order say of an event, so that no person types it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditkit.bay.display_answers import answers_of_display
from auditkit.bay.file_members import file_members
from auditkit.bay.left_empty import OWN
from auditkit.bay.pages.guard import MOST
from auditkit.bay.read_vehicle import raw_text, readout_members
from auditkit.errors import InputError
from auditkit.text.strict_json import parse

if TYPE_CHECKING:
    from auditkit.bay.pages.visit import Visit
    from auditkit.obd import Readout
    from auditkit.order.events import Event
    from auditkit.text.values import Json

KEPT_RAW = "kept_raw"
"""A hidden field: a file's raw text as JSON, which no browser gives other line ends."""
_HOW = {"captured", "tool", "protocol"}


@dataclass(frozen=True, slots=True)
class Given:
    """Members by key that are known, the answers that they leave, pictures to keep."""

    answers: Mapping[str, str]
    known: Mapping[str, Json] = field(default_factory=dict)
    pictures: Mapping[str, bytes] = field(default_factory=dict)


def given(visit: Visit, kind: str, answers: Mapping[str, str], at: str) -> Given:
    """Return what is known of an event of a kind beside what was typed.

    Raises InputError for a file that is not what it should be.
    """
    if kind == "readout" and (read := raw(visit, answers)):
        text, found = read
        last = last_readout(visit)
        said = {n: answers[n] for n in _HOW if answers.get(n)}
        members, _ = readout_members(text, found, at, said, last)
        return Given({}, members)
    if kind == "readout":
        answers = answers_of_display(answers)
    if kind == "attachment" and "sha256" in visit.files:
        name, data = visit.files["sha256"]
        members, pictures = picture_members(name, data)
        return Given(answers, members, pictures)
    if kind in {"readout", "code_clear"} and not answers.get("tool"):
        tool = last_tool(visit)
        return Given(answers, {"tool": tool} if tool else {})
    return Given(answers)


def picture_members(name: str, data: bytes) -> tuple[dict[str, Json], dict[str, bytes]]:
    """Return what is said of a picture, and its bytes to keep, by SHA-256.

    Raises InputError for what is none by its first bytes: a page's files are looked at
    by others.
    """
    members, kept = file_members(data, name)
    if not kept:
        raise InputError(
            "this is neither a JPEG nor a PNG, by its first bytes",
            where=name,
            what_to_do="take a photograph; another file stays where it is, and "
            "'auditkit add ORDER attachment FILE' names it by its digest",
        )
    return members, kept


def last_tool(visit: Visit) -> str:
    """Return with what a person last read the order; never this software itself."""
    last = last_readout(visit)
    tool = last.text("tool") if last else ""
    return "" if tool.startswith(OWN) else tool


def raw(visit: Visit, answers: Mapping[str, str]) -> tuple[str, Readout] | None:
    """Return the raw text that was given as a file or pasted, and what it says."""
    if "raw" in visit.files:
        name, data = visit.files["raw"]
        return raw_text(data, name)
    if kept := answers.get(KEPT_RAW, ""):
        return raw_text(kept_text(kept).encode(), "what was read from the file")
    text = answers.get("raw", "")
    return raw_text(text.encode(), "what was pasted") if text.strip() else None


def last_readout(visit: Visit) -> Event | None:
    """Return the newest readout of the order of a visit; None where there is none."""
    if "order" not in visit.place:
        return None
    earlier = visit.desk.standing(visit.order).so_far.order.of("readout")
    return earlier[-1] if earlier else None


def kept_text(kept: str) -> str:
    """Return the text that a ``KEPT_RAW`` field holds; InputError for no such field."""
    damaged = InputError(
        "the form came back damaged", what_to_do="choose the file again"
    )
    try:
        text = parse(kept, limit=MOST)
    except InputError as error:
        raise damaged from error
    if not isinstance(text, str):
        raise damaged
    return text
