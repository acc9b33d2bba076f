"""Which orders count in an audit, as tables beside those of the collection. Pure.

A shop is a name in the reader's own list of keys with all the logs under it; without
a name its log is a shop by itself, called by its origin. Left out are logs with two
histories, unless asked for, logs of keys that the reader's list does not name, and
orders from outside the days on which it says that a key is the shop's. A reader who
gave no list has every log counted, under the name that it claims.

- ``shop_log``: log_id, shop, origin, is_trusted, is_forked, is_counted, and of all
  the shop's logs together: entries_delivered, largest_size, is_compared (whether
  enough of them is here to hold the shop against others; left aside are the log's own
  events, which every packet carries, and of one order what is more than three times
  the entries that orders have here in the middle: of both a shop can write as many as
  it likes, for what it holds back to be a small share).
- ``counted_order``: the columns of ``repair_order`` with shop and is_compared, of the
  logs that count.
- ``vehicle_in_view``: vin, since, until: the reader's register of vehicles, if any.
- ``cut_off``: one row, ``moment``: when the last counted entry was recorded, but not
  after the last run of the loader began: a shop's clock that is ahead moves nothing.
"""

from __future__ import annotations

from auditkit.fleet.settings import Settings

VEHICLES = "vin VARCHAR, since TIMESTAMP, until TIMESTAMP"
"""The columns of ``vehicle_in_view``."""


_AS_ASKED = """CREATE TEMP TABLE as_asked AS
    SELECT CAST(? AS BOOLEAN) AS with_forked, CAST(? AS DOUBLE) AS least_coverage"""
_SHOP_LOG = """CREATE TEMP TABLE shop_log AS
    WITH held AS (SELECT log_id, order_id, count(DISTINCT seq) AS entries FROM event
        WHERE order_id IS NOT NULL GROUP BY log_id, order_id),
    long AS (SELECT log_id, sum(greatest(0, entries - 3 * usual)) AS more
        FROM held, (SELECT median(entries) AS usual FROM held) GROUP BY log_id),
    named AS (
        SELECT log_id, origin, is_trusted, is_forked,
            coalesce(shop, CASE WHEN count(*) OVER (PARTITION BY origin) = 1
                AND origin NOT IN (SELECT shop FROM log WHERE shop IS NOT NULL)
                THEN origin ELSE origin || ' ' || key_id END) AS shop,
            coalesce(entries_delivered, 0) AS delivered,
            coalesce(largest_size, 0) AS size,
            least(coalesce(own.entries, 0) + coalesce(long.more, 0), delivered)
                AS aside,
            (is_trusted OR (SELECT max(keys_sha256) FROM collection) IS NULL)
                AND (NOT is_forked OR (SELECT with_forked FROM as_asked)) AS is_counted
        FROM log LEFT JOIN (SELECT log_id, count(DISTINCT seq) AS entries FROM event
            WHERE order_id IS NULL GROUP BY log_id) own USING (log_id)
            LEFT JOIN long USING (log_id))
    SELECT log_id, shop, origin, is_trusted, is_forked, is_counted,
        CAST(sum(delivered) OVER same_shop AS BIGINT) AS entries_delivered,
        CAST(sum(size) OVER same_shop AS BIGINT) AS largest_size,
        sum(delivered - aside) OVER same_shop >=
            (SELECT least_coverage FROM as_asked) * sum(size - aside) OVER same_shop
            AS is_compared
    FROM named WINDOW same_shop AS (PARTITION BY shop, is_counted)"""
_COUNTED_ORDER = """CREATE TEMP VIEW counted_order AS
    SELECT o.*, l.shop, l.is_compared
    FROM repair_order o JOIN shop_log l USING (log_id)
    LEFT JOIN packet p USING (packet_id)
    WHERE l.is_counted AND p.key_is IS DISTINCT FROM 'outside its dates'"""
_CUT_OFF = """CREATE TEMP TABLE cut_off AS
    SELECT least(max(e.recorded_at), (SELECT max(started) FROM run)) AS moment
    FROM event e JOIN shop_log l USING (log_id) WHERE l.is_counted"""


ANOTHER = "another shop "
"""How the names of other shops begin, where a shop sees an audit."""
# They are numbered by digests that only who holds all packets can make.
_OTHERS = """UPDATE shop_log SET shop = o.name, origin = o.name
    FROM (SELECT shop, ? || row_number() OVER (ORDER BY
            sha256((SELECT string_agg(hex(sha256), '' ORDER BY sha256) FROM packet)
            || shop)) AS name
        FROM (SELECT DISTINCT shop FROM shop_log WHERE shop <> ?)) o
    WHERE shop_log.shop = o.shop"""


def statements(
    settings: Settings, seen_by: str = ""
) -> list[tuple[str, tuple[object, ...]]]:
    """Return the SQL that makes the tables on a collection, in order, with values.

    Where a shop is to see it (``seen_by``), all others have other names.
    """
    return [
        (f"CREATE TEMP TABLE vehicle_in_view ({VEHICLES})", ()),
        (_AS_ASKED, (settings.with_forked, settings.least_coverage)),
        (_SHOP_LOG, ()),
        *([(_OTHERS, (ANOTHER, seen_by))] if seen_by else []),
        (_COUNTED_ORDER, ()),
        (_CUT_OFF, ()),
    ]
