"""Many new rows in one go: columns are prepared whole, written by the driver's fastest way, entered once.

The callers have validated the rows; what they missed the database's own constraints refuse. Only then are the rows
gone through one by one, to say which of them it was.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from itertools import repeat
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, insert, select

from registry.schema.errors import GravelbookError
from registry.schema.lists_outcome import ChangeKind
from registry.schema.tables import metadata, ordered_tables
from registry.store.batch_columns import Rows, link_target, moment_text
from registry.store.batch_preparing import PreparedBatch, PreparedTable, prepare_batch, prepare_table
from registry.store.batch_rows import followed_by
from registry.store.cipher import REGISTRY
from registry.store.failures import failure_in_words
from registry.store.history import Marks
from registry.store.refusals import check_links, refused_by_database
from registry.store.values import stored_value, writable

if TYPE_CHECKING:
    from registry.store.door import Door

Columns = dict[str, Iterable[Any]]

_MANY, _CACHE_KIB = 10_000, 128 * 1024
_BATCH = metadata.tables["batch"]


def load_batch(
    door: Door,
    *,
    file_hash: str,
    file_name: str | None,
    tables: Mapping[str, Rows],
    source: str | None = None,
    written: Callable[[int], None] | None = None,
    changes: int = 0,
    prepared: PreparedBatch | None = None,
) -> int:
    """See ``Door.load_batch``.

    ``changes`` are those of older rows that follow (``amending.load_amended``); ``prepared`` is what was prepared of
    the rows on a registry that has not changed since.
    """
    if prepared is None:
        prepared = prepare_batch(door, tables)
    count = sum(map(len, tables.values()))
    batch = prepared.batch
    _insert_batch(door, batch, file_hash, file_name, source, count)
    marks = Marks({"batch": [(batch, door.fingerprints.of_row("batch", batch))]})
    done = 0
    with _room_for(door.connection, count):
        for table in ordered_tables():
            if not tables.get(table.name):
                continue
            for part in prepared.tables.pop(table.name, None) or prepare_table(door, table, tables, batch):
                _write(door, part)
                marks.left[part.table.name] = part.marks
            done += len(tables[table.name])
            if written is not None:
                written(done)
    content = marks.written()
    door.chain.append(
        ChangeKind.BATCH,
        by=door.by,
        marks=marks,
        about=("batch", batch),
        reason=door.sealed_reason(REGISTRY),
        after=followed_by(changes),
        content_after=door.chain.digest(content),
        row_count=count,
        fingerprints=content,
    )
    return batch


@contextmanager
def _room_for(connection: Connection, rows: int) -> Iterator[None]:
    """More memory for SQLite while many rows are written: with its usual 2 MB it writes index pages out and reads them
    back most of the time, while others wait."""
    roomy = rows > _MANY and connection.dialect.name == "sqlite"
    if roomy:
        usual = connection.exec_driver_sql("PRAGMA cache_size").scalar_one()
        connection.exec_driver_sql(f"PRAGMA cache_size = -{_CACHE_KIB}")
    try:
        yield
    finally:
        if roomy:
            connection.exec_driver_sql(f"PRAGMA cache_size = {int(usual)}")


def _insert_batch(
    door: Door, batch: int, file_hash: str, file_name: str | None, source: str | None, count: int
) -> None:
    found = door.connection.execute(select(_BATCH.c.id).where(_BATCH.c.content_hash == file_hash)).scalar()
    if found is not None:
        raise GravelbookError(
            f"This file was loaded already, as batch {found}. Nothing is loaded twice: load the file that follows it."
        )
    clear: dict[str, Any] = {
        "content_hash": file_hash,
        "file_name": file_name,
        "source": source,
        "row_count": count,
    }
    values = {name: stored_value(info, clear.get(name, info.default)) for name, info in writable(_BATCH).items()}
    if file_name is not None:
        values["file_name"] = door.cipher.encrypt(REGISTRY, file_name, "batch", "file_name")
    door.execute(_BATCH, insert(_BATCH).values({**values, **door.keeping(), "id": batch}))


def _write(door: Door, part: PreparedTable) -> None:
    sqlite = door.connection.dialect.name == "sqlite"
    columns: Columns = {**part.columns}
    for name, value in part.fixed.items():
        columns[name] = repeat(moment_text(value) if sqlite and isinstance(value, datetime) else value)
    dialect_errors = door.connection.dialect.dbapi.Error  # type: ignore[union-attr]
    try:
        (_executemany if sqlite else _copy)(door.connection, part.table, columns)
    except dialect_errors as fault:
        door.broken = True
        if failure_in_words(fault, "") is not None:
            raise  # not a row's fault: the transaction says it
        raise _explained(door, part.table, part.rows, fault) from fault


def _executemany(connection: Connection, table: Table, columns: Columns) -> None:
    names, marks = ", ".join(f'"{name}"' for name in columns), ", ".join("?" * len(columns))
    cursor: Any = connection.connection.cursor()
    try:
        rows = zip(*columns.values())  # noqa: B905  (constant columns never end)
        cursor.executemany(f'INSERT INTO "{table.name}" ({names}) VALUES ({marks})', rows)
    finally:
        cursor.close()


def _copy(connection: Connection, table: Table, columns: Columns) -> None:
    names = ", ".join(f'"{name}"' for name in columns)
    cursor: Any = connection.connection.cursor()
    try:
        with cursor.copy(f'COPY "{table.name}" ({names}) FROM STDIN') as copying:
            for row in zip(*columns.values()):  # noqa: B905  (constant columns never end)
                copying.write_row(row)
    finally:
        cursor.close()


def _explained(door: Door, table: Table, rows: Rows, fault: Exception) -> GravelbookError:
    """The error of the first row that breaks a field's rule; else what the database said."""
    infos = writable(table)
    for row in rows:
        for name, info in infos.items():
            try:
                stored_value(info, info.default if row.get(name) is None else row[name])
            except GravelbookError as found:
                return GravelbookError(f"Row {row['id']} of the batch: {found}")
    if "FOREIGN KEY" in str(fault):
        new = {row["id"] for row in rows}
        for row in rows:
            outside = {
                k: v for k, v in row.items() if k != "id" and not (v in new and link_target(table, k) == table.name)
            }
            try:
                check_links(door.connection, table, outside)
            except GravelbookError as found:
                return GravelbookError(f"Row {row['id']} of the batch: {found}")
    return refused_by_database(table, fault)
