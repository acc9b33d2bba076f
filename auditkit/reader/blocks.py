"""What an exhibit's pages are made of: plain text in blocks, without any layout. Pure.

Whoever draws them (``auditkit.exhibit.pdf``) adds type, lines and pages, and
changes no word.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Style = Literal["plain", "answer", "small", "strong"]


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; ``level`` 1 is a part of the exhibit, 2 what stands in it."""

    level: int
    text: str


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph."""

    text: str
    style: Style = "plain"


@dataclass(frozen=True, slots=True)
class Fact:
    """A name and what is so called; ``exact`` text is compared sign by sign."""

    name: str
    value: str
    exact: bool = False


@dataclass(frozen=True, slots=True)
class Facts:
    """Names with their values."""

    rows: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class Items:
    """A list; with a ``series`` such as "A" its items are called A1, A2 and so on."""

    items: tuple[str, ...]
    series: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a head of as many columns."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Blanks:
    """Lines that a person fills in by hand."""

    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NewPage:
    """What follows begins a page of its own."""


Block = Heading | Paragraph | Facts | Items | Table | Blanks | NewPage
