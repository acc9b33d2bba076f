"""Files of bases and of cases: from TOML to records.

A base is a file NAME.toml as ``changed_records`` describes it, or one that names
another ``base`` and changes it. A file of cases names the base that its cases change
unless they name their own, and lists them by what is expected of them::

    base = "egr-valve"

    [[fail]]
    name = "dated years back"
    set.code_clear.at = "2019-03-02T10:45:00+01:00"
"""

import tomllib
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from changed_records import ChangeError, Table, changed, record_of


@dataclass(frozen=True)
class Case:
    """A case: its name, the record that it expands to, what stands beside changes."""

    name: str
    record: Table
    beside: Table


class Bases:
    """The bases of one folder or more, by name."""

    def __init__(self, *folders: Path) -> None:
        paths = [path for folder in folders for path in sorted(folder.glob("*.toml"))]
        self._paths = {path.stem: path for path in paths}
        self._read: dict[str, Table | None] = {}

    def __iter__(self):
        return iter(self._paths)

    def __getitem__(self, name: str) -> Table:
        if name not in self._paths:
            msg = f"no base is called {name!r}; there are {', '.join(self)}"
            raise ChangeError(msg)
        if name not in self._read:
            self._read[name] = None
            table = tomllib.loads(self._paths[name].read_text("utf-8"))
            self._read[name] = self.expand(table, name) if "base" in table else table
        found = self._read[name]
        if found is None:
            msg = f"{name}: starts from itself; name another base"
            raise ChangeError(msg)
        return found

    def expand(self, table: Table, where: str) -> Table:
        """Return the base that a table names, changed by all else that it holds."""
        changes = {key: value for key, value in table.items() if key != "base"}
        try:
            return changed(self[table.get("base", "")], changes)
        except ChangeError as error:
            msg = f"{where}: {error}"
            raise ChangeError(msg) from None


def read_cases(
    path: Path, bases: Bases, lists: Collection[str], beside: Collection[str] = ()
) -> dict[str, list[Case]]:
    """Return the cases of a file by list; ``beside`` is what is no change in them."""
    file = tomllib.loads(path.read_text("utf-8"))
    if unknown := set(file) - {"base", *lists}:
        msg = f"{path.name}: {sorted(unknown)}: a file of cases holds base, {lists}"
        raise ChangeError(msg)
    found: dict[str, list[Case]] = {name: [] for name in lists}
    for name, cases in found.items():
        for case in file.get(name, []):
            table = {"base": file.get("base", ""), **case}
            kept = {key: table.pop(key) for key in ("name", *beside) if key in table}
            where = f"{path.name}: {name}: {kept.get('name')}"
            title = kept.pop("name", None)
            if title in {None, *(other.name for other in cases)}:
                msg = f"{where}: give each case a name of its own"
                raise ChangeError(msg)
            cases.append(Case(title, record_of(bases.expand(table, where)), kept))
    return found
