"""A vehicle's answers as a file or a pipe gives them, as a readout's raw text."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.bay.read_vehicle import raw_text, readout_members
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
    if at_terminal() and not said.get("tool") and not (before and before.text("tool")):
        tool = click.prompt("What was it read with >", prompt_suffix=" ", err=True)
        said = {**said, "tool": str(tool).strip()}
    known, told = readout_members(text, found, at, said, before)
    return known, found, told


def _piped() -> bytes:
    return sys.stdin.read().encode(errors="surrogateescape")
