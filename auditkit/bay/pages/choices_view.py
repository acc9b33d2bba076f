"""What a manager chooses for the shop: its instruments, and how strict it is.

It is written into the files beside the log that the command line takes too, whole or
not at all, and counts from then on; what was recorded before stays as it was.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from threading import Lock
from typing import TYPE_CHECKING

from auditkit.bay.pages import shop_view
from auditkit.bay.pages.visit import see_other
from auditkit.errors import AuditkitError, InputError
from auditkit.log.disk import put_text, read_beside
from auditkit.order.instruments import parse_register
from auditkit.order.instruments_entered import (
    register_text,
    with_calibration,
    with_instrument,
)
from auditkit.order.policy import parse_policy
from auditkit.order.policy_choices import (
    LEAST,
    MAY_BE_LEFT,
    MOST,
    NUMBERS,
    NumberAsked,
    choices_of,
    policy_text,
    says_no_more,
)

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.responses import Response

    from auditkit.bay.pages.visit import Visit
    from auditkit.order.instruments import RegisteredInstrument

Register = Mapping[str, "RegisteredInstrument"]
_WRITING = Lock()  # one after the other: each begins with what the file holds then


def instrument(visit: Visit) -> Response:
    """Register an instrument."""
    return _registered(visit, "instrument", with_instrument)


def calibration(visit: Visit) -> Response:
    """Register a calibration of an instrument that is registered."""
    return _registered(visit, "calibration", with_calibration)


def _registered(
    visit: Visit,
    act: str,
    made: Callable[[Register, Mapping[str, str]], Register],
) -> Response:
    path = visit.desk.kept.register

    def write() -> None:
        if path.suffix.lower() == ".csv":
            raise InputError(
                f"the register is kept as a table, in {path.name}",
                what_to_do="add a row there, and start the bay again",
            )
        text = _held(path)
        # A demo's register lies in no file until something is added to it.
        known = parse_register(text, where=path.name) if text else visit.desk.register
        found = made(known, visit.answers)
        _put(path, register_text(found))
        visit.desk.take_register(found)

    return _done(visit, act, write)


def policy(visit: Visit) -> Response:
    """Choose how strict the shop is with itself."""
    path = visit.desk.kept.policy

    def write() -> None:
        before = _held(path)
        if before and not says_no_more(before):
            raise InputError(
                f"{path.name} says more than is asked here, and that would be lost",
                what_to_do="change it there, and start the bay again",
            )
        least = [one for one, _ in LEAST if one.value == visit.answers.get("least")]
        if not least:
            raise InputError(
                "nothing says what an order must reach",
                where="least",
                what_to_do="choose one",
            )
        left = [q for q in MAY_BE_LEFT if visit.answers.get(f"left.{q.value}")]
        text = policy_text(least[0], left, dict(_numbers(visit)))
        chosen = parse_policy(text)
        _put(path, text)
        visit.desk.take_policy(chosen)

    return _done(visit, "policy", write)


def _numbers(visit: Visit) -> list[tuple[NumberAsked, int]]:
    """Return the numbers that are unlike the rules' own."""
    found: list[tuple[NumberAsked, int]] = []
    for asked in NUMBERS:
        text = visit.answers.get(f"number.{asked.parameter}", "").strip()
        own = visit.desk.catalogue.rule(asked.rule).parameters[asked.parameter]
        is_short = text.isascii() and text.isdecimal() and len(text) <= len(str(MOST))
        if not (is_short and 1 <= int(text) <= MOST):
            raise InputError(
                f"{asked.asks} This is no number from 1 to {MOST}",
                where=f"number.{asked.parameter}",
                what_to_do="write a whole number",
            )
        if int(text) != own:
            found.append((asked, int(text)))
    return found


def _held(path: Path) -> str:
    """Return what a file beside the log holds now; empty where there is none."""
    try:
        return read_beside(path).decode()
    except FileNotFoundError:
        return ""
    except (OSError, ValueError) as error:
        raise InputError(
            f"{path.name} cannot be read ({error})",
            what_to_do="look at it on the shop's computer",
        ) from error


def _put(path: Path, text: str) -> None:
    try:
        put_text(path, text)
    except OSError as error:
        raise InputError(
            f"{path.name} cannot be written ({error.strerror or error})",
            what_to_do="check room and rights on the shop's computer",
        ) from error


def _done(visit: Visit, act: str, write: Callable[[], None]) -> Response:
    try:
        with _WRITING:
            write()
    except AuditkitError as error:
        return shop_view.shown(visit, act, error, 422)
    return see_other(f"/shop?done={act}")


def values(visit: Visit, *, is_typed: bool) -> dict[str, object]:
    """Return what the shop's page shows of what was chosen, and asks.

    Where it ``is_typed``, the policy's form has what was typed, else what is so.
    """
    least, left, _ = choices_of(visit.desk.policy)
    numbers = {asked: _number(visit, asked) for asked in NUMBERS}
    words = next((words for one, words in LEAST if one is least), least.value)
    said = visit.answers
    return {
        "strict": [
            f"An order must reach {words}.",
            *(f"{asked.asks} {number}" for asked, number in numbers.items()),
            *(f"Not asked: {question.asks}" for question in left),
        ],
        "least": [
            (
                one.value,
                words,
                said.get("least") == one.value if is_typed else one is least,
            )
            for one, words in LEAST
        ],
        "left": [
            (
                f"left.{q.value}",
                q.asks,
                f"left.{q.value}" in said if is_typed else q in left,
            )
            for q in MAY_BE_LEFT
        ],
        "numbers": [
            (
                f"number.{asked.parameter}",
                asked.asks,
                asked.means,
                said.get(f"number.{asked.parameter}", "") if is_typed else number,
            )
            for asked, number in numbers.items()
        ],
        "kept_policy": visit.desk.kept.policy.name,
        "kept_register": visit.desk.kept.register.name,
    }


def _number(visit: Visit, asked: NumberAsked) -> object:
    """Return a rule's number under the shop's policy."""
    own = visit.desk.catalogue.rule(asked.rule).parameters
    said = visit.desk.policy.setting(asked.rule).parameters
    return {**own, **said}[asked.parameter]
