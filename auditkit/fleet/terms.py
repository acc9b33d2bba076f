"""By what a collection judges, and whom it names: the same for all its packets.

Rows of two judgements are never mixed: who comes with other rules, another policy,
another list of keys or another key of pseudonyms is refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

from auditkit.errors import InputError
from auditkit.fleet.judging import rules_sha256
from auditkit.fleet.log_keys import NO_LIST, LogKeys
from auditkit.fleet.pseudonyms import Pseudonyms
from auditkit.fleet.tables import FORMAT, statements
from auditkit.order.policy import DEFAULT, Policy

if TYPE_CHECKING:
    from auditkit.fleet.rows.values import Row
    from auditkit.fleet.tables_held import TablesHeld

PROGRAM = "auditkit"


@dataclass(frozen=True, slots=True)
class Terms:
    """The reader's policy, their list of log keys, and how vehicles are named."""

    policy: Policy = DEFAULT
    keys: LogKeys = NO_LIST
    pseudonyms: Pseudonyms | None = None

    def row(self) -> Row:
        """Return the one row of the table ``collection``."""
        return {
            "format": FORMAT,
            "program": program(),
            "is_pseudonymous": self.pseudonyms is not None,
            "rules_sha256": rules_sha256(),
            "policy_sha256": bytes.fromhex(self.policy.sha256),
            "keys_sha256": self.keys.sha256,
            "pseudonym_check": self.pseudonyms.check if self.pseudonyms else None,
        }


def program() -> str:
    """Return the name and the version of this program."""
    return f"{PROGRAM} {version(PROGRAM)}"


def begin(tables: TablesHeld, terms: Terms) -> None:
    """Make the tables in a file that is empty, whole or not at all."""
    tables.run("BEGIN")
    for statement in statements():
        tables.run(statement)
    tables.add("collection", [terms.row()])
    tables.run("COMMIT")


_WHAT = {
    "rules_sha256": "other rules",
    "policy_sha256": "another policy",
    "keys_sha256": "another list of keys",
}


def check_terms(tables: TablesHeld, into: Path, terms: Terms) -> None:
    """Raise InputError where a collection was made by other terms than these."""
    asked = terms.row()
    (held,) = tables.ask(f"SELECT {', '.join(_WHAT)} FROM collection")  # noqa: S608  own names
    differ = [
        said
        for (name, said), value in zip(_WHAT.items(), held, strict=True)
        if asked[name] != value
    ]
    if differ:
        raise InputError(
            f"its packets were judged by {' and '.join(differ)}",
            where=str(into),
            what_to_do="give --rebuild, which reads and judges its packets again, or "
            "name a new file",
        )
    check_pseudonyms(tables, into, terms)


def check_pseudonyms(tables: TablesHeld, into: Path, terms: Terms) -> None:
    """Raise InputError where a collection names vehicles otherwise."""
    asked = terms.row()["pseudonym_check"]
    ((held,),) = tables.ask("SELECT pseudonym_check FROM collection")
    if held == asked:
        return
    if held is None:
        message, what_to_do = "it holds names and VINs", "leave out --pseudonymous"
    elif asked is None:
        message, what_to_do = "it holds pseudonyms", "give --pseudonymous and its key"
    else:
        message = "its pseudonyms were made with another key"
        what_to_do = "name the key that it was begun with"
    raise InputError(
        message, where=str(into), what_to_do=f"{what_to_do}, or name a new file"
    )
