"""Words that several screens share. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from auditkit.fleet.audited import Column

LIMITS_OF_SCREENS = (
    "A shop that invents one record in ten mostly passes the screens of numbers; "
    "signatures, the vehicle's own bytes and times from outside have to carry it."
)
"""What stands with every screen of numbers, whatever it found."""

SHOP = Column("shop", "Shop")


def in_hundred(share: float) -> str:
    """Return a share as people say it: 11 of 100; below 1 with one decimal."""
    number = 100 * share
    if number and number < 1:
        return f"{number:.1f} of 100"
    return f"{number:.0f} of 100"


def stands_out(shops: Sequence[str], screened: int) -> str:
    """Return the sentence that says which shops a screen asks about."""
    names = sorted(set(shops), key=in_order)
    if not screened:
        return "There is too little for this screen: it says nothing about any shop."
    if not names:
        return (
            f"No shop stands out by this screen, of {screened} that could be held "
            "against others."
        )
    return (
        f"{', '.join(names)} {'differ' if len(names) > 1 else 'differs'} from the "
        f"others, of {screened} that could be held against them: a question each, "
        "not an answer."
    )


def in_order(name: str) -> tuple[str, int, str]:
    """Return a key by which Shop 2 comes before Shop 10."""
    head = name.rstrip("0123456789")
    number = name[len(head) :]
    return head, int(number or 0), name
