"""One entry's event in words, member by member: what was signed, and nothing judged.

A member that no teller knows is told by its name, and so is a kind that is new: none
is left out. Of a readout's raw text the codes, lamps, counts, monitors and self-tests
are shown, and its digest. Pure: events in, blocks out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from auditkit.errors import AuditkitError
from auditkit.order.choice_words import in_words
from auditkit.order.event_text import computed_text, limit_text, method_in_words
from auditkit.order.event_text import value_text as told
from auditkit.order.events import Event
from auditkit.proof.keys import PublicKey
from auditkit.reader.blocks import Block, Fact, Facts, Items, Paragraph, Table
from auditkit.reader.member_words import member_in_words
from auditkit.reader.typed_said import typed_said
from auditkit.reader.vehicle_said import vehicle_said
from auditkit.reader.verdict_said import answers_said, statement_said
from auditkit.text.display_text import first_large
from auditkit.text.values import Json

if TYPE_CHECKING:
    from collections.abc import Iterable

    from auditkit.bench import TestKind
    from auditkit.order.cautions import Caution


Entries = Callable[[int], str]
"""Place of an event among the order's (from 0) -> the entry that it is, in words."""


@dataclass(frozen=True, slots=True)
class Known:
    """What is known beside an event.

    ``bench_tests`` are the kinds of bench test by name, ``part_names`` the names of
    suspect parts by id, ``cautions`` the cautions by id. ``local`` writes a time for
    people. ``stated`` is the statement that stands above.
    """

    entry_at: Entries
    bench_tests: Mapping[str, TestKind]
    part_names: Mapping[str, str] = field(default_factory=dict)
    local: Callable[[str], str] = str
    cautions: Mapping[str, Caution] = field(default_factory=dict)
    stated: tuple[str, ...] = ()


_COMMON = frozenset({"kind", "at", "by", "_sd"})


def tell(event: Event, known: Known) -> tuple[str, list[Block]]:
    """Return an event's title and what it says, every member of it."""
    teller = _TELLERS.get(event.kind)
    if teller is None:
        return f"Event of kind {event.kind}", _facts(
            rest(event.data, _COMMON, known.local)
        )
    title, used, blocks = teller(event, known)
    return title, blocks + _facts(rest(event.data, _COMMON | used, known.local))


def rest(
    members: Mapping[str, Json], used: frozenset[str], local: Callable[[str], str] = str
) -> list[Fact]:
    """Return the members that are not in ``used``, each by its name.

    ``local`` writes a time for people.
    """
    return [
        Fact(_heading(name), local(told(in_words(name, value))))
        for name, value in members.items()
        if name not in used
    ]


def _words(name: str) -> str:
    return name.replace("_", " ")


def _heading(name: str) -> str:
    return first_large(member_in_words(name))


def _facts(rows: Iterable[Fact]) -> list[Block]:
    kept = tuple(row for row in rows if row.value)
    return [Facts(kept)] if kept else []


_Told = tuple[str, frozenset[str], list[Block]]


def _opening(event: Event, _: Known) -> _Told:
    rows = [
        Fact("Shop", event.text("shop")),
        *vehicle_facts(event),
        Fact("Complaint, in the customer's words", event.text("complaint")),
    ]
    rows += [
        Fact(f"Customer: {_words(name)}", told(value))
        for name, value in event.object("customer").items()
    ]
    used = frozenset({"shop", "vehicle", "complaint", "customer"})
    return "The vehicle came in", used, _facts(rows)


def vehicle_facts(opening: Event) -> list[Fact]:
    """Return what the opening entry shows of the vehicle, as far as disclosed."""
    return [
        Fact("VIN" if name == "vin" else f"Vehicle: {_words(name)}", told(value))
        for name, value in opening.object("vehicle").items()
    ]


def _readout(event: Event, known: Known) -> _Told:
    rows = [
        Fact("Captured (claimed)", known.local(event.text("captured"))),
        Fact("Tool", event.text("tool")),
        Fact("Protocol", event.text("protocol")),
    ]
    used = frozenset({"captured", "tool", "protocol"})
    if typed := event.object("typed"):
        blocks = _facts(rows) + typed_said(typed)
        return "The vehicle's display was typed off", used | {"typed"}, blocks
    rows.append(Fact("SHA-256 of the raw text", event.sha256("raw"), exact=True))
    blocks = _facts(rows) + vehicle_said(event.text("raw"))
    return "The vehicle was read out", used | {"raw"}, blocks


def _diagnosis(event: Event, _: Known) -> _Told:
    aside = list(event.items("set_aside"))
    rows = [
        Fact("Fault codes", ", ".join(event.texts("codes"))),
        *(Fact("Suspected", _suspected(p)) for p in event.items("suspect_parts")),
        *(Fact("Set aside", _set_aside(s)) for s in aside),
        Fact("Reasoning", event.text("reasoning")),
    ]
    used = frozenset({"codes", "suspect_parts", "reasoning"})
    return "Diagnosis", used | ({"set_aside"} if aside else set()), _facts(rows)


