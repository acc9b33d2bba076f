"""Which parts may honestly cause a fault code: everyday names to begin with. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from auditkit.bench.methods import methods_for
from auditkit.obd.code_table import row_of


def plausible_parts(code: str) -> tuple[tuple[str, str], ...]:
    """Return (system, name) of everyday parts for a code, its own system first.

    By the table of fault codes and that of the bench tests: names to choose from, which
    judge nothing.
    """
    return tuple(dict.fromkeys(_all(code)))


def _all(code: str) -> Iterator[tuple[str, str]]:
    row = row_of(code)
    for system in (row.system, *row.plausible):
        fitting = [m for m in methods_for(code, (system,)) if m.system == system]
        named = row.everyday_parts(system)
        if named is not None:
            yield from ((system, name) for name in named)
        elif system != row.system:
            fitting = [m for m in fitting if code in m.codes]
        if named is None or system == row.system:
            yield from ((system, m.part) for m in fitting)


def expects(system: str, codes: Iterable[str]) -> bool:
    """Return whether a part of a system is expected to cause one of some codes."""
    return any(row_of(code).explains(system) for code in codes)
