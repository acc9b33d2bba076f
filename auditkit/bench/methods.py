"""Which methods of bench test fit which part and fault: ``kinds/methods.toml``."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from auditkit.text.tables import table_text


@dataclass(frozen=True, slots=True)
class FittingMethod:
    """One part and how it is tested; see the head of ``kinds/methods.toml``."""

    part: str
    system: str
    kind: str
    reads: str
    instrument: str
    codes: frozenset[str]
    quantities: tuple[str, ...] = ()


@lru_cache(maxsize=1)
def methods() -> tuple[FittingMethod, ...]:
    """Return the whole table, in its order."""
    text = table_text("auditkit.bench.kinds", "methods.toml")
    return tuple(
        FittingMethod(
            part=item["part"],
            system=item["system"],
            kind=item["kind"],
            reads=item["reads"],
            instrument=item["with"],
            codes=frozenset(item.get("codes", ())),
            quantities=tuple(item.get("quantities", ())),
        )
        for item in tomllib.loads(text)["method"]
    )


def methods_for(code: str, systems: Iterable[str]) -> tuple[FittingMethod, ...]:
    """Return what fits a fault code whose cause may lie in ``systems``.

    The everyday tests of the code first, then by system in the order given.
    """
    places = {system: place for place, system in enumerate(systems)}
    fitting = [m for m in methods() if m.system in places or code in m.codes]
    last = len(places)
    fitting.sort(key=lambda m: (code not in m.codes, places.get(m.system, last)))
    return tuple(fitting)
