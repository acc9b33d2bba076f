"""What several commands share: options, passphrase, files, printing."""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from auditkit.cli.layout import table_lines, wrapped
from auditkit.errors import (
    DecodeError,
    InputError,
    KeyProblem,
    VerificationError,
    disk_advice,
)
from auditkit.reader.file_kind import LOG_HEAD
from auditkit.text.display_text import not_text, printable

if TYPE_CHECKING:
    from auditkit.obd import Readout
    from auditkit.order.catalogue import Catalogue
    from auditkit.order.instruments import RegisteredInstrument
    from auditkit.order.policy import Policy
    from auditkit.order.record import Record
    from auditkit.proof.check_report import JudgedHere
    from auditkit.proof.note import Checkpoint

Command = TypeVar("Command", bound=Callable[..., object])
MAX_FILE = 64 * 1024 * 1024


def plain_text(
    _: click.Context, param: click.Parameter, value: str | None
) -> str | None:
    """Return a parameter's text; InputError where it is not plain text on one line.

    It will stand in entries that screens show. A callback for click.
    """
    if told := not_text(value or "", one_line=True):
        raise InputError(
            told, where=_place(param), what_to_do="write plain text on one line"
        )
    return value


def _place(param: click.Parameter) -> str:
    """Return a parameter as it stands on the command line: --shop, or PERSON."""
    if isinstance(param, click.Option):
        return param.opts[-1]
    return (param.name or "").upper()


@contextmanager
def placed_as_typed(said: Mapping[str, str]) -> Iterator[None]:
    """Name an error's place as the command line does: ``/person`` is PERSON there."""
    try:
        yield
    except InputError as error:
        error.where = said.get(error.where, error.where)
        raise


def log_option(command: Command) -> Command:
    """Add --log to a command."""
    return click.option(
        "--log",
        "log",
        type=click.Path(path_type=Path),
        default="shop.auditlog",
        envvar="AUDITKIT_LOG",
        show_default=True,
        show_envvar=True,
        help="The shop's log file.",
    )(command)


def format_option(command: Command) -> Command:
    """Add --format to a command."""
    return click.option(
        "--format",
        "form",
        type=click.Choice(["text", "json"]),
        default="text",
        show_default=True,
        help="How to print the result.",
    )(command)


def tell_overstated(judged: JudgedHere | None, where: str) -> None:
    """Raise VerificationError where the shop signed better than is judged here."""
    if judged is not None and not judged.agrees:
        raise VerificationError(
            judged.compared,
            where=where,
            what_to_do="'auditkit verify' says what is open: close it, close the order "
            "again, and make this anew",
        )


def policy_option(command: Command) -> Command:
    """Add --policy to a command."""
    return click.option(
        "--policy",
        "policy_file",
        type=click.Path(path_type=Path),
        envvar="AUDITKIT_POLICY",
        show_envvar=True,
        help="A policy (TOML): which rules run, how severe, with which parameters. "
        "A shop's commands take policy.toml beside the log by themselves.",
    )(command)


def passphrase_option(command: Command) -> Command:
    """Add --passphrase-file to a command."""
    return click.option(
        "--passphrase-file",
        type=click.Path(path_type=Path),
        help="A file whose first line is the passphrase of your key; otherwise "
        "AUDITKIT_PASSPHRASE, otherwise it is asked for. Where the log's key has "
        "another: AUDITKIT_LOG_PASSPHRASE, otherwise that is asked for.",
    )(command)


def read(path: Path) -> bytes:
    """Return a file's bytes; one clear error where it cannot be read, or is a log.

    It is read once: a pipe will do.
    """
    try:
        with path.open("rb") as file:
            data = file.read(MAX_FILE + 1)
    except FileNotFoundError as error:
        raise InputError(
            "there is no such file", where=str(path), what_to_do="check the path"
        ) from error
    except IsADirectoryError as error:
        raise InputError(
            "this is a folder", where=str(path), what_to_do="name a file in it"
        ) from error
    except PermissionError as error:
        raise InputError(
            "it may not be read",
            where=str(path),
            what_to_do="check the rights of the file",
        ) from error
    if len(data) > MAX_FILE:
        raise InputError(
            f"the file is longer than {MAX_FILE} bytes",
            where=str(path),
            what_to_do="name another file",
        )
    if data.startswith(LOG_HEAD):
        raise InputError(
            "this is a log, or a part of one",
            where=str(path),
            what_to_do="leave it as it is, and name the file that is asked for",
        )
    return data


def read_record(path: Path, catalogue: Catalogue, data: bytes | None = None) -> Record:
    """Return the repair record in a file, with the pictures beside it that it names.

    ``data`` is what the file holds, where it was read already.
    """
    from auditkit.order.record import parse_record

    def beside(name: str) -> bytes:
        return read(path.parent / name)

    text = read(path) if data is None else data
    return parse_record(text, catalogue, where=str(path), beside=beside)


def read_text(path: Path) -> str:
    """Return a file's text; one clear error where it is not UTF-8 text."""
    return as_text(read(path), path)


def as_text(data: bytes, path: Path) -> str:
    """Return the text that a file's bytes are; the same error where they are none."""
    try:
        return data.decode()
    except UnicodeDecodeError as error:
        raise InputError(
            f"this is not text: byte {error.start} is not UTF-8",
            where=str(path),
            what_to_do="name a text file, saved as UTF-8",
        ) from error


def decoded(text: str, path: Path) -> Readout:
    """Return what the vehicle said in a file's text; an error names the file."""
    from auditkit.obd import decode

    try:
        return decode(text)
    except DecodeError as error:
        raise InputError(
            error.message,
            where=str(path),
            what_to_do=f"{error.what_to_do}; out of a longer CAN log 'auditkit capture "
            "--from-log FILE --out READOUT' takes what the vehicle answered",
        ) from error


