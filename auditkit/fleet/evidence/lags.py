"""How long after it happened each entry of an order was written down, as SQL. Pure."""

from __future__ import annotations

LAGS = """
    WITH lags AS (
        SELECT l.shop, e.order_id, e.log_id, e.seq, e.kind,
            date_diff('second', e.happened_at, e.recorded_at) AS lag,
            date_diff('second', e.happened_at, e.not_before) AS at_least,
            date_diff('second', e.happened_at, e.not_after) AS at_most,
            count(*) OVER (
                PARTITION BY e.log_id, date_trunc('second', e.recorded_at)
            ) >= CAST(? AS BIGINT) AS is_handed_over
        FROM event e JOIN shop_log l USING (log_id)
        WHERE e.order_id IN (SELECT order_id FROM counted_order)
            AND e.kind <> 'verdict'
            AND e.happened_at IS NOT NULL AND e.recorded_at IS NOT NULL)"""
"""The table ``lags``; its one value is how many entries within a second were handed
over together. ``lag`` is in seconds, as are ``at_least`` and ``at_most``: by times from
outside."""
