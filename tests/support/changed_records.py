"""A repair record written down as a base, and what differs from it; pure.

A base is a table: ``format``, ``repair_order``, then each event in order under a name
of its own, by which changes speak of it. The name is no part of the record.

Changes are a table of operations, done in this order:

``after.EVENT.NAME = {...}``  a new event NAME, after EVENT; a text instead of a table
                              names the event of the base of which it is a copy
``copy.PLACE = "PLACE"``      what stands at the second place, at the first too
``remove = ["PLACE", ...]``   what stands there goes
``set.PLACE = value``         another value for what stands there
``add.PLACE = value``         a value where nothing stood: a member, the next of a list
``lines.PLACE."old" = "new"`` one line of a text gives way to none, one or more

A place is a key as TOML writes it: the event's name, then members, and numbers from 0
in lists. In a readout's raw text the step after ``raw`` is a request, ``raw.0131``,
and the answer to it is what stands there: ``remove`` takes the request away too,
``set`` to an empty text leaves it unanswered, ``add`` asks it at the end.

Nothing is forgiven. A place that is not there, a value that is the same as before, a
line that is found twice raise ChangeError: no change says nothing unseen.
"""

import copy
import re
import tomllib
from collections.abc import Callable, Iterator
from typing import Any, Final, TypeAlias

OPERATIONS: Final = ("after", "copy", "remove", "set", "add", "lines")
Table: TypeAlias = dict[str, Any]
Place: TypeAlias = tuple[str, ...]
Edit: TypeAlias = Callable[[Any], Any]  # what stands at a place -> what shall stand
NOTHING: Final = object()


class ChangeError(ValueError):
    """A base or a change that says nothing sensible: which, where, what to do."""


def record_of(base: Table) -> Table:
    """Return the repair record that a base describes."""
    record = {k: v for k, v in base.items() if not isinstance(v, dict)}
    events = [event for event in base.values() if isinstance(event, dict)]
    return copy.deepcopy({**record, "events": events})


def changed(base: Table, changes: Table) -> Table:
    """Return the base with changes done; the base itself stays as it is."""
    for name, value in changes.items():
        if name not in OPERATIONS:
            msg = f"no operation is called {name!r}; there are {', '.join(OPERATIONS)}"
            raise ChangeError(msg)
        kind = list if name == "remove" else dict
        if not value or not isinstance(value, kind):
            what = "a list of places" if kind is list else "a table"
            msg = f"{name}: says nothing; write {what}"
            raise ChangeError(msg)
    new = base
    for event, added in changes.get("after", {}).items():
        new = _with_events(new, base, event, added)
    for place, source in _leaves(changes.get("copy", {})):
        value = _found(new, place_of(source))
        new = _edited(new, place, _other(value, may_be_new=True))
    for text in changes.get("remove", []):
        new = _edited(new, place_of(text), _removed)
    for place, value in _leaves(changes.get("set", {})):
        new = _edited(new, place, _other(value))
    for place, value in _leaves(changes.get("add", {}), new):
        _found(new, place[:1])
        new = _edited(new, place, _new(value))
    for place, value in _leaves(changes.get("lines", {})):
        _found(new, place[:-1] or place)
        new = _edited(new, place[:-1], _other_line(place[-1], value))
    return new


def place_of(text: str) -> Place:
    """Return a place from its text, which is a key of TOML."""
    try:
        ((place, _),) = _leaves(tomllib.loads(f"{text} = 0"))
    except ValueError as error:
        msg = f"{text!r} is no place; write it as a key: NAME.MEMBER"
        raise ChangeError(msg) from error
    return place


def _leaves(table: Table, held: Any = None) -> Iterator[tuple[Place, Any]]:
    """Yield each place that a table of tables names, with the value for it.

    Where ``held`` is given, the place ends where it holds nothing yet.
    """
    for key, value in table.items():
        inner = None if held is None else _child(held, key)
        if isinstance(value, dict) and value and inner is not NOTHING:
            yield from (((key, *place), v) for place, v in _leaves(value, inner))
        else:
            yield (key,), value


def _with_events(table: Table, base: Table, event: str, added: Table) -> Table:
    """Return a table with events inserted after one."""
    if not isinstance(table.get(event), dict):
        msg = f"after.{event}: no such event; there are {_keys(table)}"
        raise ChangeError(msg)
    if not isinstance(added, dict):
        msg = f"after.{event}: names no event; write after.{event}.NAME"
        raise ChangeError(msg)
    if known := [name for name in added if name in table]:
        msg = f"after.{event}: {known[0]!r} is the name of another; choose a new one"
        raise ChangeError(msg)
    before, behind = list(table.items()), []
    while before[-1][0] != event:
        behind.insert(0, before.pop())
    for name, new in added.items():
        before.append((name, _found(base, (new,)) if isinstance(new, str) else new))
    return dict(before + behind)


