"""A page's parts as trees of elements, written as HTML or as JSON.

The checker page's script makes of the JSON what a browser makes of the HTML. Every text
is a stranger's until it is escaped: what would steer a screen or hide is spelled out,
and nothing of a text becomes an element.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditkit.text.display_text import printable

if TYPE_CHECKING:
    from auditkit.text.values import Json

_IN_TEXT = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;"})
_IN_QUOTES = _IN_TEXT | str.maketrans({'"': "&quot;"})
_ALONE = frozenset({"br", "circle", "img", "line", "path", "rect"})


@dataclass(frozen=True, slots=True)
class Element:
    """An element: its name in HTML or SVG, its attributes, what stands in it."""

    name: str
    attributes: Mapping[str, str] = field(default_factory=dict)
    inner: tuple[Node, ...] = ()


Node = str | Element


def element(name: str, *inner: Node, **attributes: str) -> Element:
    """Return an element; a ``_`` in an attribute's name stands for ``-``.

    At its end it stands for nothing: ``class_`` is written for ``class``.
    """
    named = {key.rstrip("_").replace("_", "-"): v for key, v in attributes.items()}
    return Element(name, named, inner)


def shown(text: str) -> str:
    """Return a text as a page shows it: line ends stay, nothing else steers."""
    return "\n".join(map(printable, text.split("\n")))


def to_html(node: Node) -> str:
    """Return a tree as HTML."""
    if isinstance(node, str):
        return shown(node).translate(_IN_TEXT)
    attributes = "".join(
        f' {name}="{shown(value).translate(_IN_QUOTES)}"'
        for name, value in node.attributes.items()
    )
    if node.name in _ALONE:
        return f"<{node.name}{attributes}/>"
    inner = "".join(map(to_html, node.inner))
    return f"<{node.name}{attributes}>{inner}</{node.name}>"


def to_json(node: Node) -> Json:
    """Return a tree as JSON: a text, or a list of name, attributes and what follows."""
    if isinstance(node, str):
        return shown(node)
    attributes: dict[str, Json] = {k: shown(v) for k, v in node.attributes.items()}
    return [node.name, attributes, *map(to_json, node.inner)]


def items(lines: Iterable[str], name: str = "ul") -> Element:
    """Return a list of lines; one that begins with a space belongs under the last."""
    return element(name, *map(_item, lines))


def _item(line: str) -> Element:
    if line.startswith(" "):
        return element("li", line.strip(), class_="under")
    return element("li", line)
