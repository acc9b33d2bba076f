"""What a shop signed beside what is judged here, parted by whether it is found here.

A person reads a signed statement as if it were a finding: what nothing here bears out
stands apart, under a heading that says so. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from auditkit.proof.check_report import JudgedHere

UNFOUND = (
    "the shop signed this too, which is not found here (its own words, or another "
    "version's)"
)
BESIDES = "what the shop signed, besides what is told above"


def signed_besides(
    lines: Sequence[str], judged: JudgedHere | None
) -> Iterator[tuple[str, list[str]]]:
    """Yield the lines that are not told already, under their headings.

    The heading is empty where nothing was told, as nothing was judged.
    """
    repeated = frozenset[str]() if judged is None else judged.repeated
    unfound = frozenset[str]() if judged is None else judged.unfound
    own = [line for line in lines if line not in repeated]
    if alien := [line for line in own if line in unfound]:
        yield UNFOUND, alien
    if rest := [line for line in own if line not in unfound]:
        yield (BESIDES if len(rest) < len(lines) else ""), rest
