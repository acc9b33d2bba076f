"""What the repair orders come to, judged here. Pure but for ``ask``."""

from __future__ import annotations

from auditkit.fleet.audited import Column, Section, Table
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name, counted, in_100
from auditkit.fleet.settings import Settings

_VERDICTS = {
    "proven": "shown by the vehicle's own data or by measurements",
    "vouched": "shown, in part on the shop's word",
    "unproven": "not shown, or not yet",
    "contradicted": "the evidence speaks against it",
}
_COUNTS = """SELECT shop, count(*),
        count(*) FILTER (verdict = 'proven'), count(*) FILTER (verdict = 'vouched'),
        count(*) FILTER (verdict = 'unproven'),
        count(*) FILTER (verdict = 'contradicted'),
        count(*) FILTER (verdict = 'unproven' AND is_waiting),
        count(*) FILTER (is_overstated)
    FROM counted_order GROUP BY shop ORDER BY shop"""


def judged(ask: Ask, settings: Settings) -> Part:
    """Tell the verdicts of the repair orders, as they are judged here."""
    rows = sorted(ask(_COUNTS), key=lambda row: by_name(row[0]))
    sums = [sum(row[place] for row in rows) for place in range(1, 8)]
    orders, *verdicts = sums
    said = ["No repair order counts here."]
    if orders >= settings.least_for_rate:
        shares = [
            f"{in_100(count / orders)} {name} ({meaning})"
            for (name, meaning), count in zip(_VERDICTS.items(), verdicts, strict=False)
        ]
        said = [
            f"Of {counted(orders, 'repair order')}, judged here: {', '.join(shares)}."
        ]
    elif orders:
        counts = zip(verdicts, _VERDICTS, strict=False)
        each = ", ".join(f"{count} {name}" for count, name in counts)
        said = [
            (
                f"{counted(orders, 'repair order')}, judged here: {each}; "
                "too few for a share."
            )
        ]
    if sums[6]:
        said.append(
            f"In {counted(sums[6], 'repair order')} the shop signed a better verdict "
            "than what its evidence shows here."
        )
    return Part(
        Section(
            "judged",
            "What the repair orders come to",
            tuple(said),
            (
                Table(
                    name="verdicts",
                    title="Verdicts by shop, judged here",
                    columns=(
                        Column("shop", "shop"),
                        Column("orders", "repair orders"),
                        *(Column(name, name) for name in _VERDICTS),
                        Column("waiting", "of the unproven, waiting"),
                        Column("overstated", "signed as better"),
                    ),
                    rows=(("all shops", *sums), *rows),
                ),
            ),
        )
    )
