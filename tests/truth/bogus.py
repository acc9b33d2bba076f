"""Bogus repair records: an honest one that comes out proven, and one change.

A family is a function of a draft and of a variant. It changes the draft, or returns
False where the change makes no sense there. It says which class of lie it belongs to,
which questions may fall (at least one of them has to), and whether the lie lies in what
a person typed: only then may the record come out *vouched*.

A new family is about ten lines.
"""

import copy
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from auditkit.order.catalogue import Catalogue
from auditkit.order.events import RepairOrder
from auditkit.order.judgement import Judgement
from auditkit.order.questions import Question, State
from auditkit.proof.packet import parse_packet
from auditkit.reader.judge_again import judge_again
from truth.jobs import CATALOGUE, FILE, JOBS, PICTURES, record
from truth.packets import Signing, packet_of
from truth.said import ENGINE, Said, code_bytes, parsed, text_of

KNOWN, EXPLAINS, AT_FAULT = "fault-known", "part-explains", "part-at-fault"
RERAN, PASSED, GONE = "test-reran", "test-passed", "fault-gone"
ELSE, SAME, TIME, HAZARDS = (
    "nothing-else",
    "same-vehicle",
    "order-of-time",
    "hazards-met",
)


class Draft:
    """A copy of an honest record, to change."""

    def __init__(self, name: str, way: str = "raw") -> None:
        self.name = name
        self.job = JOBS[name]
        self.record = record(name, way)
        self.recorded: list[str] = []
        self.signers: list[str] = []
        self.elsewhere: dict[str, str] = {}
        self.others: tuple[RepairOrder, ...] = ()
        self.pictures = dict(PICTURES)
        self.catalogue = CATALOGUE
        self.signing: Signing | None = None

    @property
    def events(self) -> list[dict]:
        return self.record["events"]

    def of(self, kind: str) -> list[dict]:
        return [e for e in self.events if e["kind"] == kind]

    @property
    def before(self) -> dict:
        """The last readout before the last repair."""
        last = self.events.index(self.of("repair")[-1])
        return [e for e in self.events[:last] if e["kind"] == "readout"][-1]

    @property
    def after(self) -> dict:
        return self.of("readout")[-1]

    @property
    def old_test(self) -> dict | None:
        """The bench test that shows the part at fault."""
        part = self.job["part"][0]
        found = [e for e in self.of("bench_test") if e["part"] == part]
        return next((e for e in found if e.get("of") == "old"), None)

    @property
    def new_test(self) -> dict | None:
        return next((e for e in self.of("bench_test") if e.get("of") == "new"), None)

    @property
    def module(self) -> str:
        return self.job.get("module", ENGINE)

    def put(self, event: dict, *, after: dict) -> None:
        self.events.insert(self.events.index(after) + 1, event)

    @property
    def order(self) -> RepairOrder:
        recorded = tuple(self.recorded)
        folded = RepairOrder.fold(
            "RO-1",
            self.events,
            self.elsewhere,
            recorded,
            pictures=self.pictures,
            signers=self.signers,
        )
        return replace(folded, others=self.others)

    def judged(self, *without: str) -> Judgement:
        """Judge it by the default policy and by all rules, but those of these names.

        What a shop signed as it likes is judged as its packet's reader does.
        """
        catalogue = lacking(self.catalogue, *without)
        if self.signing is None:
            return catalogue.judge(self.order)
        return judge_again(parse_packet(self.packet), catalogue)[0]

    @property
    def packet(self) -> str:
        """The packet of a record that a shop signed as it likes."""
        return packet_of(self.order, self.signing or Signing())


def lacking(catalogue: Catalogue, *names: str) -> Catalogue:
    """Return a catalogue that has all of another's rules but those of these names."""
    rules = tuple(rule for rule in catalogue.rules if rule.name not in names)
    return replace(catalogue, rules=rules, canon=catalogue.canon.difference(names))


Change = Callable[[Draft, object], bool | None]


@dataclass(frozen=True)
class Family:
    """One way of lying; ``falls`` are the questions of which one has to fall.

    The lie is ``typed`` where it lies in what a person wrote. ``way`` is how the job
    was done; ``lone`` leaves out the jobs in which another path shows the same: what is
    never cleared heals by its lamp too. ``contradicted`` is true where the evidence
    itself speaks against the repair: then *unproven* would be too kind. ``where`` it is
    caught: in the packet, in the whole log, or in a collection of many packets. A
    packet alone cannot show what is caught elsewhere. ``few`` jobs will do where the
    lie is not in the record.
    """

    name: str
    kind: str
    falls: tuple[str, ...]
    change: Change
    variants: tuple = (None,)
    typed: bool = False
    way: str = "raw"
    lone: bool = False
    contradicted: bool = False
    where: str = "packet"
    few: bool = False

    @property
    def jobs(self) -> list[str]:
        """The jobs that the lie is tried on."""
        return bases(self.way)[:: FEW if self.few else 1]


FEW = 9
FAMILIES: dict[str, Family] = {}


def family(
    kind: str, *falls: str, variants: Iterable = (None,), **more: bool | str
) -> Callable[[Change], Change]:
    """Return what makes a family of a function; ``more`` is as ``Family`` says."""

    def added(change: Change) -> Change:
        FAMILIES[change.__name__] = Family(
            change.__name__, kind, falls, change, tuple(variants), **more
        )
        return change

    return added


@dataclass(frozen=True)
class Bogus:
    """One bogus record: family, variant and job, by which it is found again."""

    family: Family
    variant: object
    job: str
    draft: Draft = field(compare=False, repr=False)

    @property
    def id(self) -> str:
        return f"{self.family.name}[{self.variant}] {self.job}"


