"""Words that several screens share. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from auditkit.fleet.audited import Column
from auditkit.fleet.phrases import by_name, listed

LIMITS_OF_SCREENS = (
    "A shop that invents one record in ten mostly passes the screens of numbers; "
    "signatures, the vehicle's own bytes and times from outside have to carry it."
)
"""What stands with every screen of numbers, whatever it found."""

SHOP = Column("shop", "Shop")
ASKS = Column("asks", "Asks for a look")


def asks(*, stands_out: bool, is_screened: bool) -> str:
    """Return what stands in the column ``ASKS``."""
    return "yes" if stands_out else "no" if is_screened else "too few"


def who_stands_out(shops: Iterable[str], screened: Iterable[str]) -> str:
    """Return the sentence that says which shops a screen asks about, of which."""
    names, number = sorted(set(shops), key=by_name), len(set(screened))
    if not number:
        return "There is too little for this screen: it says nothing about any shop."
    if not names:
        return (
            f"No shop stands out by this screen, of {number} that could be held "
            "against others."
        )
    return (
        f"{listed(names)} {'differ' if len(names) > 1 else 'differs'} from the "
        f"others, of {number} that could be held against them: a question each, "
        "not an answer."
    )
