"""One module, named in several ways within an order: which name means which. Pure.

A display says "engine" or "ECM" where raw text says 7E8, and an adapter with its
headers off names nobody. Names that mean the engine or the transmission module, and the
ids of these two (ISO 15765-4:2005 Table 3; on 29-bit ids and buses before CAN the
addresses 10 and 18 of SAE J2178-1, from memory), are one; whatever else is written
otherwise is another module, for none answers for another. A readout that names no
module, and in which each of its questions has one answer, is of the only module that
all others name.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING, TypeVar

from auditkit.obd.fingerprint import fingerprint
from auditkit.obd.transcript import UNKNOWN

if TYPE_CHECKING:
    from auditkit.obd import Readout
    from auditkit.text.values import Json

_Item = TypeVar("_Item")
_ENGINE, _TRANSMISSION = "engine", "transmission"
_WORDS = {
    **dict.fromkeys(
        (
            *("ecm", "pcm", "ecu", "engine", "engine module", "engine control"),
            *("engine control module", "engine computer", "powertrain control module"),
            *("7e8", "7e0", "18daf110", "18da10f1", "10"),
        ),
        _ENGINE,
    ),
    **dict.fromkeys(
        (
            *("tcm", "transmission", "transmission module", "transmission control"),
            *("transmission control module", "gearbox", "gearbox module"),
            *("7e9", "7e1", "18daf118", "18da18f1", "18"),
        ),
        _TRANSMISSION,
    ),
}
_ID = re.compile(r"\b(?:7E[89A-F]|18 ?DA ?F1)")
_PLAIN_TEXTS = {"reported", "notes"}  # no member of a readout's that names a module


def names_meant(events: Iterable[Mapping[str, Json]]) -> dict[str, str]:
    """Return for names in an order's readouts the one by which that module goes.

    That is its id in raw text, else the first of its names that was typed. Names that
    stay as they are are left out.
    """
    readouts = [e for e in events if e.get("kind") == "readout"]
    if all(_has_id(e.get("raw")) for e in readouts):
        return {}
    raw = [
        r
        for e in readouts
        if isinstance(text := e.get("raw"), str)
        for r in fingerprint(text).responders
    ]
    typed = [name for e in readouts for name in _typed(e)]
    first: dict[str, str] = {}
    for name in (*raw, *typed):
        if name != UNKNOWN:
            first.setdefault(_plain(name), name)
    meant = {n: first[_plain(n)] for n in typed if n != UNKNOWN}
    called = set(first.values())
    is_unnamed = UNKNOWN in {*raw, *typed}
    if is_unnamed and len(called) == 1 and all(map(_is_of_one, readouts)):
        meant[UNKNOWN] = called.pop()
    return {name: other for name, other in meant.items() if name != other}


def renamed(readout: Readout, names: Mapping[str, str]) -> Readout:
    """Return a readout with its modules called by the names that are meant."""
    told = {*readout.responders, *(who for who, _ in readout.answered)}
    if told.isdisjoint(names):
        return readout
    new: dict[str, object] = {}
    for field in fields(readout):
        value = getattr(readout, field.name)
        if field.name not in _PLAIN_TEXTS and isinstance(value, tuple | frozenset):
            new[field.name] = type(value)(_renamed(item, names) for item in value)
    return replace(readout, **new)  # type: ignore[arg-type]


def _renamed(item: _Item, names: Mapping[str, str]) -> _Item:
    if isinstance(item, str):
        return names.get(item, item)  # type: ignore[return-value]
    if isinstance(item, tuple):
        who, *rest = item
        return (names.get(who, who), *rest)  # type: ignore[return-value]
    who = getattr(item, "responder", "")
    if isinstance(who, str) and who in names and is_dataclass(item):
        return replace(item, responder=names[who])  # type: ignore[type-var]
    return item


def _plain(name: str) -> str:
    """Return a name so that the names of one module are equal."""
    words = re.sub(r"[\s_-]+", " ", name.casefold()).strip()
    words = words.removeprefix("0x").removeprefix("$")
    return _WORDS.get(words, words)


def _has_id(raw: Json) -> bool:
    """Return whether a raw text has the id of a responder somewhere."""
    return isinstance(raw, str) and bool(_ID.search(raw))


def _typed(event: Mapping[str, Json]) -> Iterator[str]:
    typed = event.get("typed")
    modules = typed.get("modules") if isinstance(typed, dict) else None
    for module in modules if isinstance(modules, list) else ():
        if isinstance(module, dict) and isinstance(name := module.get("module"), str):
            yield name


def _is_of_one(event: Mapping[str, Json]) -> bool:
    """Return whether what a readout says of nobody is of one module at most."""
    text = event.get("raw")
    if isinstance(text, str):
        return not fingerprint(text).has_two_unnamed
    return list(_typed(event)).count(UNKNOWN) <= 1
