"""What a packet that holds says, in plain lines: statement, signers, withheld texts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from auditkit.proof.check_report import VERDICTS
from auditkit.proof.sealed_texts import SealedText, sealed_lines
from auditkit.text.display_text import json_line
from auditkit.text.moment import local_times

if TYPE_CHECKING:
    from auditkit.proof.entry import Payload
    from auditkit.text.values import Json


def said_verdict(verdict: Mapping[str, Json]) -> str | None:
    """Return a verdict event's answer, None where it gives none of the known ones."""
    said = verdict.get("verdict")
    return said if isinstance(said, str) and said in VERDICTS else None


def story(
    statement: Iterable[str],
    own: Sequence[Payload],
    verdict: Mapping[str, Json],
    texts: Iterable[SealedText],
) -> tuple[str, ...]:
    """Return the lines of a packet: ``own`` are its repair order's entries."""
    local = local_times(json_line(p.event.get("at")) for p in own)
    signers = {p.by: p.key for p in own}
    lines = list(statement)
    if verdict.get("reason"):
        lines.append(
            f"Closed all the same, with the reason: {json_line(verdict['reason'])}"
        )
    lines.append(
        f"{len(own)} entries of this repair order, recorded (as claimed) between "
        f"{local(own[0].recorded_at)} and {local(own[-1].recorded_at)}."
    )
    lines += [f"Signed by {who} with key {key}." for who, key in signers.items()]
    named = {by for p in own if isinstance(by := p.event.get("by"), str)}
    if others := sorted(named - signers.keys()):
        said = (
            f"Signed nothing here: {', '.join(others)}; what they did, the signer says"
        )
        lines.append(f"{said}.")
    lines += _for_others(own)
    return (*lines, *sealed_lines(texts, local))


def _for_others(own: Sequence[Payload]) -> Iterator[str]:
    """Yield which entries name one person and are signed by another."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in own:
        by = one.event.get("by")
        if isinstance(by, str) and by != one.by:
            found.setdefault((one.by, by), []).append(str(one.seq))
    for (signer, by), seqs in found.items():
        what = "entry" if len(seqs) == 1 else "entries"
        yield (
            f"Signed by {signer} for {by}: {what} {', '.join(seqs)}; that {by} did "
            f"this, {signer} says."
        )
