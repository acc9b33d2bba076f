"""What verifying many packets came to: an outcome for each file, and a summary.

Pure: nothing here reads a file. ``auditkit.reader.many_packets`` makes the outcomes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from auditkit.proof.check_report import NOTHING_HELD, VERDICTS, HeldValues, LogProblem
from auditkit.reader.held_twice import HeldTwice
from auditkit.text.display_text import plural, printable
from auditkit.text.values import Json

KEPT_PROBLEMS = 5
_SHOWN = 20


@dataclass(frozen=True, slots=True)
class FileOutcome:
    """What verifying one file came to.

    ``origin``, ``repair_order`` and ``verdict`` are what a packet that holds says: the
    log's name, the order, and one of ``VERDICTS`` or None: ``verdict`` as judged here,
    ``signed_verdict`` as its shop signed it, ``agrees`` false where it signed more than
    is judged here. ``held`` is what a copy of it is known by. ``problems`` are the
    first few of ``found`` in all. ``unusable`` is the error's text where the file could
    not be read as a packet; empty otherwise.
    """

    path: str
    verified: bool
    entries: int = 0
    log_key: str = ""
    origin: str = ""
    repair_order: str | None = None
    verdict: str | None = None
    signed_verdict: str | None = None
    agrees: bool = True
    problems: tuple[LogProblem, ...] = ()
    found: int = 0
    unusable: str = ""
    held: HeldValues = NOTHING_HELD

    @property
    def order(self) -> tuple[str, str, str | None]:
        """Which repair order it is: key and name of its log, and its number."""
        return self.log_key, self.origin, self.repair_order

    @property
    def is_overstated(self) -> bool:
        """Whether its shop signed more than the evidence bears out here."""
        if not self.agrees:
            return True
        if self.signed_verdict not in VERDICTS or self.verdict not in VERDICTS:
            return False
        return VERDICTS.index(self.signed_verdict) < VERDICTS.index(self.verdict)

    def to_json(self) -> dict[str, Json]:
        """Return the outcome as JSON; ``unusable`` is null where the file was read."""
        problems: list[Json] = [
            {"seq": p.seq, "problem": p.problem} for p in self.problems
        ]
        return {
            "path": self.path,
            "verified": self.verified,
            "entries": self.entries,
            "log_key": self.log_key,
            "repair_order": self.repair_order,
            "verdict": self.verdict,
            "signed_verdict": self.signed_verdict,
            "problems": problems,
            "problems_found": self.found,
            "unusable": self.unusable or None,
        }


@dataclass(slots=True)
class _Count:
    verified: int = 0
    refused: int = 0


@dataclass(slots=True)
class Summary:
    """What many outcomes come to. Make it empty, ``add`` to it, or use ``of``.

    It keeps the counts, which repair orders were met, and every outcome that does not
    hold. ``unproven`` names by verdict the files whose repair order is not proven.
    A packet that holds *repeats* where one before it is of the same repair order
    of the same log (its name and its key): a copy, or an earlier or later packet.
    ``copies`` are packets that hold a readout, or typed values, of another order.
    ``notes`` are what holds of all packets, such as what was not compared.
    """

    keys: dict[str, _Count] = field(default_factory=dict)
    refused: list[FileOutcome] = field(default_factory=list)
    unusable: list[FileOutcome] = field(default_factory=list)
    verified: int = 0
    verdicts: dict[str | None, int] = field(default_factory=dict)
    orders: set[tuple[str, str, str | None]] = field(default_factory=set)
    overstated: list[FileOutcome] = field(default_factory=list)
    copies: HeldTwice = field(default_factory=HeldTwice)
    unproven: dict[str | None, list[str]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    @classmethod
    def of(cls, outcomes: Iterable[FileOutcome]) -> Summary:
        """Return the summary of outcomes."""
        made = cls()
        for outcome in outcomes:
            made.add(outcome)
        return made

    def add(self, outcome: FileOutcome) -> None:
        """Count one outcome."""
        if outcome.unusable:
            self.unusable.append(outcome)
            return
        count = self.keys.setdefault(outcome.log_key, _Count())
        if outcome.verified:
            self.verified += 1
            count.verified += 1
            said = outcome.verdict
            self.verdicts[said] = self.verdicts.get(said, 0) + 1
            if said != VERDICTS[0]:
                name = f"{outcome.path} ({outcome.repair_order}, {said})"
                self.unproven.setdefault(said, []).append(name)
            if outcome.is_overstated:
                self.overstated.append(outcome)
            self.orders.add(outcome.order)
            self.copies.add(outcome)
        else:
            self.refused.append(outcome)
            count.refused += 1

    @property
    def packets(self) -> int:
        """How many files there were."""
        return self.verified + len(self.refused) + len(self.unusable)

    @property
    def repeated(self) -> int:
        """How many packets that hold repeat the repair order of another."""
        return self.verified - len(self.orders)

    def is_enough(self, least: str) -> bool:
        """Return whether every packet that holds reaches a verdict; "" asks nothing."""
        reached = {"": VERDICTS, "vouched": VERDICTS[:2], "proven": VERDICTS[:1]}[least]
        return not least or set(self.verdicts) <= set(reached)

    def below(self, least: str, *, shown: int = _SHOWN) -> str:
        """Return in a line which files do not reach a verdict."""
        reached = VERDICTS[: VERDICTS.index(least) + 1]
        names = [
            name
            for verdict, orders in self.unproven.items()
            if verdict not in reached
            for name in orders
        ]
        more = f" and {len(names) - shown} more" if len(names) > shown else ""
        said = f"asked: at least {least}; below it: {', '.join(names[:shown])}{more}"
        return printable(said)

    @property
    def exit_status(self) -> int:
        """0 all hold, 1 one does not, 2 all that could be read hold, one could not.

        One whose shop signed a better verdict than is judged here does not hold, nor
        one with the readout of another order.
        """
        if self.refused or self.overstated or self.copies.found:
            return 1
        return 2 if self.unusable or not self.packets else 0

    def lines(self, *, shown: int = _SHOWN) -> list[str]:
        """Return the answer, then by log key, then what does not hold, then what next.

        At most ``shown`` files of a kind are named. No line can control a terminal.
        """
        said = [f"{plural(self.packets, 'packet', 'packets')}: {self._counts()}"]
        said += self._of_repairs()
        said += [f"    log key {_named(k)}: {_count(c)}" for k, c in self._by_key()]
        for outcome in self.refused[:shown]:
            many = plural(outcome.found, "problem", "problems")
            said.append(f"{outcome.path}: NOT verified: {many}, the first:")
            said += [f"{outcome.path}: {first}" for first in outcome.problems[:1]]
        said += _more(self.refused[shown:], "that are not verified")
        said += [_overstated(outcome) for outcome in self.overstated[:shown]]
        said += _more(self.overstated[shown:], "whose shop signed more")
        said += self.copies.lines(shown)
        said += [outcome.unusable for outcome in self.unusable[:shown]]
        said += _more(self.unusable[shown:], "that cannot be used")
        if self.refused:
            said.append(
                "    what to do: do not rely on those NOT verified; verify each by "
                "itself to see all its problems"
            )
        if self.overstated:
            said.append(
                "    what to do: do not rely on what was signed where the evidence "
                "says less"
            )
        if self.copies.found:
            said.append(
                "    what to do: rely on neither of two orders with the same readout "
                "or readings; ask the shop which vehicle it was"
            )
        if self.unusable:
            said.append("    what to do: ask for those that cannot be used again")
        said += [f"    note: {note}" for note in self.notes]
        return [printable(line) for line in said]

    def to_json(self) -> dict[str, Json]:
        """Return the summary as JSON; ``not_verified`` and ``unusable`` list files.

        ``verdicts`` counts what the packets that hold say; ``none`` is those that give
        none of these answers.
        """
        keys: list[Json] = [
            {"log_key": key, "verified": count.verified, "not_verified": count.refused}
            for key, count in self._by_key()
        ]
        return {
            "verified": self.exit_status == 0,
            "packets": self.packets,
            "packets_verified": self.verified,
            "verdicts": {
                **{said: self.verdicts.get(said, 0) for said in VERDICTS},
                "none": self.verdicts.get(None, 0),
            },
            "repair_orders": len(self.orders),
            "repeated": self.repeated,
            "log_keys": keys,
            "not_verified": [outcome.to_json() for outcome in self.refused],
            "unusable": [outcome.to_json() for outcome in self.unusable],
            "copies": [
                {"path": second.path, "of": first.path}
                for second, first in self.copies.found
            ],
            "notes": list(self.notes),
        }

    def _counts(self) -> str:
        said = [f"{self.verified} verified"]
        if self.refused:
            said.append(f"{len(self.refused)} NOT verified")
        if self.unusable:
            said.append(f"{len(self.unusable)} cannot be used")
        return ", ".join(said)

    def _of_repairs(self) -> list[str]:
        """Return what the packets that hold say, and how many say it again."""
        if not self.verified:
            return []
        counts = [f"{self.verdicts.get(said, 0)} {said}" for said in VERDICTS]
        if None in self.verdicts:
            counts.append(f"{self.verdicts[None]} without a verdict")
        what = "packets" if self.repeated else "repairs"
        said = [f"    the {what}, as judged here: {', '.join(counts)}"]
        if self.repeated:
            orders = plural(len(self.orders), "repair order", "different repair orders")
            files = plural(self.repeated, "file repeats", "files repeat")
            one = "it" if len(self.orders) == 1 else "one of them"
            said.append(f"    {orders}; {files} {one}")
        return said

    def _by_key(self) -> list[tuple[str, _Count]]:
        """Return the counts by log key: keys with refusals first, then the largest."""
        return sorted(
            self.keys.items(),
            key=lambda pair: (not pair[1].refused, -pair[1].verified, pair[0]),
        )


def _overstated(outcome: FileOutcome) -> str:
    more = f"{outcome.path}: its shop signed {outcome.signed_verdict}"
    if outcome.signed_verdict == outcome.verdict:
        return f"{more}, and beside it more than that"
    return f"{more}; the evidence says {outcome.verdict}"


def _named(key: str) -> str:
    return key or "that cannot be read"


def _count(count: _Count) -> str:
    said = [f"{count.verified} verified"] if count.verified else []
    said += [f"{count.refused} NOT verified"] if count.refused else []
    return ", ".join(said)


def _more(rest: Sequence[FileOutcome], what: str) -> list[str]:
    return [f"    and {len(rest)} more {what}"] if rest else []