def instruments_option(command: Command) -> Command:
    """Add --instruments to a command; it comes as ``register``."""
    return click.option(
        "--instruments",
        "register",
        type=click.Path(path_type=Path),
        envvar="AUDITKIT_INSTRUMENTS",
        show_envvar=True,
        help="The shop's register of instruments: its JSON, or a table as CSV; "
        "instruments.json or instruments.csv beside the log is taken by itself.",
    )(command)


def read_register(path: Path | None) -> dict[str, RegisteredInstrument]:
    """Return the register of instruments in a file; an empty one where none is.

    It is the register's JSON, or a table of it as CSV.
    """
    from auditkit.order.instruments import parse_register
    from auditkit.order.instruments_table import parse_table

    if path is None:
        return {}
    if path.suffix.lower() == ".csv":
        return parse_table(read_text(path), where=str(path))
    return parse_register(read(path), where=str(path))


def read_policy(path: Path | None) -> Policy:
    """Return the policy of a file, or the built-in one."""
    from auditkit.order.policy import DEFAULT, parse_policy

    return DEFAULT if path is None else parse_policy(read_text(path), where=str(path))


def passphrase(
    file: Path | None, *, new: bool = False, asking: str = "Passphrase"
) -> bytes:
    """Return the passphrase from a file, the environment or the terminal."""
    if file is not None:
        found = read_text(file).partition("\n")[0].strip()
    elif "AUDITKIT_PASSPHRASE" in os.environ:
        found = os.environ["AUDITKIT_PASSPHRASE"]
    elif sys.stdin.isatty():
        found = click.prompt(asking, hide_input=True, confirmation_prompt=new)
    else:
        raise KeyProblem(
            "no passphrase was given",
            what_to_do="set AUDITKIT_PASSPHRASE, or use --passphrase-file",
        )
    if not found:
        raise KeyProblem(
            "the passphrase is empty", what_to_do="give one of some length"
        )
    return told_if_short(found.encode()) if new else found.encode()


def told_if_short(word: bytes) -> bytes:
    """Return a new passphrase; say so where it is soon guessed."""
    from auditkit.log.key_files import SHORTEST_PASSPHRASE

    if len(word) < SHORTEST_PASSPHRASE:
        # A log that is continued may have been begun under a short one: no refusal.
        said = f"auditkit: the passphrase is {len(word)} bytes long: whoever copies "
        said += f"the keys guesses it; choose one of at least {SHORTEST_PASSPHRASE}"
        say(said, err=True)
    return word


def refuse_existing(path: Path) -> None:
    """Raise InputError for a path where a file lies already, or a link to nowhere."""
    if path.is_symlink() or path.exists():
        raise InputError(
            "this file exists already",
            where=str(path),
            what_to_do="choose another name",
        )


def refuse_other_log(stated: Checkpoint, origin: str, path: Path) -> None:
    """Raise InputError for a checkpoint that is not of this log, or of no entry."""
    what_to_do = "give one of this log, as 'auditkit checkpoint' or 'receipt' wrote it"
    if stated.origin != origin:
        raise InputError(
            f"this is of another log, {stated.origin}; this log is {origin}",
            where=str(path),
            what_to_do=what_to_do,
        )
    if stated.size == 0:
        raise InputError(
            "this is of a log that held no entry yet: nothing can be held to it",
            where=str(path),
            what_to_do=what_to_do,
        )


def write_new(path: Path, data: str | bytes) -> None:
    """Write a file whole or not at all; never over an existing one.

    Raises InputError, with the file's name, where it cannot be written.
    """
    refuse_existing(path)
    # Opened anew: what lies there, or where a link leads, is not ours to write over.
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data.encode() if isinstance(data, str) else data)
            refuse_existing(path)
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        raise InputError(
            f"it cannot be written: {error.strerror or error}",
            where=str(path),
            what_to_do=disk_advice(error),
        ) from error


def width(*, err: bool = False) -> int | None:
    """Return the terminal's columns, None where the output is no terminal."""
    stream = sys.stderr if err else sys.stdout
    is_terminal = stream is not None and stream.isatty()
    return shutil.get_terminal_size().columns if is_terminal else None


def say(text: str, *, err: bool = False) -> None:
    """Print text for people, wrapped on a terminal; it cannot control one."""
    columns = width(err=err)
    for line in map(printable, text.split("\n")):
        for piece in [line] if columns is None else wrapped(line, columns):
            click.echo(piece, err=err)


def print_lines(lines: Iterable[str]) -> None:
    """Print lines of text, wrapped where they go to a terminal."""
    for line in lines:
        say(line)


def print_exactly(text: str) -> None:
    """Print a text that is signed, or holds signed text, byte for byte."""
    click.echo(text.encode(), nl=False)


class FilePath(click.Path):
    """A path that was given: an empty one is an error, not this folder."""

    def convert(
        self,
        value: str | os.PathLike[str],
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> str | bytes | os.PathLike[str]:
        """Return the path; raise InputError for an empty one."""
        if value == "":
            raise InputError(
                "an empty path was given",
                what_to_do="name a file, and look at the variable",
            )
        return super().convert(value, param, ctx)


def print_table(rows: Sequence[Sequence[str]]) -> None:
    """Print rows in columns; on a terminal the last column wraps in its own place."""
    cells = [[printable(cell) for cell in row] for row in rows]
    for line in table_lines(cells, width()):
        click.echo(line)


def print_json(value: object) -> None:
    """Print a value as JSON."""
    click.echo(json.dumps(value, ensure_ascii=False, indent=2))
