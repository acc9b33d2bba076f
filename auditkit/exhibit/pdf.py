"""An exhibit as a file: PDF/A-3a and PDF/UA-1, with the packet itself attached.

PDF/A-3 is ISO 19005-3 (level A: tagged, with Unicode), PDF/UA-1 is ISO 14289-1; the
attachment is an associated file of the relationship Source (ISO 32000-2, 7.11.4). The
same packet and versions give the same bytes: there is no clock, no font of the
machine, and no file name in it. A character that no font has is printed as
``<U+XXXX>``, and so is one that would turn text around or hide it.
"""

from __future__ import annotations

import importlib.metadata
import json
import re
import unicodedata
from dataclasses import asdict
from datetime import UTC
from typing import TYPE_CHECKING, Any

from auditkit.errors import InputError
from auditkit.exhibit import exhibit_of
from auditkit.exhibit.blocks import Table
from auditkit.exhibit.layout import LAYOUT

if TYPE_CHECKING:
    from collections.abc import Iterator

    from auditkit.exhibit import Exhibit
    from auditkit.exhibit.blocks import Block

ATTACHED = "packet.json"
_UNPRINTABLE = {"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"}
_NO_WIDTH = "\u200b"
_WORD = re.compile(r"\S+")
_PIECE = 4  # characters between two places where a word that is too wide may break
_LINE = 46.0  # em of a line of text, 10 points
_PAGE, _INSET, _CELL = 482.0, 8.0, 9.0  # points: a table, in a cell, its type
_TURNS = 4  # tries until every character is one that the fonts have
_LACKING = re.compile(r'the text `"((?:[^"\\]|\\.)+)"` could not be displayed')
_ESCAPED = re.compile(r"\\u\{([0-9a-f]+)\}")


def makers() -> tuple[str, str]:
    """Return the versions that an exhibit's bytes depend on: ours, the typesetter's."""
    try:
        setter = importlib.metadata.version("typst")
    except importlib.metadata.PackageNotFoundError as error:
        raise missing() from error
    return importlib.metadata.version("auditkit"), setter


def exhibit_pdf(packet: bytes, *, where: str = "") -> bytes:
    """Return the exhibit of a packet as PDF.

    Raises VerificationError where the packet does not verify, and InputError where it
    is none, the library is missing, or the pages cannot be set.
    """
    ours, setter = makers()
    exhibit = exhibit_of(packet, version=ours, where=where)
    lacking: set[str] = set()
    for _ in range(_TURNS):
        page, found = _set(exhibit, packet, setter, lacking, where)
        if page is not None:
            return page
        lacking |= found
    message = "the pages need characters that no font here can be found for"
    raise InputError(message, where=where, mend="hand over the packet itself instead")


def missing() -> InputError:
    """Return the error that names the libraries an exhibit needs."""
    message = "an exhibit needs typst and pypdf, which are not installed"
    return InputError(message, mend="in the project's folder: pip install '.[exhibit]'")


def _set(
    exhibit: Exhibit, packet: bytes, setter: str, lacking: set[str], where: str
) -> tuple[bytes | None, set[str]]:
    """Return the pages, or None and the characters that the fonts lack."""
    try:
        import typst
    except ImportError as error:
        raise missing() from error
    data = _data(exhibit, setter, lacking)
    try:
        page = typst.compile(
            LAYOUT,
            format="pdf",
            font_paths=typst.Fonts(include_system_fonts=False),
            sys_inputs={"data": json.dumps(data), "packet": packet.decode()},
            pdf_standards=["a-3a", "ua-1"],
            timestamp=exhibit.dated.astimezone(UTC).replace(microsecond=0),
        )
    except typst.TypstError as error:
        found = _lacking(f"{error.message}\n{error.diagnostic}") - lacking
        if found:
            return None, found
        message = f"the pages cannot be set: {error.message}"
        mend = "hand over the packet itself instead"
        raise InputError(message, where=where, mend=mend) from error
    return bytes(page), set()


def _lacking(said: str) -> set[str]:
    """Return the characters that the typesetter says it has no font for."""
    found: set[str] = set()
    for text in _LACKING.findall(said):
        plain = _ESCAPED.sub(lambda m: chr(int(m[1], 16)), text)
        found |= {c for c in plain if not c.isascii()}
    return found


def _data(exhibit: Exhibit, setter: str, lacking: set[str]) -> dict[str, Any]:
    return {
        "title": _shown(exhibit.title, lacking),
        "keywords": [f"auditkit {exhibit.version}", f"typst {setter}"],
        "description": f"Made from the packet with SHA-256 {exhibit.sha256}",
        "sha256": exhibit.sha256,
        "blocks": [_block(block, lacking) for block in exhibit.blocks],
    }


def _block(block: Block, lacking: set[str]) -> dict[str, Any]:
    """Return a block as the layout takes it, every text in it fit to be printed."""
    content = {"block": type(block).__name__.lower(), **asdict(block)}
    if isinstance(block, Table):
        widths = list(_widths(block))
        points = [_PAGE * width / sum(widths) - _INSET for width in widths]
        content["widths"] = widths
        for name, rows in (("head", (block.head,)), ("rows", block.rows)):
            content[name] = [
                _breakable(_shown(cell, lacking), room / _CELL)
                for row in rows
                for cell, room in zip(row, points, strict=True)
            ]
        return content
    return {name: _fit(item, lacking) for name, item in content.items()}


def _fit(item: Any, lacking: set[str]) -> Any:  # noqa: ANN401  any member of a block
    if isinstance(item, dict):
        return {name: _fit(value, lacking) for name, value in item.items()}
    if isinstance(item, list | tuple):
        return [_fit(value, lacking) for value in item]
    return _breakable(_shown(item, lacking), _LINE) if isinstance(item, str) else item


def _breakable(text: str, room: float) -> str:
    """Return ``text`` with spaces of no width in words wider than ``room``, in em.

    They stand in no word that fits, so that what is copied or looked for is found.
    """
    return _WORD.sub(lambda word: _broken(word[0], room), text)


def _broken(word: str, room: float) -> str:
    if sum(_em(c) for c in word) <= room:
        return word
    return _NO_WIDTH.join(word[i : i + _PIECE] for i in range(0, len(word), _PIECE))


def _em(c: str) -> float:
    """Return about how wide a character is, in em; rather too wide than too narrow."""
    if c in "mwMW@%" or not c.isascii():
        return 1.0
    return 0.75 if c.isupper() else 0.55


def _widths(table: Table) -> Iterator[float]:
    """Yield a share of the page's width for each column, by what stands in it."""
    for column in zip(table.head, *table.rows, strict=True):
        yield min(max(8, *(len(cell) for cell in column)), 40) ** 0.7


def _shown(text: str, lacking: set[str]) -> str:
    return "".join(_character(c, lacking) for c in text)


def _character(c: str, lacking: set[str]) -> str:
    if " " <= c <= "~":
        return c
    if c in "\n\r\t":
        return " "
    if c in lacking or unicodedata.category(c) in _UNPRINTABLE:
        return f"<U+{ord(c):04X}>"
    return c
