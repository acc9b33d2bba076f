"""What the checker page answers about a packet: the answer, then why, then what to do.

Every word of it is here. It decides nothing: ``auditkit.reader.read_packet`` did.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from auditkit.proof.check_packet import NO_KEY, UNSEEN
from auditkit.proof.check_report import Unmet, unmet_of
from auditkit.text.display_text import first_large

if TYPE_CHECKING:
    from auditkit.errors import AuditkitError
    from auditkit.proof.check_report import CheckReport, LogProblem

KNOWN = frozenset({NO_KEY, *UNSEEN})
"""Notes of every report: the page says them in its own places."""
_MOST_PROBLEMS = 40
_MOST_GISTS = 3


class Kind(StrEnum):
    """The kinds of answer, as the page's style names them."""

    HOLDS = "holds"
    ALONE = "alone"
    FAILS = "fails"
    UNREADABLE = "unreadable"


@dataclass(frozen=True, slots=True)
class PageAnswer:
    """One answer in words.

    ``says`` is what the evidence says of the repair, judged here, and how that compares
    with what was signed; ``told`` is what was not read, and each fault, ``judged`` what
    that rests on: headings, and lines under each.
    """

    kind: Kind
    sign: str
    word: str
    because: str
    says: str = ""
    told: tuple[str, ...] = ()
    judged: tuple[tuple[str, tuple[str, ...]], ...] = ()
    why: tuple[str, ...] = ()
    what_to_do: tuple[str, ...] = ()


_SIGNS = {Kind.HOLDS: "✓", Kind.ALONE: "!", Kind.FAILS: "✗", Kind.UNREADABLE: "?"}
_HOLDS = (
    "Keep the packet file: it can be checked again at any time.",
    "Read the repair below, and look at what its evidence shows.",
)
_OVERSTATED = (
    "Do not rely on the verdict that was signed.",
    "Read below what is missing or speaks against the repair, and ask the shop for it.",
)
_AGAINST = (
    "Read below what speaks against the repair, and ask the shop what it will do.",
)
_ALONE = (
    (
        "Get the shop's fingerprint from elsewhere (notice board, invoice, website, an "
        "earlier job), type it into its field and check again. All 43 characters must "
        "agree."
    ),
    "Until then, take this as a claim.",
)
_UNKNOWN = (
    "The record is consistent; who made it was not checked",
    "; who made the record was not checked",
)
_LESS = {
    "vouched": "the repair is vouched for, not proven",
    "unproven": "the repair is not proven",
}
_FAILS = (
    "Ask the shop for the packet again, as a file, and check that one.",
    (
        "If it fails again, keep both files as they are: the reasons above say where "
        "they do not fit."
    ),
)
# What a failing check comes down to, by the words that its problems begin with or hold.
_GISTS = (
    (r"^the verdict judged", "Entries were left out or added after the verdict."),
    (r"^the statement at the top", "The statement is not the one that was signed."),
    (
        r"was revoked|not enrolled|signs nothing|low-order",
        "A key was used that may not sign there.",
    ),
    (r"^the trusted checkpoint", "It does not agree with the checkpoint you kept."),
    (r"^the receipt", "It does not agree with the receipt that you kept."),
    (r"disclos", "A text that was put into it is not the one that was sealed."),
)
_ALTERED = "Something in it was altered, or was never part of the log."
# Where it does not fit what the reader holds, though nobody need have altered it.
_UNMET = {
    Unmet.OLDER: (
        "It was made before what you kept. Nothing shows that it was altered.",
        ("Ask the shop for a packet made since.",),
    ),
    Unmet.REACH: (
        (
            "It carries no proof that reaches back to the checkpoint or receipt that "
            "you kept. Nothing shows that it was altered."
        ),
        (
            (
                "Ask the shop for a packet made with 'auditkit packet ORDER --since "
                "FILE', where FILE is what you kept."
            ),
        ),
    ),
    Unmet.KEY: (
        "It was signed under another key than the one you gave.",
        (
            (
                "The packet is consistent, but under another key than the one you "
                "gave. Look for a mistyped letter first: where the two differ is "
                "marked."
            ),
            "Ask the shop, by a way that you chose, which fingerprint is theirs.",
        ),
    ),
    Unmet.ORDER: (
        (
            "The receipt is of another repair order. Nothing shows that this packet "
            "was altered."
        ),
        ("Hold the receipt against the packet of its own repair order.",),
    ),
    Unmet.LOG: (
        "The receipt is of another log. Nothing shows that this packet was altered.",
        (
            (
                "Look on the receipt which shop it is of, and hold it against that "
                "shop's packet."
            ),
            (
                "Where both are of one shop, ask it for a packet of the log that the "
                "receipt names, and why it keeps another."
            ),
        ),
    ),
    Unmet.STORY: (
        (
            "The paper of the receipt tells what this packet does not tell, or tells "
            "otherwise."
        ),
        (
            "Compare your paper with what is told below, line by line.",
            "Ask the shop for a packet that discloses what the paper says.",
        ),
    ),
}


