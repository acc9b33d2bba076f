"""Whether a fault that was repaired is back in what the vehicle says today. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from auditkit.inspection.heard import CODE_SERVICES, Heard, heard
from auditkit.inspection.standing import SaidBeside, Standing
from auditkit.obd import Readout
from auditkit.obd.code_table import monitors_of, related
from auditkit.obd.monitors import mid_name
from auditkit.obd.responders import module_in_words
from auditkit.obd.transcript import UNKNOWN

Repaired = tuple[str, tuple[str, ...]]
"""A code that was repaired, and the modules that had reported it, if they are named."""
_BACK = "find the remaining cause; ask the shop for its order, and show it this readout"
_READ_IN = {name: CODE_SERVICES[name] for name in ("stored", "pending")}
_LIST = {"confirmed": "stored", "pending": "pending", "permanent": "permanent"}


def codes_again(
    repaired: Sequence[Repaired], then: Readout, now: Readout, *, is_typed: bool
) -> Iterator[SaidBeside]:
    """Yield what today's codes and self-tests say of each code that was repaired."""
    for code, witnesses in repaired:
        if any(c.text == code for c in now.codes):
            yield from _listed(code, then, now)
        else:
            yield _not_listed(code, witnesses, now, is_typed=is_typed)
        yield from _failing(code, then, now)
    yield from _new(repaired, then, now)


def _listed(code: str, then: Readout, now: Readout) -> Iterator[SaidBeside]:
    held = {(c.responder, c.kind) for c in then.codes if c.text == code}
    was_lit, is_lit = (
        {who for who, on in readout.mil if on} for readout in (then, now)
    )
    for found in (c for c in now.codes if c.text == code):
        who = module_in_words(found.responder)
        told = f"{code} is {_LIST[found.kind]} in {who}"
        stayed = (found.responder, found.kind) in held and found.kind != "pending"
        if not stayed:
            yield SaidBeside(
                Standing.BACK, f"{told}: the repaired fault is back", _BACK
            )
        elif found.kind == "permanent":
            yield SaidBeside(
                Standing.HOLDS,
                f"{told}, as at the hand-over: the vehicle erases it by itself once "
                "its own test has passed often enough (from memory)",
            )
        elif found.responder in is_lit - was_lit:
            lit = f"{told}, and its lamp is on, which was off at the hand-over"
            yield SaidBeside(Standing.BACK, lit, _BACK)
        else:
            yield SaidBeside(Standing.HOLDS, f"{told}, as at the hand-over: history")


def _not_listed(
    code: str, witnesses: Sequence[str], now: Readout, *, is_typed: bool
) -> SaidBeside:
    asked = [who for who in witnesses if who != UNKNOWN] or list(now.responders)
    lacking = [
        f"{name} codes of {module_in_words(who)}: {state}"
        for who in asked
        for name, service in _READ_IN.items()
        if (state := heard(now, who, service, is_typed=is_typed)) is not Heard.READ
    ]
    if lacking or not asked:
        why = "; ".join(lacking) or "no module answered"
        return SaidBeside(
            Standing.UNDECIDED,
            f"whether {code} is back is not known: {why}",
            "read the codes again (services 03, 07 and 0A)",
        )
    names = ", ".join(map(module_in_words, asked))
    return SaidBeside(
        Standing.HOLDS, f"{code} is neither stored nor pending in {names}"
    )


def _failing(code: str, then: Readout, now: Readout) -> Iterator[SaidBeside]:
    """Yield each of the code's own self-tests that fails today."""
    before = {test.place: test for test in then.self_tests}
    for test in now.self_tests:
        if test.mid not in monitors_of(code) or test.outcome != "failed":
            continue
        was = before.get(test.place)
        at_hand_over = "not read" if was is None else f"{was.outcome} ({was.numbers})"
        yield SaidBeside(
            Standing.BACK,
            f"self-test {test.mid}/{test.tid} ({mid_name(int(test.mid, 16))}) of "
            f"{module_in_words(test.responder)} fails: {test.numbers}; at the "
            f"hand-over: {at_hand_over}",
            _BACK,
        )


def _new(
    repaired: Sequence[Repaired], then: Readout, now: Readout
) -> Iterator[SaidBeside]:
    """Yield the codes that are new since, of another fault as far as is known."""
    own = [code for code, _ in repaired]
    known = {(c.text, c.responder) for c in then.codes}
    for text, who in dict.fromkeys((c.text, c.responder) for c in now.codes):
        if text in own or (text, who) in known:
            continue
        told = f"{text} of {module_in_words(who)} is new since the hand-over"
        if any(related(code, text) for code in own):
            yield SaidBeside(
                Standing.ASK,
                f"{told}, and of the same kind and place as what was repaired",
                "find its cause, and whether the repair has to do with it",
            )
        else:
            yield SaidBeside(Standing.HOLDS, f"{told}; the repair was for other codes")
