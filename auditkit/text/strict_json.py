"""JSON read strictly, and JSON written in its one canonical form.

``parse`` refuses what ordinary JSON parsers let slip: duplicate names, NaN,
fractions, integers past 2^53-1, lone surrogates, a byte-order mark, depth over 64
and trailing text. ``canonical`` writes what RFC 8785 would write for that profile.
"""

from __future__ import annotations

import json
from typing import NoReturn

from auditkit.errors import AuditkitError, InputError
from auditkit.text import fast_json
from auditkit.text.display_text import quoted
from auditkit.text.json_fault import fault_of
from auditkit.text.values import Json

MAX_BYTES = 4 * 1024 * 1024
MAX_DEPTH = 64
MAX_INTEGER = 2**53 - 1
_PLAIN_DIGITS = 16  # so many digits and more are compared with MAX_INTEGER
_TOO_DEEP = (f"it nests deeper than {MAX_DEPTH}", "write it flatter")


def parse(text: str | bytes, *, where: str = "", limit: int = MAX_BYTES) -> Json:
    """Return the value that a JSON text holds; raise InputError where it is unfit."""
    try:
        return _parse(_decoded(text, limit))
    except AuditkitError as error:
        error.where = where
        raise


def _decoded(text: str | bytes, limit: int) -> str:
    if isinstance(text, str):
        try:
            raw = text.encode()
        except UnicodeEncodeError as error:
            _refuse("it holds a lone surrogate", "write whole characters", error)
        size = len(raw)
    else:
        size = len(text)
        try:
            text = text.decode()
        except UnicodeDecodeError as error:
            place = f"byte {error.start} is not UTF-8 text"
            _refuse(place, "save the file as UTF-8", error)
    if size > limit:
        _refuse(f"it is {size} bytes long, over {limit}", "split it")
    if text.startswith("\ufeff"):
        _refuse("it starts with a byte-order mark", "save it as UTF-8 without one")
    return text


def _parse(text: str) -> Json:
    try:
        value: Json = _DECODER.decode(text)
    except json.JSONDecodeError as error:
        _check_depth(text)
        raise _no_json(text) from error
    except (AuditkitError, RecursionError):
        _check_depth(text)
        raise
    if text.count("[") + text.count("{") > MAX_DEPTH and _is_deep(value):
        _refuse(*_TOO_DEEP)
    if "\\u" in text:
        _check_surrogates(value)
    return value


def _no_json(text: str) -> InputError:
    """Return what keeps a text from being JSON, in words of our own."""
    found = fault_of(text)
    if found is None:
        return InputError("it is not JSON", what_to_do="ask for the file again")
    message = f"it is not JSON: {found.what} at line {found.line} column {found.column}"
    return InputError(message, what_to_do=found.what_to_do)


def _is_deep(value: Json) -> bool:
    """Return whether a value that was read whole nests too deep: quicker than its text.

    The standard library's parser meets deep nesting with a RecursionError.
    """
    level, depth = [value], 0
    while level and depth < MAX_DEPTH:
        level = [
            inner
            for outer in level
            if isinstance(outer, (dict, list))
            for inner in (outer.values() if isinstance(outer, dict) else outer)
            if isinstance(inner, (dict, list))
        ]
        depth += 1
    return bool(level)


def _check_depth(text: str) -> None:
    """Refuse deep nesting in a text that was not read, before anything else of it."""
    if text.count("[") + text.count("{") <= MAX_DEPTH:
        return
    depth, inside, escaped = 0, False, False
    for character in text:
        if inside:
            if escaped:
                escaped = False
            elif character == "\\":
                escaped = True
            elif character == '"':
                inside = False
        elif character == '"':
            inside = True
        elif character in "[{":
            depth += 1
            if depth > MAX_DEPTH:
                _refuse(*_TOO_DEEP)
        elif character in "]}":
            depth -= 1


def _check_surrogates(value: Json) -> None:
    if isinstance(value, str):
        try:
            value.encode()
        except UnicodeEncodeError as error:
            _refuse("it holds a lone surrogate", "write whole characters", error)
    elif isinstance(value, list):
        for item in value:
            _check_surrogates(item)
    elif isinstance(value, dict):
        for name, item in value.items():
            _check_surrogates(name)
            _check_surrogates(item)


def _object(pairs: list[tuple[str, Json]]) -> dict[str, Json]:
    made = dict(pairs)
    if len(made) != len(pairs):
        seen: set[str] = set()
        for name, _ in pairs:
            if name in seen:
                _refuse(
                    f"the name {quoted(name)} stands twice in one object", "keep one"
                )
            seen.add(name)
    for name in made:
        if not name.isascii():
            _refuse(f"the name {quoted(name)} is not plain ASCII", "use a known name")
    return made


