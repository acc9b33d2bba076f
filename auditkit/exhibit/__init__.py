"""An exhibit: what one packet shows, as pages for a lawyer. Pure: text in, blocks out.

It begins with the answer, tells the story entry by entry, says what it cannot know,
and ends with a form of certification that is empty until a person signs. The evidence
is judged again, by the rules that this version ships and no other, so that the same
packet makes the same pages wherever they are made; where the signed verdict is another,
both stand there. Values stand beside their limits, and what is computed from raw text
is computed by the functions that every other face uses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from auditkit.exhibit.certificate import certification
from auditkit.exhibit.source import ExhibitSource, recorded_moment, source_of
from auditkit.order.answer_text import customer_line
from auditkit.order.events import Event
from auditkit.proof import note
from auditkit.proof.check_packet import Packet
from auditkit.proof.entry import LOG_SIGNER
from auditkit.reader.blocks import (
    Block,
    Fact,
    Facts,
    Heading,
    Items,
    Paragraph,
    Table,
)
from auditkit.reader.steps import (
    Step,
    corrections,
    entry_names,
    last_statement,
    log_shop,
    other_shops,
    part_names,
    undisclosed,
)
from auditkit.reader.story import Known, tell, vehicle_facts
from auditkit.text.display_text import plural
from auditkit.text.values import Json

if TYPE_CHECKING:
    from auditkit.order.catalogue import Catalogue
    from auditkit.proof.attached import NamedFile
    from auditkit.proof.check_report import JudgedHere
    from auditkit.proof.note import Checkpoint

_CHECKPOINT = (
    "A checkpoint is what a log signed of itself at one moment: how many entries it "
    "held (its size), and a digest of all of them (its root). Who kept an earlier one "
    "can tell a log that was rewritten since."
)
_CANNOT_KNOW = (
    (
        "Whose key it is. The packet carries the key that it is verified with, so by "
        "itself it proves only that it is consistent. Compare the fingerprint with one "
        "got elsewhere: from the shop in person, from a receipt, from an earlier "
        "packet."
    ),
    (
        "Whether the shop keeps a second log. Only a checkpoint that someone outside "
        "the shop holds shows that."
    ),
    (
        "What came later. Entries written to this repair order after the verdict are "
        "not seen from the packet."
    ),
    (
        "When things happened. Every time here is a claim: typed by the person, or "
        "taken from the clock of the shop's computer. Checkpoints in other hands and "
        "time stamps of an authority bound it. Where the packet holds such an "
        "attestation it is shown as it stands and is not judged here: 'auditkit "
        "verify', given whom you trust, says what it bounds."
    ),
    (
        "Whether what was typed was true, whether an instrument was read right, and "
        "whether the raw text came from this vehicle beyond the marks that it carries."
    ),
    (
        "Withheld text. Where digests stay undisclosed, text was withheld or erased, "
        "or there never was any: the three look alike here."
    ),
    "Who is behind a person's id. The shop enrolled the key under that id.",
)


@dataclass(frozen=True, slots=True)
class Exhibit:
    """Pages to draw, and what the file says of itself.

    ``dated`` is when the verdict was recorded, as the entry claims it: the only date
    that an exhibit has. ``unknown`` are the kinds of bench test that the packet names
    and nothing here knows, ``judged`` is what the evidence says here.
    """

    title: str
    dated: datetime
    version: str
    sha256: str
    blocks: tuple[Block, ...]
    unknown: tuple[str, ...]
    judged: JudgedHere


def exhibit_of(
    packet: bytes, catalogue: Catalogue, *, version: str, where: str = ""
) -> Exhibit:
    """Return the exhibit of a packet; ``version`` is the version of this software.

    The catalogue has the kinds of bench test that can be computed here. Raises
    InputError where the bytes are no packet, and VerificationError, with every reason,
    where the packet does not verify.
    """
    source = source_of(packet, version, where)
    blocks: list[Block] = [
        *_answer(source),
        *_story(source, catalogue),
        *_limits(source),
        *certification(source),
    ]
    return Exhibit(
        title=f"Exhibit: repair order {source.packet.repair_order}",
        dated=recorded_moment(source.verdict.payload.recorded_at, where),
        version=version,
        sha256=source.sha256,
        blocks=tuple(blocks),
        unknown=_unknown(source, catalogue),
        judged=source.judged,
    )


def _unknown(source: ExhibitSource, catalogue: Catalogue) -> tuple[str, ...]:
    methods = {
        event.text("method")
        for step in source.own
        for event in (step.event, Event(0, step.event.object("event")))
        if event.kind == "bench_test"
    }
    return tuple(sorted(methods - {""} - set(catalogue.bench_tests)))


def _answer(source: ExhibitSource) -> list[Block]:
    """Return the first part: what the packet proves, and how far."""
    report, checkpoint = source.report, source.checkpoint
    statement = source.packet.statement
    verdict = source.verdict
    blocks: list[Block] = [Heading(1, "1. The answer"), *_verdicts(source)]
    if verdict.event.text("reason"):
        said = f"Closed all the same, with the reason: {verdict.event.text('reason')}"
        blocks.append(Paragraph(said, "strong"))
    blocks += [
        Paragraph(
            f"The packet verified: {plural(report.entries, 'entry', 'entries')}, every "
            "signature and every proof, under the log key whose fingerprint stands "
            "below. That fingerprint was compared with no other one: see part 3."
        ),
        Heading(2, "The statement that was signed with the verdict"),
        Items(_joined(statement[1:]) or ("No more.",)),
        *([Paragraph(advice)] if (advice := customer_line(statement[1:])) else []),
        Heading(2, "The repair order"),
        Facts(
            (
                Fact("Repair order", source.packet.repair_order),
                *_opened(source),
                Fact("Verdict that was signed", verdict.event.text("verdict")),
                Fact(
                    "Verdict recorded (claimed)",
                    source.local(verdict.payload.recorded_at),
                ),
                Fact("Verdict signed by", verdict.payload.by),
            )
        ),
        Heading(2, "What it was verified under"),
        Paragraph(_CHECKPOINT),
        Facts(
            (
                Fact("Fingerprint of the log's key", report.log_key, exact=True),
                Fact("Log (the checkpoint's origin)", checkpoint.origin, exact=True),
                Fact("Checkpoint: size", plural(checkpoint.size, "entry", "entries")),
                Fact("Checkpoint: root, base64", _root64(checkpoint), exact=True),
                Fact("Checkpoint: root, hex", checkpoint.root.hex(), exact=True),
                *_earlier(source.packet),
                Fact("SHA-256 of the packet", source.sha256, exact=True),
                Fact("Length of the packet", f"{source.length} bytes"),
            )
        ),
        Paragraph(
            "The packet itself is attached to this file as packet.json. It counts, and "
            "these pages only tell it: 'auditkit exhibit --check' with this file makes "
            "them anew from it and says whether they are the same."
        ),
    ]
    if report.attachments:
        blocks.append(Heading(2, "Files that entries name by their SHA-256"))
        blocks.append(Facts(tuple(map(_named, report.attachments))))
    if source.more:
        blocks += [Heading(2, "What else the packet holds"), Facts(source.more)]
    return blocks


def _verdicts(source: ExhibitSource) -> list[Block]:
    """Return what is judged here and what was signed; the former first."""
    judged, statement = source.judged, source.packet.statement
    signed = statement[0] if statement else "No statement was signed."
    how = (
        f"from the evidence in the packet, by auditkit {source.version} and the "
        f"{plural(len(source.rules), 'rule', 'rules')} that it ships (part 3)"
    )
    if judged.verdict == judged.signed:
        same = f"Judged again {how}: {judged.verdict}. The shop signed the same."
        return [Paragraph(signed, "answer"), Paragraph(same, "strong")]
    order = source.packet.repair_order
    said = f"Judged again, repair order {order} is {judged.said}."
    blocks: list[Block] = [
        Paragraph(said, "answer"),
        Paragraph(f"The shop signed: {signed}", "strong"),
        Paragraph(f"It was judged again {how}."),
    ]
    if judged.told:
        blocks.append(Items(judged.told))
    for heading, lines in judged.answers:
        blocks += [Heading(2, f"{heading}, judged again"), Items(_joined(lines))]
    return blocks


def _joined(lines: Sequence[str]) -> tuple[str, ...]:
    """Return lines with what belongs under one of them joined to it."""
    made: list[str] = []
    for line in lines:
        if line.startswith(" ") and made:
            made[-1] += f"; {line.strip()}"
        else:
            made.append(line)
    return tuple(made)


def _named(file: NamedFile) -> Fact:
    """Return what became of a file that an entry names."""
    said = {
        "carried": "its bytes are in the packet, and have this SHA-256",
        "erased": f"erased, as entry {file.erased_by} says",
        "elsewhere": "its bytes are not in the packet",
    }[file.state]
    return Fact(f"Entry {file.seq}, {file.size} bytes: {said}", file.sha256, exact=True)


def _earlier(packet: Packet) -> list[Fact]:
    return [
        Fact(
            f"It extends the log's first {plural(old.size, 'entry', 'entries')}, root",
            note.to_base64(old.root),
            exact=True,
        )
        for old in packet.earlier
    ]


def _root64(checkpoint: Checkpoint) -> str:
    return note.format_checkpoint(checkpoint).split("\n")[2]


def _opened(source: ExhibitSource) -> list[Fact]:
    opening = next((s for s in source.own if s.event.kind == "opening"), None)
    if opening is None:
        return [Fact("Shop and vehicle", "no opening entry is in the packet")]
    facts = [
        Fact("Shop that the log is of", log_shop(source.steps)),
        *(
            Fact("Another shop, which the record names", name)
            for name in other_shops(source.steps)
        ),
        *vehicle_facts(opening.event),
    ]
    if undisclosed(opening):
        facts.append(Fact("Withheld in the opening entry", undisclosed(opening)))
    return facts


def _story(source: ExhibitSource, catalogue: Catalogue) -> list[Block]:
    """Return the second part: every entry of the packet, in its order."""
    known = Known(
        entry_names(source.steps),
        catalogue.bench_tests,
        part_names(source.steps),
        source.local,
        catalogue.cautions,
        last_statement(source.steps),
    )
    corrected = corrections(source.steps)
    claimed = [known.local(s.payload.recorded_at) for s in source.own]
    blocks: list[Block] = [
        Heading(1, "2. The story, entry by entry"),
        Paragraph(
            f"{plural(len(source.own), 'entry', 'entries')} of this repair order, "
            f"recorded, as the shop's clock claims, between {claimed[0]} and "
            f"{claimed[-1]}; and the log's own entries that say who may sign. What "
            "is quoted was signed as it stands. Times are written with the offset of "
            "the order's first one; the packet has each as it was recorded."
        ),
        Table(
            ("Entry", "What", "When (claimed)", "By"),
            tuple(
                (str(s.payload.seq), _title(s, known), _at(s, known), _who(s))
                for s in source.steps
            ),
        ),
    ]
    for step in source.steps:
        title, told = tell(step.event, known)
        blocks += [
            Heading(2, f"Entry {step.payload.seq}: {title}"),
            _stamp(step, known),
        ]
        if step.payload.seq in corrected:
            later = f"Corrected later, by entry {corrected[step.payload.seq]}."
            blocks.append(Paragraph(later, "strong"))
        blocks += told
        if undisclosed(step):
            blocks.append(Paragraph(f"Withheld: {undisclosed(step)}."))
    return blocks


def _title(step: Step, known: Known) -> str:
    return tell(step.event, known)[0]


def _at(step: Step, known: Known) -> str:
    return known.local(step.event.text("at")) or "not said"


def _who(step: Step) -> str:
    """Return who signed an entry: a person, or nobody, by the log's own key."""
    by = step.payload.by
    return "the log's own key" if by == LOG_SIGNER else by


def _stamp(step: Step, known: Known) -> Facts:
    payload = step.payload
    by = _who(step)
    said: Json = step.event.data.get("by")
    if isinstance(said, str) and said != payload.by:
        by = f"{said}; signed by {payload.by}"
    return Facts(
        (
            Fact("Kind", step.event.kind),
            Fact("Happened (claimed)", _at(step, known)),
            Fact("Recorded (claimed)", known.local(payload.recorded_at)),
            Fact("By", by),
            Fact("Signed with key", payload.key, exact=True),
        )
    )


def _limits(source: ExhibitSource) -> list[Block]:
    return [
        Heading(1, "3. What this exhibit cannot know"),
        Items(_CANNOT_KNOW),
        Heading(2, "The rules by which it was judged again, with their versions"),
        Paragraph(", ".join(f"{r.name} {r.version}" for r in source.rules), "small"),
        Heading(2, "Notes of the verification"),
        Items(source.report.notes or ("None.",)),
        Heading(2, "How characters are printed"),
        Paragraph(
            "Characters that the fonts of this document lack, and those that would "
            "turn text around or hide it, are printed as <U+....> with their number."
        ),
    ]
