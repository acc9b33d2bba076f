"""Each repaired fault, for how long it was followed, and when it came back. Pure.

``followed_fault`` has one row for each fault that a counted order repaired. It came
back where the same vehicle came later, to any counted shop, with the same code, or with
a code of the same group from the same module; or was repaired for it again later,
whatever day the other order says that it came. A code that another shop set aside as
made by a test of its own is none (from the shop that repaired it, such a word would
hide its comebacks), nor is a permanent code alone: it stays for a while after a sound
repair. Time runs from the last repair for this fault before it came back (``done_at``):
a code that is seen between two repairs for it ends the first, in whichever order it
stands, and what is written to a repaired order afterwards moves nothing. Nothing is
held to have ended because a vehicle was not seen again: that would drop those early
whose repairs hold. It ends at the cut-off, or where the reader's register says that
the vehicle left.

Columns: shop, order_id, order_no, packet_id, vin, module, code, fault_group, done_at,
log_is_compared, ``age_band`` (0, 1, 2, or null), verdict, fixed_first, ``is_meant``
(of a vehicle of the register, or there is none), ``state`` (followed, no VIN, no time,
not in the register). Of those that were followed:

- ``days``, ``came_back``: whole days until it came back, or until it was no longer
  followed, at most the horizon; ``left_view`` where the register ended it.
- ``km``, ``came_back_km``: the same in whole kilometres, null where the repair has no
  odometer. It is read where it came back with one, and could have been driven; else it
  is estimated by the vehicle's own distance a day, or the usual one (``km_is_read``
  tells).
- ``back_order_id``, ``back_at``: the first such visit, within the horizon or not.
"""

from __future__ import annotations

from auditkit.fleet.settings import Settings

_HORIZON = """CREATE TEMP TABLE horizon AS SELECT
    CAST(? AS INTEGER) AS days, CAST(? AS BIGINT) AS metres,
    CAST(? AS INTEGER) AS band, CAST(? AS BIGINT) AS most_metres_a_day"""

_REPAIRED = """CREATE TEMP TABLE repaired_fault AS
    SELECT o.shop, o.is_compared AS log_is_compared, o.order_id, o.order_no,
        o.packet_id, o.vin, o.odometer_m, f.module, f.code, f.fault_group, f.verdict,
        f.attempts, f.fixed_first, o.model_year,
        CASE WHEN len(f.repaired_at) > 0 THEN f.repaired_at
            ELSE [coalesce(o.last_repair_at, o.closed_at, o.opened_at)] END AS repairs
    FROM counted_order o JOIN fault f USING (order_id)
    WHERE f.is_addressed AND f.attempts > 0"""

# The first sign of each repaired fault after a repair for it (one within the days that
# are asked for before any other), the last such repair before it, and how far each
# vehicle drives a day.
_BACK = """CREATE TEMP TABLE fault_back AS
    WITH visit AS (
        SELECT o.vin, o.order_id, o.odometer_m, f.module, f.code, f.fault_group, o.shop,
            coalesce(f.set_aside_because, '') = 'made-by-a-test' AS is_made,
            list_distinct(list_concat([o.opened_at], f.seen_at,
                CASE WHEN NOT f.is_addressed THEN [] WHEN len(f.repaired_at) > 0
                    THEN f.repaired_at ELSE [o.first_repair_at] END)) AS times
        FROM counted_order o JOIN fault f USING (order_id)
        WHERE o.vin IS NOT NULL
            AND (f.is_addressed OR f.kind IN ('stored', 'pending'))),
    sign AS (
        SELECT r.order_id, r.module, r.code, r.repairs, v.order_id AS back_order_id,
            v.odometer_m, unnest(v.times) AS seen
        FROM repaired_fault r JOIN visit v
            ON v.vin = r.vin AND v.order_id <> r.order_id
            AND NOT (v.is_made AND v.shop <> r.shop)
            AND (v.code = r.code OR (v.module = r.module AND v.fault_group <> ''
                AND v.fault_group = r.fault_group))),
    since AS (
        SELECT *, list_max([one for one in repairs if one < seen]) AS done_at FROM sign)
    SELECT order_id, module, code,
        min({'is_late': seen > done_at + to_days(days), 'at': seen,
            'order_id': back_order_id, 'm': odometer_m, 'done_at': done_at}) AS back
    FROM since CROSS JOIN horizon WHERE done_at IS NOT NULL
    GROUP BY order_id, module, code"""

