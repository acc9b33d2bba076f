"""How many SI units one step of a written unit is, read from the readings. Pure."""

from __future__ import annotations

SCALED = """
    scaled AS (
        SELECT unit, (max(value_si) - min(value_si)) / (max(value) - min(value)) AS si
        FROM bench_reading GROUP BY unit HAVING max(value) > min(value))"""
"""The table ``scaled`` (``unit``, ``si``), of SQL's WITH; offsets fall out of it."""