def bases(way: str = "raw") -> list[str]:
    """Return the jobs that come out proven, raw; vouched by hand."""
    best = {"raw": "proven", "hand": "vouched", "screen": "vouched"}[way]
    return [
        name
        for name, job in JOBS.items()
        if job.get("expect", {}).get(way, FILE["defaults"][way]) == best
    ]


def all_bogus(families: dict[str, Family] = FAMILIES) -> Iterator[tuple]:
    """Yield (family, variant, job) of every bogus record that there may be."""
    for one in families.values():
        for variant in one.variants:
            for job in one.jobs:
                yield one, variant, job


def made(one: Family, variant: object, job: str) -> Bogus | None:
    """Return a bogus record; None where the change makes no sense for the job."""
    draft = Draft(job, one.way)
    whole = copy.deepcopy(_whole(draft))
    if one.lone and not draft.job.get("clear", True):
        return None
    if one.change(draft, variant) is False:
        return None
    if _whole(draft) == whole:
        message = f"{one.name} of {job} changes nothing"
        raise AssertionError(message)
    return Bogus(one, variant, job, draft)


def _whole(draft: Draft) -> tuple:
    told = draft.events, draft.recorded, draft.elsewhere, draft.pictures, draft.others
    told = *told, draft.signers
    return *told, draft.catalogue is CATALOGUE, draft.signing is None


def why_wrong(bogus: Bogus, *without: str) -> str:
    """Return what is wrong with the judgement of a bogus record; empty if nothing.

    *Unproven* and *contradicted* are right as long as a question fell that had to; and
    *vouched* where the lie is in what somebody typed. ``without`` names rules that are
    left out.
    """
    family, found = bogus.family, bogus.draft.judged(*without)
    if any("crashed" in one.message for one in found.findings):
        return f"{bogus.id}: a rule crashed"
    allowed = {"contradicted"} if family.where == "packet" else {"proven"}
    if family.where == "packet" and not family.contradicted:
        allowed |= {"unproven", *(["vouched"] if family.typed else [])}
    if found.verdict not in allowed:
        return f"{bogus.id}: {found.verdict}"
    fell = [
        one
        for one in found.answers
        if one.question in family.falls
        and not (
            one.state is State.SHOWN and Question(one.question).is_full(one.strength)
        )
    ]
    if fell or not family.falls:
        return ""
    return f"{bogus.id}: none of {', '.join(family.falls)} fell"


def only_by(bogus: Bogus) -> str:
    """Return the one rule that stops a bogus record; empty where several do, or none.

    Without that rule the record comes out, or better than it may. What was signed is
    not asked so: a reader without a rule of the shop's says that it is not judged.
    """
    if bogus.draft.signing is not None:
        return ""
    rules = {one.rule for one in bogus.draft.judged().blocking} - {"not-shown"}
    for rule in rules if len(rules) == 1 or bogus.family.contradicted else ():
        if why_wrong(bogus, rule):
            return rule
    return ""


# What families change in a readout.


def edit(event: dict, change: Callable[[Said], bool | None]) -> bool | None:
    """Change what the vehicle said in a readout."""
    said = parsed(event["raw"])
    if change(said) is False:
        return False
    event["raw"] = text_of(said)
    return None


def answers(said: Said, request: str) -> list | None:
    """Return the answers to a request, also as service 22 asks for it."""
    asked = {
        request,
        "22" + {"01": "F4", "09": "F8"}.get(request[:2], "") + request[2:],
    }
    return next((one[1] for one in said if one[0] in asked), None)


def with_codes(
    said: Said, service: str, who: str, codes: list[str], *, add: bool = False
) -> bool | None:
    """Let a module answer 03, 07 or 0A with these codes."""
    found = answers(said, service)
    if found is None:
        return False
    old = dict(found).get(who, bytes([int(service, 16) + 0x40, 0]))
    held = old[2:] if add else b""
    body = held + b"".join(map(code_bytes, codes))
    new = bytes([old[0], len(body) // 2]) + body
    found[:] = [(w, p) for w, p in found if w != who] + [(who, new)]
    return None


def with_bytes(said: Said, request: str, data: bytes) -> bool | None:
    """Let the engine module answer a request with other data."""
    found = answers(said, request)
    if not found:
        return False
    who, payload = found[0]
    skip = 3 if payload[0] == 0x62 else 2
    if data == payload[skip:]:
        return False
    found[0] = (who, payload[:skip] + data)
    return None


def shifted(text: str, **delta: float) -> str:
    return (datetime.fromisoformat(text) + timedelta(**delta)).isoformat()


def move(event: dict, **delta: float) -> None:
    """Date an event otherwise, with all times within it."""
    for name in ("at", "captured", "started", "start", "end"):
        if name in event:
            event[name] = shifted(event[name], **delta)


def tests_of(said: Said) -> list[tuple[list, bytes]]:
    """Return each answer of service 06 with its list and payload."""
    return [
        (found, found[0][1])
        for request, found in said
        if request.startswith("06") and found
    ]


def with_test(said: Said, place: int, new: Callable[[bytes], bytes]) -> bool | None:
    """Change the bytes of each service 06 answer (46 mid tid uas value min max)."""
    every = tests_of(said)
    if not every:
        return False
    for found, payload in every[place:]:
        found[0] = (found[0][0], new(payload))
    return None


def without(said: Said, *requests: str) -> bool | None:
    """Take requests and their answers out."""
    kept = [
        one
        for one in said
        if answers([one], one[0]) is not None
        and not any(answers([one], r) is not None for r in requests)
    ]
    if len(kept) == len(said):
        return False
    said[:] = kept
    return None


def vin_request(said: Said) -> list | None:
    return answers(said, "0902")
