"""JSON that a native library reads (orjson, where it is installed): quick and sound.

Nothing is refused here. A value is taken where it has no part that two libraries write
differently, and where writing it anew gives the same bytes. None says only that a
closer look is needed, with ``auditkit.text.strict_json``.
"""

from __future__ import annotations

from collections.abc import Iterable

from auditkit.text.values import MAX_DEPTH, Json

try:
    import orjson
except ImportError:
    NATIVE = False
else:
    NATIVE = True
    # Integers past 2^53-1 are not written.
    _CANONICAL = orjson.OPT_SORT_KEYS | orjson.OPT_STRICT_INTEGER


def canonical_value(text: str) -> Json:
    """Return the value of a plain ASCII text that is canonical (RFC 8785), or None.

    Among ASCII names the order of bytes is RFC 8785's. Fractions are no part of the
    profile of ``auditkit.text.strict_json``, and spelt differently by libraries.
    """
    if not (NATIVE and text.isascii()):
        return None
    data = text.encode()
    value = any_value(data)
    try:
        return value if orjson.dumps(value, option=_CANONICAL) == data else None
    except orjson.JSONEncodeError:
        return None


def canonical_text(value: Json) -> str | None:
    """Return the canonical text (RFC 8785) of a value, or None.

    The value must be one of the profile: the library writes some other values too, in a
    form of its own.
    """
    if not NATIVE:
        return None
    try:
        return orjson.dumps(value, option=_CANONICAL).decode()
    except orjson.JSONEncodeError:  # a name of a kind of text that is not str itself
        return None


def any_value(data: bytes) -> Json:
    """Return the value of a text in any layout, or None.

    Members stand in the text's order. The caller must write the value anew and compare:
    only so are doubled names, escapes and integers past 2^53-1 found.
    """
    if not NATIVE:
        return None
    try:
        value: Json = orjson.loads(data)
    except orjson.JSONDecodeError:
        return None
    return value if _is_plain((value,), MAX_DEPTH + 1) else None


def _is_plain(items: Iterable[object], depth: int) -> bool:
    """Return whether no float stands in what orjson read, nor ``depth`` brackets."""
    for item in items:
        if type(item) is str:  # the kind of nearly all
            continue
        if type(item) is dict or type(item) is list:
            inner = item.values() if type(item) is dict else item
            if depth == 1 or not _is_plain(inner, depth - 1):
                return False
        elif type(item) is float:
            return False
    return True
