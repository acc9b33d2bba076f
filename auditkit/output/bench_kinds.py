"""The kinds of bench test as a list: what each asks for, in the words it accepts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from auditkit.bench.inputs import HowKnown, Need
from auditkit.bench.units import UNITS, QuantityKind
from auditkit.order.statement import DEFERS

if TYPE_CHECKING:
    from auditkit.bench import TestKind
    from auditkit.bench.methods import FittingMethod


def kind_lines(kinds: Iterable[TestKind]) -> list[str]:
    """Return the kinds, each with its options, and at last the units."""
    lines: list[str] = []
    for kind in kinds:
        lines.append(f"{kind.name}: {kind.title} [{kind.source}]")
        for option, needs in (
            ("--reading", kind.readings),
            ("--condition", kind.conditions),
        ):
            for need in needs:
                lines += _need_lines(option, need)
        lines += [
            f'    limit  --limit-of "{judged.name}": {judged.kind}'
            for judged in kind.judges
        ]
        lines += [f"    not: {said}" for said in kind.refuses]
    return [*lines, *_unit_lines()]


def method_lines(
    code: str, meaning: str, fitting: Iterable[FittingMethod]
) -> list[str]:
    """Return the methods that fit a fault code, its everyday tests first."""
    lines = [f"{code}: {meaning}"]
    for method in fitting:
        first = "*" if code in method.codes else " "
        lines += [
            f"  {first} {method.part} [{method.system}]: {method.kind}",
            f"        read {method.reads}; with {method.instrument}",
        ]
    said = "* an everyday test for this code; common practice, no published source"
    return [*lines, said, DEFERS]


def _need_lines(option: str, need: Need) -> Iterator[str]:
    asked = "must" if need.required else "may"
    if need.words:
        words = ", ".join(need.words)
        yield f'    {asked:<5}  {option} "{need.name}=WORD": {words}'
        return
    kinds = " or ".join(need.kinds)
    series = f"; {need.at_least} or more, each given so" if need.at_least > 1 else ""
    yield f'    {asked:<5}  {option} "{need.name}=VALUE UNIT": {kinds}{series}'
    if need.given is HowKnown.STATED and need.slack is None:
        name = f"uncertainty of {need.name}"
        yield f'    {asked:<5}  --condition "{name}=VALUE UNIT": {kinds}'


def _unit_lines() -> Iterator[str]:
    for kind in QuantityKind:
        symbols = ", ".join(u.symbol for u in UNITS.values() if u.kind is kind)
        said = f"units of {kind}: {symbols}"
        if kind is QuantityKind.PRESSURE:
            said += ", each with (gauge), (vacuum), (absolute) or (differential)"
        if kind is QuantityKind.RATIO:
            said += '; a count is written "3 times"'
        yield said
