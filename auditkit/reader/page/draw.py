"""The answer about a packet, and an event's blocks, as elements of a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.proof.check_report import differing_places
from auditkit.reader.blocks import Block, Facts, Heading, Items, Paragraph, Table
from auditkit.reader.page.markup import Element, Node, element, items

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from auditkit.proof.check_report import CheckReport
    from auditkit.reader.page.answer import PageAnswer

_GROUP = 4  # letters of a fingerprint between two gaps


def answer_node(answer: PageAnswer, report: CheckReport | None) -> Element:
    """Return the answer: the word, then why, then what to do."""
    inner: list[Node] = [
        element(
            "h2",
            element("span", answer.sign, class_="sign", aria_hidden="true"),
            " ",
            element("span", answer.word),
            id="word",
            tabindex="-1",
        ),
        element("p", answer.because, class_="because"),
    ]
    if answer.says:
        inner.append(element("p", answer.says, class_="says"))
    if report is not None and report.log_key:
        inner.append(fingerprints(report.log_key, report.expected_key))
    if answer.why:
        inner += [element("h3", "Why"), items(answer.why)]
    if answer.what_to_do:
        inner += [element("h3", "What to do next"), items(answer.what_to_do)]
    return element(
        "section",
        *inner,
        class_="answer",
        data_answer=str(answer.kind),
        aria_labelledby="word",
    )


def paper_nodes(report: CheckReport | None) -> list[Node]:
    """Return what the paper of the reader's receipt has to say; nothing without one."""
    if report is None or not report.paper:
        return []
    return [
        element(
            "section",
            element("h2", "What your receipt's paper has to say", id="paper-title"),
            element("p", "As this packet tells it. Compare it line by line."),
            items(report.paper),
            class_="paper",
            aria_labelledby="paper-title",
        )
    ]


def judged_nodes(answer: PageAnswer) -> list[Node]:
    """Return what the answer rests on, a section of its own; nothing where none is."""
    if not answer.judged and not answer.told:
        return []
    told = [items(answer.told)] if answer.told else []
    for heading, lines in answer.judged:
        told += [element("h3", heading), items(lines)]
    return [
        element(
            "section",
            element("h2", "What the evidence shows, judged here", id="judged-title"),
            *told,
            class_="judged",
            aria_labelledby="judged-title",
        )
    ]


def fingerprints(found: str, typed: str | None = None) -> Element:
    """Return the fingerprint of a log's key, and beside it one that differs."""
    places = () if typed is None else differing_places(typed, found)
    inner: list[Node] = [
        element("p", "Fingerprint of the log's key, as this packet has it:"),
        element("p", _grouped(found, places)),
    ]
    if typed is not None:
        inner += [
            element("p", "The one you gave; where the two differ is marked:"),
            element("p", _grouped(typed, places)),
        ]
    return element("div", *inner, class_="fingerprint")


def _grouped(text: str, places: Sequence[int]) -> Element:
    """Return a fingerprint in groups of letters, some of them marked."""
    inner: list[Node] = []
    for start in range(0, len(text), _GROUP):
        group = [
            element("mark", letter) if start + i in places else letter
            for i, letter in enumerate(text[start : start + _GROUP])
        ]
        inner += [element("span", *_joined(group)), " "]
    return element("code", *inner[:-1])


def _joined(nodes: Iterable[Node]) -> list[Node]:
    """Return nodes with texts that follow each other joined."""
    made: list[Node] = []
    for node in nodes:
        if made and isinstance(node, str) and isinstance(made[-1], str):
            made[-1] += node
        else:
            made.append(node)
    return made


def block_nodes(blocks: Iterable[Block]) -> list[Node]:
    """Return blocks of a story as elements, below a heading of the fourth level."""
    return [node for block in blocks if (node := _block(block)) is not None]


def _block(block: Block) -> Node | None:
    if isinstance(block, Heading):
        return element("h5", block.text)
    if isinstance(block, Paragraph):
        return element("p", block.text, class_=block.style)
    if isinstance(block, Items):
        return items(block.items)
    if isinstance(block, Facts):
        rows = (
            element(
                "div",
                element("dt", row.name),
                element("dd", element("code", row.value) if row.exact else row.value),
            )
            for row in block.rows
        )
        return element("dl", *rows)
    if isinstance(block, Table):
        return table(block.head, block.rows, "Values")
    return None  # where a page of paper ends is no matter here


def table(head: Sequence[str], rows: Iterable[Sequence[str]], name: str) -> Element:
    """Return a table that scrolls sideways where it must, with the keyboard too.

    In a narrow window each cell stands on lines of its own, behind its column's name.
    """
    top = element("tr", *(element("th", cell, scope="col") for cell in head))
    body = (
        element(
            "tr",
            *(
                element("td", cell, data_name=column)
                for column, cell in zip(head, row, strict=True)
            ),
        )
        for row in rows
    )
    inner = element("table", element("thead", top), element("tbody", *body))
    return element(
        "div", inner, class_="wide", tabindex="0", role="group", aria_label=name
    )