def _suspected(part: Mapping[str, Json]) -> str:
    """Return a suspect part in words, with every member of it."""
    own = {"id", "name", "system", "codes", "where"}
    said = told(part.get("name", part.get("id", "a part without a name")))
    if "id" in part and "name" in part:
        said += f" ({told(part['id'])})"
    for name, words in (("system", "of the system"), ("codes", "for")):
        if name in part:
            said += f", {words} {told(in_words(name, part[name]))}"
    if "where" in part:
        said += f"; it sits {told(in_words('where', part['where']))}"
    return said + _more(part, own)


def _set_aside(one: Mapping[str, Json]) -> str:
    """Return faults that were set aside in words, with every member of it."""
    reason = told(in_words("reason", one.get("reason", "no reason")))
    said = f"{told(one.get('codes', 'nothing'))}: {reason}"
    if "agreed_by" in one:
        said += f", agreed by {told(one['agreed_by'])}"
    return said + _more(one, {"codes", "reason", "agreed_by"})


def _more(members: Mapping[str, Json], used: set[str]) -> str:
    left = {n: v for n, v in members.items() if n not in used}
    return "".join(f"; {member_in_words(n)}: {told(v)}" for n, v in left.items())


def _confirmed(event: Event, known: Known) -> str:
    again = event.object("second_confirmation")
    return ", ".join(f"{n} {known.local(told(v))}" for n, v in again.items())


def _caution(event: Event, known: Known) -> _Told:
    step = event.object("step")
    names = {"part": known.part_names}
    before = " of ".join(
        names.get(n, {}).get(told(v), _words(told(v))) for n, v in step.items()
    )
    rows = [
        Fact("Before", before),
        *(
            Fact(f"Precondition: {name}", told(value))
            for name, value in event.object("preconditions").items()
        ),
        Fact("Confirmed a second time", _confirmed(event, known)),
        Fact("Version of the caution", told(event.data.get("version"))),
        Fact("SHA-256 of the text shown", event.text("text_sha256"), exact=True),
    ]
    used = frozenset(
        {"caution", "step", "preconditions", "second_confirmation", "version"}
        | {"text_sha256"}
    )
    which = event.text("caution")
    caution = known.cautions.get(which)
    title = which if caution is None else f"{caution.hazard} ({which})"
    return f"Caution acknowledged: {title}", used, _facts(rows)


def _bench(event: Event, known: Known) -> _Told:
    result, limit = event.object("result"), event.object("limit")
    rows = [Fact("Measured", told(dict(result)) if result else "")]
    if method := event.text("method"):
        said = computed_text(event, known.bench_tests)
        name = method_in_words(known.bench_tests, method)
        rows.append(Fact(f"Computed from the readings ({name})", said))
    elif not result:
        rows.append(Fact("Measured", "no value was measured"))
    rows += [
        Fact("Limit", limit_text(event)),
        Fact("Limited quantity", told(limit["of"]) if "of" in limit else ""),
        Fact(
            "Source of the limit",
            told(limit.get("source", "none is named")) if limit else "",
        ),
        *(
            Fact(f"Condition: {name}", told(value))
            for name, value in event.object("conditions").items()
        ),
        *(
            Fact(f"Instrument {told(item.get('id'))}", _instrument(item))
            for item in event.items("instruments")
        ),
        Fact("Known good part, measured the same way", _known_good(event)),
    ]
    readings = tuple(
        (
            told(r.get("name", "")),
            told(r.get("value", "")),
            told(r.get("unit", "")),
            known.local(told(r.get("at", ""))),
        )
        for r in event.items("readings")
    )
    blocks = _facts(rows)
    if readings:
        head = ("Reading", "Value", "Unit", "When (claimed)")
        columns = len(head) if any(row[-1] for row in readings) else len(head) - 1
        rows_shown = tuple(row[:columns] for row in readings)
        blocks.append(Table(head[:columns], rows_shown))
    used = frozenset(
        {"part", "test", "method", "result", "limit", "conditions", "instruments"}
        | {"known_good", "readings"}
    )
    test = _words(event.text("test")).replace("-", " ")
    return f"Bench test of {_part(event, known)}: {test}", used, blocks


def _instrument(item: Mapping[str, Json]) -> str:
    specification = item.get("specification")
    said = [told({n: v for n, v in item.items() if n not in {"id", "specification"}})]
    if isinstance(specification, dict):
        said.append(told(specification))
    return "; ".join(text for text in said if text != "none") or "not described"


def _known_good(event: Event) -> str:
    good = dict(event.object("known_good"))
    return told(good) if good else ""


def _part(event: Event, known: Known) -> str:
    """Return the name of the part that an event is of, its id where it has none."""
    return known.part_names.get(event.text("part"), event.text("part"))


def _repair(event: Event, known: Known) -> _Told:
    title = f"Repair: {_part(event, known)} {event.text('action')}"
    return title, frozenset({"part", "action"}), []


