"""What a receipt says beside its story: the verdict, what is missing, how to check."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from auditkit.order.answer_text import TO_DO, to_the_customer
from auditkit.order.statement import DEFERS, JUDGED_BY
from auditkit.order.statement_parts import FAULTS, HEADINGS, OPEN, RESTS, heading_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from auditkit.output.receipt_pdf import ReceiptPaper


class PaperSection(NamedTuple):
    """A heading and its lines; one that begins with spaces belongs under the last."""

    name: str
    lines: list[str]


_JUDGED, _VERDICT = "The verdict, judged again", "The verdict that the shop signed"
_SELF_TEST = re.compile(r"After the repair the vehicle's own self-test (../..) ")
_WORK = re.compile(r"(.+) was ([a-z]+) by (.+)\.")
_NO_FAULT = "No fault code is stated."
_NONE_STATED = {
    OPEN: "Of what was asked, nothing was left open. What no record can show stands "
    "below.",
    RESTS: "The statement does not say what it rests on.",
}
_SHOWN = "What is shown"  # the heading of judged answers that leave nothing open


def verdicts(paper: ReceiptPaper, made_at: str) -> Iterator[PaperSection]:
    """Yield the verdict judged here, where it is another, and the signed one."""
    judged = paper.judged
    if judged is not None and judged.verdict != judged.signed:
        yield PaperSection(
            _JUDGED,
            [
                f"Judged again on {made_at[:10]}: {judged.said}.",
                f"The shop signed: {judged.signed}. What it signed stands below.",
            ],
        )
    first, own = paper.statement[:1] or ("Nothing.",), paper.statement[1:]
    less = (line for line in own if line.startswith(JUDGED_BY))
    faults = [line for line in own if heading_of(line) == FAULTS]
    yield PaperSection(_VERDICT, [*first, *less, *(faults or [_NO_FAULT])])


def sections(paper: ReceiptPaper) -> Iterator[PaperSection]:
    """Yield what the signed statement says more, each line under its heading.

    The verdict stands above already, and so do the work and the self-tests that the
    story tells; what defers to maker, codes and practice stands at the foot. What to do
    is told to the shop there, and here to the customer.
    """
    judged = paper.judged
    if judged is not None and judged.verdict != judged.signed:
        for heading, lines in judged.answers:
            if heading != _SHOWN:
                yield PaperSection(f"{heading}, judged again", list(lines))
    by: dict[str, list[str]] = {name: [] for name in HEADINGS}
    for line in paper.statement[1:]:
        name = heading_of(line)
        if line != DEFERS and name != FAULTS and not _is_told(line, paper):
            by[name].append(line)
    by[OPEN] += [f"{TO_DO}{one}" for one in to_the_customer(by[OPEN])]
    for name in HEADINGS:
        if by[name] or name in _NONE_STATED:
            yield PaperSection(name, by[name] or [_NONE_STATED[name]])


def _is_told(line: str, paper: ReceiptPaper) -> bool:
    """Return whether the page says a statement's line at another place."""
    story = paper.story
    for value in story.values:
        part, _, method = value.name.rpartition(": ")
        start = f"{part} ({method}) by "
        if line.startswith(start) and value.is_computed:
            same = sum(one.startswith(start) for one in paper.statement)
            return same <= bool(value.before) + bool(value.after)
    if found := _SELF_TEST.match(line):
        start = f"Self-test {found[1]} of "
        return any(value.name.startswith(start) for value in story.values)
    if line.startswith(TO_DO):
        return True
    if found := _WORK.fullmatch(line):
        part, action, by = found.groups()
        return any(
            one.name.lower() == part.lower()
            and one.work.startswith(action)
            and one.work.endswith(f", by {by}")
            for one in story.parts
        )
    return line.startswith(JUDGED_BY)


_ANY_PAGE = (
    "Open the checker page, one file for any browser, choose the packet, and put in "
    "the code's text. Get the page from somebody who has auditkit ('auditkit checker "
    "--out check.html'), and not from the shop alone."
)
_SHOPS_PAGE = (
    "The shop printed that address, so it is the shop's word: a page of its making can "
    "say what it likes. Better get the page elsewhere, from somebody who has auditkit "
    "('auditkit checker --out check.html')."
)


def how_to_check(paper: ReceiptPaper, version: str) -> Iterator[PaperSection]:
    """Yield how a customer checks the receipt, and what the paper cannot promise."""
    order = paper.receipt.repair_order
    shop = dict(paper.story.about).get("Shop", "the shop")
    ask = (
        f"Ask {paper.packet_from or shop} for the packet of repair order {order}, a "
        "file. It must agree with this receipt: the same steps, verdict and words, in "
        "the same log under the same key, and proof that the log only grew since. This "
        "page is not signed and proves nothing without it."
    )
    yield PaperSection("Ask for the packet", [ask])
    where = [_ANY_PAGE]
    if paper.checker_url:
        opens = (
            f"The code opens {paper.checker_url} with this receipt in the address, in "
            "the part that a browser does not send. There, choose the packet."
        )
        where = [opens, _SHOPS_PAGE]
    if paper.page_sha256:
        where.append(
            f"SHA-256 of the page as auditkit {version} writes it: {paper.page_sha256}"
        )
    where.append(
        "Or save what the code holds as a file: 'auditkit verify PACKET --receipt FILE'"
    )
    yield PaperSection("Check it", where)
