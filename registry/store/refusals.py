"""Says in words what a field allows, and why a row was refused. No identifying value is ever printed."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from sqlalchemy import Connection, Table, UniqueConstraint, select

from registry.schema.checks import checks_of
from registry.schema.errors import GravelbookError
from registry.schema.fields import (
    Code,
    Day,
    FieldInfo,
    Moment,
    Note,
    Number,
    Reference,
    Secret,
    Text,
    Whole,
    info_of,
)
from registry.schema.tables import metadata

_LISTED = 12


def rule_in_words(info: FieldInfo) -> str:
    """What a field allows: "a whole number from 0 to 120 years"."""
    low, high = info.limits
    match info.kind:
        case Code(list=codes):
            known = codes.codes()
            more = f" and {len(known) - _LISTED} more (see the data dictionary)" if len(known) > _LISTED else ""
            return f"one of {', '.join(known[:_LISTED])}{more}"
        case Whole(scale=scale) if scale != 1:
            between = _between(info.typed(float(str(low))), info.typed(float(str(high))))
            return f"{between} {info.typed_unit}, stored as a whole number of {info.unit}".strip()
        case Whole():
            return f"a whole number{_between(low, high, lead=' ')} {info.unit}".rstrip()
        case Number():
            return f"a number{_between(low, high, lead=' ')} {info.unit}".rstrip()
        case Day(imprecise=imprecise):
            known_to = ", the first of the month or year where it is known to that only" if imprecise else ""
            return f"a date from {low} to {high}{known_to}"
        case Moment():
            return "a time stamp with its time zone"
        case Text(longest=longest):
            return f"a text of 1 to {longest} characters on one line"
        case Note(longest=longest) | Secret(longest=longest):
            return f"a text of at most {longest} characters"
        case Reference(table=table):
            return f"the key of a row of {table}"
        case _:
            return "kept by the program"


def refused(info: FieldInfo, value: Any = None) -> GravelbookError:
    """The error for a value that its field does not allow."""
    shown = f" {value!r} is not." if info.analysed and isinstance(info.kind, Code | Whole | Number | Day) else ""
    if value is None and info.required:
        return GravelbookError(f"{info.table}.{info.name} ({info.label}) is missing; it must be {rule_in_words(info)}.")
    return GravelbookError(f"{_rule_broken(info)}{shown}")


def _rule_broken(info: FieldInfo) -> GravelbookError:
    return GravelbookError(f"{info.table}.{info.name} ({info.label}) must be {rule_in_words(info)}.")


def refused_by_database(table: Table, fault: BaseException | None) -> GravelbookError:
    """What a constraint of the database refused, from the driver's error, in words."""
    said = str(fault)
    diagnosis = getattr(fault, "diag", None)
    constraint = getattr(diagnosis, "constraint_name", None) or next((n for n in _checks(table.name) if n in said), "")
    if constraint in _checks(table.name):
        return _rule_broken(_checks(table.name)[constraint])
    if "UNIQUE" in said or constraint.startswith(("uq_", "pk_")):
        unique = next((c for c in table.constraints if isinstance(c, UniqueConstraint)), None)
        names = ", ".join(c.name for c in unique.columns) if unique is not None else "id"
        return GravelbookError(
            f"{table.name} has a row already with the same {names}. Change that row, or give the new one another "
            "number."
        )
    if "FOREIGN KEY" in said or constraint.startswith("fk_"):
        column = constraint.removeprefix(f"fk_{table.name}_")
        if column in table.columns:
            return GravelbookError(
                f"{table.name}.{column} must be {rule_in_words(info_of(table.columns[column]))}; there is no such row."
            )
        return GravelbookError(f"{table.name}: a link leads to a row that is not there, or one that others lead to.")
    column = getattr(diagnosis, "column_name", None) or next(
        (c.name for c in table.columns if f"{table.name}.{c.name}" in said), None
    )
    if column is not None and column in table.columns:
        return refused(info_of(table.columns[column]))
    # The driver's own words may quote a value, so they stay with the cause and out of the message.
    return GravelbookError(f"The database refused a row of {table.name}; its fields break one of the table's rules.")


def check_links(connection: Connection, table: Table, values: Mapping[str, Any]) -> None:
    """Refuse links that lead nowhere, naming the field; SQLite itself would not say which.

    Raises:
        GravelbookError: a link's row is not there.
    """
    for column in table.columns:
        kind = info_of(column).kind
        if isinstance(kind, Reference) and values.get(column.name) is not None:
            target = metadata.tables[kind.table]
            if connection.execute(select(target.c.id).where(target.c.id == values[column.name])).first() is None:
                raise GravelbookError(
                    f"{table.name}.{column.name} must be {rule_in_words(info_of(column))}; {kind.table} has no row "
                    f"{values[column.name]}."
                )


def check_nothing_below(connection: Connection, table: Table, row: int) -> None:
    """Refuse to withdraw a row that others lead to, naming them.

    Raises:
        GravelbookError: a row of another table is linked to it.
    """
    for child in metadata.sorted_tables:
        for column in child.columns:
            if info_of(column).kind == Reference(table.name):
                found = connection.execute(select(child.c.id).where(column == row).limit(1)).scalar()
                if found is not None:
                    raise GravelbookError(
                        f"Row {row} of {table.name} cannot be withdrawn: row {found} of {child.name} leads to it by "
                        f"{column.name}. Withdraw that one first."
                    )


@cache
def _checks(table: str) -> dict[str, FieldInfo]:
    columns = metadata.tables[table].columns
    return {f"ck_{table}_{name}": info_of(c) for c in columns for name, _, _ in checks_of(c)}


def _between(low: Any, high: Any, lead: str = "") -> str:
    if low is None and high is None:
        return ""
    if high is None:
        return f"{lead}of {low} or more"
    if low is None:
        return f"{lead}of {high} or less"
    return f"{lead}from {low} to {high}"
