"""CHECK constraints and indexes, derived from the fields' declarations.

The constraint's text is built here and nowhere else; a test compares it with what the database holds.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import CheckConstraint, Column, Index, MetaData, Table

from registry.schema.base import model_of
from registry.schema.fields import Code, Day, FieldInfo, Moment, Number, Reference, Text, Whole, info_of
from registry.schema.lists_common import MissingReason


def add_checks(metadata: MetaData) -> None:
    """Hang the CHECK constraints of every field on its table. Called once, when all tables are declared."""
    for table in metadata.tables.values():
        for column in table.columns:
            for name, text, dialect in checks_of(column):
                check = CheckConstraint(text, name=name)
                table.append_constraint(check.ddl_if(dialect=dialect) if dialect else check)


def add_indexes(metadata: MetaData) -> None:
    """Index every link that does not lead its table's natural key, so that a row's dependants are found at once."""
    for table in metadata.tables.values():
        key = model_of(table).key_fields
        for column in table.columns:
            is_link = isinstance(info_of(column).kind, Reference)
            if is_link and column.name != "batch_id" and column.name != (*key, "")[0]:
                Index(None, column)


def checks_of(column: Column[Any]) -> Iterator[tuple[str, str, str | None]]:
    """The checks of one column: (name by which it can be told, SQL text, dialect or None for both)."""
    info = info_of(column)
    name = column.name
    match info.kind:
        case Code(list=codes):
            listed = ", ".join(f"'{code}'" for code in codes.codes())
            yield f"{name}_listed", f"{name} IN ({listed})", None
        case Whole() | Number():
            yield from _limits(info)
        case Day(low=low, high=high, imprecise=imprecise):
            yield f"{name}_within", f"{name} BETWEEN '{low}' AND '{high}'", None
            # SQLite keeps a date as text; without this "2024-02-31" would be stored and stop a later read.
            yield f"{name}_is_date", f"{name} IS NULL OR coalesce(date({name}) = {name}, 0)", "sqlite"
            if imprecise:
                yield f"{name}_precision_kept", _precision_kept(column.table, name), None
        case Moment():
            yield f"{name}_is_moment", f"{name} GLOB '????-??-??T??:??:??.??????+00:00'", "sqlite"
        case Text(longest=longest):
            yield f"{name}_length", f"length({name}) BETWEEN 1 AND {longest}", None
        case _:
            pass
    if name == "missing_reasons":
        yield f"{name}_listed", missing_reasons_check(name), None


def _limits(info: FieldInfo) -> Iterator[tuple[str, str, str | None]]:
    low, high = info.limits
    if low is not None and high is not None:
        yield f"{info.name}_within", f"{info.name} BETWEEN {low} AND {high}", None
    elif low is not None:
        yield f"{info.name}_within", f"{info.name} >= {low}", None
    elif high is not None:
        yield f"{info.name}_within", f"{info.name} <= {high}", None


def _precision_kept(table: Table, name: str) -> str:
    # A date known to the month stands on the 1st of it, to the year on 1 January, so that it cannot pass for a day.
    day, month = f"substr(CAST({name} AS TEXT), 9, 2)", f"substr(CAST({name} AS TEXT), 6, 5)"
    precision = f"{name}_precision"
    if precision not in table.columns:
        raise LookupError(f"{table.name}.{name} may be imprecise but has no field {precision}")
    return (
        f"{precision} IS NULL OR {precision} = 'day' OR ({precision} = 'month' AND {day} = '01') "
        f"OR ({precision} = 'year' AND {month} = '01-01')"
    )


def missing_reasons_check(name: str) -> str:
    """Every reason in "field=reason; field=reason" is on the list: nothing but names is left without them."""
    text = name
    for reason in MissingReason.codes():
        text = f"replace({text}, '={reason};', ';')"
    return f"{text} NOT LIKE '%=%'"
