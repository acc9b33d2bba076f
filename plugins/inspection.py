"""Inspection rules of jurisdictions, read from ``inspection.toml``."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable

from auditkit.plugin import (
    Jurisdiction,
    hookimpl,
    jurisdiction_of,
    table_text,
)


@hookimpl
def jurisdictions() -> Iterable[Jurisdiction]:
    """Return the jurisdictions of the table."""
    text = table_text("auditkit_plugins", "inspection.toml")
    return tuple(jurisdiction_of(row) for row in tomllib.loads(text)["jurisdiction"])
