"""What axe-core finds on a page: WCAG 2.2 (W3C Recommendation, 2023), level AA.

axe-core (MPL-2.0, brought by axe-playwright-python) judges what a machine can.
"""

from collections.abc import Callable, Mapping
from typing import Any

_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
_ALL = {
    "runOnly": {"type": "tag", "values": _TAGS},
    "rules": {"target-size": {"enabled": True}},  # of WCAG 2.2; off by default
}
# Of what passes, one element is told: to name them all takes a third of the time.
_TOLD = {"resultTypes": ["violations", "incomplete"]}

Node = Mapping[str, Any]


def judged(
    page: Any,
    *,
    rule: str = "",
    apart: str = "",
    is_excused: Callable[[Node], bool] = lambda node: False,
) -> tuple[set[str], list[str]]:
    """Return axe's answer: the rules that passed, and each fault as one line.

    With a ``rule`` that one alone is asked; what a selector finds is left ``apart``.
    What axe leaves undecided is no pass, but where it ``is_excused``.
    """
    from axe_playwright_python.sync_playwright import Axe

    asked = {"runOnly": {"type": "rule", "values": [rule]}} if rule else _ALL
    context = {"exclude": [[apart]]} if apart else None
    found = Axe().run(page, context=context, options=asked | _TOLD).response
    faults = [
        f"{one['id']}: {node['html'][:120]}: {node['failureSummary']}"
        for one in found["violations"]
        for node in one["nodes"]
    ]
    faults += [
        f"undecided {one['id']}: {node['html'][:120]}"
        for one in found["incomplete"]
        for node in one["nodes"]
        if not is_excused(node)
    ]
    return {one["id"] for one in found["passes"]}, faults
