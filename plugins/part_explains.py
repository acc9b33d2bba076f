"""Can the part that was worked on cause the fault at all?"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator

from auditkit.plugin import (
    Lacking,
    Parameters,
    Question,
    RepairOrder,
    Rule,
    Shown,
    Strength,
    SuspectPart,
    addressed,
    hookimpl,
    named_otherwise,
    place_of,
    places_named,
    row_of,
    rule,
)


@rule("part-of-another-system", question=Question.PART_EXPLAINS)
def of_another_system(order: RepairOrder, _: Parameters) -> Iterator[Shown | Lacking]:
    """Finds a part whose system is not known to cause the fault.

    What it checks
    A diagnosis before the repair names each part that was worked on for a fault. Its
    system is the code's own, or one that the table of codes calls plausible. Wiring and
    the control module are plausible for every code; a part of theirs that is called by
    the noun of another system's part, and by no word for wiring or a module, is a word.
    A part whose name says of which
    cylinder or bank it is, is of the one that the code's number says, or of another
    addressed fault's, beside one that is of this; so is an oxygen sensor whose name
    says which sensor it is, by number of a bank or as upstream or downstream, and a
    wheel's part whose name says the wheel (C0035 to C0050). A sensor whose name says
    what it senses is, for a circuit code of one such quantity (coolant, air, throttle,
    pedal, crankshaft, camshaft and the like), the sensor of that one; the temperature
    of the intake air may be read within the sensor of air flow or manifold pressure.
    Another system, place or quantity counts as the shop's word where the diagnosis
    gives a reason and its source.

    Why it matters
    A part that cannot cause a fault did not heal it, whatever its bench test shows.

    Example
    A cabin filter is replaced for an EGR code.

    What to do
    Name the part's true system in the diagnosis; where another system is the cause,
    write why, and the service information that says so.
    """
    for fault in addressed(order):
        row = row_of(fault.code, order.day(fault.last_repair))
        named: list[str] = []
        by_word: list[str] = []
        strange: list[str] = []
        beside: list[str] = []
        for part in fault.causes:
            suspect = _suspected(order, part, fault.last_repair or 0)
            if suspect is None:
                strange.append(f"{part} was never suspected before it was worked on")
            elif told := named_otherwise(suspect):
                by_word.append(told)
            elif not (other := _other(suspect, row.explains, fault.code)):
                named.append(f"{suspect.name} ({suspect.system})")
            elif row.explains(suspect.system) and any(
                _is_placed(suspect, one.code) for one in addressed(order)
            ):
                beside.append(f"{suspect.name} {other}")
            elif suspect.why and suspect.why_source:
                by_word.append(f"{suspect.name}: {suspect.why} ({suspect.why_source})")
            else:
                strange.append(f"{suspect.name} {other}")
        if beside and not named:
            strange += beside
        if strange:
            yield Lacking(
                f"{fault.code} speaks of {row.meaning}; {'; '.join(strange)}",
                "name the part's system, or why it causes this fault, with the source",
                fault.last_repair,
                fault.subject,
            )
        elif by_word:
            yield Shown(
                f"{fault.code}: {'; '.join(by_word)}",
                (),
                fault.subject,
                Strength.WORD,
            )
        else:
            yield Shown(
                f"{fault.code} speaks of {row.meaning}; plausible: {', '.join(named)}",
                (),
                fault.subject,
                Strength.TABLE,
            )


_SENSOR = re.compile(
    r"\bsensor\s*(?:no\.?|number|#)?\s*([1-4])\b"
    r"(?!\s*(?:[-/+&,]|and\b|or\b|to\b)\s*[0-9])",
    re.IGNORECASE,
)
_UPSTREAM = re.compile(
    r"\b(?:upstream|pre-?cat\w*|before (?:the )?cat\w*)", re.IGNORECASE
)
_DOWNSTREAM = re.compile(
    r"\b(?:downstream|post-?cat\w*|(?:after|behind) (?:the )?cat\w*)", re.IGNORECASE
)
"""Not front and rear: of an engine that stands crosswise these are its banks."""
_WHEELS = {
    "C0035": (("left", "right"), ("front", "rear")),
    "C0040": (("right", "left"), ("front", "rear")),
    "C0045": (("left", "right"), ("rear", "front")),
    "C0050": (("right", "left"), ("rear", "front")),
}
"""Code of a wheel's speed sensor -> its place, each with what it is not (SAE J2012,
from memory)."""


_SENSED = {
    "coolant temperature": (r"coolant|ECT", "P0115 P0117 P0118 P0119"),
    "intake air temperature": (r"intake air|IAT", "P0110 P0112 P0113 P0114"),
    "ambient temperature": (r"ambient|outside air|AAT", "P0070 P0072 P0073 P0074"),
    "oil temperature": (r"oil temp\w*", "P0195 P0197 P0198 P0199"),
    "fuel temperature": (r"fuel temp\w*", "P0180 P0182 P0183"),
    "air flow": (r"air[- ]?flow|air[- ]?mass|mass[- ]?air|MAF", "P0100 P0102 P0103"),
    "manifold pressure": (r"manifold (?:absolute )?pressure|MAP", "P0105 P0107 P0108"),
    "throttle position": (r"throttle|TPS?", "P0120 P0122 P0123 P0220 P0222 P0223"),
    "pedal position": (r"pedal|accelerator", "P2120 P2122 P2123 P2125 P2127 P2128"),
    "crankshaft": (r"crank(?:shaft)?|CKP", "P0335 P0337 P0338 P0339"),
    "camshaft": (r"cam(?:shaft)?|CMP", "P0340 P0342 P0343 P0344 P0345 P0347 P0348"),
    "knock": (r"knock", "P0325 P0327 P0328 P0330 P0332 P0333"),
}
"""What is sensed -> how a part's name says so, and codes of that sensor's own circuit
(SAE J2012 through a public list)."""
_READ_WITHIN = {"intake air temperature": {"air flow", "manifold pressure"}}
_WIRED = frozenset({"wiring", "control-module", "electrical", "network", "charging"})


def _sensed(suspect: SuspectPart, code: str) -> str:
    """Return what another sensor than that of a circuit code senses; empty if none."""
    own = next((what for what, (_, codes) in _SENSED.items() if code in codes), "")
    if not own or suspect.system in _WIRED or "sensor" not in suspect.name.lower():
        return ""
    told = {
        what
        for what, (words, _) in _SENSED.items()
        if re.search(rf"\b(?:{words})\b", suspect.name, re.IGNORECASE)
    }
    if not told or told & {own, *_READ_WITHIN.get(own, ())}:
        return ""
    return f"is a sensor of {' and '.join(sorted(told))}, not of {own}"


def _other(suspect: SuspectPart, explains: Callable[[str], bool], code: str) -> str:
    """Return why a part is no plausible one of a code; empty where it is."""
    if not explains(suspect.system):
        return f"belongs to {suspect.system}"
    for what, own, told in _places(suspect, code):
        if own not in told:
            return f"is of another {what} than {own}"
    return _sensed(suspect, code)


def _is_placed(suspect: SuspectPart, code: str) -> bool:
    """Return whether a name says the place that a code's number says."""
    places = list(_places(suspect, code))
    return bool(places) and all(own in told for _, own, told in places)


