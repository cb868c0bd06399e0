"""Holds the values of a unit's own fields against the declarations of those fields."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import Connection, select

from registry.schema.errors import GravelbookError
from registry.schema.local_fields import LINK, VALUE, local_info, local_text, local_value, subject_of
from registry.schema.tables import metadata
from registry.store.refusals import refused
from registry.store.values import stored_value

_FIELDS = metadata.tables["local_field"]
_MANY = 500


def local_texts(connection: Connection, table_name: str, rows: Iterable[Mapping[str, Any]]) -> list[Any]:
    """The values of rows of local values, each in the form in which it is stored.

    Args:
        connection: a transaction that sees the local fields that the rows lead to.
        table_name: the table of the rows, whose ``subject_of`` is not None.
        rows: by column name; links as keys. What leads nowhere is left to the link's own check.

    Raises:
        GravelbookError: a local field does not belong to the table, or does not allow the value.
    """
    rows = list(rows)
    declared = _declared(connection, {row[LINK] for row in rows if row.get(LINK) is not None})
    return [_text(declared.get(row.get(LINK)), table_name, row.get(VALUE)) for row in rows]


def _declared(connection: Connection, keys: set[Any]) -> dict[Any, Mapping[str, Any]]:
    query = select(_FIELDS)
    if len(keys) <= _MANY:
        query = query.where(_FIELDS.c.id.in_(keys))
    return {row["id"]: dict(row) for row in connection.execute(query).mappings()}


def _text(declared: Mapping[str, Any] | None, table_name: str, value: Any) -> Any:
    if declared is None or not isinstance(value, str):
        return value  # what is no text at all the column itself refuses
    subject = subject_of(table_name)
    if declared["belongs_to"] != subject:
        raise GravelbookError(
            f"{table_name}.{LINK}: the local field {declared['field_name']} belongs to {declared['belongs_to']}, not "
            f"to {subject}. Give a local field of the {subject}, or enter the value where it belongs."
        )
    info = local_info(declared, table_name)
    try:
        return local_text(info, stored_value(info, local_value(info, value)))
    except ValueError as fault:
        raise refused(info, value) from fault
