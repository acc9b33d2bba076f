"""What an exhibit is made of: a packet that verified, judged again. Pure."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from auditkit.errors import VerificationError
from auditkit.plugin.loading import load_canon
from auditkit.proof.check_packet import Packet, parse_packet, verify_packet
from auditkit.reader.blocks import Fact
from auditkit.reader.judge_again import judge_again
from auditkit.reader.steps import Step, local_of, own_steps, steps_of
from auditkit.reader.story import rest
from auditkit.text.display_text import plural
from auditkit.text.strict_json import parse as parse_json
from auditkit.text.values import Json

if TYPE_CHECKING:
    from auditkit.order.judgement import RuleRun
    from auditkit.proof.check_report import CheckReport, JudgedHere
    from auditkit.proof.note import Checkpoint

_SHOWN_PROBLEMS = 20
_PACKET_MEMBERS = frozenset(
    {"format", "repair_order", "statement", "log_key", "checkpoint", "entries"}
    | {"disclosures", "earlier", "attachments"}
)


@dataclass(frozen=True, slots=True)
class ExhibitSource:
    """A packet that verified, and what is needed to tell of it.

    ``judged`` is what its evidence says here, ``rules`` by which it was judged, each
    with its version. ``length`` is in bytes, ``sha256`` in lower-case hex, over the
    packet's bytes.
    """

    packet: Packet
    report: CheckReport
    checkpoint: Checkpoint
    judged: JudgedHere
    rules: tuple[RuleRun, ...]
    steps: tuple[Step, ...]
    more: tuple[Fact, ...]
    length: int
    sha256: str
    version: str

    @property
    def own(self) -> tuple[Step, ...]:
        """The repair order's entries, without the log's own; the verdict is last."""
        return own_steps(self.steps)

    @property
    def local(self) -> Callable[[str], str]:
        """What writes a time for people, at the offset of the order's own times."""
        return local_of(self.steps)

    @property
    def verdict(self) -> Step:
        """The verdict's entry."""
        return self.own[-1]


def source_of(packet: bytes, version: str, where: str) -> ExhibitSource:
    """Return a packet as an exhibit tells it.

    Raises InputError where the bytes are no packet, and VerificationError, with every
    reason, where it does not verify.
    """
    report = verify_packet(packet, where=where)
    if not report.verified or report.checkpoint is None:
        shown = [str(problem) for problem in report.problems[:_SHOWN_PROBLEMS]]
        left = len(report.problems) - len(shown)
        more = f" (and {plural(left, 'more', 'more')})" if left else ""
        raise VerificationError(
            f"the packet does not verify: {'; '.join(shown)}{more}",
            where=where,
            what_to_do="make no exhibit of it; keep it as it is and ask for "
            "the packet again",
        )
    parsed = parse_packet(packet, where=where)
    judgement, judged = judge_again(parsed, load_canon())
    whole = parse_json(packet, where=where, limit=len(packet))
    return ExhibitSource(
        packet=parsed,
        report=report,
        checkpoint=report.checkpoint,
        judged=judged,
        rules=judgement.rules,
        steps=steps_of(parsed),
        more=tuple(_more(whole)),
        length=len(packet),
        sha256=hashlib.sha256(packet).hexdigest(),
        version=version,
    )


def _more(whole: Json) -> list[Fact]:
    """Return what a packet holds beside the members that every part here tells."""
    members = whole if isinstance(whole, dict) else {}
    filled = {name: value for name, value in members.items() if value not in ([], {})}
    return rest(filled, _PACKET_MEMBERS)


def recorded_moment(recorded_at: str, where: str) -> datetime:
    """Return when a verdict was recorded; VerificationError where that is no time."""
    try:
        moment = datetime.fromisoformat(recorded_at)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise VerificationError(
            f"the verdict was recorded at {recorded_at!r}, which is no time",
            where=where,
            what_to_do="do not rely on it: the log was not written by this software",
        )
    return moment
