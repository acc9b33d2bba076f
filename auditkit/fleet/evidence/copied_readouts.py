"""What one vehicle answered, in the records of another, or of another day.

Compared is what was decoded, without VIN, calibrations, counters, distances and times:
who copies a readout changes those. Of one vehicle two visits may answer alike but for
these; where its running time stood still meanwhile too, it is one readout. Freshly
cleared modules all answer alike, so only answers that hold enough information count.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditkit.fleet.audited import AskedOfShop, Column, Section, Table
from auditkit.fleet.evidence.packets import to_open
from auditkit.fleet.evidence.wording import SHOP
from auditkit.fleet.part import Ask, Part
from auditkit.fleet.phrases import by_name, counted
from auditkit.fleet.settings import Settings

_EQUAL = """
    WITH kept AS (
        SELECT o.shop, o.order_id, o.order_no, o.vin, r.captured,
            coalesce(r.less_marks_sha256, r.answered_sha256) AS answers,
            r.answered_sha256, r.varying_bits, r.minutes
        FROM readout r JOIN counted_order o USING (order_id)
        WHERE o.vin IS NOT NULL AND r.varying_bits >= ?),
    across AS (
        SELECT hex(answers) AS answers FROM kept GROUP BY ALL
        HAVING count(DISTINCT vin) > 1),
    again AS (
        SELECT hex(answered_sha256) AS answers FROM kept
        WHERE answered_sha256 IS NOT NULL
        GROUP BY ALL HAVING count(DISTINCT order_id) > 1 AND count(DISTINCT vin) = 1),
    stood AS (
        SELECT vin, hex(answers) AS answers, minutes FROM kept
        WHERE minutes IS NOT NULL
        GROUP BY ALL HAVING count(DISTINCT order_id) > 1
            AND count(DISTINCT answered_sha256) > 1)
    SELECT 'of several vehicles' AS how, across.answers, shop, order_id, order_no, vin,
        min(varying_bits)
    FROM kept JOIN across ON hex(kept.answers) = across.answers GROUP BY ALL
    UNION ALL
    SELECT 'of several visits', again.answers, shop, order_id, order_no, vin,
        min(varying_bits)
    FROM kept JOIN again ON hex(kept.answered_sha256) = again.answers GROUP BY ALL
    UNION ALL
    SELECT 'of several visits, no minute run between', stood.answers, shop, order_id,
        order_no, vin, min(varying_bits)
    FROM kept JOIN stood USING (vin, minutes)
    WHERE hex(kept.answers) = stood.answers GROUP BY ALL
    ORDER BY ALL"""
_COUNTS = """
    SELECT count(*), count(*) FILTER (varying_bits >= ? AND o.vin IS NOT NULL)
    FROM readout r JOIN counted_order o USING (order_id)"""
_REASONS = (
    "the record is a training job, or a test vehicle's",
    "one vehicle has two VINs in the records: one was mistyped",
    "one readout was attached to two orders by mistake",
    "the adapter gave an older answer again",
)


@dataclass(frozen=True, slots=True)
class _Copy:
    how: str
    answers: str
    members: tuple[tuple[str, int, str, str], ...]
    """(shop, order id, order number, VIN) of each order that holds these answers."""


def copied_readouts(ask: Ask, settings: Settings) -> Part:
    """Say which readouts stand in the records of two vehicles, or of two visits."""
    grouped: dict[tuple[str, str], list[tuple[str, int, str, str]]] = {}
    for how, answers, shop, order_id, number, vin, _bits in ask(
        _EQUAL, [settings.least_bits]
    ):
        grouped.setdefault((how, answers), []).append((shop, order_id, number, vin))
    copies = [_Copy(*key, tuple(members)) for key, members in grouped.items()]
    readouts, compared = ask(_COUNTS, [settings.least_bits])[0]
    shops = sorted({m[0] for one in copies for m in one.members}, key=by_name)
    section = Section(
        "copied-readouts",
        "Readouts that stand in two records",
        (_sentence(copies, shops, readouts, compared, settings),),
        (_table(copies),) if copies else (),
    )
    asked = [_question(ask, shop, copies, settings) for shop in shops]
    return Part(section, tuple(asked))


def _sentence(
    copies: Sequence[_Copy],
    shops: Sequence[str],
    readouts: int,
    compared: int,
    settings: Settings,
) -> str:
    held = (
        f"Of {counted(readouts, 'readout')} {compared:,} hold {settings.least_bits:g} "
        "bits or more beside what marks a vehicle, and have a VIN to be compared by."
    )
    if not copies:
        return f"{held} None of them stands in two records."
    return (
        f"{held} {len(copies)} of their answers stand in the records of more than one "
        f"vehicle or visit: {', '.join(shops)}. It is not said which record has them "
        "from the other."
    )


def _table(copies: Sequence[_Copy]) -> Table:
    columns = (
        Column("answers", "Answers (SHA-256)"),
        Column("how", "In records"),
        SHOP,
        Column("order", "Order"),
        Column("vin", "VIN"),
    )
    rows = tuple(
        (one.answers.lower()[:16], one.how, shop, number, vin)
        for one in copies
        for shop, _, number, vin in one.members
    )
    return Table("copied-readouts", "Readouts that stand in two records", columns, rows)


def _question(
    ask: Ask, shop: str, copies: Sequence[_Copy], settings: Settings
) -> AskedOfShop:
    own = [one for one in copies if any(m[0] == shop for m in one.members)]
    because = {
        order_id: f"answers {one.answers.lower()[:16]}, {where}, VIN {vin}"
        for one in own
        for where, order_id, _, vin in one.members
    }
    elsewhere = {m[0] for one in own for m in one.members} - {shop}
    beside = f" and of {', '.join(sorted(elsewhere, key=by_name))}" if elsewhere else ""
    return AskedOfShop(
        screen="readouts that stand in two records",
        shop=shop,
        question=(
            f"{counted(len(own), 'readout')} in records of {shop}{beside} are equal "
            "but for what marks a vehicle. Which vehicle gave these answers, and when?"
        ),
        measured={"readouts": len(own), "orders": len(because)},
        peers={},
        at_least=(
            f"one readout that holds {settings.least_bits:g} bits: two vehicles hardly "
            "ever answer alike in so much"
        ),
        honest_reasons=_REASONS,
        to_open=to_open(ask, because, alike_together=True),
    )
