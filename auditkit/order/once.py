"""What follows from an event or a repair order: computed once, kept with it.

Neither changes after it was made, so what follows from it does not either. It is kept
as long as the event or the order is, and no longer. An error is not kept.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Protocol, TypeVar, TypeVarTuple, Unpack


class Keeps(Protocol):
    """What keeps what follows from it, by the function and what else that was given."""

    @property
    def kept(self) -> dict[tuple[object, ...], object]:
        """What was computed so far."""
        ...


_NOT_YET = object()
_Of = TypeVar("_Of", bound=Keeps)
_More = TypeVarTuple("_More")
_Found = TypeVar("_Found")


def once(
    function: Callable[[_Of, Unpack[_More]], _Found],
) -> Callable[[_Of, Unpack[_More]], _Found]:
    """Let a function of an event or an order compute each answer once.

    What else it is given has to be hashable. Nobody may change what it returns.
    """

    @wraps(function)
    def answer(of: _Of, *more: *_More) -> _Found:
        asked, kept = (function, *more), of.kept
        found = kept.get(asked, _NOT_YET)
        if found is _NOT_YET:
            found = kept[asked] = function(of, *more)
        return found  # type: ignore[return-value]  # what the function returned

    return answer
