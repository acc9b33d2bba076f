"""ES modules joined into one plain script, since a page from a folder loads no modules.

A module becomes a function that gives its exports. Modules of our own import as
``import { a } from "./b.js";`` and export once, at their end.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

_NAMES = r"\{([^{}]*)\}"
_IMPORT = re.compile(rf'^import {_NAMES} from "\./([\w./-]+)";$', re.MULTILINE)
_EXPORT = re.compile(rf"\bexport ?(?:{_NAMES}|default (\w+));\s*(?://#.*)?\s*\Z")
_STRAY = re.compile(r"(?:^|[;}])\s*(?:import|export)\b(?!\()", re.MULTILINE)
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
_PLACE = '"https://page.invalid/"'  # what a module takes for its own address


def joined(modules: Mapping[str, str]) -> str:
    """Return modules, in the order in which they need each other, as one script.

    Raises ValueError where a module imports or exports in another way than here.
    """
    made = ['"use strict";\nconst modules = {};\n']
    for name, text in modules.items():
        made.append(f'modules["{name}"] = (() => {{\n{_body(name, text)}}})();\n')
    return "".join(made)


def _body(name: str, text: str) -> str:
    text = _IMPORT.sub(_taken_in, text)
    text = _EXPORT.sub(_given_out, text)
    text = text.replace("import.meta.url", _PLACE)
    if _STRAY.search(_COMMENT.sub("", text)):
        raise ValueError(f"{name} cannot be joined into a script")
    return text


def _pairs(names: str) -> list[tuple[str, str]]:
    """Return pairs of what stands before and after ``as``, the same where none does."""
    found = [part.split(" as ") for part in map(str.strip, names.split(",")) if part]
    return [(pair[0], pair[-1]) for pair in found]


def _taken_in(found: re.Match[str]) -> str:
    names = ", ".join(f"{theirs}: {ours}" for theirs, ours in _pairs(found[1]))
    return f'const {{ {names} }} = modules["{found[2]}"];'


def _given_out(found: re.Match[str]) -> str:
    pairs = [(found[2], "default")] if found[2] else _pairs(found[1])
    names = ", ".join(f"{theirs}: {ours}" for ours, theirs in pairs)
    return f"return {{ {names} }};\n"
