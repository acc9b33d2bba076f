"""The repair's story as elements of a page: in short, before and after, step by step.

For a packet that verified, or that a shop has just made: nothing is judged here, and
the verdict is the one that was signed.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from auditkit.order.answer_text import customer_line
from auditkit.order.events import Event, RepairOrder
from auditkit.order.statement_parts import parted
from auditkit.plugin.loading import load_canon
from auditkit.proof.signed_words import signed_besides
from auditkit.reader.before_after import Measure, Reading, measures
from auditkit.reader.page.draw import block_nodes, table
from auditkit.reader.page.gauge import gauge
from auditkit.reader.page.markup import Element, Node, element, items
from auditkit.reader.page.pictures import picture_nodes
from auditkit.reader.steps import (
    Step,
    corrections,
    entry_names,
    last_statement,
    local_of,
    own_steps,
    part_names,
    steps_of,
    undisclosed,
)
from auditkit.reader.story import Known, tell
from auditkit.text.display_text import first_large

if TYPE_CHECKING:
    from auditkit.bench import TestKind
    from auditkit.proof.check_report import CheckReport
    from auditkit.proof.packet import Packet


def story_nodes(
    packet: Packet,
    report: CheckReport,
    kinds: Mapping[str, TestKind],
    *,
    is_said: bool = False,
) -> list[Node]:
    """Return the story, and the details of a packet that verified.

    ``kinds`` are the kinds of bench test that can be computed here, by name. With
    ``is_said`` the statement's first line stands on the page already.
    """
    steps = steps_of(packet)
    own = list(signed_besides(packet.statement[is_said:], report.judged))
    short = "In short, as signed with the verdict"
    advice = customer_line([line for _, lines in own for line in lines])
    return [
        element(
            "section",
            element("h2", "The repair", id="story-title"),
            *(
                node
                for heading, lines in own
                for node in (
                    element("h3", first_large(heading or short)),
                    *_stated(lines),
                )
            ),
            *([element("p", advice)] if advice else []),
            *before_and_after(steps, kinds),
            element("h3", "Step by step"),
            step_list(steps, kinds, dict(packet.attachments)),
            class_="story",
            aria_labelledby="story-title",
        ),
        _details(packet, report, steps),
    ]


def _stated(lines: list[str]) -> list[Node]:
    """Return a statement's lines, each below the heading that it belongs under."""
    nodes: list[Node] = []
    for heading, said in parted(lines).items():
        nodes += [element("h4", heading)] if heading else []
        nodes.append(items(said))
    return nodes


def before_and_after(
    steps: tuple[Step, ...], kinds: Mapping[str, TestKind]
) -> list[Node]:
    """Return what was measured before and after, drawn; nothing where nothing was."""
    events = [dict(step.event.data) for step in own_steps(steps)]
    found = measures(RepairOrder.fold("", events), kinds)
    if not found:
        return []
    return [
        element("h3", "Before and after the repair"),
        element("div", *map(_measure, found), class_="measures"),
    ]


def _measure(measure: Measure) -> Element:
    drawn = gauge(measure)
    sides = (
        element("div", element("dt", name), element("dd", *_reading(reading, measure)))
        for name, reading in (("Before", measure.before), ("After", measure.after))
    )
    return element(
        "div",
        element("h4", measure.name),
        element("dl", *sides, class_="sides"),
        *(() if drawn is None else (drawn,)),
        element("p", first_large(measure.limit), class_="small"),
        class_="measure",
    )


def _reading(reading: Reading | None, measure: Measure) -> tuple[Node, ...]:
    if reading is None:
        return (measure.none,)
    if not reading.outcome:
        return (reading.text,)
    return (reading.text, element("span", reading.outcome, class_="outcome"))


def step_list(
    steps: tuple[Step, ...],
    kinds: Mapping[str, TestKind],
    carried: Mapping[str, bytes] | None = None,
) -> Element:
    """Return every entry of the repair order, in its order.

    ``carried`` are the files that came with them, by their SHA-256 in hex.
    """
    known = Known(
        entry_names(steps),
        kinds,
        part_names(steps),
        local_of(steps),
        load_canon().cautions,
        last_statement(steps),
    )
    later = corrections(steps)
    return element(
        "ol",
        *(
            _step(s, known, later.get(s.payload.seq), carried or {})
            for s in own_steps(steps)
        ),
        class_="steps",
    )


def _step(
    step: Step, known: Known, later: int | None, carried: Mapping[str, bytes]
) -> Element:
    payload, event = step.payload, step.event
    title, blocks = tell(event, known)
    when = known.local(event.text("at")).replace("T", " ")
    by = event.text("by")
    who = "" if by in ("", payload.by) else f"done by {by}"
    meta = [f"{when} (claimed)" if when else "", who, f"signed by {payload.by}"]
    meta.append(f"entry {payload.seq}")
    inner: list[Node] = [
        element("h4", title),
        element("p", " · ".join(filter(None, meta)), class_="meta"),
    ]
    if later is not None:
        inner.append(
            element("p", f"Corrected later, by entry {later}.", class_="strong")
        )
    inner += picture_nodes(event, carried)
    first = len(blocks)
    if event.kind == "verdict":  # long, and its gist stands above the steps
        first = 1 if event.text("reason") else 0
    inner += block_nodes(blocks[:first])
    if blocks[first:]:
        said = "What was asked, the answers, and by which rules, as it was signed"
        summary = element("summary", said)
        inner.append(element("details", summary, *block_nodes(blocks[first:])))
    if undisclosed(step):
        inner.append(element("p", f"Withheld: {undisclosed(step)}."))
    raw = _raw(event)
    if raw:
        summary = element("summary", "What the vehicle sent, as it was read")
        inner.append(element("details", summary, element("pre", raw)))
    return element("li", *inner)


def _raw(event: Event) -> str:
    """Return a readout's raw text, or that of the one that a correction brings."""
    if event.kind == "amendment":
        return _raw(Event(0, event.object("event")))
    return event.text("raw") if event.kind == "readout" else ""


def _details(packet: Packet, report: CheckReport, steps: tuple[Step, ...]) -> Element:
    checkpoint = report.checkpoint
    local = local_of(steps)
    sizes = ", ".join(str(old.size) for old in packet.earlier)
    facts = [
        ("Repair order", packet.repair_order),
        ("Log", checkpoint.origin if checkpoint else ""),
        (
            "Size of the log at the checkpoint",
            str(checkpoint.size if checkpoint else 0),
        ),
        ("Root of the log's tree", checkpoint.root.hex() if checkpoint else ""),
        ("Sizes of the log that it reaches back to", sizes or "none"),
        ("Texts disclosed", str(len(packet.disclosures))),
    ]
    rows = (element("div", element("dt", n), element("dd", v)) for n, v in facts)
    entries = [
        (
            str(s.payload.seq),
            s.event.kind,
            local(s.payload.recorded_at),
            s.payload.by,
            s.payload.key,
        )
        for s in steps
    ]
    head = ("No.", "What", "Recorded (claimed)", "By", "Key")
    return element(
        "section",
        element("h2", "Details", id="details-title"),
        element("dl", *rows),
        element(
            "details", element("summary", "Entries"), table(head, entries, "Entries")
        ),
        class_="details",
        aria_labelledby="details-title",
    )
