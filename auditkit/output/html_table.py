"""Tables of an HTML page: each with a caption, and headers with their scope."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape


def pair_table(caption: str, rows: Iterable[tuple[str, str]], look: str = "") -> str:
    """Return a table of names and texts, each name the header of its row.

    ``look`` is one more class of its style.
    """
    cells = "".join(
        f'<tr><th scope="row">{escape(name)}</th><td>{escape(text)}</td></tr>'
        for name, text in rows
    )
    kind = f"pairs {look}".rstrip()
    return (
        f'<table class="{kind}"><caption>{escape(caption)}</caption>'
        f"<tbody>{cells}</tbody></table>"
    )


def wide_table(
    caption: str, columns: Sequence[str], rows: Iterable[Sequence[str]], look: str
) -> str:
    """Return a table with headed columns; the first cell heads its row.

    On a narrow screen it is scrolled by itself, also from the keyboard. ``look`` is the
    class of its style.
    """
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in columns)
    body = "".join(
        f'<tr><th scope="row">{escape(first)}</th>'
        + "".join(f"<td>{escape(text)}</td>" for text in rest)
        + "</tr>"
        for first, *rest in rows
    )
    said = escape(caption)
    return (
        f'<div class="wide" role="group" tabindex="0" aria-label="{said}">'
        f'<table class="{look}"><caption>{said}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def bullets(lines: Iterable[str]) -> str:
    """Return a list; empty where there is nothing to list."""
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f"<ul>{items}</ul>" if items else ""
