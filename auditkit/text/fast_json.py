"""JSON that a native library reads (orjson, where it is installed): quick and sound.

Nothing is refused here. A text is taken only where writing its value anew gives the
same bytes and the value has no part that two libraries write differently. None says
only that a closer look is needed, with ``auditkit.text.strict_json``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditkit.text.values import Json

if TYPE_CHECKING:
    from collections.abc import Iterable

try:
    import orjson
except ImportError:
    NATIVE = False
else:
    NATIVE = True
    # Integers past 2^53-1 are not written.
    _CANONICAL = orjson.OPT_SORT_KEYS | orjson.OPT_STRICT_INTEGER
    _INDENTED = (
        orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE | orjson.OPT_STRICT_INTEGER
    )


def canonical_object(text: str) -> dict[str, Json] | None:
    """Return the object of a plain ASCII text that is canonical (RFC 8785), or None.

    Among ASCII names the order of bytes is RFC 8785's. Fractions are no part of the
    profile of ``auditkit.text.strict_json``, and spelt differently by libraries.
    """
    if not NATIVE:
        return None
    value = _same(text.encode(), _CANONICAL)
    if not isinstance(value, dict) or _has_fraction(value.values()):
        return None
    return value


def canonical_text(value: Json) -> str | None:
    """Return the canonical text (RFC 8785) of a plain ASCII value, or None.

    What the library writes of other objects than JSON's does not read back as they are.
    """
    if not NATIVE:
        return None
    try:
        data = orjson.dumps(value, option=_CANONICAL)
    except orjson.JSONEncodeError:
        return None
    found: Json = orjson.loads(data)
    if not data.isascii() or found != value or _has_fraction((found,)):
        return None
    return data.decode()


def indented_value(data: bytes) -> Json:
    """Return the value of a text laid out with an indent of two spaces, or None.

    Members stand in the text's order. The caller must refuse fractions, by asking of
    every part what it is.
    """
    return _same(data, _INDENTED) if NATIVE else None


def _same(data: bytes, option: int) -> Json:
    """Return the value of a text that ``option`` would write so, None otherwise."""
    try:
        value: Json = orjson.loads(data)
        return value if orjson.dumps(value, option=option) == data else None
    except (orjson.JSONDecodeError, orjson.JSONEncodeError):
        return None


def _has_fraction(items: Iterable[object]) -> bool:
    """Return whether a float stands anywhere in what orjson wrote, 254 deep at most."""
    for item in items:
        if type(item) is str:  # the kind of nearly all
            continue
        if type(item) is dict:
            if _has_fraction(item.values()):
                return True
        elif type(item) is list:
            if _has_fraction(item):
                return True
        elif type(item) is float:
            return True
    return False
