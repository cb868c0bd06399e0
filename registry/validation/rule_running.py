"""Runs clinical rules: one question each, in an analytic engine over tables that are handed to it.

The engine lives in memory and reaches neither the database nor the disk nor the network.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from registry.schema.fields import info_of
from registry.schema.tables import metadata
from registry.store.reading import arrow_type
from registry.validation.clinical.all_rules import CLINICAL_RULES
from registry.validation.clinical.dates import MACROS
from registry.validation.clinical.rule import ClinicalRule
from registry.validation.clinical.scanned_reading import add_scanned
from registry.validation.findings import Problem

if TYPE_CHECKING:
    import duckdb

TableSource = Callable[[str, list[str]], Any]
"""Gives the columns of a table, as Arrow."""


@dataclass(frozen=True)
class BrokenRow:
    """A row that breaks a rule: its key, and what is wrong."""

    row: int
    why: str

    def problem(self, rule: ClinicalRule) -> Problem:
        """The problem of this row."""
        return Problem(rule.id, rule.severity, self.why, rule.sentence)


@dataclass(frozen=True)
class Judged:
    """What one rule said of the rows it is about.

    Attributes:
        rule: the rule.
        checked: how many rows it could judge.
        not_computable: how many it could not, because something it needs is missing.
        broken: the rows that break it.
        fault: the kind of error when the rule could not run; then nothing was judged.
    """

    rule: ClinicalRule
    checked: int = 0
    not_computable: int = 0
    broken: tuple[BrokenRow, ...] = field(default=())
    fault: str = ""


@contextmanager
def rule_engine(source: TableSource, tables: Collection[str] | None = None) -> Iterator[duckdb.DuckDBPyConnection]:
    """An engine that holds the tables and columns that the clinical rules read.

    Args:
        source: gives a table's columns.
        tables: the tables that have rows; the others stay empty. None for all.
    """
    import duckdb

    settings: dict[str, str | bool | int | float | list[str]] = {
        "autoinstall_known_extensions": False,
        "enable_external_access": False,
    }
    engine = duckdb.connect(":memory:", config=settings)
    try:
        for macro in MACROS:
            engine.execute(macro)
        add_scanned(engine)
        for name, columns in rule_columns().items():
            filled = tables is None or name in tables
            rows = source(name, list(columns)) if filled else rule_schema(name).empty_table()
            engine.register("incoming", rows)
            engine.execute(f'CREATE TABLE "{name}" AS SELECT * FROM incoming')
            engine.unregister("incoming")
        yield engine
    finally:
        engine.close()


def run_rules(engine: duckdb.DuckDBPyConnection, rules: Iterable[ClinicalRule] = CLINICAL_RULES) -> Iterator[Judged]:
    """What each rule says of the engine's rows; a rule that cannot run says so and stops no other."""
    import duckdb

    for rule in rules:
        try:
            yield _judged(engine, rule)
        except duckdb.Error as fault:
            # The text of the error may quote a value; its kind does not.
            yield Judged(rule, fault=type(fault).__name__)


def _judged(engine: duckdb.DuckDBPyConnection, rule: ClinicalRule) -> Judged:
    shown = [f"show_{n}" for n in range(len(rule.shows))]
    shows = "".join(f", {sql} AS {name}" for name, sql in zip(shown, rule.shows.values(), strict=True))
    kept = "".join(f", first({name} ORDER BY hit DESC) AS {name}" for name in shown)
    # A join may give a row several times: it is judged if it can be once, and broken if it is once.
    found = engine.execute(
        f"WITH said AS (SELECT t.id AS id, coalesce(({rule.needs}), false) AS judged, "
        f"coalesce(({rule.needs}) AND ({rule.broken}), false) AS hit{shows} {rule.rows}), "
        f"told AS (SELECT id, bool_or(judged) AS judged, bool_or(hit) AS hit{kept} FROM said "
        "WHERE id IS NOT NULL GROUP BY id) "
        "SELECT count(*) FILTER (WHERE judged), count(*) FILTER (WHERE NOT judged), "
        f"list(row(id{''.join(f', {name}' for name in shown)}) ORDER BY abs(id), id) FILTER (WHERE hit) FROM told"
    ).fetchone()
    checked, not_computable, rows = found or (0, 0, None)
    broken = tuple(
        BrokenRow(row, rule.why.format(**dict(zip(rule.shows, map(_shown, values), strict=True))))
        for row, *values in rows or ()
    )
    return Judged(rule, checked, not_computable, broken)


def _shown(value: Any) -> str:
    if value is None:
        return "?"
    if isinstance(value, float):
        return f"{value:g}"
    return value.isoformat() if isinstance(value, date | datetime) else str(value)


@cache
def rule_columns() -> dict[str, tuple[str, ...]]:
    """The tables and columns that clinical rules read; every rule can see all that any rule reads."""
    words = frozenset().union(*(rule.words for rule in CLINICAL_RULES))
    return {
        name: tuple(c.name for c in table.columns if c.name == "id" or (c.name in words and not _sealed(c)))
        for name, table in metadata.tables.items()
        if name in words
    }


@cache
def rule_schema(table: str) -> pa.Schema:
    """The Arrow types of the columns that rules read of a table."""
    columns = metadata.tables[table].columns
    return pa.schema([(name, arrow_type(info_of(columns[name]))) for name in rule_columns()[table]])


def _sealed(column: Any) -> bool:
    return info_of(column).encrypted
