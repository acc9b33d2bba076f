"""What became of each text that a packet's entries withhold, as far as it can tell.

A packet tells a text that was *erased* (it carries the log's entry that says so) from
one that is *withheld* here: that may be disclosed by the shop, may be lost, may have
been erased since or by an entry that was left out, or may never have been written (a
decoy). Only the whole log tells those apart. Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from auditkit.proof.attached import attached_file
from auditkit.proof.disclosure import digest, digests

if TYPE_CHECKING:
    from auditkit.proof.entry import Payload
    from auditkit.proof.keyring import Erasure, KeyRing
    from auditkit.text.values import Json

NOT_TOLD = (
    "a text that is withheld here the shop may disclose; or it is lost, or erased (an "
    "erasure that the shop left out, or that came later, would not be seen), or was "
    "never written: only the whole log tells"
)
"""The note of a report on a packet in which a text is withheld."""


@dataclass(frozen=True, slots=True)
class SealedText:
    """A member of entry ``seq`` that the packet does not disclose.

    ``path`` is dotted (``customer.name``). For an erased one, ``erased_by`` is the
    entry that says so, ``erased_at`` when that was recorded (as claimed), and
    ``reason`` why.
    """

    seq: int
    path: str
    state: Literal["withheld", "erased"]
    erased_by: int | None = None
    erased_at: str | None = None
    reason: str | None = None

    def to_json(self) -> dict[str, Json]:
        """Return it as ``verify --format json`` prints it."""
        return {
            "seq": self.seq,
            "path": self.path,
            "state": self.state,
            "erased_by": self.erased_by,
            "erased_at": self.erased_at,
            "reason": self.reason,
        }


def sealed_texts(
    own: Iterable[Payload],
    given: Mapping[int, Sequence[str]],
    erased: Mapping[str, Erasure],
) -> tuple[SealedText, ...]:
    """Return each member that a repair order's entries withhold and nothing discloses.

    ``given`` are the disclosures by entry, ``erased`` what the log says of digests.
    """
    return tuple(
        _sealed(payload.seq, path, erased.get(text))
        for payload in own
        if payload.withheld
        for text, path in digests(payload.event, payload.withheld).items()
        if text not in map(digest, given.get(payload.seq, ()))
    )


def _sealed(seq: int, path: str, erasure: Erasure | None) -> SealedText:
    if erasure is None:
        return SealedText(seq, path, "withheld")
    return SealedText(
        seq, path, "erased", erasure.seq, erasure.recorded_at, erasure.reason
    )


def misplaced_erasures(
    own: Sequence[Payload], given: Mapping[int, Sequence[str]], ring: KeyRing
) -> Iterator[tuple[int, str]]:
    """Yield (entry, what is wrong) of erasures that do not fit the entries given."""
    places = {
        text: (payload.seq, path)
        for payload in own
        if payload.withheld
        for text, path in digests(payload.event, payload.withheld).items()
    }
    shown = {digest(text) for texts in given.values() for text in texts}
    for text, erasure in ring.erased.items():
        if places.get(text) != (erasure.of, erasure.path):
            what = f"it erases a text of entry {erasure.of}, at {erasure.path}"
            yield erasure.seq, f"{what}, that no entry of the packet withholds there"
        elif text in shown:
            what = f"the text that entry {erasure.seq} erased is given still"
            yield erasure.of, f"{what}, at {erasure.path}"
    named = {found.sha256 for p in own if (found := attached_file(p.event)) is not None}
    for sha256, seq in ring.erased_attachments.items():
        if sha256 not in named:
            yield seq, "it erases an attachment that no entry of the packet names"


def sealed_lines(
    texts: Iterable[SealedText], local: Callable[[str], str] = str
) -> Iterator[str]:
    """Yield a line for each erased text, then one for what each entry withholds.

    ``local`` writes a time for people.
    """
    withheld: dict[int, list[str]] = {}
    for text in texts:
        if text.state == "withheld":
            withheld.setdefault(text.seq, []).append(text.path)
        else:
            yield (
                f"Erased from entry {text.seq}, as entry {text.erased_by} says, "
                f"recorded (as claimed) at {local(text.erased_at or '')}: {text.path}. "
                f"Reason: {text.reason}"
            )
    for seq, paths in withheld.items():
        yield f"Withheld here from entry {seq}: {', '.join(paths)}."
