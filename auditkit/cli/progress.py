"""Progress of what may last over a second; drawn on a terminal only."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TypeVar

import click

T = TypeVar("T")


@contextmanager
def over(items: Sequence[T], label: str) -> Iterator[Iterable[T]]:
    """Yield items, drawing how many of them are done."""
    if not sys.stderr.isatty():
        yield items
        return
    with click.progressbar(items, label=label, file=sys.stderr) as bar:
        yield bar


@contextmanager
def verifying() -> Iterator[Callable[[int, int], None] | None]:
    """Yield what draws how far a log's verification is; None without a terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=1, label="Verifying", file=sys.stderr) as bar:

        def progress(done: int, total: int) -> None:
            bar.length = total
            bar.update(done - bar.pos)

        yield progress
