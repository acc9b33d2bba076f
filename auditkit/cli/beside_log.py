"""A shop's own policy and register of instruments, where they lie beside its log.

What a shop records and closes takes them without being told to. It is said where an
order is judged, not at each step of the bay. A reader never does: a packet is judged by
the reader's own policy.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from auditkit.cli import common
from auditkit.errors import InputError
from auditkit.text.display_text import printable

if TYPE_CHECKING:
    from auditkit.order.instruments import RegisteredInstrument
    from auditkit.order.policy import Policy

POLICY = "policy.toml"
REGISTERS = ("instruments.json", "instruments.csv")


def policy_of(log: Path, given: Path | None, *, is_said: bool = True) -> Policy:
    """Return the policy that was given, else the one beside a log, else the default.

    Where one is taken from beside the log, and judges otherwise than the default, that
    ``is_said``.
    """
    from auditkit.order.policy import DEFAULT

    path = policy_path(log, given)
    found = common.read_policy(path)
    if is_said and found != DEFAULT:
        say_taken(path, given, "--policy")
    return found


def policy_path(log: Path, given: Path | None) -> Path | None:
    """Return the file of the policy that was given or lies beside a log, if any."""
    return given or _beside(log, (POLICY,), "--policy")


def register_of(
    log: Path, given: Path | None, *, is_said: bool = True
) -> dict[str, RegisteredInstrument]:
    """Return the register that was given, else the one beside a log, else none.

    Where one is taken from beside the log, that ``is_said``.
    """
    path = register_path(log, given)
    found = common.read_register(path)
    if is_said:
        say_taken(path, given, "--instruments")
    return found


def register_path(log: Path, given: Path | None) -> Path | None:
    """Return the file of the register that was given or lies beside a log, if any."""
    return given or _beside(log, REGISTERS, "--instruments")


def _beside(log: Path, names: Sequence[str], option: str) -> Path | None:
    """Return the file of a name beside a log; else None."""
    found = [path for name in names if (path := log.parent / name).exists()]
    if len(found) > 1:
        raise InputError(
            f"{found[1].name} lies there too",
            where=str(found[0]),
            what_to_do=f"keep one of them beside the log, or name one with {option}",
        )
    return found[0] if found else None


def say_taken(path: Path | None, given: Path | None, option: str) -> None:
    """Say that a file beside a log is taken, if one is that nobody gave.

    On standard error: a result may be piped on.
    """
    if path is not None and given is None:
        said = f"{path} beside the log is taken ({option} names another)"
        click.echo(printable(said), err=True)
