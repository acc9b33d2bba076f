"""What a shop chooses of a policy, as questions in words -> the policy's text. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from auditkit.order.findings import Verdict
from auditkit.order.policy import POLICY_FORMAT, Policy, parse_policy
from auditkit.order.questions import Question

LEAST = (
    (Verdict.VOUCHED, "vouched: some of it may rest on somebody's word, and says so"),
    (Verdict.PROVEN, "proven: all rests on what the vehicle and instruments showed"),
)
"""What an order may have to reach, the usual first, in words."""
MOST = 100_000
"""The largest number that is taken: against a slip of the finger."""
MAY_BE_LEFT = tuple(q for q in Question if not q.must_be_asked)
"""The questions that a policy may leave out: the order is then vouched at best."""


@dataclass(frozen=True, slots=True)
class NumberAsked:
    """A whole number that a rule takes as a parameter, as a question in words."""

    rule: str
    parameter: str
    asks: str
    means: str


NUMBERS = (
    NumberAsked(
        "times-out-of-order",
        "hours",
        "Within how many hours of its time is each step recorded?",
        "A step that was recorded later is somebody's word, and the order vouched. "
        "More hours ask less.",
    ),
    NumberAsked(
        "instrument-out-of-calibration",
        "days",
        "How many days may lie between two checks of an instrument?",
        "What one shows whose check is older is not taken as measured. More days ask "
        "less.",
    ),
)


def policy_text(
    least: Verdict = Verdict.VOUCHED,
    not_asked: Sequence[Question] = (),
    numbers: Mapping[NumberAsked, int] = MappingProxyType({}),
) -> str:
    """Return the TOML text of a policy; ``numbers`` are those unlike the rules' own."""
    left = ", ".join(f'"{question.value}"' for question in not_asked)
    lines = [
        f'format = "{POLICY_FORMAT}"',
        f'least = "{least.value}"  # what an order has to reach',
        f"not_asked = [{left}]  # with one in it, vouched at best",
    ]
    for asked, number in numbers.items():
        lines += [
            "",
            f"[rules.{asked.rule}.parameters]",
            f"{asked.parameter} = {number}  # {asked.asks}",
        ]
    return "\n".join(lines) + "\n"


def choices_of(
    policy: Policy,
) -> tuple[Verdict, tuple[Question, ...], dict[NumberAsked, int]]:
    """Return what a policy says to these questions, as ``policy_text`` takes it."""
    said = {asked: policy.setting(asked.rule).parameters for asked in NUMBERS}
    numbers = {
        asked: number
        for asked, parameters in said.items()
        if isinstance(number := parameters.get(asked.parameter), int)
    }
    return policy.least, policy.not_asked, numbers


def says_no_more(text: str) -> bool:
    """Return whether a policy's text is of these questions alone.

    Another would lose what else it says where their answers were put in its place.
    """
    return text == policy_text(*choices_of(parse_policy(text)))
