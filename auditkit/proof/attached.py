"""Files that events name by their SHA-256: an attachment, or one corrected to it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

from auditkit.text.values import Json

ATTACHMENT = "attachment"
KINDS = (ATTACHMENT, "amendment")
"""The kinds of event that may name one."""
_SHA256 = re.compile("[0-9a-f]{64}")


FileState = Literal["carried", "erased", "elsewhere"]


@dataclass(frozen=True, slots=True)
class NamedFile:
    """A file that entry ``seq`` of a packet names, and whether the packet carries it.

    Of an erased one, ``erased_by`` is the entry that says so. One that is *elsewhere*
    may lie with the shop, or be lost; only the shop can tell.
    """

    seq: int
    sha256: str
    size: int
    state: FileState
    erased_by: int | None = None

    def to_json(self) -> dict[str, Json]:
        """Return it as ``verify --format json`` prints it."""
        return {
            "seq": self.seq,
            "sha256": self.sha256,
            "size": self.size,
            "state": self.state,
            "erased_by": self.erased_by,
        }


class AttachedFile(NamedTuple):
    """A file as an event names it; ``kept`` where its bytes were put beside the log."""

    sha256: str
    size: int
    kept: bool


def attached_file(event: Mapping[str, Json]) -> AttachedFile | None:
    """Return the file that an event names, itself or as what it corrects to."""
    if event.get("kind") == "amendment":
        inner = event.get("event")
        event = inner if isinstance(inner, dict) else {}
    digest, size = event.get("sha256"), event.get("size")
    if (
        event.get("kind") == ATTACHMENT
        and isinstance(digest, str)
        and _SHA256.fullmatch(digest)
        and type(size) is int
    ):
        return AttachedFile(digest, size, event.get("kept") is True)
    return None
