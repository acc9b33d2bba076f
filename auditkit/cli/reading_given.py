"""A vehicle's answers as a file or a pipe gives them, as a readout's raw text."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.bay.read_vehicle import raw_text, readout_members, tool_of
from auditkit.cli import common
from auditkit.cli.ask import at_terminal

if TYPE_CHECKING:
    from auditkit.obd import Readout
    from auditkit.order.events import Event
    from auditkit.text.values import Json


def readout_known(
    path: Path,
    at: str,
    said: Mapping[str, str | None],
    before: Event | None,
) -> tuple[dict[str, Json], Readout, list[str]]:
    """Return the members of a readout from its file, what it says, and what was taken.

    ``-`` is standard input. See ``readout_members`` for the rest.
    """
    if str(path) == "-":
        text, found = raw_text(_piped(), "standard input")
    else:
        text, found = raw_text(common.read(path), str(path))
    said = {**said, "tool": tool_asked(said.get("tool"), before)}
    known, told = readout_members(text, found, at, said, before)
    return known, found, told


def tool_asked(said: str | None, before: Event | None = None) -> str:
    """Return what a readout was read with; asked for where a person sits there."""
    if at_terminal() and not said and not (before and before.text("tool")):
        tool = click.prompt("What was it read with >", prompt_suffix=" ", err=True)
        said = str(tool).strip()
    return tool_of(said, before)


def _piped() -> bytes:
    return sys.stdin.read().encode(errors="surrogateescape")
