"""Calibration certificates that several shops name.

No statistics: each is one line in a list. What is asked is asked of all of them, once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.fleet.audited import AskedOfShop, Cell, Column, Section, Table
from auditkit.fleet.evidence.packets import to_open
from auditkit.fleet.evidence.wording import SHOP
from auditkit.fleet.outcomes.came_back import MOST_LISTED
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name, counted, listed
from auditkit.fleet.settings import Settings

_NAMED = """
    SELECT i.certificate, o.shop, min(o.order_id), arg_min(o.order_no, o.order_id)
    FROM instrument i JOIN counted_order o USING (order_id)
    WHERE length(trim(i.certificate)) > 3 GROUP BY i.certificate, o.shop
    QUALIFY count(*) OVER (PARTITION BY i.certificate) > 1 ORDER BY 1, 2"""
_REASONS = (
    "the shops share the instrument, or one bought it from the other",
    "one certificate covers several instruments",
)
_TITLE = "One certificate at several shops"


@dataclass(frozen=True, slots=True)
class _Shared:
    """A certificate, and of each shop that names it its first order: id, number."""

    certificate: str
    first: dict[str, tuple[int, str]]

    @property
    def shops(self) -> tuple[str, ...]:
        return tuple(sorted(self.first, key=by_name))


def shared_certificates(ask: Ask, settings: Settings) -> Part:  # noqa: ARG001
    """List the certificates that several shops name."""
    firsts: dict[str, dict[str, tuple[int, str]]] = {}
    for certificate, shop, order_id, number in ask(_NAMED):
        firsts.setdefault(certificate, {})[shop] = (order_id, number)
    found = [_Shared(*pair) for pair in firsts.items()]
    by_shops: dict[tuple[str, ...], list[_Shared]] = {}
    for one in found:
        by_shops.setdefault(one.shops, []).append(one)
    said = (
        f"{counted(len(found), 'certificate')}, each named by several shops."
        if found
        else "No certificate is named by two shops."
    )
    section = Section(
        "shared-certificates", _TITLE, (said,), (_table(found),) if found else ()
    )
    asked = [q for shops, own in by_shops.items() for q in _questions(ask, shops, own)]
    return Part(section, tuple(asked))


def _questions(
    ask: Ask, shops: tuple[str, ...], own: Sequence[_Shared]
) -> list[AskedOfShop]:
    names = listed([one.certificate for one in own])
    is_one = len(own) == 1
    because = {
        order_id: f"certificate {one.certificate}, at {shop}"
        for one in own
        for shop, (order_id, _) in one.first.items()
    }
    packets = to_open(ask, because)
    return [
        AskedOfShop(
            screen="one certificate at several shops",
            shop=shop,
            question=(
                f"Calibration {'certificate' if is_one else 'certificates'} {names} "
                f"{'is' if is_one else 'are'} named by {listed(list(shops))}. "
                f"Whose {'is it' if is_one else 'are they'}?"
            ),
            measured={"certificates": len(own), "shops": len(shops)},
            peers={},
            at_least="one: this needs no comparison",
            honest_reasons=_REASONS,
            to_open=packets,
            also=tuple(other for other in shops if other != shop),
        )
        for shop in shops
    ]


def _table(found: Sequence[_Shared]) -> Table:
    columns = (
        Column("certificate", "Certificate"),
        SHOP,
        Column("order", "First in order"),
        Column("also", "Named by, too"),
    )
    rows: list[tuple[Cell, ...]] = [
        (one.certificate, shop, one.first[shop][1], listed(_others(one.shops, shop)))
        for one in found
        for shop in one.shops
    ]
    return Table(
        "shared-certificates",
        _TITLE,
        columns,
        tuple(rows),
        is_for_files=len(rows) > MOST_LISTED,
    )


def _others(shops: Sequence[str], shop: str) -> list[str]:
    return [other for other in shops if other != shop]
