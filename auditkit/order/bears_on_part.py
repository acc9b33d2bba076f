"""Does what a bench test read bear on the part that it names? Pure.

A limit is crossed by more than a bad part: by a supply that was too low, by a quantity
of another part, by another one of the set, or by numbers of the piece before.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from statistics import median

from auditkit.bench.methods import FittingMethod, methods
from auditkit.obd.code_table import place_of
from auditkit.order.events import Event, RepairOrder, SuspectPart
from auditkit.order.part_tests import is_after_work, tests_before_work
from auditkit.order.typed_test import written_outcome
from auditkit.text.values import Json, displayed, quantity

_DRIVEN = frozenset(
    {"current", "pressure", "flow", "mass flow", "volume", "rotational speed"}
)
_SUPPLY, _LEAST = "supply voltage", "least supply voltage"
_LOWEST = Decimal("10.5")  # V; ISO 16750-2, code D of a 12 V supply (from memory)
_REFERENCE = (Decimal("4.5"), Decimal("5.5"))  # V; a regulated 5 V: our choice
_ALSO_CALLED = {"length": ("length", "gap", "elongation")}
_FEWEST = 3
_ALSO_NAMED = {
    "wiring": re.compile(
        r"\b(?:wir|harness|loom|lead|cable|connector|plug|pin|terminal|splice|ground"
        r"|earth|fuse|relay|link|joint|socket|contact)",
        re.IGNORECASE,
    ),
    "control-module": re.compile(
        r"\b(?:module|unit|computer|control|ecu|software|program)", re.IGNORECASE
    ),
}
"""Systems that explain every code, and what their parts are called: our choice."""
_PLACED = re.compile(
    r"\b(cylinder|cyl|bank)\b\.?\s*(?:no\.?|number|#)?\s*([0-9]{1,2})\b"
    r"(?!\s*(?:[-/+&,]|and\b|or\b|to\b)\s*[0-9])",
    re.IGNORECASE,
)
"""One cylinder or bank, by its number; of several, such as 1 to 4, nothing is said."""


def places_named(text: str) -> dict[str, set[int]]:
    """Return the cylinders and banks that a text names, by their numbers."""
    found: dict[str, set[int]] = {}
    for word, number in _PLACED.findall(text):
        what = "bank" if word.lower() == "bank" else "cylinder"
        found.setdefault(what, set()).add(int(number))
    return found


def read_elsewhere(order: RepairOrder, test: Event) -> str:
    """Return at which other place than its part's a test was read; empty where none.

    A reading says which cylinder or bank it is of, and the part's name says which it
    is, or else the number of a code that it is suspected for. Of a set each says so.
    """
    suspect = order.suspect(test.text("part"))
    if suspect is None or test.text("method") == "balance":
        return ""
    named = places_named(suspect.name)
    own = {**named}
    for place in map(place_of, suspect.codes or order.codes):
        for what, number in (("cylinder", place.cylinder), ("bank", place.bank)):
            if number is not None and what not in named:
                own.setdefault(what, set()).add(number)
    for item in test.items("readings"):
        for what, numbers in places_named(str(item.get("which", ""))).items():
            if not numbers & own.get(what, numbers):
                return f"{item.get('name')} was read at {item.get('which')}"
    return ""


def not_of_part(order: RepairOrder, test: Event) -> tuple[str, str] | None:
    """Return why a test shows nothing of its part, and what to do; None if it may."""
    part = test.text("part")
    if low := _low_supply(test):
        return (
            f"{part}: {low}",
            "measure supply and ground under load, and repeat the test on a good one",
        )
    if other := read_elsewhere(order, test):
        return f"{part}: {other}", "measure this part itself"
    if other := _another_of_the_set(_name(order, part), test):
        return f"{part}: {other}", "look at that one; name the part that stands out"
    if both := _both_of_the_set(_name(order, part), test):
        return f"{part}: {both}", "repeat the test; write which one each reading is of"
    return None


def less_of_part(order: RepairOrder, test: Event) -> str:
    """Return why a test shows no more than what was typed; empty where it may."""
    if _digits_of_the_piece_before(order, test):
        return "its readings are, to the digit, those of the piece before it"
    if other := _reading_without_limit(order, test):
        return other
    if _names_no_member(_name(order, test.text("part")), test):
        return "its readings do not say which one of the set they are of"
    if is_after_work(order, test):
        return (
            "it was measured when the work was over: that it came out there is a word"
        )
    return ""


def quantity_of_another(order: RepairOrder, test: Event) -> str:
    """Return that what was read is known of another part only; empty where not.

    The table of methods names parts by their nouns, and so does a diagnosis; where it
    knows no test of this part, nothing is said.
    """
    suspect = order.suspect(test.text("part"))
    if suspect is None or test.text("method") != "direct-reading":
        return ""
    name, words = suspect.name, set(re.findall(r"[a-z]+", suspect.name.lower()))
    rows = [m for m in methods() if m.system == suspect.system]
    own = [m for m in rows if _nouns(m) & words]
    for item in test.items("readings"):
        read = str(item.get("name", ""))
        called = _ALSO_CALLED.get(read, (read,))
        others = [m for m in rows if m not in own and _reads(m, called)]
        if own and others and not any(_reads(m, called) for m in own):
            return f"its {read} is known as one of the {others[0].part}, not of {name}"
    return ""


def named_otherwise(suspect: SuspectPart) -> str:
    """Return that a part of a system which explains every code is called otherwise.

    Its name holds none of the words for wiring, or for a module, and the noun of a part
    of another system in the table of methods. A name without a noun says nothing.
    """
    words = set(re.findall(r"[a-z]+", suspect.name.lower()))
    own = _ALSO_NAMED.get(suspect.system)
    if own is None or own.search(suspect.name):
        return ""
    for row in methods():
        if row.system not in _ALSO_NAMED and _nouns(row) & words:
            return (
                f"{suspect.name} is by its name of {row.system}, not {suspect.system}"
            )
    return ""


def _name(order: RepairOrder, part: str) -> str:
    suspect = order.suspect(part)
    return part if suspect is None else suspect.name


def _low_supply(test: Event) -> str:
    """Return which supply was too low for what was read; empty where none was.

    Of what a supply drives, and where the test does not state the least supply itself.
    Cranking pulls every supply down.
    """
    read = (*test.items("readings"), test.object("result"))
    names = {str(item.get("name")) for item in read}
    if test.text("setup") == "cranking" or not names & _DRIVEN:
        return ""
    given = test.object("conditions")
    found = quantity(given.get(_SUPPLY))
    if found is None or found.unit != "V" or _LEAST in given:
        return ""
    low, high = _REFERENCE
    if found.value >= _LOWEST or low <= found.value <= high:
        return ""
    return f"its supply was {found.value} V, and a part on it reads as if bad"


def _nouns(row: FittingMethod) -> set[str]:
    return {
        part.split()[-1]
        for part in re.split(r", | or | of ", row.part.lower())
        if part.split()
    }


def _reads(row: FittingMethod, called: Sequence[str]) -> bool:
    return any(re.search(rf"\b{re.escape(one)}\b", row.reads) for one in called)


def _another_of_the_set(name: str, test: Event) -> str:
    """Return which one of a set stands out, where its number is not this part's.

    Readings say which one they are of; of a part without a number nothing is said.
    """
    own, members = _number(name), _from_the_middle(test)
    if not own or len(members) < _FEWEST:
        return ""
    out = max(away for away, _ in members)
    named = {number for away, number in members if away == out}
    if own in named or "" in named:
        return ""
    return f"it is number {', '.join(sorted(named))} of the set that stands out"


def _both_of_the_set(name: str, test: Event) -> str:
    """Return that this part is in its set twice, once standing out and once not.

    Once it is less than half as far from the middle as the farthest: our choice. Where
    all readings are of one number, they do not say which one they are of.
    """
    own, members = _number(name), _from_the_middle(test)
    if len({number for _, number in members}) == 1 or not members:
        return ""
    out = max(away for away, _ in members)
    of_part = [away for away, number in members if number == own]
    if not own or out not in of_part or min(of_part) * 2 >= out:
        return ""
    return f"number {own} of the set stands out by one reading, and not by another"


def _from_the_middle(test: Event) -> list[tuple[Decimal, str]]:
    """Return how far each reading of a set is from its median, and of which number."""
    members = [
        (found.value, _number(str(item.get("which", ""))))
        for item in test.items("readings")
        if (found := quantity(dict(item))) is not None and item.get("which")
    ]
    if test.text("method") != "balance" or not members:
        return []
    middle = median(value for value, _ in members)
    return [(abs(value - middle), number) for value, number in members]


def _names_no_member(name: str, test: Event) -> bool:
    """Return whether the balance of a set does not say which one each reading is of.

    Of a part that has a number: another one of its set may be the one that stands out.
    """
    named = [str(item.get("which", "")) for item in test.items("readings")]
    is_of_set = test.text("method") == "balance" and bool(_number(name))
    return is_of_set and (not all(named) or len(set(named)) < len(named))


def _number(text: str) -> str:
    found = re.findall(r"[0-9]+", text)
    return found[-1].lstrip("0") if found else ""


def _reading_without_limit(order: RepairOrder, test: Event) -> str:
    """Return which reading, written without a limit, lies within that of a test.

    It is of the same part, before it was worked on.
    """
    limit = dict(test.object("limit"))
    for other in tests_before_work(order, test.text("part")):
        result = other.object("result")
        if other.index == test.index or not result or other.object("limit"):
            continue
        held = Event(other.index, {**other.data, "limit": limit})
        if limit and written_outcome(held) == "good":
            shown = displayed(dict(result))
            return f"{shown} was read of it, too, without a limit, and lies within"
    return ""


def _digits_of_the_piece_before(order: RepairOrder, test: Event) -> bool:
    """Return whether a test reads, to the digit, what the piece before it read.

    The part was replaced between the two. A display over its range reads so each time.
    """
    own = _digits(test)
    return bool(own) and any(
        other.text("part") == test.text("part")
        and other.text("method") == test.text("method")
        and _digits(other) == own
        and any(
            repair.text("part") == test.text("part")
            and repair.text("action") == "replaced"
            for repair in order.between(other.index, test.index, "repair")
        )
        for other in order.before(test.index, "bench_test")
    )


def _digits(test: Event) -> list[tuple[Json, Json]]:
    items: list[Mapping[str, Json]] = [*test.items("readings")]
    if result := test.object("result"):
        items.append(result)
    if any("value" not in item for item in items):
        return []
    return [(item.get("name"), item["value"]) for item in items]
