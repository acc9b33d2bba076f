"""The kinds of bench test: by system, by fault code, and what one of them asks for."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
from typing import TYPE_CHECKING

from auditkit.bench.inputs import HowKnown, Need
from auditkit.bench.units import UNITS, QuantityKind
from auditkit.obd.code_table import ANYWHERE
from auditkit.order.statement import DEFERS

if TYPE_CHECKING:
    from auditkit.bench import TestKind
    from auditkit.bench.methods import FittingMethod
    from auditkit.obd.code_table import CodeRange


_BASIS = (
    "Which part of a plausible system it is, the diagnosis says. The tests are common "
    "practice of the trade, no published source."
)
_EVERYDAY = (
    "Of a plausible system only the parts that are everyday for this code are listed, "
    "where the table names them; another may be the cause all the same."
)
HOW_TO_SEE_ONE = (
    "What one asks for, with its units: auditkit bench --method seal-hold",
    "Those that fit a fault code, part by part: auditkit bench --for P0128",
)


def system_rows(
    kinds: Iterable[str], methods: Iterable[FittingMethod]
) -> list[tuple[str, str]]:
    """Return a row a system: its name, and the kinds of test that its parts take.

    ``kinds`` are all names; those that no system asks for come last.
    """
    of_system: dict[str, dict[str, None]] = {}
    for method in methods:
        of_system.setdefault(method.system, {})[method.kind] = None
    used = {name for names in of_system.values() for name in names}
    rest = [name for name in kinds if name not in used]
    rows = [(system, ", ".join(sorted(names))) for system, names in of_system.items()]
    return [*rows, *([("any other", ", ".join(rest))] if rest else [])]


def kind_lines(kind: TestKind) -> list[str]:
    """Return a kind with its options, and at last the units that they take."""
    lines = [f"{kind.name}: {kind.title} [{kind.source}]"]
    asked = [
        *(("--reading", need) for need in kind.readings),
        *(("--condition", need) for need in kind.conditions),
    ]
    for option, need in asked:
        lines += _need_lines(option, need)
    lines += [
        f'    limit  --limit-of "{judged.name}": {judged.kind}'
        for judged in (kind.judges if kind.needs_limit else ())
    ]
    lines += [f"    not: {said}" for said in kind.refuses]
    units = {one for _, need in asked for one in need.kinds}
    units.update(judged.kind for judged in kind.judges)
    return [*lines, *_unit_lines(units), DEFERS]


def method_lines(
    code: str, row: CodeRange, fitting: Iterable[FittingMethod]
) -> list[str]:
    """Return the methods that fit a fault code: its everyday tests, then by system.

    ``row`` is the row of the table that holds the code: no other system than those
    that it calls plausible is listed, but for an everyday test of the code. Of another
    system than the code's own, only the names of part and kind. Where the row names
    everyday parts of a system, they come first in the code's own, and alone in others.
    """
    methods = list(fitting)
    everyday = [m for m in methods if code in m.codes]
    others = [m for m in methods if code not in m.codes]
    lines = [f"{code}: {row.meaning}"]
    if everyday:
        lines.append("Everyday tests for this code:")
        lines += [line for method in everyday for line in _whole(method)]
    own = [m for m in others if m.system == row.system]
    if own := _first(own, row.everyday_parts(row.system) or ()):
        lines.append(f"Other tests of the code's own system, {row.system}:")
        lines += [line for method in own for line in _whole(method)]
    for heading, systems in (
        ("Other systems that the table calls plausible for this code:", row.plausible),
        ("Systems that are plausible for every code:", ANYWHERE),
    ):
        named = [
            f"    {system}: {'; '.join(parts)}"
            for system in systems
            if (parts := _in_short(others, system, row.everyday_parts(system)))
        ]
        lines += [heading, *named] if named else []
    return [*lines, *([_EVERYDAY] if row.parts else []), _BASIS, DEFERS]


def _whole(method: FittingMethod) -> list[str]:
    return [
        f"    {method.part} [{method.system}]: {method.kind}",
        f"        read {method.reads}; with {method.instrument}",
    ]


def _in_short(
    methods: Iterable[FittingMethod], system: str, everyday: tuple[str, ...] | None
) -> list[str]:
    own = [m for m in methods if m.system == system]
    if everyday is not None:
        own = _first([m for m in own if m.part in everyday], everyday)
    return [f"{m.part} ({m.kind})" for m in own]


def _first(
    methods: Iterable[FittingMethod], everyday: tuple[str, ...]
) -> list[FittingMethod]:
    """Return methods with those of everyday parts first, in the order of these."""
    places = {part: place for place, part in enumerate(everyday)}
    return sorted(methods, key=lambda m: places.get(m.part, len(places)))


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


def _unit_lines(used: Container[QuantityKind]) -> Iterator[str]:
    for kind in (one for one in QuantityKind if one in used):
        symbols = ", ".join(u.symbol for u in UNITS.values() if u.kind is kind)
        said = f"units of {kind}: {symbols}"
        if kind is QuantityKind.PRESSURE:
            said += ", each with (gauge), (vacuum), (absolute) or (differential)"
        if kind is QuantityKind.RATIO:
            said += '; a count is written "3 times"'
        yield said
