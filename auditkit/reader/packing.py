"""The files that a program of pure Python needs, found by following its imports.

Nothing is listed by hand. Every import of auditkit's own is followed, wherever it
stands; an import of another library only where a module cannot be loaded without it:
outside functions, and not in a ``try`` that copes with its absence. What only type
checkers read is left out, and the standard library is taken to be there. What a module
of ours loads by its name is asked of that module. What others made comes with its
licences.
"""

from __future__ import annotations

import ast
import io
import re
import sys
import zipfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import metadata
from importlib.metadata import packages_distributions
from importlib.util import find_spec, resolve_name
from pathlib import Path
from pkgutil import iter_modules

from auditkit.plugin.homes import HOMES, MODULES
from auditkit.plugin.loading import CANON

OWN = frozenset({"auditkit", "auditkit_plugins", "auditkit_schemas"})
_HOLDERS = (ast.stmt, ast.excepthandler, ast.match_case)
_LACKING = {"ImportError", "ModuleNotFoundError"}
_TABLES = {".json", ".toml"}  # what lies beside a package's modules and is read by them
_LICENCE = re.compile(r"LICEN[CS]E|COPYING|NOTICE", re.IGNORECASE)
_DATE = (1980, 1, 1, 0, 0, 0)
_READABLE = 0o100644 << 16
_UNIX = 3


@dataclass(frozen=True, slots=True)
class PackingList:
    """What a program needs: its files by their path in an archive, and the rest.

    ``standard`` names the modules of the standard library that the files import.
    """

    files: Mapping[str, bytes]
    standard: frozenset[str]


def needs(entry: str, in_place: Mapping[str, str]) -> PackingList:
    """Return what the module ``entry`` needs.

    ``in_place`` gives, for the name under which a module is packed, the module that
    stands there: what differs by host. Raises ValueError, with the module's name, where
    something that is needed is not pure Python or is not there.
    """
    files: dict[str, bytes] = {}
    standard: set[str] = set()
    met: set[str] = set()
    waiting = [entry]
    while waiting:
        name = waiting.pop()
        if name in met:
            continue
        met.add(name)
        if _is_standard(name):
            standard.add(name)
            continue
        source, is_package = _source(in_place.get(name, name))
        path = name.replace(".", "/")
        files[f"{path}/__init__.py" if is_package else f"{path}.py"] = _read(source)
        if is_package:
            tables = (p for p in source.parent.iterdir() if p.suffix in _TABLES)
            files |= {f"{path}/{table.name}": _read(table) for table in tables}
        package = name if is_package else name.rpartition(".")[0]
        waiting += _parents(name)
        waiting += _imports(source.read_bytes(), package)
        waiting += _BY_NAME.get(name, list)()
    brought_by = packages_distributions()
    for library in {name.partition("/")[0] for name in files} - OWN:
        for distribution in brought_by.get(library.removesuffix(".py"), ()):
            files |= _licences(distribution)
    return PackingList(dict(sorted(files.items())), frozenset(standard))


def _plugins() -> list[str]:
    package = find_spec(CANON)
    places = package.submodule_search_locations if package else None
    return [f"{CANON}.{found.name}" for found in iter_modules(places)]


def _door() -> list[str]:
    return [f"auditkit.{home}" for home in {*HOMES.values(), *MODULES.values()}]


_BY_NAME: Mapping[str, Callable[[], list[str]]] = {
    "auditkit.plugin": _door,
    "auditkit.plugin.loading": _plugins,
    "auditkit.order.event_kinds": lambda: ["auditkit_schemas"],
}


def archive(files: Mapping[str, bytes]) -> bytes:
    """Return files as a zip archive, the same bytes everywhere.

    They are stored, not compressed, in a fixed order with one fixed date, since
    compressors differ between systems.
    """
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_STORED) as made:
        for path, data in sorted(files.items()):
            info = zipfile.ZipInfo(path, _DATE)
            info.create_system, info.external_attr = _UNIX, _READABLE
            made.writestr(info, data)
    return buffer.getvalue()


def _read(path: Path) -> bytes:
    """Return a text file's bytes; it may lie with other line ends on another system."""
    return path.read_bytes().replace(b"\r\n", b"\n")


def _source(name: str) -> tuple[Path, bool]:
    """Return where a module's source lies, and whether it is a package."""
    spec = find_spec(name)
    if spec is None or spec.origin is None or not spec.origin.endswith(".py"):
        raise ValueError(
            f"{name} is needed and is no module of pure Python that is there"
        )
    return Path(spec.origin), spec.submodule_search_locations is not None


def _licences(distribution: str) -> dict[str, bytes]:
    """Return the licences that a distribution brings."""
    return {
        f"licences/{distribution}/{file.name}": file.read_binary()
        for file in metadata.files(distribution) or ()
        if _LICENCE.match(file.name)
    }


def _parents(name: str) -> list[str]:
    parts = name.split(".")[:-1]
    return [".".join(parts[: i + 1]) for i in range(len(parts))]


def _imports(source: bytes, package: str) -> Iterator[str]:
    """Yield the modules that a module of ``package`` imports, as far as needed."""
    for node, is_sure in _written_imports(source):
        if isinstance(node, ast.Import):
            found = [alias.name for alias in node.names]
        else:
            base = resolve_name("." * node.level + (node.module or ""), package)
            found = [base]
            if is_sure or _is_own(base):
                below = (f"{base}.{alias.name}" for alias in node.names)
                found += [name for name in below if _is_module(name)]
        yield from (n for n in found if is_sure or _is_own(n) or _is_standard(n))


@cache
def _written_imports(
    source: bytes,
) -> tuple[tuple[ast.Import | ast.ImportFrom, bool], ...]:
    """Return the import statements of a source, read once for all programs."""
    return tuple(_statements(ast.parse(source), is_sure=True))


def _statements(
    node: ast.AST, *, is_sure: bool
) -> Iterator[tuple[ast.Import | ast.ImportFrom, bool]]:
    """Yield the import statements of a tree, and whether loading it needs them.

    No expression holds a statement, so that none is looked into.
    """
    if isinstance(node, ast.Import | ast.ImportFrom):
        yield node, is_sure
        return
    children = [one for one in ast.iter_child_nodes(node) if isinstance(one, _HOLDERS)]
    if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
        children = list(node.orelse)
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        is_sure = False
    may_lack = isinstance(node, ast.Try) and any(map(_takes_lack, node.handlers))
    for child in children:
        is_tried = may_lack and isinstance(node, ast.Try) and child in node.body
        yield from _statements(child, is_sure=is_sure and not is_tried)


def _takes_lack(handler: ast.ExceptHandler) -> bool:
    """Return whether an ``except`` catches that a library is missing."""
    if handler.type is None:
        return True
    names = (n.id for n in ast.walk(handler.type) if isinstance(n, ast.Name))
    return not _LACKING.isdisjoint(names)


def _is_own(name: str) -> bool:
    return name.partition(".")[0] in OWN


def _is_standard(name: str) -> bool:
    return name.partition(".")[0] in sys.stdlib_module_names


def _is_module(name: str) -> bool:
    """Return whether a name below another one is a module, and none of its values."""
    if _is_standard(name):
        return False
    above = find_spec(name.rpartition(".")[0])
    if above is None or above.submodule_search_locations is None:
        return False
    return find_spec(name) is not None
