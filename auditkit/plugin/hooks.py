"""The hooks that a plugin may have."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pluggy

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from auditkit.bench import TestKind
    from auditkit.inspection.jurisdiction import Jurisdiction
    from auditkit.order.cautions import Caution
    from auditkit.order.rule import Rule

hookspec = pluggy.HookspecMarker("auditkit")


@hookspec
def rules() -> Iterable[Rule]:  # type: ignore[empty-body]
    """Return the plugin's rules, once, when the plugins are loaded."""


@hookspec
def schemas() -> Mapping[str, Mapping[str, object]]:  # type: ignore[empty-body]
    """Return event kinds that the plugin adds: kind -> JSON Schema 2020-12."""


@hookspec
def bench_tests() -> Iterable[TestKind]:  # type: ignore[empty-body]
    """Return kinds of bench test that the plugin adds."""


@hookspec
def jurisdictions() -> Iterable[Jurisdiction]:  # type: ignore[empty-body]
    """Return inspection rules of jurisdictions, as data with sources."""


@hookspec
def cautions() -> Iterable[Caution]:  # type: ignore[empty-body]
    """Return hazard notices, and which steps call for them."""


@hookspec
def sealed(seq: int, payload: str) -> None:
    """Be told of an entry after it is durable. May not change or veto it."""
