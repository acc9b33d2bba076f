"""An audit as one HTML page that loads nothing and runs nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from html import escape

from auditkit.fleet.audited import Audit
from auditkit.fleet.report.look import STYLE
from auditkit.fleet.report.picture import Picture
from auditkit.fleet.report.standing import ITS_ANSWER, NO_ANSWER
from auditkit.fleet.report.told import (
    TOO_FEW,
    Answer,
    Block,
    Contents,
    Figure,
    Grid,
    Heading,
    Listed,
    Said,
    is_silent,
    told,
)
from auditkit.reader.page.build import hash_source
from auditkit.reader.page.markup import Element, Node, element, to_html
from auditkit.text.display_text import plural

_SHORT, _LONG = 16, 20  # letters of a text in one line; of a word that may break
_MANY = 9  # columns from which a table is set closer: its last one stays in sight


def audit_page(audit: Audit, pages: Mapping[str, str] | None = None) -> str:
    """Return the page; the same audit gives the same bytes.

    ``pages`` takes the SHA-256 of a packet, in hex, to the address of its own page,
    beside this one: it is linked wherever the packet is named.
    """
    linked = pages or {}
    body = element(
        "main",
        element("h1", _apart(audit.title)),
        *(node for part in _parts(told(audit)) for node in _part(part, linked)),
    )
    policy = (
        f"default-src 'none'; style-src {hash_source(STYLE)}; base-uri 'none'; "
        "form-action 'none'"
    )
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{escape(policy)}">\n'
        '<meta name="referrer" content="no-referrer">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"{to_html(element('title', audit.title))}\n<style>{STYLE}</style>\n</head>\n"
        f"<body>\n{to_html(body)}\n</body>\n</html>\n"
    )


def _parts(blocks: Iterable[Block]) -> Iterator[list[Block]]:
    """Yield blocks by the heading of level 2 that they stand under."""
    part: list[Block] = []
    for block in blocks:
        if isinstance(block, Heading) and block.level == 2 and part:
            yield part
            part = []
        part.append(block)
    yield part


def _part(part: Sequence[Block], pages: Mapping[str, str]) -> list[Node]:
    """Return a part; one that is silent is folded below what it says first."""
    if not is_silent(part):
        return [node for block in part for node in _nodes(block, pages)]
    head, first, *others = part
    told = _nodes(head, pages)
    if isinstance(first, Said):
        told.append(element("span", _apart(first.text)))
    else:
        others.insert(0, first)
    folded = (node for block in others for node in _nodes(block, pages))
    return [element("details", element("summary", *told), *folded)]


def _apart(text: str) -> Element:
    """Return a text whose direction of writing turns nothing around it."""
    return element("bdi", text)


def _nodes(block: Block, pages: Mapping[str, str]) -> list[Node]:
    match block:
        case Heading():
            more = {"id": block.anchor} if block.anchor else {}
            made = element(f"h{block.level}", _apart(block.text), **more)
        case Said():
            more = {} if block.weight == "plain" else {"class_": block.weight}
            link = element("a", "To the questions", href=f"#{block.more}")
            inner = (" ", link) if block.more else ()
            made = element("p", _apart(block.text), *inner, **more)
        case Listed():
            made = element("ul", *(element("li", _apart(s)) for s in block.lines))
        case Grid():
            is_folded = block.is_long or block.is_too_few
            made = _folded(block, pages) if is_folded else _grid(block, pages)
        case Figure():
            return _figure(block, pages)
        case Answer():
            made = _answer(block.text)
        case _:
            made = _contents(block)
    return [made]


def _contents(block: Contents) -> Element:
    lines = (
        element(
            "li",
            element("a", _apart(text), href=f"#{anchor}"),
            **({"class_": "deeper"} if level > 2 else {}),
        )
        for level, text, anchor in block.lines
    )
    listed = element("ol", *lines)
    told = element("summary", f"Contents: {plural(len(block.lines), 'part', 'parts')}")
    return element("nav", element("details", told, listed), aria_label="Contents")


def _grid(block: Grid, pages: Mapping[str, str]) -> Element:
    head = (
        element("th", text, scope="col", **({"class_": "n"} if right else {}))
        for text, right in zip(block.head, block.numeric, strict=True)
    )
    rows = (element("tr", *_cells(block, row, pages)) for row in block.rows)
    table = element(
        "table",
        element("caption", _apart(block.caption)),
        element("thead", element("tr", *head)),
        element("tbody", *rows),
    )
    return element(
        "div",
        table,
        class_="wide many" if len(block.head) >= _MANY else "wide",
        role="group",
        tabindex="0",
        aria_label=block.caption,
    )


def _folded(block: Grid, pages: Mapping[str, str]) -> Element:
    rows = f"{len(block.rows):,} {'row' if len(block.rows) == 1 else 'rows'}"
    few = f"{TOO_FEW} to say anything of anybody, " if block.is_too_few else ""
    said = f"{block.caption}: {few}{rows}"
    return element("details", element("summary", _apart(said)), _grid(block, pages))


def _cells(
    block: Grid, row: tuple[str, ...], pages: Mapping[str, str]
) -> Iterator[Element]:
    for place, text in enumerate(row):
        inner: Node = text if block.numeric[place] else _apart(text)
        kinds = ["n"] if block.numeric[place] else []
        if len(text) <= _SHORT and not block.numeric[place]:
            kinds.append("short")
        if place in block.exact:
            kinds.append("exact")
            if text in pages:
                inner = element("a", text, href=pages[text])
        elif any(len(word) > _LONG for word in text.split()):
            kinds.append("long")
        more = {"class_": " ".join(kinds)} if kinds else {}
        if place == 0:
            yield element("th", inner, scope="row", **more)
        else:
            yield element("td", inner, **more)


def _figure(block: Figure, pages: Mapping[str, str]) -> list[Node]:
    figures: list[Node] = [_one_figure(one) for one in block.drawn]
    if block.drawn[0].is_small:
        figures = [element("div", *figures, class_="side")]
    if block.numbers:
        titles = dict.fromkeys(one.chart.title for one in block.drawn)
        summary = element("summary", _apart(f"The numbers of: {', '.join(titles)}"))
        grids = (_grid(grid, pages) for grid in block.numbers)
        figures.append(element("details", summary, *grids))
    return figures


def _one_figure(one: Picture) -> Element:
    caption = (element("b", _apart(one.chart.title)), _apart(one.chart.sentence))
    drawn = element(
        "div",
        one.drawn,
        class_="drawn",
        role="group",
        tabindex="0",
        aria_label=one.chart.title,
    )
    note = [element("p", _apart(one.note), class_="small")] if one.note else []
    return element("figure", element("figcaption", *caption), drawn, *note)


def _answer(text: str) -> Element:
    head = element("p", element("b", ITS_ANSWER))
    if text:
        return element("div", head, element("p", _apart(text)), class_="answer")
    return element("div", head, element("p", NO_ANSWER), class_="answer room")
