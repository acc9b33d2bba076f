"""Events and values in plain words, as statements, listings and pages tell them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.obd.monitors import mid_name
from auditkit.order.events import Event
from auditkit.text.values import Json, displayed

if TYPE_CHECKING:
    from auditkit.bench import TestKind
    from auditkit.obd import SelfTest


def computed_text(event: Event, kinds: Mapping[str, TestKind]) -> str:
    """Return what a computed bench test says, in words.

    ``kinds`` are the kinds of bench test by name: those of a catalogue.
    """
    from auditkit.order.bench_event import result_of

    try:
        found = result_of(event, kinds)
    except InputError as error:
        return f"not computed: {error.message}"
    if found is None:
        return "no method named"
    outcome = found.outcome.value.replace("-", " ")
    told = outcome if found.result is None else f"{outcome}: {found.result}"
    typed = f"; counts as typed: {', '.join(found.unchecked)}"
    return f"{told}{typed if found.unchecked else ''}"


def limit_text(event: Event) -> str:
    """Return a bench test's limit in words."""
    limit = event.object("limit")
    unit = limit.get("unit", "")
    sides = [
        f"{word} {limit[name]} {unit}"
        for word, name in (("at least", "minimum"), ("at most", "maximum"))
        if name in limit
    ]
    if not sides:
        return "no limit recorded"
    source = limit.get("source")
    said = f" (limit from {source})" if source else " (limit without a source)"
    return f"it should be {' and '.join(sides)}{said}"


_AMOUNT = frozenset({"name", "value", "above", "below", "unit"})


def value_text(value: Json) -> str:
    """Return a value in words: a quantity as its digits and unit."""
    if isinstance(value, list):
        return ", ".join(value_text(item) for item in value) or "none"
    if isinstance(value, dict):
        amount = displayed(value)
        if amount is None:
            pairs = (
                f"{name.replace('_', ' ')} {value_text(item)}"
                for name, item in value.items()
            )
            return ", ".join(pairs) or "none"
        more = {n: v for n, v in value.items() if n not in _AMOUNT}
        named = f"{value_text(value['name'])}: " if "name" in value else ""
        return f"{named}{amount}" + (f" ({value_text(more)})" if more else "")
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)


_NAMES = {"code_clear": "clearing of codes", "self_test": "typed self-test"}


def kind_in_words(event: Event) -> str:
    """Return an event's kind in words, such as "bench test"."""
    return _NAMES.get(event.kind, event.kind.replace("_", " "))


def method_in_words(kinds: Mapping[str, TestKind], name: str) -> str:
    """Return what a kind of bench test is called, as it stands in a sentence.

    One that is not known here stays as it was written.
    """
    if name not in kinds:
        return name
    title = kinds[name].title
    return f"{title[:1].lower()}{title[1:]}"


def names_of_parts(events: Iterable[Event]) -> dict[str, str]:
    """Return the names that diagnoses give suspect parts, by id; corrected ones too.

    Each is one line. One that does not say by itself which part is meant stands with
    its id: where two parts have it, where it is the id of another, where a part was
    called otherwise too.
    """
    found: dict[str, list[str]] = {}
    for said in events:
        for event in (said, Event(0, said.object("event"))):
            for part in event.items("suspect_parts"):
                name, known_as = part.get("id"), part.get("name")
                if isinstance(name, str) and isinstance(known_as, str) and known_as:
                    found.setdefault(name, []).append(known_as.replace("\n", " "))
    meant = {
        name: {name.casefold(), *map(str.casefold, s)} for name, s in found.items()
    }
    whose = Counter(text for texts in meant.values() for text in texts)
    return {
        name: f"{said[-1]} ({name})"
        if len({*said}) > 1 or whose[said[-1].casefold()] > 1
        else said[-1]
        for name, said in found.items()
    }


def event_name(event: Event, parts: Mapping[str, str] = MappingProxyType({})) -> str:
    """Return an event's name in words, such as "bench test of egr-valve".

    ``parts`` are the names of parts by id, which stand in the ids' place.
    """
    name = kind_in_words(event)
    if event.kind == "opening":
        return name
    if (part := event.text("part")) in parts:
        return f"{name} of {parts[part]}"
    if which := event.text("part") or event.text("monitor") or event.text("caution"):
        return f"{name} of {which}"
    return f"{name} of {event.text('captured') or event.text('at')}"


def self_test_text(test: SelfTest) -> str:
    """Return one result of the vehicle's own test in words."""
    monitor = mid_name(int(test.mid, 16)) or "no public name"
    name = f"self-test {test.mid}/{test.tid} ({monitor})"
    if test.outcome == "not-run":
        return f"{name} has not run: value and limits are all zero"
    if test.outcome == "not-judged":
        return f"{name} cannot be judged, its limits are crossed: {numbers_text(test)}"
    if test.outcome == "no-limit":
        return f"{name} can neither pass nor fail: {numbers_text(test)}"
    return f"{name} {test.outcome}: {numbers_text(test)}"


_PLAIN = {"counts": "count", "switches": "switches", "raw": "raw"}
"""Units that only say what a plain number counts -> the word before the number."""


def amount_text(value: str, unit: str) -> str:
    """Return a value with its unit; a plain number stands after what it counts."""
    return f"{_PLAIN[unit]} {value}" if unit in _PLAIN else f"{value} {unit}"


def numbers_text(test: SelfTest) -> str:
    """Return a self-test's value and limits in words, raw where unscaled."""
    if test.value is None:
        return test.numbers
    value = amount_text(f"{test.value:f}", str(test.unit))
    if not (test.has_minimum or test.has_maximum):
        return f"{value}, no limit given"
    low = f"{test.minimum:f}" if test.has_minimum else "none"
    high = f"{test.maximum:f}" if test.has_maximum else "none"
    return f"{value}, minimum {low}, maximum {high}"
