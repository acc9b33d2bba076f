"""Many readouts held against each other: ``readiness`` with several files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.cli import common
from auditkit.cli.given_readouts import readouts_in
from auditkit.errors import AuditkitError, InputError
from auditkit.inspection.look_alikes import look_alikes
from auditkit.inspection.pre_test_marks import (
    PreTestMarks,
    is_pre_test_record,
    marks_of_readout,
    marks_of_record,
)
from auditkit.text.display_text import plural

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from auditkit.inspection.look_alikes import LookAlike

_NOT_A_VERDICT = (
    "A question accuses nobody: a replaced module, a file given twice or a repair in "
    "between may answer it."
)


def hold_against_each_other(paths: Sequence[Path], form: str) -> None:
    """Print what is to be asked about readouts of several files, and end with a status.

    Exit status 1 where something is, 2 where a file could not be read.
    """
    every: list[PreTestMarks] = []
    unread: list[str] = []
    for path in _files(paths):
        try:
            every += _readouts(path)
        except AuditkitError as error:
            unread.append(str(error))
    found = look_alikes(every)
    if form == "json":
        common.print_json(
            {
                "readouts": [one.place for one in every],
                "unread": unread,
                "questions": [one.to_json() for one in found],
            }
        )
    else:
        common.print_lines(_lines(every, found, unread))
    if unread or found:
        raise click.exceptions.Exit(2 if unread else 1)


def refuse_options_of_one(ctx: click.Context) -> None:
    """Raise InputError for an option that says something of one vehicle."""
    both = {"readouts", "form"}
    for param in ctx.command.params:
        source = ctx.get_parameter_source(param.name or "")
        if param.name in both or source is not click.core.ParameterSource.COMMANDLINE:
            continue
        raise InputError(
            "several readouts are held against each other, and this is about one",
            where=param.opts[-1],
            what_to_do="name one readout, or leave it out",
        )


def _files(paths: Sequence[Path]) -> Iterator[Path]:
    for path in paths:
        if not path.is_dir():
            yield path
            continue
        inner = [p for p in sorted(path.iterdir()) if p.is_file() and p.name[0] != "."]
        if not inner:
            raise InputError(
                "there is no file in this folder",
                where=str(path),
                what_to_do="name a folder of readouts, their records, or packets",
            )
        yield from inner


def _readouts(path: Path) -> Iterator[PreTestMarks]:
    data = common.read(path)
    if is_pre_test_record(data):
        yield marks_of_record(data, str(path))
        return
    file = readouts_in(path, data, may_be_silent=True)
    vin = file.order.vehicle("vin") if file.order is not None else ""
    for one in file.readouts:
        place = one.place if file.order is None else f"{path}: {one.place}"
        yield marks_of_readout(one.readout, one.raw, place, str(path), vin)


def _lines(
    every: Sequence[PreTestMarks],
    found: Sequence[LookAlike],
    unread: Sequence[str],
) -> Iterator[str]:
    vins = {one.vehicle for one in every} - {""}
    many = plural(len(every), "readout", "readouts")
    asked = plural(len(found), "question", "questions") if found else "nothing to ask"
    yield f"{many} of {plural(len(vins), 'VIN', 'VINs')}: {asked}."
    for one in found:
        yield f"? {one.question}"
        yield from (f"    {place}" for place in one.places)
        yield f"    what to do: {one.what_to_do}"
    yield from (f"not read: {why}" for why in unread)
    if found:
        yield _NOT_A_VERDICT
