"""Operations for revisions: set rows aside that an older shape cannot hold, and bring them back.

A revision that goes down never throws rows away. What the older shape cannot hold is parked in a table of its
own, ``parked_<name>``, and counted in ``parked_rows``; the same revision going up brings it back and checks the
count. Revisions call these as ``op.park_table("x")`` and so on, and import nothing of ours.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic.operations import MigrateOperation, Operations

COUNTS = sa.table("parked_rows", sa.column("name"), sa.column("row_count"))


def parked(name: str) -> str:
    """The name of the table in which rows are parked."""
    return f"parked_{name}"


class Parking(MigrateOperation):
    """Something done with parked rows."""

    def __init__(self, name: str, **more: Any) -> None:
        self.name = name
        self.more = more


@Operations.register_operation("park_rows")
class ParkRows(Parking):
    """Set the rows of a query aside."""

    @classmethod
    def park_rows(cls, operations: Operations, name: str, query: str) -> None:
        """Set the rows of a query aside under a name, with their count. A query without rows leaves nothing."""
        operations.invoke(cls(name, query=query))


@Operations.register_operation("park_table")
class ParkTable(Parking):
    """Drop a table, its rows set aside."""

    @classmethod
    def park_table(cls, operations: Operations, name: str) -> None:
        """Drop a table; where it holds rows, they are parked first."""
        operations.invoke(cls(name))


@Operations.register_operation("bring_back_parked")
class BringBackParked(Parking):
    """Put parked rows back into their table."""

    @classmethod
    def bring_back_parked(cls, operations: Operations, name: str, *, emptied: bool = True) -> None:
        """Put parked rows back, if there are any. ``emptied``: the table holds nothing else.

        Raises:
            RuntimeError: the number of rows that came back is not the number that was parked.
        """
        operations.invoke(cls(name, emptied=emptied))


@Operations.register_operation("park_column")
class ParkColumn(Parking):
    """Set the values of a column aside."""

    @classmethod
    def park_column(cls, operations: Operations, table: str, column: str) -> None:
        """Set the values of a column aside, by the keys of their rows, before the column is dropped."""
        operations.invoke(cls(f"{table}_{column}", table=table, column=column))


@Operations.register_operation("bring_back_column")
class BringBackColumn(Parking):
    """Put the parked values of a column back."""

    @classmethod
    def bring_back_column(cls, operations: Operations, table: str, column: str) -> None:
        """Put the values of a column back into the rows that are still there, if any were parked."""
        operations.invoke(cls(f"{table}_{column}", table=table, column=column))


@Operations.register_operation("has_parked")
class HasParked(Parking):
    """Ask whether rows are parked."""

    @classmethod
    def has_parked(cls, operations: Operations, name: str) -> bool:
        """Whether rows are parked under a name."""
        return bool(operations.invoke(cls(name)))


@Operations.register_operation("forget_parked")
class ForgetParked(Parking):
    """Drop parked rows that a revision has put back itself."""

    @classmethod
    def forget_parked(cls, operations: Operations, name: str) -> None:
        """Drop what is parked under a name, once a revision has put it back by its own statements."""
        operations.invoke(cls(name))


@Operations.implementation_for(ParkRows)
def _park_rows(operations: Operations, operation: Parking) -> None:
    connection, name = operations.get_bind(), operation.name
    rows = sa.text(f"SELECT 1 FROM ({operation.more['query']}) AS q LIMIT 1".replace(":", r"\:"))
    if connection.execute(rows).first() is None:
        return
    operations.execute(f"CREATE TABLE {parked(name)} AS {operation.more['query']}")
    if not sa.inspect(connection).has_table(COUNTS.name):
        operations.create_table(
            COUNTS.name,
            sa.Column("name", sa.Text(), nullable=False),
            sa.Column("row_count", sa.Integer(), nullable=False),
            sa.PrimaryKeyConstraint("name", name=operations.f("pk_parked_rows")),
        )
    operations.bulk_insert(COUNTS, [{"name": name, "row_count": _count(connection, parked(name))}])


@Operations.implementation_for(ParkTable)
def _park_table(operations: Operations, operation: Parking) -> None:
    _park_rows(operations, ParkRows(operation.name, query=f"SELECT * FROM {operation.name}"))
    operations.drop_table(operation.name)


@Operations.implementation_for(BringBackParked)
def _bring_back_parked(operations: Operations, operation: Parking) -> None:
    connection, name = operations.get_bind(), operation.name
    if not _has_parked(operations, operation):
        return
    before = _count(connection, name)
    kept = set(_columns(connection, name))
    shared = [column for column in _columns(connection, parked(name)) if column in kept]
    taken = ", ".join(_cast(connection, name, column) for column in shared)
    operations.execute(f"INSERT INTO {name} ({', '.join(shared)}) SELECT {taken} FROM {parked(name)} ORDER BY id")
    expected = connection.execute(sa.select(COUNTS.c.row_count).where(COUNTS.c.name == name)).scalar_one()
    came_back = _count(connection, name) - before
    if came_back != expected or (operation.more["emptied"] and before):
        raise RuntimeError(f"{name}: {expected} rows were parked, {came_back} came back to {before}")
    _forget_parked(operations, operation)


@Operations.implementation_for(ParkColumn)
def _park_column(operations: Operations, operation: Parking) -> None:
    table, column = operation.more["table"], operation.more["column"]
    query = f"SELECT id, {column} FROM {table} WHERE {column} IS NOT NULL"
    _park_rows(operations, ParkRows(operation.name, query=query))


@Operations.implementation_for(BringBackColumn)
def _bring_back_column(operations: Operations, operation: Parking) -> None:
    if not _has_parked(operations, operation):
        return
    table, column, aside = operation.more["table"], operation.more["column"], parked(operation.name)
    value = _cast(operations.get_bind(), table, column, of=f"p.{column}")
    operations.execute(
        f"UPDATE {table} SET {column} = (SELECT {value} FROM {aside} p WHERE p.id = {table}.id) "
        f"WHERE id IN (SELECT id FROM {aside})"
    )
    _forget_parked(operations, operation)


@Operations.implementation_for(HasParked)
def _has_parked(operations: Operations, operation: Parking) -> bool:
    return sa.inspect(operations.get_bind()).has_table(parked(operation.name))


@Operations.implementation_for(ForgetParked)
def _forget_parked(operations: Operations, operation: Parking) -> None:
    connection = operations.get_bind()
    operations.drop_table(parked(operation.name))
    connection.execute(sa.delete(COUNTS).where(COUNTS.c.name == operation.name))
    if _count(connection, COUNTS.name) == 0:
        operations.drop_table(COUNTS.name)


def _cast(connection: sa.Connection, table: str, column: str, of: str | None = None) -> str:
    # Rows that travelled in a backup have their dates as text; SQLite keeps them so, PostgreSQL must be told.
    if connection.dialect.name == "sqlite":
        return of or column
    kind = next(c["type"] for c in sa.inspect(connection).get_columns(table) if c["name"] == column)
    return f"CAST({of or column} AS {kind.compile(connection.dialect)})"


def _columns(connection: sa.Connection, table: str) -> list[str]:
    return [str(column["name"]) for column in sa.inspect(connection).get_columns(table)]


def _count(connection: sa.Connection, table: str) -> int:
    return int(connection.execute(sa.select(sa.func.count()).select_from(sa.table(table))).scalar_one())