def _fraction(text: str) -> NoReturn:
    _refuse(
        f"{text} is a number with a fraction or exponent",
        f'write the digits that were read as text: "{text}"',
    )


def _constant(text: str) -> NoReturn:
    _refuse(f"{text} is not a JSON value", "leave it out or write what was read")


def _integer(text: str) -> int:
    if len(text) < _PLAIN_DIGITS and text != "-0":
        return int(text)
    # A count has at most 16 digits, and Python refuses to parse very long ones.
    value = int(text) if len(text) <= len(str(MAX_INTEGER)) + 1 else MAX_INTEGER + 1
    if abs(value) > MAX_INTEGER or text == "-0":
        _refuse(f"the integer {text[:40]} is outside ±(2^53-1)", "write it as text")
    return value


_DECODER = json.JSONDecoder(
    object_pairs_hook=_object,
    parse_float=_fraction,
    parse_constant=_constant,
    parse_int=_integer,
)
_QUICK_DECODER = json.JSONDecoder(
    parse_float=_fraction, parse_constant=_constant, parse_int=_integer
)
_ENCODER = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
)
# For a value that was read from text: it holds no circle to look for.
_QUICK_ENCODER = json.JSONEncoder(
    sort_keys=True,
    separators=(",", ":"),
    ensure_ascii=False,
    allow_nan=False,
    check_circular=False,
)


def canonical(value: Json) -> str:
    """Return the canonical text of a value: RFC 8785 for the profile of ``parse``.

    Sorting by code point is RFC 8785's sorting by UTF-16 unit because names are
    ASCII; numbers are plain because only safe integers occur.
    """
    quick = fast_json.canonical_text(value)
    if quick is not None and _is_shallow(quick):
        return quick
    try:
        text = _ENCODER.encode(value)
    except (TypeError, ValueError, RecursionError):
        text = ""
    if not (text and _reads_back(text, value)):
        _check_profile(value, 0)
        text = _ENCODER.encode(value)
    return text


def _reads_back(text: str, value: Json) -> bool:
    """Return whether plain text reads back as the value: a quick sound answer.

    False says only that a closer look is needed.
    """
    if not text.isascii() or not _is_shallow(text):
        return False
    try:
        found: Json = _QUICK_DECODER.decode(text)
    except AuditkitError:
        return False
    return found == value


def _is_shallow(text: str) -> bool:
    """Return whether a text has too few brackets to be too deep: quick and sound."""
    return text.count("[") + text.count("{") <= MAX_DEPTH


def parse_canonical(text: str, *, limit: int = MAX_BYTES) -> Json:
    """Return the value of a text that is canonical already; refuse any other.

    Writing the value anew and comparing finds doubled names, escapes and spacing, so
    that plain ASCII needs no closer look at each object. Quicker than ``parse``.
    """
    plain = text.isascii() and len(text) <= limit
    if plain and _is_shallow(text):
        try:
            value: Json = _QUICK_DECODER.decode(text)
        except json.JSONDecodeError as error:
            raise _no_json(text) from error
    else:
        value = parse(text, limit=limit)
    if _QUICK_ENCODER.encode(value) != text:
        _refuse("it is not in its one canonical form", "write it canonically")
    return value


def plain_object(text: str) -> dict[str, Json] | None:
    """Return the object of a plain canonical text, read by a native library, or None.

    None says only that a closer look is needed, with ``parse_canonical``.
    """
    if not text.isascii() or not _is_shallow(text):
        return None
    return fast_json.canonical_object(text)


def _check_profile(value: object, depth: int) -> None:
    if depth > MAX_DEPTH:
        _refuse(*_TOO_DEEP)
    if isinstance(value, dict):
        for name in value:
            if not (isinstance(name, str) and name.isascii()):
                _refuse(f"the name {name!r} is not plain ASCII", "use a known name")
        value = list(value.values())
    if isinstance(value, list):
        for item in value:
            # Most values are plain text: no call for those.
            if type(item) is not str or not item.isascii():
                _check_profile(item, depth + 1)
    else:
        _check_single(value)


def _check_single(value: object) -> None:
    if isinstance(value, str):
        _check_surrogates(value)
    elif isinstance(value, int):  # true and false are whole numbers to Python
        if abs(value) > MAX_INTEGER:
            _refuse(f"the integer {value} is outside ±(2^53-1)", "write it as text")
    elif value is not None:
        _refuse(f"{value!r} has no place in this JSON", "write it as text")


def _refuse(message: str, what_to_do: str, cause: Exception | None = None) -> NoReturn:
    raise InputError(message, what_to_do=what_to_do) from cause