def _places(
    suspect: SuspectPart, code: str
) -> Iterator[tuple[str, int | str, set[int] | set[str]]]:
    """Yield each kind of place that both say: its name, the code's, the part's."""
    name = suspect.name
    place, told = place_of(code), places_named(name)
    for what, own in (("cylinder", place.cylinder), ("bank", place.bank)):
        if own is not None and what in told:
            yield what, own, told[what]
    sensors = _sensors(name) if suspect.system == "oxygen-sensor" else set()
    if place.sensor is not None and sensors:
        yield "sensor", place.sensor, sensors
    words = set(re.findall(r"\b(?:left|right|front|rear)\b", name.lower()))
    for own_word, other in _WHEELS.get(code, ()):
        if words & {own_word, other}:
            yield "wheel", own_word, words


def _sensors(name: str) -> set[int]:
    """Return which oxygen sensors of a bank a name may mean; none where all."""
    numbers = {int(n) for n in _SENSOR.findall(name)}
    if numbers and "bank" in name.lower():  # else it may be the bank that is counted
        return numbers
    if bool(_UPSTREAM.search(name)) == bool(_DOWNSTREAM.search(name)):
        return set()
    return {1} if _UPSTREAM.search(name) else {2, 3, 4}


def _suspected(order: RepairOrder, part: str, last: int) -> SuspectPart | None:
    """Return a part as the last diagnosis before it was worked on describes it."""
    worked_on = [
        e.index
        for e in order.of("repair")
        if e.text("part") == part and e.index <= last
    ]
    found = [
        suspect
        for suspect in order.suspect_parts
        if suspect.id == part and suspect.event < max(worked_on, default=last)
    ]
    return found[-1] if found else None


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return (of_another_system,)
