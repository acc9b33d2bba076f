"""A rule: its name, its page, its check.

A rule is named after the bad thing it finds (``fault-never-reported``) and is one
function whose docstring is its page. The page has four headings in this order::

    What it checks
    Why it matters
    Example
    What to do
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditkit.order.events import RepairOrder
from auditkit.order.findings import Said, Severity
from auditkit.order.questions import Question

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue

HEADINGS = ("What it checks", "Why it matters", "Example", "What to do")


@dataclass(frozen=True, slots=True, eq=False)
class Parameters(Mapping[str, object]):
    """What a rule is given beside the order: its parameters by name.

    ``catalogue`` is what all plugins bring, such as the kinds of bench test.
    """

    settings: Mapping[str, object]
    catalogue: Catalogue

    def __getitem__(self, name: str) -> object:
        return self.settings[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.settings)

    def __len__(self) -> int:
        return len(self.settings)


Check = Callable[[RepairOrder, Parameters], Iterable[Said]]
OWN = "shop-rules"
"""The question of a rule that names none: a shop's own, of the order as a whole."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One shop rule. ``parameters`` holds the defaults that a policy may change.

    ``questions`` are those that it answers or objects to: of the canon, or a shop's
    own. ``since`` is the day from which it asks more than before (RFC 3339 date).
    """

    name: str
    check: Check
    severity: Severity = Severity.BLOCKING
    version: int = 1
    parameters: Mapping[str, object] = field(default_factory=dict)
    questions: tuple[str, ...] = (OWN,)
    since: str = ""

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", self.name):
            raise ValueError(
                f"rule name {self.name!r} is not lower-case words joined by '-'"
            )
        missing = [h for h in HEADINGS if f"\n{h}\n" not in f"\n{self.page}\n"]
        if missing:
            raise ValueError(
                f"the page of rule {self.name!r} lacks: {', '.join(missing)}"
            )

    @property
    def page(self) -> str:
        """The rule's page: the docstring of its check."""
        return inspect.cleandoc(self.check.__doc__ or "")

    @property
    def is_of_canon(self) -> bool:
        """Whether all its questions are those that every proof answers."""
        return all(question in set(Question) for question in self.questions)

    @property
    def summary(self) -> str:
        """The first line of the page."""
        return self.page.partition("\n")[0]


def rule(  # noqa: PLR0913  each is a choice of whoever writes a rule
    name: str,
    *,
    question: str | tuple[str, ...] = OWN,
    severity: Severity = Severity.BLOCKING,
    version: int = 1,
    parameters: Mapping[str, object] | None = None,
    since: str = "",
) -> Callable[[Check], Rule]:
    """Turn a check function with a page as its docstring into a Rule."""

    def make(check: Check) -> Rule:
        return Rule(
            name,
            check,
            severity,
            version,
            dict(parameters or {}),
            (question,) if isinstance(question, str) else question,
            since,
        )

    return make