def _found(value: Any, place: Place) -> Any:
    """Return what stands at a place."""
    for depth, key in enumerate(place, start=1):
        inner = _child(value, key)
        if inner is NOTHING:
            where = ".".join(place[:depth])
            msg = f"{where}: nothing is there; there are {_keys(value)}"
            raise ChangeError(msg)
        value = inner
    return value


def _edited(value: Any, place: Place, edit: Edit) -> Any:
    """Return a value in which what stands at a place, or may stand, is edited."""
    holders = [_found(value, place[:depth]) for depth in range(len(place))]
    try:
        new = edit(_child(holders[-1], place[-1]))
        for holder, key in zip(reversed(holders), reversed(place), strict=True):
            new = _with_child(holder, key, new)
    except ChangeError as error:
        msg = f"{'.'.join(place)}: {error}"
        raise ChangeError(msg) from None
    return new


def _removed(old: Any) -> object:
    if old is NOTHING:
        msg = "nothing is there to remove"
        raise ChangeError(msg)
    return NOTHING


def _other(value: Any, *, may_be_new: bool = False) -> Edit:
    def edit(old: Any) -> Any:
        if old is NOTHING and not may_be_new:
            msg = "nothing is there to set; add says what is new"
            raise ChangeError(msg)
        if old == value and type(old) is type(value):
            msg = f"is {value!r} already; a change has to change something"
            raise ChangeError(msg)
        return value

    return edit


def _new(value: Any) -> Edit:
    def edit(old: Any) -> Any:
        if old is not NOTHING:
            msg = "something is there already; set says what replaces it"
            raise ChangeError(msg)
        return value

    return edit


def _other_line(line: str, value: Any) -> Edit:
    def edit(old: Any) -> Any:
        lines = old.split("\n") if isinstance(old, str) else []
        if value == line or not isinstance(value, str):
            msg = f"{line!r}: write another text for this line"
            raise ChangeError(msg)
        if (times := lines.count(line)) != 1:
            msg = f"{line!r} is there {times} times; name a line that is there once"
            raise ChangeError(msg)
        at = lines.index(line)
        lines[at : at + 1] = value.split("\n") if value else []
        return "\n".join(lines)

    return edit


def _keys(value: Any) -> str:
    """Return what a value holds, in words, for an error."""
    if isinstance(value, str):
        return ", ".join(re.findall("(?m)^> (.*)$", value)) or "no requests"
    if isinstance(value, list):
        return f"{len(value)} in the list, counted from 0"
    return ", ".join(value) if isinstance(value, dict) else "no members"


def _child(value: Any, key: str) -> Any:
    """Return a member, one of a list or the answer to a request, or NOTHING."""
    if isinstance(value, dict):
        return value.get(key, NOTHING)
    if isinstance(value, list):
        at = int(key) if key.isdecimal() else len(value)
        return value[at] if at < len(value) else NOTHING
    if isinstance(value, str):
        blocks, at = _blocks(value, key)
        return NOTHING if at is None else blocks[at].partition("\n")[2].rstrip("\n")
    return NOTHING


def _with_child(value: Any, key: str, new: Any) -> Any:
    """Return a value whose child is another; NOTHING takes it away."""
    if isinstance(value, str):
        return _with_answer(value, key, new)
    if isinstance(value, dict):
        kept = {k: v for k, v in value.items() if k != key or new is not NOTHING}
        return kept if new is NOTHING else {**kept, key: new}
    if not isinstance(value, list):
        msg = f"{value!r} is no table, list or text: nothing can stand in it"
        raise ChangeError(msg)
    if key != str(len(value)) and _child(value, key) is NOTHING:
        msg = f"the next of the list is {len(value)}"
        raise ChangeError(msg)
    at = int(key)
    return value[:at] + ([] if new is NOTHING else [new]) + value[at + 1 :]


def _blocks(raw: str, request: str) -> tuple[list[str], int | None]:
    """Return the requests of a raw text, each with its answer, and where one is."""
    blocks = re.split("(?m)^(?=> )", raw)
    at = [n for n, b in enumerate(blocks) if b.partition("\n")[0] == f"> {request}"]
    if len(at) > 1:
        msg = f"is asked {len(at)} times; change it by its lines"
        raise ChangeError(msg)
    return blocks, at[0] if at else None


def _with_answer(raw: str, request: str, new: Any) -> str:
    """Return a raw text in which a request has another answer, or is not asked."""
    if new is not NOTHING and not isinstance(new, str):
        msg = "an answer is a text, a frame a line"
        raise ChangeError(msg)
    asked = "" if new is NOTHING else f"> {request}\n{new}".rstrip("\n")
    text = raw.rstrip("\n")
    blocks, at = _blocks(raw, request)
    if at is None:
        text += ("\n\n" if "\n\n> " in raw else "\n") + asked
    else:
        old = blocks[at]
        blocks[at] = asked + old[len(old.rstrip("\n")) :] if asked else ""
        text = "".join(blocks).rstrip("\n")
    return text + raw[len(raw.rstrip("\n")) :]
