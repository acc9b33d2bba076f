"""A logged event with what was wrong put right, as an amendment holds it. Pure."""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping

from auditkit.bay.typed_values import amount_or_text
from auditkit.errors import InputError
from auditkit.order.event_text import value_text
from auditkit.text.display_text import quoted
from auditkit.text.values import Json, displayed

_YES = {"yes": True, "true": True, "no": False, "false": False}
_KEPT = frozenset({"kind", "by"})


def corrected(event: Mapping[str, Json], sets: Mapping[str, str]) -> dict[str, Json]:
    """Return an event with the values at some paths replaced.

    A path is names joined by dots; in a list a number from 0, or the name of what has
    one, such as ``readings.end pressure``. A value is read as
    what stood there: a quantity, a number, yes or no, a list of texts, or a text.
    Raises InputError for a path that leads nowhere, and where nothing is corrected.
    """
    made = copy.deepcopy(dict(event))
    for path, text in sets.items():
        _put(made, path, text.strip())
    if not sets or made == dict(event):
        raise InputError(
            "nothing is corrected",
            where="--set",
            what_to_do="say what was wrong, such as 'vehicle.odometer=148210 km'",
        )
    return made


def correction_lines(was: Mapping[str, Json], now: Mapping[str, Json]) -> list[str]:
    """Return each corrected value, a line each: what stood there, and what stands."""
    return [
        f"{path}: {old} -> {new}" for path, old, new in _changed(dict(was), dict(now))
    ]


def _changed(was: Json, now: Json, path: str = "") -> Iterator[tuple[str, str, str]]:
    if was == now:
        return
    if isinstance(was, dict) and isinstance(now, dict) and displayed(was) is None:
        for name in dict.fromkeys([*was, *now]):
            yield from _changed(was.get(name), now.get(name), f"{path}.{name}")
    elif isinstance(was, list) and isinstance(now, list) and len(was) == len(now):
        for number, (old, new) in enumerate(zip(was, now, strict=True)):
            yield from _changed(old, new, f"{path}.{number}")
    else:
        yield path.lstrip("."), value_text(was), value_text(now)


def _put(event: dict[str, Json], path: str, text: str) -> None:
    *way, last = path.split(".")
    node: Json = event
    for name in way:
        node = _inside(node, name, path)
    if path in _KEPT:
        raise InputError(
            f"the {path} of an event is not corrected",
            where=f"--set {path}",
            what_to_do="record what happened as a step of its own",
        )
    if isinstance(node, list):
        place = _number(node, last, path)
        old, new = node[place], _like(node[place], text)
        if isinstance(old, dict) and isinstance(new, dict) and "name" in old:
            new = {"name": old["name"], **new}
        node[place] = new
    elif isinstance(node, dict):
        node[last] = _like(node.get(last), text)
    else:
        raise _nowhere(path)


def _inside(node: Json, name: str, path: str) -> Json:
    if isinstance(node, list):
        return node[_number(node, name, path)]
    if isinstance(node, dict):
        return node.setdefault(name, {})
    raise _nowhere(path)


def _number(node: list[Json], name: str, path: str) -> int:
    for number, item in enumerate(node):
        if isinstance(item, dict) and name in {item.get("name"), item.get("id")}:
            return number
    if not name.isdecimal() or int(name) >= len(node):
        raise _nowhere(path)
    return int(name)


def _nowhere(path: str) -> InputError:
    return InputError(
        f"{quoted(path)} leads to nothing in this event",
        where=f"--set {path}",
        what_to_do="'auditkit show ORDER --format json' shows its names; in a list, "
        "numbers count from 0",
    )


def _like(old: Json, text: str) -> Json:
    """Return a text as a value of the kind of an old one."""
    if isinstance(old, bool) and text in _YES:
        return _YES[text]
    if (
        isinstance(old, int)
        and not isinstance(old, bool)
        and text.lstrip("-").isdecimal()
    ):
        return int(text)
    if isinstance(old, list):
        return [piece.strip() for piece in text.split(",") if piece.strip()]
    if displayed(old) is not None:
        return amount_or_text(text)
    if old is None:
        found = amount_or_text(text)
        unit = found.get("unit") if isinstance(found, dict) else None
        return found if unit else text
    return text
