"""Pages by the typesetter typst: the same data and versions give the same bytes.

A layout is source text of ours; what is printed comes in as data and is never read as
markup. There is no clock, no font of the machine, and no file name in a page. A
character that no font has is printed as ``<U+XXXX>``, and so is one that would turn
text around or hide it. A layout refuses what does not fit by ``panic("refused: …")``.
"""

from __future__ import annotations

import importlib.metadata
import json
import re
import unicodedata
from datetime import UTC
from functools import partial
from typing import TYPE_CHECKING, Any, Literal

from auditkit.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

_UNPRINTABLE = {"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"}
_NO_WIDTH = "\u200b"
_WORD = re.compile(r"\S+")
_PIECE = 4  # characters between two places where a word that is too wide may break
_TURNS = 4  # tries until the fonts have every character
_LACKING = re.compile(r'the text `"((?:[^"\\]|\\.)+)"` could not be displayed')
_ESCAPED = re.compile(r"\\u\{([0-9a-f]+)\}")
_REFUSED = "panicked with: refused: "


def makers() -> tuple[str, str]:
    """Return the versions that a page's bytes depend on: ours, the typesetter's."""
    try:
        setter = importlib.metadata.version("typst")
    except importlib.metadata.PackageNotFoundError as error:
        raise missing(error) from error
    return importlib.metadata.version("auditkit"), setter


def missing(error: ImportError) -> InputError:
    """Return what is said where a library of the extra ``pdf`` is not installed."""
    message = f"a PDF needs the library {error.name}, which is not installed"
    return InputError(
        message, what_to_do="in the project's folder: pip install '.[pdf]'"
    )


def typeset(  # noqa: PLR0913  what is set, how, and what an error says
    layout: bytes,
    data: Callable[[Callable[[str], str]], dict[str, Any]],
    *,
    standard: Literal["a-2a", "a-3a"],
    dated: datetime,
    what_to_do: str,
    where: str = "",
    **inputs: str,
) -> bytes:
    """Return the pages of a layout as PDF/UA-1 (ISO 14289-1) and ``standard``.

    ``data`` gets the function that makes a text fit to be printed, and returns what the
    layout reads as ``sys.inputs.data``; ``inputs`` go beside it. ``standard`` is a part
    and level of PDF/A (ISO 19005). Raises InputError, with ``what_to_do``,
    where the library is missing or the pages cannot be set.
    """
    try:
        import typst
    except ImportError as error:
        raise missing(error) from error
    lacking: set[str] = set()
    for _ in range(_TURNS):
        given = json.dumps(data(partial(_shown, lacking=lacking)))
        try:
            page = typst.compile(
                layout,
                format="pdf",
                font_paths=typst.Fonts(include_system_fonts=False),
                sys_inputs={"data": given, **inputs},
                pdf_standards=[standard, "ua-1"],
                timestamp=dated.astimezone(UTC).replace(microsecond=0),
            )
        except typst.TypstError as error:
            found = _lacking(f"{error.message}\n{error.diagnostic}") - lacking
            if found:
                lacking = lacking | found
                continue
            message = f"the pages cannot be set: {error.message}"
            if error.message.startswith(_REFUSED):
                message = error.message.removeprefix(_REFUSED)
            raise InputError(message, where=where, what_to_do=what_to_do) from error
        return bytes(page)
    raise InputError(
        "the pages need characters that no font here can be found for",
        where=where,
        what_to_do=what_to_do,
    )


def breakable(text: str, room: float) -> str:
    """Return ``text`` with spaces of no width in words wider than ``room``, in em.

    Every layout shows them as empty boxes, since a reader that knows no ActualText (ISO
    32000-2, 14.9.4) would copy them with the letter before.
    """
    return _WORD.sub(lambda word: _broken(word[0], room), text)


def _broken(word: str, room: float) -> str:
    if width_em(word) <= room:
        return word
    return _NO_WIDTH.join(word[i : i + _PIECE] for i in range(0, len(word), _PIECE))


def width_em(word: str) -> float:
    """Return about how wide a word is, in em; ``breakable`` breaks what is wider."""
    return sum(map(_em, word))


def _em(c: str) -> float:
    """Return about how wide a character is, in em; rather too wide than too narrow."""
    if c in "mwMW@%" or not c.isascii():
        return 1.0
    return 0.75 if c.isupper() else 0.55


def _lacking(said: str) -> set[str]:
    """Return the characters that the typesetter says it has no font for."""
    found: set[str] = set()
    for text in _LACKING.findall(said):
        plain = _ESCAPED.sub(lambda m: chr(int(m[1], 16)), text)
        found |= {c for c in plain if not c.isascii()}
    return found


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
