"""Shop rules: was the work done with its cautions acknowledged?"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from auditkit.events import Event, RepairOrder, quantity
from auditkit.findings import Problem
from auditkit.hookspecs import hookimpl
from auditkit.rule import Parameters, Rule, rule


@dataclass(frozen=True, slots=True)
class Step:
    """Which events call for a caution; an empty tuple means all."""

    kind: str
    systems: tuple[str, ...]
    tests: tuple[str, ...]

    def calls(self, order: RepairOrder, event: Event) -> bool:
        """Return whether this event is such a step."""
        if event.kind != self.kind:
            return False
        suspect = order.suspect(event.text("part"))
        if self.systems and (suspect is None or suspect.system not in self.systems):
            return False
        name = event.text("test").lower()
        return not self.tests or any(word in name for word in self.tests)


@dataclass(frozen=True, slots=True)
class Caution:
    """A hazard notice. ``preconditions`` maps a name to its unit, empty for text."""

    id: str
    version: int
    signal_word: str
    hazard: str
    text: str
    basis: str
    preconditions: Mapping[str, str]
    steps: tuple[Step, ...]

    @property
    def sha256(self) -> str:
        """Digest of the text that is shown (UTF-8), in hex."""
        return hashlib.sha256(self.text.encode()).hexdigest()


@lru_cache(maxsize=1)
def cautions() -> tuple[Caution, ...]:
    """Return the table of ``cautions.toml``."""
    text = (files("auditkit_plugins") / "cautions.toml").read_text("utf-8")
    return tuple(
        Caution(
            row["id"],
            row["version"],
            row["signal_word"],
            row["hazard"],
            row["text"],
            row["basis"],
            {p["name"]: p.get("unit", "") for p in row["preconditions"]},
            tuple(
                Step(s["kind"], tuple(s.get("systems", ())), tuple(s.get("tests", ())))
                for s in row["applies"]
            ),
        )
        for row in tomllib.loads(text)["caution"]
    )


def cautions_for(order: RepairOrder, event: Event) -> tuple[Caution, ...]:
    """Return the cautions that a step calls for."""
    return tuple(
        c for c in cautions() if any(step.calls(order, event) for step in c.steps)
    )


def _steps(order: RepairOrder) -> Iterator[tuple[Event, Caution]]:
    for event in order.of("bench_test", "repair", "road_test"):
        for caution in cautions_for(order, event):
            yield event, caution


def _acknowledged(order: RepairOrder, step: Event, caution: Caution) -> Event | None:
    """Return the last acknowledgement before a step, by whoever did the step."""
    found = [
        event
        for event in order.before(step.index, "caution")
        if event.text("caution") == caution.id
        and event.by == step.by
        and event.at <= step.at
        and event.object("step").get("kind") == step.kind
        and event.object("step").get("part", "") == step.text("part")
    ]
    return found[-1] if found else None


@rule("caution-not-acknowledged")
def not_acknowledged(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds a hazardous step without its caution acknowledged before it.

    What it checks
    For every step that calls for a caution (see the table of cautions), the person who
    did the step acknowledged that caution for that step before it.

    Why it matters
    Hot, pressurised, flammable and live parts injure people. An acknowledgement after
    the fact protects nobody.

    Example
    A canister is taken off; nobody acknowledged the caution about fuel vapour.

    How to fix
    Read the caution and acknowledge it with its preconditions before the step. This
    reminds; the maker's procedure, local codes and licensed practice decide.
    """
    for step, caution in _steps(order):
        if _acknowledged(order, step, caution) is None:
            what = " ".join(filter(None, (step.kind, step.text("part"))))
            yield Problem(
                f"{caution.signal_word} {caution.id} ({caution.hazard}) was not "
                f"acknowledged by {step.by} before the step: {what}",
                f"acknowledge caution {caution.id} before the step, with "
                f"{', '.join(caution.preconditions)}",
                step.index,
            )


@rule("caution-text-differs")
def text_differs(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds an acknowledgement of another text than the one in force.

    What it checks
    The version and the SHA-256 of the acknowledged text are those of the table.

    Why it matters
    What was not read was not acknowledged.

    Example
    Version 1 was acknowledged after version 2 came into force.

    How to fix
    Show the text in force and acknowledge that.
    """
    known = {c.id: c for c in cautions()}
    for event in order.of("caution"):
        caution = known.get(event.text("caution"))
        if caution is None:
            yield Problem(
                f"no caution is called {event.text('caution')!r}",
                f"acknowledge one of {', '.join(sorted(known))}",
                event.index,
            )
        elif (event.data.get("version"), event.text("text_sha256")) != (
            caution.version,
            caution.sha256,
        ):
            yield Problem(
                f"caution {caution.id}: the text acknowledged is not that of version "
                f"{caution.version}",
                f"acknowledge version {caution.version}, SHA-256 {caution.sha256}",
                event.index,
            )


@rule("caution-preconditions-missing")
def preconditions_missing(order: RepairOrder, _: Parameters) -> Iterator[Problem]:
    """Finds an acknowledgement without the preconditions of its caution.

    What it checks
    Each precondition is recorded; one that is measured has a value in its unit.

    Why it matters
    "Cool enough" is a tick; 38 degC is a fact.

    Example
    Hot exhaust parts acknowledged without a surface temperature.

    How to fix
    Measure and record the values that the caution asks for.
    """
    known = {c.id: c for c in cautions()}
    for event in order.of("caution"):
        caution = known.get(event.text("caution"))
        given = event.object("preconditions")
        for name, unit in caution.preconditions.items() if caution else ():
            value = quantity(given.get(name))
            if name not in given or (unit and (value is None or value.unit != unit)):
                asked = f" in {unit}" if unit else ""
                yield Problem(
                    f"the acknowledgement of {event.text('caution')} lacks the "
                    f"precondition {name!r}{asked}",
                    f"record {name}{asked}",
                    event.index,
                )


@hookimpl
def rules() -> Iterable[Rule]:
    """Return the rules of this file."""
    return not_acknowledged, text_differs, preconditions_missing
