"""Changes to a case that a person has declared complete need a reason."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import cache
from typing import Any

from sqlalchemy import Connection, select

from registry.schema.base import model_of
from registry.schema.errors import GravelbookError
from registry.schema.fields import Reference, info_of
from registry.schema.tables import metadata

OPERATION = metadata.tables["operation"]


@cache
def case_links(table: str) -> tuple[tuple[str, ...], ...]:
    """The ways from a clinical row to operations: along the links of natural keys, and by any direct link."""
    if table == "operation":
        return ((),)
    source = metadata.tables[table]
    if not model_of(source).clinical:
        return ()
    ways: list[tuple[str, ...]] = []
    for column in source.columns:
        kind = info_of(column).kind
        if isinstance(kind, Reference) and kind.table == "operation":
            ways.append((column.name,))
        elif isinstance(kind, Reference) and column.name in model_of(source).key_fields:
            ways += [(column.name, *way) for way in case_links(kind.table)]
    return tuple(ways)


@cache
def belongs_to_case(table: str) -> bool:
    """A new row of this table changes the case itself. What follows it (complications) may come later unasked."""
    follows = {"complication"}
    return any(way and way[0] in model_of(metadata.tables[table]).key_fields for way in case_links(table)) and not (
        table in follows or any(link == "complication_id" for way in case_links(table) for link in way)
    )


def check_reason(connection: Connection, table: str, rows: Collection[Mapping[str, Any]], reason: str | None) -> None:
    """Refuse a change without a reason to a signed-off operation or to rows below it.

    Args:
        connection: the transaction, before the change.
        table: the table of the rows.
        rows: the rows as they stand before the change, or as they are about to be written when new.
        reason: the reason given.

    Raises:
        GravelbookError: names the operation.
    """
    if reason and reason.strip():
        return
    for way in case_links(table):
        reached = {row["id"] for row in rows} if way == () else {row[way[0]] for row in rows}
        here = table
        for step, link in enumerate(way):
            kind = info_of(metadata.tables[here].columns[link]).kind
            assert isinstance(kind, Reference)
            here = kind.table
            if here == "operation":
                break
            reached = _followed(connection, here, way[step + 1], reached)
        signed = _signed_off(connection, reached)
        if signed is not None:
            raise GravelbookError(
                f"Operation {signed} was signed off. A change to it, or to what belongs to it ({table}), needs a "
                "reason: say why it is changed."
            )


def _followed(connection: Connection, table: str, link: str, rows: set[Any]) -> set[Any]:
    source = metadata.tables[table]
    return {
        found
        for part in _parts(rows)
        for found in connection.execute(select(source.c[link]).where(source.c.id.in_(part))).scalars()
    }


def _signed_off(connection: Connection, operations: set[Any]) -> int | None:
    for part in _parts(operations):
        query = select(OPERATION.c.id).where(OPERATION.c.id.in_(part), OPERATION.c.signed_off_at.is_not(None)).limit(1)
        found = connection.execute(query).scalar()
        if found is not None:
            return int(found)
    return None


def _parts(rows: set[Any]) -> list[list[Any]]:
    known = sorted(row for row in rows if row is not None)
    return [known[start : start + 500] for start in range(0, len(known), 500)]
