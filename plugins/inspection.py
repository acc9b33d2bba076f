"""Inspection rules of jurisdictions, read from ``inspection.toml``."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from importlib.resources import files

from auditkit.plugin import (
    Jurisdiction,
    hookimpl,
    jurisdiction_of,
)


@hookimpl
def jurisdictions() -> Iterable[Jurisdiction]:
    """Return the jurisdictions of the table."""
    text = (files("auditkit_plugins") / "inspection.toml").read_text("utf-8")
    return tuple(jurisdiction_of(row) for row in tomllib.loads(text)["jurisdiction"])
