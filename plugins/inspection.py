"""Inspection rules of jurisdictions, read from ``inspection.toml``."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from importlib.resources import files

from auditkit.inspection.jurisdiction import Jurisdiction, jurisdiction_of
from auditkit.order.hookspecs import hookimpl


@hookimpl
def jurisdictions() -> Iterable[Jurisdiction]:
    """Return the jurisdictions of the table."""
    text = (files("auditkit_plugins") / "inspection.toml").read_text("utf-8")
    return tuple(jurisdiction_of(row) for row in tomllib.loads(text)["jurisdiction"])
