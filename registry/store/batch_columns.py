"""The columns of many new rows, as they are stored: completed, converted, encrypted."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import Table

from registry.schema.fields import Code, Day, FieldInfo, Keeping, Moment, Number, Reference, Text, Whole, info_of
from registry.schema.tables import metadata, ordered_tables, patient_path
from registry.store.ages import age_is_wanted, age_of, whole_years
from registry.store.cipher import REGISTRY, keyed_index
from registry.store.images import search_indexes
from registry.store.refusals import refused
from registry.store.values import kept_code, stored_value, writable

if TYPE_CHECKING:
    from registry.store.door import Door

Rows = list[dict[str, Any]]

_CONTROL = re.compile(r"[\x00-\x1f\x7f]")


def columns_of(door: Door, table: Table, rows: Rows, tables: Mapping[str, Rows]) -> dict[str, list[Any]]:
    """The columns of a batch's rows that hold something.

    Args:
        door: the transaction; it is read only, and learns the owners and the keys of new patients.
        table: the table of the rows.
        rows: the rows, by column name.
        tables: all rows of the batch.

    Raises:
        GravelbookError: a value is not what its field allows, and the database would not say so.
    """
    owners = _owners(door, table, rows)
    if table.name == "patient":
        wrapped = {row["id"]: door.cipher.new_key(row["id"]) for row in rows}
        door.new_keys.update(wrapped)
    made: dict[str, list[Any]] = {"id": [row["id"] for row in rows]}
    given = set().union(*rows)
    for name, info in writable(table).items():
        if name not in given and info.default is None and name != "age_years":
            continue
        column = [row.get(name) for row in rows]
        if info.default is not None:
            column = [info.default if value is None else value for value in column]
        if name == "age_years" and table.name == "operation":
            column = _ages(door, rows, column, tables)
        if column.count(None) == len(column):
            continue
        if info.encrypted:
            column = _encrypted(door, info, column, owners or [REGISTRY] * len(column))
        else:
            column = _converted(info, column, sqlite=door.connection.dialect.name == "sqlite")
        made[name] = column
    for index, number in search_indexes(table).items():
        if number in made:
            made[index] = [keyed_index(door.keys, v) if (v := row.get(number)) is not None else None for row in rows]
    return made


def _owners(door: Door, table: Table, rows: Rows) -> list[int] | None:
    """Owner by row, where a value of this table, or of one below it, may be encrypted."""
    above_others = any(
        p and link_target(t, p[0]) == table.name for t in ordered_tables() if (p := patient_path(t.name))
    )
    if not above_others and not any(info_of(c).encrypted for c in table.columns):
        return None
    owners = door.owners.of_batch(table.name, rows)
    if above_others and table.name != "patient":
        for row, owner in zip(rows, owners, strict=True):
            door.owners.note(table.name, row["id"], owner)
    return owners


def _encrypted(door: Door, info: FieldInfo, column: list[Any], owners: list[int]) -> list[Any]:
    door.cipher.ready({owner for owner, value in zip(owners, column, strict=True) if value is not None})
    encrypt, table, name = door.cipher.encrypt, info.table, info.name
    return [
        None if value is None else encrypt(owner, stored_value(info, value), table, name)
        for owner, value in zip(owners, column, strict=True)
    ]


def _converted(info: FieldInfo, column: list[Any], *, sqlite: bool) -> list[Any]:
    """A column as the driver takes it. What the constraints would not catch is refused here."""
    given = [value for value in column if value is not None]
    match info.kind:
        case Code():
            codes = [v if v is None or type(v) is str else str(v) for v in column]
            return codes if info.companion_of is None else [v and kept_code(info, v) for v in codes]
        case Text() | Keeping():
            if not all(isinstance(v, str) for v in given) or _CONTROL.search("".join(given)):
                raise next(refused(info) for v in given if not isinstance(v, str) or _CONTROL.search(v))
            return column
        case Number():
            # The database would take "not a number" for a missing one.
            if not all(map(_is_number, given)):
                raise refused(info, next(v for v in given if not _is_number(v)))
            # SQLite keeps no sign of a zero; nor may the other engine, or the two would differ.
            return [v if v is None else float(v) + 0.0 for v in column]
        case Whole() | Reference():
            if all(type(v) is int for v in given):
                return column
            return [stored_value(info, v) if v is not None else None for v in column]
        case Day():
            return _each(column, date, lambda v: v.isoformat() if sqlite else v, info)
        case Moment():
            return _each(column, datetime, lambda v: moment_text(v) if sqlite else v, info)
        case _:
            return column


def _each(column: list[Any], kind: type[Any], written: Callable[[Any], Any], info: FieldInfo) -> list[Any]:
    return [
        None if v is None else written(v if type(v) is kind and kind is date else stored_value(info, v)) for v in column
    ]


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def moment_text(value: datetime) -> str:
    """A moment as SQLite keeps it."""
    return value.astimezone(UTC).isoformat(timespec="microseconds")


def _ages(door: Door, rows: Rows, column: list[Any], tables: Mapping[str, Rows]) -> list[Any]:
    born = {row["patient_id"]: row.get("birth_date") for row in tables.get("patient_identity", ())}
    years = {row["id"]: row.get("birth_year") for row in tables.get("patient", ())}
    info = writable(metadata.tables["operation"])["operated_on"]

    def age(row: dict[str, Any]) -> int | None:
        patient, on = row["patient_id"], stored_value(info, row["operated_on"])
        if patient in years or born.get(patient):
            return whole_years(born.get(patient), years.get(patient), on)
        return age_of(door.connection, door.cipher, patient, on)

    return [age(row) if age_is_wanted(row) else value for row, value in zip(rows, column, strict=True)]


def link_target(table: Table, link: str) -> str | None:
    """The table that a column leads to; None when it is no link."""
    kind = info_of(table.columns[link]).kind if link in table.columns else None
    return kind.table if isinstance(kind, Reference) else None