def _self_test(event: Event, _: Known) -> _Told:
    row = (
        event.text("monitor"),
        told(event.data.get("value", "none typed")),
        told(event.data.get("minimum", "none typed")),
        told(event.data.get("maximum", "none typed")),
        event.text("outcome"),
    )
    blocks: list[Block] = [
        Paragraph(
            "Typed by hand, not read from the vehicle: weaker evidence.", "strong"
        ),
        Table(("Self-test", "Value", "Minimum", "Maximum", "Outcome"), (row,)),
    ]
    used = frozenset({"monitor", "value", "minimum", "maximum", "outcome"})
    return "Self-test result, typed", used, blocks


def _attachment(event: Event, known: Known) -> _Told:
    of = event.data.get("of", "no event")
    which = known.entry_at(of) if isinstance(of, int) else told(of)
    rows = [
        Fact("What it shows", told(event.data.get("shows", ""))),
        Fact("Belongs to", which),
        Fact("SHA-256 of the file", event.text("sha256"), exact=True),
    ]
    used = frozenset({"shows", "of", "sha256"})
    return "A file was logged by its digest", used, _facts(rows)


def _amendment(event: Event, known: Known) -> _Told:
    corrects = event.data.get("corrects")
    which = known.entry_at(corrects) if isinstance(corrects, int) else told(corrects)
    corrected = Event(0, event.object("event"))
    title, blocks = tell(corrected, known)
    head: list[Block] = [
        Facts((Fact("Corrects", which), Fact("Why", event.text("why")))),
        Paragraph(f"Corrected to: {title}", "strong"),
        *_facts((Fact("When (claimed)", known.local(corrected.text("at"))),)),
    ]
    used = frozenset({"corrects", "why", "event"})
    return f"Correction of {which}", used, head + blocks


def _verdict(event: Event, known: Known) -> _Told:
    blocks = _facts((Fact("Closed all the same, because", event.text("reason")),))
    answers, told_there = answers_said(event.data, known.entry_at, known.part_names)
    blocks += answers
    findings = tuple(
        f"{told(f.get('message'))}; what to do: {told(f.get('what_to_do'))} "
        f"({told(f.get('severity'))}, rule {told(f.get('rule'))})"
        for f in event.items("findings")
    )
    blocks.append(Paragraph("Findings that the rules made:", "strong"))
    blocks.append(Items(findings) if findings else Paragraph("None."))
    ran: dict[str, list[str]] = {}
    for rule in event.items("rules"):
        said = f"{told(rule.get('name'))} {told(rule.get('version'))}"
        ran.setdefault(told(rule.get("severity")), []).append(said)
    blocks += _facts(
        (
            *(
                Fact(f"Rules that ran, with versions: {weight}", ", ".join(names))
                for weight, names in ran.items()
            ),
            Fact("Entries that it judged", told(event.data.get("judged"))),
            Fact("SHA-256 of the policy", event.text("policy_sha256"), exact=True),
            *(
                Fact(f"SHA-256 of the {name}", told(digest), exact=True)
                for name, digest in event.object("judged_by").items()
            ),
        )
    )
    blocks += statement_said(event.texts("statement"), known.stated)
    used = frozenset(
        {"verdict", "reason", "findings", "rules", "judged", "policy_sha256"}
        | {"statement", "judged_by"}
        | told_there
    )
    return f"Verdict: {event.text('verdict')}", used, blocks


def _key_of(member: str, title: str) -> Callable[[Event, Known], _Told]:
    """Tell of an event that names a public key: by its fingerprint, as keys are."""

    def told_by_fingerprint(event: Event, _: Known) -> _Told:
        try:
            shown = PublicKey.from_x(event.text(member)).thumbprint
        except AuditkitError:
            return title, frozenset(), []
        name = _heading(member)
        return title, frozenset({member}), _facts([Fact(name, shown, exact=True)])

    return told_by_fingerprint


def _plain(title: str) -> Callable[[Event, Known], _Told]:
    return lambda _event, _known: (title, frozenset[str](), [])


_TELLERS: dict[str, Callable[[Event, Known], _Told]] = {
    "opening": _opening,
    "readout": _readout,
    "diagnosis": _diagnosis,
    "caution": _caution,
    "bench_test": _bench,
    "repair": _repair,
    "code_clear": _plain("Fault codes were cleared"),
    "road_test": _plain("Road test"),
    "handover": _plain("Another person goes on"),
    "self_test": _self_test,
    "attachment": _attachment,
    "amendment": _amendment,
    "verdict": _verdict,
    "log_opened": _key_of("log_key", "The log was opened"),
    "person_enrolled": _key_of("key", "A person's key was enrolled"),
    "key_revoked": _plain("A person's key was revoked"),
    "text_erased": _plain("Withheld text or pictures were erased"),
    "attestation": _plain("An outsider's word on a checkpoint was kept"),
    "log_closed": _key_of("log_key", "The log was closed"),
}
