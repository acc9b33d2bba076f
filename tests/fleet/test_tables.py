"""The tables of a collection are made by DuckDB as they are written."""

import duckdb

from auditkit.fleet.tables import ENUMS, TABLES, statements
from auditkit.order.findings import Verdict


def test_every_table_is_made():
    made = duckdb.connect(":memory:")
    for statement in statements():
        made.execute(statement)
    found = {name for (name,) in made.execute("SHOW TABLES").fetchall()}
    assert found == set(TABLES)


def test_the_verdicts_are_those_of_an_order():
    assert set(ENUMS["verdict"]) == {verdict.value for verdict in Verdict}
