"""Which tables and columns are frozen, and as which Arrow types.

Frozen is what may be analysed: no identifying field, no free wording, nothing of the store's book-keeping but
the reasons for missing values. The types follow from the declarations, never from the values.
"""

from __future__ import annotations

import hashlib
from functools import cache

import pyarrow as pa
from sqlalchemy import Table

from registry.schema.fields import Code, Kind, info_of
from registry.schema.tables import analysed_tables, metadata, own_columns
from registry.store.reading import arrow_type

REASONS = "missing_reasons"


@cache
def frozen_tables() -> tuple[str, ...]:
    """The names of the tables that are frozen, parents before children."""
    return tuple(table.name for table in analysed_tables())


@cache
def frozen_columns(table_name: str) -> tuple[str, ...]:
    """The frozen columns of a table: its key, its analysed fields and links, and the reasons for missing values."""
    table = metadata.tables[table_name]
    return ("id", *(c.name for c in own_columns(table) if info_of(c).analysed), REASONS)


@cache
def arrow_schema(table_name: str) -> pa.Schema:
    """The Arrow types of a frozen table, in the order of `frozen_columns`."""
    table: Table = metadata.tables[table_name]
    return pa.schema([(name, arrow_type(info_of(table.columns[name]))) for name in frozen_columns(table_name)])


@cache
def layout_hash() -> str:
    """A hash of everything that decides what a frozen row looks like: tables, columns, types and code lists."""
    lines = []
    for name in frozen_tables():
        for column, kind in zip(arrow_schema(name), _kinds(name), strict=True):
            codes = ",".join(kind.list.codes()) if isinstance(kind, Code) else ""
            lines.append(f"{name}.{column.name}:{column.type}:{codes}")
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def _kinds(table_name: str) -> list[Kind]:
    return [info_of(metadata.tables[table_name].columns[name]).kind for name in frozen_columns(table_name)]