_DRIVEN = """CREATE TEMP TABLE driven AS
    WITH ends AS (
        SELECT vin, epoch(max(opened_at)) - epoch(min(opened_at)) AS seconds,
            max({'at': opened_at, 'm': odometer_m}).m
                - min({'at': opened_at, 'm': odometer_m}).m AS drove
        FROM counted_order
        WHERE vin IS NOT NULL AND opened_at IS NOT NULL AND odometer_m IS NOT NULL
        GROUP BY vin)
    SELECT vin, drove / seconds AS metres_a_second FROM ends, horizon
    WHERE seconds >= 30 * 86400 AND drove >= 0
        AND drove / seconds <= most_metres_a_day / 86400"""

_FOLLOWED = """CREATE TEMP TABLE followed_fault AS
    WITH repaired AS (
        SELECT *, coalesce(back.done_at, list_max(repairs)) AS done_at
        FROM repaired_fault LEFT JOIN fault_back USING (order_id, module, code)),
    placed AS (
        SELECT r.*, h.days AS horizon_days, h.metres AS horizon_m, c.moment,
            h.most_metres_a_day, v.vin IS NOT NULL AS is_in_view,
            (SELECT count(*) FROM vehicle_in_view) > 0 AS has_register,
            least(c.moment, v.until) AS view_ends,
            coalesce(d.metres_a_second,
                (SELECT quantile_cont(metres_a_second, 0.5) FROM driven)) AS speed,
            CASE WHEN r.model_year IS NOT NULL THEN CAST(least(2, greatest(0,
                (year(r.done_at) - r.model_year) // h.band)) AS INTEGER) END AS age_band
        FROM repaired r CROSS JOIN horizon h CROSS JOIN cut_off c
        LEFT JOIN vehicle_in_view v ON v.vin = r.vin
            AND r.done_at >= coalesce(v.since, r.done_at)
            AND r.done_at <= coalesce(v.until, r.done_at)
        LEFT JOIN driven d ON d.vin = r.vin),
    told AS (
        SELECT *,
            CASE WHEN vin IS NULL THEN 'no VIN'
                WHEN done_at IS NULL OR coalesce(done_at > moment, TRUE) THEN 'no time'
                WHEN has_register AND NOT is_in_view THEN 'not in the register'
                ELSE 'followed' END AS state,
            least(view_ends, done_at + to_days(horizon_days)) AS ends,
            coalesce(back.at <= view_ends, FALSE) AS is_back,
            CASE WHEN back.at <= view_ends AND back.m BETWEEN odometer_m
                AND odometer_m + most_metres_a_day * (1 + date_diff('day', done_at,
                    back.at)) THEN back.m - odometer_m END AS read_m
        FROM placed),
    ready AS (
        SELECT *, odometer_m IS NOT NULL
            AND (read_m IS NOT NULL OR speed IS NOT NULL) AS has_km
        FROM told)
    SELECT shop, order_id, order_no, packet_id, vin, module, code, fault_group, done_at,
        log_is_compared, age_band, state, verdict, fixed_first,
        is_in_view OR NOT has_register AS is_meant,
        is_back AND back.at <= ends AND coalesce(read_m <= horizon_m, TRUE)
            AS came_back,
        date_sub('day', done_at, CASE WHEN is_back AND back.at <= ends
            AND coalesce(read_m <= horizon_m, TRUE) THEN back.at ELSE ends END) AS days,
        view_ends < moment AND view_ends < done_at + to_days(horizon_days)
            AND NOT (is_back AND coalesce(read_m <= horizon_m, TRUE)) AS left_view,
        read_m IS NOT NULL AS km_is_read,
        CASE WHEN has_km THEN CAST(least(horizon_m, coalesce(
            read_m, floor(speed * (epoch(CASE WHEN is_back THEN back.at
                ELSE view_ends END) - epoch(done_at))))) AS BIGINT) // 1000 END AS km,
        CASE WHEN has_km THEN is_back AND coalesce(read_m, speed *
            (epoch(back.at) - epoch(done_at))) <= horizon_m END AS came_back_km,
        back.order_id AS back_order_id, back.at AS back_at
    FROM ready"""


def statements(settings: Settings) -> list[tuple[str, tuple[object, ...]]]:
    """Return the SQL that makes the tables, in order, with values.

    It stands on the tables of ``auditkit.fleet.counted``.
    """
    horizon = (
        settings.horizon_days,
        settings.horizon_km * 1000,
        settings.age_band_years,
        settings.most_km_a_day * 1000,
    )
    made = (_REPAIRED, _BACK, _DRIVEN, _FOLLOWED)
    return [(_HORIZON, horizon), *((sql, ()) for sql in made)]
