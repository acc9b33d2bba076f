"""What a shop signed that is better than what is judged here. Pure.

The verdict is one claim; its faults and its statement in plain words make more, and a
person reads the statement first.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from auditkit.order.findings import Verdict
from auditkit.order.verdicts import ORDER_OF_VERDICTS
from auditkit.text.display_text import quoted

if TYPE_CHECKING:
    from auditkit.order.events import Event
    from auditkit.order.judgement import Judgement

_GOES_ON = r"( by the shop's own policy)?(, waiting)?[:.]"
_OF_FAULT = re.compile(r"Repair of (\S+) \(.*\): ([a-z]+)\.")


def is_better(signed: str, here: Verdict | None) -> bool:
    """Return whether a verdict that was signed is known, and better than another."""
    if signed not in set(Verdict):
        return False
    rank = ORDER_OF_VERDICTS.index
    return rank(Verdict(signed)) > rank(here or Verdict.UNPROVEN)


def overstated(signed: Event, judgement: Judgement) -> Iterator[str]:
    """Yield each claim beside the verdict that says more than is judged here."""
    here = {fault.subject: verdict for fault, verdict in judgement.faults}
    for item in signed.items("faults"):
        fault, verdict = str(item.get("fault")), str(item.get("verdict"))
        if is_better(verdict, here.get(fault)):
            yield _line(quoted(fault), verdict, here.get(fault))
    statement = signed.texts("statement")
    said = signed.text("verdict")
    first = re.escape(f"Repair order {judgement.order_id} is {said}")
    first += _GOES_ON if said else ""  # that none was signed is told already
    if statement and not re.match(first, statement[0]):
        yield f"the statement that the shop signed does not begin with its {said}"
    of_code = {fault.code: verdict for fault, verdict in judgement.faults}
    for code, verdict in filter(None, map(_claim, statement)):
        if is_better(verdict, of_code.get(code)):
            yield _line(f"{quoted(code)} in its statement", verdict, of_code.get(code))


def _claim(line: str) -> tuple[str, str] | None:
    found = _OF_FAULT.fullmatch(line)
    return (found[1], found[2]) if found else None


def _line(of: str, signed: str, here: Verdict | None) -> str:
    says = f"says {here}" if here else "does not show it repaired"
    return f"the shop signed {signed} for {of}; the evidence in this packet {says}"
