"""JSON read strictly, and JSON written in its one canonical form.

``parse`` refuses what ordinary JSON parsers let slip: duplicate names, NaN,
fractions, integers past 2^53-1, lone surrogates, a byte-order mark, depth over 64
and trailing text. ``canonical`` writes what RFC 8785 would write for that profile.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from itertools import accumulate
from typing import NoReturn

from auditkit.errors import AuditkitError, InputError
from auditkit.text import fast_json
from auditkit.text.display_text import quoted
from auditkit.text.json_mistakes import mistake_of
from auditkit.text.values import MAX_DEPTH, Json

MAX_BYTES = 4 * 1024 * 1024
MAX_INTEGER = 2**53 - 1
_PLAIN_DIGITS = 16  # so many digits and more are compared with MAX_INTEGER
_STRING = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"?', re.DOTALL)
_NO_BRACKET = re.compile(r"[^][{}]+")

# A text of JSON in UTF-16 or UTF-32 begins with a byte-order mark, or is told by where
# its first characters, which are ASCII, leave zeros (RFC 4627 section 3).
_WIDE = re.compile(rb'\xff\xfe|\0{,2}\xfe\xff|\0{1,3}[\[{"\s\w-]|[\[{"\s\w-]\0')
_OTHER_ENCODING = ("it is saved as UTF-16 or UTF-32", "save the file as UTF-8")


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
    else:
        raw = text
        try:
            text = raw.decode()
        except UnicodeDecodeError as error:
            if _WIDE.match(raw):
                _refuse(*_OTHER_ENCODING, error)
            line = raw.count(b"\n", 0, error.start) + 1
            place = f"byte {error.start} (line {line}) is not UTF-8 text"
            _refuse(place, "save the file as UTF-8", error)
    if len(raw) > limit:
        _refuse(f"it is {len(raw)} bytes long, over {limit}", "hand over less at once")
    if text.startswith("\ufeff"):
        what_to_do = "save it as UTF-8 without one (without BOM)"
        _refuse("it starts with a byte-order mark", what_to_do)
    if _WIDE.match(raw):
        _refuse(*_OTHER_ENCODING)
    return text


def _parse(text: str) -> Json:
    if text.count("[") + text.count("{") > MAX_DEPTH and depth_of(text) > MAX_DEPTH:
        _refuse_depth()
    try:
        value: Json = _DECODER.decode(text)
    except json.JSONDecodeError as error:
        raise _no_json(text) from error
    if "\\u" in text:
        _check(value)  # for half characters, which decoders let pass
    return value


def _no_json(text: str) -> InputError:
    """Return why a text is not JSON, in words of our own."""
    found = mistake_of(text)
    if found is None:
        return InputError("it is not JSON", what_to_do="ask for the file again")
    message = f"it is not JSON: {found.what} at line {found.line} column {found.column}"
    return InputError(message, what_to_do=found.what_to_do)


def depth_of(text: str) -> int:
    """Return how deep a text nests, as far as a parser would follow it.

    Asked before a text is parsed: a parser goes down into it by calls, and where a
    browser runs Python, too many of those end the program.
    """
    brackets = _NO_BRACKET.sub("", _STRING.sub("", text))
    steps = (1 if bracket in "[{" else -1 for bracket in brackets)
    return max(accumulate(steps), default=0)


def _object(pairs: list[tuple[str, Json]]) -> dict[str, Json]:
    made = dict(pairs)
    if len(made) == len(pairs) and "".join(made).isascii():
        return made
    seen: set[str] = set()
    for name, _ in pairs:
        if name in seen:
            _refuse(f"the name {quoted(name)} stands twice in one object", "keep one")
        seen.add(name)
    for name in made:
        if not name.isascii():
            _refuse_name(name)
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
        _refuse_integer(text)
    return value


_DECODER = json.JSONDecoder(
    object_pairs_hook=_object,
    parse_float=_fraction,
    parse_constant=_constant,
    parse_int=_integer,
)
# For a value that was checked, or read: it holds no circle to look for.
_ENCODER = json.JSONEncoder(
    sort_keys=True,
    separators=(",", ":"),
    ensure_ascii=False,
    allow_nan=False,
    check_circular=False,
)


def parse_canonical(text: str, *, limit: int = MAX_BYTES) -> Json:
    """Return the value of a text that is canonical already; refuse any other."""
    quick = fast_json.canonical_value(text) if len(text) <= limit else None
    if quick is not None:
        return quick
    value = parse(text, limit=limit)
    if _ENCODER.encode(value) != text:
        _refuse("it is not in its one canonical form", "write it canonically")
    return value


def canonical(value: Json) -> str:
    """Return the canonical text of a value: RFC 8785 for the profile of ``parse``.

    Sorting by code point is RFC 8785's sorting by UTF-16 unit because names are
    ASCII; numbers are plain because only safe integers occur.
    """
    _check(value)
    return fast_json.canonical_text(value) or _ENCODER.encode(value)


def _check(value: object, depth: int = 0) -> None:
    """Raise InputError for a value that ``parse`` would not read."""
    if isinstance(value, dict):
        for name in value:
            if not (isinstance(name, str) and name.isascii()):
                _refuse_name(name)
        _check_items(value.values(), depth)
    elif isinstance(value, list):
        _check_items(value, depth)
    elif isinstance(value, str):
        try:
            value.encode()
        except UnicodeEncodeError as error:
            _refuse("it holds a lone surrogate", "write whole characters", error)
    elif isinstance(value, int):  # true and false are whole numbers to Python
        if abs(value) > MAX_INTEGER:
            _refuse_integer(str(value))
    elif value is not None:
        _refuse(f"{value!r} has no place in this JSON", "write it as text")


def _check_items(items: Iterable[object], depth: int) -> None:
    if depth == MAX_DEPTH:
        _refuse_depth()
    for item in items:
        # Most values are plain text: no call for those.
        if type(item) is not str or not item.isascii():
            _check(item, depth + 1)


def _refuse_depth() -> NoReturn:
    _refuse(f"it nests deeper than {MAX_DEPTH}", "write it flatter")


def _refuse_name(name: object) -> NoReturn:
    told = quoted(name) if isinstance(name, str) else repr(name)
    _refuse(f"the name {told} is not plain ASCII", "use a known name")


def _refuse_integer(text: str) -> NoReturn:
    _refuse(f"the integer {text[:40]} is outside ±(2^53-1)", "write it as text")


def _refuse(message: str, what_to_do: str, cause: Exception | None = None) -> NoReturn:
    raise InputError(message, what_to_do=what_to_do) from cause