def unusable(error: AuditkitError) -> PageAnswer:
    """Return the answer where nothing could be checked: what it is, and what to do."""
    todo = f"{first_large(error.what_to_do)}."
    return PageAnswer(
        Kind.UNREADABLE,
        _SIGNS[Kind.UNREADABLE],
        "Nothing was checked.",
        _sentence(error.message),
        what_to_do=(todo,) if error.what_to_do else (),
    )


def answer_to(report: CheckReport, *, compared: str) -> PageAnswer:
    """Return the answer to a packet's report.

    ``compared`` says with what the log's key was compared, such as "you gave"; it is
    empty where it was compared with nothing.
    """
    if not report.verified:
        return _failing(report.problems)
    here = report.judged
    verdict = "" if here is None else here.verdict
    is_overstated = here is not None and not here.agrees
    kind = Kind.HOLDS if compared else Kind.ALONE
    word, who = ("The record holds", "") if compared else _UNKNOWN
    because = "Nothing in this packet was changed since it was signed"
    if compared:
        because += ", and it was signed under the key that you expected."
    else:
        because += (
            " with the key that it carries. Whether that key is the shop's, the packet "
            "cannot tell."
        )
    steps = _HOLDS if compared else _ALONE
    if is_overstated:
        kind, word = Kind.FAILS, f"More was signed than the evidence shows{who}"
        steps = (*_OVERSTATED, *(() if compared else _ALONE))
    elif verdict == "contradicted":
        steps = (*_AGAINST, *(_HOLDS[:1] if compared else _ALONE))
        kind, word = Kind.FAILS, f"The evidence speaks against the repair{who}"
    elif verdict in _LESS and compared:
        kind, word = Kind.ALONE, f"{word}; {_LESS[verdict]}"
    return PageAnswer(
        kind,
        _SIGNS[kind],
        f"{word}.",
        because,
        _says(report),
        () if here is None else tuple(map(_sentence, here.told)),
        () if here is None else here.answers,
        _reasons(report, compared),
        steps,
    )


def _says(report: CheckReport) -> str:
    """Return what the evidence says of the repair, and what was signed."""
    if report.judged is None:
        said = report.statement[0] if report.statement else "nothing"
        return f"What it says of the repair: {said}"
    here = f"judged here: {report.repair_order} is {report.judged.said}"
    return f"{_sentence(here)} {_sentence(report.judged.compared)}"


def _sentence(text: str) -> str:
    return f"{first_large(text).removesuffix('.')}."


def _reasons(report: CheckReport, compared: str) -> tuple[str, ...]:
    size = report.checkpoint.size if report.checkpoint else 0
    return (
        (
            f"All {report.entries} entries are signed by keys that the log had "
            "enrolled and not revoked."
        ),
        f"Each is proven to be in the log of {size} entries that was signed.",
        (
            "The verdict names exactly the entries given here, none left out or added, "
            "and the statement is the one that was signed."
        ),
        *(
            f"{first_large(note)}."
            for note in (*report.agreed, *report.notes)
            if note not in KNOWN
        ),
        f"The log's key has the fingerprint that {compared}."
        if compared
        else "The log's key was compared with nothing from outside the packet.",
    )


def _failing(problems: tuple[LogProblem, ...]) -> PageAnswer:
    lines = [
        p.problem if p.seq is None else f"Entry {p.seq}: {p.problem}"
        for p in problems[:_MOST_PROBLEMS]
    ]
    more = len(problems) - len(lines)
    why = (*lines, *((f"and {more} more.",) if more else ()))
    kind = Kind.FAILS
    if unmet := unmet_of(problems):
        told = [_UNMET[one] for one in unmet if one in _UNMET]
        gists = " ".join(gist for gist, _ in told)
        steps = tuple(step for _, steps in told for step in steps)
        word = "The record does not fit what you gave."
        because = f"{gists} What it says is not shown here."
        return PageAnswer(kind, _SIGNS[kind], word, because, why=why, what_to_do=steps)
    gists = " ".join([*dict.fromkeys(map(_gist, problems))][:_MOST_GISTS])
    because = f"{gists} Do not rely on this packet: what it says is not shown here."
    word = "The record does not hold."
    return PageAnswer(kind, _SIGNS[kind], word, because, why=why, what_to_do=_FAILS)


def _gist(problem: LogProblem) -> str:
    if problem.unmet in _UNMET:
        return _UNMET[problem.unmet][0]
    found = (told for words, told in _GISTS if re.search(words, problem.problem))
    return next(found, _ALTERED)
