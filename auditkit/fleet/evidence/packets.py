"""Which packets to open for a question."""

from __future__ import annotations

from collections.abc import Mapping

from auditkit.fleet.audited import ToOpen
from auditkit.fleet.part import Ask

MOST = 20
"""So many packets are named with one question: enough to begin with."""

_PACKETS = """
    SELECT o.order_id, lower(hex(p.sha256)), o.order_no
    FROM repair_order o JOIN packet p USING (packet_id)
    WHERE o.order_id IN (SELECT unnest(CAST(? AS BIGINT[])))
    ORDER BY o.order_no, p.sha256, o.order_id"""


def to_open(
    ask: Ask, because: Mapping[int, str], *, alike_together: bool = False
) -> tuple[ToOpen, ...]:
    """Return the packets of some orders; ``because`` says for each why this one.

    By order number, or with ``alike_together`` by the reason first.
    """
    found = [
        ToOpen(sha256, number, because[order_id])
        for order_id, sha256, number in ask(_PACKETS, [sorted(because)])
    ]
    if alike_together:
        found.sort(key=lambda one: one.because)
    return tuple(found[:MOST])
