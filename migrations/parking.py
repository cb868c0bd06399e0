"""Two operations for revisions: set rows aside when an older shape cannot hold them, and bring them back.

A revision that goes down never throws rows away. What the older shape cannot hold is parked in a table of its
own, ``parked_<table>``, and counted in ``parked_rows``; the same revision going up brings it back and checks the
count. A revision calls them as ``op.park_table("x")`` and ``op.bring_back_parked("x")`` and so imports nothing
of ours.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic.operations import MigrateOperation, Operations

PARKED_ROWS = sa.table("parked_rows", sa.column("table_name"), sa.column("row_count"))


def parked(table_name: str) -> str:
    """The name of the table in which a table's rows are parked."""
    return f"parked_{table_name}"


def _columns(connection: sa.Connection, table_name: str) -> list[str]:
    return [str(column["name"]) for column in sa.inspect(connection).get_columns(table_name)]


def _count(connection: sa.Connection, table_name: str) -> int:
    return int(connection.execute(sa.select(sa.func.count()).select_from(sa.table(table_name))).scalar_one())


@Operations.register_operation("park_table")
class ParkTable(MigrateOperation):
    """Drop a table; where it holds rows, park them first."""

    def __init__(self, table_name: str) -> None:
        self.table_name = table_name

    @classmethod
    def park_table(cls, operations: Operations, table_name: str) -> None:
        """Drop a table, its rows set aside with their count."""
        operations.invoke(cls(table_name))


@Operations.implementation_for(ParkTable)
def _park_table(operations: Operations, operation: ParkTable) -> None:
    connection = operations.get_bind()
    name = operation.table_name
    rows = _count(connection, name)
    if rows:
        operations.execute(f"CREATE TABLE {parked(name)} AS SELECT * FROM {name}")
        if not sa.inspect(connection).has_table("parked_rows"):
            operations.create_table(
                "parked_rows",
                sa.Column("table_name", sa.Text(), nullable=False),
                sa.Column("row_count", sa.Integer(), nullable=False),
                sa.PrimaryKeyConstraint("table_name", name=operations.f("pk_parked_rows")),
            )
        operations.bulk_insert(PARKED_ROWS, [{"table_name": name, "row_count": rows}])
    operations.drop_table(name)


@Operations.register_operation("bring_back_parked")
class BringBackParked(MigrateOperation):
    """Put parked rows back into a table that has just been made again."""

    def __init__(self, table_name: str) -> None:
        self.table_name = table_name

    @classmethod
    def bring_back_parked(cls, operations: Operations, table_name: str) -> None:
        """Put the rows that were parked back, if any were.

        Raises:
            RuntimeError: the number of rows is not the number that was parked.
        """
        operations.invoke(cls(table_name))


@Operations.implementation_for(BringBackParked)
def _bring_back_parked(operations: Operations, operation: BringBackParked) -> None:
    connection = operations.get_bind()
    name = operation.table_name
    if not sa.inspect(connection).has_table(parked(name)):
        return
    kept = set(_columns(connection, name))
    shared = ", ".join(column for column in _columns(connection, parked(name)) if column in kept)
    operations.execute(f"INSERT INTO {name} ({shared}) SELECT {shared} FROM {parked(name)} ORDER BY id")
    counted = sa.select(PARKED_ROWS.c.row_count).where(PARKED_ROWS.c.table_name == name)
    expected = connection.execute(counted).scalar_one()
    if _count(connection, name) != expected:
        raise RuntimeError(f"{name}: {expected} rows were parked, {_count(connection, name)} came back")
    operations.drop_table(parked(name))
    connection.execute(sa.delete(PARKED_ROWS).where(PARKED_ROWS.c.table_name == name))
    if _count(connection, "parked_rows") == 0:
        operations.drop_table("parked_rows")
