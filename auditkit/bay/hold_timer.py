"""A time that is held while a person waits, by the clock of the shop's computer.

It lies among the drafts of who started it: reload, lock and restart leave it running.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from auditkit.bay.drafts import Draft

if TYPE_CHECKING:
    from auditkit.bay.drafts import Drafts

TAP = "1 s"
"""How well two taps bound a time: our own choice; who knows better writes it."""
_KIND = "timer"


@dataclass(frozen=True, slots=True)
class HoldTimer:
    """The timer of one field of one person's test of a part by a method."""

    drafts: Drafts
    person: str
    order: str
    of: str

    @property
    def _form(self) -> str:
        return f"{_KIND}:{self.of}"

    def start(self, at: str) -> None:
        """Begin at a time (RFC 3339), anew where it runs already."""
        fields = {"draft_of": self._form, "since": at}
        self.drafts.keep(Draft(self.person, self.order, self._form, at, fields))

    def since(self) -> str:
        """Return since when it runs, empty where it does not."""
        found = self.drafts.find(self.person, self.order, self._form)
        return found.fields["since"] if found else ""

    def seconds(self, at: str) -> int:
        """Return whole seconds from its start to a time; 0 where it does not run."""
        since = self.since()
        if not since:
            return 0
        ran = datetime.fromisoformat(at) - datetime.fromisoformat(since)
        return max(0, round(ran.total_seconds()))

    def stop(self) -> None:
        """Let it run no more."""
        self.drafts.drop(self.person, self.order, self._form)
