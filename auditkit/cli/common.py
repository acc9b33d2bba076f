"""What several commands share: options, passphrase, files, printing."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from auditkit.errors import InputError, KeyProblem

if TYPE_CHECKING:
    from auditkit.instruments import Registered
    from auditkit.obd import Readout
    from auditkit.policy import Policy
    from auditkit.security_token import TokenKey

Command = TypeVar("Command", bound=Callable[..., object])
MAX_FILE = 64 * 1024 * 1024


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


def policy_option(command: Command) -> Command:
    """Add --policy to a command."""
    return click.option(
        "--policy",
        "policy_file",
        type=click.Path(path_type=Path),
        envvar="AUDITKIT_POLICY",
        show_envvar=True,
        help="A policy (TOML): which rules run, how severe, with which parameters.",
    )(command)


def passphrase_option(command: Command) -> Command:
    """Add --passphrase-file to a command."""
    return click.option(
        "--passphrase-file",
        type=click.Path(path_type=Path),
        help="A file whose first line is the passphrase of the keys; otherwise "
        "AUDITKIT_PASSPHRASE, otherwise it is asked for.",
    )(command)


def read(path: Path) -> bytes:
    """Return a file's bytes; one clear error where it cannot be read."""
    try:
        if path.stat().st_size > MAX_FILE:
            message = f"the file is longer than {MAX_FILE} bytes"
            raise InputError(message, where=str(path), mend="name another file")
        return path.read_bytes()
    except FileNotFoundError as error:
        message = "there is no such file"
        raise InputError(message, where=str(path), mend="check the path") from error
    except IsADirectoryError as error:
        message = "this is a folder"
        raise InputError(message, where=str(path), mend="name a file in it") from error


def read_text(path: Path) -> str:
    """Return a file's text; one clear error where it is not UTF-8 text."""
    try:
        return read(path).decode()
    except UnicodeDecodeError as error:
        message = f"this is not text: byte {error.start} is not UTF-8"
        mend = "name a text file, saved as UTF-8"
        raise InputError(message, where=str(path), mend=mend) from error


def instruments_option(command: Command) -> Command:
    """Add --instruments to a command; it comes as ``register``."""
    return click.option(
        "--instruments",
        "register",
        type=click.Path(path_type=Path),
        envvar="AUDITKIT_INSTRUMENTS",
        show_envvar=True,
        help="The shop's register of instruments.",
    )(command)


def read_register(path: Path | None) -> dict[str, Registered]:
    """Return the register of instruments in a file; an empty one where none is."""
    from auditkit.instruments import parse_register

    return {} if path is None else parse_register(read(path), where=str(path))


def read_readout(path: Path) -> Readout:
    """Return what the vehicle said in a file; one clear error where it said nothing."""
    from auditkit.obd import decode

    found = decode(read_text(path))
    if not found.responders:
        message = "no answer of a vehicle was found in this file"
        mend = "name a readout, as 'auditkit capture' writes it"
        raise InputError(message, where=str(path), mend=mend)
    return found


def read_policy(path: Path | None) -> Policy:
    """Return the policy of a file, or the built-in one."""
    from auditkit.policy import DEFAULT, parse_policy

    return DEFAULT if path is None else parse_policy(read_text(path), where=str(path))


def passphrase(file: Path | None, *, new: bool = False) -> bytes:
    """Return the passphrase from a file, the environment or the terminal."""
    if file is not None:
        found = read_text(file).partition("\n")[0].strip()
    elif "AUDITKIT_PASSPHRASE" in os.environ:
        found = os.environ["AUDITKIT_PASSPHRASE"]
    elif sys.stdin.isatty():
        found = click.prompt("Passphrase", hide_input=True, confirmation_prompt=new)
    else:
        message = "no passphrase was given"
        mend = "set AUDITKIT_PASSPHRASE, or use --passphrase-file"
        raise KeyProblem(message, mend=mend)
    if not found:
        message = "the passphrase is empty"
        raise KeyProblem(message, mend="give one of some length")
    return found.encode()


def token_key(uri: str) -> TokenKey:
    """Return the key that a PKCS#11 URI names; make it where the token holds none."""
    from auditkit.security_token import NoKey, TokenKey, make_key, parse_uri

    parse_uri(uri)
    pin = os.environ.get("AUDITKIT_PIN", "")
    if not pin and sys.stdin.isatty():
        pin = click.prompt("PIN of the token", hide_input=True)
    if not pin:
        message = "no PIN was given for the token"
        raise KeyProblem(message, mend="set AUDITKIT_PIN")
    try:
        return TokenKey.open(uri, pin.encode())
    except NoKey:
        return make_key(uri, pin.encode())


def refuse_existing(path: Path) -> None:
    """Raise InputError for a path where a file lies already."""
    if path.exists():
        message = "this file exists already"
        raise InputError(message, where=str(path), mend="choose another name")


def write_new(path: Path, data: str | bytes) -> None:
    """Write a file whole or not at all; never over an existing one."""
    refuse_existing(path)
    # Opened anew: what lies there, or where a link leads, is not ours to write over.
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    with os.fdopen(handle, "wb") as file:
        file.write(data.encode() if isinstance(data, str) else data)
    part.replace(path)


def print_lines(lines: Iterable[str]) -> None:
    """Print lines of text."""
    for line in lines:
        click.echo(line)


def print_json(value: object) -> None:
    """Print a value as JSON."""
    click.echo(json.dumps(value, ensure_ascii=False, indent=2))
