"""Words that several screens share. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.fleet.audited import Column
from auditkit.fleet.phrases import by_name, listed

LIMITS_OF_SCREENS = (
    "A shop that invents one record in ten mostly passes the screens of numbers; "
    "signatures, the vehicle's own bytes and times from outside have to carry it."
)
"""What stands with every screen of numbers, whatever it found."""

SHOP = Column("shop", "Shop")


def stands_out(shops: Sequence[str], screened: int) -> str:
    """Return the sentence that says which shops a screen asks about."""
    names = sorted(set(shops), key=by_name)
    if not screened:
        return "There is too little for this screen: it says nothing about any shop."
    if not names:
        return (
            f"No shop stands out by this screen, of {screened} that could be held "
            "against others."
        )
    return (
        f"{listed(names)} {'differ' if len(names) > 1 else 'differs'} from the "
        f"others, of {screened} that could be held against them: a question each, "
        "not an answer."
    )
