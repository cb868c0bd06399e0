"""Changes of the whole case, and an engine in which each is tried and undone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import duckdb
import pyarrow as pa

from registry.validation.clinical.all_rules import rules_by_id
from registry.validation.rule_running import Judged, rule_engine, rule_schema, run_rules
from tests.validation.rule_cases.whole_case import Tables

Changes = Mapping[str, Any]
"""``table.key.field``: its value; ``+table``: rows to add, keys and all; ``-table.key``: a row to take away."""


@dataclass(frozen=True)
class Example:
    """What breaks a rule, and what leaves it nothing to judge by, each as changes of the whole case.

    row: the key of the row that is then found; the first change's row when it is of the rule's table, else 1.
    """

    rule: str
    broken: Changes
    unknown: Changes
    row: int = 0

    @property
    def cited(self) -> int:
        first = next(iter(self.broken)).split(".")
        return self.row or (int(first[1]) if first[0] == rules_by_id()[self.rule].table else 1)


@contextmanager
def engine_of(tables: Tables) -> Iterator[duckdb.DuckDBPyConnection]:
    """The rule engine over rows whose keys count from 1."""

    def source(table: str, columns: list[str]) -> pa.Table:
        rows = [{"id": n, **row} for n, row in enumerate(tables.get(table, []), start=1)]
        return pa.Table.from_pylist(rows, schema=rule_schema(table))

    with rule_engine(source) as engine:
        yield engine


def judged(engine: duckdb.DuckDBPyConnection, rule: str, changes: Changes) -> Judged:
    """What a rule says after changes, which are undone."""
    engine.execute("BEGIN")
    try:
        for what, value in changes.items():
            _change(engine, what, value)
        return next(run_rules(engine, [rules_by_id()[rule]]))
    finally:
        engine.execute("ROLLBACK")


def _change(engine: duckdb.DuckDBPyConnection, what: str, value: Any) -> None:
    if what.startswith("+"):
        for row in value if isinstance(value, list) else [value]:
            names = ", ".join(row)
            marks = ", ".join("?" for _ in row)
            engine.execute(f"INSERT INTO {what[1:]} ({names}) VALUES ({marks})", list(row.values()))
        return
    table, key, *name = what.removeprefix("-").split(".")
    if what.startswith("-"):
        engine.execute(f"DELETE FROM {table} WHERE id = ?", [int(key)])
    else:
        engine.execute(f"UPDATE {table} SET {name[0]} = ? WHERE id = ?", [value, int(key)])
