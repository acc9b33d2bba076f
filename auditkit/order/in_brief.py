"""A verdict that would not fit into an entry, told in brief: first ones, and how many.

Nothing that decides is left out: the verdict, each fault with its verdict, what was set
aside and every answer stand there. Reasons, advice and steps are counted where they are
many; the entries themselves hold each. Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from auditkit.order.findings import Finding

if TYPE_CHECKING:
    from auditkit.order.questions import Answer

_LONGEST = 600  # characters of one text in brief
TELLS_ALL = "'auditkit check' tells each"


def brief_text(text: str) -> str:
    """Return a text, cut where it is long."""
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]} ..."


def brief_lines(lines: Iterable[str], most: int | None, what: str) -> list[str]:
    """Return lines, equal ones as one that is counted, at most so many.

    Where more are left, a last line says how many; ``what`` they are, in the plural.
    Without ``most`` they stay as they are.
    """
    given = list(lines)
    if most is None:
        return given
    alike: dict[str, int] = {}
    for line in given:
        alike[line] = alike.get(line, 0) + 1
    told = [
        brief_text(line) + (f" ({count} times)" if count > 1 else "")
        for line, count in list(alike.items())[:most]
    ]
    rest = sum(list(alike.values())[most:])
    return [*told, *([f"And {rest} more {what}: the record holds each."] * bool(rest))]


def brief_answer(found: Answer, most: int | None) -> Answer:
    """Return an answer with at most so many reasons, steps and places."""
    if most is None:
        return found
    because = _first(found.because, most, "such reasons")
    if len(found.events) > most:
        because = (*because, f"it points at {len(found.events)} events in all")
    return replace(
        found,
        because=because,
        what_to_do=_first(found.what_to_do, most, "steps"),
        events=found.events[:most],
    )


def brief_findings(
    findings: Iterable[Finding], most: int | None
) -> tuple[Finding, ...]:
    """Return findings, at most so many of a rule on one subject, the rest counted."""
    if most is None:
        return tuple(findings)
    alike: dict[tuple[object, ...], list[Finding]] = {}
    for one in findings:
        key = (one.rule, one.severity, one.question, one.subject, one.contradicts)
        alike.setdefault(key, []).append(one)
    return tuple(
        one
        for group in alike.values()
        for one in (*map(_cut, group[:most]), *_rest(group, most))
    )


def _cut(one: Finding) -> Finding:
    return replace(
        one, message=brief_text(one.message), what_to_do=brief_text(one.what_to_do)
    )


def _rest(group: Sequence[Finding], most: int) -> Iterable[Finding]:
    if len(group) > most:
        said = f"and {len(group) - most} more such findings"
        yield replace(group[-1], message=said, event=None, what_to_do=TELLS_ALL)


def _first(texts: tuple[str, ...], most: int, what: str) -> tuple[str, ...]:
    more = len(texts) - most
    told = tuple(map(brief_text, texts[:most]))
    return (*told, f"and {more} more {what}: {TELLS_ALL}") if more > 0 else told
