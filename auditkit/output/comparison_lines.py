"""A comparison of two readouts as lines of text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from auditkit.obd.comparison import changed, margin
from auditkit.obd.monitors import mid_name, tid_name
from auditkit.order.event_text import numbers_text
from auditkit.output.readout_lines import problem_text

if TYPE_CHECKING:
    from auditkit.obd import SelfTest
    from auditkit.obd.comparison import Change, ReadoutComparison, TestChange
    from auditkit.obd.dtc import Code


def comparison_lines(found: ReadoutComparison) -> list[str]:
    """Return what changed: the answer first, then each thing side by side."""
    other = changed(found.identity)
    tests = sum(1 for t in found.tests if t.changed)
    codes = _codes(found)
    counted = ", ".join(
        f"{len(told)} {word}" for word, told in codes.items() if told or word != _UNREAD
    )
    lines = [
        f"{tests} of {len(found.tests)} self-tests changed; fault codes: {counted}."
    ]
    if other:
        lines.append(
            f"{len(other)} marks of the vehicle differ: ask whether it is the same one."
        )
    if found.cleared:
        lines.append("Codes were cleared in between:")
        lines += [f"  {reason}" for reason in found.cleared]
    lines += [f"Code {word}: {one}" for word, told in codes.items() for one in told]
    if found.tests:
        lines.append("Self-tests, before and after:")
        for test in found.tests:
            lines += _test(test)
    lines += _table("Readiness", found.readiness)
    lines += _table("Counts", found.counts)
    lines += _table("In-use counters", found.counters)
    lines += _table("Marks of the vehicle that differ", other)
    for side, problem in found.problems:
        lines.append(f"Problem, {side}: {problem_text(problem)}")
    return lines


_UNREAD = "not read again"


def _codes(found: ReadoutComparison) -> dict[str, list[str]]:
    """Return each code of each module once, with the lists that it stands in."""
    before = _by_code((*found.gone, *found.stayed, *(u.code for u in found.unread)))
    after = _by_code((*found.come, *found.stayed))
    unread = {
        (u.code.text, u.code.responder, u.code.list_name): u.why for u in found.unread
    }
    told: dict[str, list[str]] = {"gone": [], "new": [], "stayed": [], _UNREAD: []}
    for code in sorted({*before, *after}):
        was, now = before.get(code, []), after.get(code, [])
        missing = [f"{one}: {why}" for one in was if (why := unread.get((*code, one)))]
        left = [o for o in was if o not in now and (*code, o) not in unread]
        if not now and not missing:
            word, lists = "gone", [f"was {', '.join(was)}"]
        elif not now:
            word = _UNREAD
            lists = [
                f"was {', '.join(was)}",
                *(f"no longer {one}" for one in left),
                *missing,
            ]
        elif not was:
            word, lists = "new", [", ".join(now)]
        else:
            word = "stayed"
            lists = [
                *([f"still {', '.join(both)}"] if (both := _in(was, now)) else []),
                *(f"no longer {one}" for one in left),
                *missing,
                *(f"now {one}" for one in now if one not in was),
            ]
        text, responder = code
        told[word].append(f"{text} ({responder}; {'; '.join(lists)})")
    return told


def _by_code(codes: Iterable[Code]) -> dict[tuple[str, str], list[str]]:
    found: dict[tuple[str, str], list[str]] = {}
    for code in codes:
        found.setdefault((code.text, code.responder), []).append(code.list_name)
    return found


def _in(was: Sequence[str], now: Sequence[str]) -> list[str]:
    return [one for one in was if one in now]


def _test(change: TestChange) -> list[str]:
    responder, mid, tid = change.place
    name = mid_name(int(mid, 16)) or "monitor without a public name"
    test = tid_name(int(tid, 16)) or "a test of the maker's own"
    mark = (
        ""
        if change.changed
        else "  (the same as before, digit for digit: shows nothing)"
    )
    return [
        f"  {responder} {mid}/{tid} {name}: {test}{mark}",
        f"    before  {_side(change.before)}",
        f"    after   {_side(change.after)}",
    ]


def _side(test: SelfTest | None) -> str:
    if test is None:
        return "not in this readout"
    if test.outcome == "not-run":
        return "not run: value and limits are all zero"
    if test.outcome == "no-limit":
        return f"{numbers_text(test)}: neither passed nor failed"
    share = margin(test)
    both = test.has_minimum and test.has_maximum
    whole = "allowed band" if both else "limit"
    room = "" if share is None else f", margin {share * 100:.1f} % of the {whole}"
    return f"{numbers_text(test)}: {test.outcome.value}{room}"


def _table(title: str, changes: Sequence[Change]) -> list[str]:
    if not changes:
        return []
    wide = max(len(c.name) for c in changes)
    lines = [f"{title}:"]
    for c in changes:
        arrow = "  " if c.before == c.after else "->"
        before, after = c.before or "not read", c.after or "not read"
        lines.append(f"  {c.name:<{wide}}  {before} {arrow} {after}")
    return lines
