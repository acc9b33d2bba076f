"""Tables that lie beside a package's modules, read where they lie.

The standard library's way to them loads ten times as much as this, which is felt where
a browser has to read every module anew.
"""

from __future__ import annotations

import importlib
import os
from collections.abc import Mapping
from functools import cache
from typing import Any


def table_text(package: str, name: str) -> str:
    """Return the text (UTF-8) of a file that lies beside a package's modules."""
    module = importlib.import_module(package)
    path = os.path.join(module.__path__[0], name)  # noqa: PTH118  pathlib loads long
    data: bytes = module.__loader__.get_data(path)  # type: ignore[union-attr]
    return data.decode()


@cache
def table_rows(package: str, name: str, key: str) -> tuple[Mapping[str, Any], ...]:
    """Return the rows of a key of such a file in TOML; the file is parsed once."""
    import tomllib

    return tuple(tomllib.loads(table_text(package, name))[key])


def table_names(package: str) -> tuple[str, ...]:
    """Return the names of the files that lie beside a package's modules."""
    folder = importlib.import_module(package).__path__[0]
    if os.path.isdir(folder):  # noqa: PTH112
        return tuple(sorted(os.listdir(folder)))  # noqa: PTH208
    from importlib.resources import files

    return tuple(sorted(item.name for item in files(package).iterdir()))
