"""Frames as they are kept on disk: declared columns, order and types; words as numbers into a list of levels.

Most columns hold one of a few words. Kept as numbers beside the list of their levels they are read in a tenth of
the time, and the levels are those declared, in their order, whatever happens to be in the data.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import pyarrow as pa
import pyarrow.compute as pc

from analysis.cohort.columns import NOT_RECORDED, SHARED, CohortColumn, cohort_columns
from analysis.cohort.outcome_columns import OUTCOME_COLUMNS

ARROW_TYPES = {
    "id": pa.int64(),
    "key": pa.int64(),
    "whole": pa.int64(),
    "number": pa.float64(),
    "date": pa.date32(),
    "flag": pa.bool_(),
    "text": pa.string(),
    "code": pa.string(),
}
MISSING = -1


@dataclass(frozen=True)
class Coded:
    """A frame on disk: the table, and for each column kept as numbers its levels."""

    table: pa.Table
    levels: dict[str, list[str]]


def coded_cohort(frame: pa.Table) -> Coded:
    """The cohort frame, its codes and its study numbers apart."""
    columns = cohort_columns()
    made = _typed(frame, ((column.name, column.holds) for column in columns.values()))
    return _coded(made, {name: column for name, column in columns.items() if column.holds == "code"})


def coded_outcome(name: str, frame: pa.Table) -> Coded:
    """A frame from which outcomes are judged."""
    holds = OUTCOME_COLUMNS[name]
    words = {
        column: CohortColumn(name=column, label="", holds="code") for column, held in holds.items() if held == "text"
    }
    return _coded(_typed(frame, holds.items()), words)


def _typed(frame: pa.Table, holds: Iterable[tuple[str, str]]) -> pa.Table:
    schema = pa.schema([(name, ARROW_TYPES[kind]) for name, kind in holds])
    return frame.select(schema.names).cast(schema).combine_chunks()


def _coded(table: pa.Table, columns: dict[str, CohortColumn]) -> Coded:
    levels = {}
    for name, column in columns.items():
        numbers, levels[name] = _numbered(table.column(name), column)
        table = table.set_column(table.schema.get_field_index(name), name, numbers)
    return Coded(table, levels)


def _numbered(values: pa.ChunkedArray, column: CohortColumn) -> tuple[pa.ChunkedArray, list[str]]:
    found = [value for value in pc.unique(values).to_pylist() if value is not None]
    levels = list(column.levels) if column.levels and not column.joined else _ordered(found, column)
    places = pc.index_in(values, value_set=pa.array(levels, pa.string()), skip_nulls=True)
    return pc.fill_null(places, MISSING).cast(pa.int16()), levels


def _ordered(found: list[str], column: CohortColumn) -> list[str]:
    """Levels that the data hold: joined codes by their places in the list, others by name; the special ones last."""
    last = [level for level in (SHARED, NOT_RECORDED) if level in found]
    ranks = {code: number for number, code in enumerate(column.levels)}
    rest = [level for level in found if level not in last]
    if column.joined:
        return sorted(rest, key=lambda level: [ranks[code] for code in level.split("+")]) + last
    return sorted(rest) + last
