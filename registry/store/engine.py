"""Engines for both databases: how transactions begin, and what every connection is told first.

The SQLite driver is kept from opening transactions of its own accord, because it opens them too late: what was
read before the first write would lie outside the transaction and two writers could lose each other's work. A
writing transaction takes the write lock at its beginning, since one that has read first can no longer get it.
"""

from __future__ import annotations

import hashlib
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.exc import DatabaseError, OperationalError
from sqlalchemy.pool import ConnectionPoolEntry

from registry.schema.errors import GravelbookError
from registry.store.location import Location

WRITING = "gravelbook_writing"
"""Execution option of a connection whose transactions write."""

BUSY_MS = 300_000
"""How long another program's writer waits for its turn. The longest turn is a load's: it is prepared before, and then
takes about as long as a plain insert of the same rows. Whoever saves a case meanwhile should wait, not fail."""
_POOL = {"pool_size": 8, "max_overflow": 56, "pool_timeout": 30}


def make_engine(location: Location) -> Engine:
    """An engine whose connections follow the store's rules. Nothing is connected to yet."""
    if location.file is not None:
        engine = create_engine(location.url, connect_args={"timeout": BUSY_MS / 1000, "isolation_level": None}, **_POOL)
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return engine
    options = "-c timezone=UTC -c datestyle=ISO,YMD"
    engine = create_engine(
        location.url, connect_args={"options": options, "connect_timeout": 10}, pool_pre_ping=True, **_POOL
    )
    event.listen(engine, "begin", begin_postgresql)
    return engine


def connect(engine: Engine, location: Location, *, writing: bool = False) -> Connection:
    """A connection, with the driver's refusals put in words.

    Raises:
        GravelbookError: the server cannot be reached, or the file is not a database.
    """
    options: dict[str, Any] = {WRITING: True} if writing else {}
    if not writing and location.file is None:
        # One picture of the data for the whole of a reading transaction.
        options = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
    try:
        return engine.connect().execution_options(**options)
    except OperationalError as fault:
        raise GravelbookError(_unreachable(location, fault)) from fault
    except DatabaseError as fault:
        raise GravelbookError(f"{location.shown} cannot be opened as a database: {fault.orig}.") from fault


def is_busy(fault: OperationalError) -> bool:
    """Another program held the write lock for longer than we wait."""
    return "locked" in str(fault.orig) or "busy" in str(fault.orig)


def _unreachable(location: Location, fault: OperationalError) -> str:
    said = " ".join(str(fault.orig).split())
    if location.file is not None:
        return f"{location.shown} cannot be opened: {said}. Check that it is a registry and that you may write it."
    return (
        f"The database server of {location.shown} does not let us in: {said}. Check that it runs, that the database "
        "exists, and the name and password in the address."
    )


def _prepare_sqlite(connection: Any, _entry: ConnectionPoolEntry) -> None:
    cursor = connection.cursor()
    try:
        cursor.execute(f"PRAGMA busy_timeout = {BUSY_MS}")
        cursor.execute("PRAGMA foreign_keys = ON")
        # The pragma is ignored without a word inside a transaction, so it is asked back.
        if cursor.execute("PRAGMA foreign_keys").fetchone() != (1,):
            raise RuntimeError("foreign keys could not be switched on")
        cursor.execute("PRAGMA synchronous = FULL")
        # What is deleted is overwritten, so that an erased key does not linger in free pages.
        cursor.execute("PRAGMA secure_delete = ON")
    finally:
        cursor.close()


def use_write_ahead_log(engine: Engine) -> None:
    """Readers and the writer of an SQLite file do not wait for each other. Kept in the file, so it is not set on
    every connection: a file that turns out to be somebody else's must stay as it is."""
    if engine.dialect.name == "sqlite":
        driver = engine.raw_connection()
        try:
            driver.cursor().execute("PRAGMA journal_mode = WAL")
        finally:
            driver.close()


def _begin_sqlite(connection: Connection) -> None:
    writing = connection.get_execution_options().get(WRITING)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def begin_postgresql(connection: Connection) -> None:
    """Begin a PostgreSQL transaction: a writing one waits for its turn."""
    # One writer at a time, so that history entries are chained in one order and keys follow one another.
    if connection.get_execution_options().get(WRITING):
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK})


_LOCK = int.from_bytes(hashlib.blake2b(b"gravelbook writer", digest_size=7).digest())
