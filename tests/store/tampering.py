"""Changes a registry past the door, as somebody with the database and without the key file could."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from typing import Any

import psycopg

from registry.store import triggers
from registry.store.registry import Registry


class Intruder:
    """A raw connection with every constraint that can be lifted, lifted."""

    def __init__(self, connection: Any, engine: str) -> None:
        self._connection = connection
        self.engine = engine

    def run(self, statement: str, *values: Any) -> list[Any]:
        """Run one statement with ``?`` for values."""
        cursor = self._connection.cursor()
        cursor.execute(statement if self.engine == "sqlite" else statement.replace("?", "%s"), values)
        return list(cursor.fetchall()) if cursor.description else []

    def commit(self) -> None:
        """Keep what was done so far."""
        self._connection.commit()

    def columns(self, table: str) -> list[str]:
        """The table's columns."""
        cursor = self._connection.cursor()
        cursor.execute(f'SELECT * FROM "{table}" LIMIT 0')
        return [column[0] for column in cursor.description]

    def drop_triggers(self) -> None:
        """Take the history's triggers away."""
        for statement in triggers.TRIGGERS[self.engine]:
            if statement.startswith("CREATE TRIGGER"):
                self.run(
                    f"DROP TRIGGER {statement.split()[2]}{'' if self.engine == 'sqlite' else ' ON change_history'}"
                )

    def put_triggers_back(self) -> None:
        """Make the history's triggers again, as the revision does."""
        for statement in triggers.TRIGGERS[self.engine]:
            if statement.startswith("CREATE TRIGGER"):
                self._connection.cursor().execute(statement)


@contextmanager
def intruding(registry: Registry) -> Iterator[Intruder]:
    """An intruder; what it did is committed at the end."""
    if registry.location.file is not None:
        with closing(sqlite3.connect(registry.location.file, timeout=10)) as connection:
            connection.execute("PRAGMA foreign_keys = OFF")
            connection.execute("PRAGMA ignore_check_constraints = ON")
            yield Intruder(connection, "sqlite")
            connection.commit()
        return
    url = registry.location.url.set(drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(url) as server:
        server.execute("SET session_replication_role = replica")
        yield Intruder(server, "postgresql")
