"""Inspection rules of jurisdictions, read from ``inspection.toml``."""

from __future__ import annotations

from collections.abc import Iterable

from auditkit.plugin import (
    Jurisdiction,
    hookimpl,
    jurisdiction_of,
    table_rows,
)


@hookimpl
def jurisdictions() -> Iterable[Jurisdiction]:
    """Return the jurisdictions of the table."""
    rows = table_rows("auditkit_plugins", "inspection.toml", "jurisdiction")
    return map(jurisdiction_of, rows)
